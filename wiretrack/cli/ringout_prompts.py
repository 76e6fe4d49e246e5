# SPDX-License-Identifier: MIT
"""A ring-out for people: one instruction at a time, one key for an answer."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from wiretrack.cli.output import cautions, console, counted, heading, indented, say, table
from wiretrack.cli.ringout_shown import (
    ends,
    progress_told,
    show_contradictions,
    show_doubts,
    show_findings,
    show_slips,
)
from wiretrack.cli.wording import told
from wiretrack.errors import BadInputError, ChangedMeanwhileError
from wiretrack.ringout.parsing import parse_step
from wiretrack.ringout.results import Result

if TYPE_CHECKING:
    from wiretrack.ringout.action import Action
    from wiretrack.tasks.identify.ringing import Ringing

UNDO, HELP, QUIT = ("u", "undo"), ("h", "help", "?"), ("q", "quit")
KEYS_ALWAYS = "u undo · h help · q quit"
HELP_LINES = (
    "Touch: c closed, o open, or the ohms: 0.43, 1.2k, OL.",
    "s skip: you can't reach it now. It is asked again before you leave.",
    "230V or live: a voltage is on it. The ring-out stops until you prove it dead.",
    "Other steps: Enter, d or done when it is done. Twisted otherwise: 1 + 3, 4 + 5.",
    "u undo: takes the last step back. u 5: another answer to step 5.",
    "q quit: all answers are kept. The same command goes on.",
)
STOPPED = 130  # the exit status of a command that somebody stopped
KEYS_AGAIN = "c closed · o open · or the ohms"
TWISTED_AGAIN = "what was twisted: 1 + 3, 4 + 5 · or Enter to take the step back"
ANSWERED = "This step was answered already. Here is the step that stands now."
COLOUR_HINT = "Colours at the far box aren't known; with --far-colours fewer steps may do."


def guide(ringing: Ringing, who: str | None) -> Result:
    """Lead a person through a ring-out to its result; whatever is answered is kept at once."""
    from wiretrack.tasks.identify.ringing import ring_out_cautions

    cautions(ring_out_cautions())
    word = _introduce(ringing)
    if console().is_terminal:
        click.prompt("Enter to begin", default="", show_default=False, prompt_suffix=" > ")
    while True:
        while not isinstance(step := ringing.next_step(), Result):
            ringing, word = _ask(ringing, step, who, word)
        try:
            result = ringing.finish(who)
            show_result(result, ringing)
            return result
        except ChangedMeanwhileError:
            ringing, word = ringing.as_it_is_now(), ANSWERED


def show_result(result: Result, ringing: Ringing) -> None:
    """Write what is sure, what is likely and why, what stayed open and was found on the way."""
    known, far = ringing.names.known, ringing.settings.far_boxes
    effort = counted(result.walks, "walk"), counted(result.probes, "touch")
    code = ringing.record.pull
    heading(f"{code} is rung out" if result.matches else f"No wire of {code} is known yet", *effort)
    sure = ("no", "yes")
    rows = [(m.near, m.far, known.get(m.near), sure[m.sure], m.near_mark) for m in result.matches]
    columns = ("tag", f"end mark in {far}", "what it is", "sure", f"in {ringing.record.near}")
    shown = 5 if ringing.settings.untagged else 4
    if rows:
        table(columns[:shown], (row[:shown] for row in rows))
    show_doubts((*result.matches, *result.likely))
    show_findings(result)
    show_slips(code, ringing.slips)
    show_contradictions(ringing.engine.contradictions())
    if result.unresolved:
        say(f"Not identified: {', '.join(result.unresolved)}", style="yellow")


def _introduce(ringing: Ringing) -> str:
    """Show where the ring-out is done; return what to say above the first step."""
    record, settings, far = ringing.record, ringing.settings, ringing.settings.far
    heading(f"Ring-out of {record.pull}", f"{record.near} → {settings.far_boxes}")
    if record.answers:
        return f"Going on after {counted(len(record.answers), 'step')}."
    numbers = settings.numbers.values()
    if numbers:
        say(f"{len(numbers)} ends in {record.near} have no tag: put tape with a number on each:")
        table(("number", "colour"), ((end.name, end.colour) for end in numbers))
    say(f"{len(far)} ends in {settings.far_boxes}: put tape with a number on each:")
    shown = 3 if len(settings.boxes) > 1 else 2
    cells = ((end.name, end.colour, end.box)[:shown] for end in far)
    table(("end mark", "colour", "box")[:shown], cells)
    if all(end.colour is None for end in far) and len({e.colour for e in settings.near}) > 1:
        say(COLOUR_HINT, style="dim")
    return ""


def _ask(ringing: Ringing, step: Action, who: str | None, word: str) -> tuple[Ringing, str]:
    """Show a step, below a `word`, and take its answer.

    Return the ring-out that follows from it, and what to say above its next step.
    """
    _show_step(ringing, step, word)
    keys = f"{step.prompt.keys} · {KEYS_ALWAYS}"
    while True:
        typed = _prompt(keys, needed=not step.prompt.enter_does)
        if typed.lower() in HELP:
            indented(*HELP_LINES)
            continue
        try:
            return _do(ringing, step, typed, who), ""
        except ChangedMeanwhileError:
            return ringing.as_it_is_now(), ANSWERED
        except BadInputError as error:
            say(told(error), style="red")


def _do(ringing: Ringing, step: Action, typed: str, who: str | None) -> Ringing:
    """Do what was typed: stop, undo, correct, or store the answer."""
    word, _, number = typed.lower().partition(" ")
    if typed.lower() in QUIT:
        say(f"All answers are kept. Go on with: wiretrack ringout run {ringing.record.pull}")
        raise click.exceptions.Exit(STOPPED)
    if word in UNDO and not number:
        return ringing.undo(who=who)
    if word in UNDO and number.strip().isdecimal():
        return _take_back(ringing, int(number), who)
    ringing.answer_typed(step, typed, who=who)
    return ringing


def _take_back(ringing: Ringing, number: int, who: str | None) -> Ringing:
    """Ask for another answer to a touch or twist, or take a step back with all after it."""
    stored = ringing.stored(number)
    step = parse_step(stored.step)
    say(f"Again, step {number}: {step.told(ringing.names)}")
    indented(*(step.lines(ringing.names.full) if step.has_lines else ()))
    if step.is_touch:
        return ringing.correct(number, _prompt(KEYS_AGAIN, needed=True), who=who)
    if step.can_be_corrected and (typed := _prompt(TWISTED_AGAIN, needed=False)):
        return ringing.correct(number, typed, who=who)
    if _prompt("All that was done after it is taken back too. yes or no", needed=True) != "yes":
        return ringing
    return ringing.undo(number, who=who)


def _prompt(keys: str, *, needed: bool) -> str:
    say(keys, style="dim")
    default = None if needed else ""
    typed = click.prompt("", default=default, show_default=False, prompt_suffix="> ")
    return str(typed).strip()


def _show_step(ringing: Ringing, step: Action, word: str) -> None:
    """Write a step, on a terminal as a screen of its own: where, what, which ends, what for."""
    names, prompt = ringing.names_now, step.prompt
    if console().is_terminal:
        click.clear()
    click.echo()
    say(f"{ringing.record.pull}, step {ringing.record.steps + 1}. {progress_told(ringing)}")
    if word:
        say(word, style="yellow")
    if prompt.danger:
        say(prompt.danger, style="bold red")
    title = prompt.title.format(place=step.where(names))
    walks = prompt.shape == "walk"
    click.echo()
    say(title if walks else f"In {step.where(names)}: {title}", style="bold")
    if prompt.is_told:
        say(step.told(names))
    ends(step, names)
    click.echo()
    guidance = ringing.guidance
    say(guidance.why)
    if guidance.look:
        say(guidance.look, style="yellow")
    for slip in () if step.is_touch else ringing.slips:
        say(f"All readings fit if {slip.told}. If so, type u {slip.number}, then {slip.typed}")
    indented(*step.hints(helped=ringing.settings.gear.crew == 2))
