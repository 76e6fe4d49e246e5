# SPDX-License-Identifier: MIT
"""What was measured on a faulty conductor: typed quantities as inputs with their uncertainty."""

from __future__ import annotations

from decimal import Decimal, InvalidOperation
from math import hypot
from typing import TYPE_CHECKING

from wiretrack.electrical.accuracy import standard_uncertainty
from wiretrack.electrical.faults.line import Input
from wiretrack.electrical.quantities import (
    parse_capacitance,
    parse_resistance,
    parse_resistance_ohm,
)
from wiretrack.errors import BadInputError, FaultLocationError, Hint
from wiretrack.late import cached_property, dataclass
from wiretrack.tasks.test.expecting import meter_named

if TYPE_CHECKING:
    from wiretrack.store.store import Registry

ARM_ACCURACY = 0.001  # common practice: ratio arms and decades are within 0.1 %
UNKNOWN_ACCURACY = (0.02, 3)  # common practice: a meter nobody named is within 2 % and 3 digits
_RECTANGLE = 3**-0.5  # JCGM 100:2008, 4.3.7


@dataclass(frozen=True, kw_only=True)
class FaultReadings:
    """What was measured on a faulty conductor, as typed; `None` is not measured."""

    tags: tuple[str, ...]
    against: tuple[str, ...] = ()
    at: str | None = None
    near: str | None = None
    far: str | None = None
    near_joined: str | None = None
    murray: str | None = None
    varley: str | None = None
    set_ohms: str | None = None
    good: tuple[str, ...] = ()
    loop: str | None = None
    fault_ohms: str | None = None
    raceway_ohms: str | None = None
    along: str | None = None
    like: tuple[str, ...] = ()
    leads: str | None = None
    temps: tuple[str, ...] = ()
    instrument: str | None = None

    @cached_property
    def method(self) -> str:
        """The method that these readings allow; `BadInputError` if nothing was measured."""
        if self.along:
            return "parallel" if self.like else "excess"
        if self.murray:
            return "murray"
        if self.varley:
            return "varley"
        if self.near and self.near.rstrip().endswith(("F", "f")):
            return "capacitance"
        if self.near and self.near_joined:
            return "blavier"
        if self.near:
            return "both-ends" if self.far else "one-end"
        raise BadInputError(
            "Nothing was measured.",
            Hint(
                "For a short or an earth fault give {near} and {far} (ohms from either end), or "
                "{near} and {near_joined}, or {murray}, or {varley}; for a bad joint {along} (ohms "
                "end to end); for a break {near} and {far} in nF."
            ),
        )

    @property
    def is_against_earth(self) -> bool:
        """Whether the raceway or PE is what the conductor is in contact with."""
        return [word.casefold() for word in self.against] in (["raceway"], ["pe"])


class Reader:
    """Reads typed quantities: leads off, uncertainty on, by the instrument that was named."""

    def __init__(self, registry: Registry, asked: FaultReadings) -> None:
        self.remarks: list[str] = []
        self._meter = meter_named(registry, asked.instrument)
        leads = parse_resistance(asked.leads) if asked.leads else None
        self._leads_ohm = parse_resistance_ohm(asked.leads) if asked.leads else 0.0
        self._leads_step_ohm = (leads.step if leads else None) or 0.0
        if asked.leads is None and (asked.near or asked.along) and asked.method != "capacitance":
            self.remarks.append("leads' resistance not stated: assumed nulled on the meter")

    def ohms(self, name: str, text: str) -> Input:
        """Return a resistance reading less the leads, with its standard uncertainty in ohm."""
        measured = parse_resistance(text)
        if measured.over_range or measured.number is None:
            raise BadInputError(
                f"'{text.strip()}' is over-range: the path is open there, and no distance follows. "
                "For a break, measure capacitance from both ends."
            )
        u = standard_uncertainty(measured, self._meter)
        u_leads = u or 0.0
        if u is None:
            percent, digits = UNKNOWN_ACCURACY
            self.remarks.append(
                "accuracy of the instrument unknown: 2 % and 3 digits assumed (common practice)"
            )
            step = self._meter.step_at(measured) or 0.0
            u = (measured.number * percent + digits * step) * _RECTANGLE
            u_leads = max(u, self._leads_step_ohm * _RECTANGLE)
        value = measured.number - self._leads_ohm
        if value < -2 * u:
            raise FaultLocationError(
                f"{text.strip()} is less than the {self._leads_ohm:g} Ω of the leads alone",
                "Short the leads, read them again, then the conductor",
            )
        return Input(name, max(value, 0.0), hypot(u, u_leads if self._leads_ohm else 0.0))

    def inputs(self, asked: FaultReadings) -> dict[str, Input]:
        """Return the readings that the method needs, by the names that `locate` has for them."""
        if asked.method in ("murray", "varley"):
            return self._loop_test(asked)
        if asked.method == "capacitance":
            if not asked.far:
                raise BadInputError(
                    "A break needs the capacitance from both ends.", Hint("Give {far} as well.")
                )
            texts = {"near": asked.near, "far": asked.far}
            return {name: self._farads(name, text) for name, text in texts.items() if text}
        texts = {"near": asked.near, "far": asked.far, "joined": asked.near_joined}
        if asked.method == "one-end":
            texts["fault"] = asked.fault_ohms
        return {name: self.ohms(name, text) for name, text in texts.items() if text}

    def _loop_test(self, asked: FaultReadings) -> dict[str, Input]:
        found = _arms(asked.murray or asked.varley or "", read=asked.method == "murray")
        if asked.method == "varley":
            if not asked.set_ohms:
                raise BadInputError(
                    "A Varley loop needs what was set at balance.", Hint("Give {set}.")
                )
            ohms = parse_resistance_ohm(asked.set_ohms)
            step = parse_resistance(asked.set_ohms).step or 0.0
            found["set"] = _rounded("set", ohms, ARM_ACCURACY, step)
        if asked.loop:
            found["loop"] = self.ohms("loop", asked.loop)
        return found

    def _farads(self, name: str, text: str) -> Input:
        measured = parse_capacitance(text)
        if measured.number is None or measured.over_range:
            raise BadInputError(
                f"'{text.strip()}' is over-range. Use a higher range and read again."
            )
        self.remarks.append(
            "each capacitance assumed to be within 2 % and what its last digit allows"
            " (common practice)"
        )
        return _rounded(name, measured.number, UNKNOWN_ACCURACY[0], measured.step or 0.0)


def _rounded(name: str, value: float, percent: float, step: float) -> Input:
    """Return what was set or shown within a fraction of itself, and rounded to `step`."""
    half = step / 2
    return Input(name, value, hypot(abs(value) * percent, half) * _RECTANGLE, half)


def _arms(text: str, *, read: bool) -> dict[str, Input]:
    """Return the two ratio arms of ``3:1``: on the good conductor, on the faulty one.

    Arms that were `read` at balance are as good as their digits; those of a Varley loop are fixed.
    """
    good, _, bad = text.partition(":")
    try:
        arms = {"good_arm": (float(good), Decimal(good)), "bad_arm": (float(bad), Decimal(bad))}
    except (ValueError, InvalidOperation):
        raise BadInputError(
            f"'{text}' is no pair of ratio arms. Write good:faulty, like 668:332."
        ) from None
    return {
        name: _rounded(name, arm, ARM_ACCURACY, _step(typed) if read else 0.0)
        for name, (arm, typed) in arms.items()
    }


def _step(number: Decimal) -> float:
    exponent = number.as_tuple().exponent
    return float(Decimal(1).scaleb(exponent)) if isinstance(exponent, int) else 0.0
