# SPDX-License-Identifier: MIT
"""What two copies of a registry disagree on, side by side, and what was decided about it."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Mapping

MINE, THEIRS = "mine", "theirs"
SIDES = (MINE, THEIRS)


@dataclass(frozen=True)
class Side:
    """What one copy says, in words, and who made it so when."""

    value: str | None
    at: str | None = None
    by: str | None = None


@dataclass(frozen=True)
class Conflict:
    """One thing to decide: ``key`` names it, ``takes`` is the side decided for.

    Where two different records are called the same, the side decided for keeps the name and the
    other's record is called `renamed`; `renames` says that it is such a conflict.
    """

    key: str
    mine: Side
    theirs: Side
    takes: str | None = None
    renames: bool = False
    renamed: str | None = None

    def as_json(self) -> dict[str, object]:
        """Return it as scripts read it."""
        found = {"key": self.key, "mine": self.mine, "theirs": self.theirs, "takes": self.takes}
        return found | ({"renamed": self.renamed} if self.renames else {})


@dataclass(frozen=True)
class Decision:
    """For which side a conflict is decided; `name` is what the other side's record is called."""

    side: str
    name: str | None = None


@dataclass
class Decisions:
    """What was decided: by the conflict's key, and for the rest one side or nothing."""

    given: Mapping[str, Decision] = field(default_factory=dict)
    rest: str | None = None
    asked: set[str] = field(default_factory=set)

    def of(self, key: str) -> Decision | None:
        """Return the decision on a conflict, if there is one; it counts as asked for."""
        self.asked.add(key)
        return self.given.get(key) or (Decision(self.rest) if self.rest else None)

    def never_asked(self) -> list[str]:
        """Return the keys given that were those of no conflict."""
        return [key for key in self.given if key not in self.asked]
