# SPDX-License-Identifier: MIT
"""Merging the registry with another copy of it that was changed apart, on another laptop."""

from __future__ import annotations

import json
import os
import tempfile
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from wiretrack.errors import BadInputError, Hint, RegistryError
from wiretrack.model.labels import UNTRUE
from wiretrack.model.parts import SiteFacts
from wiretrack.model.tags import parse_tag
from wiretrack.store import health, merging
from wiretrack.store.loading import add_document, create_registry
from wiretrack.store.merging_conflicts import SIDES, Decision, Decisions
from wiretrack.store.store import open_registry
from wiretrack.tasks.free_text import check_code
from wiretrack.tasks.label.ends import label_due

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from wiretrack.store.merging import Coming
    from wiretrack.store.store import Registry
    from wiretrack.tasks.label.ends import DueLabel

_RENAMING = ("same-code", "same-mark", "same-tag")


@dataclass(frozen=True)
class MergeResult:
    """What a merge brings, or brought: then `labels` are those that are no longer true."""

    file: Path
    coming: Coming
    labels: list[DueLabel] | None = None

    @property
    def merged(self) -> bool:
        """Whether it is done."""
        return self.labels is not None

    def as_json(self) -> dict[str, object]:
        """Return it as scripts read it."""
        coming = self.coming
        return {
            "file": str(self.file),
            "merged": self.merged,
            "nothing_new": coming.is_empty,
            "changes": coming.changes,
            "added": {table: n for table, n in coming.added.items() if n},
            "changed": {table: n for table, n in coming.changed.items() if n},
            "conflicts": coming.conflicts,
            **coming.notices,
            **({"labels_no_longer_true": self.labels} if self.merged else {}),
        }


@dataclass(frozen=True)
class Meeting:
    """Two copies side by side: this registry, and the one to merge from."""

    registry: Registry
    file: Path

    def look(self, decisions: Decisions) -> MergeResult:
        """Return what the merge would bring; nothing is written."""
        coming = merging.look(self.registry, decisions)
        _refuse_strange(coming)
        return MergeResult(self.file, coming)

    def merge(self, decisions: Decisions, *, who: str | None = None) -> MergeResult:
        """Merge, all or nothing; return what came, with the labels no longer true.

        Raises
        ------
        BadInputError
            If a conflict isn't decided, or the two together wouldn't be whole.
        """
        before = _untrue(self.registry)
        coming = merging.merge(self.registry, decisions, who=who)
        labels = [row for key, row in _untrue(self.registry).items() if key not in before]
        return MergeResult(self.file, coming, labels)


@contextmanager
def meeting(registry: Registry, file: Path) -> Iterator[Meeting]:
    """Set the registry at `file`, or the dump of one, beside `registry`; the file is only read.

    Raises
    ------
    RegistryError
        If the file is missing, no registry, damaged, or made by a newer version.
    BadInputError
        If it is this registry itself, or doesn't descend from the same one.
    SiteFileError
        If it is a site file with faults.
    """
    _check_file(registry, file)
    with tempfile.TemporaryDirectory(prefix="wiretrack-merge-") as folder:
        copy = Path(folder) / "theirs.db"
        if file.is_dir() or not health.is_registry_file(file):
            _load_dump(file, copy)
        else:
            health.copy_privately(file, copy)
        with merging.beside(registry, copy):
            yield Meeting(registry, file)


def decisions_of(
    decided: Iterable[str] = (), renamed: Iterable[str] = (), rest: str | None = None
) -> Decisions:
    """Return decisions as typed: ``KEY=mine`` or ``KEY=theirs``, and ``KEY=NAME`` for new names.

    A new name goes to the record of the side that `decided` is against (theirs, unless the same
    key is decided for theirs).

    Raises
    ------
    BadInputError
        If one isn't of that form, is given twice, or its name can't be one.
    """
    given: dict[str, Decision] = {}
    for text in decided:
        key, side = _parted(text, "KEY=mine or KEY=theirs")
        if side not in SIDES:
            raise BadInputError(f"'{side}' is no side in '{text}'. Write mine or theirs.")
        if key in given:
            raise BadInputError(f"{key} is decided twice. Decide it once.")
        given[key] = Decision(side)
    named: set[str] = set()
    for text in renamed:
        key, name = _parted(text, "KEY=NAME")
        if key in named:
            raise BadInputError(f"{key} is given two names. Give one.")
        named.add(key)
        side = given[key].side if key in given else (rest or SIDES[0])
        given[key] = Decision(side, new_name(key, name))
    return Decisions(given, rest)


