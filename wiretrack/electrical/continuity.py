# SPDX-License-Identifier: MIT
"""The verdict on a continuity or loop reading: against what the conductor should have."""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import sqrt
from typing import TYPE_CHECKING

from wiretrack.electrical.accuracy import (
    COVERAGE_FACTOR,
    UNKNOWN_METER,
    WORST_OPERATING,
    Meter,
    combined,
    standard_uncertainty,
)
from wiretrack.electrical.likely_length import CONDUCTOR_TOLERANCE
from wiretrack.electrical.limits import between, check_temperature
from wiretrack.electrical.quantity_text import format_measured, format_resistance
from wiretrack.electrical.resistance import expected_resistance
from wiretrack.electrical.verdicts import Guard, Verdict, at_most, guard_of
from wiretrack.errors import TableEntryError
from wiretrack.sources import COMMON_PRACTICE, IEC_60364_6, IEC_61557_4, JCGM_100

if TYPE_CHECKING:
    from collections.abc import Sequence

    from wiretrack.electrical.quantities import Measured
    from wiretrack.electrical.sizes import Size

CONTACT_OHM = 0.1  # common practice: what clips, twists and terminals may add
LENGTH_TOLERANCE = 0.05  # common practice: how far a stated length is off
TEMP_TOLERANCE_K = 3.0  # common practice: how far a stated conductor temperature is off
COLDEST_C, WARMEST_C = -20.0, 50.0  # taken where no temperature is stated, and said so


@dataclass(frozen=True)
class Piece:
    """One conductor of the path that was measured; `None` is unknown."""

    size: Size | str | None
    metal: str | None
    length_m: float | None
    strands: int | None = None
    name: str | None = None


@dataclass(frozen=True)
class _Band:
    """Where a sound path must read: from `floor` to `limit` ohm, around `expected`."""

    expected: float
    floor: float
    limit: float
    at: str
    source: str


def continuity_verdict(
    measured: Measured, path: Sequence[Piece], *, temp_c: float | None = None,
    leads_ohm: float | None = None, meter: Meter = UNKNOWN_METER,
) -> Verdict:  # fmt: skip
    """Return the verdict on a continuity reading along `path`, in ohm.

    Parameters
    ----------
    measured : Measured
        The reading as shown, leads included.
    path : sequence of Piece
        The conductors measured one after the other: one for a continuity reading, the two that
        were joined for a loop.
    temp_c : float, optional
        Temperature of the conductors. Unknown: the verdict must hold from -20 to 50. [°C]
    leads_ohm : float, optional
        Reading with the leads shorted, subtracted; 0 if the meter has them nulled. [ohm]

    References
    ----------
    .. [1] IEC 60364-6:2016, 6.4.3.2 and annex A: compare with the calculated resistance (reprint).
    .. [2] JCGM 100:2008, 5.1.2: length, temperature and conductor tolerances combined.
    """
    if leads_ohm is not None:
        between(0, 1000, "Leads' resistance", leads_ohm, "ohm")
    missing = _missing(path)
    bands = [] if missing else _bands(path, temp_c)
    if measured.over_range:
        return _over_range(measured, bands)
    if missing:
        return _doubt(None, f"can't be judged: unknown {', '.join(missing)}", _SOURCE, missing)
    if not bands:
        return _doubt(None, "no published resistance for this conductor", _SOURCE, ())
    return _judge(measured, bands, leads_ohm, meter)


_SOURCE = IEC_60364_6.cite("6.4.3.2")


def _missing(path: Sequence[Piece]) -> tuple[str, ...]:
    """Return the facts that aren't known, each once."""
    if not path:
        return ("path",)
    facts = [
        f"{word} of {piece.name}" if piece.name else word
        for piece in path
        for word, value in (
            ("size", piece.size),
            ("metal", piece.metal),
            ("length", piece.length_m),
        )
        if value is None
    ]
    return tuple(dict.fromkeys(facts))


def _bands(path: Sequence[Piece], temp_c: float | None) -> list[_Band]:
    """Return the band at the stated temperature, or those at the coldest and the warmest."""
    if temp_c is not None:
        check_temperature(temp_c)
    temps = (COLDEST_C, WARMEST_C) if temp_c is None else (temp_c,)
    try:
        return [_band(path, temp) for temp in temps]
    except TableEntryError:
        return []


def _band(path: Sequence[Piece], temp_c: float) -> _Band:
    """Return the range of a sound path at one temperature (JCGM 100:2008, 5.1.2, k = 2)."""
    pieces = [
        expected_resistance(p.size, p.length_m, temp_c, p.metal, p.strands)
        for p in path
        if p.size is not None and p.length_m is not None and p.metal is not None
    ]
    expected = sum(piece.ohms for piece in pieces)
    relative = combined(LENGTH_TOLERANCE, CONDUCTOR_TOLERANCE, 0.004 * TEMP_TOLERANCE_K) / sqrt(3)
    spread = COVERAGE_FACTOR * relative * expected
    source = "; ".join(dict.fromkeys(piece.source for piece in pieces))
    return _Band(
        expected, expected - spread, expected + spread + CONTACT_OHM, f"{temp_c:g} °C",
        f"{_SOURCE}: {source}; {spread / expected:.0%} for length, temperature and wire "
        f"({JCGM_100.key}) and {CONTACT_OHM:g} Ω for contacts ({COMMON_PRACTICE.key})",
    )  # fmt: skip


