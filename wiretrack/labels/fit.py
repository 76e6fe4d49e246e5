# SPDX-License-Identifier: MIT
"""What goes on this conductor: wrap or flag, which symbol, how large, and why."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from wiretrack.labels import refusal
from wiretrack.labels.card import fit_card
from wiretrack.labels.faces import face_candidates
from wiretrack.labels.flag import flag_candidates, lay_across
from wiretrack.labels.flat import fit_marking, fit_strip, flat_face
from wiretrack.labels.geometry import (
    ARC_SOURCE,
    arc_deg,
    arc_limit_deg,
    check_diameter,
    smallest_module_dots,
)
from wiretrack.labels.legend import letter_limits, make_legend
from wiretrack.labels.plan import Fit
from wiretrack.labels.sleeve import Tube, sleeve_candidates, why_no_sleeve
from wiretrack.labels.subject import BoxCard, Marking, Plate, PullNumber, TerminalStrip
from wiretrack.labels.symbol import MAX_VERSION, side_modules, symbol_choices
from wiretrack.labels.wrap import smallest_arc_deg, wrap_candidates

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator

    from wiretrack.labels.legend import Contents, LetterLimits, Paragraph
    from wiretrack.labels.plan import Candidate, Form
    from wiretrack.labels.stocks import Stock
    from wiretrack.labels.subject import EndSubject, Subject
    from wiretrack.labels.symbol import Level

GOOD_MODULE_MM = 0.42


@dataclass(frozen=True)
class _Case:
    """One question: this label on this stock."""

    subject: EndSubject
    stock: Stock
    legend: tuple[Paragraph, ...]
    limits: LetterLimits
    choices: tuple[tuple[int, Level], ...]
    text_only: bool

    @property
    def diameter(self) -> float | None:
        return self.subject.outer_diameter_mm

    @property
    def tries(self) -> tuple[tuple[int, Level] | None, ...]:
        return (None,) if self.text_only else self.choices


def fit(
    subject: Subject, stock: Stock, *, contents: Contents = "full", text_only: bool = False
) -> Fit:
    """Return the form, the symbol and the plan for one label on one stock.

    With `text_only` no symbol is wanted, and a wrap stock is wound round whatever the diameter.

    Raises
    ------
    OutOfRangeError
        If the conductor's diameter can't be.
    GlyphError
        If a name can't be printed.
    """
    match subject:
        case TerminalStrip():
            return _on_flat_stock(stock, fit_strip(subject, stock))
        case Marking():
            return _on_flat_stock(stock, fit_marking(subject, stock))
        case BoxCard():
            return _on_flat_stock(stock, fit_card(subject, stock))
    case = _case(subject, stock, contents, text_only or not subject.payload)
    if stock.form == "flag":
        return _fit_flag(case, _flag_reason(case))
    fitters = {"wrap": _fit_wrap, "sleeve": _fit_sleeve, "flat": _fit_plate}
    return fitters[stock.form](case)


def _case(subject: EndSubject, stock: Stock, contents: Contents, text_only: bool) -> _Case:
    if subject.outer_diameter_mm is not None:
        check_diameter(subject.outer_diameter_mm)
    limits = letter_limits(stock, heading=isinstance(subject, PullNumber | Plate))
    choices = () if text_only else symbol_choices(subject.payload)
    legend = make_legend(subject, contents)
    return _Case(subject, stock, legend, limits, choices, text_only)


def _on_flat_stock(stock: Stock, found: Fit) -> Fit:
    if stock.form == "flat":
        unread = refusal.why_unread(stock) if found.plan and found.plan.codes else None
        return replace(found, plan=None, why_not=unread[0], hint=unread[1]) if unread else found
    why = f"a {found.form} needs a flat stock, and '{stock.name}' is a {stock.form}"
    return replace(found, plan=None, why_not=why, hint="Take a stock of form flat.")


def _fit_wrap(case: _Case) -> Fit:
    diameter, stock = case.diameter, case.stock
    if diameter is None:
        return _fit_flag(case, _flag_reason(case))
    if not case.text_only and (unread := refusal.why_unread(stock)):
        return _refused(case, "wrap", "", *unread)
    for symbol in case.tries:
        candidates = wrap_candidates(case.legend, stock, diameter, case.limits, symbol)
        best = _best(candidates, stock, most_tags=3)
        if best is not None:
            return _found(case, "wrap", _wrap_reason(case, best, symbol), best, symbol)
    if case.text_only:
        return _refused(case, "wrap", "", *refusal.why_no_wrap(case.legend, stock, diameter))
    return _fit_flag(case, _flag_reason(case))


def _fit_flag(case: _Case, reason: str) -> Fit:
    stock, turned = case.stock, case.stock.form == "wrap"
    if turned and stock.clear_tail_mm:
        return _refused(case, "flag", reason, *refusal.CLEAR_TAIL)
    if not case.text_only and (unread := refusal.why_unread(stock)):
        return _refused(case, "flag", reason, *unread)
    if turned:
        if case.diameter is None:
            return _refused(case, "flag", reason, *refusal.UNKNOWN_FOLD)
        stock = lay_across(stock)
    for symbol in case.tries:
        version = symbol[0] if symbol else None
        candidates = flag_candidates(
            case.legend, stock, case.diameter, case.limits, version, quarter_turn=turned
        )
        best = _best(candidates, stock, most_tags=1)
        if best is not None:
            return _found(case, "flag", reason, best, symbol)
    refused = refusal.why_no_flag(
        case.legend, stock, case.diameter, case.subject.payload, text_only=case.text_only
    )

    def with_version(version: int) -> Iterator[Candidate]:
        return flag_candidates(
            case.legend, stock, case.diameter, case.limits, version, quarter_turn=turned
        )

    return _refused(case, "flag", reason, *_or_shorter(case, refused, with_version))


def _fit_sleeve(case: _Case) -> Fit:
    """Return the legend alone on a tube, its letters high enough once the tube has shrunk."""
    stock, diameter = case.stock, case.diameter
    tube = Tube(stock.inner_diameter_mm, stock.shrink_ratio)
    reason = "A sleeve carries the legend alone: a code would be squeezed one way only."
    unfit = why_no_sleeve(tube, diameter)
    if unfit or diameter is None:
        return _refused(case, "sleeve", reason, *(unfit or ("", "")))
    squeeze = tube.squeeze(diameter)
    limits = letter_limits(stock, squeeze=squeeze)
    best = _best(sleeve_candidates(case.legend, stock, limits), stock, most_tags=1)
    if best is None:
        why = refusal.why_no_face(case.legend, stock, "", limits)
        return _refused(case, "sleeve", reason, *why)
    found = _found(case, "sleeve", reason, best, None)
    return replace(found, letter_mm=stock.mm(best.letter_dots) * squeeze)


def _fit_plate(case: _Case) -> Fit:
    """Return a legend and a code on one flat face."""
    stock, reason = case.stock, "A flat label carries code and legend side by side."
    if case.text_only:
        reason = "A flat label carries the legend alone."
    elif unread := refusal.why_unread(stock):
        return _refused(case, "plate", reason, *unread)
    for symbol in case.tries:
        version = symbol[0] if symbol else None
        candidates = face_candidates(case.legend, stock, flat_face(stock), case.limits, version)
        best = _best(candidates, stock, most_tags=1)
        if best is not None:
            return _found(case, "plate", reason, best, symbol)
    payload = "" if case.text_only else case.subject.payload
    why = refusal.why_no_face(case.legend, stock, payload, case.limits)

    def with_version(version: int) -> Iterator[Candidate]:
        return face_candidates(case.legend, stock, flat_face(stock), case.limits, version)

    return _refused(case, "plate", reason, *_or_shorter(case, why, with_version))


def _or_shorter(
    case: _Case, refused: tuple[str, str], with_version: Callable[[int], Iterator[Candidate]]
) -> tuple[str, str]:
    """Return why and what would do: a shorter address, where code and legend then fit."""
    payload = case.subject.payload
    if case.text_only or not payload.startswith("HTTP"):
        return refused
    smallest = min((version for version, _ in case.choices), default=MAX_VERSION + 1)
    for version in range(smallest - 1, 0, -1):
        if next(with_version(version), None) is not None:
            return refused[0], refusal.shorter_address(payload, version)
    return refused


def _best(candidates: Iterable[Candidate], stock: Stock, most_tags: int) -> Candidate | None:
    """Return the candidate with the best of module and legend, neither counted beyond good.

    Candidates come with the largest modules first, so the search ends where not even a perfect
    legend would make up for a smaller module.
    """
    best, best_score = None, 0.0
    for candidate in candidates:
        module = min(1.0, stock.mm(candidate.module_dots or 0) / GOOD_MODULE_MM)
        if best is not None and module + 1.0 + 0.1 * most_tags <= best_score:
            break
        score = module + candidate.merit + 0.1 * min(candidate.tags_around, most_tags)
        if best is None or score > best_score:
            best, best_score = candidate, score
    return best


def _arc_rule(symbol: tuple[int, Level], module_mm: float) -> str:
    return f"up to {arc_limit_deg(*symbol, module_mm):g}° is read of such a symbol ({ARC_SOURCE})"


def _wrap_reason(case: _Case, best: Candidate, symbol: tuple[int, Level] | None) -> str:
    assert case.diameter is not None
    if symbol is None or best.module_dots is None:
        times = {1: "once", 2: "twice"}.get(best.tags_around, f"{best.tags_around} times")
        return f"Legend alone; its name shows {times} round the {case.diameter:.3g} mm conductor."
    module_mm = case.stock.mm(best.module_dots)
    arc = arc_deg(module_mm * side_modules(symbol[0]), case.diameter)
    bends = f"The code bends over {arc:.0f}° of the {case.diameter:.3g} mm conductor"
    return f"{bends}; {_arc_rule(symbol, module_mm)}."


def _flag_reason(case: _Case) -> str:
    if case.text_only:
        return "A flag keeps the legend flat."
    if case.diameter is None:
        return (
            "The conductor's outer diameter isn't known, so how far a code would bend round it "
            "isn't either; a flag keeps it flat."
        )
    if not case.choices:
        return f"No QR symbol up to version {MAX_VERSION} holds so long an address."
    symbol = case.choices[0]
    arc = smallest_arc_deg(case.stock, case.diameter, symbol[0])
    module_mm = case.stock.mm(smallest_module_dots(case.stock.dpi))
    if arc > arc_limit_deg(*symbol, module_mm):
        return (
            f"Round {case.diameter:.3g} mm the smallest code would bend over {arc:.0f}°; "
            f"{_arc_rule(symbol, module_mm)}, so a flag keeps it flat."
        )
    if case.stock.form == "flag":
        return f"A flag keeps the code flat; wound round it would bend over {arc:.0f}°."
    return refusal.no_room_round(case.legend, case.stock, case.diameter, symbol[0])


def _found(
    case: _Case, form: Form, reason: str, best: Candidate, symbol: tuple[int, Level] | None
) -> Fit:
    module = best.module_dots
    version, level = symbol or (None, None)
    return Fit(
        tag=case.subject.name,
        end=case.subject.end,
        form=form,
        reason=reason,
        qr_version=version,
        error_correction=level,
        module_dots=module,
        module_mm=None if module is None else case.stock.mm(module),
        arc_deg=_arc(case, form, module, version),
        letter_mm=case.stock.mm(best.letter_dots),
        plan=best.plan,
    )


def _arc(case: _Case, form: Form, module: int | None, version: int | None) -> float | None:
    if case.diameter is None or version is None or module is None:
        return None
    if form == "flag":
        return smallest_arc_deg(case.stock, case.diameter, version)
    return arc_deg(case.stock.mm(module * side_modules(version)), case.diameter)


def _refused(case: _Case, form: Form, reason: str, why_not: str, hint: str) -> Fit:
    return Fit(
        tag=case.subject.name,
        end=case.subject.end,
        form=form,
        reason=reason,
        arc_deg=_refused_arc(case),
        why_not=why_not,
        hint=hint,
    )


def _refused_arc(case: _Case) -> float | None:
    if case.diameter is None or not case.choices:
        return None
    return smallest_arc_deg(case.stock, case.diameter, case.choices[0][0])
