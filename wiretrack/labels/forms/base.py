# SPDX-License-Identifier: MIT
"""What every form of label answers, and what forms of an end's label share.

A form is one way to lay a label out: wound round the conductor, folded to a flag, on a sleeve,
flat. Each has a file here that holds its one instance; nothing else asks for a form by its name.
"""

from __future__ import annotations

from abc import ABC, abstractmethod
from dataclasses import replace
from typing import TYPE_CHECKING, ClassVar, Generic, TypeVar, cast

from wiretrack.labels.geometry import (
    LETTER_SOURCE,
    MODULE_SOURCE,
    TAG_LETTER_MM,
    TEXT_LETTER_MM,
    arc_deg,
    check_diameter,
    smallest_arc_deg,
    smallest_module_dots,
)
from wiretrack.labels.legend import letter_limits, make_legend, smallest_room
from wiretrack.labels.plan import Fit
from wiretrack.labels.subject import EndSubject
from wiretrack.labels.symbol import (
    MAX_VERSION,
    capacity,
    side_modules,
    side_with_quiet_zone,
    symbol_choices,
)
from wiretrack.late import dataclass
from wiretrack.sources import ISO_18004

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator, Mapping

    from wiretrack.labels.legend import LetterLimits, Paragraph
    from wiretrack.labels.plan import Candidate, Stock
    from wiretrack.labels.subject import Contents, Subject
    from wiretrack.labels.symbol import Level


GOOD_MODULE_MM = 0.42


class Form(ABC):
    """One way to lay a label out.

    `name` is what people and scripts read, `order` its place in lists: the first one that carries a
    subject is taken where no stock says otherwise. `stock_form` is the form of stock it goes on;
    `carries` is the class of subject that it carries. `stock_fields` are the fields that only
    such a stock has, each with the words for it. `flat_alike` says whether a flag stock could
    carry the same, where this one can't.
    """

    name: ClassVar[str]
    order: ClassVar[int]
    stock_form: ClassVar[str]
    carries: ClassVar[type] = EndSubject
    stock_fields: ClassVar[Mapping[str, str]] = {}
    flat_alike: ClassVar[bool] = False

    @abstractmethod
    def fit(self, case: Case) -> Fit:
        """Return the plan of one label on one stock, or why there is none."""

    def stock_faults(self, stock: Stock) -> Iterator[tuple[str, str]]:
        """Yield what makes a stock impossible: the field (empty: the stock itself) and why."""
        yield from ()

    def parts(self, subject: Subject, stock: Stock) -> list[Subject]:
        """Return the subject in as many labels as this stock needs for it."""
        return [subject]


@dataclass(frozen=True)
class Case:
    """One question: this label on this stock; `contents` say how much the legend tells."""

    subject: Subject
    stock: Stock
    contents: Contents
    text_only: bool


@dataclass(frozen=True)
class EndCase:
    """The label of something with a legend, and a code or none, on one stock."""

    subject: EndSubject
    stock: Stock
    legend: tuple[Paragraph, ...]
    limits: LetterLimits
    choices: tuple[tuple[int, Level], ...]
    text_only: bool

    @classmethod
    def of(cls, case: Case) -> EndCase:
        """Return the case with its legend, its letters and the symbols that hold its address.

        Raises `OutOfRangeError` if the conductor's diameter can't be; `GlyphError` if a name can't
        be printed.
        """
        subject, stock = case.subject, case.stock
        assert isinstance(subject, EndSubject)
        if subject.outer_diameter_mm is not None:
            check_diameter(subject.outer_diameter_mm)
        text_only = case.text_only or not subject.payload
        return cls(
            subject,
            stock,
            make_legend(subject, case.contents),
            letter_limits(stock, heading=subject.heading),
            () if text_only else symbol_choices(subject.payload),
            text_only,
        )

    @property
    def diameter(self) -> float | None:
        """Return the conductor's outer diameter, in mm; `None` where it isn't known."""
        return self.subject.outer_diameter_mm

    @property
    def tries(self) -> tuple[tuple[int, Level] | None, ...]:
        """Return the symbols to try, the best first; none at all for a legend alone."""
        return (None,) if self.text_only else self.choices

    def unread(self) -> tuple[str, str] | None:
        """Return why no code on this stock is read, and what would do."""
        return None if self.text_only else why_unread(self.stock)

    def best(
        self, with_version: Callable[[int | None], Iterable[Candidate]], stock: Stock
    ) -> tuple[Candidate, tuple[int, Level] | None] | None:
        """Return the best candidate with the first symbol that has any, and that symbol."""
        for symbol in self.tries:
            best = best_of(with_version(symbol[0] if symbol else None), stock)
            if best is not None:
                return best, symbol
        return None

    def found(
        self, form: Form, reason: str, best: Candidate, symbol: tuple[int, Level] | None
    ) -> Fit:
        """Return the fit of the best candidate."""
        module = best.module_dots
        version, level = symbol or (None, None)
        return Fit(
            tag=self.subject.name,
            end=self.subject.end,
            form=form.name,
            reason=reason,
            qr_version=version,
            error_correction=level,
            module_dots=module,
            module_mm=None if module is None else self.stock.mm(module),
            arc_deg=self._arc(module, version),
            letter_mm=self.stock.mm(best.letter_dots),
            plan=best.plan,
        )

    def refused(self, form: Form, reason: str, why_not: str, hint: str) -> Fit:
        """Return a fit without a plan, and why there is none."""
        arc = None
        if self.diameter is not None and self.choices:
            arc = smallest_arc_deg(self.stock, self.diameter, self.choices[0][0])
        return Fit(
            self.subject.name, self.subject.end, form.name, reason,
            arc_deg=arc, why_not=why_not, hint=hint,
        )  # fmt: skip

    def or_shorter(
        self, why: tuple[str, str], with_version: Callable[[int], Iterator[Candidate]]
    ) -> tuple[str, str]:
        """Return why and what would do: a shorter address, where code and legend then fit."""
        payload = self.subject.payload
        if self.text_only or not payload.startswith("HTTP"):
            return why
        smallest = min((version for version, _ in self.choices), default=MAX_VERSION + 1)
        for version in range(smallest - 1, 0, -1):
            if next(with_version(version), None) is not None:
                return why[0], shorter_address(payload, version)
        return why

    def _arc(self, module: int | None, version: int | None) -> float | None:
        if self.diameter is None or version is None or module is None:
            return None
        return arc_deg(self.stock.mm(module * side_modules(version)), self.diameter)


