# SPDX-License-Identifier: MIT
"""Taking a change back whole, by a new one."""

from __future__ import annotations

from dataclasses import field, replace
from typing import TYPE_CHECKING

from wiretrack.errors import (
    BadInputError,
    ChangedMeanwhileError,
    Hint,
    NotFoundError,
    RestsOnError,
)
from wiretrack.late import dataclass
from wiretrack.model.entities import Conductor
from wiretrack.plain import few
from wiretrack.store import undoing
from wiretrack.store.changelog import NEW, change_called, changes, undone_by
from wiretrack.store.source import site_of
from wiretrack.tasks.change.done import Done
from wiretrack.tasks.change.history import Teller
from wiretrack.tasks.report.punchlist import members

if TYPE_CHECKING:
    from collections.abc import Collection, Iterable, Sequence

    from wiretrack.store.changelog import Change
    from wiretrack.store.store import Registry
    from wiretrack.store.undoing import Resting
    from wiretrack.tasks.change.history import Touched

_MOST = 3  # records or changes that a line names


@dataclass(frozen=True, kw_only=True)
class TakenBack:
    """A change that was taken back: its id, when and by whom it was made, and what it did."""

    change: str
    at: str
    by: str | None
    what: str
    records: Sequence[Touched]


@dataclass(frozen=True, kw_only=True)
class Undone(Done):
    """What was taken back, by which new change, and what is due again since.

    `along` are later changes that rested on it, and were taken back with it.
    """

    undone: TakenBack
    along: Sequence[TakenBack] = field(default=(), metadata={"blank": None})
    change: str


def undo(
    registry: Registry, name: str | None = None, *, together: bool = False, who: str | None = None
) -> Undone:
    """Take back the last change, or the one with this id, by a new change.

    With `together`, later changes that rest on it are taken back with it. `NotFoundError` if no
    change has that id; `RestsOnError` if later work rests on it; nothing is written then;
    `BadInputError` if it can't be taken back at all: a reading, a label print, an answer of guided
    work, or something that was taken back already.
    """
    change = _last(registry) if name is None else _called(registry, name)
    refused = _refusal(registry, change, undone_by(registry, str(change.id)))
    if refused is not None:
        raise refused
    wanted = _with_what_rests(registry, change, together)
    told = _told(registry, wanted)
    tags = _concerned(registry, wanted, told.values())
    before = Done().with_left_to_do(registry, tags)
    along = [each.id for each in wanted if each.id != change.id]
    more = {"along": along} if along else {}
    with registry.write(who, more={"undoes": change.id, **more}):
        if undoing.take_back(registry, wanted, who):
            raise ChangedMeanwhileError("What would be taken back")
        new = registry.commit.change
    done = Undone(undone=told[change.id], along=[told[name] for name in along], change=new)
    return _left_to_do(registry, done, before, _concerned(registry, wanted, told.values(), tags))


def done_by(registry: Registry, name: str) -> TakenBack | None:
    """Return what the change of this id did; None where there is none, or its time is over."""
    change = change_called(registry, name.strip().lower())
    if change is None or change.kind == NEW:
        return None
    return _told(registry, [change]).get(change.id)


def _last(registry: Registry) -> Change:
    for change in changes(registry):
        if change.id is None or change.kind == NEW:
            continue
        if any(row.get("changed") != {} for row in change.read()):  # more than what was so already
            return change
    raise BadInputError("Nothing was changed here yet.", Hint(job="history"))


def _called(registry: Registry, name: str) -> Change:
    text = name.strip().lower()
    change = change_called(registry, text)
    if change is None:
        raise BadInputError(f"No change is called '{name}'.", Hint(job="history"), value=name)
    return change


def ways_back(registry: Registry, names: Iterable[str]) -> dict[str, Hint]:
    """Return how each of these changes is taken back: by `undo`, or by what works instead of it.

    Without a job, by nothing.
    """
    wanted, by, found = {*names}, dict[str | None, str](), dict[str, Hint]()
    for change in changes(registry):
        if wanted == found.keys():
            break
        name = change.id
        if name is not None and name not in by:
            by = dict.fromkeys((change.undoes, *change.along), name) | by
        if name in wanted:
            refused = _refusal(registry, change, by.get(name))
            found[name] = refused.hint if refused else Hint(job="undo", about=name)
    return found


