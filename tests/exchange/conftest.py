# SPDX-License-Identifier: MIT
from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any

import pytest

from wiretrack.errors import SiteFileError
from wiretrack.exchange.read import read_site

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from wiretrack.exchange.known import Known

    Faults = Callable[..., list[str]]


@pytest.fixture
def site() -> dict[str, Any]:
    """A small site with nothing wrong in it: boxes A - B - C, one pull through both raceways."""
    end = {"enclosure": "A", "terminal": "T1"}
    wire = {"circuit": "K", "function": "L1", "size": "4 mm2", "pull": "P"}
    return {
        "format": "wiretrack-site/1",
        "site": {"name": "Mill", "rules": "IEC"},
        "enclosures": [{"code": "A"}, {"code": "B"}, {"code": "C"}, {"code": "D"}],
        "raceways": [
            {"code": "W1", "from": "A", "to": "B"},
            {"code": "W2", "from": "C", "to": "B"},
        ],
        "circuits": [{"code": "K"}],
        "pulls": [{"code": "P", "path": ["W1", "W2"]}],
        "conductors": [
            {"tag": "PVMP01P", **wire, "from": {**end}, "to": {"enclosure": "C"}},
            {"tag": "PVMP02N", **wire, "from": {**end}, "to": {"enclosure": "B"}},
        ],
        "instruments": [{"code": "M1", "kind": "ohmmeter"}],
        "readings": [{"kind": "continuity", "subject": "PVM-P01P", "value": "0.3 ohm"}],
    }


@pytest.fixture
def faults(tmp_path: Path) -> Faults:
    """Load a document (or the raw text of one) and return its faults, as they are shown."""

    def found(document: object, known: Known | None = None) -> list[str]:
        file = tmp_path / "site.json"
        if isinstance(document, bytes):
            file.write_bytes(document)
        else:
            text = document if isinstance(document, str) else json.dumps(document)
            file.write_text(text, encoding="utf-8")
        with pytest.raises(SiteFileError) as caught:
            read_site(file, known) if known else read_site(file)
        return [str(fault) for fault in caught.value.faults]

    return found
