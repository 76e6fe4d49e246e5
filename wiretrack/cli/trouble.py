# SPDX-License-Identifier: MIT
"""``fault``, ``isolate``, ``symptom`` and ``expect``: what is wrong, and what to read."""

from __future__ import annotations

from contextlib import nullcontext
from functools import partial
from itertools import groupby
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from wiretrack.cli.command import Command, Group
from wiretrack.cli.options import Answer, Word, answers, force_option, opened, prints, warn
from wiretrack.cli.output import (
    cautions,
    facts,
    heading,
    indented,
    one_screen,
    resistance,
    say,
    table,
    to_be_copied,
    with_drawing,
)
from wiretrack.cli.output import length as length_text
from wiretrack.cli.wording import advice, for_shell
from wiretrack.electrical.limits import METALS
from wiretrack.electrical.quantity_text import shown
from wiretrack.errors import BadInputError, Hint
from wiretrack.manner import words
from wiretrack.model.kinds import METAL
from wiretrack.model.words import SYMPTOMS

if TYPE_CHECKING:
    from collections.abc import Sequence

    from wiretrack.electrical.resistance import Expected, LikelyLength
    from wiretrack.library import OpenSite
    from wiretrack.tasks.trouble.isolation import OpenedDevice, Wire
    from wiretrack.tasks.trouble.locating import BadJoint, LocatedFault
    from wiretrack.tasks.trouble.search import Search


@click.command(cls=Command)
@click.argument("tags", metavar="WHAT...", nargs=-1, required=True)
@click.option("--against", metavar="TAG|raceway", multiple=True, help="What it is in contact with.")
@click.option("--at", metavar="BOX", help="The near end, where you measured; else the first end.")
@click.option("--near", metavar="OHMS", help="Read at the near end, far end open (nF for a break).")
@click.option("--far", metavar="OHMS", help="Read at the far end, near end open (nF for a break).")
@click.option("--near-joined", metavar="OHMS", help="Read at the near end, far ends connected.")
@click.option("--murray", metavar="P:Q", help="Murray loop: arm on the good, on the faulty one.")
@click.option("--varley", metavar="P:Q", help="Varley loop: arm on the good one, on the set ohms.")
@click.option("--set", "set_ohms", metavar="OHMS", help="Varley: ohms set at balance.")
@click.option("--good", metavar="TAG", multiple=True, help="The good conductor of the loop.")
@click.option(
    "--loop", metavar="OHMS", help="The loop's measured resistance; else as in the record."
)
@click.option("--fault-ohms", metavar="OHMS", help="The fault's own resistance, if known.")
@click.option("--raceway-ohms", metavar="OHMS", help="The raceway from end to end, measured.")
@click.option("--along", metavar="OHMS", help="Read end to end: asks for a bad joint.")
@click.option("--like", metavar="TAG=OHMS", multiple=True, help="A like conductor beside it.")
@click.option("--leads", metavar="OHMS", help="Leads' resistance within the readings.")
@click.option("--temp", "temps", metavar="C|RACEWAY=C", multiple=True, help="Of the conductors.")
@click.option("--instrument", help="Code of the meter, for its accuracy.")
@click.option("--svg", type=click.Path(path_type=Path), help="Draw the route with the place.")
@force_option
@answers
def fault(site: OpenSite, /, svg: Path | None, **asked: Any) -> Answer:
    """Say where along its route the fault of WHAT (a tag, or tags in series) lies.

    A short or an earth fault: --near and --far, or --near and --near-joined, with --against; or
    --murray or --varley with --good. A bad joint: --along. A break: --near and --far in nF.
    """
    from wiretrack.files import write_file
    from wiretrack.tasks.report.standing import after_mending
    from wiretrack.tasks.trouble.locating import find_fault
    from wiretrack.tasks.trouble.measured import FaultReadings

    found = find_fault(site.registry, FaultReadings(**asked))
    if svg:
        write_file(svg, [found.svg()])
    result = with_drawing(found, svg)
    then = partial(after_mending, site.registry, asked["tags"][0])
    return Answer(result, lambda: _show_fault(found, svg), then=then)


