# SPDX-License-Identifier: MIT
"""``wiretrack label``: which form fits, drawing and proof-reading the labels."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from wiretrack.cli.options import json_option, opened, person
from wiretrack.cli.output import counted, indented, print_json, say, table

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
    type=click.Choice(("full", "short", "tag")),
    default="full",
    show_default=True,
    help="How much the legend says.",
)
text_only_option = click.option("--text-only", is_flag=True, help="A legend without a QR code.")


@click.group("label")
def command() -> None:
    """Fit and print the labels for both ends."""


@command.command("stocks")
@stocks_option
@json_option
def stocks(user_files: tuple[Path, ...], as_json: bool) -> None:
    """List the label stocks known here."""
    from wiretrack.tasks.labelling import stocks as known

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
@click.argument("what")
@stock_option
@stocks_option
@contents_option
@text_only_option
@json_option
@click.pass_obj
def fit(
    db: Path, /, what: str, stock: str, user_files: tuple[Path, ...], as_json: bool, **wishes: Any
) -> None:
    """Say which form fits each end of WHAT on a stock, and why."""
    from wiretrack.tasks.labelling import fit_labels

    with opened(db) as registry:
        rows = fit_labels(registry, what, stock, user_files, **wishes)
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
        reasons.setdefault(row["reason"], []).append(f"{row['tag']} {row['end']}")
    for reason, ends in reasons.items():
        say(f"{', '.join(ends)}:")
        indented(reason)


@command.command("print")
@click.argument("what")
@stock_option
@click.option("--out", required=True, type=click.Path(path_type=Path), help="A .pdf or .png file.")
@click.option("--page", type=click.Choice(("A4", "Letter")), help="Put roll labels on plain paper.")
@click.option("--start-at", type=int, default=1, help="First free label of a half-used sheet.")
@stocks_option
@contents_option
@text_only_option
@json_option
@click.pass_obj
def print_labels(
    db: Path, /, what: str, stock: str, out: Path, as_json: bool, **options: Any
) -> None:
    """Draw the labels for every end of WHAT; each code is read back before the file is kept."""
    from wiretrack.tasks.labelling import print_to_file

    with opened(db) as registry:
        done = print_to_file(registry, what, stock, out, **options)
    if as_json:
        print_json(done)
    else:
        say(
            f"{done['file']}: {counted(done['labels'], 'label')} on "
            f"{counted(done['pages'], 'page')}.",
            f"{done['proofread']} codes read back; "
            f"smallest letter {done['smallest_letter_mm']} mm high.",
            "Print it at 100 %, never fitted to the page.",
        )


@command.command("address")
@click.argument("address")
@json_option
@click.pass_obj
def address(db: Path, address: str, as_json: bool) -> None:
    """Set the ADDRESS (host and port) that the labels' codes lead to."""
    from wiretrack.tasks.labelling import set_base_address

    with opened(db) as registry:
        kept = set_base_address(registry, address, who=person())
    if as_json:
        print_json({"base_address": kept})
    else:
        say(f"Labels printed from now on lead to {kept}/TAG.")
