# SPDX-License-Identifier: MIT
"""``show``: one conductor, circuit, enclosure, raceway or pull."""

from __future__ import annotations

from contextlib import nullcontext
from functools import cache
from typing import TYPE_CHECKING, Any

import click

from wiretrack.cli.command import Command
from wiretrack.cli.options import Answer, answers
from wiretrack.cli.output import (
    OUTCOME_STYLES,
    counted,
    facts,
    heading,
    indented,
    length,
    noted_facts,
    one_screen,
    quantity,
    resistance,
    say,
    table,
)
from wiretrack.days import day, typed_day
from wiretrack.electrical.quantity_text import shown
from wiretrack.encoding import document
from wiretrack.late import dataclass
from wiretrack.readings import told as read_what
from wiretrack.readings.base import latest

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from wiretrack.library import OpenSite
    from wiretrack.model.labels import EndLabel
    from wiretrack.model.parts import End
    from wiretrack.model.reading import Reading
    from wiretrack.tasks.change.retired import Retirement
    from wiretrack.tasks.find.records import (
        CircuitRecord,
        ConductorRecord,
        EnclosureRecord,
        PullRecord,
        RacewayRecord,
        Record,
    )
    from wiretrack.tasks.find.showing import ThingRecord
    from wiretrack.tasks.report.punchlist import OpenPoint
    from wiretrack.tasks.report.standing import NextStep, Standing


@click.command(cls=Command)
@click.argument("what")
@click.option("--all", "everything", is_flag=True, help="All of it, not just a screen.")
@click.option("--at", metavar="DAY", help="As it was recorded by the end of that day.")
@answers
def show(site: OpenSite, what: str, everything: bool, at: str | None) -> Answer:
    """Show WHAT: a tag, or the code of a circuit, enclosure, raceway or pull.

    It may also be BOX/DEVICE, BOX/TERMINAL, the code of an instrument, or site.

    What matters comes first: where it goes, whether it is proved, what failed, what is to do.
    """
    from wiretrack.tasks.find import showing
    from wiretrack.tasks.find.showing import ThingRecord
    from wiretrack.tasks.report.standing import standing

    if at is not None:
        return _as_of(site, what, at, everything)
    record = showing.show_any(site.registry, what)
    if isinstance(record, ThingRecord):
        job = {"device": "isolate", "terminal": "trace"}.get(record.what)
        then = (job, record.code) if job else None
        return Answer(record, lambda: _thing(record), then=then)
    stands = cache(lambda: standing(site.registry, record.code))

    def _next() -> NextStep | None:
        return stands().next if stands().needed or stands().points else None

    return Answer(record, lambda: show_record(record, stands(), everything=everything), then=_next)


def _thing(record: ThingRecord) -> None:
    """Write what is known of a device, a terminal, an instrument or the site."""
    heading(record.code, record.what if record.what != record.code else "")
    known = [(key, told) for key, (told, _) in record.fields.items() if key not in ("code", "id")]
    facts([*known, *noted_facts(record.noted, everything=True)])


def _as_of(site: OpenSite, what: str, at: str, everything: bool) -> Answer:
    """Answer with the record as it stood; what there was to do then is done or not by now."""
    from wiretrack.tasks.find.showing import show_as_of
    from wiretrack.tasks.report.standing import standing

    past, by = site.as_of(at), typed_day(at).isoformat()
    record = show_as_of(site.registry, past.registry, what, at)

    def text() -> None:
        show_record(record, standing(past.registry, record.code), everything=everything, by=by)

    then = ("since", record.code, by)
    return Answer(document(record) | {"as_of": by}, text, then=then)


def show_record(
    record: Record, stands: Standing, *, everything: bool = False, by: str | None = None
) -> None:
    """Write a record and how it stands for people, within a screen unless everything is wanted."""
    shown = Shown(record.code, stands, everything, noted_facts(record.noted, everything=everything))
    if by:
        say(f"As recorded by the end of {by}", style="bold")
    at = f" --at {by}" if by else ""
    with nullcontext() if everything else one_screen(f"wiretrack show {record.code}{at} --all"):
        SHOWN[type(record).__name__](record, shown)


@dataclass(frozen=True)
class Shown:
    """How a record is shown: how it stands, and whether all of it is wanted."""

    code: str
    stands: Standing
    everything: bool
    noted: list[tuple[str, object]]

    @property
    def facts(self) -> list[tuple[str, object]]:
        """Whether it is proved, what failed, and what is to do."""
        stands, most = self.stands, None if self.everything else 2
        passed = f"{stands.passed} of {counted(stands.needed, 'reading')} needed"
        rows = [(row.what.removeprefix("reading "), self._told(row)) for row in stands.failed]
        more = len(rows[most:]) if most else 0
        return [
            ("proved by", passed if stands.needed else None),
            *rows[:most],
            ("", f"and {more} more" if more else None),
            ("to do", ", ".join(f"{what} {n}" for what, n in stands.to_do.items())),
            *self.noted,
        ]

    def _told(self, row: OpenPoint) -> str:
        return row.detail if row.subject == self.code else f"{row.subject}, {row.detail}"


