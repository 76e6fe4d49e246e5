# SPDX-License-Identifier: MIT
"""A ring-out: begun or gone on with, every answer stored before the next step is asked."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Self

from wiretrack.electrical.cautions import pulling_cautions
from wiretrack.errors import BadInputError
from wiretrack.registry import ringouts
from wiretrack.registry.searching import resolve, tag_of
from wiretrack.ringout.engine import Ringout
from wiretrack.ringout.steps import parse_answer, parse_step
from wiretrack.tags import format_tag, parse_tag
from wiretrack.tasks.ringout_gear import (
    asked_gear,
    gear_of,
    gear_told,
    same_but_gear,
    switched,
)
from wiretrack.tasks.ringout_request import (
    RACEWAY,
    Wanted,
    as_begun,
    bundle_of,
    same_request,
    settings_for,
    split_ends,
    way_of,
)
from wiretrack.tasks.ringout_typed import typed_answer

if TYPE_CHECKING:
    from collections.abc import Mapping

    from wiretrack.registry.store import Registry
    from wiretrack.ringout.steps import Answer, Step


class Ringing:
    """A ring-out under way, between a registry that keeps it and an engine that thinks."""

    def __init__(self, registry: Registry, record: ringouts.Ringout) -> None:
        self._registry, self.record = registry, record
        self.bundle = bundle_of(record.settings)
        log = [(parse_step(one.step), one.answer) for one in record.answers]
        self._engine = Ringout.replayed(
            self.bundle, [(step, parse_answer(step, answer)) for step, answer in log]
        )

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
        if record is not None and record.result is None:
            wanted = as_begun(registry, wanted, record.settings)
        if record is not None and record.result is not None and not split_ends(registry, wanted)[0]:
            return cls(registry, record)
        settings = settings_for(registry, wanted)
        if record is not None and not same_request(record.settings, settings):
            record = None if record.result else _switched(registry, record, settings, wanted, who)
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

    def answer(
        self,
        step: Step,
        answer: Mapping[str, Any],
        *,
        after: int | None = None,
        who: str | None = None,
    ) -> Answer:
        """Check an answer, store it durably, then learn from it.

        With `after` it is stored only if so many answers are; others may be answering too.
        """
        checked = parse_answer(step, answer)
        ringouts.add_answer(
            self._registry, self.record.id, step.to_json(), checked.to_json(), after=after, who=who
        )
        self._engine.apply(step, checked)
        return checked

    def answer_typed(
        self, step: Step, typed: str, *, after: int | None = None, who: str | None = None
    ) -> Answer:
        """Check and store an answer as a person types it: nothing, ``c``, ``o`` or ohms."""
        return self.answer(step, typed_answer(step, typed), after=after, who=who)

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
        checked = parse_answer(step, typed_answer(step, typed))
        ringouts.supersede_answer(self._registry, record, number, checked.to_json(), who=who)
        return Ringing.latest(self._registry, self.record.pull)

    def undo(self, *, who: str | None = None) -> Ringing:
        """Take the last step back, so that it is asked again; return the ring-out as it was.

        Raises
        ------
        BadInputError
            If nothing was done yet.
        """
        record = Ringing.latest(self._registry, self.record.pull).record
        if not record.answers:
            raise BadInputError(f"Nothing was done yet in the ring-out of {record.pull}. Carry on.")
        last = record.answers[-1].number
        ringouts.supersede_answer(self._registry, record, last, ringouts.UNDONE, who=who)
        return Ringing.latest(self._registry, self.record.pull)

    def switch(self, wanted: Wanted, *, who: str | None = None) -> Ringing:
        """Go on with the gear and crew that are asked for; return the ring-out as it is then.

        All that is known is kept. Where it is the gear of now, nothing is written.

        Raises
        ------
        FieldError
            If one of them can't be; it names the field.
        BadInputError
            If the ring-out is over.
        """
        if self.finished:
            raise BadInputError(
                f"{self.record.pull} is rung out, so its gear can't change any more."
                " Ring out again with the gear that you have now."
            )
        settings = self.record.settings
        asked = asked_gear(self._registry, settings, wanted)
        if gear_of(asked) == gear_of(settings):
            return self
        return Ringing(self._registry, _with_gear(self._registry, self.record, asked, who))

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
            return f"{here}: take off every join, resistor and diode."
        if step["step"] == "join":
            return f"{here}: twist together, each line on its own:"
        if "diode" in step:
            ends = [self._named(step["diode"][leg]) for leg in ("cathode", "anode")]
            return f"{here}: put a diode over {' and '.join(ends)}, its band on {ends[0]}."
        if step["step"] == "fit":
            return f"{here}: put a resistor from {step['common']} to:"
        return f"{here}: {self._touch_told(step)}"

    def _touch_told(self, step: Mapping[str, Any]) -> str:
        one, other = step["between"]
        if step.get("plus") is None:
            return f"touch {self._named(one)} and {self._named(other)}."
        minus = other if step["plus"] == one else one
        plus, minus = self._named(step["plus"]), self._named(minus)
        return f"touch {plus} with plus (red) and {minus} with minus (black), on the diode range."

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


def _switched(
    registry: Registry,
    record: ringouts.Ringout,
    asked: Mapping[str, Any],
    wanted: Wanted,
    who: str | None,
) -> ringouts.Ringout:
    """Return a ring-out under way, with the gear that is asked for now if that is wanted."""
    if not same_but_gear(record.settings, asked):
        raise BadInputError(
            f"A ring-out of {record.pull} with other ends or gear is under way."
            " Go on with the same command as then, without --again; that begins anew."
        )
    if not wanted.switch:
        raise BadInputError(
            f"A ring-out of {record.pull} with other gear is under way:"
            f" {gear_told(gear_of(record.settings))}. Go on with the gear named now, keeping all"
            " that is known, by --switch; or give the same command as then."
        )
    return _with_gear(registry, record, asked, who)


def _with_gear(
    registry: Registry, record: ringouts.Ringout, asked: Mapping[str, Any], who: str | None
) -> ringouts.Ringout:
    settings = switched(record.settings, asked, len(record.answers))
    return ringouts.change_settings(registry, record, settings, who=who)


def ring_out_cautions() -> tuple[str, ...]:
    """Return what to read before opening boxes and probing."""
    return pulling_cautions()
