# SPDX-License-Identifier: MIT
"""``wiretrack report``: the verification report of a circuit or of the whole site."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from wiretrack.cli.options import json_option, opened, person
from wiretrack.cli.output import counted, print_json, say, table

_SHOWN = 12  # characters


@click.command("report")
@click.argument("circuit", required=False)
@click.option("--out", type=click.Path(path_type=Path), help="A .html or .pdf file.")
@click.option("--record", type=click.Path(path_type=Path), help="Write the site file it rests on.")
@click.option(
    "--page",
    type=click.Choice(("A4", "Letter")),
    help="Of a PDF; else Letter where the site measures in feet, A4 where not.",
)
@click.option("--by", help="Who makes the report; else the user's name.")
@json_option
@click.pass_obj
def command(
    db: Path,
    circuit: str | None,
    out: Path | None,
    record: Path | None,
    page: str | None,
    by: str | None,
    as_json: bool,
) -> None:
    """Write the verification report of CIRCUIT, or of the whole site, to be printed and signed.

    What the record can't know is left as ruled lines, to be filled in by hand. With --json and no
    --out the report itself is the document.
    """
    from wiretrack.tasks.report.report import report, write_report

    if out is None and (not as_json or record is not None):
        raise click.UsageError("Name the file: --out FILE.html or --out FILE.pdf.")
    who = by or person()
    with opened(db) as registry:
        if out is None:
            print_json(report(registry, circuit, by=who))
            return
        done = write_report(registry, circuit, out, paper=page, record=record, by=who)
    if as_json:
        print_json(done)
    else:
        _show(done)


def _show(done: dict[str, Any]) -> None:
    pages = f" on {counted(done['pages'], 'page')}" if done["pages"] else ""
    say(f"{done['file']}: {counted(done['circuits'], 'circuit')}{pages}.")
    if lacking := done["lacking"]:
        shown = " ".join(lacking[:_SHOWN]) + (" …" if len(lacking) > _SHOWN else "")
        say(
            f"Its typeface lacks {counted(len(lacking), 'character')} ({shown}), written there by"
            " number, like [U+4E2D]. A .html shows them.",
            style="yellow",
        )
    outcome = done["outcome"]
    table(
        ("judged", "pass", "in doubt", "fail"),
        (
            (name, *(outcome[key][word] for word in ("pass", "doubt", "fail")))
            for name, key in (("readings", "readings"), ("wiring rules", "findings"))
        ),
    )
    still = ", ".join(f"{what} {number}" for what, number in outcome["open"].items())
    say(f"Still open: {still or 'nothing'}.")
    if done["record"]:
        say(f"The record it rests on is in {done['record']}.")
    say(
        "The record's SHA-256 is printed in it:",
        f"    {done['record_sha256']}",
        "Fill in by hand what is ruled, then sign it.",
        "The local code and a licensed electrician decide.",
    )
