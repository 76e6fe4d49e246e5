# SPDX-License-Identifier: MIT
"""``wiretrack binder``: the whole registry as pages that open from a folder."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import click

from wiretrack.cli.options import json_option, opened
from wiretrack.cli.output import counted, print_json, say
from wiretrack.days import today
from wiretrack.errors import BadInputError


@click.command("binder")
@click.argument("folder", metavar="DIR", type=click.Path(path_type=Path))
@click.option("--replace", is_flag=True, help="Take the place of an older, unchanged binder.")
@click.option("--date", "on", metavar="DATE", help="The date that it states; else today.")
@json_option
@click.pass_obj
def command(db: Path, folder: Path, replace: bool, on: str | None, as_json: bool) -> None:
    """Write the site binder into DIR, a new or an empty folder.

    Its pages open with a browser alone, from a stick, without a network: start with index.html.
    Beside them lie the site file, CSV tables and a checksum list.
    """
    from wiretrack.tasks.binder.binder import write_binder

    stated = _date(on)
    with opened(db) as registry:
        made = write_binder(registry, folder, stated, replace=replace)
    if as_json:
        print_json(made)
        return
    size = f"{made.bytes / 1e6:.1f} MB"
    say(
        f"{folder}: {counted(made.pages, 'page')}, {counted(made.files, 'file')}, {size}.",
        f"Open {folder / 'index.html'} with a browser. Prove it whole, in that folder, with:"
        " sha256sum -c SHA256SUMS",
    )


def _date(text: str | None) -> date:
    if text is None:
        return today()
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise BadInputError(f"'{text}' is not a date. Write it like 2026-05-02.") from None
