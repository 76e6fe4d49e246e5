# SPDX-License-Identifier: MIT
"""``wiretrack ringout``: guides a ring-out step by step, for people and for programs."""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from wiretrack.cli.options import json_option, opened, person
from wiretrack.cli.output import print_json, say
from wiretrack.encoding import document
from wiretrack.errors import BadInputError, ChangedMeanwhileError

if TYPE_CHECKING:
    from collections.abc import Callable

    from wiretrack.tasks.identify.ringing import Ringing, RingoutStatus


# How a ring-out is asked for, shared by the commands that plan it and that run it.
ASKED = (
    click.option("--near", required=True, metavar="BOX", help="Where the ends are known by tag."),
    click.option(
        "--far", required=True, metavar="BOX", help="Where they carry end marks 1, 2, ..."
    ),
    click.option(
        "--reference",
        "references",
        multiple=True,
        metavar="raceway|TAG",
        help="Something known at both boxes; may be repeated.",
    ),
    click.option(
        "--start", type=click.Choice(("near", "far")), default="near", help="Where you are."
    ),
    click.option("--resistors", metavar="LIST", help="Your resistor kit, in ohms: 100,220,470."),
    click.option("--diode", is_flag=True, help="You have a diode, for two that look alike."),
    click.option("--crew", type=click.IntRange(1, 2), default=1, help="2: a helper with a radio."),
    click.option(
        "--far-colours", metavar="RD,BK,...", help="Colours there, in order of end marks."
    ),
    click.option(
        "--joins",
        type=click.Choice(("any", "pairs")),
        default="any",
        help="Twist only two at a time.",
    ),
    click.option(
        "--screen",
        type=click.Choice(("auto", "first", "none")),
        default="auto",
        help="Search for touching conductors: as it goes, before the first join, or never.",
    ),
)


def asked_for(function: Callable[..., None]) -> Callable[..., None]:
    """Add the options of a ring-out to a command."""
    for option in reversed(ASKED):
        function = option(function)
    return function


@click.group()
def ringout() -> None:
    """Find which end belongs to which by continuity."""


@ringout.command("run")
@click.argument("pull")
@asked_for
@click.option("--instrument", help="Code of the meter, for the record.")
@click.option(
    "--again", is_flag=True, help="Begin anew, whatever was found before. Without it you go on."
)
@click.option(
    "--switch", is_flag=True, help="Go on with other gear or crew; what is known is kept."
)
@click.option("--jsonl", is_flag=True, help="Steps and answers as JSON lines, for programs.")
@click.pass_obj
def run(db: Path, /, jsonl: bool, **asked: Any) -> None:
    """Ring out PULL between two boxes, in the fewest walks; stop and go on at any time."""
    from wiretrack.tasks.identify.request import Wanted
    from wiretrack.tasks.identify.ringing import Ringing

    if asked["again"] and asked["switch"]:
        raise BadInputError("--again begins anew, --switch goes on. Give one of them.")
    with opened(db) as registry:
        ringing = Ringing.begin(registry, Wanted(**asked), who=person())
        if jsonl:
            _run_jsonl(ringing, person())
        else:
            from wiretrack.cli.ringout_prompts import guide

            guide(ringing, person())


@ringout.command("plan")
@click.argument("pull")
@asked_for
@json_option
@click.pass_obj
def plan(db: Path, /, as_json: bool, **asked: Any) -> None:
    """Compare what each method of ringing PULL out takes: walks, joins, touches."""
    from wiretrack.tasks.identify.plan import ringout_plan
    from wiretrack.tasks.identify.request import Wanted

    with opened(db) as registry:
        found = ringout_plan(registry, Wanted(**asked))
    if as_json:
        print_json(document(found))
    else:
        from wiretrack.cli.ringout_shown import show_plan

        show_plan(found)


@ringout.command("status")
@click.argument("pull")
@click.option("--why", metavar="TAG", help="The readings that prove what belongs to TAG.")
@json_option
@click.pass_obj
def status(db: Path, pull: str, why: str | None, as_json: bool) -> None:
    """Show what is matched, what is open and what contradicts in the latest ring-out of PULL."""
    from wiretrack.tasks.identify.ringing import Ringing

    with opened(db) as registry:
        ringing = Ringing.latest(registry, pull)
        found = ringing.status()
        reasons = ringing.why(why) if why else []
    if why and as_json:
        print_json({**document(found), "why": reasons})
    elif why:
        say(*reasons)
    else:
        _show(found, as_json)


def _show(found: RingoutStatus, as_json: bool) -> None:
    from wiretrack.cli.ringout_shown import show_status

    print_json(document(found)) if as_json else show_status(found)


@ringout.command("correct")
@click.argument("pull")
@click.argument("number", type=int)
@click.argument("answer")
@json_option
@click.pass_obj
def correct(db: Path, pull: str, number: int, answer: str, as_json: bool) -> None:
    """Supersede the answer to touch NUMBER of PULL's latest ring-out: c, o, or the ohms.

    The numbers are those of the record. What followed from the wrong answer is concluded anew.
    """
    from wiretrack.tasks.identify.ringing import Ringing

    with opened(db) as registry:
        found = Ringing.latest(registry, pull).correct(number, answer, who=person()).status()
    _show(found, as_json)


@ringout.command("undo")
@click.argument("pull")
@json_option
@click.pass_obj
def undo(db: Path, pull: str, as_json: bool) -> None:
    """Take back the last step of PULL's latest ring-out, so that it is asked again."""
    from wiretrack.tasks.identify.ringing import Ringing

    with opened(db) as registry:
        found = Ringing.latest(registry, pull).undo(who=person()).status()
    _show(found, as_json)


@ringout.command("record")
@click.argument("pull")
@click.option("--out", type=click.Path(path_type=Path), help="A printable .html file.")
@json_option
@click.pass_obj
def record(db: Path, pull: str, out: Path | None, as_json: bool) -> None:
    """Show the record of PULL's latest ring-out: joins, readings, conclusions, meter, date."""
    from wiretrack.tasks.identify.record import ringout_record, write_record

    with opened(db) as registry:
        found = ringout_record(registry, pull)
    if out:
        write_record(found, out)
    if as_json:
        print_json(document(found))
    elif out:
        say(f"Wrote {out}; print it from any browser.")
    else:
        from wiretrack.cli.ringout_shown import show_record

        show_record(found)


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
            print_json({**document(step), "id": meant}, indent=None)
            given = _read()
            meant = given.pop("to", meant)
            ringing = ringing.at_step(meant)
            ringing.answer(ringing.next_step(), given, who=who)
        except ChangedMeanwhileError:
            if not isinstance(step, Result):
                print_json({"step": "answered", "id": meant}, indent=None)
            ringing = ringing.as_it_is_now()


def _without_doubles(pairs: list[tuple[str, object]]) -> dict[str, object]:
    if len({key for key, _ in pairs}) < len(pairs):
        raise ValueError("a key stands twice")
    return dict(pairs)


def _read() -> dict[str, object]:
    line = sys.stdin.readline()
    if not line:
        raise BadInputError(
            "The answers ended before the ring-out did. What was answered is kept;"
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
