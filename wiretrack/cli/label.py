# SPDX-License-Identifier: MIT
"""``wiretrack label``: the stocks, which form fits, and where the codes lead."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from wiretrack.cli import label_options as shared
from wiretrack.cli.label_calibrate import calibrate
from wiretrack.cli.label_options import (
    contents_option,
    stock_option,
    stocks_option,
    text_only_option,
)
from wiretrack.cli.label_placed import placed
from wiretrack.cli.label_print import due, preview, print_labels
from wiretrack.cli.options import json_option, opened, person
from wiretrack.cli.output import indented, print_json, say, table

if TYPE_CHECKING:
    from pathlib import Path


@click.group("label")
def command() -> None:
    """Fit and print the labels for both ends, and for boxes, terminals and raceways."""


for _command in (print_labels, preview, placed, due, calibrate):
    command.add_command(_command)


@command.command("stocks")
@stocks_option
@json_option
def stocks(user_files: tuple[Path, ...], as_json: bool) -> None:
    """List the label stocks known here."""
    from wiretrack.tasks.label.labelling import stocks as known

    rows = known(user_files)
    if as_json:
        print_json(rows)
    else:
        table(
            ("stock", "form", "width mm", "height mm", "dpi", "page"),
            (
                (r["name"], r["form"], r["width_mm"], r["height_mm"], r["dpi"], r["page"])
                for r in rows
            ),
        )


@command.command("fit")
@click.argument("what", required=False)
@stock_option
@shared.wanted_options
@stocks_option
@contents_option
@text_only_option
@json_option
@click.pass_obj
def fit(
    db: Path,
    /,
    what: str | None,
    kind: str,
    pitch: str | None,
    terminals: str | None,
    due: bool,
    stock: str,
    user_files: tuple[Path, ...],
    as_json: bool,
    **wishes: Any,
) -> None:
    """Say which form fits each end of WHAT on a stock, and why."""
    from wiretrack.tasks.label.labelling import fit_labels

    chosen = shared.wanted(what, kind, pitch, terminals, due)
    with opened(db) as registry:
        rows = fit_labels(registry, chosen, stock, user_files, **wishes)
    if as_json:
        print_json(rows)
    else:
        _show_fit(rows)


def _show_fit(rows: list[dict[str, Any]]) -> None:
    """Write the forms as a table, then each reason once with the ends that it holds for."""
    table(
        ("tag", "end", "form", "QR version", "module mm", "arc °", "on stock"),
        (
            (
                r["tag"],
                r["end"],
                r["form"],
                r["qr_version"],
                r["module_mm"],
                r["arc_deg"],
                r["instead"] or ("this one" if r["printable"] else "none known"),
            )
            for r in rows
        ),
    )
    reasons: dict[str, list[str]] = {}
    for row in rows:
        reasons.setdefault(row["reason"], []).append(
            " ".join(filter(None, (row["tag"], row["end"])))
        )
    for reason, ends in reasons.items():
        say(f"{', '.join(ends)}:")
        indented(reason)


@command.command("address")
@click.argument("address")
@json_option
@click.pass_obj
def address(db: Path, address: str, as_json: bool) -> None:
    """Set the ADDRESS (host and port) that the labels' codes lead to."""
    from wiretrack.tasks.label.labelling import set_base_address

    with opened(db) as registry:
        kept = set_base_address(registry, address, who=person())
    if as_json:
        print_json({"base_address": kept})
    else:
        say(f"Labels printed from now on lead to {kept}/TAG.")
