# SPDX-License-Identifier: MIT
"""Each circuit: its data, its protection, its conductors, every reading, what is still owed."""

from __future__ import annotations

from typing import TYPE_CHECKING

from wiretrack.days import moment
from wiretrack.electrical.quantity_text import shown
from wiretrack.readings import told
from wiretrack.render.report.asked import CIRCUITS, number_of
from wiretrack.render.report.blocks import (
    UNKNOWN,
    Blank,
    Cell,
    Drawing,
    Facts,
    Heading,
    Paragraph,
    Table,
    Text,
    Ticks,
    figure,
    known,
    limit_of,
    outcome,
    place,
)
from wiretrack.render.route import route_drawn
from wiretrack.render.trend import drawable, plot_svg

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from wiretrack.render.report.blocks import Block
    from wiretrack.render.report.content import Content, ReportCircuit, ReportReading

MOST_PLOTS = 2  # of a circuit


def circuits(found: Content) -> list[Block]:
    """Return a part for each circuit."""
    blocks: list[Block] = []
    for number, circuit in enumerate(found.circuits, 1):
        blocks += _circuit(f"{number_of(CIRCUITS)}.{number}", circuit)
    return blocks or [Paragraph("No circuit is recorded.")]


def _circuit(number: str, circuit: ReportCircuit) -> Iterator[Block]:
    own = circuit.circuit
    yield Heading(f"{number} Circuit {own.code}" + (f", {own.title}" if own.title else ""), 2)
    yield Facts(tuple(_data(circuit)))
    yield from _routes(circuit)
    yield from _protection(circuit)
    yield from _conductors(circuit)
    if own.system == "dc-pv":
        yield from _string(circuit)
    yield from _readings(circuit)
    yield from _trends(circuit)
    yield from _other_tests(circuit)
    yield from _open(circuit)


def _data(circuit: ReportCircuit) -> Iterator[tuple[str, Cell]]:
    own = circuit.circuit
    if own.retired_at:
        yield "Retired on", Text(moment(own.retired_at), "fail")
    yield "System", known(own.system)
    yield "Supply", known(own.supply)
    yield "Type of earthing", known(own.earthing)
    yield "Highest voltage", figure(own.max_voltage_v, "V")
    yield "Highest current", figure(own.max_current_a, "A")
    yield "Overcurrent protection", figure(own.overcurrent_a, "A")
    yield "Solidly earthed", known(own.solidly_earthed)
    yield "Continuous load", known(own.continuous)
    yield "Motor circuit", known(own.motor)
    if own.system == "dc-pv":
        yield "Modules in series", known(own.modules_in_series)
        yield "Strings in parallel", known(own.strings_in_parallel)
        yield "Module at STC: Voc", figure(own.module_voc_v, "V")
        yield "Module at STC: Isc", figure(own.module_isc_a, "A")
    for way in circuit.routes:
        text = f"{' → '.join(way.raceways)}, through {' → '.join(way.enclosures)}"
        length = figure(way.length_m, "m")
        along = "length unknown" if length is UNKNOWN else f"{length} along the raceways"
        yield f"Route of pull {way.pull}", f"{text}; {along}"
    if not circuit.routes:
        yield "Route", UNKNOWN


def _routes(circuit: ReportCircuit) -> Iterator[Block]:
    for way in circuit.routes:
        title = f"Route of pull {way.pull}" if way.pull else "Route"
        yield Drawing(route_drawn(way.route, title), title)


def _protection(circuit: ReportCircuit) -> Iterator[Block]:
    rows: list[tuple[Cell, ...]] = [
        (
            f"{one.enclosure} {one.code}",
            known(one.kind),
            figure(one.rating_a, "A"),
            known(None if one.closed is None else "closed" if one.closed else "open"),
            figure(one.termination_rating_c, "°C"),
            Blank(),
        )
        for one in circuit.devices
    ]
    yield Heading("Protective devices and switches", 3)
    if not rows:
        yield Paragraph("None is recorded on the terminals of this circuit.")
        rows = [tuple(Blank() for _ in range(6))]
    head = (
        "device",
        "kind",
        "rating",
        "terminals",
        "recorded as",
        "type, characteristic, breaking capacity",
    )
    yield Table(head, tuple(rows))


