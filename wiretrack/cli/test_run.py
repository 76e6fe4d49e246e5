# SPDX-License-Identifier: MIT
"""``test run``: the readings that a circuit owes, one at a time, each judged at once."""

from __future__ import annotations

from dataclasses import field
from functools import partial
from typing import TYPE_CHECKING

from wiretrack.cli.asking import StoppedError, ask, confirm
from wiretrack.cli.output import OUTCOME_STYLES, cautions, counted, heading, indented, say
from wiretrack.electrical.cautions import once
from wiretrack.errors import BadInputError
from wiretrack.late import dataclass
from wiretrack.readings import kind_of
from wiretrack.tasks.test.plan import instrument_codes
from wiretrack.tasks.test.visit import Visit, cautions_before, next_reading, take

if TYPE_CHECKING:
    from collections.abc import Iterable

    from wiretrack.library import OpenSite
    from wiretrack.tasks.test.testing import Logged
    from wiretrack.tasks.test.visit import Key, Measuring

SKIP, CORRECT, METER, QUIT, HELP = "s", "c", "m", "q", "h"
HELP_LINES = (
    "A value: 0.42, 420m, 2.2M, >2000M, OL. A bare number is in the unit asked for.",
    "s skip: it stays due. c correct: the last value again.",
    "m meter: other instrument, leads or temperature. - says unknown.",
    "q quit: all values are kept. The same command goes on.",
)
KEYS = "s skip · c correct last · m meter · q quit · h help"
SAID = {
    "by": "Who measures",
    "instrument": "Instrument",
    "leads": "Resistance of the leads",
    "temp": "Temperature of the wire",
    "cell_temp": "Temperature of the cells",
}


@dataclass
class Run:
    """A person at a terminal who works down what a circuit owes."""

    site: OpenSite
    circuit: str
    visit: Visit
    aside: set[Key] = field(default_factory=set)
    taken: list[tuple[Measuring, Logged]] = field(default_factory=list)
    kind: str = ""

    def go(self) -> None:
        """Lead through all of it; leaving is no error, whatever was measured is kept."""
        try:
            while step := next_reading(self.site.registry, self.circuit, self.aside):
                kind = step.step.kind
                asked = [name for name in step.stated if not self.visit.knows(name, kind)]
                ask_stated(self.site, self.visit, kind, asked)
                self._measure(step)
        except StoppedError:
            say("Stopped. All values are kept.")
        self._sum_up()

    def _measure(self, step: Measuring) -> None:
        """Take one reading, or put it aside."""
        kind = step.step.kind
        if kind != self.kind:
            say(kind_of(kind).caution, style="yellow")
            self.kind = kind
        _tell(step)
        while True:
            answer = ask(step.unit, partial(self._typed, step))
            if answer == QUIT:
                raise StoppedError
            if answer == METER:
                ask_stated(self.site, self.visit, kind, step.stated)
                _tell(step)
            elif answer == CORRECT:
                self._correct()
                _tell(step)  # which wire is asked for now, after the other one
            elif answer == HELP:
                indented(*HELP_LINES)
            else:
                self.aside.add(step.key)
                return

    def _typed(self, step: Measuring, text: str) -> str:
        """Return the key that was typed; store a value."""
        word = text.lower()
        if word in (SKIP, METER, QUIT, HELP, "?"):
            return HELP if word == "?" else word
        if word == CORRECT:
            if not self.taken:
                raise BadInputError("No value was typed yet. There is nothing to correct.")
            return CORRECT
        self.taken.append((step, self._stored(step, text)))
        return ""

    def _stored(self, step: Measuring, text: str, supersedes: str = "") -> Logged:
        found = take(self.visit, step, text, who=self.site.who, supersedes=supersedes)
        verdict = found.verdict
        say(f"{verdict.outcome.upper()}: {verdict.reason}", style=OUTCOME_STYLES[verdict.outcome])
        if verdict.outcome == "fail":
            say("Typed wrong? c corrects it.", style="dim")
        return found

    def _correct(self) -> None:
        """Ask for the last value again, and let the new reading supersede it."""
        step, wrong = self.taken[-1]
        say(f"Again, {step.step.kind} of {step.step.subject}:")
        indented(step.connect)
        right = ask(step.unit, lambda text: self._stored(step, text, wrong.id))
        self.taken[-1] = step, right

    def _sum_up(self) -> None:
        outcomes = [found.verdict.outcome for _, found in self.taken]
        failed = f", {outcomes.count('fail')} failed" if "fail" in outcomes else ""
        doubt = f", {outcomes.count('doubt')} in doubt" if "doubt" in outcomes else ""
        say(f"{self.circuit}: {counted(len(outcomes), 'reading')} taken{failed}{doubt}.")


def _tell(step: Measuring) -> None:
    heading(f"{step.step.kind}, {step.step.subject}", f"{step.left} to do")
    indented(step.connect)
    if step.expect:
        indented(f"Expect {step.expect}.")


def ask_stated(
    site: OpenSite, visit: Visit, kind: str, names: Iterable[str]
) -> dict[str, str | None]:
    """Ask what is stated with readings of a kind; what was said last is offered, on any day."""
    said: dict[str, str | None] = {}
    known = dict(instrument_codes(site.registry))
    for name in names:
        question = SAID[name] + (f" for {kind}" if name == "instrument" else "")
        choices = [*known] if name == "instrument" else ()
        default = visit.default(name, kind) or (site.who or "" if name == "by" else "")
        if choices and not default:
            few = ", ".join(f"{code} ({what})" if what else code for code, what in known.items())
            say(f"Instruments: {few}. Enter alone: unknown.", style="dim")
        text = ask(question, partial(visit.say, name, kind), default, choices)
        said[name] = visit.say(name, kind, text) or None
    return said


def run_tests(site: OpenSite, circuit: str) -> None:
    """Lead a person through the readings that a circuit owes, cautions first."""
    found = cautions_before(site.registry, circuit)
    if not found:
        say(f"{circuit} has no test due.")
        return
    visit = Visit.today(site.registry)
    lines = once(line for kind in found.values() for line in kind)
    cautions(lines)
    if not confirm("Is all of this done, and is it dead where it must be?", default=False):
        raise StoppedError
    visit.reads(lines)
    say(KEYS, style="dim")
    Run(site, circuit, visit).go()
