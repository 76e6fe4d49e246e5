# SPDX-License-Identifier: MIT
"""A real terminal for a command: what is typed at a prompt, and what a person then sees."""

from __future__ import annotations

import codecs
import fcntl
import os
import pty
import re
import select
import struct
import subprocess
import sys
import termios
import time
from contextlib import contextmanager
from typing import TYPE_CHECKING

from tests.warm import command

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

_STEERING = re.compile(r"\x1b\[[0-9;?]*[a-zA-Z]|\x1b[=>]|[\r\x07]")
PATIENCE_S = 60
CTRL_C, CTRL_D, TAB = "\x03", "\x04", "\t"


def _without_size() -> dict[str, str]:
    """Return the environment without what says otherwise than the terminal how wide it is."""
    return {key: value for key, value in os.environ.items() if key not in ("COLUMNS", "LINES")}


class Terminal:
    """A process on a terminal of so many columns."""

    def __init__(self, arguments: Sequence[str], columns: int, env: dict[str, str]) -> None:
        self._line, its = pty.openpty()
        fcntl.ioctl(its, termios.TIOCSWINSZ, struct.pack("HHHH", 24, columns, 0, 0))
        self.process = subprocess.Popen(
            arguments, stdin=its, stdout=its, stderr=its, start_new_session=True,
            env={**_without_size(), "NO_COLOR": "1", "TERM": "xterm", "TZ": "UTC", **env},
            preexec_fn=lambda: fcntl.ioctl(0, termios.TIOCSCTTY, 0) and None,
        )  # fmt: skip
        os.close(its)
        self.shown = ""
        self._looked = 0
        self._decode = codecs.getincrementaldecoder("utf-8")("replace").decode

    def sees(self, text: str) -> str:
        """Wait until `text` is shown after what was seen last; return all up to it."""
        until = time.monotonic() + PATIENCE_S
        while (found := self.shown.find(text, self._looked)) < 0:
            assert self._read(until), f"{text!r} isn't shown in: {self.shown[self._looked :]}"
        seen = self.shown[self._looked : found + len(text)]
        self._looked = found + len(text)
        return seen

    def types(self, keys: str, *, enter: bool = True) -> None:
        """Press keys, and Enter after them."""
        os.write(self._line, (keys + "\n" * enter).encode())

    def answers(self, prompt: str, keys: str) -> None:
        """Wait for a prompt and answer it."""
        self.sees(prompt)
        self.types(keys)

    def leaves(self, key: str, text: str) -> None:
        """Press a key that leaves until `text` is shown; one pressed too early may go astray."""
        while text not in self.rest:
            self.types(key, enter=False)
            until = time.monotonic() + 2
            while text not in self.rest and self._read(until):
                pass
        self.sees(text)

    def ends(self) -> int:
        """Return the exit status, once all that is shown has been read."""
        while self._read(time.monotonic() + PATIENCE_S):
            pass
        return self.process.wait(PATIENCE_S)

    @property
    def rest(self) -> str:
        """What is shown after what was seen last."""
        return self.shown[self._looked :]

    def _read(self, until: float) -> bool:
        ready, _, _ = select.select([self._line], [], [], max(0, until - time.monotonic()))
        try:
            new = os.read(self._line, 1 << 16) if ready else b""
        except OSError:  # its end was closed
            new = b""
        self.shown += _STEERING.sub("", self._decode(new))
        return bool(new)

    def close(self) -> None:
        """End the process and give the terminal back."""
        self.process.kill()
        self.process.wait()
        os.close(self._line)


@contextmanager
def at_a_terminal(*arguments: object, columns: int = 80, **env: str) -> Iterator[Terminal]:
    """Run ``wiretrack`` with these arguments on a terminal."""
    with _on([command(), *map(str, arguments)], columns, env) as terminal:
        yield terminal


@contextmanager
def program_at_a_terminal(program: str, columns: int = 80) -> Iterator[Terminal]:
    """Run lines of Python on a terminal."""
    with _on([sys.executable, "-c", program], columns, {}) as terminal:
        yield terminal


@contextmanager
def process_at_a_terminal(
    arguments: list[str], env: dict[str, str], columns: int = 80
) -> Iterator[Terminal]:
    """Run another program on a terminal."""
    with _on(arguments, columns, env) as terminal:
        yield terminal


@contextmanager
def _on(arguments: list[str], columns: int, env: dict[str, str]) -> Iterator[Terminal]:
    terminal = Terminal(arguments, columns, env)
    try:
        yield terminal
    finally:
        terminal.close()
