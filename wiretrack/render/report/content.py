# SPDX-License-Identifier: MIT
"""What a verification report holds: records as they are, and what was found about them."""

from __future__ import annotations

from collections import Counter
from dataclasses import asdict, field, fields
from datetime import date, datetime
from typing import TYPE_CHECKING, Any, Literal, Protocol

from wiretrack.late import dataclass
from wiretrack.readings import reading_json
from wiretrack.sources import COMMON_PRACTICE

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    from wiretrack.electrical.findings import Finding
    from wiretrack.electrical.resistance import Expected
    from wiretrack.electrical.rules.marking import Marking
    from wiretrack.model.entities import Circuit, Conductor, Enclosure, Raceway, Reading
    from wiretrack.model.parts import Device, Instrument, SiteFacts
    from wiretrack.model.routes import Route
    from wiretrack.readings.trending import ConductorTrend
    from wiretrack.render.report.asked import Asked, ToDo
    from wiretrack.ringout.results import RingoutRecord
    from wiretrack.store.history import LastChange

CalibrationState = Literal["in date", "overdue", "unknown"]
INTERVAL = "a year"  # common practice: one year; the maker or the quality rules may say otherwise
SOURCE = COMMON_PRACTICE.key


@dataclass(frozen=True)
class Calibration:
    """What is known of an instrument's calibration, and why it is said."""

    state: CalibrationState
    reason: str


def calibration(calibrated_on: str | None, taken_at: Sequence[str | None]) -> Calibration:
    """Return whether readings taken at these moments lie within a year after the calibration.

    A record holds one calibration only, so what was read before it stays unknown.

    The day and the moments are ISO 8601; None where one isn't recorded.
    """
    day = _day(calibrated_on)
    if day is None:
        why = f"'{calibrated_on}' is no date" if calibrated_on else "no calibration is recorded"
        return Calibration("unknown", why)
    days = [_day(at) for at in taken_at]
    known = sorted(one for one in days if one is not None)
    if not known:
        return Calibration("unknown", "no reading with a date was taken with it")
    due = _year_after(day)
    late = sum(one > due for one in known)
    early = sum(one < day for one in known)
    if late:
        why = f"{_count(late)} taken more than {INTERVAL} after it, the last on {known[-1]}"
        return Calibration("overdue", why)
    if early:
        why = f"{_count(early)} taken before it, the first on {known[0]}"
        return Calibration("unknown", f"{why}; an earlier calibration isn't recorded")
    if len(known) < len(days):
        return Calibration("unknown", "a reading taken with it has no date")
    return Calibration("in date", f"every reading taken within {INTERVAL} of it")


def _count(number: int) -> str:
    return f"{number} reading{'s' if number != 1 else ''}"


def _day(text: str | None) -> date | None:
    try:
        return datetime.fromisoformat(text).date() if text else None
    except ValueError:
        return None


def _year_after(day: date) -> date:
    try:
        return day.replace(year=day.year + 1)
    except ValueError:  # 29 February, or the last year of the calendar
        return date(day.year + 1, 3, 1) if day.year < date.max.year else date.max


Json = dict[str, object]


def _without(*names: str) -> dict[str, Any]:
    """Return how a record, or a list of them, is written for scripts: without these fields."""

    def written(value: Any) -> Any:
        if isinstance(value, (list, tuple)):
            return [written(one) for one in value]
        return {key: inner for key, inner in asdict(value).items() if key not in names}

    return {"written": written}


class OpenPoint(Protocol):
    """Something that is still to be done."""

    @property
    def what(self) -> str:
        """What is open, in the words of the punch list."""

    @property
    def subject(self) -> str:
        """The tag or code that it is about."""

    @property
    def detail(self) -> str:
        """More about it."""

    @property
    def since(self) -> str | None:
        """Since when."""


class Described(Protocol):
    """A conductor and what it should read."""

    @property
    def conductor(self) -> Conductor:
        """Its record."""

    @property
    def expected(self) -> Expected | None:
        """What it should read at 20 °C."""


@dataclass(frozen=True)
class About:
    """What the report is of: a circuit, or the site."""

    kind: str
    code: str | None
    title: str | None


@dataclass(frozen=True)
class State:
    """Which state of the registry the report is of; `record_sha256` where it was worked out."""

    site_id: str | None
    record_sha256: str | None
    changes: int
    last_change: LastChange
    head: str | None
    readings: int
    notes: int
    attachments: int


@dataclass(frozen=True)
class ReportReading:
    """A reading under its number: of what, whether it counts now, what took it back.

    `history_of` names the conductors that the one it was read of has become.
    """

    reading: Reading
    tag: str
    function: str
    history_of: str | None = None
    number: int = 0
    counts: bool = False
    superseded_by: str | None = None

    @property
    def owed_again(self) -> bool:
        """Whether it proves nothing any more, as ends were found crossed."""
        return self.history_of is None and self.reading.is_stale

    @property
    def of(self) -> str:
        """What it is of, with the function of a conductor."""
        return f"{self.tag} {self.function}".strip()

    def as_json(self) -> Json:
        """Return it as scripts read it."""
        names = ("number", "tag", "function", "history_of", "owed_again", "counts")
        own = {name: getattr(self, name) for name in names}
        return own | reading_json(self.reading) | {"superseded_by": self.superseded_by}


