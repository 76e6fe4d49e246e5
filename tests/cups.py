# SPDX-License-Identifier: MIT
"""A print spooler of our own for tests: Debian's CUPS and its software IPP printer.

Everything lies in one folder and listens on a socket there; nothing of the machine's own spooler is
touched. The software printer announces itself by DNS-SD and won't start without, so a message bus
and Avahi of the test's own run beside it, on the loopback interface alone, unless the machine has
its own. Only one Avahi runs on a machine, so tests in several processes take turns.
"""

from __future__ import annotations

import fcntl
import os
import shutil
import socket
import struct
import subprocess
import tempfile
import time
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from PIL import Image

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Mapping

NEEDED = (
    "cupsd",
    "lpadmin",
    "lp",
    "lpstat",
    "ippeveprinter",
    "gs",
    "dbus-daemon",
    "avahi-daemon",
)
SYSTEM_PATH = f"{os.environ.get('PATH', '')}:/usr/sbin:/sbin"
PRINTER = "labels"
AVAHI_PID = Path("/run/avahi-daemon/pid")
SYSTEM_BUS = Path("/run/dbus/system_bus_socket")
START_S, MOST_S = 60.0, "300"
_CUPSD = """
Listen {folder}/cups.sock
Browsing Off
WebInterface No
DefaultAuthType None
<Location />
  Order allow,deny
  Allow all
</Location>
<Policy default>
  <Limit All>
    Order allow,deny
    Allow all
  </Limit>
</Policy>
"""
_FILES = """
ServerRoot {folder}/root
RequestRoot {folder}/spool
CacheDir {folder}/cache
StateDir {folder}/state
AccessLog {folder}/access_log
ErrorLog {folder}/error_log
PageLog {folder}/page_log
Sandboxing relaxed
"""
_BUS = """
<!DOCTYPE busconfig PUBLIC "-//freedesktop//DTD D-Bus Bus Configuration 1.0//EN"
 "http://www.freedesktop.org/standards/dbus/1.0/busconfig.dtd">
<busconfig>
  <type>system</type>
  <listen>unix:path={folder}/bus.sock</listen>
  <auth>EXTERNAL</auth>
  <policy context="default">
    <allow send_destination="*" eavesdrop="true"/>
    <allow eavesdrop="true"/>
    <allow own="*"/>
    <allow user="*"/>
  </policy>
</busconfig>
"""
_AVAHI = """
[server]
use-ipv6=no
allow-interfaces=lo
[publish]
publish-hinfo=no
publish-workstation=no
[rlimits]
"""


@dataclass(frozen=True)
class Spooler:
    """A running spooler with one printer; what it prints lands in `printed`."""

    folder: Path
    environment: Mapping[str, str]

    @property
    def printed(self) -> list[Path]:
        """The printed jobs, the first one first."""
        return sorted(
            (self.folder / "printed").glob("*.pwg"), key=lambda file: file.stat().st_mtime
        )

    def run(self, *command: str) -> str:
        """Run one of the spooler's own commands."""
        return subprocess.run(
            command, env=self.environment, capture_output=True, text=True, check=True, timeout=60
        ).stdout


def missing() -> str | None:
    """Return why the spooler can't be run here; `None` if it can."""
    if os.geteuid() != 0:
        return "a spooler of the test's own needs root"
    lacking = [name for name in NEEDED if shutil.which(name, path=SYSTEM_PATH) is None]
    return f"not installed: {', '.join(lacking)}" if lacking else None


