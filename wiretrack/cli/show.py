# SPDX-License-Identifier: MIT
"""``show`` and ``scan``: one conductor, circuit, enclosure, raceway or pull."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from wiretrack.cli.options import Answer, answers
from wiretrack.cli.output import (
    OUTCOME_STYLES,
    facts,
    heading,
    indented,
    length,
    quantity,
    resistance,
    say,
    table,
)
from wiretrack.days import day
from wiretrack.model.circuits import written

if TYPE_CHECKING:
    from wiretrack.library import OpenSite


@click.command()
@click.argument("what")
@answers
def show(site: OpenSite, what: str) -> Answer:
    """Show WHAT: a tag, or the code of a circuit, enclosure, raceway or pull."""
    from wiretrack.tasks.find import showing

    kind, record = showing.show(site.registry, what)
    return Answer(record, lambda: SHOWN[kind](record))


@click.command()
@click.argument("image", type=click.Path(path_type=Path))
@answers
def scan(site: OpenSite, image: Path) -> Answer:
    """Read the QR codes in the photograph IMAGE and show the conductors and boxes they lead to."""
    from wiretrack.tasks.find import scanning

    found = scanning.scan(site.registry, image)
    return Answer(found, lambda: _show_scanned(site, image, found))


def _show_scanned(site: OpenSite, image: Path, found: list[dict[str, Any]]) -> None:
    for item in found:
        known = item["tag"] or item["enclosure"]
        if item["record"]:
            SHOWN["conductor" if item["tag"] else "enclosure"](item["record"])
        elif known:
            say(f"{known} is not in {site.registry.path}. Its label may belong to another site.")
        else:
            say(f"'{item['payload']}' is no wiretrack label.")
    if not found:
        say(f"No code was found in {image}. Go closer, hold still, avoid glare; or type the tag.")


def show_conductor(record: dict[str, Any]) -> None:
    """Write a conductor's record for people."""
    heading(record["tag"], written(record["circuit"]), record["function"])
    _show_retired(record["retired"])
    made_of = (record["size"], record["metal"], record["insulation"], record["colour"])
    expected = record["expected_ohms"]
    expected_text = expected and f"{resistance(expected)} at {record['expected_at_c']:g} °C"
    facts(
        [
            ("wire", "  ".join(str(part) for part in made_of if part)),
            ("cable", record["cable"]),
            ("core", record["core"]),
            ("length", length(record["length_m"])),
            ("route", " → ".join(record["route"])),
            ("expect", expected_text),
            ("source", record["expected_source"]),
            ("note", record["note"]),
            ("came from", record["follows"]),
        ]
    )
    table(
        ("end", "enclosure", "terminal", "state", "mark", "labelled"),
        (
            (
                end["end"],
                end["enclosure"],
                end["terminal"],
                end["state"],
                end["mark"] if end["reidentified"] is None else _taped(end),
                _labelled(end),
            )
            for end in record["ends"]
        ),
    )
    for end in record["ends"]:
        if end["label_untrue"]:
            say(f"The label on the {end['end']} end is no longer true: {end['label_untrue']}.")
    if not record["readings"]:
        say("No readings." if record["retired"] else "No readings yet.")
    else:
        show_readings(record["readings"])
    for row in record["absorption"]:
        say(row["words"])
        indented(row["compared"])
        indented(*filter(None, (row["reason"], row["note"], row["source"])), style="dim")
    for earlier in record["earlier"]:
        _show_earlier(earlier)


def _show_retired(retired: dict[str, Any] | None) -> None:
    if not retired:
        return
    say(f"RETIRED: {retired['became']} on {day(retired['at'])}.", style="bold red")
    if retired["in_its_place"]:
        say(f"In its place: {', '.join(retired['in_its_place'])}.", style="bold")
    if retired["caution"]:
        say(retired["caution"], style="yellow")
    say("Its ends were last:")


def _show_earlier(earlier: dict[str, Any]) -> None:
    """Write what was read of the one that a conductor came from, as that one's and no other's."""
    gone = earlier["retired"]
    click.echo()
    heading(f"Before, as {earlier['tag']}", f"{gone['became']} on {day(gone['at'])}")
    whole = f", {length(earlier['length_m'])}" if earlier["length_m"] else ""
    say(f"{earlier['from']} → {earlier['to']}{whole}. Its readings don't count for this one.")
    if earlier["readings"]:
        show_readings(earlier["readings"])


def _labelled(end: dict[str, Any]) -> str:
    if end["label_untrue"]:
        return "no longer true"
    if end["labelled"]:
        return "yes"
    return "printed, not on" if end["label_waits"] else "no"


def show_readings(readings: list[dict[str, Any]]) -> None:
    """Write readings, one a line, what the doubtful and failed ones mean, and every source."""
    table(
        ("date", "reading", "value", "leads", "at 20 °C", "verdict", "limit"),
        (
            (
                day(r["at"], ""),
                _what(r),
                r["as_read"],
                resistance(r["leads_ohm"]),
                r["at_reference"] and resistance(r["at_reference"]["ohms"]),
                r["verdict"]["outcome"],
                _limit(r["verdict"]),
            )
            for r in readings
        ),
    )
    for reading in readings:
        verdict = reading["verdict"]
        if verdict["outcome"] != "pass" and not reading["superseded"]:
            style = OUTCOME_STYLES[verdict["outcome"]]
            say(f"{day(reading['at'], '')} {_what(reading)}:", style=style)
            indented(verdict["reason"])
    say("Limits:", style="dim")
    sources = [r["verdict"]["source"] for r in readings]
    sources += [f"at 20 °C: {r['at_reference']['source']}" for r in readings if r["at_reference"]]
    indented(*dict.fromkeys(sources), style="dim")


