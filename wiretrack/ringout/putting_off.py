# SPDX-License-Identifier: MIT
"""What to do next where touches can't be made: others first, those again before one leaves."""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING

from wiretrack.ringout.answers import Live, Ohms, Skipped
from wiretrack.ringout.bundle import other_place
from wiretrack.ringout.facts import Facts
from wiretrack.ringout.planner import Planner
from wiretrack.ringout.probing import SEARCH_TOUCHES
from wiretrack.ringout.steps import Probe

if TYPE_CHECKING:
    from collections.abc import Sequence

    from wiretrack.ringout.action import Action
    from wiretrack.ringout.answers import Answer
    from wiretrack.ringout.bundle import Bundle

TIMES_ASKED = 2  # a touch that was put off so often, with the same joins, isn't asked for again


def planned(bundle: Bundle, log: Sequence[tuple[Action, Answer]]) -> Action | None:
    """Return the next step, `None` if nothing more can be found out.

    The plan is that of a bundle where each touch that was put off read open, or as it did
    before: so others come first. Nothing is concluded from that. Once the plan would go on to
    something else, what was put off once counts as untouched, and is asked for if it matters.
    """
    put_off = _PutOff(bundle, log)
    action = put_off.plan(often=1)
    return action if isinstance(action, Probe) else put_off.plan(often=TIMES_ASKED)


class _PutOff:
    """How often each touch was put off since it was last made, with the joins that held then."""

    def __init__(self, bundle: Bundle, log: Sequence[tuple[Action, Answer]]) -> None:
        self._bundle, self._log = bundle, log
        self._times: Counter[object] = Counter()
        self._real = self._facts(often=None)

    def plan(self, often: int) -> Action | None:
        """Return the plan where what was put off here `often` times counts as touched."""
        return Planner(self._facts(often)).next_action()

    def _facts(self, often: int | None) -> Facts:
        """Return the facts with what was put off imagined as touched; with `None`, without it."""
        facts = Facts(self._bundle)
        facts.lenient = True
        last: dict[object, Answer] = {}
        for step, answer in self._log:
            if isinstance(answer, Live) or not isinstance(step, Probe):
                facts.apply(step, answer)
                continue
            key = _key(facts, step)
            if not isinstance(answer, Skipped):
                facts.apply(step, answer)
                last[key] = answer
                if often is None:
                    del self._times[key]
            elif often is None:
                self._times[key] += 1
                facts.apply(step, answer)
            elif self._times[key] >= often or key[0] != _key(self._real, step)[0]:
                for _ in range(1 if key in last else SEARCH_TOUCHES):
                    facts.apply(step, last.get(key, Ohms(None)))
        facts.lenient = False
        return facts


def _key(facts: Facts, touch: Probe) -> tuple[object, object]:
    """Return the stage that a touch belongs to, and which of its touches it is."""
    there = other_place(touch.at)
    stage = (touch.at, facts.joins[there], facts.fits[there])
    return stage, (facts.joins[touch.at], frozenset(touch.between), touch.plus)
