# SPDX-License-Identifier: MIT
"""``wiretrack ringout``: guides a ring-out step by step, for people and for programs."""

from __future__ import annotations

import json
import sys
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click
from click.core import ParameterSource

from wiretrack.cli.command import Group
from wiretrack.cli.options import (
    Answer,
    a_screen,
    answers,
    do_next,
    force_option,
    next_of,
    open_site,
    say_next,
)
from wiretrack.cli.output import print_json, say
from wiretrack.encoding import document
from wiretrack.errors import BadInputError, ChangedMeanwhileError

if TYPE_CHECKING:
    from collections.abc import Callable

    from wiretrack.library import OpenSite
    from wiretrack.tasks.identify.ringing import Ringing
    from wiretrack.tasks.identify.state import RingoutStatus
    from wiretrack.tasks.report.standing import NextStep


_CHECKS = {None: "auto", True: "always", False: "never"}
# How a ring-out is asked for, shared by the commands that plan it and that run it.
ASKED = (
    click.option("--near", metavar="BOX", help="Where the ends are known by tag."),
    click.option(
        "--far",
        metavar="BOX[,BOX]",
        help="Where they carry end marks 1, 2, ...: one or more boxes.",
    ),
    click.option(
        "--reference",
        "references",
        multiple=True,
        metavar="raceway|TAG",
        help="Something known at both boxes, used where it saves a walk; may be repeated.",
    ),
    click.option(
        "--start", type=click.Choice(("near", "far")), default="near", help="Where you are."
    ),
    click.option("--resistors", metavar="LIST", help="Your resistor kit, in ohms: 100,220,470."),
    click.option("--diode", is_flag=True, help="You have a diode, for two that look alike."),
    click.option(
        "--tone", is_flag=True, help="You have a tone generator, where nothing else tells."
    ),
    click.option(
        "--ohms", is_flag=True, help="You read ohms at each touch: sizes or lengths then tell."
    ),
    click.option("--crew", type=click.IntRange(1, 2), default=1, help="2: a helper with a radio."),
    click.option(
        "--far-colours", metavar="RD,BK,...", help="Colours there, in order of end marks."
    ),
    click.option(
        "--far-ends", type=click.IntRange(1), metavar="N", help="Ends there, if more or fewer."
    ),
    click.option(
        "--near-numbers",
        is_flag=True,
        help="The near ends have no tags: numbers N1, N2, ... there; tags are given when matched.",
    ),
    click.option(
        "--near-colours", metavar="RD,BK,...", help="Colours there, in order of these numbers."
    ),
    click.option(
        "--joins",
        type=click.Choice(("any", "pairs")),
        default="any",
        help="Twist only two at a time.",
    ),
    click.option(
        "--check/--no-check",
        default=None,
        callback=lambda _ctx, _option, said: _CHECKS[said],
        help="Touch some of the matches once more at the end, or never; without either, where"
        " anything was not smooth.",
    ),
    click.option(
        "--screen",
        type=click.Choice(("auto", "first", "none")),
        default="auto",
        help="Search for touching conductors: as it goes, before the first join, or never.",
    ),
)


def asked_for(command: Callable[..., Any]) -> Callable[..., Any]:
    """Add the options of a ring-out to a command."""
    for option in reversed(ASKED):
        option(command)
    return command


@click.group(cls=Group)
def ringout() -> None:
    """Find which end belongs to which by continuity."""


@ringout.command()
@click.argument("pull")
@asked_for
@click.option("--instrument", help="Code of the meter, for the record.")
@click.option(
    "--again", is_flag=True, help="Begin again, whatever was found before. Without it you go on."
)
@click.option(
    "--switch", is_flag=True, help="Go on with other gear or crew; what is known is kept."
)
@click.option("--jsonl", is_flag=True, help="Steps and answers as JSON lines, for programs.")
@click.pass_obj
def run(db: Path, /, jsonl: bool, **asked: Any) -> None:
    """Ring out PULL between two boxes, in the fewest walks; stop and go on at any time.

    Boxes, gear, references and colours are remembered: to go on, PULL alone is enough.
    """
    if asked["again"] and asked["switch"]:
        raise BadInputError("--again begins again, --switch goes on. Give one of them.")
    with open_site(db) as site:
        ringing = _begun(site, **asked)
        if jsonl:
            _run_jsonl(ringing, site.who)
        else:
            from wiretrack.cli.ringout_prompts import guide

            result = guide(ringing, site.who)
            from wiretrack.tasks.report.standing import steps_after

            code = ringing.record.pull
            steps = steps_after(site.registry, code)
            say_next(*(steps if result.matches else steps[:1]))
            if _latest(site, code).can_be_checked:
                say_next(do_next("check-matches", code), when="Or first")


def _begun(site: OpenSite, pull: str, **asked: Any) -> Ringing:
    """Return the ring-out as it is asked for; what isn't is as it was the last time."""
    if asked["near"] and asked["far"]:
        return site.ring_out(pull, **asked)
    from wiretrack.tasks.identify.ringing import Ringing

    source = click.get_current_context().get_parameter_source
    said = {k: v for k, v in asked.items() if source(k) is ParameterSource.COMMANDLINE}
    return Ringing.gone_on(site.registry, pull, said, who=site.who)


