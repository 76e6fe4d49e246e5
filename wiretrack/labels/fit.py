# SPDX-License-Identifier: MIT
"""What goes on this conductor: wrap or flag, which symbol, how large, and why."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from wiretrack.labels import refusal
from wiretrack.labels.flag import flag_candidates, lay_across
from wiretrack.labels.geometry import MAX_ARC_DEG, arc_deg, check_diameter
from wiretrack.labels.legend import make_legend
from wiretrack.labels.symbol import side_modules, symbol_choices
from wiretrack.labels.wrap import smallest_arc_deg, wrap_candidates
from wiretrack.sources import COMMON_PRACTICE
from wiretrack.tags import format_tag

if TYPE_CHECKING:
    from collections.abc import Iterable

    from wiretrack.labels.legend import Contents, Paragraph
    from wiretrack.labels.plan import Candidate, Plan
    from wiretrack.labels.stocks import Stock
    from wiretrack.labels.subject import End, LabelSubject
    from wiretrack.labels.symbol import Level

GOOD_MODULE_MM = 0.42
_ARC_RULE = f"up to {MAX_ARC_DEG:g}° is read ({COMMON_PRACTICE.key})"


@dataclass(frozen=True)
class Fit:
    """The form for one end on one stock; `plan` is `None` where this stock can't carry it.

    `arc_deg` is how far the symbol bends, its quiet zone left out; for a flag, how far the
    smallest one would bend if it were wound round the conductor instead.
    """

    tag: str
    end: End
    form: Literal["wrap", "flag"]
    reason: str
    qr_version: int | None = None
    error_correction: Level | None = None
    module_dots: int | None = None
    module_mm: float | None = None
    arc_deg: float | None = None
    letter_mm: float | None = None
    plan: Plan | None = None
    why_not: str = ""
    hint: str = ""

    @property
    def printable(self) -> bool:
        """Return whether a label of this stock can be drawn."""
        return self.plan is not None

    def as_row(self) -> dict[str, object]:
        """Return what is shown of the fit."""
        return {
            "tag": self.tag,
            "end": self.end,
            "form": self.form,
            "qr_version": self.qr_version,
            "error_correction": self.error_correction,
            "module_mm": self.module_mm and round(self.module_mm, 4),
            "arc_deg": None if self.arc_deg is None else round(self.arc_deg, 1),
            "letter_mm": self.letter_mm and round(self.letter_mm, 2),
            "printable": self.printable,
            "reason": " ".join(filter(None, (self.reason, self.why_not_sentence, self.hint))),
        }

    @property
    def why_not_sentence(self) -> str:
        """Return why this stock can't carry it, as a sentence; empty where it can."""
        return f"{self.why_not[0].upper()}{self.why_not[1:]}." if self.why_not else ""


@dataclass(frozen=True)
class _Case:
    """One question: this end on this stock."""

    subject: LabelSubject
    stock: Stock
    legend: tuple[Paragraph, ...]
    choices: tuple[tuple[int, Level], ...]
    text_only: bool

    @property
    def diameter(self) -> float | None:
        return self.subject.outer_diameter_mm


def fit(
    subject: LabelSubject, stock: Stock, *, contents: Contents = "full", text_only: bool = False
) -> Fit:
    """Return the form, the symbol and the plan for one end on one stock.

    With `text_only` no symbol is wanted, and a wrap stock is wound round whatever the diameter.

    Raises
    ------
    OutOfRangeError
        If the conductor's diameter can't be.
    GlyphError
        If a name can't be printed.
    """
    if subject.outer_diameter_mm is not None:
        check_diameter(subject.outer_diameter_mm)
    legend = make_legend(subject, contents)
    choices = () if text_only else symbol_choices(subject.payload)
    case = _Case(subject, stock, legend, choices, text_only)
    return _fit_flag(case, _flag_reason(case)) if stock.form == "flag" else _fit_wrap(case)


def _fit_wrap(case: _Case) -> Fit:
    diameter = case.diameter
    if diameter is None:
        return _fit_flag(case, _flag_reason(case))
    tries = ((None, None),) if case.text_only else case.choices
    for version, level in tries:
        candidates = wrap_candidates(case.legend, case.stock, diameter, version)
        best = _best(candidates, case.stock, most_tags=3)
        if best is not None:
            return _found(case, "wrap", _wrap_reason(case, best, version), best, version, level)
    if case.text_only:
        return _refused(case, "wrap", "", *refusal.why_no_wrap(case.legend, case.stock, diameter))
    return _fit_flag(case, _flag_reason(case))


def _fit_flag(case: _Case, reason: str) -> Fit:
    stock, turned = case.stock, case.stock.form == "wrap"
    if turned and stock.clear_tail_mm:
        return _refused(case, "flag", reason, *refusal.CLEAR_TAIL)
    if turned:
        if case.diameter is None:
            return _refused(case, "flag", reason, *refusal.UNKNOWN_FOLD)
        stock = lay_across(stock)
    tries = ((None, None),) if case.text_only else case.choices
    for version, level in tries:
        candidates = flag_candidates(
            case.legend, stock, case.diameter, version, quarter_turn=turned
        )
        best = _best(candidates, stock, most_tags=1)
        if best is not None:
            return _found(case, "flag", reason, best, version, level)
    refused = refusal.why_no_flag(
        case.legend, stock, case.diameter, case.subject.payload, text_only=case.text_only
    )
    return _refused(case, "flag", reason, *refused)


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


def _wrap_reason(case: _Case, best: Candidate, version: int | None) -> str:
    assert case.diameter is not None
    around = f"the tag shows {best.tags_around} times round the {case.diameter:g} mm conductor"
    if version is None or best.module_dots is None:
        return f"Legend alone, as wanted; {around}."
    arc = arc_deg(case.stock.mm(best.module_dots * side_modules(version)), case.diameter)
    return f"The code bends over {arc:.0f}° of the {case.diameter:g} mm conductor; {_ARC_RULE}."


def _flag_reason(case: _Case) -> str:
    if case.diameter is None:
        return (
            "The conductor's outer diameter isn't known, so how far a code would bend round it "
            "isn't either; a flag keeps it flat."
        )
    if not case.choices:
        return "A flag keeps the legend flat."
    arc = smallest_arc_deg(case.stock, case.diameter, case.choices[0][0])
    if arc > MAX_ARC_DEG:
        return (
            f"Round {case.diameter:g} mm the smallest code would bend over {arc:.0f}°; "
            f"{_ARC_RULE}, so a flag keeps it flat."
        )
    if case.stock.form == "flag":
        return f"A flag keeps the code flat; wound round it would bend over {arc:.0f}°."
    return refusal.no_room_round(case.legend, case.stock, case.diameter, case.choices[0][0])


def _found(
    case: _Case,
    form: Literal["wrap", "flag"],
    reason: str,
    best: Candidate,
    version: int | None,
    level: Level | None,
) -> Fit:
    module = best.module_dots
    return Fit(
        tag=format_tag(case.subject.tag),
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


def _arc(case: _Case, form: str, module: int | None, version: int | None) -> float | None:
    if case.diameter is None or version is None or module is None:
        return None
    if form == "flag":
        return smallest_arc_deg(case.stock, case.diameter, version)
    return arc_deg(case.stock.mm(module * side_modules(version)), case.diameter)


def _refused(
    case: _Case, form: Literal["wrap", "flag"], reason: str, why_not: str, hint: str
) -> Fit:
    return Fit(
        tag=format_tag(case.subject.tag),
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
