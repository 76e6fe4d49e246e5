# SPDX-License-Identifier: MIT
"""The one row of the site itself: made with the registry, filled up by what is loaded."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from wiretrack.errors import BadInputError, SiteDiffersError
from wiretrack.store.writing import insert, new_id, own

if TYPE_CHECKING:
    from sqlite_utils import Database

    from wiretrack.model.parts import SiteFacts
    from wiretrack.store.store import Registry


def merge_site(db: Database, site: SiteFacts) -> dict[str, Any]:
    """Take what isn't known of the site yet, and return it; what is known can't change here.

    Until the registry describes a place, its name may change, and its id follows the file's.
    """
    given = {key: value for key, value in own(site).items() if value is not None}
    cursor = db.execute("SELECT * FROM site WHERE one = 1")
    names = [column[0] for column in cursor.description]
    known = dict(zip(names, cursor.fetchone(), strict=True))
    empty = db.execute("SELECT NOT EXISTS (SELECT 1 FROM enclosures)").fetchone()[0]
    code = known["code"]
    if not empty and code and site.code and code != site.code:
        raise BadInputError(
            f"This registry is of site '{code}', the file is of site '{site.code}'."
            " Load it into a registry of its own."
        )
    if not empty:
        given.pop("id", None)
    free = ("id", "name") if empty else ("name",)
    other = {
        key: value
        for key, value in given.items()
        if known[key] not in (None, value) and key not in free
    }
    if other:
        raise SiteDiffersError(other, known)
    new = {key: value for key, value in given.items() if known[key] != value}
    if new:
        changed = ", ".join(f"{key} = :{key}" for key in new)
        db.execute(f"UPDATE site SET {changed}", new)
    return new


def add_site(registry: Registry, site: SiteFacts) -> None:
    """Write the one site row of a new registry, before any history begins."""
    with registry.write(noted=False, kind="new") as db:
        insert(db, "site", [{**own(site), "id": site.id or new_id()}])
