# SPDX-License-Identifier: MIT
"""``add`` and ``set``: one record, field by field."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

import click

from wiretrack.cli.asking import StoppedError, answered, ask, can_ask, confirm
from wiretrack.cli.change import show_due
from wiretrack.cli.command import Command
from wiretrack.cli.describe import as_read, show_changed
from wiretrack.cli.options import Answer, answers, do_next
from wiretrack.cli.output import counted, records, say, table
from wiretrack.cli.wording import for_shell
from wiretrack.exchange.assigned import check_typed
from wiretrack.tasks.describe import adding
from wiretrack.tasks.describe.adding import Addition
from wiretrack.tasks.describe.entering import Reason

if TYPE_CHECKING:
    from collections.abc import Sequence

    from wiretrack.library import OpenSite
    from wiretrack.model.fields import Fact
    from wiretrack.tasks.describe.adding import Added
    from wiretrack.tasks.describe.entering import Corrected
    from wiretrack.tasks.report.standing import NextStep

_NAMED = 3  # conductors that are named, of many that a sentence is true of
_SAID_SO = (
    click.option("--on", metavar="DAY", help="The day it is of: 2026-05-02, or yesterday."),
    click.option("--why", metavar="TEXT", help="Why; the history keeps it."),
)


def pairs(words: Sequence[str]) -> dict[str, str]:
    """Return fields by their names, of words like ``length=67 m``."""
    found: dict[str, str] = {}
    for word in words:
        key, sign, value = word.partition("=")
        if not sign or not key.strip():
            raise click.UsageError(f"'{word}' is no FIELD=VALUE.")
        if key.strip() in found:
            raise click.UsageError(f"{key.strip()} is given twice.")
        found[key.strip()] = value
    return found


def _reason(on: str | None, why: str | None) -> Reason:
    from wiretrack.days import typed_day

    return Reason(typed_day(on).isoformat() if on else None, why)


@click.command(cls=Command, context_settings={"ignore_unknown_options": True})
@click.argument("kind")
@click.argument("words", nargs=-1, type=click.UNPROCESSED, metavar="[CODE] [FIELD=VALUE]...")
@click.option("--count", type=int, help="So many conductors that are alike.")
@click.option("--like", metavar="WHAT", help="Take all but code, tag, readings and length from it.")
@_SAID_SO[0]
@_SAID_SO[1]
@answers
def add(site: OpenSite, kind: str, words: tuple[str, ...], **said: Any) -> Answer:
    """Add an enclosure, raceway, circuit, pull, conductor, device, terminal or instrument.

    CODE is its code; of a device or terminal BOX/CODE; of a conductor its function, left out for
    a spare. FIELD is a field of the site file; --FIELD VALUE does as well. --like a circuit copies
    its pattern of conductors too. At a terminal, what is missing is asked for.
    """
    reason = _reason(said["on"], said["why"])
    code, fields = _parted(words)
    wanted = Addition(kind=kind, code=code, fields=fields, like=said["like"], count=said["count"])
    if can_ask():
        wanted = _asked(site, wanted)
    done = site.add(
        kind, wanted.code, wanted.fields, like=wanted.like, count=wanted.count, reason=reason
    )
    return Answer(done, lambda: _show_added(done), then=lambda: _after_adding(done))


def _parted(words: Sequence[str]) -> tuple[str | None, dict[str, str]]:
    """Return code and fields of words: ``CODE``, ``FIELD=VALUE``, ``--FIELD VALUE``."""
    codes, told = list[str](), list[str]()
    coming = iter(words)
    for word in coming:
        if word.startswith("--") and "=" not in word:
            key = word.removeprefix("--").replace("-", "_")
            value = next(coming, None)
            if value is None:
                raise click.UsageError(f"Option '{word}' requires an argument.")
            told.append(f"{key}={value}")
        elif "=" in word and not word.startswith("="):  # =A1 is a code, of IEC 81346
            told.append(word.removeprefix("--"))
        else:
            codes.append(word)
    if len(codes) > 1:
        raise click.UsageError(f"'{codes[1]}' is no FIELD=VALUE. One code is enough.")
    return (codes[0] if codes else None), pairs(told)


def _asked(site: OpenSite, wanted: Addition) -> Addition:
    """Return what is wanted with what was missing, asked for one by one and confirmed."""
    of, lacking = wanted.of, adding.missing(site.registry, wanted)
    for fact in lacking:

        def _parse(text: str, fact: Fact = fact) -> str:
            check_typed(of, fact, text)
            return adding.refuse_unknown(site.registry, fact, text)

        choices = [*map(str, fact.kind.words), *adding.codes_of(site.registry, fact)]
        example = f", like {told}" if (told := adding.example_of(fact)) else ""
        last = (site.registry.path, "box" if fact.refers == "enclosures" else fact.key)
        offered = last if answered(*last) not in wanted.fields.values() else None  # no box twice
        question = f"{fact.words.capitalize()}{example}"
        answer = ask(question, _parse, choices=choices, last=offered, listed=True)
        wanted = replace(wanted, fields={**wanted.fields, fact.key: answer})
    if lacking:
        told = ", ".join(f"{key} {value}" for key, value in wanted.fields.items())
        name = " ".join(filter(None, (wanted.kind, wanted.code)))
        number = f"{wanted.count} times " if wanted.count else ""
        if not confirm(f"Add {number}{name}: {told}?"):
            raise StoppedError
    return wanted


def _after_adding(done: Added) -> NextStep:
    """Return the labels of new conductors, or what a person would add next."""
    if done.conductors:
        return do_next("print", (done.pull or done.code) if len(done.tags) > 1 else done.tags[0])
    return do_next(f"add-{done.kind}", *(done.code or "").split("/", 1))


def _show_added(done: Added) -> None:
    if done.kind != "conductor":
        say(f"Added {done.kind} {done.code}.")
    if done.conductors:
        number = counted(len(done.conductors), "conductor")
        say(f"{number}{f' in {done.pull}' if done.pull else ''}:", style="bold")
        heads = ("tag", "circuit", "function", "size", "colour", "from", "to")
        where = f"wiretrack show {for_shell(done.pull)} --all" if done.pull else "wiretrack history"
        records(heads, done.conductors, where)
    for tag in done.not_copied:
        say(f"{tag} serves other circuits too: it was not copied.")


@click.command(cls=Command)
@click.argument("what")
@click.argument("fields", nargs=-1, required=True, metavar="FIELD=VALUE...")
@_SAID_SO[0]
@_SAID_SO[1]
@answers
def set_(
    site: OpenSite, what: str, fields: tuple[str, ...], on: str | None, why: str | None
) -> Answer:
    """Correct or complete the record of WHAT: a tag, a code, BOX/DEVICE, BOX/TERMINAL, or site.

    FIELD is a field of the site file, VALUE is written as there; FIELD= makes it unknown again.
    A new code keeps every reference. What becomes due is listed. Of a circuit, device=BOX/DEVICE
    leads its wires to another breaker, and conductors=TAG,TAG gives it those of another circuit.
    """
    reason, told = _reason(on, why), pairs(fields)
    if can_ask():
        for doubt in _shared(site.set(what, told, look=True).doubts):
            say(doubt, style="yellow")
            if not confirm("Is it so?", default=False):
                raise StoppedError
    done = site.set(what, told, reason=reason)
    return Answer(done, lambda: _show_corrected(done))


def _shared(doubts: Sequence[str]) -> list[str]:
    """Return each doubt once, with the first of those that it is about."""
    about: dict[str, list[str]] = {}
    for doubt in doubts:
        subject, _, said = doubt.partition(": ")
        about.setdefault(said, []).append(subject)
    more = {
        said: f" and {len(of) - _NAMED} more" * (len(of) > _NAMED) for said, of in about.items()
    }
    return [
        f"{', '.join(of[:_NAMED])}{more[said]}: {said}" if said else of[0]
        for said, of in about.items()
    ]


def _show_corrected(done: Corrected) -> None:
    name = "The site" if done.what == "site" else f"{done.what.capitalize()} {done.code}"
    if not done.changed:
        say(f"{name} says that already. Nothing was changed.")
        return
    say(f"{name}:", style="bold")
    table(
        ("field", "was", "is"),
        ((key, *as_read(done.what, key, pair)) for key, pair in done.changed.items()),
    )
    if done.follows:
        say("Changed with it:", style="bold")
        show_changed(done.follows, "wiretrack history")
    for doubt in _shared(done.doubts):
        say(f"Note: {doubt}", style="yellow")
    show_due(done.labels_due, done.tests_owed)
    say(f"To take it back: wiretrack undo {done.change}", style="dim")