def _conductors(circuit: ReportCircuit) -> Iterator[Block]:
    rows: list[tuple[Cell, ...]] = [
        (
            str(c.tag),
            " ".join(filter(None, (c.function, c.core))),
            " ".join(filter(None, (c.size, c.metal))),
            known(c.insulation),
            known(c.colour),
            place(c.from_end),
            place(c.to_end),
            figure(c.length_m, "m"),
            limit_of(one.expected.ohms if one.expected else None, "ohm"),
        )
        for one in circuit.conductors
        for c in (one.conductor,)
    ]
    yield Heading("Conductors", 3)
    head = ("tag", "function", "size", "insulation", "colour", "from", "to", "length", "at 20 °C")
    yield Table(head, tuple(rows)) if rows else Paragraph("None is recorded.")
    gone: list[tuple[Cell, ...]] = [
        (
            one.tag,
            known(one.function),
            moment(one.at),
            one.became,
            ", ".join(one.in_its_place) or "–",
        )
        for one in circuit.retired_conductors
    ]
    if gone:
        yield Paragraph("Retired conductors, kept in the record with their readings:")
        yield Table(("tag", "function", "retired on", "became", "replaced by"), tuple(gone))


def _string(circuit: ReportCircuit) -> Iterator[Block]:
    """Return what a PV string should give, and room for what the registry keeps no readings of."""
    read = "; ".join(
        f"{one.tag} {shown(one.reading.value, one.reading.unit)} on {moment(one.reading.at)}: "
        f"{one.reading.verdict.outcome}"
        for one in circuit.readings
        if one.reading.unit == "V" and one.counts
    )
    isc, parallel = circuit.circuit.module_isc_a, circuit.circuit.strings_in_parallel
    current = None if isc is None or parallel is None else isc * parallel
    yield Heading("Photovoltaic measurements", 3)
    yield Facts(
        (
            ("Open-circuit voltage expected at STC", figure(circuit.voc_stc_v, "V")),
            ("Open-circuit voltage and polarity read", read or Blank()),
            ("Short-circuit current expected at STC", figure(current, "A")),
            ("Short-circuit or operating current read", Blank()),
            ("Irradiance, cell temperature, weather, time", Blank()),
        )
    )


_EARLIER = "Earlier readings are history: a later one of the same kind and place counts now."

_HISTORY = "What is history of a conductor was read of the one that it is a piece of or replaces."


def _readings(circuit: ReportCircuit) -> Iterator[Block]:
    yield Heading("Readings", 3)
    found = circuit.readings
    if not found:
        yield Paragraph("None was taken.")
        return
    sources = list(dict.fromkeys(source for one in found for source in _sources(one)))
    head = (
        "no.", "taken", "read of", "test", "as read", "leads", "at", "limit", "verdict",
        "source", "with", "by",
    )  # fmt: skip
    yield Table(head, tuple(_reading(one, sources) for one in found))
    if any(_is_earlier(one) for one in found):
        yield Paragraph(_EARLIER, "dim")
    if any(one.history_of for one in found):
        yield Paragraph(_HISTORY, "dim")
    yield from _listed("Why not passed", _reasons(found))
    yield from _listed("Notes on readings", ((o, o.reading.note) for o in found if o.reading.note))
    yield Paragraph("Sources of the limits", "strong")
    for number, source in enumerate(sources, 1):
        yield Paragraph(f"[{number}] {source}", "dim")


def _sources(one: ReportReading) -> list[str]:
    return [one.reading.verdict.source] if one.reading.verdict.source else []


