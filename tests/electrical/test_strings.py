# SPDX-License-Identifier: MIT
"""PV strings against pvlib and the two module databases that it ships.

What pvlib says of some of their modules is recorded in `data`; all of them, and that what is
recorded is true, are asked of it with ``-m full``.
"""

from __future__ import annotations

import csv
import math
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

from tests.drawing import full
from wiretrack.electrical.strings import (
    LIGHT_SLOPE,
    MODEL_TOLERANCE,
    Modules,
    StringReading,
    judge_by_like_strings,
    judge_string,
    string_voc,
)
from wiretrack.errors import BadInputError

if TYPE_CHECKING:
    from collections.abc import Callable

CRYSTALLINE = ("Mono-c-Si", "Multi-c-Si")
DATA = Path(__file__).with_name("data")


@dataclass(frozen=True)
class Module:
    """A module: voltage at STC [V], its coefficient [V/K], voltages [V] at °C and W/m2."""

    voc: float
    beta: float
    at: dict[tuple[float, float], float]

    def ours(self, cell_c: float, irradiance: float = 1000) -> float:
        """Return what we say, in V."""
        return string_voc(self.voc, 1, self.beta / self.voc * 100, cell_c, irradiance)

    def off(self, cell_c: float) -> float:
        """Return by how much we differ from pvlib, as a share."""
        return abs(self.ours(cell_c) / self.at[cell_c, 1000] - 1)


def recorded(name: str) -> list[Module]:
    """Return what pvlib said of some modules when it was written down."""
    with (DATA / f"{name}_modules.csv").open(encoding="utf-8") as file:
        rows = csv.DictReader(line for line in file if not line.startswith("#"))
        return [
            Module(
                float(row.pop("voc")),
                float(row.pop("beta")),
                {condition(key): float(volts) for key, volts in row.items()},
            )
            for row in rows
        ]


def condition(words: str) -> tuple[float, float]:
    cell_c, _, irradiance = words.partition("/")
    return float(cell_c), float(irradiance)


CONDITIONS = [*recorded("cec")[0].at]


def silicon() -> Any:
    import pvlib  # type: ignore[import-untyped]

    table = pvlib.pvsystem.retrieve_sam("CECMod").T
    return table[table.Technology.isin(CRYSTALLINE)]


def cec() -> list[Module]:
    """Return what pvlib's model gives for a spread of 120 crystalline modules."""
    import pvlib

    modules = silicon().iloc[::175]
    names = ("alpha_sc", "a_ref", "I_L_ref", "I_o_ref", "R_sh_ref", "R_s", "Adjust")
    volts = {}
    for cell_c, irradiance in CONDITIONS:
        parameters = pvlib.pvsystem.calcparams_cec(
            irradiance, cell_c, *(modules[name].to_numpy(float) for name in names)
        )
        volts[cell_c, irradiance] = pvlib.pvsystem.singlediode(*parameters)["v_oc"]
    return [
        Module(float(row.V_oc_ref), float(row.beta_oc),
               {at: float(found[number]) for at, found in volts.items()})
        for number, (_, row) in enumerate(modules.iterrows())
    ]  # fmt: skip


def sandia() -> list[Module]:
    """Return what the array performance model of Sandia gives for its own measured modules."""
    import pvlib

    table = pvlib.pvsystem.retrieve_sam("SandiaMod").T
    return [
        Module(float(module.Voco), float(module.Bvoco),
               {(cell_c, 1000.0): float(pvlib.pvsystem.sapm(1000.0, cell_c, module)["v_oc"])
                for cell_c in (0.0, 25.0, 50.0)})
        for _, module in table[table.Material.isin(["c-Si", "mc-Si"])].iloc[::5].iterrows()
    ]  # fmt: skip


@pytest.fixture(scope="module", params=["recorded", full("asked")])
def modules(request: pytest.FixtureRequest) -> list[Module]:
    return recorded("cec") if request.param == "recorded" else cec()


@pytest.mark.full
@pytest.mark.parametrize(("name", "asked"), [("cec", cec), ("sandia", sandia)])
def test_what_is_recorded_is_what_pvlib_says(name: str, asked: Callable[[], list[Module]]) -> None:
    some = asked()[1::3] if name == "cec" else asked()[::4]
    for told, module in zip(recorded(name), some, strict=True):
        assert told.voc == module.voc
        assert told.beta == pytest.approx(module.beta, rel=1e-5)
        assert told.at == pytest.approx(module.at, abs=0.00005)


