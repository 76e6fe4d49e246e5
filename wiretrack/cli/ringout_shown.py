# SPDX-License-Identifier: MIT
"""What a ring-out found, its record, and what each method takes, on the terminal."""

from __future__ import annotations

from typing import TYPE_CHECKING

from wiretrack.cli.options import do_next, say_next
from wiretrack.cli.output import columns, console, counted, facts, heading, indented, say, table
from wiretrack.days import moment
from wiretrack.manner import words
from wiretrack.plain import safe
from wiretrack.render.report.ringout_blocks import effort_of
from wiretrack.ringout.bundle import RACEWAY, Times

if TYPE_CHECKING:
    from collections.abc import Sequence

    from wiretrack.ringout.action import Action
    from wiretrack.ringout.forecast import Method
    from wiretrack.ringout.prompts import Names
    from wiretrack.ringout.questions import Contradiction
    from wiretrack.ringout.results import Match, RecordedStep, Result, RingoutRecord
    from wiretrack.tasks.identify.planning import RingoutPlan
    from wiretrack.tasks.identify.remarks import SlipFound
    from wiretrack.tasks.identify.ringing import Ringing
    from wiretrack.tasks.identify.state import Effort, RingoutStatus

NARROW = 66  # columns; below, a method is told line by line


def show_status(found: RingoutStatus) -> None:
    """Write how far a ring-out has come: what is matched, open or contradicts, and what is next."""
    result = found.result
    state = "finished" if found.finished else "under way"
    heading(found.pull, f"{found.near} → {found.far}", state)
    effort = ((result.walks, "walk"), (result.joins, "join"), (result.probes, "touch"))
    say(f"{', '.join(counted(count, noun) for count, noun in effort)} so far.")
    if found.step:
        say(f"Next: {found.told}")
        indented(*(found.lines if found.step.has_lines else ()))
        say(found.guidance.why, left_told(found.left) if found.left else "")
    if result.matches:
        rows = ((m.near, m.far, found.ends.get(m.near)) for m in result.matches)
        table(("tag", "end mark", "what it is"), rows)
    show_doubts((*result.matches, *result.likely))
    show_findings(result)
    show_slips(found.pull, found.slips)
    if result.unresolved:
        say(f"Open: {', '.join(result.unresolved)}")
    show_contradictions(found.contradictions)


def show_slips(pull: str, slips: Sequence[SlipFound]) -> None:
    """Write how to say that a hand slipped as the readings hint at."""
    for slip in slips:
        correct = do_next("twisted", pull, str(slip.number), slip.typed)
        say_next(correct, when=f"If {slip.told}")


def show_contradictions(found: Sequence[Contradiction]) -> None:
    """Write which readings can't all be true, the one to touch again first."""
    for one in found:
        first = one.repeat_first
        say(f"Contradicts: {' and '.join(first.between)} in {first.box}", style="yellow")
        indented(one.reason)


def left_told(left: Effort) -> str:
    """Return what is left to do, as one tells it."""
    each = ((left.walks, "walk"), (left.probes, "touch"))
    words = [counted(count, noun) for count, noun in each if count]
    time = f"about {left.minutes} min" if left.minutes else "under 1 min"
    return f"Left: {time}, {', '.join(words)}." if words else ""


def progress_told(ringing: Ringing) -> str:
    """Return how many conductors are known, and about what is left to do."""
    from wiretrack.tasks.identify.state import left

    known = f"{ringing.guidance.known} of {ringing.guidance.of} known."
    return f"{known} {left_told(left(ringing))}".strip()


def ends(step: Action, names: Names) -> None:
    """Write the ends that a step is about, a line each; those of one group in one bracket."""
    rows = []
    for group in step.parts:
        marks = _bracket(len(group)) if step.prompt.shape == "join" else " " * len(group)
        rows.append(("", "", ""))
        for mark, (end, what) in zip(marks, group, strict=True):
            name, known = "the raceway" if end == RACEWAY else end, names.known.get(end, "")
            rows.append((f"  {mark} {what}".rstrip(), safe(name), safe(known)))
    columns([(*zip(row, ("", "bold", ""), strict=True),) for row in rows], whole=(False,) * 3)


def _bracket(count: int) -> str:
    return " " if count == 1 else f"┌{'│' * (count - 2)}└"


def show_doubts(matches: Sequence[Match]) -> None:
    """Write which matches are likely only, and why."""
    unsure = [match for match in matches if not match.sure]
    for why in dict.fromkeys(match.why for match in unsure):
        pairs = (f"{m.near} is end {m.far}" for m in unsure if m.why == why)
        say(f"Likely, not sure: {', '.join(pairs)}", style="yellow")
        indented(why)