@dataclass(frozen=True)
class RetiredConductor:
    """A conductor that is no longer part of the work, and what is in its place."""

    tag: str
    function: str | None
    at: str
    because: str
    became: str
    followed_by: Sequence[str]
    in_its_place: Sequence[str]
    caution: str | None


@dataclass(frozen=True)
class PullRoute:
    """The way of a pull's conductors: raceways, and the enclosures that they join, in order."""

    ALSO = ("raceways", "enclosures", "length_m")

    pull: str | None
    route: Route = field(metadata={"json": None})

    @property
    def raceways(self) -> tuple[str, ...]:
        """The codes of the raceways."""
        return self.route.raceways

    @property
    def enclosures(self) -> tuple[str, ...]:
        """The enclosures visited."""
        return self.route.boxes

    @property
    def length_m(self) -> float | None:
        """How long it is; `None` where a length isn't known."""
        return self.route.length_m


@dataclass(frozen=True)
class ReportCircuit:
    """All that the report says of one circuit."""

    circuit: Circuit
    voc_stc_v: float | None
    devices: Sequence[Device] = field(metadata=_without("id", "poles"))
    routes: Sequence[PullRoute]
    conductors: Sequence[Described]
    readings: Sequence[ReportReading]
    trends: Sequence[ConductorTrend]
    retired_conductors: Sequence[RetiredConductor]
    open: Sequence[OpenPoint]
    tests_by_hand: Sequence[ToDo]

    def as_json(self) -> Json:
        """Return it as scripts read it: beside the circuit's own fields."""
        told = {each.name: each for each in fields(self)}
        return asdict(self.circuit) | {
            name: each.metadata.get("written", _same)(getattr(self, name))
            for name, each in told.items()
            if name != "circuit"
        }


def _same(value: object) -> object:
    return value


@dataclass(frozen=True)
class UsedInstrument:
    """An instrument, how many readings were taken with it, and what its calibration is worth."""

    instrument: Instrument
    calibration: Calibration
    readings: int

    def as_json(self) -> Json:
        """Return it as scripts read it: beside the instrument's own fields."""
        worth = {"calibration": self.calibration.state, "source": SOURCE}
        reason = {"calibration_reason": self.calibration.reason, "readings": self.readings}
        return asdict(self.instrument) | worth | reason


@dataclass(frozen=True)
class UnderWay:
    """A ring-out that was begun and isn't finished."""

    pull: str | None
    near: str | None
    far: str | None
    at: str


@dataclass(frozen=True)
class RetiredCircuit:
    """A circuit that is no longer part of the work, and what of it lies in raceways still."""

    code: str
    title: str | None
    retired_at: str
    abandoned: Sequence[str]


@dataclass(frozen=True)
class Outcome:
    """How many readings and findings pass, fail and are in doubt, and what is open."""

    readings: Mapping[str, int]
    findings: Mapping[str, int]
    open: Mapping[str, int]


@dataclass(frozen=True)
class Content:
    """The verification report of a circuit or of the site."""

    ALSO = ("outcome",)

    about: About
    made_at: str
    by: str | None
    program: str
    registry: State
    site: SiteFacts = field(metadata=_without("id"))
    circuits: Sequence[ReportCircuit]
    raceways: Sequence[Raceway] = field(metadata=_without())
    enclosures: Sequence[Enclosure] = field(metadata=_without())
    instruments: Sequence[UsedInstrument]
    findings: Sequence[Finding]
    markings: Sequence[Marking]
    ringouts: Sequence[RingoutRecord]
    ringouts_under_way: Sequence[UnderWay]
    retired: Sequence[RetiredCircuit]
    cautions: Sequence[str]
    inspection: Sequence[ToDo]
    required: Sequence[Asked]

    @property
    def systems(self) -> set[str | None]:
        """The systems of its circuits; None is one that isn't recorded."""
        return {one.circuit.system for one in self.circuits}

    @property
    def outcome(self) -> Outcome:
        """What came of it, counted."""
        standing = [r for c in self.circuits for r in c.readings if r.counts]
        return Outcome(
            _counts(row.reading.verdict.outcome for row in standing),
            _counts(row.outcome for row in self.findings),
            dict(Counter(row.what for c in self.circuits for row in c.open)),
        )


def _counts(outcomes: Iterable[str]) -> dict[str, int]:
    counted = Counter(outcomes)
    return {word: counted[word] for word in ("pass", "fail", "doubt")}
