# SPDX-License-Identifier: MIT
"""A ring-out: begun or gone on with, every answer stored before the next step is asked."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Self

from wiretrack.electrical.cautions import pulling_cautions
from wiretrack.electrical.colours import parse_colour
from wiretrack.electrical.quantities import parse_resistance, parse_resistance_ohm
from wiretrack.errors import BadInputError
from wiretrack.registry import ringouts
from wiretrack.registry.dumping import conductors
from wiretrack.registry.searching import resolve, tag_of
from wiretrack.ringout.bundle import Bundle, FarEnd, NearEnd
from wiretrack.ringout.engine import Ringout
from wiretrack.ringout.steps import OVER_RANGE, parse_answer, parse_step
from wiretrack.tags import format_tag, parse_tag
from wiretrack.tasks.conductors import expected_of

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence, Set

    from wiretrack.records import Conductor, End
    from wiretrack.registry.store import Registry
    from wiretrack.ringout.steps import Answer, Step

RACEWAY = "raceway"


@dataclass(frozen=True, kw_only=True)
class Wanted:
    """A ring-out as somebody asks for it."""

    pull: str
    near: str
    far: str
    references: Sequence[str] = ()
    start: str = "near"
    resistors: str | None = None
    crew: int = 1
    far_colours: str | None = None
    joins: str = "any"
    screen: str = "auto"
    instrument: str | None = None
    again: bool = False


class Ringing:
    """A ring-out under way, between a registry that keeps it and an engine that thinks."""

    def __init__(self, registry: Registry, record: ringouts.Ringout) -> None:
        self._registry, self.record = registry, record
        self.bundle = _bundle(record.settings)
        self._engine = Ringout(self.bundle)
        for stored in record.answers:
            step = parse_step(stored.step)
            self._engine.apply(step, parse_answer(step, stored.answer))

    @classmethod
    def begin(cls, registry: Registry, wanted: Wanted, *, who: str | None = None) -> Self:
        """Begin a ring-out, or go on with the one that the same request began.

        Where that one is finished and left nothing unknown, it comes back with its result.

        Raises
        ------
        BadInputError
            If the request doesn't fit the pull, or another ring-out of it is under way.
        """
        pull, near, far = way = way_of(registry, wanted)
        record = None if wanted.again else ringouts.latest_ringout(registry, *way)
        if record is not None and record.result is not None and not _split(registry, wanted)[0]:
            return cls(registry, record)
        settings = settings_for(registry, wanted)
        if record is not None and not _same_request(record.settings, settings):
            if record.result is None:
                raise BadInputError(
                    f"A ring-out of {pull} with other ends or gear is under way."
                    " Go on with the same command as then, or begin anew with --again."
                )
            record = None
        if record is None:
            record = ringouts.start_ringout(registry, pull, near, far, settings, who=who)
        return cls(registry, record)

    @classmethod
    def latest(cls, registry: Registry, pull: str) -> Self:
        """Return the latest ring-out of a pull, finished or not."""
        code = resolve(registry, pull, ("pull",)).code
        record = ringouts.latest_ringout(registry, code)
        if record is None:
            raise BadInputError(
                f"No ring-out of {code} was begun. Begin with:"
                f" wiretrack ringout run {code} --near BOX --far BOX"
            )
        return cls(registry, record)

    @property
    def finished(self) -> bool:
        """Return whether the result was written to the registry."""
        return self.record.result is not None

    def next_step(self) -> Step:
        """Return what to do next; the last step is the result."""
        return self._engine.next_step()

    def answer(self, step: Step, answer: Mapping[str, Any], *, after: int | None = None) -> Answer:
        """Check an answer, store it durably, then learn from it.

        With `after` it is stored only if so many answers are; others may be answering too.
        """
        checked = parse_answer(step, answer)
        ringouts.add_answer(
            self._registry, self.record.id, step.to_json(), checked.to_json(), after=after
        )
        self._engine.apply(step, checked)
        return checked

    def answer_typed(self, step: Step, typed: str, *, after: int | None = None) -> Answer:
        """Check and store an answer as a person types it: nothing, ``c``, ``o`` or ohms."""
        return self.answer(step, _typed_answer(step, typed), after=after)

    @property
    def steps_taken(self) -> int:
        """Return how many steps were carried out."""
        return len(self._engine.log)

    def last_touch(self) -> ringouts.StoredAnswer:
        """Return the last touch that was answered.

        Raises
        ------
        BadInputError
            If there is none yet.
        """
        stored = ringouts.latest_ringout(
            self._registry, self.record.pull, self.record.near, self.record.far
        )
        touches = [a for a in (stored.answers if stored else ()) if a.step["step"] == "probe"]
        if not touches:
            raise BadInputError("No touch was answered yet. Carry on.")
        return touches[-1]

    def correct(self, number: int, typed: str, *, who: str | None = None) -> Ringing:
        """Supersede the answer to step `number`; return the ring-out as it follows from that.

        Raises
        ------
        BadInputError
            If there is no such step, it was no touch, or the answer isn't one.
        """
        record = Ringing.latest(self._registry, self.record.pull).record
        stored = next((a for a in record.answers if a.number == number), None)
        if stored is None or stored.step["step"] != "probe":
            touches = [str(a.number) for a in record.answers if a.step["step"] == "probe"]
            raise BadInputError(
                f"Step {number} of {self.record.pull} is no touch."
                f" Touches: {', '.join(touches) or 'none yet'}."
            )
        step = parse_step(stored.step)
        checked = parse_answer(step, _typed_answer(step, typed))
        ringouts.supersede_answer(self._registry, record, number, checked.to_json(), who=who)
        return Ringing.latest(self._registry, self.record.pull)

    def why(self, text: str) -> list[str]:
        """Return, a sentence each, the readings that prove what belongs to a tag."""
        return self._engine.why(format_tag(tag_of(self._registry, text)))

    def colours(self) -> dict[str, str | None]:
        """Return the colour of every end by its name, as far as it is known."""
        near = {end.name: end.colour for end in self.bundle.near}
        return near | {end.name: end.colour for end in self.bundle.far}

    def finish(self, who: str | None = None) -> dict[str, Any]:
        """Write the result to the conductors' ends, once, and return it."""
        result: dict[str, Any] = self._engine.result().to_json()
        if not self.finished:
            stored = {
                **result,
                "matches": [
                    {**match, "near": parse_tag(match["near"])} for match in result["matches"]
                ],
            }
            ringouts.finish_ringout(self._registry, self.record, stored, who=who)
        return result

    def told(self, step: Mapping[str, Any]) -> str:
        """Return a step as one says it to a person."""
        boxes = {"near": self.record.near, "far": self.record.far}
        if step["step"] == "walk":
            return f"Walk to {boxes[step['to']]}."
        here = f"In {boxes[step['at']]}"
        if step["step"] == "unjoin":
            return f"{here}: take every join apart."
        if step["step"] == "join":
            return f"{here}: twist together, each line on its own:"
        if step["step"] == "fit":
            return f"{here}: put a resistor from {step['common']} to:"
        one, other = (self._named(name) for name in step["between"])
        return f"{here}: touch {one} and {other}."

    def _named(self, end: str) -> str:
        if end == RACEWAY:
            return "the raceway"
        colour = self.colours().get(end)
        return f"{end} ({colour})" if colour else end

    def status(self) -> dict[str, Any]:
        """Return what is matched, what is open, what contradicts, and what to do next."""
        step = self.next_step().to_json()
        over = self.finished or step["step"] == "result"
        return {
            "pull": self.record.pull,
            "near": self.record.near,
            "far": self.record.far,
            "finished": self.finished,
            "next": None if over else self.told(step),
            **self._engine.status(),
        }