@contextmanager
def spooler(folder: Path) -> Iterator[Spooler]:
    """Run a spooler with one printer in `folder`, whose path must be short."""
    for name in ("root", "spool", "cache", "state", "printed"):
        (folder / name).mkdir()
    texts = {"cupsd.conf": _CUPSD, "files.conf": _FILES, "bus.conf": _BUS, "avahi.conf": _AVAHI}
    for name, text in texts.items():
        (folder / name).write_text(text.format(folder=folder).lstrip(), "ascii")
    environment = {
        **os.environ,
        "PATH": SYSTEM_PATH,
        "CUPS_SERVER": f"{folder}/cups.sock",
    }
    port = _free_port()
    running: list[subprocess.Popen[bytes]] = []

    def start(*command: str) -> None:
        with (folder / f"{command[0]}.log").open("wb") as log:
            bounded = ("timeout", "-k", "2", MOST_S, *command)  # nothing is left running for good
            running.append(subprocess.Popen(bounded, env=environment, stdout=log, stderr=log))

    lock = (Path(tempfile.gettempdir()) / "wiretrack-cups.lock").open("w")
    try:
        fcntl.flock(lock, fcntl.LOCK_EX)
        if not (_avahi_runs() and SYSTEM_BUS.exists()):
            _until(lambda: not _avahi_runs())  # one whose bus isn't the machine's will end
            environment["DBUS_SYSTEM_BUS_ADDRESS"] = f"unix:path={folder}/bus.sock"
            start("dbus-daemon", f"--config-file={folder}/bus.conf", "--nofork", "--nopidfile")
            _until((folder / "bus.sock").exists)
            start("avahi-daemon", "-f", f"{folder}/avahi.conf", "--no-drop-root", "--no-chroot")
            _until(lambda: "startup complete" in (folder / "avahi-daemon.log").read_text())
        start("cupsd", "-f", "-c", f"{folder}/cupsd.conf", "-s", f"{folder}/files.conf")
        _until((folder / "cups.sock").exists)
        # Without a command for what is printed it plays a slow printer, for 5 to 15 s a job.
        start(
            "ippeveprinter", "-k", "-d", f"{folder}/printed", "-f", "image/pwg-raster",
            "-p", str(port), "-c", "/bin/true", PRINTER,
        )  # fmt: skip
        _until(lambda: _answers(port))
        made = Spooler(folder, environment)
        uri = f"ipp://localhost:{port}/ipp/print"
        made.run("lpadmin", "-p", PRINTER, "-E", "-v", uri, "-m", "everywhere")
        _until((folder / "root" / "ppd" / f"{PRINTER}.ppd").exists)
        yield made
    finally:
        for process in reversed(running):  # Avahi spins if its bus goes first
            process.terminate()
            process.wait(10)
        lock.close()


def read_raster(file: Path) -> list[Image.Image]:
    """Return the pages of a PWG raster file in greys, with their dots per inch.

    The format is that of PWG 5102.4-2012, "PWG Raster Format", clauses 4.3 and 4.4.
    """
    data = file.read_bytes()
    assert data[:4] == b"RaS2", data[:4]
    at, pages = 4, []
    while at < len(data):
        page, at = _read_page(data, at)
        pages.append(page)
    return pages


def _read_page(data: bytes, at: int) -> tuple[Image.Image, int]:
    header = data[at : at + 1796]
    across, down = struct.unpack_from(">2I", header, 276)
    width, height = struct.unpack_from(">2I", header, 372)
    _, bits, line_bytes = struct.unpack_from(">3I", header, 384)
    (colour_space,) = struct.unpack_from(">I", header, 400)
    at += 1796
    unit = max(1, bits // 8)
    lines: list[bytes] = []
    while len(lines) < height:
        repeat, at = data[at] + 1, at + 1
        line = bytearray()
        while len(line) < line_bytes:
            code, at = data[at], at + 1
            if code == 128:
                line += b"\xff" * (line_bytes - len(line))
            elif code < 128:
                line += data[at : at + unit] * (code + 1)
                at += unit
            else:
                line += data[at : at + unit * (257 - code)]
                at += unit * (257 - code)
        lines += [bytes(line)] * repeat
    mode = {1: "1", 8: "L", 24: "RGB"}[bits]
    page = Image.frombytes(mode, (width, height), b"".join(lines)).convert("L")
    if colour_space == 3:  # black: ink, not light
        page = page.point(lambda level: 255 - level)
    page.info["dpi"] = (across, down)
    return page, at


def _avahi_runs() -> bool:
    try:
        os.kill(int(AVAHI_PID.read_text("ascii")), 0)
    except (OSError, ValueError):
        return False
    return True


def _until(ready: Callable[[], bool]) -> None:
    late = time.monotonic() + START_S
    while not ready():
        if time.monotonic() > late:
            raise TimeoutError("the test's spooler doesn't start")
        time.sleep(0.1)


def _free_port() -> int:
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        return int(free.getsockname()[1])


def _answers(port: int) -> bool:
    with socket.socket() as asked:
        return asked.connect_ex(("127.0.0.1", port)) == 0
