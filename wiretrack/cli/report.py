# SPDX-License-Identifier: MIT
"""``check``, ``marking``, ``punchlist``, ``report`` and ``binder``: how the work stands."""

from __future__ import annotations

from contextlib import nullcontext
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from wiretrack.cli.command import Command
from wiretrack.cli.options import Answer, answers, force_option, wants_json
from wiretrack.cli.output import (
    OUTCOME_STYLES,
    UNKNOWN,
    counted,
    heading,
    indented,
    length,
    one_screen,
    quantity,
    say,
    table,
    to_be_copied,
)
from wiretrack.cli.wording import for_shell
from wiretrack.days import day, today, typed_day
from wiretrack.plain import few

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
    from datetime import date

    from wiretrack.electrical.findings import Finding
    from wiretrack.electrical.rules.marking import Marking
    from wiretrack.library import OpenSite
    from wiretrack.tasks.binder.binder import WrittenBinder
    from wiretrack.tasks.report.checking import Checked
    from wiretrack.tasks.report.punchlist import OpenPoint
    from wiretrack.tasks.report.report import WrittenReport

FILE = click.Path(path_type=Path)
_ORDER = ("fail", "doubt", "pass")
_SHOWN = 12  # characters
_FEW, _POINTS = 8, 20  # subjects of a rule, and lines of open points, that are named in short


@click.command(cls=Command)
@click.argument("what", required=False)
@click.option("--all", "show_all", is_flag=True, help="Show what passes too.")
@answers
def check(site: OpenSite, what: str | None, show_all: bool) -> Answer:
    """Check WHAT (all of the site if left out) against the rules of the site's code.

    The exit status is 1 if a rule is broken. The local code and a licensed electrician decide.
    """
    from wiretrack.tasks.report.checking import by_place, failing

    rows = site.check(what)
    for_all = f"wiretrack check {f'{for_shell(what)} ' if what else ''}--all"

    def text() -> None:
        with nullcontext() if show_all else one_screen(for_all, kept=4):
            _show_checked(by_place(site.registry, rows), show_all)
        if not show_all:
            to_be_copied(f"Each with its figures: {for_all}", "dim")
        say("The local code and a licensed electrician decide.")

    status = int(any(row.outcome == "fail" for row in rows))
    return Answer(rows, text, status, lambda: failing(site.registry, rows))


def _show_checked(rows: list[Checked], show_all: bool) -> None:
    """Write what fails, by place; then doubts and what passes, in short or each with its source."""
    for outcome in _ORDER:
        found = [row for row in rows if row.finding.outcome == outcome]
        if not found:
            continue
        heading(outcome, str(len(found)))
        if outcome == "pass" and not show_all:
            _show_counts([row.finding for row in found])
        elif outcome == "doubt" and not show_all:
            _show_doubts(found)
        else:
            by_box = sorted(found, key=lambda row: row.place or "")
            _show_findings(by_box, OUTCOME_STYLES[outcome])
    if not rows:
        say("No rule applies. Record the site's rules (NEC and edition, or IEC) and its wiring.")


def _show_findings(rows: Sequence[Checked], style: str) -> None:
    for row in rows:
        finding = row.finding
        place = f"{row.place}: " if row.place not in (None, finding.subject) else ""
        say(f"{place}{finding.rule}  {finding.subject}  {_figures(finding)}", style=style)
        indented(finding.reason)
        indented(finding.source, style="dim")


def _show_doubts(rows: Sequence[Checked]) -> None:
    """Write a rule's doubts as the subjects that share it, and why the first is one."""
    by_rule: dict[str, list[Finding]] = {}
    for row in rows:
        by_rule.setdefault(row.finding.rule, []).append(row.finding)
    for rule, found in by_rule.items():
        named = few([finding.subject for finding in found], _FEW)
        say(f"{rule}  {named}", style=OUTCOME_STYLES["doubt"])
        indented(found[0].reason)


def _show_counts(rows: list[Finding]) -> None:
    """Write how often each rule is kept, and the source of its limit."""
    by_rule: dict[str, list[Finding]] = {}
    for row in rows:
        by_rule.setdefault(row.rule, []).append(row)
    table(
        ("rule", "kept", "source"),
        ((rule, len(found), found[0].source) for rule, found in by_rule.items()),
    )


def _figures(row: Finding) -> str:
    figure, limit = quantity(row.figure, row.unit), quantity(row.limit, row.unit)
    if figure is None and limit is None:
        return ""
    return f"{figure or UNKNOWN}, limit {limit}" if limit else str(figure)


@click.command(cls=Command)
@click.argument("what", required=False)
@answers
def marking(site: OpenSite, what: str | None) -> Answer:
    """List the markings that the code requires on WHAT, by place along each run."""
    rows = site.markings(what)
    then = ("markings", what or rows[0].on) if rows else None
    return Answer(rows, lambda: _show_markings(rows), then=then)


def _show_markings(rows: list[Marking]) -> None:
    from wiretrack.tasks.report.checking import counted as wordings

    if not rows:
        say("No marking is required here by the rules of this site.")
        return
    table(
        ("on", "at", "wording"),
        ((row.on, length(row.at_m) or "its cover", row.wording) for row in rows),
    )
    for wording, number in wordings(row.wording for row in rows).items():
        say(f"Order {number}: {wording}")
    say("By:", style="dim")
    indented(*dict.fromkeys(f"{row.source}: {row.note}" for row in rows), style="dim")


