# SPDX-License-Identifier: MIT
"""Options that the ``wiretrack label`` commands share."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from wiretrack.labels.forms import KINDS
from wiretrack.labels.subject import CONTENTS

if TYPE_CHECKING:
    from collections.abc import Callable

    from wiretrack.tasks.label.ends import Wanted

stock_option = click.option("--stock", required=True, help="See: wiretrack label stocks")
stocks_option = click.option(
    "--stocks",
    "user_files",
    multiple=True,
    type=click.Path(path_type=Path),
    envvar="WIRETRACK_STOCKS",
    help="A file with label stocks of your own; may be repeated.",
)
contents_option = click.option(
    "--contents",
    type=click.Choice(CONTENTS),
    default="full",
    show_default=True,
    help="How much the legend says.",
)
text_only_option = click.option("--text-only", is_flag=True, help="A legend without a QR code.")
page_option = click.option(
    "--page", type=click.Choice(("A4", "Letter")), help="Put roll labels on plain paper."
)
_KIND = click.option(
    "--kind",
    type=click.Choice(tuple(KINDS)),
    default=next(iter(KINDS)),
    show_default=True,
    help="Which labels; plate takes ENCLOSURE, ENCLOSURE/DEVICE or 'ENCLOSURE/*'.",
)
_PITCH = click.option("--pitch", help="Terminals' pitch, such as 6 mm.")
_TERMINALS = click.option(
    "--terminals", help="Texts of a terminal strip, with commas; empty for a gap."
)
_DUE = click.option("--due", is_flag=True, help="Only ends that need a label printed.")


def wanted_options(command: Callable[..., Any]) -> Callable[..., Any]:
    """Add the options by which labels are chosen: kind, pitch, terminals, due."""
    for option in (_DUE, _TERMINALS, _PITCH, _KIND):
        command = option(command)
    return command


def wanted(
    what: str | None, kind: str, pitch: str | None, terminals: str | None, due: bool
) -> Wanted:
    """Return which labels are wanted, as the tasks take it."""
    from wiretrack.tasks.label.ends import Wanted

    texts = tuple(text.strip() for text in terminals.split(",")) if terminals else ()
    pitch_mm = None if pitch is None else millimetres(pitch)
    return Wanted(what=what, kind=kind, due=due, pitch_mm=pitch_mm, terminals=texts)


def millimetres(text: str) -> float:
    """Return a length in mm; a bare number is in mm."""
    from wiretrack.electrical.quantities import parse_length_m

    return round(parse_length_m(text, "mm") * 1000, 4)
