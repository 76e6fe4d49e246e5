# SPDX-License-Identifier: MIT
"""``label``: stocks, which form fits, printing, where codes lead, which labels are on."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from wiretrack.cli.asking import can_ask, confirm
from wiretrack.cli.change import dates, why_due
from wiretrack.cli.command import Group
from wiretrack.cli.options import (
    Answer,
    a_screen,
    answers,
    either,
    force_option,
    next_of,
    prints,
    together,
    wants_json,
)
from wiretrack.cli.output import counted, indented, say, table
from wiretrack.cli.wording import advice
from wiretrack.labels.forms import KINDS
from wiretrack.labels.subject import CONTENTS

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from wiretrack.labels.plan import Stock
    from wiretrack.library import OpenSite
    from wiretrack.tasks.label.ends import DueLabel, Ends, Placing, TakenBack, Wanted
    from wiretrack.tasks.label.printing import Fitted, LabelsPrinted, PageMade, Preview, SavedOffset

FILE = click.Path(path_type=Path)


@click.group(cls=Group)
def label() -> None:
    """Fit and print the labels for both ends, and for boxes, terminals and raceways."""


def millimetres(text: str) -> float:
    """Return a length in mm; a bare number is in mm."""
    from wiretrack.electrical.quantities import parse_length_m

    return round(parse_length_m(text, "mm") * 1000, 4)


def _wanted(pitch: str | None, terminals: str | None, **more: Any) -> Wanted:
    from wiretrack.tasks.label.ends import Wanted

    return Wanted(
        pitch_mm=None if pitch is None else millimetres(pitch),
        terminals=tuple(map(str.strip, terminals.split(","))) if terminals else (),
        **more,
    )


stock_option = click.option(
    "--stock", required=True, help="Asked for on a terminal. See: wiretrack label stocks"
)
stocks_option = click.option(
    "--stocks",
    "user_files",
    multiple=True,
    type=FILE,
    envvar="WIRETRACK_STOCKS",
    help="A file with label stocks of your own; may be repeated.",
)
wanted_options = together(
    "wanted",
    _wanted,
    click.argument("what", required=False),
    click.option(
        "--kind",
        type=click.Choice(tuple(KINDS)),
        default=next(iter(KINDS)),
        show_default=True,
        help="Which labels; plate takes ENCLOSURE, ENCLOSURE/DEVICE or 'ENCLOSURE/*'.",
    ),
    click.option("--pitch", help="Terminals' pitch, such as 6 mm."),
    click.option("--terminals", help="Texts of a terminal strip, with commas; empty for a gap."),
    click.option("--due", is_flag=True, help="Only ends that need a label printed."),
)


def look_options(command: Callable[..., Any]) -> Callable[..., Any]:
    """Add what is known of stocks, and how much a label says."""
    contents = click.option(
        "--contents",
        type=click.Choice(CONTENTS),
        default="full",
        show_default=True,
        help="How much the legend says.",
    )
    text_only = click.option("--text-only", is_flag=True, help="A legend without a QR code.")
    return stocks_option(contents(text_only(command)))


@label.command("print")
@stock_option
@click.option("--out", type=FILE, help="A .pdf, .png or .svg file.")
@force_option
@click.option("--printer", help="A printer that CUPS knows; see: lpstat -e")
@wanted_options
@click.option("--page", type=click.Choice(("A4", "Letter")), help="Put roll labels on plain paper.")
@click.option("--start-at", type=int, default=1, help="First free label of a half-used sheet.")
@look_options
@answers
def print_labels(site: OpenSite, /, wanted: Wanted, **order: Any) -> Answer:
    """Draw the labels of WHAT, or those that are due; each code is read back before.

    Conductors' labels are noted as printed once the file is in place or the job is sent.
    """
    from wiretrack.tasks.label.printing import PrintOrder, print_wanted

    told = None if wants_json() else _say_no_address
    done = print_wanted(site.registry, wanted, PrintOrder(**order), no_address=told, who=site.who)
    then = ("placed", wanted.what or "WHAT") if done.noted or done.waiting else None
    return Answer(done, lambda: _show_printed(done), then=then)


def _say_no_address() -> None:
    """Say, once for a site, what a code without an address is good for."""
    click.echo(
        "Note: These codes hold WT: and a tag. A phone's camera opens nothing from them.\n"
        "wiretrack scan and the search box of the pages read them.\n"
        "Give labels an address first: wiretrack label address HOST:PORT",
        err=True,
    )


def _show_printed(done: LabelsPrinted) -> None:
    if not done.labels:
        say("No label is due to be printed; nothing was printed.")
        if done.waiting:
            say(f"{counted(done.waiting, 'label')} printed before, not yet on.")
        return
    where = done.file or (done.job and f"Printer {done.job.printer}")
    codes = f"{counted(done.proofread, 'code')} read back" if done.proofread else "No QR code"
    say(
        f"{where}: {counted(done.labels, 'label')} on {counted(done.pages, 'page')}.",
        f"{codes}; smallest letter {done.smallest_letter_mm} mm high.",
    )
    told = {
        "done": "The job has left the spooler; look that all labels came out.",
        "printing": "The printer is still at it; look that all labels came out.",
        "sent": "The spooler took it and doesn't say how it fares; look that all labels came out.",
    }
    say(told[done.job.state] if done.job else "Print it at 100 %, never fitted to the page.")


@label.command()
@stock_option
@click.option("--out", type=FILE, help="Make a .png picture too.")
@force_option
@click.option("--columns", type=int, help="Width of the preview, in characters.")
@click.option("--most", type=click.IntRange(1, 50), default=3, show_default=True, help="Labels.")
@wanted_options
@look_options
@answers
def preview(site: OpenSite, /, wanted: Wanted, columns: int | None, **sight: Any) -> Answer:
    """Show the first labels of WHAT here, as they would be printed; nothing is noted."""
    from wiretrack.cli.output import console
    from wiretrack.tasks.label.printing import Sight, preview_wanted

    width = max(20, min(100, console().width)) if columns is None else columns
    seen = preview_wanted(site.registry, wanted, Sight(columns=width, **sight))
    then = ("print", wanted.what, sight["stock"])
    return Answer(seen, lambda: _show_preview(seen), then=then)


def _show_preview(seen: Preview) -> None:
    for one in seen.labels:
        end = f", {one.end} end" if one.end else ""
        say(f"{one.tag}{end}: {one.form}", style="bold")
        click.echo(one.preview)
    if seen.left_out:
        say(f"{seen.left_out} more aren't shown; --most shows more.")
    if seen.file:
        say(f"{seen.file} shows them too.")


@label.command()
@click.argument("what", required=False)
@answers
@a_screen
def due(site: OpenSite, what: str | None) -> Answer:
    """List the ends of WHAT, or of the site, with no label on or one that is no longer true."""
    from wiretrack.store.label_log import last_stock
    from wiretrack.tasks.label.ends import label_due

    rows = label_due(site.registry, what)
    job = ("placed", what or rows[0].tag) if rows else None
    if any(row.to_print for row in rows):
        job = ("due", last_stock(site.registry) or "")
    return Answer(rows, lambda: _show_due(rows), then=job if job else None)


def _show_due(rows: Sequence[DueLabel]) -> None:
    if not rows:
        say("Every label is on and true.")
        return
    if wanted := sum(row.to_print for row in rows):
        say(f"{counted(wanted, 'label')} to print.")
    if waits := len(rows) - wanted:
        say(f"{counted(waits, 'label')} printed, not yet on. Once on: wiretrack label placed WHAT")
    table(
        ("tag", "end", "place", "why", "printed", "put on"),
        ((row.tag, row.end, row.place, why_due(row), *dates(row)) for row in rows),
    )


@label.command()
@stocks_option
@prints
@a_screen
def stocks(_: Path, /, user_files: tuple[Path, ...]) -> Answer:
    """List the label stocks known here."""
    from wiretrack.tasks.label import printing

    rows = printing.stocks(user_files)
    return Answer(rows, lambda: _show_stocks(rows), then=("fit", rows[0].name))


def _show_stocks(rows: Sequence[Stock]) -> None:
    table(
        ("stock", "form", "width mm", "height mm", "dpi", "page"),
        ((s.name, s.form, s.width_mm, s.height_mm, s.dpi, s.sheet and s.sheet.page) for s in rows),
    )


@label.command()
@stock_option
@wanted_options
@look_options
@answers
@a_screen
def fit(
    site: OpenSite, /, wanted: Wanted, stock: str, user_files: tuple[Path, ...], **wishes: Any
) -> Answer:
    """Say which form fits each end of WHAT on a stock, and why."""
    from wiretrack.labels.output import Wishes
    from wiretrack.tasks.label.printing import fit_labels

    rows = fit_labels(site.registry, wanted, stock, user_files, Wishes(**wishes))
    then = ("print", wanted.what, stock)
    return Answer(rows, lambda: _show_fit(rows), then=then)


def _show_fit(rows: Sequence[Fitted]) -> None:
    """Write the forms as a table, then each reason once with the ends that it holds for."""
    shown = ("tag", "end", "form", "qr_version", "module_mm", "arc_deg")
    found = [row.as_json() for row in rows]
    table(
        ("tag", "end", "form", "QR version", "module mm", "arc °", "on stock"),
        (
            (
                *(r[name] for name in shown),
                r["instead"] or ("this one" if r["printable"] else "none known"),
            )
            for r in found
        ),
    )
    reasons: dict[str, list[str]] = {}
    for row in rows:
        ends = reasons.setdefault(row.fit.told(advice), [])
        ends.append(" ".join(filter(None, (row.fit.tag, row.fit.end))))
    for reason, ends in reasons.items():
        say(f"{', '.join(ends)}:")
        indented(reason)


@label.command()
@click.argument("address")
@answers
def address(site: OpenSite, address: str) -> Answer:
    """Set the ADDRESS (host and port) that the labels' codes lead to."""
    from wiretrack.store.label_log import last_stock
    from wiretrack.tasks.label.printing import set_base_address

    kept = set_base_address(site.registry, address, who=site.who)
    told = f"Labels printed from now on lead to {kept}/TAG."
    then = ("due", last_stock(site.registry))
    return Answer({"base_address": kept}, lambda: say(told), then=then)


