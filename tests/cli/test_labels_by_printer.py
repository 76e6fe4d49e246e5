# SPDX-License-Identifier: MIT
"""Labels through Debian's CUPS to its software IPP printer, and the printed raster read back."""

from __future__ import annotations

import shutil
import tempfile
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
import zxingcpp

from tests.cups import PRINTER, Spooler, missing, read_raster, spooler
from tests.pump import L1

if TYPE_CHECKING:
    from collections.abc import Iterator

    from tests.cli.conftest import Wiretrack

REASON = missing()
cups_needed = pytest.mark.skipif(REASON is not None, reason=f"CUPS: {REASON}")
SHEET, ROLL = "flag-90x25-a4", "flag-70x16-300"


@pytest.fixture(scope="module")
def running() -> Iterator[Spooler]:
    folder = Path(tempfile.mkdtemp(prefix="cups"))
    folder.chmod(0o755)
    try:
        with spooler(folder) as made:
            yield made
    finally:
        shutil.rmtree(folder, ignore_errors=True)


@pytest.fixture
def cups(running: Spooler, monkeypatch: pytest.MonkeyPatch) -> Spooler:
    for name in ("PATH", "CUPS_SERVER"):
        monkeypatch.setenv(name, running.environment[name])
    return running


def ends(wiretrack: Wiretrack) -> list[bool]:
    ends = wiretrack("show", L1, "--json").json["ends"]
    return [end["label_printed_at"] is not None for end in ends]


@cups_needed
def test_labels_come_out_of_the_printer_in_true_size_and_read(
    wiretrack: Wiretrack, cups: Spooler
) -> None:
    ran = wiretrack("label", "print", L1, "--stock", SHEET, "--printer", PRINTER, "--json")
    assert (ran.status, ran.err) == (0, "")
    assert (ran.json["labels"], ran.json["printer"], ran.json["state"]) == (2, PRINTER, "done")
    (page,) = read_raster(cups.printed[-1])
    dpi = page.info["dpi"][0]
    # ISO 216: A4 is 210 x 297 mm.
    assert (page.width / dpi * 25.4, page.height / dpi * 25.4) == pytest.approx((210, 297), abs=0.1)
    codes = zxingcpp.read_barcodes(page)
    assert [code.text for code in codes] == [f"WT:{L1}"] * 4  # two flags of two faces
    # The stock's own measures: first label 12 mm from the left, the next 96 mm further; a code's
    # middle lies at the same place of each.
    lefts = sorted(code.position.top_left.x / dpi * 25.4 for code in codes)
    assert lefts[2] - lefts[0] == pytest.approx(96, abs=0.2)
    assert ends(wiretrack) == [True, True]


@cups_needed
def test_a_printer_that_does_not_exist_is_one_clear_line(
    wiretrack: Wiretrack, cups: Spooler
) -> None:
    ran = wiretrack("label", "print", L1, "--stock", SHEET, "--printer", "attic")
    assert (ran.status, ran.out) == (2, "")
    assert ran.err == (
        f"error: Printer 'attic' isn't known to the spooler. Printers here: {PRINTER}.\n"
    )
    assert ends(wiretrack) == [False, False]


@cups_needed
def test_a_printer_that_refuses_the_job_is_one_clear_line_and_nothing_is_noted(
    wiretrack: Wiretrack, cups: Spooler
) -> None:
    wiretrack("label", "address", "wires.lan")  # without one, more is said
    cups.run("cupsreject", PRINTER)
    try:
        ran = wiretrack("label", "print", L1, "--stock", SHEET, "--printer", PRINTER)
    finally:
        cups.run("cupsaccept", PRINTER)
    assert (ran.status, ran.out) == (2, "")
    assert ran.err.startswith(f"error: Printer '{PRINTER}' refuses the job: ")
    assert "not accepting jobs. Nothing was printed." in ran.err
    assert ran.err.count("\n") == 1
    assert ends(wiretrack) == [False, False]


@cups_needed
def test_a_job_for_a_stopped_printer_is_taken_back_and_not_noted(
    wiretrack: Wiretrack, cups: Spooler
) -> None:
    wiretrack("label", "address", "wires.lan")  # without one, more is said
    before = len(cups.printed)
    cups.run("cupsdisable", "-r", "out of labels", PRINTER)
    try:
        ran = wiretrack("label", "print", L1, "--stock", ROLL, "--printer", PRINTER)
    finally:
        cups.run("cupsenable", PRINTER)
    assert ran.status == 2
    assert ran.err == (
        f"error: Printer '{PRINTER}' is stopped: out of labels."
        " The job was taken back; nothing was noted.\n"
    )
    assert cups.run("lpstat", "-o", PRINTER) == ""
    assert len(cups.printed) == before
    assert ends(wiretrack) == [False, False]


def test_without_a_spooler_the_way_out_is_named(
    wiretrack: Wiretrack, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.setenv("PATH", str(tmp_path))
    ran = wiretrack("label", "print", L1, "--stock", SHEET, "--printer", "any")
    assert ran.status == 2
    assert "the command lpstat isn't here. Install Debian's cups-client" in ran.err
