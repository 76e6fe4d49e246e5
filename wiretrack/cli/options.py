# SPDX-License-Identifier: MIT
"""Options and helpers that several commands share."""

from __future__ import annotations

import getpass
from typing import TYPE_CHECKING

import click

if TYPE_CHECKING:
    from pathlib import Path

    from wiretrack.store.store import Registry

json_option = click.option(
    "--json", "as_json", is_flag=True, help="One JSON document instead of text."
)


def opened(path: Path) -> Registry:
    """Return the open registry; use it in a ``with`` block."""
    from wiretrack import days
    from wiretrack.store.store import open_registry

    registry = open_registry(path)
    days.use(registry.time_zone())
    return registry


def person() -> str | None:
    """Return the name of whoever is at the keyboard, for the history."""
    try:
        return getpass.getuser()
    except (KeyError, OSError):
        return None


def one_of(**said: bool) -> str | None:
    """Return the flag that was given, `None` if none was.

    Raises
    ------
    click.UsageError
        If several were given that rule each other out.
    """
    given = [name for name, is_said in said.items() if is_said]
    if len(given) > 1:
        names = " and ".join(f"--{name}" for name in given)
        raise click.UsageError(f"{names} rule each other out. Give one of them.")
    return given[0] if given else None