@ringout.command()
@click.argument("pull")
@asked_for
@answers
def plan(site: OpenSite, /, **asked: Any) -> Answer:
    """Compare what each method of ringing PULL out takes: walks, joins, touches."""
    from wiretrack.cli.ringout_shown import show_plan
    from wiretrack.tasks.identify.planning import ringout_plan
    from wiretrack.tasks.identify.request import Wanted

    if not (asked["near"] and asked["far"]):
        raise click.UsageError("Name both boxes: --near BOX --far BOX.")
    found = ringout_plan(site.registry, Wanted(**asked))
    then = partial(do_next, "ringout", found.pull, found.near, found.far.replace(", ", ","))
    return Answer(found, lambda: show_plan(found), then=then)


@ringout.command()
@click.argument("pull")
@click.option("--why", metavar="TAG", help="The readings that prove what belongs to TAG.")
@answers
@a_screen
def status(site: OpenSite, pull: str, why: str | None) -> Answer:
    """Show what is matched, what is open and what contradicts in the latest ring-out of PULL."""
    ringing = _latest(site, pull)
    if why is None:
        return _as_it_is(site, ringing)
    reasons = ringing.why(why)
    from wiretrack.tasks.identify.state import status as status_of

    return Answer({**document(status_of(ringing)), "why": reasons}, lambda: say(*reasons))


@ringout.command()
@click.argument("pull")
@click.argument("number", type=int)
@click.argument("answer")
@answers
def correct(site: OpenSite, pull: str, number: int, answer: str) -> Answer:
    """Correct the answer to step NUMBER of PULL's latest ring-out.

    To a touch: c, o, or the ohms. To what was twisted: the ends, as in "1 + 3, 4 + 5".
    The numbers are those of the record. What followed from the wrong answer is concluded again.
    """
    return _as_it_is(site, _latest(site, pull).correct(number, answer, who=site.who))


@ringout.command()
@click.argument("pull")
@click.argument("number", type=int, required=False)
@answers
def undo(site: OpenSite, pull: str, number: int | None) -> Answer:
    """Take back the last step of PULL's latest ring-out, or step NUMBER, so that it is asked again.

    A touch is taken back alone, another step with all that was done after it.
    """
    return _as_it_is(site, _latest(site, pull).undo(number, who=site.who))


def _latest(site: OpenSite, pull: str) -> Ringing:
    from wiretrack.tasks.identify.ringing import Ringing

    return Ringing.latest(site.registry, pull)


def _as_it_is(site: OpenSite, ringing: Ringing) -> Answer:
    from wiretrack.cli.ringout_shown import show_status
    from wiretrack.tasks.identify.state import status as status_of

    found = status_of(ringing)
    return Answer(found, lambda: show_status(found), then=lambda: _after(site, found))


def _after(site: OpenSite, found: RingoutStatus) -> NextStep:
    """Return to go on with a ring-out, or what comes after it."""
    if found.finished:
        return next_of(site, found.pull)
    return do_next("ringout", found.pull)


@ringout.command()
@click.argument("pull")
@click.option("--out", type=click.Path(path_type=Path), help="A printable .html file.")
@force_option
@answers
@a_screen
def record(site: OpenSite, pull: str, out: Path | None) -> Answer:
    """Show the record of PULL's latest ring-out: joins, readings, conclusions, meter, date."""
    from wiretrack.cli.ringout_shown import show_record
    from wiretrack.tasks.identify.record import ringout_record, write_record

    found = ringout_record(site.registry, pull)
    if out is None:
        return Answer(found, lambda: show_record(found), then=lambda: next_of(site, pull))
    write_record(found, out)
    return Answer(found, lambda: say(f"Wrote {out}; print it from any browser."))


def _run_jsonl(ringing: Ringing, who: str | None) -> None:
    """Write a step a line, read an answer a line; each is stored before the next step.

    An answer to a step that somebody else has answered meanwhile is not stored.
    """
    from wiretrack.ringout.results import Result

    while True:
        step = ringing.next_step()
        meant: object = ringing.step_id
        try:
            if isinstance(step, Result):
                last = document(ringing.finish(who))
                print_json({"step": step.kind, **last, "id": meant}, indent=None)
                return
            shown = {**document(step), **document(ringing.guidance), "id": meant}
            print_json(shown, indent=None)
            given = _read()
            meant = given.pop("to", meant)
            ringing = ringing.at_step(meant)
            if "undo" in given:
                ringing = ringing.undo(_number(given), who=who)
            else:
                ringing.answer(ringing.next_step(), given, who=who)
        except ChangedMeanwhileError:
            if not isinstance(step, Result):
                print_json({"step": "answered", "id": meant}, indent=None)
            ringing = ringing.as_it_is_now()


def _number(given: dict[str, Any]) -> int | None:
    """Return which step an undo is of; `None` is the last one."""
    number = given["undo"]
    if set(given) != {"undo"} or not (number is True or type(number) is int):
        raise BadInputError(
            f'\'{json.dumps(given)[:80]}\' is no undo. Write it {{"undo":true}} or {{"undo":5}}.'
        )
    return None if number is True else number


def _without_doubles(pairs: list[tuple[str, object]]) -> dict[str, object]:
    if len({key for key, _ in pairs}) < len(pairs):
        raise ValueError("a key stands twice")
    return dict(pairs)


def _read() -> dict[str, object]:
    line = sys.stdin.readline()
    if not line:
        raise BadInputError(
            "The answers ended before the ring-out did. Your answers are saved;"
            " give the same command, without --again, to go on."
        )
    try:
        answer = json.loads(line, object_pairs_hook=_without_doubles)
    except (ValueError, RecursionError):
        answer = None
    if not isinstance(answer, dict):
        shown = line.strip()[:80]
        raise BadInputError(f"'{shown}' is not an answer. Answer with one JSON object a line.")
    return answer
