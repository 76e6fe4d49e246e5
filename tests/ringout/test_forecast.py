# SPDX-License-Identifier: MIT
"""What is forecast, held against whole ring-outs of simulated bundles."""

from __future__ import annotations

from itertools import permutations
from statistics import fmean
from typing import TYPE_CHECKING, Any

import pytest

from tests.drawing import full
from tests.ringout.bundles import arranged
from tests.ringout.simulation import Wires, ring_out
from wiretrack.ringout.forecast import compare_methods, forecast

if TYPE_CHECKING:
    from collections.abc import Sequence

    from wiretrack.ringout.bundle import Bundle
    from wiretrack.ringout.results import Result

KIT = (100.0, 220.0, 470.0, 1000.0, 2200.0, 4700.0)
METHODS: dict[str, dict[str, Any]] = {
    "joins": {},
    "pairs": {"joins": "pairs"},
    "no search": {"screen": "none"},
    "helper": {"crew": 2},
    "helper with a reference": {"crew": 2, "references": ("raceway",)},
    "kit": {"resistors": KIT, "references": ("raceway",)},
    "diode": {"diode": True},
}


def all_run(colours: Sequence[str], **options: Any) -> tuple[Bundle, list[Result]]:
    """Return a bundle, and its ring-out in every arrangement there is."""
    results = []
    for arrangement in permutations(range(len(colours))):
        bundle, mate = arranged(colours, arrangement, **options)
        results.append(ring_out(Wires(bundle, mate)))
    return bundle, results


@pytest.mark.parametrize("method", METHODS)
@pytest.mark.parametrize("colours", ["AA", "AAA", "AAAA", "AABB", full("AAABB")])
def test_no_arrangement_takes_more_than_is_forecast(method: str, colours: str) -> None:
    bundle, results = all_run([{"A": "BK", "B": "RD"}[one] for one in colours], **METHODS[method])
    found = forecast(bundle)
    assert not found.about
    assert found.walks == max(result.walks for result in results)
    assert found.worst >= max(result.probes for result in results)
    assert found.whole == (not any(result.unresolved for result in results))
    mean = fmean(result.probes for result in results)
    assert found.expected == pytest.approx(mean, rel=0.25, abs=1)


# One ring-out each of 60 and 24 look-alikes in another arrangement than any that was imagined.
@pytest.mark.parametrize(
    ("method", "count"), [("joins", 60), ("pairs", 24), ("helper with a reference", 60)]
)
def test_what_is_scaled_from_a_smaller_bundle_is_said_so_and_comes_true(
    method: str, count: int
) -> None:
    bundle, mate = arranged(
        ["BK"] * count, [(7 * i + 3) % count for i in range(count)], **METHODS[method]
    )
    found, result = forecast(bundle), ring_out(Wires(bundle, mate))
    assert found.about
    assert found.walks == result.walks
    assert found.worst >= result.probes
    assert found.expected == pytest.approx(result.probes, rel=0.2)


def test_a_helper_saves_the_walks_and_nothing_else() -> None:
    for count in (4, 8):
        bundle, _ = arranged(["BK"] * count, range(count))
        rows = {m.name: m.forecast for m in compare_methods(bundle)}
        alone, helped = rows["joins and walks"], rows["helper with a radio"]
        assert (alone.walks, helped.walks) == (2, 0)
        assert helped.hands <= alone.hands
        assert helped.expected == pytest.approx(alone.expected, abs=1.5)
        assert helped.minutes < alone.minutes


def test_a_diode_is_compared_where_joins_leave_two_unknown_and_nowhere_else() -> None:
    two, _ = arranged(["BK"] * 2, range(2))
    rows = {method.name: method.forecast for method in compare_methods(two)}
    assert not rows["joins and walks"].whole
    assert (rows["diode"].whole, rows["diode"].walks) == (True, 1)
    three, _ = arranged(["BK"] * 3, range(3), diode=True)
    assert "diode" not in {method.name for method in compare_methods(three)}


def test_a_kit_with_too_few_values_is_said_to_be_of_no_help() -> None:
    bundle, _ = arranged(["BK"] * 8, range(8), resistors=(100.0, 101.0, 102.0))
    kit = next(method for method in compare_methods(bundle) if method.name == "resistor kit")
    assert "Too few to help" in kit.why
    assert kit.forecast.whole
