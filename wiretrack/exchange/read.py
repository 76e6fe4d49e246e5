# SPDX-License-Identifier: MIT
"""A site file (JSON, a workbook, CSV files) to records; all its faults are found in one go."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from wiretrack.exchange.codes import CodeCheck, check_remarks, check_tags
from wiretrack.exchange.csv_source import TEXTS, read_csv, read_folder
from wiretrack.exchange.decode import build, read_drafts
from wiretrack.exchange.known import EMPTY, Known
from wiretrack.exchange.layout import SheetRules
from wiretrack.exchange.places import TooManyFaultsError, shown
from wiretrack.exchange.raw import check_depth, fatal, read_json, sift
from wiretrack.exchange.relations import RouteCheck, check_relations, check_retirement
from wiretrack.exchange.schema import FAR_ENDS, FORMAT
from wiretrack.exchange.shape import check_shape
from wiretrack.exchange.workbook import WORKBOOKS, read_workbook
from wiretrack.late import dataclass

if TYPE_CHECKING:
    from wiretrack.exchange.amending import Amending, Changed
    from wiretrack.exchange.decode import Drafts
    from wiretrack.exchange.places import Faults
    from wiretrack.exchange.raw import RawSite
    from wiretrack.model.source import SiteDocument


_OTHER_WORKBOOKS = (".xls", ".xlsb", ".ods", ".numbers")


def read_site(path: str | Path, known: Known = EMPTY) -> SiteDocument:
    """Return all that a site file, a workbook or CSV files hold.

    `known` is what the registry that the file is added to holds already. Raises `SiteFileError`
    if anything is wrong; it lists every fault with its place.
    """
    file = Path(path)
    return build(_faultless(file, read_raw(file), known))


def read_raw(file: Path, rules: SheetRules | None = None) -> RawSite:
    """Return what a file holds as it came, by what the file is; sheets are read by the rules.

    Raises `SiteFileError` if it can't be read, or is of another format.
    """
    rules, ending = rules or SheetRules(), file.suffix.lower()
    if file.is_dir():
        raw = read_folder(file, rules)
    elif ending in WORKBOOKS:
        raw = read_workbook(file, rules)
    elif ending in _OTHER_WORKBOOKS:
        raise fatal(file, "", "It is a workbook of another kind. Save it as .xlsx.")
    else:
        raw = read_csv(file, rules) if ending in TEXTS else read_json(file)
    _check_format(file, raw)
    return raw


@dataclass(frozen=True)
class Read:
    """What a file says over the records that are there.

    `found` are all its records, `added` those that are new, `changed` those that become others.
    """

    found: SiteDocument
    added: SiteDocument
    changed: list[Changed]
    unchanged: dict[str, int]
    faults: Faults


def read_over(name: str | Path, raw: RawSite, known: Known, amending: Amending | None) -> Read:
    """Return what a file says over the records that are there; without `amending` all are new.

    Raises `SiteFileError` if anything in it is wrong, or says of a record what it doesn't say
    itself and this is no update.
    """
    found = build(_faultless(name, raw, known, amending))
    if amending is None:
        return Read(found, found, [], {}, raw.faults)
    return Read(
        found,
        amending.added(found),
        amending.changes(found),
        amending.unchanged(),
        raw.faults,
    )


def _faultless(
    name: str | Path, raw: RawSite, known: Known, amending: Amending | None = None
) -> Drafts:
    try:
        drafts = _checked(raw, known, amending)
    except TooManyFaultsError:
        drafts = {}
    raw.faults.refuse(name)
    return drafts


def _checked(raw: RawSite, known: Known, amending: Amending | None) -> Drafts:
    if raw.suspect:
        sift(raw)
    _refuse_absent(raw, update=amending is not None and amending.update)
    if amending is not None:
        amending.begin()
    check_shape(raw)
    check_depth(raw)
    drafts = read_drafts(raw)
    if amending is not None:
        amending.compare(drafts)
        known = amending.known(known)
    CodeCheck(drafts, known, raw).check()
    check_tags(drafts, known, raw)
    RouteCheck(drafts, known, raw.faults).check()
    check_relations(drafts, known, raw)
    check_retirement(drafts, known, raw)
    check_remarks(drafts, known, raw)
    return drafts


def _refuse_absent(raw: RawSite, *, update: bool) -> None:
    """Add a fault for each column that a sheet lacks; in an update other rows may do without."""
    for (table, name), place in sorted(raw.absent.items()):
        if update and table != FAR_ENDS:
            del raw.absent[table, name]
            continue
        message = f"The column '{name}' is missing. Every row needs it."
        raw.faults.add_at((table,), place, message)
        raw.lost.add(table)


def _check_format(file: Path, raw: RawSite) -> None:
    """Refuse a file of another format at once: nothing else in it can be judged."""
    given = raw.data.get("format")
    if given == FORMAT:
        return
    if "format" not in raw.data:
        message = f'The key is missing. A site file begins with {{"format": "{FORMAT}"}}.'
    elif isinstance(given, str) and given.startswith("wiretrack-site/"):
        message = f"{shown(given)} is another version of the format; this program reads {FORMAT}."
        message += " Update wiretrack, or dump the site again."
    else:
        message = f"{shown(given)} is not a format. This program reads {FORMAT}."
    raise fatal(file, raw.faults.places.name(("format",)), message)
