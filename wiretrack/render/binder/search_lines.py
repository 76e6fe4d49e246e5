# SPDX-License-Identifier: MIT
"""The search's data: a line a record, in script files that a page may load without a server.

A page opened from a folder may not read other files, but it may run scripts beside it. So the
lines travel as one text within a call; the search takes them apart in the reader's browser.
"""

from __future__ import annotations

import json
from dataclasses import dataclass
from itertools import islice
from typing import TYPE_CHECKING

from wiretrack.plain import one_line

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

LINES_A_PART = 4000
CALL = "wiretrackBinder.add"


@dataclass(frozen=True)
class Entry:
    """One record as the search knows it.

    `title` is what is shown, `more` holds the words that are only searched. `page` is empty where
    it follows from the tag.
    """

    what: str
    code: str
    title: str
    more: str = ""
    page: str = ""

    def line(self) -> str:
        """Return the entry as one line, its fields parted by tabs."""
        fields = (self.what, self.code, self.title, self.more, self.page)
        return "\t".join(one_line(field) for field in fields)


def parts(entries: Iterable[Entry]) -> Iterator[str]:
    """Yield the scripts that hold the entries, `LINES_A_PART` each; at least one."""
    iterator, first = iter(entries), True
    while (found := list(islice(iterator, LINES_A_PART))) or first:
        yield script([entry.line() for entry in found])
        first = False


def script(lines: list[str]) -> str:
    """Return one script; it holds ASCII alone, whatever the names are written in."""
    return f"{CALL}({json.dumps(chr(10).join(lines))});\n"
