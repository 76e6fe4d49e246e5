# SPDX-License-Identifier: MIT
"""What the user's state folder keeps of the registry at each path, by use."""

from __future__ import annotations

import json
import os
import sys
from contextlib import suppress
from pathlib import Path
from typing import Any

from wiretrack.errors import FileWriteError
from wiretrack.files import file_in_place
from wiretrack.plain import digest


def kept(use: str, registry: Path) -> dict[str, Any]:
    """Return what is kept; an empty document where there is none, or none that can be read."""
    try:
        found = json.loads(place(use, registry).read_text("utf-8"))
    except (OSError, ValueError):
        return {}
    return found if isinstance(found, dict) else {}


def keep(use: str, registry: Path, document: dict[str, Any]) -> None:
    """Keep a document for its owner alone; where the folder can't be written, nothing is kept."""
    where = place(use, registry)
    with suppress(OSError, FileWriteError):
        where.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
        with file_in_place(where, own=True) as file:
            if hasattr(os, "fchmod"):  # Windows keeps a user's folder to its owner by itself
                os.fchmod(file.fileno(), 0o600)
            file.write(json.dumps(document).encode())


def place(use: str, registry: Path) -> Path:
    """Return the file that is kept for a use."""
    return _folder() / use / f"{digest(str(registry.resolve()))}.json"


def _folder() -> Path:
    """Return the user's folder for states; where it is one of XDG's, platformdirs isn't loaded."""
    if sys.platform == "linux":
        given = os.environ.get("XDG_STATE_HOME", "").strip()
        return Path(given or "~/.local/state").expanduser() / "wiretrack"
    from platformdirs import user_state_path

    return user_state_path("wiretrack", appauthor=False)
