# SPDX-License-Identifier: MIT
"""``wiretrack backup``: copies the registry while it is in use."""

from __future__ import annotations

from pathlib import Path

import click

from wiretrack.cli.options import json_option, opened
from wiretrack.cli.output import print_json, say


@click.command("backup")
@click.argument("file", type=click.Path(path_type=Path))
@json_option
@click.pass_obj
def command(db: Path, file: Path, as_json: bool) -> None:
    """Copy the registry to FILE while it is in use; FILE must be new."""
    from wiretrack.tasks.describe.sites import backup

    with opened(db) as registry:
        backup(registry, file)
    if as_json:
        print_json({"file": str(file), "bytes": file.stat().st_size})
    else:
        say(f"Copied {db} to {file} ({file.stat().st_size / 1024:.0f} kB).")