@label.command()
@stock_option
@stocks_option
@click.option("--out", type=FILE, help="Write the page to this .pdf file.")
@force_option
@click.option("--printer", help="Print the page on a printer that CUPS knows.")
@click.option("--measured-x", help="From the page's left edge to the cross, such as 104.5 mm.")
@click.option("--measured-y", help="From the page's upper edge to the cross.")
@click.option("--save", type=FILE, help="Your stock file, made where new.")
@prints
def calibrate(_: Path, /, stock: str, user_files: tuple[Path, ...], **order: Any) -> Answer:
    """Print a page with a cross; told where a ruler finds it, keep what the printer is off by."""
    from wiretrack.tasks.label import printing as tasks

    across, down, save = (order.pop(name) for name in ("measured_x", "measured_y", "save"))
    if across is None and down is None and save is None:
        page = tasks.calibration_page(stock, user_files, **order)
        return Answer(page, lambda: _show_page(page), then=("offset", stock))
    if across is None or down is None or save is None:
        raise click.UsageError("Give --measured-x, --measured-y and --save together.")
    kept = tasks.save_measured(stock, user_files, millimetres(across), millimetres(down), save)
    then = ("print-mine", kept.name, kept.file)
    return Answer(kept, lambda: _show_saved(kept), then=then)