def _show_fault(found: LocatedFault | BadJoint, svg: Path | None) -> None:
    cautions(found.cautions)
    if found.distance_m is None:
        _show_excess(found)
    else:
        _show_place(found)
    for remark in found.remarks:
        say(f"Note: {remark}.", style="yellow")
    say(f"By: {found.source}", style="dim")
    if svg:
        say(f"Drawn in {svg}.")


def _show_place(found: LocatedFault) -> None:
    heading(words(found.kind), f"{length_text(found.distance_m)} from {found.from_}")
    one, other = found.between
    raceway = found.raceway or "an unnamed stretch"
    where = f", {found.open_first_where}" if found.open_first_where else ""
    facts(
        [
            ("within", f"{length_text(found.low_m)} to {length_text(found.high_m)}"),
            ("there", f"{raceway}, {length_text(found.in_raceway_m)} from {one} towards {other}"),
            ("open first", f"{found.open_first}{where}"),
            ("may reach", ", ".join(found.reach) if len(found.reach) > 1 else None),
            ("fault has", resistance(found.fault_ohms)),
        ]
    )


def _show_excess(found: BadJoint) -> None:
    heading(words(found.kind), f"{found.from_} → {found.to}")
    facts(
        [
            ("too much", resistance(found.excess_ohms)),
            ("within", f"± {resistance(found.excess_uncertainty_ohms)}"),
            ("should be", resistance(found.expected_ohms)),
            ("", found.advice),
            ("heat", None if found.heat_w is None else f"{found.heat_w:.3g} W at full load"),
        ]
    )
    table(("look at", "terminal"), ((j.enclosure, j.terminal) for j in found.joints))


@click.command(cls=Command)
@click.argument("what")
@click.option(
    "--source", "sources", metavar="ENCLOSURE/TERMINAL", multiple=True, help="Also live; repeat it."
)
@click.option("--all", "everything", is_flag=True, help="All of it, not just a screen.")
@answers
def isolate(site: OpenSite, what: str, sources: tuple[str, ...], everything: bool) -> Answer:
    """Say what goes dead and what stays live when WHAT (a device, BOX/DEVICE) is opened.

    Of a tag, circuit, box, raceway or pull it names the nearest devices that make it dead. It
    follows the record alone: prove dead whatever you touch.
    """
    found = site.isolate(what, *sources)
    for_all = f"wiretrack isolate {for_shell(what)} --all"

    def text() -> None:
        if everything:
            cautions(found.cautions)
        else:
            brief = "The record is not a test. Prove dead before you touch."
            warn(site, brief, found.cautions, for_all)
        with nullcontext() if everything else one_screen(for_all, kept=1):
            _show_opened(found, everything=everything)
        unfollowed = words("Neutrals and protective conductors aren't followed.")
        say(f"{unfollowed} The record is not a test.")

    named = next((wire.circuit for wire in found.goes_dead), None)
    return Answer(found, text, then=("isolated", named) if named else None)


def _show_opened(found: OpenedDevice, *, everything: bool) -> None:
    first = f"{found.enclosure}/{found.device}" if found.also else ""
    heading(", ".join((first or f"{found.enclosure} {found.device}", *found.also)), "opened")
    show = _show_wires if everything else _show_groups
    show("Goes dead:", "Nothing goes dead.", found.goes_dead)
    show("Stays live:", "Nothing that it connected stays live.", found.stays_live, "from_", "why")
    show("Unknown, may be live:", "", found.unknown, "why")
    for device in found.state_unknown:
        say(f"Whether {device} is open or closed isn't recorded.", style="yellow")
    if found.unused:
        say(f"Assumed unused, no wire is recorded on them: {', '.join(found.unused)}.",
            style="yellow")  # fmt: skip
    if found.abandoned:
        say(f"Abandoned in these boxes, perhaps live: {', '.join(found.abandoned)}.",
            style="yellow")  # fmt: skip


