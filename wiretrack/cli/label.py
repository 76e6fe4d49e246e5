# SPDX-License-Identifier: MIT
"""``wiretrack label``: stocks, which form fits, where codes lead, which labels are on."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from wiretrack.cli.label_options import (
    contents_option,
    millimetres,
    stock_option,
    stocks_option,
    text_only_option,
    wanted_options,
)
from wiretrack.cli.label_print import due, preview, print_labels
from wiretrack.cli.options import json_option, one_of, opened, person
from wiretrack.cli.output import counted, indented, print_json, say, table

if TYPE_CHECKING:
    from wiretrack.store.store import Registry
    from wiretrack.tasks.label.calibration import PageMade
    from wiretrack.tasks.label.ends import Wanted
    from wiretrack.tasks.label.placing import Ends, Placing, TakenBack
    from wiretrack.tasks.label.printing import Fitted


@click.group("label")
def command() -> None:
    """Fit and print the labels for both ends, and for boxes, terminals and raceways."""


for _command in (print_labels, preview, due):
    command.add_command(_command)


@command.command("stocks")
@stocks_option
@json_option
def stocks(user_files: tuple[Path, ...], as_json: bool) -> None:
    """List the label stocks known here."""
    from wiretrack.tasks.label.printing import stocks as known

    rows = known(user_files)
    if as_json:
        print_json(rows)
    else:
        table(
            ("stock", "form", "width mm", "height mm", "dpi", "page"),
            (
                (s.name, s.form, s.width_mm, s.height_mm, s.dpi, s.sheet and s.sheet.page)
                for s in rows
            ),
        )


@command.command("fit")
@stock_option
@wanted_options
@stocks_option
@contents_option
@text_only_option
@json_option
@click.pass_obj
def fit(
    db: Path,
    /,
    wanted: Wanted,
    stock: str,
    user_files: tuple[Path, ...],
    as_json: bool,
    **wishes: Any,
) -> None:
    """Say which form fits each end of WHAT on a stock, and why."""
    from wiretrack.labels.pages import Wishes
    from wiretrack.tasks.label.printing import fit_labels

    with opened(db) as registry:
        rows = fit_labels(registry, wanted, stock, user_files, Wishes(**wishes))
    if as_json:
        print_json(rows)
    else:
        _show_fit(rows)


def _show_fit(rows: list[Fitted]) -> None:
    """Write the forms as a table, then each reason once with the ends that it holds for."""
    found = [row.as_json() for row in rows]
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
            for r in found
        ),
    )
    reasons: dict[str, list[str]] = {}
    for row in rows:
        ends = reasons.setdefault(row.fit.why, [])
        ends.append(" ".join(filter(None, (row.fit.tag, row.fit.end))))
    for reason, ends in reasons.items():
        say(f"{', '.join(ends)}:")
        indented(reason)


@command.command("address")
@click.argument("address")
@json_option
@click.pass_obj
def address(db: Path, address: str, as_json: bool) -> None:
    """Set the ADDRESS (host and port) that the labels' codes lead to."""
    from wiretrack.tasks.label.printing import set_base_address

    with opened(db) as registry:
        kept = set_base_address(registry, address, who=person())
    if as_json:
        print_json({"base_address": kept})
    else:
        say(f"Labels printed from now on lead to {kept}/TAG.")


@command.command("calibrate")
@stock_option
@stocks_option
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
        millimetres(measured_x),
        millimetres(measured_y),
        save,
    )
    if as_json:
        print_json(kept)
    else:
        say(
            f"{kept.name} prints {kept.offset_x_mm:+g} mm to the right and "
            f"{kept.offset_y_mm:+g} mm downwards; labels take that back.",
            f"Saved. From now on: --stocks {kept.file}",
        )


def _show_page(page: PageMade, stock: str) -> None:
    where = page.file or (page.job and f"Printer {page.job.printer}")
    say(
        f"{where}: print it at 100 %, on the stock itself.",
        f"The bar must be {page.bar_mm:g} mm long; if not, the page was fitted or scaled.",
        f"Measure from the page's edge to the cross: {page.cross_x_mm:g} mm from the left and "
        f"{page.cross_y_mm:g} mm from the top is right.",
        f"Then: wiretrack label calibrate --stock {stock} --measured-x X --measured-y Y "
        "--save FILE",
    )


@command.command("placed")
@click.argument("what")
@click.option("--end", type=click.Choice(("from", "to")), help="Only this end.")
@click.option("--by-hand", is_flag=True, help="The label is written by hand, none was printed.")
@click.option("--take-back", is_flag=True, help="No label is on: it was a mistake, or it came off.")
@json_option
@click.pass_obj
def placed(
    db: Path, /, what: str, end: str | None, by_hand: bool, take_back: bool, as_json: bool
) -> None:
    """Say that the labels of WHAT are on their wires; a file drawn is no label on a wire.

    A printed label must still say what the record says. One written by hand counts as saying so.
    """
    from wiretrack.tasks.label.placing import Ends, place_labels, take_back_labels

    one_of(**{"by-hand": by_hand, "take-back": take_back})
    ends = Ends(what, end)
    with opened(db) as registry:
        done: Placing | TakenBack
        if take_back:
            done = take_back_labels(registry, ends, who=person())
        else:
            asks = not as_json and sys.stdin.isatty() and sys.stdout.isatty()
            leave = asks and _asked(registry, ends, by_hand)
            done = place_labels(registry, ends, by_hand=by_hand, leave_out=leave, who=person())
    if as_json:
        print_json(done)
    else:
        _show_noted(done)


def _asked(registry: Registry, ends: Ends, by_hand: bool) -> bool:
    """Ask whether to note the labels that can be, where others can't."""
    from wiretrack.tasks.label.placing import look_at_labels, why_left_out

    found = look_at_labels(registry, ends, by_hand=by_hand)
    if not (found.left_out and found.placed):
        return False
    say(why_left_out(found))
    return click.confirm(f"Note the other {counted(len(found.placed), 'label')}?", default=True)


def _show_noted(done: Placing | TakenBack) -> None:
    from wiretrack.tasks.label.placing import TakenBack

    if isinstance(done, TakenBack):
        count = len(done.taken_back)
        say(f"Noted: {counted(count, 'end')} {'has' if count == 1 else 'have'} no label on.")
        return
    count, before = len(done.placed), len(done.already)
    if count:
        say(f"Noted: {counted(count, 'label')} {'is' if count == 1 else 'are'} on.")
    if before:
        say(f"{counted(before, 'label')} {'was' if before == 1 else 'were'} noted before.")
    if done.left_out:
        say(f"{counted(len(done.left_out), 'end')} left out.")
