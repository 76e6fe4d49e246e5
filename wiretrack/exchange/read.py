# SPDX-License-Identifier: MIT
"""A site file (JSON, a workbook, CSV files) to records; all its faults are found in one go."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from wiretrack.exchange.codes import CodeCheck, check_tags
from wiretrack.exchange.csv_source import read_folder
from wiretrack.exchange.decode import build, read_drafts
from wiretrack.exchange.known import EMPTY, Known
from wiretrack.exchange.places import TooManyFaultsError
from wiretrack.exchange.raw import check_depth, fatal, read_json, sift
from wiretrack.exchange.relations import RouteCheck, check_relations, check_retirement
from wiretrack.exchange.schema import FORMAT
from wiretrack.exchange.shape import check_shape
from wiretrack.exchange.texts import shown
from wiretrack.exchange.workbook import WORKBOOKS, read_workbook

if TYPE_CHECKING:
    from wiretrack.exchange.decode import Drafts
    from wiretrack.exchange.places import Faults
    from wiretrack.exchange.raw import RawSite
    from wiretrack.model.document import SiteDocument


def read_site(path: str | Path, known: Known = EMPTY) -> SiteDocument:
    """Return all that a site file, a workbook or a folder of CSV files holds.

    Parameters
    ----------
    path : str or Path
        A JSON file, a workbook (.xlsx), or a folder of CSV files.
    known : Known
        What the registry that the file is added to holds already.

    Raises
    ------
    SiteFileError
        If anything is wrong; it lists every fault with its place.
    """
    return read_placed(path, known)[0]


def read_placed(path: str | Path, known: Known = EMPTY) -> tuple[SiteDocument, Faults]:
    """Return what `read_site` does, and the list for faults that others find in it."""
    file = Path(path)
    raw = read_raw(file)
    _check_format(file, raw)
    try:
        drafts = _checked(raw, known)
    except TooManyFaultsError:
        drafts = {}
    raw.faults.refuse(file)
    return build(drafts), raw.faults


def read_raw(file: Path) -> RawSite:
    """Return what a file holds as it came, by what the file is."""
    if file.is_dir():
        return read_folder(file)
    return read_workbook(file) if file.suffix.lower() in WORKBOOKS else read_json(file)


def _checked(raw: RawSite, known: Known) -> Drafts:
    if raw.suspect:
        sift(raw)
    check_shape(raw)
    check_depth(raw)
    drafts = read_drafts(raw)
    CodeCheck(drafts, known, raw).check()
    check_tags(drafts, known, raw)
    RouteCheck(drafts, known, raw.faults).check()
    check_relations(drafts, known, raw)
    check_retirement(drafts, known, raw)
    return drafts


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
