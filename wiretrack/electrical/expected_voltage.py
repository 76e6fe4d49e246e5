# SPDX-License-Identifier: MIT
"""What a voltmeter should show between two functions of a circuit, before it is read."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from typing import TYPE_CHECKING

from wiretrack.electrical.ac_voltage import or_words, right_between
from wiretrack.electrical.polarity import least_of, most_of, polarity_source
from wiretrack.electrical.quantity_text import format_voltage
from wiretrack.electrical.string_verdict import SOURCE as STRING_SOURCE
from wiretrack.electrical.string_verdict import any_temperature
from wiretrack.electrical.supplies import bands
from wiretrack.errors import BadInputError
from wiretrack.model.words import DC_SYSTEMS

if TYPE_CHECKING:
    from wiretrack.electrical.supplies import CircuitFacts


@dataclass(frozen=True)
class ExpectedVoltage:
    """The voltage to expect, in V and in words; no bounds where the record allows several."""

    low_v: float | None
    high_v: float | None
    text: str
    source: str

    def as_json(self) -> dict[str, object]:
        """Return it as a document."""
        return asdict(self)


def expected_voltage(facts: CircuitFacts, function: str, against: str) -> ExpectedVoltage | None:
    """Return what a reading between two functions of a circuit should show; `None` if unknown.

    The red lead is on `function`. A PV string's voltage is that of its modules with cells of any
    temperature.
    """
    if facts.system in DC_SYSTEMS:
        return _dc(facts, function, against)
    if not (facts.system or "").startswith("ac-"):
        return None
    choices = bands(facts, function, against)
    known = [band for _, band in choices if band is not None]
    if not known:
        return None
    source = "; ".join(dict.fromkeys(band.source for band in known))
    if len(known) < len(choices) or len({(band.low_v, band.high_v) for band in known}) > 1:
        return ExpectedVoltage(None, None, or_words(choices), source)
    return ExpectedVoltage(known[0].low_v, known[0].high_v, right_between(known[0]), source)


def _dc(facts: CircuitFacts, function: str, against: str) -> ExpectedVoltage | None:
    if facts.system == "dc-pv":
        try:
            bounds = facts.modules and any_temperature(facts.modules)
        except BadInputError:
            bounds = None
        if not bounds or {function, against} != {"L+", "L-"}:
            return None
        low, high = bounds
        text = f"{format_voltage(low)} to {format_voltage(high)} by the cells' temperature"
        return ExpectedVoltage(low, high, text, STRING_SOURCE)
    high_v = most_of(facts, function, against)
    if high_v is None:
        return None
    low_v = least_of(high_v)
    text = f"{format_voltage(low_v)} to {format_voltage(high_v)}"
    return ExpectedVoltage(low_v, high_v, text, polarity_source(facts.system))
