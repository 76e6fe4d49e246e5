# SPDX-License-Identifier: MIT
"""What becomes of a job, as lpstat tells it; the real spooler has tests of its own."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from wiretrack.errors import PrinterError
from wiretrack.tasks.label import spooling

if TYPE_CHECKING:
    from collections.abc import Callable

A4 = (210.0, 297.0)
# As CUPS 2.4 prints them.
IDLE = "printer attic is idle.  enabled since Sat Nov 28 11:12:23 2026\n\tAlerts: none\n"
STOPPED = "printer attic disabled since Sat Nov 28 11:12:23 2026 -\n\t{}\n\tAlerts: paused\n"
BUSY = "printer attic now printing attic-{}.  enabled since Sat Nov 28 2026\n\tAlerts: {}\n"
ROW = "attic-7                 roof              1024   Sat Nov 28 11:12:23 2026\n\tAlerts: x\n"
OTHER = ROW.replace("attic-7 ", "attic-77")


@pytest.fixture
def fake(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Callable[..., Path]:
    """Commands that take a job as number 7, and an lpstat that says what is given."""

    def make(told: str, lp: str = "") -> Path:
        log, answer = tmp_path / "log", tmp_path / "told"
        answer.write_text(told, "ascii")
        lp = lp or "echo 'request id is attic-7 (1 file(s))'"
        lpstat = f"[ $1 = -e ] && echo attic || cat {answer}"
        for name, does in (("lp", lp), ("lpstat", lpstat), ("cancel", "true")):
            script = tmp_path / name
            script.write_text(f'#!/bin/sh\necho "{name} $@" >> {log}\n{does}\n', "ascii")
            script.chmod(0o755)
        monkeypatch.setenv("PATH", f"{tmp_path}:/usr/bin:/bin")
        return log

    return make


def test_a_page_keeps_its_size_and_is_never_fitted(fake: Callable[..., Path]) -> None:
    log = fake(IDLE + OTHER)
    done = spooling.print_pdf(Path("labels.pdf"), "attic", A4)
    assert done == spooling.Job("attic", 7, "done")
    assert "-o print-scaling=none -o media=iso_a4_210x297mm" in log.read_text()
    spooling.print_pdf(Path("labels.pdf"), "attic", (70.0, 16.0))
    assert "media=Custom.70x16mm" in log.read_text()


@pytest.mark.parametrize(
    ("told", "why"),
    [
        (STOPPED.format("out of labels") + ROW, "is stopped: out of labels"),
        (STOPPED.format("reason unknown") + ROW, "is stopped"),
        (BUSY.format(7, "offline-report").replace("\tA", "\tUnplugged.\n\tA") + ROW,
         "doesn't answer: Unplugged"),
    ],
)  # fmt: skip
def test_a_job_that_no_printer_begins_is_taken_back_with_the_printers_words(
    fake: Callable[..., Path], told: str, why: str
) -> None:
    log = fake(told)
    with pytest.raises(PrinterError) as caught:
        spooling.print_pdf(Path("labels.pdf"), "attic", A4, wait_s=0)
    assert str(caught.value) == (
        f"Printer 'attic' {why}. The job was taken back; nothing was noted."
    )
    assert "cancel attic-7" in log.read_text()


@pytest.mark.parametrize(
    ("told", "state"),
    [
        (BUSY.format(7, "none") + ROW, "printing"),
        (BUSY.format(77, "none") + OTHER + ROW, "sent"),
        (IDLE + ROW, "sent"),
    ],
)
def test_a_job_still_under_way_is_said_to_be_so(
    fake: Callable[..., Path], told: str, state: str
) -> None:
    log = fake(told)
    done = spooling.print_pdf(Path("labels.pdf"), "attic", A4, wait_s=0)
    assert done.state == state
    assert "cancel" not in log.read_text()


def test_a_refused_job_is_an_error_with_the_spoolers_words(fake: Callable[..., Path]) -> None:
    fake(IDLE, lp="echo 'lp: Error - Destination \"attic\" is not accepting jobs.' >&2; exit 1")
    with pytest.raises(PrinterError, match=r"is not accepting jobs\. Nothing was printed\.$"):
        spooling.print_pdf(Path("labels.pdf"), "attic", A4)


def test_a_spooler_that_tells_nothing_has_taken_the_job(fake: Callable[..., Path]) -> None:
    fake(IDLE, lp="true")
    assert spooling.print_pdf(Path("labels.pdf"), "attic", A4).state == "sent"


def test_a_spooler_without_the_printer_lists_those_it_has(fake: Callable[..., Path]) -> None:
    fake(IDLE)
    assert spooling.printer_checked("attic") == "attic"
    with pytest.raises(PrinterError, match=r"Printers here: attic\.$"):
        spooling.printer_checked("-o")