@pytest.mark.parametrize("cell_c", [-10, 0, 10, 25, 35, 45])
def test_nine_in_ten_voltages_are_pvlibs_within_the_stated_tolerance(
    modules: list[Module], cell_c: float
) -> None:
    # CEC module data; that model's Adjust moves its coefficient away from the data sheet's.
    errors = [module.off(cell_c) for module in modules]
    assert sorted(errors)[int(0.9 * len(errors))] <= MODEL_TOLERANCE
    assert max(errors) <= 2 * MODEL_TOLERANCE
    if cell_c == 25:
        assert max(errors) < 0.001


def test_less_light_lowers_the_voltage_as_in_pvlib(modules: list[Module]) -> None:
    errors = [
        abs(m.ours(25, 400) / m.ours(25) / (m.at[25, 400] / m.at[25, 1000]) - 1) for m in modules
    ]
    assert sorted(errors)[int(0.9 * len(errors))] < 0.005
    assert max(errors) < 0.02


@pytest.mark.full
def test_the_slope_with_light_is_the_median_of_the_cec_module_data() -> None:
    ratio = silicon().a_ref.astype(float) / silicon().V_oc_ref.astype(float)
    assert float(ratio.median()) == pytest.approx(LIGHT_SLOPE, abs=0.00005)


@pytest.mark.parametrize("asked", [lambda: recorded("sandia"), full(sandia)])
def test_voltages_are_those_of_the_sandia_model_too(asked: Callable[[], list[Module]]) -> None:
    modules = asked()
    assert len(modules) >= 20
    for module in modules:
        for cell_c in (0, 25, 50):
            assert module.off(cell_c) <= 0.001


TEN = Modules(49.5, -0.27, 10)


def named(found: StringReading) -> list[str]:
    return [guess.what for guess in found.guesses if guess.fits]


def test_a_missing_module_a_reversed_one_and_a_neighbours_string_are_named() -> None:
    module = recorded("cec")[2]
    ours = Modules(module.voc, module.beta / module.voc * 100, 10)
    other = Modules(module.voc, ours.pct_per_k, 7)
    one = module.at[35, 900]
    for count, what in (
        (10, "as recorded"),
        (9, "one module fewer"),
        (8, "one module reversed, or two modules fewer"),
        (7, "the string of S7"),
        (0, "dark, open or shorted"),
    ):
        found = judge_string(one * count, 0.5, ours, 35, 900, [("S7", other)])
        assert named(found)[0] == what
        assert found.fits == (count == 10)


def test_a_wrong_sign_is_told_beside_the_voltage() -> None:
    found = judge_string(-495, 0.5, TEN, 25, 1000)
    assert found.is_reversed
    assert not found.fits
    assert named(found)[0] == "as recorded"


def test_in_a_long_string_one_module_is_told_beside_its_neighbour_only() -> None:
    # 24 in series: one module is 4.2 %, within the data sheet's and the thermometer's tolerance.
    long = Modules(40.0, -0.3, 24)
    reading = 40.0 * 23 * 0.95
    assert {"as recorded", "one module fewer"} <= set(
        named(judge_string(reading, 0.5, long, 41, None))
    )
    beside = judge_by_like_strings(reading, 0.5, long, [(long, 40.0 * 24 * 0.95)])
    assert named(beside) == ["one module fewer"]
    assert not beside.fits


@pytest.mark.parametrize("bad", [math.nan, math.inf, 0.0, -3.0])
def test_impossible_modules_are_refused(bad: float) -> None:
    with pytest.raises(BadInputError):
        string_voc(bad, 10, -0.3, 25)
    with pytest.raises(BadInputError):
        string_voc(40, 10, -0.3, 25, bad)


def test_impossible_temperatures_coefficients_and_readings_are_refused() -> None:
    calls: list[Callable[[], float]] = [
        lambda: string_voc(40, 0, -0.3, 25),
        lambda: string_voc(40, 10, 0.3, 25),
        lambda: string_voc(40, 10, -0.3, 130),
        lambda: judge_string(math.nan, 0.1, TEN, 25).volts,
    ]
    for call in calls:
        with pytest.raises(BadInputError):
            call()