def _reading(one: ReportReading, sources: list[str]) -> tuple[Cell, ...]:
    reading = one.reading
    value = shown(reading.value, reading.unit)
    cited = " ".join(f"[{sources.index(source) + 1}]" for source in _sources(one))
    return (
        str(one.number),
        moment(reading.at),
        one.of,
        told(reading),
        Text(value, "gone") if one.superseded_by else value,
        limit_of(reading.leads_ohm, "ohm"),
        limit_of(reading.temp_c, "°C"),
        limit_of(reading.verdict.limit, reading.verdict.unit),
        _verdict(one),
        cited or "–",
        known(reading.instrument),
        known(reading.by),
    )


def _is_earlier(one: ReportReading) -> bool:
    taken_back = one.superseded_by or one.history_of or one.owed_again
    return not (one.counts or taken_back)


def _verdict(one: ReportReading) -> Cell:
    word = one.reading.verdict.outcome
    if one.superseded_by:
        return Text(f"superseded by {one.superseded_by} (was: {word})", "dim")
    if one.history_of:
        return Text(f"{word}, history of {one.history_of}", "dim")
    if one.owed_again:
        return Text(f"due again: ends were crossed (was: {word})", "doubt")
    if _is_earlier(one):
        return Text(f"{word}, earlier", "dim")
    return outcome(word)


def _reasons(found: Iterable[ReportReading]) -> Iterator[tuple[ReportReading, str]]:
    for one in found:
        if one.counts and one.reading.verdict.outcome != "pass":
            yield one, one.reading.verdict.reason


def _listed(title: str, pairs: Iterable[tuple[ReportReading, str]]) -> Iterator[Block]:
    rows = tuple((str(one.number), one.tag, text) for one, text in pairs)
    if rows:
        yield Paragraph(title, "strong")
        yield Table(("no.", "read of", "told"), rows)


def _trends(circuit: ReportCircuit) -> Iterator[Block]:
    """Yield what readings did over the years, and plots of those that meet their limit first."""
    found = [(trend, *one) for trend in circuit.trends for one in drawable(trend)]
    if not found:
        return
    found.sort(key=lambda one: (one[2].meets_limit_on or "9999", one[0].tag))
    rows: list[tuple[Cell, ...]] = [
        (
            trend.tag,
            series.title,
            str(len(series.points)),
            series.words,
            limit_of(series.limit, "ohm"),
            moment(series.meets_limit_on) if series.meets_limit_on else "–",
        )
        for trend, _, series in found
    ]
    yield Heading("Readings over the years, at 20 °C", 3)
    head = ("tag", "test", "readings", "slope", "limit", "meets it on")
    yield Table(head, tuple(rows))
    if len(found) > MOST_PLOTS:
        yield Paragraph(f"Drawn are the {MOST_PLOTS} that meet their limit first.", "dim")
    for trend, number, series in found[:MOST_PLOTS]:
        yield Drawing(plot_svg(trend, number), f"{trend.tag}: {series.title}")
    for source in dict.fromkeys(series.source for _, _, series in found):
        yield Paragraph(source, "dim")


def _other_tests(circuit: ReportCircuit) -> Iterator[Block]:
    rows: list[tuple[Cell, ...]] = [
        (row.asks, row.place, Blank(), Ticks(("pass", "fail", "n/a")))
        for row in circuit.tests_by_hand
    ]
    if rows:
        yield Heading("Tests of which the record keeps no readings", 3)
        yield Table(("test", "asked by", "result", "judged"), tuple(rows))


def _open(circuit: ReportCircuit) -> Iterator[Block]:
    yield Heading("Still open", 3)
    rows: list[tuple[Cell, ...]] = [
        (row.what, row.subject, row.detail, moment(row.since)) for row in circuit.open
    ]
    head = ("what", "on", "more", "since")
    yield Table(head, tuple(rows)) if rows else Paragraph("Nothing that the record knows of.")