def _show_groups(title: str, none: str, wires: Sequence[Wire], *more: str) -> None:
    """Show conductors by where they lie and why, those alike in one row."""
    groups: dict[tuple[str, ...], list[Wire]] = {}
    for wire in wires:
        why = str(getattr(wire, more[-1])) if more else ""
        groups.setdefault((" – ".join(wire.between), wire.circuit, why), []).append(wire)
    if groups or none:
        say(title if groups else none)
    for why, rows in groupby(groups.items(), key=lambda group: group[0][2]):
        table(
            ("between", "circuit", "conductors"),
            (
                (place, circuit, ", ".join(f"{w.function} {w.conductor}" for w in some))
                for (place, circuit, _), some in rows
            ),
        )
        indented(*filter(None, [why]), style="dim")


def _show_wires(title: str, none: str, wires: Sequence[Wire], *more: str) -> None:
    """Show conductors under a title, each with `more` of its facts; if there are none, say so."""
    if wires or none:
        say(title if wires else none)
    if wires:
        table(
            ("conductor", "circuit", "", "between", *(name.rstrip("_") for name in more)),
            (
                (wire.conductor, wire.circuit, wire.function, " – ".join(wire.between),
                 *(getattr(wire, name) for name in more))
                for wire in wires
            ),
        )  # fmt: skip


@click.group(cls=Group)
def symptom() -> None:
    """Search for a fault, guided reading by reading, half-way first."""


_OUTCOME = click.argument(
    "outcome", type=click.Choice(("yes", "no", "cant", "can't")), metavar="yes|no|cant"
)
_VALUE = click.option("--value", help="What was read, for the log.")


@symptom.command()
@click.argument("symptom", type=click.Choice(SYMPTOMS))
@click.argument("what")
@click.option("--at", metavar="BOX", help="The box that stands open already.")
@answers
def start(site: OpenSite, symptom: str, what: str, at: str | None) -> Answer:
    """Begin a search for the cause of SYMPTOM at WHAT: a tag, or a circuit that trips.

    Name the conductor at the load for a dead circuit, low voltage, wrong polarity or voltage.
    """
    from wiretrack.tasks.trouble import searching

    return _answer(searching.start(site.registry, symptom, what, at=at, who=site.who))


@symptom.command()
@click.argument("what")
@_OUTCOME
@_VALUE
@click.option("--note", help="Anything worth knowing.")
@answers
def answer(site: OpenSite, /, what: str, outcome: str, **given: str | None) -> Answer:
    """Answer the open question of WHAT's search: yes, no, or cant if it can't be read."""
    from wiretrack.tasks.trouble import searching
    from wiretrack.tasks.trouble.search import Answer as Outcome

    return _answer(searching.answer(site.registry, what, Outcome(outcome, **given), who=site.who))


@symptom.command()
@click.argument("what")
@answers
def status(site: OpenSite, what: str) -> Answer:
    """Show the likely causes, the log and the next reading of WHAT's latest search."""
    from wiretrack.tasks.trouble import searching

    return _answer(searching.status(site.registry, what))


@symptom.command()
@click.argument("what")
@click.argument("number", type=int)
@_OUTCOME
@_VALUE
@click.option("--note", help="Why it is corrected.")
@answers
def correct(site: OpenSite, /, what: str, number: int, outcome: str, **texts: str | None) -> Answer:
    """Supersede answer NUMBER of WHAT's latest search; the old one stays in the log."""
    from wiretrack.tasks.trouble import searching
    from wiretrack.tasks.trouble.search import Answer as Outcome

    given = Outcome(outcome, **texts)
    return _answer(searching.correct(site.registry, what, number, given, who=site.who))


@symptom.command()
@click.argument("what")
@answers
def undo(site: OpenSite, what: str) -> Answer:
    """Take the last answer of WHAT's latest search back; its question is open again."""
    from wiretrack.tasks.trouble import searching

    return _answer(searching.undo(site.registry, what, who=site.who))


def _answer(found: Search) -> Answer:
    job = "answer" if found.next else "mended" if found.found else "test"
    return Answer(found, lambda: _show_search(found), then=(job, found.circuit))


