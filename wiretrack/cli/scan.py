# SPDX-License-Identifier: MIT
"""``wiretrack scan``: from a photograph to the records."""

from __future__ import annotations

from pathlib import Path

import click

from wiretrack.cli.options import json_option, opened
from wiretrack.cli.output import print_json, say
from wiretrack.cli.show import show_conductor, show_enclosure


@click.command("scan")
@click.argument("image", type=click.Path(path_type=Path))
@json_option
@click.pass_obj
def command(db: Path, image: Path, as_json: bool) -> None:
    """Read the QR codes in the photograph IMAGE and show the conductors and boxes they lead to."""
    from wiretrack.tasks.find.scanning import scan

    with opened(db) as registry:
        found = scan(registry, image)
    if as_json:
        print_json(found)
        return
    for item in found:
        known = item["tag"] or item["enclosure"]
        if item["record"]:
            show = show_conductor if item["tag"] else show_enclosure
            show(item["record"])
        elif known:
            say(f"{known} is not in {db}. Its label may belong to another site.")
        else:
            say(f"'{item['payload']}' is no wiretrack label.")
    if not found:
        say(f"No code was found in {image}. Go closer, hold still, avoid glare; or type the tag.")
