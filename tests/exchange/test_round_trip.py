# SPDX-License-Identifier: MIT
"""What is written is read again, equal in every digit: as JSON and as a folder of CSV files."""

from __future__ import annotations

import json
import random
import tempfile
import uuid
from dataclasses import fields, replace
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from jsonschema import Draft202012Validator
from stdnum.iso7064 import mod_37_36

from tests.changing.barn import BARN
from tests.drawing import drawn
from wiretrack.electrical.limits import METALS
from wiretrack.exchange.places import why_refused
from wiretrack.exchange.read import read_site
from wiretrack.exchange.schema import site_schema
from wiretrack.exchange.write import write_csv, write_site
from wiretrack.model import words
from wiretrack.model.entities import Circuit, Conductor, Enclosure, Pull, Raceway, Reading
from wiretrack.model.parts import Device, End, FarEnd, Instrument, SiteFacts, Terminal
from wiretrack.model.source import SiteDocument
from wiretrack.model.tags import ALPHABET, Tag

TIMES = ["2026-05-02T10:15:00+02:00", "2031-12-31T23:59:59.25Z"]
# Typed text, its number in ohm, whether it is a bound: worked out by hand.
VALUES = [("0.31 ohm", 0.31, False), ("1.2k", 1200.0, False), (">2000M", 2e9, True)]


def maybe(strategy: st.SearchStrategy[Any]) -> st.SearchStrategy[Any]:
    return st.none() | strategy


def number(low: float, high: float) -> st.SearchStrategy[float]:
    found = st.floats(low, high).filter(lambda value: value == 0 or abs(value) > 1e-20)
    return found.map(lambda value: value + 0.0)  # no negative zero


def text(longest: int) -> st.SearchStrategy[str]:
    return st.text(
        st.characters(codec="utf-8", exclude_categories=("Cc", "Cs", "Zl", "Zp")),
        min_size=1,
        max_size=longest,
    ).filter(lambda found: bool(found.strip()) and not why_refused(found))


CODE = text(12).filter(lambda found: found == found.strip() and ":" not in found)
TAG = st.text(ALPHABET, min_size=6, max_size=6).map(
    lambda body: body + mod_37_36.calc_check_digit(body)
)
IDS = maybe(st.uuids().map(str))
TRUTH = maybe(st.booleans())
NAME = maybe(text(30))
LENGTH = maybe(number(1e-6, 1e5))
ABOVE_0 = maybe(number(1e-9, 1e5))
TEMP = maybe(number(-100, 400))
DURATION = maybe(number(1, 86_400))
MM = maybe(st.integers(10**6, 10**12).map(lambda pm: pm / 1e9))


def records(record: type, /, **fields: st.SearchStrategy[Any]) -> st.SearchStrategy[Any]:
    return st.builds(record, id=IDS, **fields)


def words_of(choice: tuple[Any, ...]) -> st.SearchStrategy[Any]:
    return maybe(st.sampled_from(choice))


SITE = st.builds(
    SiteFacts,
    code=maybe(CODE),
    name=NAME,
    units=words_of(words.LENGTH_UNITS),
    rules=st.just("NEC"),
    edition=words_of(words.NEC_EDITIONS),
    base_address=maybe(st.just("http://192.168.1.20:8080")),
    ambient_max_c=TEMP,
    record_low_c=TEMP,
    time_zone=maybe(st.sampled_from(["Europe/Lisbon", "America/Denver"])),
    earthing=words_of(words.EARTHINGS),
    walk_time_s=DURATION,
    twist_time_s=DURATION,
    touch_time_s=DURATION,
    id=IDS,
)


@st.composite
def documents(draw: st.DrawFn) -> SiteDocument:
    """Return a site whose boxes stand in a row, each joined to the next by a raceway."""
    boxes = draw(st.lists(CODE, min_size=2, max_size=4, unique=True))
    box = st.sampled_from(boxes)
    codes = draw(st.lists(CODE, min_size=len(boxes) - 1, max_size=len(boxes) - 1, unique=True))
    circuit, pull, meter = draw(CODE), draw(CODE), draw(CODE)
    tags = draw(st.lists(TAG, max_size=3, unique=True))
    return SiteDocument(
        site=draw(SITE),
        enclosures=tuple(draw(enclosure(code)) for code in boxes),
        terminals=tuple(draw(st.lists(terminal(box), max_size=2, unique_by=_inside))),
        devices=tuple(draw(st.lists(device(box), max_size=2, unique_by=_inside))),
        raceways=tuple(
            draw(raceway(code, boxes[at], boxes[at + 1])) for at, code in enumerate(codes)
        ),
        circuits=(draw(circuit_of(circuit)), draw(retired_circuit(circuit, pull))),
        pulls=(draw(pull_of(pull, tuple(codes), box)),),
        conductors=draw(
            changed(tuple(draw(conductor(tag, circuit, pull, boxes)) for tag in [*tags, None]))
        )
        if tags
        else (draw(conductor(None, circuit, pull, boxes)),),
        instruments=(draw(instrument(meter)),),
        readings=tuple(draw(reading(tag, meter, tags)) for tag in tags),
        rest=draw(rest(circuit, pull, boxes[0], tags)),
    )


