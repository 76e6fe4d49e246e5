# SPDX-License-Identifier: MIT
"""What a field of a record is, said once: its key in files, the kind of its value, its meaning.

Site files, their schema, CSV columns, the store's columns and faces follow from these.
"""

from __future__ import annotations

import re
from dataclasses import MISSING, field, fields, replace
from functools import cache
from typing import TYPE_CHECKING, Any

from wiretrack.errors import AmbiguousError
from wiretrack.late import cached_property, dataclass
from wiretrack.model import words

if TYPE_CHECKING:
    from collections.abc import Iterable


@dataclass(frozen=True, eq=False)
class Kind:
    """A kind of value: what it is called, how it is written, and what a file may hold for it.

    `schema` has keywords of JSON Schema; `items` in it may be another kind, or the class of a
    record. `name` is what the schema calls the kind where several fields share it; `unit` is what
    people read behind the value, `record` the class of a value that is a record itself.
    """

    title: str
    schema: dict[str, Any] = field(default_factory=dict)
    how: str = ""
    name: str = ""
    unit: str = ""
    record: type | None = None

    def allow(self, words: Iterable[Any]) -> None:
        """Let it be one of these words: those that plugs above the model bring."""
        self.schema["enum"] = [*dict.fromkeys(words)]

    @property
    def words(self) -> tuple[Any, ...]:
        """The words or numbers that are allowed, or none where it isn't a choice."""
        return tuple(self.schema.get("enum", ()))

    @property
    def is_truth(self) -> bool:
        """Whether it is true or false."""
        return self.schema.get("type") == "boolean"

    def meant(self, typed: str) -> Any:
        """Return the allowed word that is meant by what somebody typed; another text as it is.

        Raises `AmbiguousError` if it may mean several words.

        >>> from wiretrack.model.kinds import ENCLOSURE_KIND
        >>> ENCLOSURE_KIND.meant("Panel"), ENCLOSURE_KIND.meant("barrel")
        ('panelboard', 'barrel')
        """
        plain = _plain(typed)
        also = {word: words.also().get(str(word), ()) for word in self.words}
        for spelt in ({word: (str(word),) for word in self.words}, also):
            found = [word for word, names in spelt.items() if plain in map(_plain, names)]
            if len(found) > 1:
                raise AmbiguousError(typed, f"may be {self.title} in several ways", found)
            if found:
                return found[0]
        return typed

    @property
    def is_length(self) -> bool:
        """Whether a file writes it in metres: a length, or a list of them."""
        items = self.schema.get("items")
        return self.unit == "m" or (isinstance(items, Kind) and items.is_length)

    def told(self, value: object) -> str:
        """Return a value that is stored, as people read it: with its unit, a truth as yes or no."""
        if self.is_truth and value in (0, 1):
            return "yes" if value else "no"
        shown = f"{value:g}" if isinstance(value, float) else str(value)
        return f"{shown}{self.unit}" if self.unit in ("", "°") else f"{shown} {self.unit}"


@dataclass(frozen=True)
class Fact:
    """One field: its dotted `key` in a file ("" where no file says it), and what it means.

    `refers` is the table whose code or tag the value is. `name` is the attribute of the record,
    dotted where it lies in a record within; `needed` says that it can't be unknown.
    """

    key: str
    kind: Kind
    meaning: str
    refers: str = ""
    name: str = ""
    needed: bool = False

    @property
    def label(self) -> str:
        """What a form calls it."""
        return self.meaning.rstrip(".")

    @property
    def example(self) -> str:
        """How one is written; empty where it is plain."""
        return str(next(iter(self.kind.schema.get("examples", ())), ""))

    @cached_property
    def outer(self) -> str:
        """The key of the object that the value lies in, or "" where it lies in the row."""
        return self.key.rpartition(".")[0]

    @cached_property
    def inner(self) -> str:
        """The key within that object."""
        return self.key.rpartition(".")[2]

    @property
    def words(self) -> str:
        """Its name as people read it."""
        return self.key.replace("_", " ").replace(".", " ")

    @property
    def column(self) -> str:
        """The column of the store that holds it."""
        return f"{self.name}_id" if self.refers else self.name


def _plain(word: str) -> str:
    """Return a word as it is compared: in any case, a hyphen within it as a space."""
    return " ".join(re.sub(r"(?<=\w)-(?=\w)", " ", word.casefold()).split())


def fact(key: str, kind: Kind, meaning: str, *, refers: str = "", default: Any = None) -> Any:
    """Return the field of a dataclass that may be unknown."""
    told = Fact(key, kind, meaning, refers)
    return field(default=default, metadata={"fact": told})


def need(key: str, kind: Kind, meaning: str, *, refers: str = "") -> Any:
    """Return the field of a dataclass that every record has."""
    return field(metadata={"fact": Fact(key, kind, meaning, refers, needed=True)})


@cache
def facts(record: type) -> tuple[Fact, ...]:
    """Return the fields that a class of records declares, in the order of files."""
    return tuple(
        replace(each.metadata["fact"], name=each.name, needed=each.default is MISSING)
        for each in fields(record)
        if "fact" in each.metadata
    )


@cache
def flat_facts(record: type) -> tuple[Fact, ...]:
    """Return the fields of a record that a file says, with those of records within it.

    >>> from wiretrack.model.entities import Conductor
    >>> [each.name for each in flat_facts(Conductor) if each.key == "to.terminal"]
    ['to_end.terminal']
    """
    found: list[Fact] = []
    for each in facts(record):
        if each.kind.record is None:
            found.append(each)
        else:
            found += (
                replace(inner, key=f"{each.key}.{inner.key}", name=f"{each.name}.{inner.name}")
                for inner in facts(each.kind.record)
            )
    return tuple(each for each in found if each.key)