def _over_range(measured: Measured, bands: list[_Band]) -> Verdict:
    """Return the verdict on a display above its top: open, unless the bound is too low to tell."""
    limit = max((band.limit for band in bands), default=None)
    shown = format_measured(measured)
    source = bands[-1].source if bands else _SOURCE
    if measured.number is not None and limit is not None and measured.number < limit:
        reason = (
            f"{shown} is a bound below the limit of {format_resistance(limit)}: use a higher range"
        )
        return Verdict("doubt", limit, "ohm", source, reason)
    reason = f"{shown}: the display went over its top, so the path is open or a contact is bad"
    return Verdict("fail", limit, "ohm", source, reason)


def _judge(
    measured: Measured, bands: list[_Band], leads_ohm: float | None, meter: Meter
) -> Verdict:
    """Return the verdict on a value: the same at every temperature that is possible, or a doubt."""
    figure, guard = _figure(measured, leads_ohm, meter)
    found = format_resistance(figure) + (" without the leads" if leads_ohm else "")
    verdicts = [_at_one_temperature(figure, found, band, guard) for band in bands]
    verdict = verdicts[0]
    if len({v.outcome for v in verdicts}) > 1:
        reason = f"{found}; temperature not stated, and it decides between {_range(bands)}"
        verdict = _doubt(figure, reason, bands[0].source, ("temperature",))
    elif len(bands) > 1:
        verdict = replace(
            verdict,
            reason=f"{verdict.reason}; temperature not stated: the same at {_range(bands)}",
        )
    return _leads_note(replace(verdict, figure=figure, guard_band=guard.accept), leads_ohm)


def _figure(measured: Measured, leads_ohm: float | None, meter: Meter) -> tuple[float, Guard]:
    """Return the reading less the leads' resistance, with its guard band."""
    number = measured.number or 0.0
    u = standard_uncertainty(measured, meter)
    if u is not None and leads_ohm:
        leads = standard_uncertainty(replace(measured, number=leads_ohm), meter)
        u = combined(u, leads or 0.0)
    figure = number - (leads_ohm or 0.0)
    tester = IEC_61557_4.key
    return figure, guard_of(figure, u, "ohm", WORST_OPERATING["continuity"], tester)


def _at_one_temperature(figure: float, found: str, band: _Band, guard: Guard) -> Verdict:
    found = f"{found}; expected {format_resistance(band.expected)} at {band.at}"
    if figure < 0:
        reason = f"{found}; less than the leads alone: measure the leads again, then the conductor"
        return Verdict("doubt", band.limit, "ohm", band.source, reason, missing=("leads",))
    if figure + max(guard.accept, guard.reject) < band.floor:
        reason = (
            f"{found}, at least {format_resistance(band.floor)}: too low, so a shorter path or "
            "another conductor was measured, or its size or length is recorded wrongly"
        )
        return Verdict("doubt", band.limit, "ohm", band.source, reason)
    outcome = at_most(figure, band.limit, guard)
    hint = "" if outcome == "pass" else "; make the contacts good and read again"
    reason = f"{found}, at most {format_resistance(band.limit)}; {guard.why}{hint}"
    return Verdict(outcome, band.limit, "ohm", band.source, reason)


def _leads_note(verdict: Verdict, leads_ohm: float | None) -> Verdict:
    """Return the verdict, softened where unsubtracted leads alone could have made it fail."""
    if leads_ohm is not None:
        return verdict
    if verdict.outcome == "fail":
        reason = f"{verdict.reason}; the leads' resistance isn't stated and not subtracted"
        missing = (*verdict.missing, "leads' resistance")
        far = verdict.figure is not None and verdict.limit is not None
        if far and (verdict.figure or 0) > (verdict.limit or 0) + 1.0:
            return replace(verdict, reason=reason)  # no test lead has 1 ohm (common practice)
        return replace(verdict, outcome="doubt", reason=reason, missing=missing)
    return replace(verdict, reason=f"{verdict.reason}; leads not subtracted")


def _range(bands: list[_Band]) -> str:
    return " and ".join(
        f"{band.at} ({format_resistance(band.expected)} expected)" for band in (bands[0], bands[-1])
    )


def _doubt(figure: float | None, reason: str, source: str, missing: tuple[str, ...]) -> Verdict:
    return Verdict("doubt", None, "ohm", source, reason, figure, None, missing)