def _inside(record: Any) -> tuple[str, str]:
    return record.enclosure, record.code


def enclosure(code: str) -> st.SearchStrategy[Any]:
    return records(
        Enclosure,
        code=st.just(code),
        kind=words_of(words.ENCLOSURE_KINDS),
        name=NAME,
        where=NAME,
        wet=TRUTH,
        sunlight=TRUTH,
        indoors=TRUTH,
        marked=TRUTH,
    )


def terminal(box: st.SearchStrategy[str]) -> st.SearchStrategy[Any]:
    return records(Terminal, enclosure=box, code=CODE)


@st.composite
def device(draw: st.DrawFn, box: st.SearchStrategy[str]) -> Device:
    code = draw(CODE)
    own = CODE.map(lambda name: f"{code}:{name}")
    names = st.lists(own | CODE.map(lambda name: f"{name}:X"), min_size=2, max_size=2, unique=True)
    return Device(
        enclosure=draw(box),
        code=code,
        kind=draw(words_of(words.DEVICE_KINDS)),
        closed=draw(TRUTH),
        rating_a=draw(ABOVE_0),
        termination_rating_c=draw(TEMP),
        poles=tuple((one, other) for one, other in draw(st.lists(names, max_size=3))),
        id=draw(IDS),
    )


def raceway(code: str, one: str, other: str) -> st.SearchStrategy[Any]:
    return records(
        Raceway,
        code=st.just(code),
        from_enclosure=st.just(one),
        to_enclosure=st.just(other),
        type=words_of(words.RACEWAY_TYPES),
        trade_size=maybe(st.sampled_from(["1/2", "1", "1 1/4", "27"])),
        length_m=LENGTH,
        bends_deg=maybe(number(0, 3600)),
        metal=TRUTH,
        wet=TRUTH,
        sunlight=TRUTH,
        indoors=TRUTH,
        ambient_c=TEMP,
        walls_m=st.lists(number(1e-6, 1e5), max_size=3).map(tuple),
        width_mm=MM,
        height_mm=MM,
        above_roof_m=maybe(st.just(0.0) | number(1e-6, 1e5)),
        marked=TRUTH,
    )


def circuit_of(code: str) -> st.SearchStrategy[Any]:
    return records(
        Circuit,
        code=st.just(code),
        title=NAME,
        system=words_of(words.SYSTEMS),
        max_voltage_v=ABOVE_0,
        max_current_a=ABOVE_0,
        overcurrent_a=ABOVE_0,
        solidly_earthed=TRUTH,
        supply=words_of(words.SUPPLIES),
        earthing=words_of(words.EARTHINGS),
        continuous=TRUTH,
        motor=TRUTH,
        module_vmp_v=ABOVE_0,
        module_imp_a=ABOVE_0,
        module_voc_v=ABOVE_0,
        module_isc_a=ABOVE_0,
        module_voc_pct_per_k=maybe(number(-5, 5)),
        modules_in_series=maybe(st.integers(1, 1000)),
        strings_in_parallel=maybe(st.integers(1, 10000)),
    )


DAYS = st.sampled_from(["2026-11-25", *TIMES])


@st.composite
def changed(draw: st.DrawFn, found: tuple[Conductor, ...]) -> tuple[Conductor, ...]:
    """Return the conductors with the first one retired, and the last one perhaps in its place."""
    first, *others, last = found
    if first.tag is None or not draw(st.booleans()):
        return found
    why = draw(st.sampled_from(words.RETIREMENTS))
    follows = draw(maybe(st.just(first.tag)))
    return (
        replace(first, retired_at=draw(DAYS), retired_because=why),
        *others,
        replace(last, follows=follows),
    )


