# SPDX-License-Identifier: MIT
"""A ring-out as several people see it at once: its state, and answers that can't cross."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import lru_cache
from typing import TYPE_CHECKING, Any, ClassVar

from wiretrack.encoding import INLINE
from wiretrack.errors import BadInputError, ChangedMeanwhileError, FieldError
from wiretrack.procedure import RINGOUT
from wiretrack.ringout.bundle import PLACES
from wiretrack.ringout.forecast import Method, forecast, in_one_tour
from wiretrack.ringout.parsing import parse_step
from wiretrack.ringout.prompts import Aloud
from wiretrack.ringout.results import Result
from wiretrack.store import procedures
from wiretrack.store.searching import resolve
from wiretrack.tasks.identify.request import Wanted, conductors_of, field_at_fault
from wiretrack.tasks.identify.ringing import Ringing
from wiretrack.tasks.identify.settings import CHECK

if TYPE_CHECKING:
    from collections.abc import Mapping

    from wiretrack.procedure import Answered
    from wiretrack.ringout.action import Action
    from wiretrack.ringout.bundle import FarEnd, NearEnd, Place
    from wiretrack.ringout.prompts import Names
    from wiretrack.ringout.questions import Contradiction
    from wiretrack.ringout.results import Guidance
    from wiretrack.store.store import Registry
    from wiretrack.tasks.identify.remarks import SlipFound
    from wiretrack.tasks.identify.settings import GearAsked


@dataclass(frozen=True, kw_only=True)
class DoneStep:
    """A step that was carried out: what was to be done, what was answered, by whom."""

    number: int
    kind: str
    told: str
    lines: tuple[str, ...]
    answer: str
    at: str
    by: str | None
    superseded: int
    is_touch: bool = field(metadata={"json": None})
    can_be_corrected: bool = field(metadata={"json": None})


@dataclass(frozen=True)
class Effort:
    """How many touches, joins and walks, and about how long they take."""

    probes: int
    joins: int
    walks: int
    minutes: int


@dataclass(frozen=True)
class RingoutLog:
    """All that was done in a ring-out; `version` is the id of its next step."""

    pull: str
    version: str
    log: tuple[DoneStep, ...]


@dataclass(frozen=True, kw_only=True)
class RingoutState:
    """All that a person at either box needs to see now.

    `version` is the id of the next step, `step` the step itself; `left` is about what is still
    to be done. `ends` says in words what is known of each end, `held` which ends are held together
    at each box.
    """

    ALSO: ClassVar[tuple[str, ...]] = ("kind", "diode", "polar", "over")

    version: str
    pull: str
    near: str
    far: str
    finished: bool
    number: int
    step: Action | None = field(metadata={"json": None})
    told: str | None
    aloud: str | None
    place: str | None
    lines: tuple[str, ...]
    hints: tuple[str, ...]
    guidance: Guidance = field(metadata={"json": INLINE})
    left: Effort | None
    last: DoneStep | None
    gear: GearAsked
    gear_told: str
    gear_used: tuple[str, ...]
    references: tuple[str, ...]
    marks: tuple[FarEnd, ...]
    numbers: tuple[NearEnd, ...] = field(metadata={"json": None})
    ends: Mapping[str, str]
    colours: Mapping[str, str | None] = field(metadata={"json": None})
    held: Mapping[Place, tuple[tuple[str, ...], ...]]
    all_ends: Mapping[Place, tuple[str, ...]] = field(metadata={"json": None})
    result: Result = field(metadata={"json": INLINE})
    can_be_checked: bool = field(metadata={"json": None})
    slips: tuple[SlipFound, ...] = field(metadata={"blank": None})

    @property
    def over(self) -> bool:
        """Whether nothing more is asked."""
        return self.step is None

    @property
    def kind(self) -> str:
        """The word for the next step."""
        return self.step.kind if self.step else "result"

    @property
    def diode(self) -> bool:
        """Whether a diode is to be put on."""
        return self.step is not None and self.step.is_diode

    @property
    def polar(self) -> bool:
        """Whether it counts which lead goes where."""
        return self.step is not None and self.step.prompt.shape == "polar"

    @property
    def heading(self) -> str:
        """The next step in the fewest words."""
        return self.step.prompt.title.format(place=self.place) if self.step else ""


@dataclass(frozen=True, kw_only=True)
class RingoutStatus(RingoutState):
    """How a ring-out stands; `candidates` are the far ends that each open tag may be."""

    ALSO = (*RingoutState.ALSO, "next")

    steps: int
    candidates: Mapping[str, tuple[str, ...]]
    contradictions: tuple[Contradiction, ...]

    @property
    def next(self) -> str | None:
        """The next step in a sentence."""
        return self.told


def version_of(registry: Registry, pull: str) -> str | None:
    """Return the id of the step that stands in the latest ring-out of a pull.

    It changes with every answer and with the gear; `None` if no ring-out was begun.
    """
    code = resolve(registry, pull, ("pull",)).code
    return procedures.version_now(registry, RINGOUT, pull=code)


def state(registry: Registry, pull: str) -> RingoutState:
    """Return all that a person at either box needs to see now."""
    return state_of(Ringing.latest(registry, pull))


def begin(registry: Registry, wanted: Wanted) -> RingoutState:
    """Begin a ring-out, or go on with the same one, and return its state."""
    try:
        Ringing.begin(registry, wanted)
    except BadInputError as error:
        raise FieldError(field_at_fault(registry, wanted), error) from error
    return state(registry, wanted.pull)


def answer(
    registry: Registry, pull: str, seen: str, typed: str, who: str | None = None
) -> RingoutState:
    """Store the answer to the step that `seen` is the version of, and return the new state.

    The last answer writes the result to the conductors' ends. `ChangedMeanwhileError` if somebody
    answered since then; `BadInputError` if the answer can't be understood.
    """
    ringing = _as_seen(registry, pull, seen)
    step = ringing.next_step()
    with registry.write(who):
        if not isinstance(step, Result):
            ringing.answer_typed(step, typed, who=who)
        _finish_if_over(ringing, who)
    return state(registry, pull)


def _finish_if_over(ringing: Ringing, who: str | None) -> None:
    if isinstance(ringing.next_step(), Result):
        ringing.finish(who)


def correct(
    registry: Registry, pull: str, seen: str, number: int, typed: str, who: str | None = None
) -> RingoutState:
    """Supersede the answer to touch `number`, as far as nobody answered since `seen`."""
    ringing = _as_seen(registry, pull, seen)
    with registry.write(who):
        _finish_if_over(ringing.correct(number, typed, who=who), who)
    return state(registry, pull)


def undo(
    registry: Registry, pull: str, seen: str, number: int | None = None, who: str | None = None
) -> RingoutState:
    """Take a step back, the last one unless told, as far as nobody answered since `seen`."""
    _as_seen(registry, pull, seen).undo(number, who=who)
    return state(registry, pull)


def switch(
    registry: Registry, pull: str, said: Mapping[str, Any], seen: str, who: str | None = None
) -> RingoutState:
    """Go on with other gear, references or colours, as far as nobody answered since `seen`."""
    _as_seen(registry, pull, seen).switch(said, who=who)
    return state(registry, pull)


def check(registry: Registry, pull: str, seen: str, who: str | None = None) -> RingoutState:
    """Go on with a finished ring-out to check its matches, as far as nobody answered since `seen`.

    It is open again until that is done.
    """
    return switch(registry, pull, CHECK, seen, who)


def log(registry: Registry, pull: str) -> RingoutLog:
    """Return all that was done and answered in a ring-out so far, in order."""
    ringing = Ringing.latest(registry, pull)
    steps = tuple(_done(ringing, stored) for stored in ringing.record.answers)
    return RingoutLog(ringing.record.pull, ringing.step_id, steps)


def _as_seen(registry: Registry, pull: str, seen: str) -> Ringing:
    """Return the ring-out at the step that a page showed; what is stored is checked again then."""
    ringing = Ringing.latest(registry, pull)
    if seen != ringing.step_id:
        raise ChangedMeanwhileError("The ring-out")
    return ringing


def status(ringing: Ringing) -> RingoutStatus:
    """Return how a ring-out stands: its state, what is open and what contradicts."""
    engine = ringing.engine
    return RingoutStatus(
        **vars(state_of(ringing)),
        steps=len(engine.log),
        candidates=engine.candidates(),
        contradictions=engine.contradictions(),
    )


def state_of(ringing: Ringing) -> RingoutState:
    """Return all that a person at either box needs to see now."""
    asked, names, found = ringing.next_step(), ringing.names_now, ringing.result()
    step = None if ringing.finished or isinstance(asked, Result) else asked
    settings, answers = ringing.settings, ringing.record.answers
    here = [end.name for end in settings.far if not (step and step.box) or end.box == step.box]
    return RingoutState(
        version=ringing.step_id,
        pull=ringing.record.pull,
        near=ringing.record.near,
        far=settings.far_boxes,
        finished=ringing.finished,
        number=len(answers) + 1,
        step=step,
        told=step.told(names) if step else None,
        aloud=_aloud(step, names) if step else None,
        place=step.where(names) if step else None,
        lines=tuple(step.lines(names.full)) if step else (),
        hints=step.hints(helped=settings.gear.crew == 2) if step else (),
        guidance=ringing.guidance,
        left=left(ringing) if step else None,
        last=_done(ringing, answers[-1]) if answers else None,
        gear=settings.gear.asked,
        gear_told=settings.gear.told,
        gear_used=tuple(settings.gear_used),
        references=settings.references,
        marks=settings.far,
        numbers=tuple(settings.numbers.values()),
        ends=names.known,
        colours={
            **{end.name: end.colour for end in (*settings.near, *settings.untagged)},
            **{end.name: end.colour for end in settings.far},
        },
        held={place: ringing.engine.held(place) for place in PLACES},
        all_ends={
            "near": (*(end.name for end in settings.near), *settings.references),
            "far": (*here, *settings.references),
        },
        result=found,
        can_be_checked=ringing.can_be_checked,
        slips=ringing.slips,
    )


def _aloud(step: Action, names: Names) -> str:
    said = Aloud(names.boxes, names.known)
    lines = step.lines(said.end) if step.has_lines else ()
    return ". ".join((step.told(said), *lines)).replace(" + ", " and ")


def left(ringing: Ringing) -> Effort:
    """Return about what is still to be done, if the bundle is sound."""
    each, times = map(_expected, ringing.settings.bundles.values()), ringing.settings.times
    whole = in_one_tour([[Method("", "", "", one)] for one in each])[0].forecast
    expected = whole.expected, whole.joins, whole.walks, whole.hands
    probes, joins, walks, hands = (
        max(round(one - done), 0) for one, done in zip(expected, ringing.engine.effort, strict=True)
    )
    return Effort(probes, joins, walks, minutes=round(times.of(walks, hands, probes) / 60))


_expected = lru_cache(maxsize=64)(forecast)


def _done(ringing: Ringing, stored: Answered) -> DoneStep:
    step = parse_step(stored.step)
    return DoneStep(
        number=stored.number,
        kind=step.kind,
        told=step.told(ringing.names),
        lines=tuple(step.lines(ringing.names.full)) if step.has_lines else (),
        answer=step.parse(stored.answer).said,
        at=stored.at,
        by=stored.by,
        superseded=stored.superseded,
        is_touch=step.is_touch,
        can_be_corrected=step.can_be_corrected,
    )


def boxes_of(registry: Registry, pull: str) -> list[str]:
    """Return the boxes in which conductors of a pull end, those that have tags there first."""
    found = conductors_of(registry, resolve(registry, pull, ("pull",)).code)
    ends = [c.from_end for c in found] + [c.to_end for c in found]
    return list(dict.fromkeys(end.enclosure for end in ends))
