# SPDX-License-Identifier: MIT
"""Options that the ``wiretrack label`` commands share."""

from __future__ import annotations

from functools import wraps
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from wiretrack.labels.forms import KINDS
from wiretrack.labels.subject import CONTENTS

if TYPE_CHECKING:
    from collections.abc import Callable

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
    """Add what is to be labelled and of which kind; the command takes it as `wanted`."""

    @wraps(command)
    def with_wanted(
        *context: Any, what: str | None, pitch: str | None, terminals: str | None, **more: Any
    ) -> Any:
        """Gather what is wanted, then run the command."""
        from wiretrack.tasks.label.ends import Wanted

        wanted = Wanted(
            what=what,
            kind=more.pop("kind"),
            due=more.pop("due"),
            pitch_mm=None if pitch is None else millimetres(pitch),
            terminals=tuple(map(str.strip, terminals.split(","))) if terminals else (),
        )
        return command(*context, wanted=wanted, **more)

    for option in (_DUE, _TERMINALS, _PITCH, _KIND, click.argument("what", required=False)):
        with_wanted = option(with_wanted)
    return with_wanted


def millimetres(text: str) -> float:
    """Return a length in mm; a bare number is in mm."""
    from wiretrack.electrical.quantities import parse_length_m

    return round(parse_length_m(text, "mm") * 1000, 4)
