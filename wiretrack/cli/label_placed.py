# SPDX-License-Identifier: MIT
"""``wiretrack label placed``: says that labels are on their wires, or takes that back."""

from __future__ import annotations

import sys
from typing import TYPE_CHECKING, Any

import click

from wiretrack.cli.options import json_option, one_of, opened, person
from wiretrack.cli.output import counted, print_json, say

if TYPE_CHECKING:
    from pathlib import Path


@click.command("placed")
@click.argument("what")
@click.option("--end", type=click.Choice(("from", "to")), help="Only this end.")
@click.option("--by-hand", is_flag=True, help="The label is written by hand, none was printed.")
@click.option("--take-back", is_flag=True, help="No label is on: it was a mistake, or it came off.")
@json_option
@click.pass_obj
def placed(
    db: Path, /, what: str, end: str | None, by_hand: bool, take_back: bool, as_json: bool
) -> None:
    """Say that the labels of WHAT are on their wires; a file drawn is no label on a wire.

    A printed label must still say what the record says. One written by hand counts as saying so.
    """
    from wiretrack.tasks.label.placing import place_labels, take_back_labels

    one_of(**{"by-hand": by_hand, "take-back": take_back})
    with opened(db) as registry:
        if take_back:
            done = take_back_labels(registry, what, end=end, who=person())
        else:
            asks = not as_json and sys.stdin.isatty() and sys.stdout.isatty()
            leave_out = asks and _asked(registry, what, end, by_hand)
            done = place_labels(
                registry, what, end=end, by_hand=by_hand, leave_out=leave_out, who=person()
            )
    if as_json:
        print_json(done)
    elif take_back:
        count = len(done["taken_back"])
        say(f"Noted: {counted(count, 'end')} {'has' if count == 1 else 'have'} no label on.")
    else:
        _show(done)


def _asked(registry: Any, what: str, end: str | None, by_hand: bool) -> bool:
    """Ask whether to note the labels that can be, where others can't."""
    from wiretrack.tasks.label.placing import look_at_labels, why_left_out

    found = look_at_labels(registry, what, end=end, by_hand=by_hand)
    if not (found.left_out and found.placed):
        return False
    say(why_left_out(found))
    return click.confirm(f"Note the other {counted(len(found.placed), 'label')}?", default=True)


def _show(done: dict[str, Any]) -> None:
    count, before = len(done["placed"]), len(done["already"])
    if count:
        say(f"Noted: {counted(count, 'label')} {'is' if count == 1 else 'are'} on.")
    if before:
        say(f"{counted(before, 'label')} {'was' if before == 1 else 'were'} noted before.")
    if done["left_out"]:
        say(f"{counted(len(done['left_out']), 'end')} left out.")