def ring_out_cautions() -> tuple[str, ...]:
    """Return what to read before opening boxes and probing."""
    return pulling_cautions()


def _typed_answer(step: Step, typed: str) -> dict[str, Any]:
    if step.to_json()["step"] != "probe":
        return {"done": True}
    key = typed.lower()
    if key in ("c", "closed"):
        return {"closed": True}
    if key in ("o", "open"):
        return {"ohms": OVER_RANGE}
    measured = parse_resistance(typed)
    return {"ohms": OVER_RANGE if measured.over_range else measured.number}


def way_of(registry: Registry, wanted: Wanted) -> tuple[str, str, str]:
    """Return the codes of the pull, the near box and the far box, as the registry writes them."""
    pull = resolve(registry, wanted.pull, ("pull",)).code
    near = resolve(registry, wanted.near, ("enclosure",)).code
    far = resolve(registry, wanted.far, ("enclosure",)).code
    if near == far:
        raise BadInputError(f"Near and far box are both '{near}'. Name the two ends of the pull.")
    return pull, near, far


def _split(registry: Registry, wanted: Wanted) -> tuple[list[Conductor], list[Conductor]]:
    """Return the conductors between the boxes: those to be identified, and the others."""
    pull, near, far = way_of(registry, wanted)
    found = [
        c
        for c in conductors(registry, "p.code = ?", [pull])
        if {c.from_end.enclosure, c.to_end.enclosure} == {near, far}
    ]
    if not found:
        raise BadInputError(
            f"No conductor of {pull} runs from {near} to {far}. See: wiretrack show {pull}"
        )
    references = [_reference(registry, text) for text in wanted.references]
    known = [
        c
        for c in found
        if format_tag(c.tag or "") in references or _identified(_end_in(c, far), wanted.again)
    ]
    return [c for c in found if c not in known], known


