# SPDX-License-Identifier: MIT
"""``land``, ``extend``, ``replace``, ``retire`` and ``swap``: the work is changed."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace as with_fields
from functools import partial
from typing import TYPE_CHECKING, Any

import click

from wiretrack.cli.asking import StoppedError, ask, can_ask, confirm
from wiretrack.cli.command import Command
from wiretrack.cli.options import (
    Answer,
    Change,
    Word,
    answers,
    by_option,
    change_options,
    either,
    field_options,
    together,
)
from wiretrack.cli.output import cautions, facts, few, length, records, say, table, volts
from wiretrack.days import day
from wiretrack.electrical.limits import METALS
from wiretrack.electrical.quantity_text import shown
from wiretrack.errors import AskedError, BadInputError
from wiretrack.manner import words
from wiretrack.model.entities import Conductor
from wiretrack.model.kinds import METAL
from wiretrack.model.words import ENCLOSURE_KINDS

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from wiretrack.library import OpenSite
    from wiretrack.tasks.change.cutting import Division
    from wiretrack.tasks.change.done import Done
    from wiretrack.tasks.change.extending import Extended
    from wiretrack.tasks.change.replacing import Replaced
    from wiretrack.tasks.change.retiring import Retired
    from wiretrack.tasks.change.swapping import Swapped
    from wiretrack.tasks.describe.landing import EndNow, Sure
    from wiretrack.tasks.label.ends import DueLabel, OldLabel
    from wiretrack.tasks.test.plan import OwedTest

_MOST = 12  # tests that are listed one by one


@click.command(cls=Command)
@click.argument("tag")
@click.argument("enclosure")
@click.option("--terminal", help="The terminal that the end is landed on.")
@either("state", capped="The end is capped as a spare.", loose="The end hangs loose.")
@click.option("--new-terminal", is_flag=True, help="The terminal isn't in the record yet: add it.")
@click.option("--anyway", is_flag=True, help="It is so, whatever else is on that terminal.")
@click.option("--take-back", is_flag=True, help="Put the end back to what it was before.")
@answers
def land(
    site: OpenSite, /, take_back: bool, new_terminal: bool, anyway: bool, **end: Any
) -> Answer:
    """Land the end of conductor TAG in ENCLOSURE on a terminal, cap it, or set it loose."""
    from wiretrack.model.parts import End
    from wiretrack.tasks.describe import landing
    from wiretrack.tasks.report.standing import after_landing

    tag = end.pop("tag")
    if take_back and (end["state"] or end["terminal"]):
        raise click.UsageError("--take-back says what the end becomes. Leave the others out.")

    def landed(sure: Sure) -> EndNow:
        if take_back:
            return landing.take_back(site.registry, tag, end["enclosure"], who=site.who, sure=sure)
        try:
            return landing.land(site.registry, tag, End(**end), who=site.who, sure=sure)
        except BadInputError as error:
            if error.field != "terminal" or end["terminal"] or end["state"] or not can_ask():
                raise
        word: str = ask("Terminal, or capped, or loose")
        end["state" if word in ("capped", "loose") else "terminal"] = word
        return landing.land(site.registry, tag, End(**end), who=site.who, sure=sure)

    now = confirmed(landed, landing.Sure(new_terminal=new_terminal, anyway=anyway))
    then = partial(after_landing, site.registry, now.tag)
    return Answer(now, lambda: _show_landed(now), then=then)


def confirmed(work: Callable[[Sure], EndNow], sure: Sure) -> EndNow:
    """Do the work; at a terminal, ask about what is unusual and go on if it is so."""
    while True:
        try:
            return work(sure)
        except AskedError as error:
            if not can_ask():
                raise
            if not confirm(f"{words(error.what)} Is it so?", default=False):
                raise StoppedError from None
            sure = with_fields(sure, **{error.sure: True})


def _show_landed(now: EndNow) -> None:
    place = f"on {now.terminal}" if now.terminal else "no terminal"
    say(f"{now.tag} in {now.enclosure}: {now.state or 'not known'}, {place}.")
    if now.new_terminal:
        say(f"Note: the record had no terminal {now.terminal} in {now.enclosure}.")


@click.command(cls=Command)
@click.argument("what", nargs=-1, required=True)
@click.option("--through", required=True, metavar="BOX", help="The box where they are cut.")
@click.option(
    "--new-box", metavar="KIND", help=f"BOX is new, and of this kind: {', '.join(ENCLOSURE_KINDS)}."
)
@click.option("--raceway", metavar="OLD", help="The raceway that BOX divides in two.")
@click.option("--into", metavar="CODE,CODE", help="Its two pieces' codes, from its start on.")
@click.option("--raceway-lengths", metavar="M,M", help="Their lengths; ? where one is unknown.")
@click.option("--bends", metavar="DEG,DEG", help="Their bends in degrees; ? where unknown.")
@click.option("--terminals", metavar="LIST", help="One for each conductor: TB1:1-4, or TB1:1,PE:2.")
@click.option("--land", multiple=True, metavar="TAG=TERMINAL[,TERMINAL]",
              help="Where one conductor's ends go; near piece first if they part.")  # fmt: skip
@either("others", capped="Cap all other ends in BOX.", loose="Leave all other ends in BOX loose.")
@click.option("--lengths", multiple=True, metavar="[TAG=]NEAR,FAR",
              help="Lengths of the conductors' pieces; ? where one is unknown.")  # fmt: skip
@change_options
@answers
def extend(site: OpenSite, /, change: Change, **said: Any) -> Answer:
    """Cut the conductors of WHAT (tags, circuits) in BOX and land the pieces there.

    Each becomes two conductors with tags of their own: the near piece at its "from" end, the far
    piece at the other. What was read before the cut stays with the old tag. BOX is on the way
    already, or is put into a raceway with --raceway and --into.
    """
    from wiretrack.tasks.change import extending
    from wiretrack.tasks.change.cutting import CutEnds

    wanted = extending.Extension(
        what=said["what"],
        through=said["through"],
        new_box=said["new_box"],
        division=_division(said),
        ends=CutEnds(**{name: said[name] for name in ("terminals", "land", "lengths", "others")}),
        at=change.at,
    )
    done = extending.extend(site.registry, wanted, who=change.who)
    return Answer(done, lambda: _show_extended(done))


def _division(said: dict[str, Any]) -> Division | None:
    from wiretrack.tasks.change.cutting import Division

    raceway, into = said["raceway"], said["into"]
    lengths, bends = said["raceway_lengths"], said["bends"]
    if (raceway is None) != (into is None):
        raise click.UsageError("--raceway and --into go together. Give both, or neither.")
    if raceway is not None:
        return Division(raceway=raceway, into=into, lengths=lengths, bends=bends)
    if lengths or bends:
        raise click.UsageError("--raceway-lengths and --bends go with --raceway and --into.")
    return None


def _show_extended(done: Extended) -> None:
    divided = done.raceway
    if divided:
        for piece in divided.into:
            known = length(piece.length_m) or "length unknown"
            say(f"raceway {piece.code}: {piece.from_} → {piece.to}, {known}")
        say(f"{divided.divided} is divided; pulls through it: "
            f"{', '.join(divided.pulls) or 'none'}.")  # fmt: skip
    table(
        ("of", "tag", "from", "to", "length"),
        (
            (row.tag, piece.tag, piece.from_, piece.to, length(piece.length_m))
            for row in done.cut
            for piece in (row.near, row.far)
        ),
    )
    for row in done.untouched:
        say(f"{row.tag} is not cut: it {row.why}.")
    show_left(done)


@click.command(cls=Command)
@click.argument("tag")
@click.option("--same", is_flag=True, help="Size, metal, insulation, strands and colour as before.")
@click.option("--abandoned", is_flag=True, help="The old one stays in its raceway.")
@field_options(Conductor, "size", "metal", "insulation", "strands", "colour", "core",
               "outer_diameter", metal=Word(METAL, METALS), strands=int)  # fmt: skip
@click.option("--length", help="Its length, measured; the old one's is never taken over.")
@field_options(Conductor, "note")
@change_options
@answers
def replace(site: OpenSite, /, change: Change, **fields: Any) -> Answer:
    """Put a new conductor in the place of TAG: same terminals, same route, a tag of its own.

    The old one is pulled out, unless it is --abandoned. What isn't stated of the new one is
    unknown, unless it is the --same. No reading is taken over.
    """
    from wiretrack.tasks.change.replacing import Replacement, replace_conductor

    wanted = Replacement(**fields, at=change.at)
    done = replace_conductor(site.registry, wanted, who=change.who)
    return Answer(done, lambda: _show_replaced(done))


def _show_replaced(done: Replaced) -> None:
    old = "stays in its raceway, abandoned" if done.old == "abandoned" else "is pulled out"
    say(f"{done.tag} replaces {done.follows}, which {old}.", style="bold")
    facts(
        [
            ("circuit", f"{done.circuit} {done.function}"),
            ("from", done.from_),
            ("to", done.to),
            ("as the old one", _words(done.taken_over)),
            ("not known", _words(done.unknown)),
        ]
    )
    show_left(done)


def _words(names: Sequence[str]) -> str:
    plain = (name.removesuffix("_mm").removesuffix("_m") for name in names)
    return ", ".join(name.replace("_", " ") for name in plain)


@click.command(cls=Command)
@click.argument("what")
@either(
    "became", removed="It is pulled out.", abandoned="It is left in its raceway.",
    take_back="It was a mistake: it is in use again.",
)  # fmt: skip
@change_options
@answers
def retire(site: OpenSite, what: str, became: str | None, change: Change) -> Answer:
    """Retire WHAT, a tag or a circuit with all its conductors; nothing of its record is lost.

    An abandoned conductor still takes its room in the raceway, and may still be live.
    """
    from wiretrack.tasks.change import retiring

    if became is None:
        raise click.UsageError("Say what became of the conductors. Give --removed or --abandoned.")
    if became == "take_back":
        done = retiring.take_back(site.registry, what, who=change.who)
    else:
        left = became == "abandoned"
        done = retiring.retire(site.registry, what, abandoned=left, at=change.at, who=change.who)
    return Answer(done, lambda: _show_retired(done))


def _show_retired(done: Retired) -> None:
    say(_told(done), style="bold")
    table(
        ("tag", "circuit", "function", "from", "to", "route"),
        ((c.tag, c.circuit, c.function, *c.ends, " → ".join(c.route)) for c in done.conductors),
    )
    show_left(done)


def _told(done: Retired) -> str:
    """Return the first line: what became of the conductor or circuit."""
    if done.because is None:
        whole = "Circuit " if done.what == "circuit" else ""
        return f"{whole}{done.code} is in use again."
    if done.what == "conductor":
        how = "left in its raceway" if done.because == "abandoned" else "pulled out"
        return f"{done.code}: {how}."
    if done.stays:
        return f"Circuit {done.code}: what no other circuit needs is retired."
    return f"Circuit {done.code} is retired."


@click.command(cls=Command)
@click.argument("tag")
@click.argument("other")
@click.option("--at", "box", required=True, metavar="BOX", help="The box where they are crossed.")
@click.option("--marks", is_flag=True, help="Exchange their end marks too.")
@together(
    "change", Change,
    click.option("--on", "at", help="The day or time it was found; now if left out."), by_option,
)  # fmt: skip
@answers
def swap(site: OpenSite, tag: str, other: str, box: str, marks: bool, change: Change) -> Answer:
    """Exchange what is recorded of the ends of TAG and OTHER in BOX: they were found crossed.

    With --marks it was the ring-out that took one for the other, and their end marks change
    places too. Readings stay with their conductor; those that rest on the landing are due again.
    """
    from wiretrack.tasks.change import swapping

    done = swapping.swap(
        site.registry, (tag, other), box, marks=marks, at=change.at, who=change.who
    )
    return Answer(done, lambda: _show_swapped(done))


def _show_swapped(done: Swapped) -> None:
    say(f"In {done.box} now:", style="bold")
    records(("tag", "circuit", "function", "terminal", "state", "mark"), done.ends)
    stale = done.stale_readings
    if stale:
        from wiretrack.readings import kind_of

        values = (shown(r.value, kind_of(r.kind).unit) for r in stale)
        say("Judged by the old landing, so due again:", style="bold")
        table(
            ("date", "tag", "reading", "value"),
            ((day(r.at, ""), r.tag, r.kind, v) for r, v in zip(stale, values, strict=True)),
        )
    show_left(done)


def show_left(done: Done) -> None:
    """Write what a change leaves: labels to print and to take off, tests due, remarks."""
    if done.cautions:
        cautions(done.cautions)
    for note in done.notes:
        say(f"Note: {note}", style="yellow")
    show_due(done.labels_due, done.tests_owed, done.take_off)


def show_due(
    labels: Sequence[DueLabel], tests: Sequence[OwedTest], off: Sequence[OldLabel] = ()
) -> None:
    """Write what a change makes due, in one list: labels to print and to take off, tests."""
    _show_labels(labels, off)
    _show_tests(tests)


def _show_tests(owed: Sequence[OwedTest]) -> None:
    """Write the tests due; of many, how many of each kind."""
    if not owed:
        return
    counts = Counter(test.kind for test in owed)
    kinds = ", ".join(f"{kind} {count}" for kind, count in counts.items())
    say(f"Tests due now: {len(owed)} ({kinds})", style="bold")
    if len(owed) > _MOST:
        say("List them in working order with: wiretrack test plan CIRCUIT")
        return
    table(
        ("test", "of", "against", "at"),
        ((t.kind, t.subject, t.against, volts(t.test_voltage)) for t in owed),
    )


def _show_labels(due: Sequence[DueLabel], off: Sequence[OldLabel]) -> None:
    named = {row.take_off for row in due}
    off = [row for row in off if row.tag not in named]
    if due:
        say(f"Labels due: {len(due)}", style="bold")
        rows = [(row.tag, row.end, row.place, why_due(row)) for row in due]
        few(("tag", "end", "place", "why"), rows, "wiretrack label due")
    if off:
        say("Labels to take off:", style="bold")
        taken = [(row.tag, row.end, row.place, *dates(row)) for row in off]
        few(("tag", "end", "place", "printed", "put on"), taken, "wiretrack label due")


def dates(row: DueLabel | OldLabel) -> tuple[str | None, str | None]:
    """Return on which days the label of a row was printed, and put on."""
    printed, placed = (day(at, "") or None for at in (row.printed_at, row.placed_at))
    return printed, placed


def why_due(row: DueLabel) -> str:
    """Return why a label is due, and whose label is to be taken off there."""
    old = row.take_off and f"take off the one of {row.take_off}"
    return ": ".join(filter(None, (row.why, row.detail, old)))
