# SPDX-License-Identifier: MIT
"""``wiretrack label print``, ``preview`` and ``due``."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from wiretrack.cli import label_options as shared
from wiretrack.cli.changed import dates, why_due
from wiretrack.cli.options import json_option, opened
from wiretrack.cli.output import counted, print_json, say, table

if TYPE_CHECKING:
    from wiretrack.tasks.label.ends import Wanted
    from wiretrack.tasks.label.printing import LabelsPrinted


@click.command("print")
@shared.stock_option
@click.option("--out", type=click.Path(path_type=Path), help="A .pdf, .png or .svg file.")
@click.option("--printer", help="A printer that CUPS knows; see: lpstat -e")
@shared.wanted_options
@shared.page_option
@click.option("--start-at", type=int, default=1, help="First free label of a half-used sheet.")
@shared.stocks_option
@shared.contents_option
@shared.text_only_option
@json_option
@click.pass_obj
def print_labels(
    db: Path,
    /,
    wanted: Wanted,
    as_json: bool,
    **order: Any,
) -> None:
    """Draw the labels of WHAT, or those that are due; each code is read back before.

    Conductors' labels are noted as printed once the file is in place or the job is sent.
    """
    from wiretrack.tasks.label.printing import PrintOrder, print_wanted

    with opened(db) as registry:
        told = None if as_json else _say_no_address
        done = print_wanted(registry, wanted, PrintOrder(**order), no_address=told)
    if as_json:
        print_json(done)
    else:
        _show_printed(done)


def _say_no_address() -> None:
    """Say, once for a site, what a code without an address is good for."""
    click.echo(
        "Note: These codes hold WT: and a tag. A phone's camera opens nothing from them.\n"
        "wiretrack scan and the search box of the pages read them.\n"
        "Give labels an address first: wiretrack label address HOST:PORT",
        err=True,
    )


def _show_printed(done: LabelsPrinted) -> None:
    if not done.labels:
        waits = done.waiting or 0
        say("No label is due to be printed; nothing was printed.")
        if waits:
            say(
                f"{counted(waits, 'label')} printed before, not yet on."
                " Once on, say: wiretrack label placed WHAT"
            )
        return
    where = done.file or (done.job and f"Printer {done.job.printer}")
    say(
        f"{where}: {counted(done.labels, 'label')} on {counted(done.pages, 'page')}.",
        f"{counted(done.proofread, 'code')} read back; "
        f"smallest letter {done.smallest_letter_mm} mm high.",
    )
    told = {
        "done": "The job has left the spooler; look that all labels came out.",
        "printing": "The printer is still at it; look that all labels came out.",
        "sent": "The spooler took it and doesn't say how it fares; look that all labels came out.",
    }
    say(told[done.job.state] if done.job else "Print it at 100 %, never fitted to the page.")
    if done.noted:
        say("Once they are on their wires, say: wiretrack label placed WHAT")


@click.command("preview")
@shared.stock_option
@click.option("--out", type=click.Path(path_type=Path), help="Make a .png picture too.")
@click.option("--columns", type=int, help="Width of the preview, in signs.")
@click.option("--most", type=click.IntRange(1, 50), default=3, show_default=True, help="Labels.")
@shared.wanted_options
@shared.stocks_option
@shared.contents_option
@shared.text_only_option
@json_option
@click.pass_obj
def preview(
    db: Path,
    /,
    wanted: Wanted,
    columns: int | None,
    as_json: bool,
    **sight: Any,
) -> None:
    """Show the first labels of WHAT here, as they would be printed; nothing is noted."""
    from wiretrack.cli.output import console
    from wiretrack.tasks.label.printing import Sight, preview_wanted

    width = max(20, min(100, console().width)) if columns is None else columns
    with opened(db) as registry:
        seen = preview_wanted(registry, wanted, Sight(columns=width, **sight))
    if as_json:
        print_json(seen)
        return
    for label in seen.labels:
        end = f", {label.end} end" if label.end else ""
        say(f"{label.tag}{end}: {label.form}", style="bold")
        click.echo(label.preview)
    if seen.left_out:
        say(f"{seen.left_out} more aren't shown; --most shows more.")
    if seen.file:
        say(f"{seen.file} shows them too.")


@click.command("due")
@click.argument("what", required=False)
@json_option
@click.pass_obj
def due(db: Path, what: str | None, as_json: bool) -> None:
    """List the ends of WHAT, or of the site, with no label on or one that is no longer true."""
    from wiretrack.tasks.label.truth import label_due

    with opened(db) as registry:
        rows = label_due(registry, what)
    if as_json:
        print_json(rows)
        return
    if not rows:
        say("Every label is on and true.")
        return
    table(
        ("tag", "end", "place", "why", "printed", "put on"),
        ((row.tag, row.end, row.place, why_due(row), *dates(row)) for row in rows),
    )
    waits = sum(not row.to_print for row in rows)
    if waits < len(rows):
        which = "these" if not waits else f"the {len(rows) - waits} that aren't printed"
        say(f"Print just {which} with: wiretrack label print --due --stock STOCK --out FILE")
    if waits:
        say("Once a label is on its wire, say: wiretrack label placed WHAT")
