# SPDX-License-Identifier: MIT
"""The label of a conductor's end: what the logs hold of it, beside what it would say now.

Three facts are kept apart. A label is due; it is printed; it is placed, which somebody says who put
it on its wire. The print log keeps what each label said when it was printed, and what is said of
placed ones keeps what those written by hand say; that is compared with what the same label would
say now. One that says less than the record does now is still true. Neither log ever changes.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

from wiretrack.errors import BadInputError
from wiretrack.late import cached_property, dataclass
from wiretrack.model.tags import check_base_address, make_payload

if TYPE_CHECKING:
    from collections.abc import Mapping

NO_LABEL, PRINTED, UNTRUE = "no label", "printed, not yet on", "label no longer true"
_WORDS = {
    "circuit": "circuit",
    "function": "function",
    "title": "title",
    "this_place": "this end",
    "other_place": "other end",
    "size": "size",
    "colour": "colour",
    "core": "core of cable",
    "payload": "code",
}


@dataclass(frozen=True, kw_only=True)
class LabelFacts:
    """All that a label of one end could say; the boxes are the places without their terminals."""

    payload: str = ""
    circuit: str | None = None
    function: str | None = None
    title: str | None = None
    this_place: str | None = None
    other_place: str | None = None
    this_box: str | None = None
    other_box: str | None = None
    size: str | None = None
    colour: str | None = None
    core: str | None = None


@dataclass(frozen=True, kw_only=True)
class LoggedLabel:
    """A label that was printed, or that is on its wire, and what it says.

    Of one on its wire, `print_id` names the printed label that it is (`None`: written by hand).
    """

    tag: str
    side: str
    id: str
    at: str
    legend: Mapping[str, Any]
    print_id: str | None = None
    taken_back: bool = False


@dataclass(frozen=True, kw_only=True)
class EndLabel:
    """The label of one end.

    `printed` is the one printed last, `placed` are those said to be on the wire, the last one last.
    Without `now` nothing is compared.
    """

    printed: LoggedLabel | None = None
    placed: tuple[LoggedLabel, ...] = ()
    now: LabelFacts | None = None

    @property
    def placed_ids(self) -> tuple[str, ...]:
        """What was said of placed labels and not taken back, by its id."""
        return tuple(one.id for one in self.placed if not one.taken_back)

    @property
    def on_wire(self) -> LoggedLabel | None:
        """The label that is on the wire."""
        return next((one for one in reversed(self.placed) if not one.taken_back), None)

    @property
    def printed_at(self) -> str | None:
        """When the last label was printed."""
        return self.printed.at if self.printed else None

    @property
    def placed_at(self) -> str | None:
        """When somebody said that the label is on the wire."""
        return self.on_wire.at if self.on_wire else None

    @property
    def print_is_on(self) -> bool:
        """Whether the label printed last is the one on the wire."""
        on, printed = self.on_wire, self.printed
        return on is not None and printed is not None and on.print_id == printed.id

    @cached_property
    def untrue(self) -> str | None:
        """What the label on the wire says otherwise than the record."""
        return self._untrue(self.on_wire)

    @cached_property
    def print_untrue(self) -> str | None:
        """What the label printed last says otherwise, where that isn't the one on the wire."""
        return None if self.print_is_on else self._untrue(self.printed)

    @property
    def holds(self) -> bool:
        """Whether a label is on the end and still tells the truth."""
        return self.on_wire is not None and self.untrue is None

    @property
    def waits(self) -> bool:
        """Whether a printed label that is true waits to be put on."""
        return self.printed is not None and not self.print_is_on and self.print_untrue is None

    @property
    def may_be_on(self) -> bool:
        """Whether a label may be on the wire: one that was printed, unless taken back."""
        if self.on_wire or not self.printed:
            return self.on_wire is not None
        return all(one.print_id != self.printed.id for one in self.placed)

    @property
    def why(self) -> str:
        """Why the end is due."""
        if self.untrue:
            return UNTRUE
        return PRINTED if self.waits else NO_LABEL

    @property
    def detail(self) -> str | None:
        """What is no longer true, of the label on the wire or else of the printed one."""
        if self.untrue and self.waits:
            return f"{self.untrue}; a new one is printed"
        printed = self.print_untrue and f"the one printed isn't true now ({self.print_untrue})"
        return self.untrue or printed

    def _untrue(self, label: LoggedLabel | None) -> str | None:
        """Return what a label says otherwise, in words; of a place its box alone is true too."""
        if label is None or self.now is None:
            return None
        boxes = {"this_place": self.now.this_box, "other_place": self.now.other_box}
        told = label.legend
        changes = [
            f"{word}: it says {told[name]}, the record {getattr(self.now, name) or 'none'}"
            for name, word in _WORDS.items()
            if told.get(name) and told[name] not in (getattr(self.now, name), boxes.get(name))
        ]
        return "; ".join(changes) or None


NOTHING = EndLabel()


def label_of(end: Any) -> EndLabel:
    """Return the label of a `ConductorEnd`; one that no log names isn't compared.

    An address that can't be printed counts as none here, so that the rest can be compared.
    """
    site = end.conductor.site
    logged: EndLabel = site.labels_logged(end.conductor.tag).get(end.side, NOTHING)
    if logged is NOTHING:
        return NOTHING
    address = site.facts.base_address
    try:
        address = address and check_base_address(address)
    except BadInputError:
        address = None
    return replace(logged, now=label_facts(end, address))


def label_facts(end: Any, base_address: str | None) -> LabelFacts:
    """Return what a label of a `ConductorEnd` says, whose code leads to that address."""
    conductor = end.conductor
    titles = {circuit.code: circuit.title for circuit in conductor.serves}
    return LabelFacts(
        payload=make_payload(conductor.tag, base_address),
        circuit=conductor.circuit,
        function=conductor.function,
        title=" / ".join(filter(None, map(titles.get, conductor.circuits))) or None,
        this_place=end.here.place,
        other_place=end.there.place,
        this_box=end.here.enclosure,
        other_box=end.there.enclosure,
        size=conductor.size,
        colour=conductor.colour,
        core=_core(conductor.cable, conductor.core),
    )


def _core(cable: str | None, core: str | None) -> str | None:
    return f"{cable} core {core}" if cable and core else cable
