# SPDX-License-Identifier: MIT
"""What a conductor meets in a raceway or on a roof, and its ampacity there by the NEC's tables."""

from __future__ import annotations

from typing import TYPE_CHECKING

from wiretrack.electrical.dimensions import known_types, type_rows
from wiretrack.electrical.limits import above, between, check_metal
from wiretrack.electrical.rules.load import Carrying, carrying
from wiretrack.electrical.sizes import Size, as_size
from wiretrack.electrical.tables import load_table
from wiretrack.errors import OutOfRangeError, TableEntryError
from wiretrack.late import dataclass
from wiretrack.model.words import NEC_EDITIONS

if TYPE_CHECKING:
    from wiretrack.electrical.runs import Run, Wire
    from wiretrack.electrical.tables import Code


# NEC table 310.16, its columns and its ambient temperature (reprint; original not seen).
RATINGS_C = (60, 75, 90)
BASE_AMBIENT_C = 30.0
_COOLEST_C = 10.0  # NEC table 310.15(B)(1)(1), first row (reprint)
_HOTTEST_C = 85.0  # NEC table 310.15(B)(1)(1), last row (reprint)
_WIREWAY_FREE = 30  # NEC 376.22(B) (reprint; original not seen): of metal wireways


def table_ampacity(size: Size | str, metal: str, rating_c: int) -> float:
    """Return the ampacity in A of a conductor in a raceway at 30 °C, at most three together.

    Raises `TableEntryError` if the table has no such conductor; the sizes it has are named. mm² are
    never converted.

    Source: NEC table 310.16, 310.15(B)(16) in 2014 and 2017 (reprint; original not seen).

    >>> table_ampacity("10 AWG", "Cu", 90)
    40.0
    """
    size = as_size(size)
    check_metal(metal)
    if rating_c not in RATINGS_C:
        raise OutOfRangeError("Temperature rating", rating_c, "°C", "60, 75 or 90 °C")
    table = load_table("nec_310_16")
    key = size.table_key if size.system != "mm2" else ""
    row = table.find(size=key, metal=metal)
    if row is None or not row[f"amp_{rating_c}c"]:
        held = [r["size"] for r in table.rows if r["metal"] == metal and r[f"amp_{rating_c}c"]]
        raise TableEntryError("NEC table 310.16", f"{size.text} {metal}, {rating_c} °C", held)
    return float(row[f"amp_{rating_c}c"])


def ambient_factor(ambient_c: float, rating_c: int) -> float:
    """Return the correction for an ambient temperature; 0 where the conductor may not be used.

    Source: NEC table 310.15(B)(1)(1) (reprint; original not seen). A row holds for all temperatures
    above the row before.

    >>> ambient_factor(41, 75), ambient_factor(60, 60)
    (0.82, 0.0)
    """
    between(-60, 85, "Ambient temperature", ambient_c, "°C")
    row = load_table("nec_310_15_ambient").up_to("up_to_c", ambient_c)
    return float((row and row[f"factor_{rating_c}c"]) or 0.0)


def adjustment_factor(count: int) -> float:
    """Return the factor for so many current-carrying conductors in a raceway above 24 in.

    Source: NEC table 310.15(C)(1) (reprint; original not seen).

    >>> adjustment_factor(3), adjustment_factor(7)
    (1.0, 0.7)
    """
    above(0, "Count of conductors", count, "")
    for row in load_table("nec_310_15_adjustment").rows:
        if count >= int(row["from_count"]) and (
            not row["to_count"] or count <= int(row["to_count"])
        ):
            return float(row["pct"]) / 100
    return 1.0


@dataclass(frozen=True)
class Roof:
    """Degrees to add in °C: at most, and at least; what would settle it."""

    most_c: float = 0.0
    least_c: float = 0.0
    state: tuple[str, ...] = ()


NO_ROOF = Roof()


@dataclass(frozen=True)
class Conditions:
    """What a conductor meets in a raceway.

    `best_c` and `best_ambient_c` are what they would be if all that is unknown were favourable;
    `roof` is what the sun on a roof adds to both. `counted` are the conductors that carry current,
    not adjusted for up to `free`.
    """

    rating_c: int
    ambient_c: float
    counted: Carrying
    lacking: tuple[str, ...]
    best_c: int = 90
    best_ambient_c: float = BASE_AMBIENT_C
    roof: Roof = NO_ROOF
    free: int = 0

    @property
    def factor(self) -> float:
        """The factor under the conditions as far as they are known."""
        hot_c = self.ambient_c + self.roof.most_c
        return _warmed(hot_c, self.rating_c) * self.adjusted(self.counted.most)

    @property
    def best_factor(self) -> float:
        """The factor if all that is unknown were favourable."""
        warm_c = self.best_ambient_c + self.roof.least_c
        return _warmed(warm_c, self.best_c) * self.adjusted(self.counted.least)

    def adjusted(self, count: int) -> float:
        """Return the factor for so many conductors that carry current."""
        return 1.0 if count <= self.free else adjustment_factor(count)

    @property
    def state(self) -> tuple[str, ...]:
        """What would have to be stated for a better count or a cooler place."""
        same = self.adjusted(self.counted.most) == self.adjusted(self.counted.least)
        return (*self.roof.state, *(() if same else self.counted.state))

    @property
    def words(self) -> str:
        """The conditions as a reader sees them."""
        words = f"{self.ambient_c + self.roof.most_c:g} °C"
        if self.roof.most_c:
            words += f", {self.roof.most_c:g} of them for the sun on the roof,"
        words += f" and {self.counted.most} current-carrying"
        if self.free and self.counted.most > 3:
            words += " in a wireway"
        extra = self.counted.most + self.counted.nonlinear
        if self.adjusted(extra) != self.adjusted(self.counted.most):
            words += f", {extra} where most of the load is nonlinear"
        return words


