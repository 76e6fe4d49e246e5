# SPDX-License-Identifier: MIT
"""The key that signs the sessions of a registry's pages: made once, kept here, never dumped."""

from __future__ import annotations

import secrets
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from wiretrack.store.store import Registry

KEY_BYTES = 32


def signing_key(registry: Registry) -> str:
    """Return the registry's key; one that can't be written gets a key for this time only."""
    if not registry.writable:
        return secrets.token_hex(KEY_BYTES)
    with registry.write(noted=False) as db:
        db.execute(
            "INSERT OR IGNORE INTO signing_key (one, key) VALUES (1, ?)",
            [secrets.token_hex(KEY_BYTES)],
        )
    row = registry.row("SELECT key FROM signing_key")
    return str(row["key"]) if row else secrets.token_hex(KEY_BYTES)
