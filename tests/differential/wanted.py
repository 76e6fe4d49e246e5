# SPDX-License-Identifier: MIT
"""What differs from run to run, and what is wanted otherwise than the old program has it."""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Callable

_DAYS = "|".join((datetime.now(UTC) + timedelta(days=n)).date().isoformat() for n in (-1, 0, 1))
UUID = re.compile(r"\b[0-9a-f]{8}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{12}\b")
# What is never the same twice, and the word in its place. The identifiers of the site files stay.
MASKS = (
    (re.compile(rf"\b({_DAYS})([T ]\d\d:\d\d(:\d\d(\.\d+)?)?(Z|[+-]\d\d:\d\d)?)?"), "NOW"),
    (re.compile(r"\b[0-9a-f]{64}\b|\b[0-9a-f]{16}\b"), "DIGEST"),
    (re.compile(r"sha256-[\w+/]{43}="), "sha256-DIGEST"),
    (
        re.compile(
            r'(content|value)="[^"]+"(?= name="form-token")|(?<=form_token" type="hidden" )'
            r'value="[^"]+"|(?<="form_token": ")[^"]+'
        ),
        "TOKEN",
    ),
    (re.compile(r"\b127\.0\.0\.1:\d+"), "HOST"),
    (re.compile(r"\(\d+ kB\)|(?<=\"bytes\": )\d+"), "SIZE"),
    (re.compile(r" +$", re.M), ""),
)


@dataclass(frozen=True)
class Wanted:
    """A change that is wanted: where, what the old program says, what stands there now, why.

    `where` is a regular expression on ``PART NAME: COMMAND``. `old` is one on the old program's
    output, replaced by `new` (in both outputs if `both`, for what is folded or not the same each
    time); without `old`, any difference there is wanted.
    """

    where: str
    why: str
    old: str | None = None
    new: str | Callable[[re.Match[str]], str] = ""
    both: bool = False


WANTED: tuple[Wanted, ...] = (
    Wanted(r"work .*: (retire|swap) .*--json", "every change has the same lists, empty ones too"),
    Wanted(
        r"json .*: report \S+ --json",
        "the report of one circuit reads the part of the record that it is about",
        old=r'"record_sha256": "DIGEST"',
        new='"record_sha256": null',
    ),
    Wanted(r"files .*: (report \S+ --out|file report\d)", "as above: it names the last change"),
    Wanted(
        r"pages .*: (GET|POST) /(readings/new|tests/)",
        "a field of a reading is called on the form what it means",
    ),
    Wanted(
        r"(json|work) .*: report \S+ --json|files .*: file .*(report|circuits)",
        "a circuit's open points stand in the order of the punch list",
    ),
    Wanted(r"pages .*: GET /api/openapi.json", "made from the fields, it names more of them"),
    Wanted(
        r"pages .*: (GET|POST) /"
        r"([0-9A-Za-z-]{7,8}( after)?$|(enclosures|circuits|raceways|pulls|ends)/)",
        "one set of templates shows a record on pages and in the binder",
    ),
    Wanted(
        r"pages .*: (GET|POST) /(readings/new|ringouts/)",
        "a colour is a swatch for each of its single colours, as in the binder",
        old=r'(<span aria-hidden="true" class="swatch c-\w+">\n</span>)\n'
        r'<span class="colour">(\w+)</span>',
        new=r'<span class="colour">\n\1\2</span>',
    ),
    Wanted(
        r"files .*: .*binder/.*(html|css)$",
        "one set of templates shows a record on pages and in the binder",
    ),
    Wanted(
        r"help help: label print --help",
        "a label is noted once the spooler has taken the job",
        old=r"or the\n  printer has done\.",
        new="or the job\n  is sent.",
    ),
    Wanted(
        r"(json|work|merge) .*: show |pages ",
        "a circuit's record has the readings of the circuit itself",
        old=r'^( *)("overcurrent_a": .*\n)(?=\1"retired":)',
        new=r'\1\2\1"readings": [],\n',
    ),
    Wanted(
        r"(json|work|merge) .*: show |pages ",
        "a device's, in the record of its enclosure, those of the device",
        old=r'^( *)("rating_a": .*\n)(?=\1"termination_rating_c":)',
        new=r'\1\2\1"readings": [],\n',
    ),
    Wanted(r"pages .*: GET /api/openapi.json", "a reading may be of a device or a circuit"),
    Wanted(
        r"(json|work|merge|files) ",
        "so does the history of conductors in a dump",
        old=r'^( *)("(?:new|old)": \{\n)(?=\1 "colour": .*\n\1 "core")',
        new=r'\1\2\1 "cable": null,\n',
    ),
    Wanted(
        r"(json|text|work|merge|pages) ",
        "a conductor's record names its cable",
        old=r'^( *)("absorption": (?:\[\]|\[\n(?:\1 .*\n)*\1\]),\n)(?=\1"circuit")',
        new=r'\1\2\1"cable": null,\n',
    ),
)


def masked(text: str, known: set[str], folder: str) -> str:
    """Return a text without what is never the same twice; `known` identifiers stay."""
    text = text.replace(folder, "FOLDER")
    text = UUID.sub(lambda found: found[0] if found[0] in known else "UUID", text)
    for pattern, word in MASKS:
        text = pattern.sub(word, text)
    return text


def as_wanted(where: str, old: str, new: str) -> tuple[str, str]:
    """Return both texts with the wanted changes made; what differs then isn't wanted."""
    for change in WANTED:
        if re.search(change.where, where):
            if change.old is None:
                return new, new
            old = re.sub(change.old, change.new, old, flags=re.M)
            new = re.sub(change.old, change.new, new, flags=re.M) if change.both else new
    return old, new