def settings_for(registry: Registry, wanted: Wanted) -> dict[str, Any]:
    """Return all that a ring-out rests on, as it is stored: ends, colours, references, gear."""
    pull, near, far = way_of(registry, wanted)
    unknown, known = _split(registry, wanted)
    if not unknown:
        raise BadInputError(
            f"Every conductor of {pull} is identified in {far} already."
            " Begin anew with --again where that is in doubt."
        )
    marks = {_end_in(c, far).mark for c in known}
    return {
        "near_box": near,
        "far_box": far,
        "near": [_near_end(conductor) for conductor in unknown],
        "far": _far_ends(registry, (pull, far), len(unknown), wanted.far_colours, marks),
        "references": [_reference(registry, text) for text in wanted.references],
        "start": wanted.start,
        "joins": wanted.joins,
        "screen": wanted.screen,
        "resistors": _resistors(wanted.resistors),
        "crew": wanted.crew,
        "instrument": _instrument(registry, wanted.instrument),
    }


# What a ring-out that was stored before one of these could be asked for was done with.
_AS_BEFORE: dict[str, Any] = {"joins": "any", "screen": "auto", "instrument": None}


def _same_request(stored: Mapping[str, Any], asked: Mapping[str, Any]) -> bool:
    """Return whether two settings ask for the same; expected ohms may have become known since."""

    def essence(settings: Mapping[str, Any]) -> dict[str, Any]:
        near = [{**end, "expected_ohm": None} for end in settings["near"]]
        return {**_AS_BEFORE, **settings, "near": near}

    return essence(stored) == essence(asked)


def _bundle(settings: Mapping[str, Any]) -> Bundle:
    settings = {**_AS_BEFORE, **settings}
    return Bundle(
        near=tuple(NearEnd(**end) for end in settings["near"]),
        far=tuple(FarEnd(**end) for end in settings["far"]),
        references=tuple(settings["references"]),
        start=settings["start"],
        joins=settings["joins"],
        screen=settings["screen"],
        resistors=tuple(settings["resistors"]),
        crew=settings["crew"],
    )


def _near_end(conductor: Conductor) -> dict[str, Any]:
    expected = expected_of(conductor)
    return {
        "name": format_tag(conductor.tag or ""),
        "colour": conductor.colour,
        "expected_ohm": expected.ohms if expected else None,
    }


def _end_in(conductor: Conductor, enclosure: str) -> End:
    ends = (conductor.from_end, conductor.to_end)
    return next(end for end in ends if end.enclosure == enclosure)


def _identified(end: End, again: bool) -> bool:
    """Return whether an end is known: landed on a terminal, or marked by an earlier ring-out."""
    return end.terminal is not None or (end.mark is not None and not again)


def _far_ends(
    registry: Registry, place: tuple[str, str], count: int, colours: str | None, used: Set[Any]
) -> list[dict[str, Any]]:
    """Return the ends at the far box in the order of their marks: as typed, else as recorded.

    The marks in `used` are on ends that are identified; no other end gets one of them.
    """
    pull, far = place
    recorded = registry.rows(
        "SELECT f.mark AS name, f.colour FROM far_ends AS f"
        " JOIN pulls AS p ON p.id = f.pull_id JOIN enclosures AS e ON e.id = f.enclosure_id"
        " WHERE p.code = ? AND e.code = ? ORDER BY f.position",
        [pull, far],
    )
    recorded = [end for end in recorded if end["name"] not in used]
    names = [mark for mark in map(str, range(1, count + len(used) + 1)) if mark not in used]
    if colours:
        typed = [parse_colour(word) for word in colours.split(",")]
        _check_count(len(typed), count, f"--far-colours names {len(typed)} ends", far)
        return [
            {"name": name, "colour": colour} for name, colour in zip(names, typed, strict=False)
        ]
    if recorded:
        _check_count(len(recorded), count, f"the record of {pull} has {len(recorded)} ends", far)
        return recorded
    return [{"name": name, "colour": None} for name in names[:count]]


def _check_count(given: int, count: int, told: str, far: str) -> None:
    if given != count:
        raise BadInputError(
            f"{told[0].upper()}{told[1:]} in {far}, but {count} are to be identified."
            " Name each end that isn't identified yet, in the order of the end marks."
        )


def _reference(registry: Registry, text: str) -> str:
    if text.strip().casefold() == RACEWAY:
        return RACEWAY
    return format_tag(tag_of(registry, text))


def _instrument(registry: Registry, code: str | None) -> str | None:
    return resolve(registry, code, ("instrument",)).code if code else None


def _resistors(text: str | None) -> list[float]:
    return [parse_resistance_ohm(word) for word in text.split(",")] if text else []
