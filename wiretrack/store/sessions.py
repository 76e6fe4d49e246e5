# SPDX-License-Identifier: MIT
"""Sessions of the pages that ended before their time: known to every process and restart."""

from __future__ import annotations

from hashlib import sha256
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from wiretrack.store.store import Registry

_LASTING = "-30 days"  # longer than any session lasts; older ones are forgotten


def end_session(registry: Registry, session: str) -> None:
    """End a session; a registry that can't be written knows no session for long anyway."""
    if not registry.writable:
        return
    with registry.write(noted=False) as db:
        db.execute(f"DELETE FROM ended_sessions WHERE at < datetime('now', '{_LASTING}')")
        db.execute(
            "INSERT OR IGNORE INTO ended_sessions VALUES (?, datetime('now'))", [_name(session)]
        )


def has_ended(registry: Registry, session: str) -> bool:
    """Return whether a session was ended."""
    sql = "SELECT 1 FROM ended_sessions WHERE id = ?"
    return registry.connection.execute(sql, [_name(session)]).fetchone() is not None


def _name(session: str) -> str:
    return sha256(session.encode("utf-8", "replace")).hexdigest()