def _conductor(record: ConductorRecord, shown: Shown) -> None:
    """Write a conductor's record for people."""
    c, expected = record.conductor, record.expected
    heading(str(c.tag), c.circuit, c.function)
    _show_retired(record.retired)
    made_of = (c.size, c.metal, c.insulation, c.colour, c.cable and f"cable {c.cable} {c.core}")
    way = (" → ".join(c.route.raceways), length(c.length_m))
    facts(
        [
            ("goes", f"{c.from_end.place} → {c.to_end.place}"),
            ("by", ", ".join(filter(None, way))),
            *shown.facts,
            ("wire", "  ".join(part for part in made_of if part)),
            ("expect", expected and f"{resistance(expected.ohms)} at {expected.at_c:g} °C"),
            ("source", expected.source if expected and shown.everything else None),
            ("note", c.note),
            ("came from", c.follows and str(c.follows)),
        ]
    )
    table(
        ("end", "enclosure", "terminal", "state", "mark", "labelled"),
        (
            (
                end.side,
                end.here.enclosure,
                end.here.terminal,
                end.here.state,
                _mark(end.here),
                _labelled(end.label),
            )
            for end in c.sides
        ),
    )
    for end in c.sides:
        if end.label.untrue:
            say(f"The label on the {end.side} end is no longer true: {end.label.untrue}.")
    if not c.readings:
        say("No readings." if record.retired else "No readings yet.")
    else:
        _readings(c.readings, everything=shown.everything)
    if not shown.everything:
        return
    for row in record.absorption:
        say(row.words)
        indented(row.compared)
        indented(*filter(None, (row.reason, row.note, row.source)), style="dim")
    for earlier in record.earlier:
        _show_earlier(earlier)


def _show_retired(retired: Retirement | None) -> None:
    if not retired:
        return
    say(f"RETIRED: {retired.became} on {day(retired.at)}.", style="bold red")
    if retired.in_its_place:
        say(f"Replaced by: {', '.join(retired.in_its_place)}.", style="bold")
    if retired.caution:
        say(retired.caution, style="yellow")
    say("Its ends were last:")


def _show_earlier(earlier: ConductorRecord) -> None:
    """Write what was read of the one that a conductor came from, as that one's and no other's."""
    c, gone = earlier.conductor, earlier.retired
    click.echo()
    heading(f"Before, as {c.tag}", f"{gone.became} on {day(gone.at)}" if gone else "")
    whole = f", {length(c.length_m)}" if c.length_m else ""
    places = f"{c.from_end.place} → {c.to_end.place}"
    say(f"{places}{whole}. Its readings don't count for this one.")
    if c.readings:
        _readings(c.readings, count=False)


def _labelled(label: EndLabel) -> str:
    if label.untrue:
        return "no longer true"
    if label.holds:
        return "yes"
    return "printed, not on" if label.waits else "no"


def _readings(readings: Sequence[Reading], *, count: bool = True, everything: bool = True) -> None:
    """Write readings by their numbers, what the doubtful and failed ones mean, and every source.

    Where they don't `count` any more, none is due again. Without `everything` it is the last of
    each kind, without sources.
    """
    last = readings if everything else latest(readings)
    numbers = {r.id: number for number, r in enumerate(readings, 1)}
    table(
        ("", "date", "reading", "value", "leads", "at 20 °C", "verdict", "limit"),
        (
            (
                numbers[r.id],
                day(r.at, ""),
                _what(r, count=count),
                shown(r.value, r.unit),
                resistance(r.leads_ohm),
                r.at_reference and resistance(r.at_reference.ohms),
                r.verdict.outcome,
                quantity(r.verdict.limit, r.verdict.unit),
            )
            for r in last
        ),
    )
    if not everything:
        return
    for r in readings:
        outcome = r.verdict.outcome
        if outcome != "pass" and not r.superseded_by:
            say(f"{day(r.at, '')} {_what(r, count=count)}:", style=OUTCOME_STYLES[outcome])
            indented(r.verdict.reason)
    say("Limits:", style="dim")
    sources = [r.verdict.source for r in readings]
    sources += [f"at 20 °C: {r.at_reference.source}" for r in readings if r.at_reference]
    indented(*dict.fromkeys(sources), style="dim")


def _what(r: Reading, *, count: bool) -> str:
    again = " (due again: ends were crossed)" if count and r.is_stale else ""
    gone = " (superseded)" if r.superseded_by else again
    return f"{read_what(r)}{gone}"


