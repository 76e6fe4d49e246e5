# SPDX-License-Identifier: MIT
"""``note`` and ``attach``: a remark, a picture or a document with any record."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from wiretrack.cli.asking import ask, can_ask
from wiretrack.cli.command import Command
from wiretrack.cli.options import Answer, answers
from wiretrack.cli.output import say

if TYPE_CHECKING:
    from wiretrack.library import OpenSite

FILE = click.Path(path_type=Path)


@click.command(cls=Command)
@click.argument("what", required=False)
@click.argument("text", required=False)
@click.option("--take-back", metavar="ID", help="The note or attachment that holds no longer.")
@answers
def note(site: OpenSite, what: str | None, text: str | None, take_back: str | None) -> Answer:
    """Keep the remark TEXT with any record: WHAT is a tag, a code, BOX/CODE, or site."""
    if what is not None and text is None and can_ask():
        text = ask("Note")
    if text is not None and what is not None:
        kept = site.note(what, text, instead=take_back)
        return Answer(kept, lambda: say(f"Noted with {what}."), then=("show", what))
    if take_back is None or what is not None:
        raise click.UsageError("Give WHAT it is of and the TEXT, or --take-back ID.")
    kept = site.take_back(take_back)
    return Answer(kept, lambda: say(f"{take_back} is taken back. It stays in the log."))


@click.command(cls=Command)
@click.argument("what", required=False)
@click.argument("file", type=FILE, required=False)
@click.option("--get", metavar="ID", help="Give back what was attached, as it is kept.")
@click.option("--out", type=FILE, help="The new file to write it to.")
@answers
def attach(
    site: OpenSite, what: str | None, file: Path | None, get: str | None, out: Path | None
) -> Answer:
    """Keep the picture or PDF FILE with any record: WHAT is a tag, a code, BOX/CODE, or site.

    A picture is turned upright and scaled to 2048 dots; what its file says beside it is dropped.
    """
    from wiretrack.tasks.describe.remarks import give_back

    if what is not None and file is not None and get is None and out is None:
        kept = site.attach(what, file)
        told = f"Attached to {what}. Get it back: wiretrack attach --get {kept.id[:8]} --out FILE"
        return Answer(kept, lambda: say(told), then=("show", what))
    if get is None or out is None or what is not None:
        raise click.UsageError("Give WHAT and the FILE, or --get ID and --out FILE.")
    found = give_back(site.registry, get, out)
    size = out.stat().st_size
    return Answer(
        {"id": found.id, "name": found.name, "type": found.type, "file": str(out), "bytes": size},
        lambda: say(f"Wrote {found.name} ({size / 1024:.0f} kB) to {out}."),
    )
