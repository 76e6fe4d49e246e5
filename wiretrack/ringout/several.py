# SPDX-License-Identifier: MIT
"""A ring-out whose far ends lie in several boxes: one tour, and for each box what follows there.

A near end is known to lead into one of the boxes, so each box is a bundle of its own. They share
the near box, whoever walks, and the way: what is next in the same box is done first, for all
bundles; then one walks on to the next box, and back once no other box is waiting.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import fields, replace
from itertools import chain
from typing import TYPE_CHECKING, Any

from wiretrack.ringout.action import Action
from wiretrack.ringout.bundle import RACEWAY
from wiretrack.ringout.engine import Ringout
from wiretrack.ringout.results import Extra, Result
from wiretrack.ringout.steps import Probe, ProveDead, Unjoin, Walk

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from wiretrack.ringout.answers import Answer
    from wiretrack.ringout.bundle import Bundle, Place
    from wiretrack.ringout.questions import Contradiction
    from wiretrack.ringout.results import Guidance, Step
    from wiretrack.ringout.slips import Slip

NOT_SEARCHED = "Wires to different boxes were not searched for contacts with each other."


class SeveralBoxes:
    """A ring-out under way between one near box and several far ones; as `Ringout` is of two.

    Each step names the far box that it is for.
    """

    def __init__(self, bundles: Mapping[str, Bundle]) -> None:
        self.parts = {box: Ringout(bundle) for box, bundle in bundles.items()}
        first, *_ = bundles.values()
        self._helped = first.crew == 2
        self.here = next(iter(bundles)) if first.start == "far" else ""  # "" is the near box
        self.walks = 0
        self.log: list[tuple[Action, Answer]] = []

    def next_step(self) -> Step:
        """Return what to do next, in the box that one is in if anything is left to do there."""
        asked = {box: part.next_step() for box, part in self.parts.items()}
        steps = {box: step for box, step in asked.items() if isinstance(step, Action)}
        for box, step in steps.items():
            if isinstance(step, ProveDead):
                return replace(step, box=box)
        for box, step in steps.items():
            if not isinstance(step, Walk) and self._can_do(box, step):
                return self._named(box, step)
        if not steps:
            return self.result()
        return self._walk({box: _where(box, step) for box, step in steps.items()})

    def _can_do(self, box: str, step: Action) -> bool:
        return _where(box, step) == self.here or (self._helped and not _with_meter(step))

    def _named(self, box: str, step: Action) -> Action:
        """Return a step with its box; of the joins in the near box only this bundle's come off."""
        if isinstance(step, Unjoin) and step.at == "near" and not step.ends:
            others = chain.from_iterable(
                part.held("near") for other, part in self.parts.items() if other != box
            )
            if any(others):
                step = replace(step, ends=tuple(self._own(box)))
        return replace(step, box=box)

    def _own(self, box: str) -> Iterator[str]:
        """Yield the ends that one bundle holds together in the near box, without the raceway."""
        for end in chain.from_iterable(self.parts[box].held("near")):
            if end != RACEWAY:
                yield end

    def _walk(self, wanted: Mapping[str, str]) -> Walk:
        """Return the walk on to the next far box where something is to do, or back."""
        order = list(self.parts)
        after = order[order.index(self.here) + 1 :] if self.here else order
        for box in (*after, *order):
            if wanted.get(box) == box != self.here:
                return Walk("far", box=box)
        return Walk("near", box=next(iter(wanted)))

    def apply(self, step: Step, answer: Answer | Mapping[str, Any]) -> None:
        """Take in a step that was carried out, and its answer.

        Raises
        ------
        StepError
            If the step can't have been carried out now, or the answer isn't one to it.
        """
        if isinstance(step, Result):
            step.parse(answer)
        checked = step.parse(answer) if isinstance(answer, Mapping) else answer
        part = self.parts.get(step.box or "") or next(iter(self.parts.values()))
        if isinstance(step, Walk):
            for one in self.parts.values() if step.to == "near" else (part,):
                if one.evidence.place != step.to:
                    one.retake(Walk(step.to), checked)
            self.here = step.box or "" if step.to == "far" else ""
            self.walks += 1
        else:
            part.retake(self._of_part(step), checked)
        self.log.append((step, checked))

    retake = apply

    def _of_part(self, step: Action) -> Action:
        """Return a step as the bundle that it is for asked for it; see `_named`."""
        own = {*self._own(step.box)} if step.box else set()
        if isinstance(step, Unjoin) and step.at == "near" and own and own == {*step.ends}:
            return Unjoin("near")
        return replace(step, box=None)

    def guidance(self, boxes: Mapping[str, str]) -> Guidance:
        """Return what the next step is for, and how far along all is; `boxes` names the places."""
        step = self.next_step()
        box = (step.box if isinstance(step, Action) else None) or next(iter(self.parts))
        told = self.parts[box].guidance({**boxes, "far": box})
        of = sum(part.bundle.most_matches for part in self.parts.values())
        return replace(told, known=len(self.matched), of=of)

    @property
    def matched(self) -> dict[str, str]:
        """The near ends that are matched, each with its far end."""
        return {n: f for part in self.parts.values() for n, f in part.matched.items()}

    @property
    def can_be_checked(self) -> bool:
        """Whether all is done, and matches could be checked once more."""
        is_over = isinstance(self.next_step(), Result)
        return is_over and any(part.can_be_checked for part in self.parts.values())

    @property
    def effort(self) -> tuple[int, int, int, int]:
        """How many touches, joins, walks, and ends twisted on or taken out, so far."""
        each = [part.effort for part in self.parts.values()]
        probes, joins, _, hands = map(sum, zip(*each, strict=True))
        return probes, joins, self.walks, hands

    def held(self, place: Place) -> tuple[tuple[str, ...], ...]:
        """Return the ends that are held together at a place now, group by group."""
        return tuple(chain.from_iterable(part.held(place) for part in self.parts.values()))

    def result(self) -> Result:
        """Return what is known now of all boxes, as the last step of the protocol."""
        found = {box: part.result() for box, part in self.parts.items()}
        named = [
            replace(
                one,
                matches=tuple(replace(match, box=box) for match in one.matches),
                likely=tuple(replace(match, box=box) for match in one.likely),
            )
            for box, one in found.items()
        ]
        added = {
            field.name: _added([getattr(one, field.name) for one in named])
            for field in fields(Result)
        }
        notes = tuple(dict.fromkeys((*added["notes"], NOT_SEARCHED)))
        return Result(**{**added, "walks": self.walks, "notes": notes})

    def why(self, tag: str) -> list[str]:
        """Return, in plain words, the readings that prove what belongs to `tag`."""
        parts = list(self.parts.values())
        own = (one for one in parts if tag in one.bundle.names("near"))
        return next(own, parts[0]).why(tag)

    def contradictions(self) -> tuple[Contradiction, ...]:
        """Return the smallest sets of readings that can't all be true."""
        return tuple(chain.from_iterable(one.contradictions() for one in self.parts.values()))

    def slips(self) -> Sequence[Slip]:
        """Return the slips that would explain readings that contradict."""
        return [slip for part in self.parts.values() for slip in part.slips()]

    def candidates(self) -> dict[str, tuple[str, ...]]:
        """Return, for each near end not identified yet, the far ends it may belong to."""
        return {n: far for part in self.parts.values() for n, far in part.candidates().items()}


def _where(box: str, step: Action) -> str:
    return "" if step.place == "near" else box


def _with_meter(step: Action) -> bool:
    return isinstance(step, Probe | Walk | ProveDead) or step.kind == "listen"


def _added(values: list[Any]) -> Any:
    if isinstance(values[0], Extra):
        return Extra(
            *(_added([getattr(one, place) for one in values]) for place in ("near", "far"))
        )
    return sum(values) if isinstance(values[0], int) else tuple(chain.from_iterable(values))


def tour(walks: list[int]) -> int:
    """Return how many walks all boxes take in one tour, where each alone takes so many.

    Odd walks lead to the boxes, one after the other; even ones back, once for all.

    >>> tour([2, 2]), tour([1, 1]), tour([2, 0])
    (3, 2, 2)
    """
    return sum(
        sum(one >= number for one in walks) if number % 2 else 1
        for number in range(1, max(walks, default=0) + 1)
    )