def _what(reading: dict[str, Any]) -> str:
    against = f" to {reading['against']}" if reading["against"] else ""
    volts = f" at {reading['test_voltage_v']:g} V" if reading["test_voltage_v"] else ""
    after = f" after {reading['after_s']:g} s" if reading["after_s"] else ""
    cells = reading["cell_temp_c"]
    warm = "" if cells is None else f", cells at {cells:g} °C"
    gone = " (superseded)" if reading["superseded"] else ""
    gone = gone or (" (owed again: ends were crossed)" if reading.get("owed_again") else "")
    return f"{reading['kind']}{against}{volts}{after}{warm}{gone}"


def _taped(end: dict[str, Any]) -> str:
    return f"{end['mark'] or ''} taped {end['reidentified']}".strip()


def _said(value: bool | None) -> str | None:
    return None if value is None else "yes" if value else "no"


def _limit(verdict: dict[str, Any]) -> str | None:
    if verdict["limit"] is None:
        return None
    return quantity(verdict["limit"], verdict["unit"])


def show_circuit(record: dict[str, Any]) -> None:
    """Write a circuit's record for people."""
    heading(record["code"], record["title"] or "")
    if record["retired_at"]:
        say(f"RETIRED on {day(record['retired_at'])}.", style="bold red")
    volts, amps = record["max_voltage_v"], record["max_current_a"]
    facts(
        [
            ("system", record["system"]),
            ("supply", record["supply"]),
            ("type of earthing", record["earthing"]),
            ("highest voltage", volts and f"{volts:g} V"),
            ("highest current", amps and f"{amps:g} A"),
            ("protected by", record["overcurrent_a"] and f"{record['overcurrent_a']:g} A"),
            ("continuous load", _said(record["continuous"])),
            ("motor circuit", _said(record["motor"])),
        ]
    )
    _show_conductors(record)
    if record["readings"]:
        show_readings(record["readings"])


def show_enclosure(record: dict[str, Any]) -> None:
    """Write what is inside an enclosure, by terminal."""
    heading(record["code"], record["name"] or "", record["kind"] or "")
    facts([("where", record["where"]), ("marked", _said(record["marked"]))])
    table(
        ("terminal", "tag", "circuit", "function", "state", "leads to"),
        (
            (e["terminal"], e["tag"], e["circuit"], e["function"], e["state"], e["leads_to"])
            for e in record["ends"]
        ),
    )
    for left in record["abandoned"]:
        serves = f"{left['circuit']} {left['function']}"
        say(f"abandoned, perhaps live: {left['tag']} ({serves})", style="yellow")
    for device in record["devices"]:
        rating, hot = device["rating_a"], device["termination_rating_c"]
        words = [device["kind"], rating and f"{rating:g} A", hot and f"terminals {hot:g} °C"]
        say(f"device {device['code']}: {', '.join(filter(None, words)) or 'kind unknown'}")
        if device["readings"]:
            show_readings(device["readings"])
    for raceway in record["raceways"]:
        say(f"raceway {raceway['code']}: {raceway['from']} → {raceway['to']}")


def _sides(*sides_mm: float | None) -> str | None:
    known = ["unknown" if side is None else f"{side:g}" for side in sides_mm]
    return f"{' x '.join(known)} mm" if set(sides_mm) != {None} else None


def show_raceway(record: dict[str, Any]) -> None:
    """Write a raceway's record for people."""
    heading(record["code"], f"{record['from']} → {record['to']}")
    bends = record["bends_deg"]
    facts(
        [
            ("type", " ".join(filter(None, (record["type"], record["trade_size"])))),
            ("length", length(record["length_m"])),
            ("bends", None if bends is None else f"{bends:g}°"),
            ("inside", _sides(record["width_mm"], record["height_mm"])),
            ("above the roof", length(record["above_roof_m"])),
            ("marked", _said(record["marked"])),
        ]
    )
    _show_conductors(record)


def show_pull(record: dict[str, Any]) -> None:
    """Write a pull's record for people."""
    heading(record["code"], " → ".join(record["enclosures"]))
    facts([("raceways", " → ".join(record["path"]))])
    _show_conductors(record)


def _show_conductors(record: dict[str, Any]) -> None:
    table(
        ("tag", "circuit", "function", "size", "colour", "from", "to"),
        (
            (c["tag"], c["circuit"], c["function"], c["size"], c["colour"], c["from"], c["to"])
            for c in record["conductors"]
        ),
    )
    if record["retired"]:
        say("Retired:", style="bold")
        table(
            ("tag", "circuit", "function", "since", "because", "from", "to"),
            (
                (c["tag"], c["circuit"], c["function"], day(c["retired_at"]),
                 c["retired_because"], c["from"], c["to"])
                for c in record["retired"]
            ),
        )  # fmt: skip


SHOWN = {
    "conductor": show_conductor,
    "circuit": show_circuit,
    "enclosure": show_enclosure,
    "raceway": show_raceway,
    "pull": show_pull,
}
