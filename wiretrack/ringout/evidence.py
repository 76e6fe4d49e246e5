# SPDX-License-Identifier: MIT
"""The evidence of a ring-out: what was done and read, folded from the log step by step."""

from __future__ import annotations

from bisect import bisect_left, insort
from copy import copy
from typing import TYPE_CHECKING, TypeVar, cast

from wiretrack.errors import StepError
from wiretrack.ringout.answers import Done, Heard, Live, Ohms, Skipped, Sounded, Volts
from wiretrack.ringout.bundle import PLACES, Bundle, Place, other_place
from wiretrack.ringout.fitted import DiodeStage, ResistorStage
from wiretrack.ringout.masks import bits, mask_of, union
from wiretrack.ringout.ohms import closed_limit, judge, usual_range
from wiretrack.ringout.stage import Stage, Touch
from wiretrack.ringout.steps import Fit, FitDiode, Join, Listen, Probe, Tone, Unjoin, Walk
from wiretrack.ringout.tones import ToneStage

if TYPE_CHECKING:
    from collections.abc import Callable, Collection

    from wiretrack.ringout.action import Action
    from wiretrack.ringout.answers import Answer
    from wiretrack.ringout.fitted import FittedStage
    from wiretrack.ringout.ohms import Range, Verdict

_T = TypeVar("_T")
StageKey = tuple[Place, tuple[int, ...]]


