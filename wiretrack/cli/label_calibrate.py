# SPDX-License-Identifier: MIT
"""``wiretrack label calibrate``: a page to hold a ruler to, and the offset taken back."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from wiretrack.cli import label_options as shared
from wiretrack.cli.options import json_option
from wiretrack.cli.output import print_json, say


@click.command("calibrate")
@shared.stock_option
@shared.stocks_option
@click.option("--out", type=click.Path(path_type=Path), help="Write the page to this .pdf file.")
@click.option("--printer", help="Print the page on a printer that CUPS knows.")
@click.option("--measured-x", help="From the page's left edge to the cross, such as 104.5 mm.")
@click.option("--measured-y", help="From the page's upper edge to the cross.")
@click.option("--save", type=click.Path(path_type=Path), help="Your stock file, made where new.")
@json_option
def calibrate(measured_x: str | None, measured_y: str | None, as_json: bool, **order: Any) -> None:
    """Print a page with a cross; told where a ruler finds it, keep what the printer is off by."""
    from wiretrack.tasks.label import calibration as tasks

    save = order.pop("save")
    if measured_x is None and measured_y is None and save is None:
        page = tasks.calibration_page(**order)
        if as_json:
            print_json(page)
        else:
            _show_page(page, order["stock"])
        return
    if measured_x is None or measured_y is None or save is None:
        raise click.UsageError("Give --measured-x, --measured-y and --save together.")
    kept = tasks.save_measured(
        order["stock"],
        order["user_files"],
        shared.millimetres(measured_x),
        shared.millimetres(measured_y),
        save,
    )
    if as_json:
        print_json(kept)
    else:
        say(
            f"{kept['name']} prints {kept['offset_x_mm']:+g} mm to the right and "
            f"{kept['offset_y_mm']:+g} mm downwards; labels take that back.",
            f"Saved. From now on: --stocks {kept['file']}",
        )


def _show_page(page: dict[str, Any], stock: str) -> None:
    say(
        f"{page['file'] or 'Printer ' + page['printer']}: print it at 100 %, on the stock itself.",
        f"The bar must be {page['bar_mm']:g} mm long; if not, the page was fitted or scaled.",
        f"Measure from the page's edge to the cross: {page['cross_x_mm']:g} mm from the left and "
        f"{page['cross_y_mm']:g} mm from the top is right.",
        f"Then: wiretrack label calibrate --stock {stock} --measured-x X --measured-y Y "
        "--save FILE",
    )
