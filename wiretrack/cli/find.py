# SPDX-License-Identifier: MIT
"""``wiretrack find``: full-text look-up over everything."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from wiretrack.cli.options import json_option, opened
from wiretrack.cli.output import print_json, say, table

if TYPE_CHECKING:
    from pathlib import Path


@click.command("find")
@click.argument("words", nargs=-1, required=True, metavar="TEXT...")
@json_option
@click.pass_obj
def command(db: Path, words: tuple[str, ...], as_json: bool) -> None:
    """Look TEXT up in everything recorded; beginnings of words are enough."""
    from wiretrack.tasks.find.looking import FIND_LIMIT, find

    with opened(db) as registry:
        hits = find(registry, " ".join(words))
    if as_json:
        print_json(hits)
    elif hits:
        table(("what", "code", "text"), (list(hit.values()) for hit in hits))
        if len(hits) == FIND_LIMIT:
            say(f"These are the first {FIND_LIMIT}. More words find fewer.", style="dim")
    else:
        say(f"Nothing carries '{' '.join(words)}'. Try fewer words, or the beginning of one.")
