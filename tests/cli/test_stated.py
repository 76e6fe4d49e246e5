# SPDX-License-Identifier: MIT
"""What clears a doubt is stated in the site file, shown everywhere, and taken by check."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any

import pytest

from tests.binder.crawling import records
from tests.cli.conftest import Ran
from wiretrack.cli.group import run
from wiretrack.model.tags import check_character, format_tag

if TYPE_CHECKING:
    from pathlib import Path

LINE, EARTH = ("ST0001" + check_character("ST0001")), ("ST0002" + check_character("ST0002"))


def site(**stated: Any) -> dict[str, Any]:
    """Return a lamp circuit of 17 A on a 20 A breaker, and a string in one pipe between boxes."""
    wire = {
        "circuit": "LAMP", "size": "12 AWG", "metal": "Cu", "insulation": "THHN", "pull": "P",
        "colour": "BK",
    }  # fmt: skip
    return {
        "format": "wiretrack-site/1",
        "site": {"code": "S", "rules": "NEC", "edition": 2023},
        "enclosures": [
            {"code": "A", "kind": "panelboard", **stated.get("box", {})},
            {"code": "B", "kind": "junction-box", "marked": True},
        ],
        "devices": [
            {"enclosure": "A", "code": "Q1", "kind": "breaker", "rating": "20 A",
             "poles": [["1", "2"]], **stated.get("device", {})},
        ],
        "raceways": [
            {"code": "W", "from": "A", "to": "B", "type": "EMT", "trade_size": "1", "wet": False,
             "length": "9 m", "ambient": "30 C", **stated.get("raceway", {})},
        ],
        "circuits": [
            {"code": "LAMP", "system": "ac-1ph", "max_voltage": "120 V", "max_current": "17 A",
             **stated.get("circuit", {})},
            {"code": "ROW", "system": "dc-pv"},
        ],
        "pulls": [{"code": "P", "path": ["W"]}],
        "conductors": [
            {**wire, "tag": LINE, "function": "L1",
             "from": {"enclosure": "A", "terminal": "Q1:2"}, "to": {"enclosure": "B"}},
            {**wire, "tag": EARTH, "function": "PE", "size": "4 AWG",
             "from": {"enclosure": "A", **stated.get("end", {})},
             "to": {"enclosure": "B", **stated.get("end", {})}},
            {"circuit": "ROW", "function": "L+", "size": "10 AWG", "pull": "P",
             "from": {"enclosure": "A"}, "to": {"enclosure": "B"}},
        ],
    }  # fmt: skip


class Site:
    """A registry of such a site, and the command line on it."""

    def __init__(self, folder: Path, capsys: pytest.CaptureFixture[str], **stated: Any) -> None:
        self.folder, self.capsys, self.db = folder, capsys, folder / f"{len(stated)}.db"
        file = folder / "site.json"
        file.write_text(json.dumps(site(**stated)), "utf-8")
        self("new", "--name", "S")
        assert self("load", file).status == 0

    def __call__(self, *arguments: object) -> Ran:
        self.capsys.readouterr()
        status = run(["--db", str(self.db), *map(str, arguments)])
        return Ran(status, *self.capsys.readouterr())

    def outcome(self, rule: str, subject: str) -> str:
        """Return what a rule finds of a subject."""
        rows = self("check", "--json").json
        found = next(r for r in rows if (r["rule"], r["subject"]) == (rule, subject))
        return str(found["outcome"])


STATED: dict[str, Any] = {
    "box": {"marked": False}, "device": {"termination_rating": "75 C"},
    "raceway": {"marked": True}, "circuit": {"continuous": True, "motor": False},
    "end": {"reidentified": "GN"},
}  # fmt: skip


# 17 A continuous take 21.25 A, above the 20 A of 12 AWG at 60 °C and below the 25 A at 75 °C (NEC
# table 310.16, 210.19(A)), and above the 20 A of the breaker (210.20(A)).
@pytest.mark.parametrize(
    ("rule", "subject", "before", "after"),
    [
        ("ampacity", format_tag(LINE), "doubt", "pass"), ("ampacity", "LAMP", "doubt", "fail"),
        ("marking", "W", "doubt", "pass"), ("marking", "A", "doubt", "fail"),
        ("marking", "B", "pass", "pass"), ("colour", format_tag(EARTH), "doubt", "pass"),
    ],
)  # fmt: skip
def test_what_is_stated_settles_a_doubt(
    rule: str, subject: str, before: str, after: str, tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
) -> None:  # fmt: skip
    assert Site(tmp_path, capsys).outcome(rule, subject) == before
    assert Site(tmp_path, capsys, **STATED).outcome(rule, subject) == after


def test_what_is_stated_is_shown_in_records_binder_and_report(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    stated = Site(tmp_path, capsys, **STATED)
    assert "continuous load yes" in stated("show", "LAMP").words
    assert "motor circuit no" in stated("show", "LAMP").words
    assert "terminals 75 °C" in stated("show", "A").words
    assert "marked no" in stated("show", "A").words
    assert "marked yes" in stated("show", "W").words
    assert "taped GN" in stated("show", EARTH).words
    report = tmp_path / "report.html"
    assert stated("report", "LAMP", "--out", report).status == 0
    text = report.read_text("utf-8")
    assert "Continuous load" in text
    assert "75 °C" in text
    binder = tmp_path / "binder"
    assert stated("binder", binder).status == 0
    pages = {file.stem: file.read_text("utf-8") for file in binder.rglob("*.html")}
    assert "Motor circuit" in pages["LAMP"]
    assert "No marking put up" in pages["A"]
    assert "terminals 75 °C" in pages["A"]
    assert "Markings put up" in pages["W"]
    assert "taped GN" in records(binder)[format_tag(EARTH)]