def _refusal(registry: Registry, change: Change, by: str | None) -> BadInputError | None:
    """Return why a change is never taken back, or not again: it was, `by` another one."""
    name = change.id
    if change.kind == NEW:
        return BadInputError(f"With change {name} the registry began. It stays.")
    if by is not None:
        hint = Hint("To do it again:", job="undo", about=by)
        return BadInputError(f"Change {name} was taken back already, by {by}.", hint)
    row = undoing.never_undone(change)
    if row is not None:
        kept = undoing.name_of(registry, row["table"], row["id"])
        if change.file is not None:
            hint = Hint("Correct or retire its records instead.")
            return BadInputError(f"Change {name} brought {kept}. It stays.", hint)
        return BadInputError(f"Change {name} is {kept}. It stays.", undoing.instead(registry, row))
    if change.file is not None and change.file.is_dump:
        return BadInputError(
            f"{change.file.name} brought a history of its own, which stays.",
            "Make a new registry instead.",
        )
    return None


def _with_what_rests(registry: Registry, change: Change, together: bool) -> list[Change]:
    """Return a change with the later ones that rest on it, newest first; tried, nothing written.

    `RestsOnError` if there are such and they aren't to be taken back `together`, or can't be.
    """
    wanted = [change]
    first: list[Resting] = []
    while resting := _tried(registry, wanted):
        first = first or resting
        names = {each.change for each in resting}
        named = [each for each in changes(registry) if each.id in names and each.id]
        stays = [each.what for each in resting if each.stays or each.change is None]
        stays += [
            f"{undoing.name_of(registry, row['table'], row['id'])} stays for good"
            for row in filter(None, map(undoing.never_undone, named))
        ]
        if stays or not named:
            raise RestsOnError(str(change.id), stays or [each.what for each in resting])
        ids = {each.id for each in (*wanted, *named)}
        wanted = [each for each in changes(registry) if each.id in ids]
    if len(wanted) > 1 and not together:
        told = [f"{each.what} (change {each.change})" for each in first]
        raise RestsOnError(str(change.id), told, [str(each.id) for each in wanted[:-1]])
    return wanted


class _TriedError(Exception):
    """Changes were taken back to see whether they can be."""


def _tried(registry: Registry, wanted: Sequence[Change]) -> list[Resting]:
    resting: list[Resting] = []
    try:
        with registry.write():
            resting = undoing.take_back(registry, wanted, None)
            raise _TriedError
    except _TriedError:
        return resting


def _told(registry: Registry, wanted: Sequence[Change]) -> dict[str | None, TakenBack]:
    ids, told = {each.id for each in wanted}, dict[str | None, TakenBack]()
    with registry.unchanging():
        teller = Teller(registry)
        for change in changes(registry):
            records = teller.told(change)
            if change.id in ids:
                told[change.id] = TakenBack(
                    change=str(change.id), at=change.at, by=change.by, records=records,
                    what=few([each.words for each in records], _MOST, "; "),
                )  # fmt: skip
            if len(told) == len(ids):
                break
    return told


def _concerned(
    registry: Registry,
    wanted: Iterable[Change],
    told: Iterable[TakenBack],
    more: Iterable[str] = (),
) -> list[str]:
    """Return the tags of the conductors in use that changes are about, as the record is now."""
    site = site_of(registry)
    ids = {r["id"] for change in wanted for r in change.rows if r["table"] == "conductors"}
    rows = [*site.find(Conductor, "id", ids), *site.find(Conductor, "tag", [*more])]
    found = {conductor.tag: conductor for conductor in rows}
    every = {(record.what, record.code) for each in told for record in each.records}
    for what, code in every:
        try:
            if what == "site":
                conductors: Collection[Conductor] = site.every(Conductor)
            elif what in ("device", "terminal"):
                conductors = members(site, "enclosure", code.partition("/")[0])
            elif what in _MEMBERS:
                conductors = members(site, what, code)
            else:
                continue
        except NotFoundError:
            continue
        found |= {conductor.tag: conductor for conductor in conductors}
    return [tag for tag, conductor in found.items() if conductor.retired_at is None]


_MEMBERS = ("conductor", "circuit", "enclosure", "pull", "raceway")


def _left_to_do(registry: Registry, done: Undone, before: Done, tags: Sequence[str]) -> Undone:
    """Return what was taken back with the labels and tests that are due since."""
    now = done.with_left_to_do(registry, tags)
    labels = [each for each in now.labels_due if each not in before.labels_due]
    tests = [each for each in now.tests_owed if each not in before.tests_owed]
    cautions = now.cautions if labels or tests else ()
    return replace(now, labels_due=labels, tests_owed=tests, cautions=cautions)
