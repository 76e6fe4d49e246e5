# SPDX-License-Identifier: MIT
"""What becomes of a job, as the spooler tells it; the real spooler has tests of its own."""

from __future__ import annotations

import struct
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from wiretrack.errors import PrinterError
from wiretrack.tasks.label import ipp, spooling

if TYPE_CHECKING:
    from collections.abc import Callable

A4 = (210.0, 297.0)


def attribute(tag: int, name: str, value: bytes) -> bytes:
    head = struct.pack(">BH", tag, len(name)) + name.encode()
    return head + struct.pack(">H", len(value)) + value


# RFC 8010, appendix A.2: the answer to a job that was taken, laid out by hand after its table.
ANSWER = (
    b"\x01\x01\x00\x00\x00\x00\x00\x01"
    + b"\x01"
    + attribute(0x47, "attributes-charset", b"utf-8")
    + attribute(0x48, "attributes-natural-language", b"en-us")
    + attribute(0x41, "status-message", b"successful-ok")
    + b"\x02"
    + attribute(0x21, "job-id", b"\x00\x00\x00\x93")
    + attribute(0x45, "job-uri", b"ipp://printer.example.com/ipp/print/147")
    + attribute(0x23, "job-state", b"\x00\x00\x00\x03")
    + b"\x03"
)


def test_an_answer_is_read_as_the_standard_lays_it_out() -> None:
    found = ipp.read_attributes(ANSWER)
    assert (found["job-id"], found["job-state"]) == ([147], [3])
    assert found["attributes-charset"] == ["utf-8"]


def test_further_values_of_an_attribute_have_no_name() -> None:
    more = attribute(0x44, "job-state-reasons", b"a") + attribute(0x44, "", b"b")
    assert ipp.read_attributes(ANSWER[:-1] + more + b"\x03")["job-state-reasons"] == ["a", "b"]


@pytest.mark.parametrize("cut", range(8, len(ANSWER)))
def test_a_cut_answer_is_no_answer(cut: int) -> None:
    with pytest.raises((ValueError, IndexError, struct.error)):
        ipp.read_attributes(ANSWER[:cut])


def test_where_nobody_answers_nothing_is_known(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.setenv("CUPS_SERVER", "localhost:1")
    assert ipp.job("labels", 1) == {}
    monkeypatch.setenv("CUPS_SERVER", "localhost:port")
    assert ipp.printer_state("labels") == {}


@pytest.fixture
def fake(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Callable[..., Path]:
    """Commands that take a job as number 7, and a spooler that says of it what is given."""

    def make(job: ipp.Attributes, printer: ipp.Attributes, lp: str = "") -> Path:
        log = tmp_path / "log"
        lp = lp or "echo 'request id is attic-7 (1 file(s))'"
        for name, does in (("lp", lp), ("lpstat", "echo attic"), ("cancel", "true")):
            script = tmp_path / name
            script.write_text(f'#!/bin/sh\necho "{name} $@" >> {log}\n{does}\n', "ascii")
            script.chmod(0o755)
        monkeypatch.setenv("PATH", f"{tmp_path}:/usr/bin:/bin")
        monkeypatch.setattr(ipp, "job", lambda *_: job)
        monkeypatch.setattr(ipp, "printer_state", lambda *_: printer)
        return log

    return make


def test_a_page_keeps_its_size_and_is_never_fitted(fake: Callable[..., Path]) -> None:
    log = fake({"job-state": [9]}, {})
    done = spooling.print_pdf(Path("labels.pdf"), "attic", A4)
    assert done == {"printer": "attic", "job": 7, "state": "printed"}
    assert "-o print-scaling=none -o media=iso_a4_210x297mm" in log.read_text()
    spooling.print_pdf(Path("labels.pdf"), "attic", (70.0, 16.0))
    assert "media=Custom.70x16mm" in log.read_text()


@pytest.mark.parametrize("state", [7, 8])  # RFC 8011, 5.3.7: canceled, aborted
def test_a_job_given_up_is_an_error_with_the_printers_words(
    fake: Callable[..., Path], state: int
) -> None:
    fake({"job-state": [state], "job-printer-state-message": ["Filter failed"]}, {})
    with pytest.raises(PrinterError) as caught:
        spooling.print_pdf(Path("labels.pdf"), "attic", A4)
    assert str(caught.value) == (
        "Printer 'attic' gave the job up: Filter failed. Nothing was noted."
    )


def test_a_printer_that_does_not_answer_has_its_job_taken_back(
    fake: Callable[..., Path],
) -> None:
    log = fake(
        {"job-state": [5]},
        {"printer-state": [4], "printer-state-reasons": ["connecting-to-device"]},
    )
    with pytest.raises(PrinterError, match="doesn't answer"):
        spooling.print_pdf(Path("labels.pdf"), "attic", A4, wait_s=0)
    assert "cancel attic-7" in log.read_text()


@pytest.mark.parametrize(
    ("job", "state"), [({"job-state": [5]}, "printing"), ({"job-state": [3]}, "sent"), ({}, "sent")]
)
def test_a_job_still_under_way_is_said_to_be_so(
    fake: Callable[..., Path], job: ipp.Attributes, state: str
) -> None:
    fake(job, {"printer-state": [4]})
    done = spooling.print_pdf(Path("labels.pdf"), "attic", A4, wait_s=0)
    assert done["state"] == state


def test_a_spooler_without_the_printer_lists_those_it_has(fake: Callable[..., Path]) -> None:
    fake({}, {})
    assert spooling.printer_checked("attic") == "attic"
    with pytest.raises(PrinterError, match=r"Printers here: attic\.$"):
        spooling.printer_checked("-o")
