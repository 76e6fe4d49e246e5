# SPDX-License-Identifier: MIT
"""Sending a PDF to a printer through CUPS, and waiting until it is out or given up."""

from __future__ import annotations

import os
import re
import subprocess
import time
from typing import TYPE_CHECKING, Any

from wiretrack.errors import Hint, PrinterError
from wiretrack.tasks.label import ipp

if TYPE_CHECKING:
    from pathlib import Path

WAIT_S, EVERY_S, COMMAND_S = 60.0, 0.25, 30.0
MEDIA = {(210.0, 297.0): "iso_a4_210x297mm", (215.9, 279.4): "na_letter_8.5x11in"}  # PWG 5101.1
PROCESSING, CANCELED, ABORTED, COMPLETED = 5, 7, 8, 9  # job-state, RFC 8011, 5.3.7
STOPPED = 5  # printer-state, RFC 8011, 5.4.12
_JOB = re.compile(r"-(\d+) \(")
_UNREACHED = ("connecting-to-device", "offline-report", "timed-out", "shutdown")
_INSTALL = Hint("Install Debian's cups-client, or print to a file with {out}.")


def printers() -> list[str]:
    """Return the printers that the spooler knows.

    Raises
    ------
    PrinterError
        If there is no spooler here.
    """
    ran = _ran("lpstat", "-e")
    return ran.stdout.split() if ran.returncode == 0 else []


def printer_checked(name: str) -> str:
    """Return the name of a printer that the spooler knows.

    Raises
    ------
    PrinterError
        If it knows none of that name, or there is no spooler here.
    """
    known = printers()
    if name in known:
        return name
    listed = ", ".join(known[:8])
    hint = f"Printers here: {listed}" if listed else "The spooler has no printers; see lpstat -e"
    raise PrinterError(name, "isn't known to the spooler", hint)


def print_pdf(
    file: Path, printer: str, page_mm: tuple[float, float], wait_s: float = WAIT_S
) -> dict[str, Any]:
    """Print a PDF in true size and return the job: its name, and whether it is out.

    A job that the printer can't begin is taken back, so that it doesn't come out later, unseen.

    Raises
    ------
    PrinterError
        If the spooler refuses the job, or the printer gives it up.
    """
    ran = _ran(
        "lp", "-d", printer, "-t", "wiretrack labels",
        "-o", "print-scaling=none", "-o", f"media={_media(page_mm)}", str(file.absolute()),
    )  # fmt: skip
    if ran.returncode != 0:
        raise PrinterError(printer, f"refuses the job: {_said(ran)}", "Nothing was printed")
    found = _JOB.search(ran.stdout)
    if found is None:
        return {"printer": printer, "job": None, "state": "sent"}
    number = int(found[1])
    return {"printer": printer, "job": number, "state": _awaited(printer, number, wait_s)}


def _awaited(printer: str, number: int, wait_s: float) -> str:
    """Return ``printed``, ``printing`` or ``sent``; raise where nothing comes of the job."""
    until = time.monotonic() + wait_s
    while True:
        asked = ipp.job(printer, number)
        state = (asked.get("job-state") or [None])[0]
        if state is None:
            return "sent"
        if state == COMPLETED:
            return "printed"
        if state in (CANCELED, ABORTED):
            raise PrinterError(printer, f"gave the job up{_why(asked)}", "Nothing was noted")
        late = time.monotonic() >= until
        stuck = _stuck(printer, late)
        if stuck is not None:
            _ran("cancel", f"{printer}-{number}")
            raise PrinterError(printer, stuck, "The job was taken back; nothing was noted")
        if late:
            return "printing" if state == PROCESSING else "sent"
        time.sleep(EVERY_S)


def _stuck(printer: str, late: bool) -> str | None:
    """Return why no job comes out of this printer; `None` where one may."""
    asked = ipp.printer_state(printer)
    if STOPPED in asked.get("printer-state", ()):
        return f"is stopped{_why(asked, 'printer-state-message')}"
    if late and set(_UNREACHED) & set(asked.get("printer-state-reasons", ())):
        return f"doesn't answer{_why(asked, 'printer-state-message')}"
    return None


def _why(asked: ipp.Attributes, name: str = "job-printer-state-message") -> str:
    told = " ".join(filter(None, asked.get(name, ())))
    return f": {told.rstrip('.')}" if told else ""


def _media(page_mm: tuple[float, float]) -> str:
    width, height = page_mm
    return MEDIA.get(page_mm, f"Custom.{width:g}x{height:g}mm")


def _said(ran: subprocess.CompletedProcess[str]) -> str:
    told = " ".join(ran.stderr.split()).removeprefix("lp: ").removeprefix("Error - ")
    return told.rstrip(".") or f"lp ended with status {ran.returncode}"


def _ran(*command: str) -> subprocess.CompletedProcess[str]:
    environment = {**os.environ, "LC_ALL": "C.UTF-8"}
    try:
        return subprocess.run(
            command,
            env=environment,
            stdin=subprocess.DEVNULL,
            capture_output=True,
            text=True,
            errors="replace",
            timeout=COMMAND_S,
            check=False,
        )
    except FileNotFoundError:
        why = f"can't be reached: the command {command[0]} isn't here"
        raise PrinterError("", why, _INSTALL) from None
    except subprocess.TimeoutExpired:
        why = f"can't be reached: {command[0]} gave no answer in {COMMAND_S:g} s"
        raise PrinterError("", why, "See that the spooler runs") from None
