# SPDX-License-Identifier: MIT
"""Making a registry, site files in and out, proving a registry and copying it."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, TextIO

from wiretrack.errors import BadInputError, DamagedRegistryError
from wiretrack.interchange.codecs import TIME_ZONE
from wiretrack.records import Site
from wiretrack.registry import health
from wiretrack.registry.dumping import document
from wiretrack.registry.known import RegistryKnown
from wiretrack.registry.loading import add_document
from wiretrack.registry.store import create_registry, open_registry
from wiretrack.tasks.free_text import check_text

if TYPE_CHECKING:
    from pathlib import Path

    from wiretrack.records import SiteDocument
    from wiretrack.registry.store import Registry

_TABLES = (
    "enclosures",
    "devices",
    "raceways",
    "circuits",
    "pulls",
    "conductors",
    "instruments",
    "readings",
)


def new_site(path: Path, name: str, time_zone: str | None = None) -> None:
    """Make an empty registry at `path` for the site called `name`; refuses to overwrite.

    Its days are counted in `time_zone`, a name of the IANA time zone database.
    """
    checked = check_text("The site's name", name)
    if checked is None:
        raise BadInputError("The site's name is empty. Give it with --name NAME.")
    zone = TIME_ZONE.read(time_zone) if time_zone else None
    create_registry(path, Site(name=checked, time_zone=zone))


def load_site(registry: Registry, file: Path, *, who: str | None = None) -> dict[str, int]:
    """Add what a site file (JSON, or a folder of CSV files) holds; return how much of each.

    Raises
    ------
    SiteFileError
        If anything in it is wrong; every fault is listed and nothing is written.
    """
    from wiretrack.interchange.read import read_site

    found = read_site(file, RegistryKnown(registry))
    add_document(registry, found, who=who)
    return counts(found)


def dump_site(registry: Registry, target: Path | TextIO) -> None:
    """Write the whole registry as a site file; loading it gives an equal registry."""
    from wiretrack.interchange.write import write_site

    write_site(document(registry), target)


def counts(found: SiteDocument) -> dict[str, int]:
    """Return how many records of each table a document holds."""
    return {table: len(getattr(found, table)) for table in _TABLES}


def verify(registry: Registry) -> dict[str, Any]:
    """Return ``{"ok", "readings", "problems"}``: whether the registry is whole, and if not, why."""
    problems = health.problems(registry)
    return {
        "ok": not problems,
        "readings": health.count_readings(registry),
        "problems": problems,
    }


def verify_file(path: Path) -> dict[str, Any]:
    """Return `verify` of the registry at `path`; one that is too damaged to open is a problem too.

    Raises
    ------
    RegistryError
        If there is nothing at `path`, or what is there is no registry.
    """
    try:
        with open_registry(path) as registry:
            return verify(registry)
    except DamagedRegistryError as error:
        return {"ok": False, "readings": None, "problems": [f"database: {error}"]}


def backup(registry: Registry, target: Path) -> None:
    """Copy the registry, while it is in use, to the new file `target`."""
    health.backup(registry, target)