@st.composite
def retired_circuit(draw: st.DrawFn, code: str, taken: str) -> Circuit:
    """Return a circuit without conductors that is retired."""
    return Circuit(code=code + "-" + taken, retired_at=draw(DAYS))


def pull_of(code: str, path: tuple[str, ...], box: st.SearchStrategy[str]) -> Any:
    ends = st.builds(
        FarEnd, enclosure=box, mark=CODE, colour=maybe(st.sampled_from(["BK", "GNYE"]))
    )
    unique = st.lists(ends, max_size=3, unique_by=lambda end: (end.enclosure, end.mark))
    return records(Pull, code=st.just(code), path=st.just(path), far_ends=unique.map(tuple))


@st.composite
def conductor(
    draw: st.DrawFn, tag: str | None, circuit: str, pull: str, boxes: list[str]
) -> Conductor:
    one, other = draw(st.permutations(boxes))[:2]
    core = draw(maybe(CODE))
    return Conductor(
        tag=Tag(tag or ""),
        circuits=(circuit,),
        function=draw(st.sampled_from(words.FUNCTIONS)),
        size=draw(st.sampled_from(["4 mm2", "2.5 mm2", "10 AWG", "4/0 AWG", "250 kcmil"])),
        from_end=draw(end(one)),
        to_end=draw(end(other)),
        core=core,
        cable=draw(maybe(CODE)) if core is None else None,
        metal=draw(words_of(tuple(METALS))),
        insulation=draw(maybe(st.sampled_from(["XHHW-2", "H07V-K", "THHN/THWN-2"]))),
        strands=draw(maybe(st.integers(1, 10000))),
        colour=draw(maybe(st.sampled_from(["RD", "RDBU", "GNYE"]))),
        pull=draw(maybe(st.just(pull))),
        length_m=draw(LENGTH),
        outer_diameter_mm=draw(MM),
        parallel_set=draw(maybe(st.integers(1, 100))),
        note=draw(NAME),
        id=draw(IDS),
    )


@st.composite
def end(draw: st.DrawFn, box: str) -> End:
    terminal = draw(maybe(CODE))
    states = words.END_STATES if terminal else ("capped", "loose")
    return End(
        enclosure=box,
        terminal=terminal,
        state=draw(words_of(states)),
        mark=draw(maybe(CODE)),
        crossed_at=draw(maybe(DAYS)),
        reidentified=draw(maybe(st.sampled_from(["WH", "GN"]))),
        id=draw(IDS),
    )


def instrument(code: str) -> st.SearchStrategy[Any]:
    return records(
        Instrument,
        code=st.just(code),
        kind=words_of(words.INSTRUMENT_KINDS),
        name=NAME,
        accuracy=maybe(st.just("0.5% + 2 digits")),
        resolution=maybe(st.just("0.01 ohm")),
        serial=NAME,
        calibrated_on=maybe(st.dates().map(str)),
        range=maybe(st.just("2000 Mohm")),
    )


@st.composite
def reading(draw: st.DrawFn, tag: str, meter: str, tags: list[str]) -> Reading:
    others = [other for other in tags if other != tag]
    value, ohms, bound = draw(st.sampled_from(VALUES))
    return Reading(
        kind=draw(st.sampled_from(["continuity", "insulation", "loop"])),
        subject=tag,
        value=value,
        number=ohms,
        unit="ohm",
        over_range=bound,
        at=draw(maybe(st.sampled_from(TIMES))),
        instrument=draw(maybe(st.just(meter))),
        leads_ohm=draw(maybe(number(0, 10))),
        temp_c=draw(TEMP),
        against=draw(maybe(st.sampled_from(["raceway", "PE", *others]))),
        test_voltage_v=draw(ABOVE_0),
        after_s=draw(DURATION),
        cell_temp_c=draw(TEMP),
        by=draw(NAME),
        note=draw(NAME),
        id=draw(st.uuids().map(str)),
    )


FREE = st.recursive(
    st.none() | st.booleans() | st.integers(-(10**9), 10**9) | number(-1e9, 1e9) | text(10),
    lambda inner: st.lists(inner, max_size=2) | st.dictionaries(text(5), inner, max_size=2),
    max_leaves=4,
)
OBJECT = st.dictionaries(text(5), FREE, max_size=3)