def _show_search(found: Search) -> None:
    if found.next:
        cautions(found.cautions)
    heading(f"{found.symptom}  {found.subject}", found.title)
    for line in found.log:
        replaced = f", corrected {line.superseded}×" if line.superseded else ""
        value = f", {shown(line.value)}" if line.value else ""
        said = "can't" if line.outcome == "cant" else line.outcome
        say(f"{line.number}. {line.ask} {said}{value}{replaced}")
    left = sorted((s for s in found.suspects if s.left), key=lambda s: -s.likelihood)
    table(
        ("likely cause", "", "in the record"),
        ((s.name, f"{s.likelihood:.0%}", s.because) for s in left[:12]),
    )
    if len(left) > 12:
        every = f"wiretrack symptom status {for_shell(found.circuit)} --json"
        to_be_copied(f"and {len(left) - 12} more: {every}", "dim")
    for remark in found.remarks:
        say(f"Note: {remark}.", style="yellow")
    _show_end(found)


def _show_end(found: Search) -> None:
    step = found.next
    if step:
        where = f", {step.where}" if step.where else ""
        say(f"Next, in {step.box}{where}:", style="bold")
        indented(step.ask, f"yes: {step.yes}.  no: {step.no}.")
    elif found.found:
        say(f"Found: {found.found.name}", style="bold")
        say(f"To be sure: {found.confirm}. {advice(Hint(job=found.confirm_by or ''))}".rstrip())
    else:
        if found.contradiction:
            say(f"Contradiction: {found.contradiction}.", style="bold red")
        say("Not decided. No reading shows which of these it is:", style="bold")
        table(("left", "to decide"), ((s.name, s.decide or "") for s in found.undecided))


@click.command(cls=Command)
@click.argument("tag", required=False)
@click.option("--size", help="10 AWG, 250 kcmil, 6 mm2.")
@click.option("--length", help="One way: 104 ft, 31.7 m.")
@click.option("--ohms", help="A measured resistance: asks how long the conductor is.")
@click.option("--leads", help="Leads' resistance within --ohms.")
@click.option("--temp", help="Temperature of the conductor.")
@click.option("--metal", type=Word(METAL, METALS), help="Copper is assumed if left out.")
@click.option("--strands", type=int, help="1 is solid; stranded is assumed if left out.")
@prints
def expect(db: Path, /, **given: Any) -> Answer:
    """Say what a meter should read along a conductor, or how long one is that reads --ohms.

    With --size and --length: the resistance, one way, and out and back. With --size and --ohms:
    the likely length. With TAG and --ohms: whether the conductor can lie on its recorded route.
    """
    from wiretrack.tasks.test import expecting

    tag, size, length, ohms = (given.pop(name) or "" for name in ("tag", "size", "length", "ohms"))
    leads, known = given.pop("leads"), (bool(tag), bool(size), bool(length), bool(ohms))
    if known == (False, True, True, False):
        reading = expecting.expect(size, length, **given)
        then = ("log", "TAG")
        return Answer(reading, lambda: _show_expected(reading), then=then)
    if known == (False, True, False, True):
        likely = expecting.length_from(size, ohms, leads=leads, **given)
        length = length_text(likely.length_m)
        return Answer(likely, lambda: _show_length(likely), then=("length", "WHAT", length))
    if known != (True, False, False, True):
        raise BadInputError("Give --size and --length, or --size and --ohms, or a TAG and --ohms.")
    with opened(db) as registry:
        told = expecting.compare_with_route(registry, tag, ohms, temp=given["temp"], leads=leads)
    more = (("route", length_text(told.route_m)), ("", told.reason))
    then = ("log" if told.agrees else "show", tag)
    return Answer(told, lambda: _show_length(told, *more), int(not told.agrees), then)


def _show_expected(found: Expected) -> None:
    facts(
        [
            ("one way", resistance(found.ohms)),
            ("out and back", resistance(found.loop_ohms)),
            ("at", f"{found.at_c:g} °C"),
            ("source", found.source),
        ]
    )


def _show_length(found: LikelyLength, *more: tuple[str, str | None]) -> None:
    likely = f"{length_text(found.low_m)} to {length_text(found.high_m)}"
    length = length_text(found.length_m)
    facts([("length", length), ("likely", likely), *more, ("source", found.source)])