def _show_page(page: PageMade) -> None:
    where = page.file or (page.job and f"Printer {page.job.printer}")
    say(
        f"{where}: print it at 100 %, on the stock itself.",
        f"The bar must be {page.bar_mm:g} mm long; if not, the page was fitted or scaled.",
        f"Measure from the page's edge to the cross: {page.cross_x_mm:g} mm from the left and "
        f"{page.cross_y_mm:g} mm from the top is right.",
    )


def _show_saved(kept: SavedOffset) -> None:
    say(
        f"{kept.name} prints {kept.offset_x_mm:+g} mm to the right and "
        f"{kept.offset_y_mm:+g} mm downwards; labels take that back.",
        f"Saved in {kept.file}.",
    )


@label.command()
@click.argument("what")
@click.option("--end", type=click.Choice(("from", "to")), help="Only this end.")
@either(
    "how",
    by_hand="The label is written by hand, none was printed.",
    take_back="No label is on: it was a mistake, or it came off.",
)
@answers
def placed(site: OpenSite, what: str, end: str | None, how: str | None) -> Answer:
    """Say that the labels of WHAT are on their wires; a file drawn is no label on a wire.

    A printed label must still say what the record says. One written by hand counts as saying so.
    """
    from wiretrack.tasks.label.ends import Ends, place_labels, take_back_labels

    ends, by_hand = Ends(what, end), how == "by_hand"
    if how == "take_back":
        back = take_back_labels(site.registry, ends, who=site.who)
        return Answer(back, lambda: _show_taken_back(back), then=("due-list", what))
    leave = can_ask() and _asked(site, ends, by_hand)
    done = place_labels(site.registry, ends, by_hand=by_hand, leave_out=leave, who=site.who)
    return Answer(done, lambda: _show_placed(done), then=lambda: next_of(site, what))


def _asked(site: OpenSite, ends: Ends, by_hand: bool) -> bool:
    """Ask whether to note the labels that can be, where others can't."""
    from wiretrack.tasks.label.ends import look_at_labels, why_left_out

    found = look_at_labels(site.registry, ends, by_hand=by_hand)
    if not (found.left_out and found.placed):
        return False
    say(why_left_out(found))
    return confirm(f"Note the other {counted(len(found.placed), 'label')}?")


def _show_taken_back(done: TakenBack) -> None:
    count = len(done.taken_back)
    say(f"Noted: {counted(count, 'end')} {'has' if count == 1 else 'have'} no label on.")


def _show_placed(done: Placing) -> None:
    count, before = len(done.placed), len(done.already)
    if count:
        say(f"Noted: {counted(count, 'label')} {'is' if count == 1 else 'are'} on.")
    if before:
        say(f"{counted(before, 'label')} {'was' if before == 1 else 'were'} noted before.")
    if done.left_out:
        say(f"{counted(len(done.left_out), 'end')} left out.")
