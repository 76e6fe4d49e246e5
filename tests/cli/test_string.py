# SPDX-License-Identifier: MIT
"""PV strings from the command line, on the demo site: 10 modules of 49.5 V, -0.27 %/K."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING

import pytest

from tests.pump import PUMP
from wiretrack.cli.group import run

if TYPE_CHECKING:
    from pathlib import Path

    from tests.cli.conftest import Wiretrack


@pytest.fixture
def db(mill_db: Path) -> Path:
    return mill_db


def test_the_expected_voltage_follows_the_cell_temperature(wiretrack: Wiretrack) -> None:
    found = wiretrack("string", "PV-S1", "--cell-temp", "45 C", "--json").json
    # By hand: 495 V * (1 - 0.0027 * 20) = 468.27 V.
    assert found["expected_v"] == pytest.approx(468.27)
    assert found["stc_v"] == pytest.approx(495)
    assert any("live whenever light falls on it" in line for line in found["cautions"])


@pytest.mark.parametrize(
    ("reading", "what", "status"),
    [
        ("461 V", "as recorded", 0),
        ("418 V", "one module fewer", 1),
        ("370 V", "one module reversed, or two modules fewer", 1),
        ("0.3 V", "dark, open or shorted", 1),
    ],
)
def test_a_reading_is_explained(wiretrack: Wiretrack, reading: str, what: str, status: int) -> None:
    ran = wiretrack("string", "PV-S1", "--reading", reading, "--cell-temp", "45", "--json")
    assert ran.status == status
    assert ran.json["explanations"][0]["what"] == what


def test_a_like_string_makes_the_temperature_needless(wiretrack: Wiretrack) -> None:
    ran = wiretrack("string", "PV-S1", "--reading", "-441V", "--beside", "PV-S2=490V")
    assert ran.status == 1
    assert "one module fewer" in ran.words
    assert "The sign is wrong" in ran.words
    assert "Before you begin" in ran.err


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["HOIST"], "HOIST is no PV circuit: its system is ac-3ph"),
        (["PV-S1", "--reading", "400 V"], "Measure it at the back of a module"),
        (["PV-S1", "--reading", "OL", "--cell-temp", "20"], "is over-range"),
        (["PV-S1", "--reading", "400V", "--beside", "PV-S2"], "Write CIRCUIT=VOLTS"),
        (["PV-S1", "--reading", "400V", "--beside", "PV-S2=0V"], "reads 0 V"),
        (["PV-S1", "--cell-temp", "20", "--irradiance", "sunny"], "is not an irradiance"),
        (["PV-S1", "--cell-temp", "190"], "Cell temperature is 190 °C"),
    ],
)
def test_what_can_not_be_is_refused(wiretrack: Wiretrack, arguments: list[str], words: str) -> None:
    ran = wiretrack("string", *arguments)
    assert (ran.status, words in ran.err) == (2, True)


def test_missing_module_data_are_named(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    file, path = tmp_path / "s.json", str(tmp_path / "s.db")
    site = {**PUMP, "circuits": [{"code": "PUMP", "system": "dc-pv", "module": {"voc": "40 V"}}]}
    file.write_text(json.dumps(site), "utf-8")
    assert run(["--db", path, "new", "--name", "s"]) == 0
    assert run(["--db", path, "load", str(file)]) == 0
    capsys.readouterr()
    assert run(["--db", path, "string", "PUMP"]) == 2
    assert "lacks its modules' temperature coefficient of Voc, number in series" in (
        capsys.readouterr().err
    )