def _warmed(ambient_c: float, rating_c: int) -> float:
    """Return the correction for a temperature that sun may have raised above the table's last."""
    return ambient_factor(ambient_c, rating_c) if ambient_c <= _HOTTEST_C else 0.0


def conditions_of(wire: Wire, run: Run | None, code: Code) -> Conditions:
    """Return the conditions; for an unknown one a value that flatters no conductor but 30 °C."""
    rating_c, lacking = _rating(wire, run.raceway.wet if run else None)
    rows = type_rows(wire.conductor.insulation)
    wet_for_sure = run is not None and run.raceway.wet is True
    best_c = rating_c if wet_for_sure and rows else max((int(r["dry_c"]) for r in rows), default=90)
    ambient = run.ambient_c if run else None
    if ambient is None:
        lacking.append("ambient temperature: state ambient of the raceway or ambient_max of site")
    counted = Carrying(1, 1) if run is None or run.is_nipple else carrying(run)
    free = _WIREWAY_FREE if run and run.is_wireway and run.raceway.metal is not False else 0
    return Conditions(
        rating_c, BASE_AMBIENT_C if ambient is None else ambient, counted, tuple(lacking), best_c,
        _COOLEST_C if ambient is None else ambient, roof_of(wire, run, code), free,
    )  # fmt: skip


def _rating(wire: Wire, wet: bool | None) -> tuple[int, list[str]]:
    """Return the temperature rating that is sure, and what is missing for a better one."""
    rows = type_rows(wire.conductor.insulation)
    dry = max((int(row["dry_c"]) for row in rows), default=60)
    in_wet = max((int(row["wet_c"]) for row in rows if row["wet_c"]), default=60)
    if not rows:
        return 60, ["insulation type"]
    if wet is False:
        return dry, []
    if wet is None:
        return in_wet, [] if in_wet == dry else ["whether the raceway is wet"]
    return in_wet, [] if any(row["wet_c"] for row in rows) else ["a type for wet places"]


_SPARED = "XHHW-2"
_ROOFS = ("roof-array",)
_FIRST_BELOW = 2017  # NEC 310.15(B)(3)(c) (reprint): until then a table of "up to" heights


def roof_adder(above_roof_m: float, edition: int) -> float:
    """Return what is added in °C to the outdoor temperature at a height above a sunny roof.

    The height is from the roof to the bottom of the raceway or cable; 0 or more.

    Source: NEC table 310.15(B)(3)(c) of 2014; 310.15(B)(3)(c) of 2017; 310.15(B)(2) of 2020 and
    2023 (reprints; originals not seen).

    >>> roof_adder(0.05, 2014), roof_adder(0.05, 2017), roof_adder(0.02, 2020)
    (22.0, 0.0, 33.0)
    """
    between(0, 1000, "Height above the roof", above_roof_m, "m")
    height_mm = round(above_roof_m * 1000, 3)
    for row in load_table("nec_rooftop").rows:
        if int(row["edition"]) != edition:
            continue
        limit = float(row["below_mm"])
        if height_mm < limit or (edition < _FIRST_BELOW and height_mm == limit):
            return float(row["add_c"])
    return 0.0


def roof_of(wire: Wire, run: Run | None, code: Code) -> Roof:
    """Return what the sun on a roof adds for one conductor; XHHW-2 is spared.

    A raceway lies on a roof where its height above one is recorded, or may where it ends at an
    array on a roof.
    """
    if run is None or run.raceway.sunlight is False:
        return NO_ROOF
    if _SPARED in known_types(wire.conductor.insulation):
        return NO_ROOF
    height_m, name, state = run.raceway.above_roof_m, run.raceway.code, []
    boxes = (run.from_box, run.to_box)
    if height_m is None and not any(box is not None and box.kind in _ROOFS for box in boxes):
        return NO_ROOF
    if height_m is None:
        state.append(f"height above the roof: state above_roof of {name}")
    if run.raceway.sunlight is None:
        state.append(f"whether it lies in the sun: state sunlight of {name}")
    editions = (code.edition,) if code.edition else NEC_EDITIONS
    added = [roof_adder(height_m or 0.0, edition) for edition in editions]
    least = 0.0 if state else min(added)
    if min(added) != max(added):
        state.append("edition of the NEC: state edition of site")
    return Roof(max(added), least, tuple(state)) if max(added) else NO_ROOF