def with_decision(decisions: Decisions, key: str, side: str, name: str | None = None) -> Decisions:
    """Return the decisions with one more; `name` is for the record that is decided against."""
    decision = Decision(side, new_name(key, name) if name else None)
    return Decisions({**decisions.given, key: decision}, decisions.rest)


def read_decisions(file: Path) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Return the decisions and the new names that a JSON file holds, as if they were typed.

    It is one object: ``{"KEY": "mine", "KEY": {"keeps": "theirs", "rename": "NAME"}}``.

    Raises
    ------
    BadInputError
        If it can't be read, or isn't of that form.
    """
    try:
        found = json.loads(file.read_text("utf-8-sig"))
    except OSError as error:
        raise BadInputError(
            f"{file} can't be read: {error.strerror}. Name a file of decisions."
        ) from error
    except ValueError as error:
        raise BadInputError(f"{file} is not JSON: {error}. {_DECISIONS_FORM}") from error
    if not isinstance(found, dict):
        raise BadInputError(f"{file} is no JSON object. {_DECISIONS_FORM}")
    decided, renamed = [], []
    for key, value in found.items():
        several = value if isinstance(value, dict) else {"keeps": value}
        if not several.keys() <= {"keeps", "rename"} or not all(
            isinstance(word, str) for word in several.values()
        ):
            raise BadInputError(f"{file}: {key} is decided by {value!r}. {_DECISIONS_FORM}")
        decided += [f"{key}={several['keeps']}"] if "keeps" in several else []
        renamed += [f"{key}={several['rename']}"] if "rename" in several else []
    return tuple(decided), tuple(renamed)


_DECISIONS_FORM = 'Write it like {"KEY": "mine", "KEY": {"keeps": "theirs", "rename": "NAME"}}.'


def new_name(key: str, name: str) -> str:
    """Return a new code, tag or mark for the conflict called `key`, checked.

    Raises
    ------
    BadInputError
        If the conflict isn't about names, or the name can't be one.
    """
    field = key.rpartition("/")[2]
    if field not in _RENAMING:
        raise BadInputError(
            f"{key} is not about two of one name.", Hint("Decide it with {decide}.")
        )
    checked = parse_tag(name) if field == "same-tag" else check_code("The new name", name)
    if checked is None:
        raise BadInputError(f"The new name for {key} is empty. Give one.")
    return checked


def _refuse_strange(coming: Coming) -> None:
    if coming.never_asked:
        keys = ", ".join(conflict.key for conflict in coming.conflicts[:6])
        raise BadInputError(
            f"'{coming.never_asked[0]}' is not among what is to be decided."
            f" {f'That is: {keys}' if keys else 'Nothing is'}."
        )


def _check_file(registry: Registry, file: Path) -> None:
    if not file.exists():
        raise RegistryError(str(file), "does not exist", Hint("Name a copy.", job="backup"))
    if os.path.samefile(file, registry.path):
        raise BadInputError(f"{file} is this registry itself. Name another copy of it.")


def _load_dump(file: Path, copy: Path) -> None:
    """Make a registry of a site file, with the identifiers and the history that a dump has."""
    begins = file.read_bytes()[:200] if file.is_file() else b"{"
    if not begins.lstrip(b"\xef\xbb\xbf \r\n\t").startswith(b"{"):
        raise RegistryError(str(file), "is not a registry", Hint("Name a copy.", job="backup"))
    from wiretrack.exchange.read import read_site

    found = read_site(file)
    create_registry(copy, SiteFacts(name="merged from"))
    with open_registry(copy) as opened:
        add_document(opened, found)
        opened.gather_into_one_file()


def _untrue(registry: Registry) -> dict[tuple[str, str], DueLabel]:
    return {(row.tag, row.end): row for row in label_due(registry) if row.why == UNTRUE}


def _parted(text: str, form: str) -> tuple[str, str]:
    key, sign, value = text.rpartition("=")
    if not (sign and key.strip() and value.strip()):
        raise BadInputError(f"'{text}' is no decision. Write it like {form}.")
    return key.strip(), value.strip()
