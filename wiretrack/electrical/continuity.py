# SPDX-License-Identifier: MIT
"""The verdict on a continuity or loop reading: against what the conductor should have."""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache
from math import sqrt
from typing import TYPE_CHECKING

from wiretrack.electrical.accuracy import (
    COVERAGE_FACTOR,
    UNKNOWN_METER,
    WORST_OPERATING,
    Guard,
    Meter,
    at_most,
    bounded,
    combined,
    guard_of,
    largest_part,
    standard_uncertainty,
)
from wiretrack.electrical.limits import between, check_temperature
from wiretrack.electrical.quantity_text import format_measured, format_resistance
from wiretrack.electrical.resistance import CONDUCTOR_TOLERANCE, expected_resistance
from wiretrack.errors import TableEntryError
from wiretrack.late import dataclass
from wiretrack.model.entity import Verdict
from wiretrack.sources import COMMON_PRACTICE, IEC_60364_6, IEC_61557_4, JCGM_100

if TYPE_CHECKING:
    from collections.abc import Sequence

    from wiretrack.electrical.quantities import Measured
    from wiretrack.electrical.sizes import Size

CONTACT_OHM = 0.1  # common practice: what clips, twists and terminals may add
JOINT_OHM = 0.02  # common practice: what a sound splice or terminal between two conductors may add
LENGTH_TOLERANCE = 0.05  # common practice: how far a stated length is off
TEMP_TOLERANCE_K = 3.0  # common practice: how far a stated conductor temperature is off
_FINEST = 4  # common practice: meters come in decades, from 0.1 ohm to 10 microohms
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


@dataclass(frozen=True)
class _Shown:
    """What a meter showed, less the leads, with the guard band of that figure."""

    measured: Measured
    leads_ohm: float
    meter: Meter
    figure: float
    guard: Guard

    @property
    def text(self) -> str:
        """The figure for people."""
        return format_resistance(self.figure) + (" without the leads" if self.leads_ohm else "")

    def width_at(self, ohms: float, step: float | None = None) -> float | None:
        """Return the guard band that a figure of `ohms` would have, with a resolution of `step`."""
        meter = self.meter
        if step is not None:
            meter = replace(meter, resolution=step, resolution_unit="ohm")
        step = step or self.measured.step
        u = _u(
            replace(self.measured, number=ohms + self.leads_ohm, step=step), self.leads_ohm, meter
        )
        return None if u is None else COVERAGE_FACTOR * u


def continuity_verdict(
    measured: Measured, path: Sequence[Piece], *, temp_c: float | None = None,
    leads_ohm: float | None = None, meter: Meter = UNKNOWN_METER, joints: int = 0,
) -> Verdict:  # fmt: skip
    """Return the verdict on a continuity reading along `path`, in ohm.

    `measured` is the reading as shown, `leads_ohm` with the leads shorted: 0 if the meter has
    them nulled. `path` are the conductors measured one after the other, with so many `joints`
    between them: one for a continuity reading, the two that were joined for a loop. Without
    their temperature the verdict must hold from -20 to 50 °C.

    Source: IEC 60364-6:2016, 6.4.3.2 and annex A: compare with the calculated resistance
    (reprint); JCGM 100:2008, 5.1.2: length, temperature and conductor tolerances combined.
    """
    if leads_ohm is not None:
        between(0, 1000, "Leads' resistance", leads_ohm, "ohm")
    measured = bounded(measured, meter)
    missing = _missing(path)
    bands = () if missing else _bands(tuple(path), temp_c, joints)
    if measured.over_range:
        return _over_range(measured, bands)
    if missing:
        return _doubt(None, f"can't be judged: unknown {', '.join(missing)}", _SOURCE, missing)
    if not bands:
        return _doubt(None, "no published resistance for this conductor", _SOURCE, ())
    return _judge(measured, bands, leads_ohm, meter)


def loop_verdict(
    measured: Measured, out: Piece, back: Piece | None, *, temp_c: float | None = None,
    leads_ohm: float | None = None, meter: Meter = UNKNOWN_METER,
) -> Verdict:  # fmt: skip
    """Return the verdict on a loop reading, in ohm: two conductors joined at the far end.

    Expected is the resistance out and back: that of both conductors, twice one where they are
    alike. `back` is `None` where the record doesn't tell which one the current returns on.

    Source: IEC 60364-6:2016, 6.4.3.2 and annex A: compare with the calculated resistance (reprint).
    """
    if back is None and not measured.over_range:
        reason = f"{format_measured(measured)} can't be judged: the return conductor isn't known"
        hint = "; read against its tag, and both are expected, out and back"
        return _doubt(None, reason + hint, _SOURCE, ("return conductor",))
    path = [out] if back is None else [out, back]
    found = continuity_verdict(measured, path, temp_c=temp_c, leads_ohm=leads_ohm, meter=meter)
    return replace(found, reason=f"{found.reason}; out and back")


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


@lru_cache(maxsize=4096)  # of a conductor's readings most are judged by the same
def _bands(path: tuple[Piece, ...], temp_c: float | None, joints: int) -> tuple[_Band, ...]:
    """Return the band at the stated temperature, or those at the coldest and the warmest."""
    if temp_c is not None:
        check_temperature(temp_c)
    temps = (COLDEST_C, WARMEST_C) if temp_c is None else (temp_c,)
    try:
        return tuple(_band(path, temp, joints) for temp in temps)
    except TableEntryError:
        return ()


