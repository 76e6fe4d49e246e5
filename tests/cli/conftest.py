# SPDX-License-Identifier: MIT
"""Running the command line in this process, as a person or a script would."""

from __future__ import annotations

import json
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Protocol

import pytest

from wiretrack.cli.group import run

if TYPE_CHECKING:
    from pathlib import Path


@dataclass(frozen=True)
class Ran:
    """How a command ended."""

    status: int
    out: str
    err: str

    @property
    def json(self) -> Any:
        """The one JSON document on standard output."""
        return json.loads(self.out)

    @property
    def words(self) -> str:
        """Standard output without the folds that the width of the terminal brings."""
        return " ".join(self.out.split())


class Wiretrack(Protocol):
    """A call of the command line on one registry."""

    def __call__(self, *arguments: object) -> Ran:
        """Run it."""


@pytest.fixture
def wiretrack(
    db: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> Wiretrack:
    """The command line on the registry of the pump; standard input is empty."""
    return on_registry(db, capsys, monkeypatch)


def on_registry(
    db: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> Wiretrack:
    """Return the command line on a registry that nobody has to name."""

    def call(*arguments: object) -> Ran:
        capsys.readouterr()
        with monkeypatch.context() as here:
            here.setenv("WIRETRACK_DB", str(db))
            status = run(list(map(str, arguments)))
        out, err = capsys.readouterr()
        return Ran(status, out, err)

    return call