def _mark(end: End) -> str | None:
    if end.reidentified is None:
        return end.mark
    return f"{end.mark or ''} taped {end.reidentified}".strip()


def _said(value: bool | None) -> str | None:
    return None if value is None else "yes" if value else "no"


def _circuit(record: CircuitRecord, shown: Shown) -> None:
    """Write a circuit's record for people."""
    k = record.circuit
    heading(k.code, k.title or "")
    if k.retired_at:
        say(f"RETIRED on {day(k.retired_at)}.", style="bold red")
    routes = dict.fromkeys(" → ".join(c.route.boxes) for c in record.conductors)
    facts(
        [
            ("goes", ", ".join(filter(None, routes))),
            *shown.facts,
            ("system", k.system),
            ("supply", k.supply),
            ("type of earthing", k.earthing),
            ("highest voltage", k.max_voltage_v and f"{k.max_voltage_v:g} V"),
            ("highest current", _amps(k.max_current_a)),
            ("protected by", _amps(k.overcurrent_a)),
            ("continuous load", _said(k.continuous)),
            ("motor circuit", _said(k.motor)),
        ]
    )
    _show_conductors(record)
    if record.readings:
        _readings(record.readings, everything=shown.everything)


def _enclosure(record: EnclosureRecord, shown: Shown) -> None:
    """Write what is inside an enclosure, by terminal."""
    box = record.enclosure
    heading(box.code, box.name or "", box.kind or "")
    facts([("where", box.where), *shown.facts, ("marked", _said(box.marked))])
    table(
        ("terminal", "tag", "circuit", "function", "state", "leads to"),
        (
            (
                end.here.terminal,
                end.conductor.tag,
                end.conductor.circuit,
                end.conductor.function,
                end.here.state,
                end.there.place,
            )
            for end in box.ends
        ),
    )
    for left in record.abandoned:
        say(f"abandoned, perhaps live: {left.tag} ({left.circuit} {left.function})", style="yellow")
    for device, readings in record.devices:
        rating, hot = device.rating_a, device.termination_rating_c
        words = [device.kind, _amps(rating), f"terminals {hot:g} °C" if hot else None]
        say(f"device {device.code}: {', '.join(filter(None, words)) or 'kind unknown'}")
        if readings:
            _readings(readings, everything=shown.everything)
    for raceway in box.raceways:
        say(f"raceway {raceway.code}: {raceway.from_enclosure} → {raceway.to_enclosure}")


def _amps(value: float | None) -> str | None:
    return f"{value:g} A" if value else None


def _sides(*sides_mm: float | None) -> str | None:
    known = ["unknown" if side is None else f"{side:g}" for side in sides_mm]
    return f"{' x '.join(known)} mm" if set(sides_mm) != {None} else None


def _raceway(record: RacewayRecord, shown: Shown) -> None:
    """Write a raceway's record for people."""
    pipe = record.raceway
    heading(pipe.code, f"{pipe.from_enclosure} → {pipe.to_enclosure}")
    facts(
        [
            *shown.facts,
            ("type", " ".join(filter(None, (pipe.type, pipe.trade_size)))),
            ("length", length(pipe.length_m)),
            ("bends", None if pipe.bends_deg is None else f"{pipe.bends_deg:g}°"),
            ("inside", _sides(pipe.width_mm, pipe.height_mm)),
            ("above the roof", length(pipe.above_roof_m)),
            ("marked", _said(pipe.marked)),
        ]
    )
    _show_conductors(record)


def _pull(record: PullRecord, shown: Shown) -> None:
    """Write a pull's record for people."""
    heading(record.pull.code, " → ".join(record.pull.route.boxes))
    facts([("raceways", " → ".join(record.pull.path)), *shown.facts])
    _show_conductors(record)


def _show_conductors(record: CircuitRecord | RacewayRecord | PullRecord) -> None:
    table(
        ("tag", "circuit", "function", "size", "colour", "from", "to"),
        (
            (c.tag, c.circuit, c.function, c.size, c.colour, c.from_end.place, c.to_end.place)
            for c in record.conductors
        ),
    )
    if record.retired:
        say("Retired:", style="bold")
        table(
            ("tag", "circuit", "function", "since", "because", "from", "to"),
            (
                (c.tag, c.circuit, c.function, day(c.retired_at), c.retired_because,
                 c.from_end.place, c.to_end.place)
                for c in record.retired
            ),
        )  # fmt: skip


SHOWN: dict[str, Callable[[Any, Shown], None]] = {
    "ConductorRecord": _conductor,
    "CircuitRecord": _circuit,
    "EnclosureRecord": _enclosure,
    "RacewayRecord": _raceway,
    "PullRecord": _pull,
}
