# SPDX-License-Identifier: MIT
"""``check``, ``marking``, ``punchlist``, ``report`` and ``binder``: how the work stands."""

from __future__ import annotations

from itertools import groupby
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from wiretrack.cli.options import Answer, answers, wants_json
from wiretrack.cli.output import (
    OUTCOME_STYLES,
    counted,
    heading,
    indented,
    length,
    say,
    table,
)
from wiretrack.days import day, today, typed_day

if TYPE_CHECKING:
    from collections.abc import Sequence
    from datetime import date

    from wiretrack.electrical.findings import Finding
    from wiretrack.electrical.rules.marking import Marking
    from wiretrack.library import OpenSite
    from wiretrack.tasks.binder.binder import WrittenBinder
    from wiretrack.tasks.report.punchlist import OpenPoint
    from wiretrack.tasks.report.report import WrittenReport

FILE = click.Path(path_type=Path)
_ORDER = ("fail", "doubt", "pass")
_SHOWN = 12  # characters


@click.command()
@click.argument("what", required=False)
@click.option("--all", "show_all", is_flag=True, help="Show what passes too.")
@answers
def check(site: OpenSite, what: str | None, show_all: bool) -> Answer:
    """Check WHAT (all of the site if left out) against the rules of the site's code.

    The exit status is 1 if a rule is broken. The local code and a licensed electrician decide.
    """
    rows = site.check(what)
    failed = any(row.outcome == "fail" for row in rows)
    return Answer(rows, lambda: _show_checked(rows, show_all), status=int(failed))


def _show_checked(rows: list[Finding], show_all: bool) -> None:
    rows = sorted(rows, key=lambda row: _ORDER.index(row.outcome))
    for outcome, group in groupby(rows, key=lambda row: row.outcome):
        found = list(group)
        heading(outcome, str(len(found)))
        if outcome == "pass" and not show_all:
            _show_counts(found)
            continue
        for row in found:
            say(f"{row.rule}  {row.subject}  {_figures(row)}", style=OUTCOME_STYLES[outcome])
            indented(row.reason)
            indented(row.source, style="dim")
    if not rows:
        say("No rule applies. Record the site's rules (NEC and edition, or IEC) and its wiring.")
    say("The local code and a licensed electrician decide.")


def _show_counts(rows: list[Finding]) -> None:
    """Write how often each rule is kept, and the source of its limit."""
    by_rule: dict[str, list[Finding]] = {}
    for row in rows:
        by_rule.setdefault(row.rule, []).append(row)
    table(
        ("rule", "kept", "source"),
        ((rule, len(found), found[0].source) for rule, found in by_rule.items()),
    )
    say("Each with its figures: wiretrack check --all", style="dim")


def _figures(row: Finding) -> str:
    figure, limit, unit = row.figure, row.limit, row.unit
    if figure is None and limit is None:
        return ""
    shown = "–" if figure is None else f"{figure:.4g}"
    return f"{shown} {unit}, limit {limit:.4g} {unit}" if limit is not None else f"{shown} {unit}"


@click.command()
@click.argument("what", required=False)
@answers
def marking(site: OpenSite, what: str | None) -> Answer:
    """List the markings that the code demands on WHAT, by place along each run."""
    rows = site.markings(what)
    return Answer(rows, lambda: _show_markings(rows))


def _show_markings(rows: list[Marking]) -> None:
    from wiretrack.tasks.report.checking import counted as wordings

    if not rows:
        say("No marking is demanded here by the rules of this site.")
        return
    table(
        ("on", "at", "wording"),
        ((row.on, length(row.at_m) or "its cover", row.wording) for row in rows),
    )
    for wording, number in wordings(row.wording for row in rows).items():
        say(f"Order {number}: {wording}")
    say("By:", style="dim")
    indented(*dict.fromkeys(f"{row.source}: {row.note}" for row in rows), style="dim")


@click.command()
@answers
def punchlist(site: OpenSite) -> Answer:
    """List what is still open: ends to identify, land and label, tests owed or failed."""
    from wiretrack.tasks.report.punchlist import punch_list

    rows = punch_list(site.registry)
    return Answer(rows, lambda: _show_open(rows))


def _show_open(rows: Sequence[OpenPoint]) -> None:
    for what, group in groupby(rows, key=lambda row: row.what):
        members = list(group)
        heading(what, str(len(members)))
        table(
            ("tag", "", "since"),
            ((r.subject, r.detail, day(r.since, "") or None) for r in members),
        )
    if not rows:
        say("Nothing is open.")


@click.command()
@click.argument("circuit", required=False)
@click.option("--out", type=FILE, help="A .html or .pdf file.")
@click.option("--record", type=FILE, help="Write the site file it rests on.")
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
    return Answer(done, lambda: _show_report(done))


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


@click.command()
@click.argument("folder", metavar="DIR", type=FILE)
@click.option("--replace", is_flag=True, help="Take the place of an older, unchanged binder.")
@click.option("--date", "on", metavar="DATE", help="The date that it states; else today.")
@answers
def binder(site: OpenSite, folder: Path, replace: bool, on: str | None) -> Answer:
    """Write the site binder into DIR, a new or an empty folder.

    Its pages open with a browser alone, from a stick, without a network: start with index.html.
    Beside them lie the site file, CSV tables and a checksum list.
    """
    from wiretrack.tasks.binder.binder import write_binder

    made = write_binder(site.registry, folder, _date(on), replace=replace)
    return Answer(made, lambda: _show_binder(folder, made))


def _date(text: str | None) -> date:
    return today() if text is None else typed_day(text)


def _show_binder(folder: Path, made: WrittenBinder) -> None:
    size = f"{made.bytes / 1e6:.1f} MB"
    say(
        f"{folder}: {counted(made.pages, 'page')}, {counted(made.files, 'file')}, {size}.",
        f"Open {folder / 'index.html'} with a browser. Prove it whole, in that folder, with:"
        " sha256sum -c SHA256SUMS",
    )