@click.command(cls=Command)
@click.argument("what", required=False)
@click.option("--all", "show_all", is_flag=True, help="Each point, not just a screen.")
@answers
def punchlist(site: OpenSite, what: str | None, show_all: bool) -> Answer:
    """List what is still open: ends to identify, land and label, tests due or failed.

    WHAT is a tag, or the code of a circuit, box, raceway or pull; all of the site if left out.
    """
    from wiretrack.tasks.report.punchlist import punch_list
    from wiretrack.tasks.report.standing import next_on_site

    rows = punch_list(site.registry, what)
    for_all = f"wiretrack punchlist {f'{for_shell(what)} ' if what else ''}--all"

    def text() -> None:
        with nullcontext() if show_all else one_screen(for_all):
            _show_open(rows, show_all)

    return Answer(rows, text, then=lambda: next_on_site(site.registry, rows))


def _show_open(rows: Sequence[OpenPoint], show_all: bool) -> None:
    """Write what is open by place: each point where they are few, else their numbers."""
    by_box: dict[str | None, list[OpenPoint]] = {}
    for row in rows:
        by_box.setdefault(row.box, []).append(row)
    if show_all or len(rows) + 2 * len(by_box) <= _POINTS:
        for box, found in by_box.items():
            heading(box or "no box", str(len(found)))
            table(
                ("tag", "what", "", "since"),
                ((r.subject, r.what, r.detail, day(r.since, "") or None) for r in found),
            )
    else:
        _count_open(rows, by_box)
    if not rows:
        say("Nothing is open.")


def _count_open(
    rows: Sequence[OpenPoint], by_box: Mapping[str | None, Sequence[OpenPoint]]
) -> None:
    for row in [r for r in rows if r.what in ("undecided", "reading failed")][:3]:
        say(f"{row.what}: {row.subject}, {row.detail}", style="bold red")
    say(f"{counted(len(rows), 'point')} open. Of one box or circuit: wiretrack punchlist WHAT")
    kinds = list(dict.fromkeys(row.what for row in rows))
    table(
        ("box", *(kind.removeprefix("end ").removeprefix("reading ") for kind in kinds)),
        (
            (box, *(sum(row.what == kind for row in found) or "" for kind in kinds))
            for box, found in by_box.items()
        ),
    )


@click.command(cls=Command)
@click.argument("circuit", required=False)
@click.option("--out", type=FILE, help="A .html or .pdf file.")
@click.option("--record", type=FILE, help="Write the site file it rests on.")
@force_option
@click.option(
    "--page",
    type=click.Choice(("A4", "Letter")),
    help="Of a PDF; else Letter where the site measures in feet, A4 where not.",
)
@click.option("--by", help="Who makes the report; else the user's name.")
@answers
def report(
    site: OpenSite, circuit: str | None, out: Path | None, by: str | None, **more: Any
) -> Answer:
    """Write the verification report of CIRCUIT, or of the whole site, to be printed and signed.

    What the record can't know is left as ruled lines, to be filled in by hand. With --json and no
    --out the report itself is the document.
    """
    from wiretrack.tasks.report import report as task

    who = by or site.who
    if out is None:
        if not wants_json() or more["record"] is not None:
            raise click.UsageError("Name the file: --out FILE.html or --out FILE.pdf.")
        return Answer(task.report(site.registry, circuit, by=who), lambda: None)
    done = task.write_report(
        site.registry, circuit, out, paper=more["page"], record=more["record"], by=who
    )
    return Answer(done, lambda: _show_report(done), then=("binder",))


def _show_report(done: WrittenReport) -> None:
    pages = f" on {counted(done.pages, 'page')}" if done.pages else ""
    say(f"{done.file}: {counted(done.circuits, 'circuit')}{pages}.")
    if lacking := done.lacking:
        shown = " ".join(lacking[:_SHOWN]) + (" …" if len(lacking) > _SHOWN else "")
        say(
            f"Its typeface lacks {counted(len(lacking), 'character')} ({shown}), written there by"
            " number, like [U+4E2D]. A .html shows them.",
            style="yellow",
        )
    outcome = done.outcome
    table(
        ("judged", "pass", "in doubt", "fail"),
        (
            (name, *(counts[word] for word in ("pass", "doubt", "fail")))
            for name, counts in (("readings", outcome.readings), ("wiring rules", outcome.findings))
        ),
    )
    still = ", ".join(f"{what} {number}" for what, number in outcome.open.items())
    say(f"Still open: {still or 'nothing'}.")
    if done.record:
        say(f"The record it rests on is in {done.record}.")
    if done.record_sha256:
        say("The record's SHA-256 is printed in it:", f"    {done.record_sha256}")
    else:
        say("To prove later which record it rests on, keep that beside it with --record.")
    say(
        "Fill in by hand what is ruled, then sign it.",
        "The local code and a licensed electrician decide.",
    )


@click.command(cls=Command)
@click.argument("folder", metavar="DIR", type=FILE)
@click.option("--replace", is_flag=True, help="Take the place of an older, unchanged binder.")
@click.option("--date", "on", metavar="DATE", help="The date that it states; else today.")
@answers
def binder(site: OpenSite, folder: Path, replace: bool, on: str | None) -> Answer:
    """Write the site binder into DIR, a new or an empty folder.

    Its pages open with a browser alone, from a USB stick, without a network: start with index.html.
    Beside them lie the site file, CSV tables and a checksum list.
    """
    from wiretrack.tasks.binder.binder import write_binder

    made = write_binder(site.registry, folder, _date(on), replace=replace)
    return Answer(made, lambda: _show_binder(folder, made), then=("backup",))


def _date(text: str | None) -> date:
    return today() if text is None else typed_day(text)


def _show_binder(folder: Path, made: WrittenBinder) -> None:
    size = f"{made.bytes / 1e6:.1f} MB"
    say(
        f"{folder}: {counted(made.pages, 'page')}, {counted(made.files, 'file')}, {size}.",
        f"Open {folder / 'index.html'} with a browser. Check it, in that folder, with:"
        " sha256sum -c SHA256SUMS",
    )
