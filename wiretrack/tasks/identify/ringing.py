# SPDX-License-Identifier: MIT
"""A ring-out: begun or gone on with, every answer stored before the next step is asked."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any, Self

from wiretrack.electrical.colours import colour_name
from wiretrack.encoding import document
from wiretrack.errors import BadInputError, ChangedMeanwhileError, Hint
from wiretrack.late import cached_property
from wiretrack.model.entities import Conductor
from wiretrack.model.tags import format_tag, parse_tag
from wiretrack.procedure import RINGOUT, UNDONE
from wiretrack.readings.continuity import CONTINUITY
from wiretrack.ringout.action import Action
from wiretrack.ringout.answers import Answer, Twisted
from wiretrack.ringout.bundle import RACEWAY
from wiretrack.ringout.engine import Ringout
from wiretrack.ringout.parsing import parse_step
from wiretrack.ringout.prompts import Names
from wiretrack.ringout.results import Result
from wiretrack.ringout.several import SeveralBoxes
from wiretrack.store import procedures
from wiretrack.store.searching import resolve, tag_of
from wiretrack.store.source import site_of
from wiretrack.tasks.identify.remarks import SlipFound, left_alone, of_log, of_slips
from wiretrack.tasks.identify.request import (
    Wanted,
    as_begun,
    changed,
    known_between,
    settings_for,
    split_ends,
    way_of,
)
from wiretrack.tasks.identify.settings import CHECK, GEAR, Settings

if TYPE_CHECKING:
    from collections.abc import Mapping

    from wiretrack.procedure import Answered, Procedure
    from wiretrack.ringout.results import Guidance, Step
    from wiretrack.store.store import Registry


class Ringing:
    """A ring-out under way, between a registry that keeps it and an engine that thinks.

    What writes raises `ChangedMeanwhileError` if somebody else answered, undid or changed
    something since the ring-out was read; nothing is stored then.
    """

    def __init__(self, registry: Registry, record: Procedure) -> None:
        self._registry, self.record = registry, record
        self.settings = Settings.of(record.settings)
        bundles = self.settings.bundles_after(amended=record.amended)
        several = len(bundles) > 1
        self.engine = SeveralBoxes(bundles) if several else Ringout(*bundles.values())
        self.left_out = tuple(one for one in record.answers if not self._retakes(one))

    def _retakes(self, stored: Answered) -> bool:
        """Take in a stored answer; return whether it fits what was done before it."""
        try:
            step = parse_step(stored.step)
            self.engine.retake(step, step.parse(stored.answer))
        except BadInputError:
            return False
        return True

    @classmethod
    def begin(cls, registry: Registry, wanted: Wanted, *, who: str | None = None) -> Self:
        """Begin a ring-out, or go on with the one that the same request began.

        Where that one is finished and left nothing unknown, it comes back with its result.
        `BadInputError` if the request doesn't fit the pull, or another ring-out of it is under way.
        """
        while True:
            try:
                return cls._begun(registry, wanted, who)
            except ChangedMeanwhileError:  # somebody else began it, or changed its gear
                wanted = replace(wanted, again=False)

    @classmethod
    def _begun(cls, registry: Registry, wanted: Wanted, who: str | None) -> Self:
        pull, near, boxes = way_of(registry, wanted)
        about = {"pull": pull, "near": near, "far": boxes[0]}
        latest = procedures.latest(registry, RINGOUT, **about)
        record = None if wanted.again else latest
        if record is not None and record.result is None:
            wanted = as_begun(registry, wanted, Settings.of(record.settings))
        if record is not None and record.result is not None and not split_ends(registry, wanted)[0]:
            return cls(registry, record)
        asked = settings_for(registry, wanted)
        if record is not None and not Settings.of(record.settings).asks_as(asked):
            if record.result is None:
                return cls(registry, record)._switched(asked, wanted.switch, who)
            record = None
        if record is None:
            stored = document(asked)
            record = procedures.start(registry, RINGOUT, about, stored, after=latest, who=who)
        return cls(registry, record)

    @classmethod
    def gone_on(
        cls, registry: Registry, pull: str, said: Mapping[str, Any], *, who: str | None = None
    ) -> Self:
        """Go on with the latest ring-out of a pull; what is not `said` is as it was then.

        `said` are fields of `Wanted`. `BadInputError` if none was begun, or what is said can't be.
        """
        found = cls.latest(registry, pull)
        if not said:
            return found
        was = found.settings
        if said == CHECK:
            return found.switch(said, who=who)
        if not found.finished and set(said) <= {*GEAR, "references", "far_colours"}:
            both = dict.fromkeys((*was.references, *said.get("references", ())))
            return found.switch({**said, "references": tuple(both)}, who=who)
        colours, one = [end.colour for end in was.far], len(was.boxes) == 1
        seen = [end.colour for end in was.numbers.values()]
        wanted = Wanted(
            pull=found.record.pull or pull,
            near=was.near_box,
            far=",".join(was.boxes),
            references=was.references,
            start=was.start,
            far_colours=",".join(filter(None, colours)) if all(colours) and one else None,
            far_ends=None if said.get("far_colours") or not one else len(was.far),
            near_numbers=bool(was.untagged),
            near_colours=",".join(filter(None, seen)) if seen and all(seen) else None,
            switch=not said.get("again"),
            **vars(was.gear.asked),
        )
        return cls.begin(registry, replace(wanted, **said), who=who)

    @classmethod
    def latest(cls, registry: Registry, pull: str) -> Self:
        """Return the latest ring-out of a pull, finished or not."""
        code = resolve(registry, pull, ("pull",)).code
        record = procedures.latest(registry, RINGOUT, pull=code)
        if record is None:
            raise BadInputError(
                f"No ring-out of {code} was begun.", Hint(job="ringout", about=code)
            )
        return cls(registry, record)

    @property
    def finished(self) -> bool:
        """Return whether the result was written to the registry."""
        return self.record.result is not None

    @property
    def can_be_checked(self) -> bool:
        """Whether all is done, and matches could be checked once more."""
        return self.engine.can_be_checked

    def next_step(self) -> Step:
        """Return what to do next; the last step is the result."""
        return self.engine.next_step()

    @cached_property
    def names(self) -> Names:
        """What boxes and ends are called: a far end by its colour, a near one by all of it."""
        settings = self.settings
        seen = {end.name: end.colour for end in settings.far}
        seen |= {end.name: end.colour for end in settings.numbers.values()}
        known = {name: colour_name(colour) for name, colour in seen.items() if colour}
        tags = [parse_tag(e) for e in (*settings.sought, *settings.references) if e != RACEWAY]
        for one in site_of(self._registry).find(Conductor, "tag", tags):
            colour = (colour_name(one.colour),) if one.colour else ()
            is_for = " ".join((*one.circuits, one.function or "spare"))
            known[str(one.tag)] = ", ".join((is_for, *colour))
        return Names({"near": self.record.near, "far": self.settings.far_boxes}, known)

    @property
    def names_now(self) -> Names:
        """What they are called as far as is known by now: a matched far end by its conductor."""
        known = self.names.known
        found = {far: known[near] for near, far in self.engine.matched.items() if near in known}
        return replace(self.names, known={**known, **found})

    @property
    def guidance(self) -> Guidance:
        """What the next step is for, and how far along it is."""
        return self.engine.guidance(self.names.boxes)

    @property
    def step_id(self) -> str:
        """Return the id of the step that was next when this was read; see `at_step`."""
        return self.record.version

    def at_step(self, step_id: object) -> Ringing:
        """Return the ring-out as it is now, if the step of that id is the next one."""
        if not isinstance(step_id, str) or not procedures.is_version(self._registry, step_id):
            raise BadInputError(
                f"No step has the id {step_id!r}. Name the id of the step as it was."
            )
        if step_id != procedures.version_of(self._registry, self.record):
            raise ChangedMeanwhileError("The ring-out")
        return self if step_id == self.step_id else self.as_it_is_now()

    def as_it_is_now(self) -> Ringing:
        """Return the ring-out with what others answered meanwhile; begun again, the new one."""
        return Ringing(self._registry, procedures.as_it_is_now(self._registry, self.record))

    def answer(
        self, step: Step, answer: Answer | Mapping[str, Any], *, who: str | None = None
    ) -> Answer:
        """Check an answer, store it durably, then learn from it."""
        checked = self._named(step, answer if isinstance(answer, Answer) else step.parse(answer))
        self.record = procedures.add_answer(
            self._registry, self.record, document(step), document(checked), who=who
        )
        self.engine.apply(step, checked)
        return checked

    def answer_typed(self, step: Step, typed: str, *, who: str | None = None) -> Answer:
        """Check and store an answer as a person types it; see `Action.typed`."""
        return self.answer(step, step.typed(typed), who=who)

    @property
    def steps_done(self) -> int:
        """How many steps were carried out and not undone."""
        return len(self.record.answers)

    def stored(self, number: int) -> Answered:
        """Return step `number` with its answer; `BadInputError` if there is no such step."""
        stored = next((a for a in self.record.answers if a.number == number), None)
        if stored is None:
            known = [str(a.number) for a in self.record.answers]
            raise BadInputError(
                f"{self.record.pull} has no step {number}. Steps: {', '.join(known) or 'none yet'}."
            )
        return stored

    def correctable(self, number: int) -> Answered:
        """Return step `number`, a touch or what was twisted: its answer can be another one."""
        steps = [a for a in self.record.answers if parse_step(a.step).can_be_corrected]
        for stored in steps:
            if stored.number == number:
                return stored
        raise BadInputError(
            f"Step {number} of {self.record.pull} is no touch and no twist."
            f" Those are: {', '.join(str(a.number) for a in steps) or 'none yet'}."
        )

    def correct(self, number: int, typed: str, *, who: str | None = None) -> Ringing:
        """Supersede the answer to step `number`; return the ring-out as it follows from that."""
        stored = self.correctable(number)
        step = parse_step(stored.step)
        checked = self._named(step, step.typed(typed))
        record = procedures.add_answer(
            self._registry, self.record, stored.step, document(checked), supersedes=stored, who=who
        )
        return Ringing(self._registry, record)

    @property
    def slips(self) -> tuple[SlipFound, ...]:
        """The slips of a hand that would explain all readings, where they contradict."""
        return of_slips(self.engine.slips(), self.record.answers)

    def _named(self, step: Step, answer: Answer) -> Answer:
        """Return an answer with its ends called as they are in the box, if they are there."""
        if not isinstance(answer, Twisted) or isinstance(step, Result):
            return answer
        bundles = self.settings.bundles
        bundle = bundles.get(step.box or "") or next(iter(bundles.values()))
        names = {_plain(name): name for name in bundle.names(step.place)}
        absent = [e for group in answer.twisted for e in group if _plain(e) not in names]
        if absent:
            raise BadInputError(
                f"No end in {step.where(self.names)} is called {', '.join(absent)}."
                f" Ends: {', '.join(names.values())}."
            )
        return step.parse({"twisted": [[names[_plain(e)] for e in g] for g in answer.twisted]})

    def undo(self, number: int | None = None, *, who: str | None = None) -> Ringing:
        """Take a step back, the last one unless told, so that it is asked again.

        A touch is taken back alone; another step with all that was done after it. Return the
        ring-out as it was. `BadInputError` if there is no such step.
        """
        record, answers = self.record, self.record.answers
        if not answers:
            raise BadInputError(f"Nothing was done yet in the ring-out of {record.pull}. Carry on.")
        step = answers[-1] if number is None else self.stored(number)
        rest = [one for one in answers if one.number >= step.number]
        for one in (step,) if parse_step(step.step).is_touch else reversed(rest):
            record = procedures.add_answer(
                self._registry, record, one.step, UNDONE, supersedes=one, who=who
            )
        return Ringing(self._registry, record)

    def switch(self, said: Mapping[str, Any], *, who: str | None = None) -> Self:
        """Go on with other gear, crew, references or colours: fields of `Wanted`.

        Return the ring-out as it is then. All that is known is kept; where nothing differs, nothing
        is written. `FieldError` if one of them can't be; it names the field; `BadInputError` if the
        ring-out is over.
        """
        if self.finished and said != CHECK:
            raise BadInputError(
                f"{self.record.pull} is rung out, so its gear can't change any more."
                " Ring out again with the gear that you have now."
            )
        asked = changed(self._registry, self.settings, said)
        return self._turned(asked, who) if not self.finished or self.can_be_checked else self

    def _switched(self, asked: Settings, switch: bool, who: str | None) -> Self:
        """Return a ring-out under way, with what is asked for now if that is wanted."""
        if not self.settings.has_ends_of(asked):
            raise BadInputError(
                f"A ring-out of {self.record.pull} with other boxes or ends is under way.",
                Hint("Go on with it without {near} and {far}. Or begin again with {again}."),
            )
        if not switch:
            raise BadInputError(
                f"A ring-out of {self.record.pull} with other {self.settings.differing(asked)}"
                f" is under way: {self.settings.gear.told}.",
                Hint(
                    "Go on with the gear named now, keeping all that is known, by {switch}; or"
                    " give the same command as then."
                ),
            )
        return self._turned(asked, who)

    def _turned(self, asked: Settings, who: str | None) -> Self:
        if asked.asks_as(self.settings):
            return self
        stored = document(self.settings.turned_to(asked, after=self.record.steps))
        record = procedures.change_settings(self._registry, self.record, stored, who=who)
        return type(self)(self._registry, record)

    def why(self, text: str) -> list[str]:
        """Return, a sentence each, the readings that prove what belongs to a tag or a number."""
        marks = {match.near: match.near_mark for match in self.result().matches if match.near_mark}
        if text.strip().upper() in self.settings.numbers:
            return self.engine.why(text.strip().upper())
        tag = format_tag(tag_of(self._registry, text))
        return self.engine.why(marks.get(tag) or tag)

    def finish(self, who: str | None = None) -> Result:
        """Write the result to the conductors' ends, once, and return it."""
        result = self.result()
        if not self.finished:
            stored = {"step": result.kind, **document(result)}
            on = {(e.name, e.box): e.goes_on_as for e in self.settings.near if e.goes_on_as}
            untold = self.settings.numbers
            stored["matches"] = [one for one in stored["matches"] if one["near"] not in untold]
            for match in stored["matches"]:
                whose = on.get((match["near"], match.get("box")), match["near"])
                match["near"] = parse_tag(whose)
            self.record = procedures.finish(self._registry, self.record, stored, who=who)
        return result

    @cached_property
    def _left_alone(self) -> tuple[str, ...]:
        known = known_between(self._registry, self.settings, self.record.pull)
        return left_alone(self.settings, known)

    def result(self) -> Result:
        """Return what is known now, with what to know of the log itself."""
        found = self.engine.result()
        if self.settings.untagged and not isinstance(self.next_step(), Action):
            found = replace(found, matches=tuple(self.settings.given(found.matches)))
        return replace(
            found,
            notes=(
                *found.notes,
                *self._left_alone,
                *of_log(self.record, self.left_out, self.names),
            ),
        )


def ring_out_cautions() -> tuple[str, ...]:
    """Return what to read before opening boxes and probing."""
    return CONTINUITY.cautions()


def _plain(end: str) -> str:
    """Return an end's name as people may type it, without hyphens."""
    return end.upper().replace("-", "")