class Evidence:
    """Where the person stands, what is joined, and every touch, sorted into stages.

    A touch is clean when nothing was joined at its own place; only clean closed touches prove
    anything. Touches while resistors are fitted are kept in `fitted`, and those of `spare`
    references, which aren't among the bundle's, in `apart`: nothing follows from them.
    """

    def __init__(self, bundle: Bundle, spare: Collection[str] = ()) -> None:
        self.bundle = bundle
        self.spare = spare
        self.apart: dict[
            StageKey, int
        ] = {}  # per stage, the ends touched against a spare reference
        self.place: Place = bundle.start
        self.joins: dict[Place, tuple[int, ...]] = {"near": (), "far": ()}
        self.fits: dict[Place, Fit | FitDiode | Tone | None] = {"near": None, "far": None}
        self.tones: dict[Tone, ToneStage] = {}
        self.touched_since_join: dict[Place, bool] = {"near": False, "far": False}
        self.walked_since_join: dict[Place, bool] = {"near": False, "far": False}
        self.stages: dict[StageKey, Stage] = {}
        self.fitted: dict[tuple[Fit | FitDiode, tuple[int, ...]], FittedStage] = {}
        self.lenient = False  # take joins at either place, as made with a helper before
        self.count = self.walks = self.probes = self.join_steps = 0
        self.hands = 0  # ends twisted on or taken out
        self._limit_ohm = closed_limit(bundle)
        self._closed_ohm: list[float] = []  # all closed readings, lowest first
        self._memory: dict[object, tuple[object, object]] = {}
        # What was remembered of the evidence before a stage.
        self._earlier: dict[StageKey, dict[object, tuple[object, object]]] = {}

    def stage(self, at: Place) -> Stage:
        """Return the stage that a clean touch at `at` would belong to now."""
        key = (at, self.joins[other_place(at)])
        if key not in self.stages:
            self.stages[key] = Stage(at, len(self.bundle.names(at)), key[1], self.bundle.absent[at])
        return self.stages[key]

    def bare(self, at: Place) -> Stage | None:
        """Return the touches made with nothing joined at the other place, if any."""
        return self.stages.get((at, ()))

    def before(self, stage: Stage) -> Evidence:
        """Return the evidence without a stage, and without what was joined after it."""
        earlier, stages = copy(self), list(self.stages.items())
        after = [one for _, one in stages].index(stage)
        earlier.stages = {
            key: one for number, (key, one) in enumerate(stages) if number < after or one.is_bare
        }
        earlier._memory = self._earlier.setdefault((stage.at, stage.groups), {})
        return earlier

    def fitted_stage(self, fit: Fit | FitDiode) -> FittedStage:
        """Return the stage of touches made here while `fit` is in force at the other place."""
        if isinstance(fit, FitDiode):
            return self.diode_stage(fit)
        groups = self.joins[other_place(self.place)]
        if (fit, groups) not in self.fitted:
            self.fitted[fit, groups] = ResistorStage(self.bundle, self.place, fit, groups)
        return self.fitted[fit, groups]

    def diode_stage(self, fit: FitDiode) -> DiodeStage:
        """Return the stage of all touches made while a diode is in force."""
        stage = self.fitted.get((fit, ()))
        if not isinstance(stage, DiodeStage):
            self.fitted[fit, ()] = stage = DiodeStage(self.bundle, fit)
        return stage

    def apply(self, step: Action, answer: Answer) -> None:
        """Take in one step that was carried out, and its answer.

        Raises
        ------
        StepError
            If the step can't have been carried out where and when it was.
        """
        if not isinstance(answer, Skipped | Live):
            wanted = Heard if isinstance(step, Listen) else Done
            if not step.is_touch and not isinstance(answer, wanted):
                raise StepError("The answer is of another step", f"Write it like {step.like}")
            self._carry_out(step, answer)
        self.count += 1

    def _carry_out(self, step: Action, answer: Answer) -> None:
        match step:
            case Walk():
                self._walk(step)
            case Join():
                self._join(step)
            case Unjoin():
                self._unjoin(step)
            case Fit():
                self._fit_resistors(step)
            case FitDiode():
                self._fit_diode(step)
            case Probe():
                self._probe(step, answer)
            case Tone():
                self._put_tone(step)
            case Listen():
                self._listen(step, answer)

    def _reach(self, at: Place) -> None:
        if self.bundle.crew == 1 and not self.lenient and at != self.place:
            box = self.bundle.box
            raise StepError(f"You are in {box(self.place)}, not in {box(at)}", "Walk first")

    def _meter_is(self, at: Place) -> None:
        if at != self.place:
            box = self.bundle.box
            raise StepError(f"The meter is in {box(self.place)}", f"Walk to {box(at)}")

    def _walk(self, step: Walk) -> None:
        if step.to == self.place:
            box = self.bundle.box(step.to)
            raise StepError(f"You are in {box} already", "No walk is needed")
        self.place = step.to
        self.walks += 1
        for place in PLACES:
            self.walked_since_join[place] = True

    def _join(self, step: Join) -> None:
        self._reach(step.at)
        self._check_free(step.at)
        groups: list[int] = []
        for names in step.groups:
            mask = mask_of(self.bundle.index(step.at, name) for name in names)
            if len(names) < 2 or mask.bit_count() != len(names):
                raise StepError(f"A join holds {', '.join(names)}", "It takes two different ends")
            if any(mask & group for group in groups):
                raise StepError(
                    f"An end of {', '.join(names)} is in two twists", "Make one of them"
                )
            groups.append(mask)
        if not groups:
            raise StepError("The join step holds no group", "Name at least two ends to join")
        self.joins[step.at] = tuple(sorted(groups))
        self.hands += union(groups).bit_count()
        self._begin_join(step.at)

    def _unjoin(self, step: Unjoin) -> None:
        self._reach(step.at)
        out = mask_of(self.bundle.index(step.at, name) for name in step.ends)
        if not out:
            self.hands += union(self.joins[step.at]).bit_count()
            self.joins[step.at], self.fits[step.at] = (), None
            return
        self.hands += out.bit_count()
        if out & ~union(self.joins[step.at]):
            raise StepError(
                f"Not all of {', '.join(step.ends)} are connected in {self.bundle.box(step.at)}",
                "Name ends that are in a twist",
            )
        left = (group & ~out for group in self.joins[step.at])
        self.joins[step.at] = tuple(sorted(group for group in left if group & group - 1))

    def _fit_resistors(self, step: Fit) -> None:
        self._reach(step.at)
        if self.fits[step.at]:
            box = self.bundle.box(step.at)
            raise StepError(f"Resistors are fitted in {box}", "Disconnect them first")
        ends = [self.bundle.index(step.at, one.end) for one in step.resistors]
        common = self.bundle.index(step.at, step.common)
        if not ends or len(set(ends)) != len(ends) or common in ends:
            raise StepError(
                "A resistor is fitted twice to one end, or to the common return itself",
                "Fit one resistor from each end to the common return",
            )
        if any(not one.ohms > 0 for one in step.resistors):
            raise StepError(
                "A resistor of 0 ohm or less is fitted", "Twist the ends together instead"
            )
        self.fits[step.at] = step
        self.hands += len(ends) + 1
        self._begin_join(step.at)

    def _fit_diode(self, step: FitDiode) -> None:
        self._reach(step.at)
        self._check_free(step.at)
        ends = [self.bundle.index(step.at, name) for name in (step.diode.cathode, step.diode.anode)]
        if ends[0] == ends[1]:
            what = f"Both leads of the diode are on {step.diode.cathode}"
            raise StepError(what, "Put it over two different ends")
        self.fits[step.at] = step
        self._begin_join(step.at)

    def _put_tone(self, step: Tone) -> None:
        self._reach(step.at)
        self._check_free(step.at)
        self.bundle.index(step.at, step.end)
        self.fits[step.at] = step
        self._begin_join(step.at)

    def _listen(self, step: Listen, answer: Answer) -> None:
        tone = self.fits[other_place(step.at)]
        if not isinstance(tone, Tone) or not isinstance(answer, Heard):
            box = self.bundle.box(other_place(step.at))
            raise StepError(f"No tone generator is on in {box}", "Put it on first")
        self._meter_is(step.at)
        self.touched_since_join[step.at] = True
        self.tone_stage(tone).hear(self.bundle.index(step.at, step.end), answer.heard)

    def tone_stage(self, tone: Tone) -> ToneStage:
        """Return what was heard while a tone was on an end."""
        return self.tones.setdefault(tone, ToneStage(self.bundle, tone))

    def _check_free(self, at: Place) -> None:
        if self.joins[at] or self.fits[at]:
            what = f"Something is connected in {self.bundle.box(at)} already"
            raise StepError(what, "Disconnect it first")

    def _begin_join(self, at: Place) -> None:
        self.join_steps += 1
        self.touched_since_join[at] = self.walked_since_join[at] = False

    def _probe(self, step: Probe, answer: Answer) -> None:
        if isinstance(answer, Done):
            raise StepError("The touch has no reading", "Answer ohms, or OL")
        self._meter_is(step.at)
        if any(name in self.spare for name in step.between):
            self._touch_apart(step)
            return
        first, second = (self.bundle.index(step.at, name) for name in step.between)
        if first == second:
            raise StepError(f"Both leads are on {step.between[0]}", "Touch two different ends")
        self.probes += 1
        self.touched_since_join[step.at] = True
        own = self.joins[step.at]
        plus = None if step.plus is None else self.bundle.index(step.at, step.plus)
        volts = answer.volts if isinstance(answer, Volts) else None
        read = self.read(answer)
        touch = Touch(self.count, step.at, (first, second), own, *read, plus, volts)
        fit, here = self.fits[other_place(touch.at)], self.fits[touch.at]
        if isinstance(fit, Tone) or isinstance(here, Tone):
            return  # a generator's low resistance may read as anything
        if fit is None and here is None:
            self.stage(touch.at).add(touch)
            if touch.verdict == "closed" and touch.ohms is not None:
                insort(self._closed_ohm, touch.ohms)
        elif here is None and fit is not None and not touch.own:
            self.fitted_stage(fit).add(touch)
        elif isinstance(here, FitDiode) and fit is None:
            self.diode_stage(here).add_check(touch)

    def _touch_apart(self, step: Probe) -> None:
        ends = (name for name in step.between if name not in self.spare)
        key = (step.at, self.joins[other_place(step.at)])
        touched = mask_of(self.bundle.index(step.at, name) for name in ends)
        self.apart[key] = self.apart.get(key, 0) | touched
        self.probes += 1

    def read(self, answer: Answer) -> tuple[Verdict, float | None]:
        """Return what an answer says about the path, and the ohms where they were read."""
        if isinstance(answer, Sounded):
            return ("closed" if answer.closed else "open"), None
        if isinstance(answer, Volts):
            return ("open" if answer.volts is None else "closed"), None
        ohms = answer.ohms if isinstance(answer, Ohms) else None
        return judge(ohms, self._limit_ohm), ohms

    def usual_path(self, touch: Touch) -> Range | None:
        """Return what most paths but that of a touch have, and it can have; see `usual_range`."""
        told = self.remember("usual", len(self._closed_ohm), dict[float | None, "Range | None"])
        if touch.ohms not in told:
            at = bisect_left(self._closed_ohm, touch.ohms or 0.0)
            told[touch.ohms] = usual_range(self._closed_ohm[:at] + self._closed_ohm[at + 1 :])
        return told[touch.ohms]

    def remember(self, key: object, state: object, make: Callable[[], _T]) -> _T:
        """Return what `make` returned for this `key` in the same `state`; forget older ones."""
        kept = self._memory.get(key)
        if kept is None or kept[0] != state:
            kept = (state, make())
            self._memory[key] = kept
        return cast("_T", kept[1])

    def names(self, at: Place, mask: int) -> tuple[str, ...]:
        """Return the names of the ends in `mask` at a place, as far as they are there."""
        known = self.bundle.names(at)
        return tuple(known[end] for end in bits(mask & ~self.bundle.absent[at]))