@st.composite
def rest(draw: st.DrawFn, circuit: str, pull: str, box: str, tags: list[str]) -> dict[str, Any]:
    """Return some of the tables that only a dump has."""
    made = {"id": str(uuid.uuid4()), "at": TIMES[0]}
    answer = made | {"seq": 1, "step": draw(OBJECT), "answer": draw(OBJECT)}
    ringout = made | {"pull": pull, "near": box, "far": box, "settings": draw(OBJECT)}
    change = made | {"what": "site", "record": "x", "action": "added", "new": draw(OBJECT)}
    search = made | {"circuit": circuit, "symptom": "dead-circuit", "settings": draw(OBJECT)}
    tables: dict[str, Any] = {
        "fault_searches": (search | {"answers": [answer]},),
        "ringouts": (ringout | {"answers": [answer]},),
        "changes": (change,),
    }
    for tag in tags[:1]:
        label = made | {"tag": tag, "end": "from", "form": "wrap", "stock": "any"}
        tables["label_prints"] = (label | {"legend": draw(OBJECT)},)
        placed = {"tag": tag, "end": "from", "at": TIMES[0], "id": str(uuid.uuid4())}
        by_hand = placed | {"legend": draw(OBJECT), "by": "roof"}
        back = placed | {"id": str(uuid.uuid4()), "takes_back": by_hand["id"]}
        tables["placed_labels"] = (by_hand, back)
    kept = draw(st.sets(st.sampled_from(sorted(tables))))
    return {name: rows for name, rows in tables.items() if name in kept}


@drawn(12, 120, documents())
def test_a_document_is_read_as_it_was_written(document: SiteDocument) -> None:
    is_read_as_written(document)


@pytest.mark.parametrize("seed", range(100))
def test_a_random_site_is_read_as_it_was_written(seed: int) -> None:
    is_read_as_written(filled(random.Random(seed), BARN))


ODD_TEXTS = (None, "Ωμ – “Łódź”", "a;b,c 'd'", '"', "=1+1", "中 \U0001f50c", "\N{NO-BREAK SPACE}x")
ODD_NAMES = ("name", "where", "title", "note", "serial", "by")


def filled(rng: random.Random, document: SiteDocument) -> SiteDocument:
    """Return the site with every number, truth and name in it again, or unknown."""

    def again(record: Any) -> Any:
        found: dict[str, Any] = {}
        for field in fields(record):
            known = rng.random() < 0.7
            if field.name in ODD_NAMES:
                found[field.name] = rng.choice(ODD_TEXTS)
            elif field.type == "bool | None":
                found[field.name] = rng.choice((None, True, False))
            elif field.type == "float | None" and field.name.endswith("_mm"):
                found[field.name] = rng.randint(1, 5 * 10**9) / 1e9 if known else None
            elif field.type == "float | None":
                least = 1 if field.name.endswith("_s") else 1e-6
                found[field.name] = rng.uniform(least, 5) if known else None
        return replace(record, **found)

    tables = ("enclosures", "devices", "raceways", "circuits", "conductors", "instruments")
    made: dict[str, Any] = {table: tuple(map(again, getattr(document, table))) for table in tables}
    return replace(document, site=again(document.site), **made)


def is_read_as_written(document: SiteDocument) -> None:
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder) / "site.json"
        write_site(document, file)
        assert read_site(file) == document
        Draft202012Validator(site_schema()).validate(json.loads(file.read_text(encoding="utf-8")))
        write_csv(document, Path(folder) / "site")
        assert read_site(Path(folder) / "site") == document


@settings(max_examples=300, deadline=None)
@given(number(1e-6, 1e5), number(-100, 400), number(1e-9, 1e6))
def test_quantities_keep_every_digit(length_m: float, temp_c: float, voltage_v: float) -> None:
    raceway = Raceway(
        code="W", from_enclosure="A", to_enclosure="B", length_m=length_m, ambient_c=temp_c
    )
    document = SiteDocument(
        enclosures=(Enclosure(code="A"), Enclosure(code="B")),
        raceways=(raceway,),
        circuits=(Circuit(code="K", max_voltage_v=voltage_v),),
    )
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder) / "site.json"
        write_site(document, file)
        assert read_site(file) == document


def test_an_empty_document_is_a_file_with_nothing_but_its_format(tmp_path: Path) -> None:
    file = tmp_path / "site.json"
    write_site(SiteDocument(), file)
    assert file.read_text() == '{\n  "format": "wiretrack-site/1"\n}\n'
    assert read_site(file) == SiteDocument()