def best_of(candidates: Iterable[Candidate], stock: Stock, most_tags: int = 1) -> Candidate | None:
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


S = TypeVar("S", bound="Subject")


class FlatForm(Form, Generic[S]):
    """A form of one kind of subject, on flat stock."""

    stock_form = "flat"

    @abstractmethod
    def lay_out(self, subject: S, stock: Stock) -> Fit:
        """Return the plan of one label, or why there is none."""

    def split(self, subject: S, stock: Stock) -> list[S]:
        """Return the subject in as many labels as this stock needs."""
        return [subject]

    def parts(self, subject: Subject, stock: Stock) -> list[Subject]:
        """Return the subject in as many labels as this stock needs."""
        return cast("list[Subject]", self.split(cast("S", subject), stock))

    def fit(self, case: Case) -> Fit:
        """Return the plan of one label; another stock than a flat one carries none."""
        stock = case.stock
        found = self.lay_out(cast("S", case.subject), stock)
        if stock.form != self.stock_form:
            why = f"a {found.form} needs a flat stock, and '{stock.name}' is a {stock.form}"
            return replace(found, plan=None, why_not=why, hint="Take a stock of form flat.")
        unread = why_unread(stock) if found.plan and found.plan.codes else None
        return replace(found, plan=None, why_not=unread[0], hint=unread[1]) if unread else found


_LETTERS = (
    f"letters of at least {TEXT_LETTER_MM:.1f} mm, the tag's {TAG_LETTER_MM:.1f} mm"
    f" ({LETTER_SOURCE})"
)
LIGHT, DARK = ("white", "yellow"), ("black", "any")  # common practice: contrast for red light too
LEGEND_ALONE = "print the legend alone ({text_only})"
_LARGER = "Take a larger stock, a shorter legend or shorter names."


def smallest_side_mm(stock: Stock, version: int) -> float:
    """Return the side of the smallest symbol of that version, quiet zone and all, in mm."""
    return stock.mm(side_with_quiet_zone(version) * smallest_module_dots(stock.dpi))


def why_no_face(
    legend: tuple[Paragraph, ...], stock: Stock, payload: str, limits: LetterLimits
) -> tuple[str, str]:
    """Return why one flat face can't carry the legend and a code, and what would do."""
    zone = stock.zone
    has = f"the label has {zone.width_mm:.1f} x {zone.height_mm:.1f} mm"
    if not payload:
        return no_room(legend, stock, stock.dots(zone.width_mm), has, limits)
    choices = symbol_choices(payload)
    side = smallest_side_mm(stock, choices[-1][0]) if choices else None
    if side is None or side > min(zone.width_mm, zone.height_mm):
        return no_code(stock, payload, side, min(zone.width_mm, zone.height_mm))
    has = f"beside the smallest code {has}"
    return no_room(legend, stock, stock.dots(zone.width_mm - side), has, limits)


def why_unread(stock: Stock) -> tuple[str, str] | None:
    """Return why no decoder would read a code in the colours of this stock; `None` if one would."""
    if stock.paper_colour in LIGHT and stock.print_colour in DARK:
        return None
    why = f"a code in {stock.print_colour} on {stock.paper_colour} isn't read"
    return why, f"Take a stock that prints black on white or yellow, or {LEGEND_ALONE}."


def no_room(
    legend: tuple[Paragraph, ...],
    stock: Stock,
    width: int,
    has: str,
    limits: LetterLimits | None = None,
) -> tuple[str, str]:
    """Return what room the legend needs where what there `has` been isn't enough."""
    least, height = smallest_room(legend, width, limits or letter_limits(stock))
    if height is None:
        needs = f"a width of {stock.mm(least):.1f} mm"
    else:
        needs = f"{stock.mm(width):.1f} x {stock.mm(height):.1f} mm"
    return f"{has} and the legend needs {needs} for {_LETTERS}", _LARGER


def no_code(stock: Stock, payload: str, side_mm: float | None, room_mm: float) -> tuple[str, str]:
    """Return why no code can be made large enough to read, and what would do."""
    needs = f"needs {side_mm:.1f} mm" if side_mm is not None else "goes into none"
    why = (
        f"no code can be made large enough to read: there are {room_mm:.1f} mm, and the smallest "
        f"symbol of '{payload}' {needs} with its quiet zone ({ISO_18004.cite()}; modules of "
        f"{stock.mm(smallest_module_dots(stock.dpi)):.2f} mm, {MODULE_SOURCE})"
    )
    return why, f"Take a larger stock, or {LEGEND_ALONE}."


def shorter_address(payload: str, version: int) -> str:
    """Return how long an address may be whose symbol is of that version and would fit."""
    host = payload.removeprefix("HTTP://").partition("/")[0]
    holds = capacity(version, "L", alphanumeric=payload == payload.upper())
    characters = holds - (len(payload) - len(host))
    if characters < 4:
        return "Take a larger stock, or print without a base address."
    return f"A base address whose host and port have at most {characters} characters would do."
