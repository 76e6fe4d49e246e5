# SPDX-License-Identifier: MIT
"""Sending a PDF to a printer by CUPS's ``lp``, and watching the job until it leaves the queue."""

from __future__ import annotations

import os
import re
import subprocess
import time
from typing import TYPE_CHECKING

from wiretrack.errors import Hint, PrinterError
from wiretrack.late import dataclass

if TYPE_CHECKING:
    from pathlib import Path

WAIT_S, EVERY_S, COMMAND_S = 60.0, 0.25, 30.0
MEDIA = {(210.0, 297.0): "iso_a4_210x297mm", (215.9, 279.4): "na_letter_8.5x11in"}  # PWG 5101.1
# printer-state-reasons, RFC 8011, 5.4.12, as lpstat lists them
_UNREACHED = ("connecting-to-device", "offline-report", "timed-out", "shutdown")
_INSTALL = Hint("Install Debian's cups-client, or print to a file with {out}.")


@dataclass(frozen=True)
class Job:
    """A job that the spooler has taken: its number, and how it fares.

    `state` is ``done`` once it has left the queue, ``printing`` while the printer is at it, and
    ``sent`` while it waits or nothing is known of it.
    """

    printer: str
    job: int | None
    state: str


def printers() -> list[str]:
    """Return the printers that the spooler knows; `PrinterError` if there is no spooler here."""
    ran = _ran("lpstat", "-e")
    return ran.stdout.split() if ran.returncode == 0 else []


def printer_checked(name: str) -> str:
    """Return the name of a printer that the spooler knows."""
    known = printers()
    if name in known:
        return name
    listed = ", ".join(known[:8])
    hint = f"Printers here: {listed}" if listed else "The spooler has no printers; see lpstat -e"
    raise PrinterError(name, "isn't known to the spooler", hint)


def print_pdf(
    file: Path, printer: str, page_mm: tuple[float, float], wait_s: float = WAIT_S
) -> Job:
    """Print a PDF in true size and return the job.

    A job that the printer can't begin is taken back, so that it doesn't come out later, unseen.
    `PrinterError` if the spooler refuses the job, or the printer is stopped or doesn't answer.
    """
    media = MEDIA.get(page_mm, "Custom.{:g}x{:g}mm".format(*page_mm))
    ran = _ran(
        "lp", "-d", printer, "-t", "wiretrack labels",
        "-o", "print-scaling=none", "-o", f"media={media}", str(file.absolute()),
    )  # fmt: skip
    if ran.returncode != 0:
        raise PrinterError(printer, f"refuses the job: {_said(ran)}", "Nothing was printed")
    found = re.search(r"-(\d+) \(", ran.stdout)
    if found is None:
        return Job(printer, None, "sent")
    number = int(found[1])
    return Job(printer, number, _awaited(printer, f"{printer}-{number}", wait_s))


def _awaited(printer: str, job: str, wait_s: float) -> str:
    """Return the state that the job comes to; take it back where the printer can't begin it."""
    until = time.monotonic() + wait_s
    while True:
        late = time.monotonic() >= until
        ran = _ran("lpstat", "-l", "-p", printer, "-o", printer)
        if ran.returncode != 0:
            return "sent"
        lines = ran.stdout.splitlines()
        stuck = _stuck(lines, late)
        if stuck is not None:
            _ran("cancel", job)
            raise PrinterError(printer, stuck, "The job was taken back; nothing was noted")
        if not any(line.split()[:1] == [job] for line in lines):
            return "done"
        if late:
            return "printing" if f" now printing {job}." in ran.stdout else "sent"
        time.sleep(EVERY_S)


def _stuck(lines: list[str], late: bool) -> str | None:
    """Return why no job comes out of a printer: its line comes first, a message below it."""
    message = lines[1].strip().rstrip(".") if lines[1:] else ""
    why = f": {message}" if message and message != "reason unknown" else ""
    if lines and " disabled since " in lines[0]:
        return f"is stopped{why}"
    alerts = next((line for line in lines if line.startswith("\tAlerts:")), "")
    if late and set(_UNREACHED) & set(alerts.split()):
        return f"doesn't answer{why}"
    return None


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