def _band(path: Sequence[Piece], temp_c: float, joints: int) -> _Band:
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
    allowed = CONTACT_OHM + joints * JOINT_OHM
    at_joints = f" and {JOINT_OHM:g} Ω for each of {joints} joints" if joints > 1 else ""
    at_joints = f" and {JOINT_OHM:g} Ω for the joint" if joints == 1 else at_joints
    return _Band(
        expected, expected - spread, expected + spread + allowed, f"{temp_c:g} °C",
        f"{_SOURCE}: {source}; {spread / expected:.0%} for length, temperature and wire "
        f"({JCGM_100.key}) and {CONTACT_OHM:g} Ω for contacts{at_joints} ({COMMON_PRACTICE.key})",
    )  # fmt: skip


def _over_range(measured: Measured, bands: Sequence[_Band]) -> Verdict:
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
    measured: Measured, bands: Sequence[_Band], leads_ohm: float | None, meter: Meter
) -> Verdict:
    """Return the verdict on a value: the same at every temperature that is possible, or a doubt."""
    shown = _shown(measured, leads_ohm or 0.0, meter)
    verdicts = [_at_one_temperature(shown, band) for band in bands]
    verdict = verdicts[0]
    if len({v.outcome for v in verdicts}) > 1:
        reason = f"{shown.text}; temperature not stated, and it decides between {_range(bands)}"
        verdict = _doubt(shown.figure, reason, bands[0].source, ("temperature",))
    elif len(bands) > 1:
        verdict = replace(
            verdict,
            reason=f"{verdict.reason}; temperature not stated: the same at {_range(bands)}",
        )
    verdict = replace(verdict, figure=shown.figure, guard_band=shown.guard.accept)
    return _leads_note(verdict, leads_ohm)


def _shown(measured: Measured, leads_ohm: float, meter: Meter) -> _Shown:
    """Return the reading less the leads' resistance, with its guard band."""
    figure = (measured.number or 0.0) - leads_ohm
    u = _u(measured, leads_ohm, meter)
    part = None if u is None else largest_part(measured, meter)
    if part and leads_ohm:
        part += ", once for the reading and once for the leads"
    worst, tester = WORST_OPERATING, IEC_61557_4.key
    return _Shown(measured, leads_ohm, meter, figure, guard_of(figure, u, worst, tester, part))


def _u(measured: Measured, leads_ohm: float, meter: Meter) -> float | None:
    """Return the standard uncertainty of a reading and of the leads read with the same meter."""
    u = standard_uncertainty(measured, meter)
    if u is None or not leads_ohm:
        return u
    return combined(u, standard_uncertainty(replace(measured, number=leads_ohm), meter) or 0.0)


def _at_one_temperature(shown: _Shown, band: _Band) -> Verdict:
    figure, guard = shown.figure, shown.guard
    found = f"{shown.text}; expected {format_resistance(band.expected)} at {band.at}"
    coarse = _coarse(shown, band)
    if figure < 0 and coarse and figure + guard.accept >= 0:
        reason = f"{found}; {guard.because('doubt')}; {_can_not_tell(shown, band)}"
        return Verdict("doubt", band.limit, "ohm", band.source, reason, missing=("resolution",))
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
    reason = f"{found}, at most {format_resistance(band.limit)}; {guard.because(outcome)}"
    if outcome == "doubt" and coarse:
        reason = f"{reason}; {_can_not_tell(shown, band)}"
        return Verdict("doubt", band.limit, "ohm", band.source, reason, missing=("resolution",))
    if outcome == "doubt" and guard.most is None:
        hint = "; name the instrument, its accuracy and its resolution"
        return Verdict(
            "doubt", band.limit, "ohm", band.source, reason + hint, missing=("accuracy",)
        )
    hint = "" if outcome == "pass" else "; make the contacts good and read again"
    return Verdict(outcome, band.limit, "ohm", band.source, reason + hint)


def _coarse(shown: _Shown, band: _Band) -> bool:
    """Return whether this meter would leave a doubt about a path just as it should be."""
    width = shown.width_at(band.expected)
    return width is not None and width > band.limit - band.expected


def _can_not_tell(shown: _Shown, band: _Band) -> str:
    """Return what follows all the same from a meter that can't tell, and which one could."""
    bound = format_resistance(max(shown.figure, 0.0) + shown.guard.accept)
    step = shown.meter.step_at(shown.measured) or 0.0
    finer = (step / 10**n for n in range(1, _FINEST + 1))
    enough = next((s for s in finer if _would_do(shown.width_at(band.expected, s), band)), None)
    needed = (
        f"a resolution of {format_resistance(enough)} would tell" if enough
        else "a more accurate meter, or one with its leads nulled, would tell"
    )  # fmt: skip
    typed = "type every digit that it shows; " if shown.meter.resolution is None else ""
    return f"the meter can't tell: continuous, and no more than {bound}; {typed}{needed}"


def _would_do(width: float | None, band: _Band) -> bool:
    return width is not None and width <= band.limit - band.expected


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


def _range(bands: Sequence[_Band]) -> str:
    return " and ".join(
        f"{band.at} ({format_resistance(band.expected)} expected)" for band in (bands[0], bands[-1])
    )


def _doubt(figure: float | None, reason: str, source: str, missing: tuple[str, ...]) -> Verdict:
    return Verdict("doubt", None, "ohm", source, reason, figure, None, missing)
