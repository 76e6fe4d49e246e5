# SPDX-License-Identifier: MIT
"""PV strings against pvlib and the two module databases that it ships."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

import pvlib  # type: ignore[import-untyped]
import pytest

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


@pytest.fixture(scope="module")
def cec() -> Any:
    """CEC module data, as pvlib ships them: a spread of 120 crystalline modules."""
    table = pvlib.pvsystem.retrieve_sam("CECMod").T
    return table[table.Technology.isin(CRYSTALLINE)].iloc[::175]


def voc_of_pvlib(modules: Any, cell_c: float, irradiance: float) -> list[float]:
    """Return what pvlib's model gives for each of the modules, in V."""
    names = ("alpha_sc", "a_ref", "I_L_ref", "I_o_ref", "R_sh_ref", "R_s", "Adjust")
    parameters = pvlib.pvsystem.calcparams_cec(
        irradiance, cell_c, *(modules[name].to_numpy(float) for name in names)
    )
    return [float(volts) for volts in pvlib.pvsystem.singlediode(*parameters)["v_oc"]]


def voc_of_ours(module: Any, cell_c: float, irradiance: float) -> float:
    voc = float(module.V_oc_ref)
    return string_voc(voc, 1, float(module.beta_oc) / voc * 100, cell_c, irradiance)


@pytest.mark.parametrize("cell_c", [-10, 0, 10, 25, 35, 45])
def test_nine_in_ten_voltages_are_pvlibs_within_the_stated_tolerance(
    cec: Any, cell_c: float
) -> None:
    # CEC module data; that model's Adjust moves its coefficient away from the data sheet's.
    errors = [
        abs(voc_of_ours(module, cell_c, 1000) / theirs - 1)
        for (_, module), theirs in zip(cec.iterrows(), voc_of_pvlib(cec, cell_c, 1000), strict=True)
    ]
    assert sorted(errors)[int(0.9 * len(errors))] <= MODEL_TOLERANCE
    assert max(errors) <= 2 * MODEL_TOLERANCE
    if cell_c == 25:
        assert max(errors) < 0.001


def test_less_light_lowers_the_voltage_as_in_pvlib(cec: Any) -> None:
    errors = []
    dim, bright = (voc_of_pvlib(cec, 25, irradiance) for irradiance in (400, 1000))
    for (_, module), low, high in zip(cec.iterrows(), dim, bright, strict=True):
        ours = voc_of_ours(module, 25, 400) / voc_of_ours(module, 25, 1000)
        errors.append(abs(ours / (low / high) - 1))
    assert sorted(errors)[int(0.9 * len(errors))] < 0.005
    assert max(errors) < 0.02


def test_the_slope_with_light_is_the_median_of_the_cec_module_data() -> None:
    table = pvlib.pvsystem.retrieve_sam("CECMod").T
    silicon = table[table.Technology.isin(CRYSTALLINE)]
    ratio = silicon.a_ref.astype(float) / silicon.V_oc_ref.astype(float)
    assert float(ratio.median()) == pytest.approx(LIGHT_SLOPE, abs=0.00005)


def test_voltages_are_those_of_the_sandia_model_too() -> None:
    # The array performance model of Sandia with its own measured modules, through pvlib.
    table = pvlib.pvsystem.retrieve_sam("SandiaMod").T
    silicon = table[table.Material.isin(["c-Si", "mc-Si"])].iloc[::5]
    assert len(silicon) > 20
    for _, module in silicon.iterrows():
        for cell_c in (0, 25, 50):
            reference = float(pvlib.pvsystem.sapm(1000.0, cell_c, module)["v_oc"])
            ours = string_voc(
                float(module.Voco), 1, float(module.Bvoco) / float(module.Voco) * 100, cell_c
            )
            assert ours == pytest.approx(reference, rel=0.001)


TEN = Modules(49.5, -0.27, 10)


def named(found: StringReading) -> list[str]:
    return [guess.what for guess in found.guesses if guess.fits]


def test_a_missing_module_a_reversed_one_and_a_neighbours_string_are_named(cec: Any) -> None:
    module = cec.iloc[7]
    voc = float(module.V_oc_ref)
    ours = Modules(voc, float(module.beta_oc) / voc * 100, 10)
    other = Modules(voc, ours.pct_per_k, 7)
    one = voc_of_pvlib(cec, 35, 900)[7]
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
