# SPDX-License-Identifier: MIT
"""``wiretrack merge``: joins this registry with a copy of it that was changed apart."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from wiretrack.cli.asking import can_ask
from wiretrack.cli.group import INTERRUPTED, complain
from wiretrack.cli.options import Answer, answers
from wiretrack.cli.output import counted, heading, indented, say, table
from wiretrack.cli.wording import told
from wiretrack.days import minute

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from wiretrack.library import OpenSite
    from wiretrack.store.merging_conflicts import Conflict, Decisions
    from wiretrack.tasks.merge.merging import Meeting, MergeResult

UNDECIDED = 1
SHOWN = 40


@click.command()
@click.argument("file", type=click.Path(path_type=Path))
@click.option("--look", is_flag=True, help="Show what would come, and write nothing.")
@click.option(
    "--decide",
    "decided",
    multiple=True,
    metavar="KEY=SIDE",
    help="Decide a conflict for mine or theirs.",
)
@click.option(
    "--rename",
    "renamed",
    multiple=True,
    metavar="KEY=NAME",
    help="Of two records of one name, call the one decided against NAME.",
)
@click.option(
    "--all", "rest", type=click.Choice(("mine", "theirs")), help="Decide all that is left."
)
@click.option(
    "--decisions",
    "file_of_decisions",
    type=click.Path(path_type=Path),
    help='A JSON file of decisions: {"KEY": "mine", ...}.',
)
@answers
def merge(site: OpenSite, file: Path, look: bool, **decided: Any) -> Answer:
    """Merge the registry in FILE, a copy of this one that was changed apart, into this one.

    FILE is only read: a copy made by backup, another laptop's registry, or a dump. What only one
    copy changed is taken; what both changed is shown side by side and decided: by answering, or by
    --decide, --rename, --all and --decisions. Without a terminal, undecided conflicts end it with
    exit status 1, and nothing is written.
    """
    from wiretrack.tasks.merge.merging import meeting

    decisions, asking = _decisions(**decided), can_ask() and not look
    with meeting(site.registry, file) as met:
        found = met.look(decisions)
        if asking and not found.coming.is_empty:
            _show_before_asking(found)
            try:
                decisions, found = _ask_all(met, decisions, found)
            except click.Abort:
                complain("stopped. Nothing was merged.", INTERRUPTED)
                raise click.exceptions.Exit(INTERRUPTED) from None
        undecided = found.coming.undecided
        if not (look or undecided or found.coming.is_empty):
            found = met.merge(decisions, who=site.who)
    told = _show_after if found.merged and asking else _show_merge
    return Answer(found, lambda: told(found), status=UNDECIDED if undecided else 0)


def _decisions(
    decided: tuple[str, ...],
    renamed: tuple[str, ...],
    rest: str | None,
    file_of_decisions: Path | None,
) -> Decisions:
    from wiretrack.tasks.merge.merging import decisions_of, read_decisions

    from_file = read_decisions(file_of_decisions) if file_of_decisions else ((), ())
    return decisions_of((*from_file[0], *decided), (*from_file[1], *renamed), rest)


def _show_merge(found: MergeResult) -> None:
    """Write what comes or came, each conflict side by side, and what to look at."""
    conflicts, undecided = found.coming.conflicts, len(found.coming.undecided)
    if found.coming.is_empty:
        say(f"{found.file} has nothing that isn't here already.")
        return
    _show_numbers(found)
    for conflict in conflicts[:SHOWN]:
        _show_conflict(conflict)
    if len(conflicts) > SHOWN:
        say(f"And {len(conflicts) - SHOWN} more conflicts; all of them with --json.")
    if undecided:
        say(f"Undecided: {counted(undecided, 'conflict')}. Nothing was written.", style="yellow")
        say("Decide with --decide KEY=mine or KEY=theirs, --all, or on a terminal.")
    _show_after(found)


def _show_before_asking(found: MergeResult) -> None:
    _show_numbers(found)
    for conflict in found.coming.conflicts:
        if conflict.takes is not None:
            _show_conflict(conflict)
    _show_after(found)


def _show_numbers(found: MergeResult) -> None:
    heading("Merged" if found.merged else "To merge", str(found.file))
    added, changed = found.coming.added, found.coming.changed
    tables = [*(t for t in added if added[t]), *(t for t in changed if changed[t])]
    rows = [
        (name.replace("_", " "), added.get(name) or None, changed.get(name) or None)
        for name in dict.fromkeys(tables)
    ]
    if rows:
        table(("", "new", "changed"), rows)
    say(f"{counted(found.coming.changes, 'change')} of the history, with who made them and when.")


def _show_conflict(conflict: Conflict) -> None:
    heading(conflict.key, *_outcome(conflict))
    if conflict.renames:
        indented("Two different records are called so.")
    sides = (("mine", conflict.mine), ("theirs", conflict.theirs))
    table(
        ("", "says", "by", "on"),
        ((name, side.value, side.by, minute(side.at) or None) for name, side in sides),
    )


def _outcome(conflict: Conflict) -> tuple[str, ...]:
    if conflict.takes is None:
        return ("to be decided",)
    if conflict.renamed:
        return (f"{conflict.takes} keeps the name, the other is {conflict.renamed}",)
    return (f"decided: {conflict.takes}",)


def _show_after(found: MergeResult) -> None:
    """Write what to look at, and what became of the labels."""
    for line in _notices(found.coming.notices):
        say(line, style="yellow")
    if not found.merged:
        return
    if labels := found.labels:
        ends = ", ".join(f"{row.tag} {row.end}" for row in labels[:12])
        more = f" and {len(labels) - 12} more" if len(labels) > 12 else ""
        say(f"Labels no longer true: {ends}{more}. See: wiretrack label due")
    say("The two are one; merge this copy into the other to have it there too.")


_NOTICES = {
    "shared_terminals": "{tags} now share {terminal}: each copy landed its own there.",
    "corrected_twice": "{tag} {kind} {value} was corrected twice: {mine} here, {theirs} there."
    " Both count; read it anew and supersede the wrong one ({mine_id} or {theirs_id}).",
    "broken_routes": "{pull} would not lead from raceway to raceway: {route}."
    " Decide on it and on its raceways alike.",
    "off_the_way": "{pull} no longer passes {enclosure}, where {tags} end:"
    " their route is unknown now.",
    "told_otherwise": "An entry of {log} says something else there; this copy's stays ({id}).",
    "gone_on_apart": "{name}: a {what} went on apart, {answers} here and {theirs} there."
    " All are kept; it goes on by the copy with more.",
    "followed_twice": "{tag} was cut or replaced in both copies; these follow it: {followed_by}."
    " Retire those that aren't there.",
    "retired_and_worked_on": "{tag} was retired {here}, and worked on {there}. It is retired.",
}


def _notices(found: Mapping[str, Any]) -> Iterator[str]:
    for name, words in _NOTICES.items():
        for row in found[name]:
            said = {k: ", ".join(v) if isinstance(v, list | tuple) else v for k, v in row.items()}
            if name == "gone_on_apart":
                said |= {"what": row["what"].replace("-", " ")}
                said |= {"answers": counted(row["mine"], "answer")}
            elif name == "told_otherwise":
                said |= {"log": row["log"].replace("_", " ")}
            elif name == "retired_and_worked_on":
                sides = ("here", "there") if row["retired"] == "mine" else ("there", "here")
                said |= dict(zip(("here", "there"), sides, strict=True))
            yield words.format(**said)


def _ask_all(
    met: Meeting, decisions: Decisions, found: MergeResult
) -> tuple[Decisions, MergeResult]:
    """Ask for each conflict, for those that a decision brings, and then whether to merge."""
    while undecided := found.coming.undecided:
        for conflict in undecided:
            decisions = _ask(conflict, decisions)
        found = met.look(decisions)
    if not click.confirm("Merge now?", default=True):
        raise click.Abort
    return decisions, found


def _ask(conflict: Conflict, decisions: Decisions) -> Decisions:
    from wiretrack.errors import BadInputError
    from wiretrack.tasks.merge.merging import with_decision

    _show_conflict(conflict)
    keys = "m mine · t theirs · q stop"
    if conflict.renames:
        keys = "who keeps the name? m mine · t theirs · q stop"
    while True:
        typed = str(click.prompt(keys, prompt_suffix=" > ")).strip().lower()
        if typed in ("q", "quit"):
            raise click.Abort
        side = next((s for s in ("mine", "theirs") if typed and s.startswith(typed)), None)
        if side is None:
            say("Type m or t.", style="red")
            continue
        name = None
        if conflict.renames:
            text = "new name for the other (Enter: the old one and a number)"
            name = str(click.prompt(text, default="", show_default=False, prompt_suffix=" > "))
        try:
            return with_decision(decisions, conflict.key, side, name or None)
        except BadInputError as error:
            say(told(error), style="red")