def show_findings(found: Result | RingoutRecord) -> None:
    """Write the faults, the readings to look at again, and the notes."""
    for fault in found.faults:
        say(f"{words(fault.kind)}: {', '.join(fault.ends)}", style="bold red")
        indented(fault.evidence)
    for question in found.questions:
        say(f"Look again at {' and '.join(question.between)}:", style="yellow")
        indented(question.reason)
    for note in found.notes:
        say(note)


def show_record(found: RingoutRecord) -> None:
    """Write the record: facts, conclusions, steps with answers, each conclusion's reasons."""
    heading(f"Ring-out of {found.pull}", f"{found.near} → {found.far}")
    facts(
        [
            ("begun", moment(found.begun)),
            ("last step", moment(found.ended, "")),
            ("instrument", found.instrument or "not stated"),
            ("references", ", ".join(found.references) or "none"),
            ("gear", "; ".join(found.gear)),
            ("effort", effort_of(found)),
        ]
    )
    if found.conclusions:
        known = ", ".join(f"{match.near} is {match.far}" for match in found.conclusions)
        say(f"Ends known: {known}")
    if found.unresolved:
        say(f"Not identified: {', '.join(found.unresolved)}", style="yellow")
    show_findings(found)
    table(("", "step", "answer"), ((s.number, s.told, _answered(s)) for s in found.steps))
    for match in found.conclusions:
        say(f"{match.near} is end {match.far}", style="bold")
        indented(*match.why)


def _answered(step: RecordedStep) -> str:
    corrected = f", corrected {step.superseded}×" if step.superseded else ""
    return f"{step.answer}{corrected}"


def show_plan(found: RingoutPlan) -> None:
    """Write what each method takes and needs, and why."""
    heading(found.pull, f"{found.near} → {found.far}", f"{found.conductors} conductors")
    if console().width < NARROW:
        for method in found.methods:
            _show_method(method)
    else:
        _show_table(found.methods)
    whole = [method for method in found.methods if method.forecast.whole]
    if whole:
        least = min(whole, key=lambda method: method.forecast.minutes)
        say(f"Quickest: {least.name}. {_effort(least)}.")
    say(
        f"No plan can do with fewer than {_touch_count(found.bound)} on average: log2 of the"
        " number of arrangements. Touches for contacts search for conductors touching each other."
    )
    by = "common practice" if found.times == Times() else "as the site says; else common practice"
    say(f"The minutes: {found.times.told} ({by}).")
    for note in found.notes:
        say(note)


def _show_table(methods: Sequence[Method]) -> None:
    columns: tuple[str, ...] = (
        "method", "minutes", "walks", "joins", "touches", "at most", "for contacts",
    )  # fmt: skip
    rows: list[tuple[object, ...]] = [
        (m.name, f"~{m.forecast.minutes}", m.forecast.walks, m.forecast.joins, *_touches(m))
        for m in methods
    ]
    if not all(m.forecast.whole for m in methods):
        columns = (*columns, "unknown")
        rows = [(*row, _unknown(m)) for row, m in zip(rows, methods, strict=True)]
    table(columns, rows)
    facts((m.name, f"{_sentence(m.needs)} {m.why}") for m in methods)


def _show_method(method: Method) -> None:
    _, worst, contacts = _touches(method)
    say(method.name, style="bold")
    unknown = _unknown(method)
    indented(
        f"{_effort(method)}, at most {worst}, {contacts} of them for contacts"
        + (f"; {unknown} stay unknown" if unknown != "none" else ""),
        f"{_sentence(method.needs)} {method.why}",
    )


def _effort(method: Method) -> str:
    """Return what a method takes, in a line."""
    found = method.forecast
    return (
        f"About {counted(found.minutes, 'minute')}: {counted(found.walks, 'walk')},"
        f" {counted(found.joins, 'join')}, {found.hands} ends twisted on or taken out,"
        f" {_touches(method)[0]} touches"
    )


def _touches(method: Method) -> tuple[str, str, str]:
    """Return the touches on the mean, at most, and for contacts; ``~`` where they are scaled."""
    mark = "~" if method.forecast.about else ""
    return (
        f"{mark}{method.forecast.expected:g}",
        f"{mark}{method.forecast.worst}",
        f"{mark}{method.forecast.screening:g}",
    )


def _unknown(method: Method) -> str:
    return "none" if method.forecast.whole else "some"


def _touch_count(bound: float) -> str:
    return counted(1 if bound == 1 else f"{bound:g}", "touch")


def _sentence(words: str) -> str:
    return f"{words[0].upper()}{words[1:]}."
