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


FACE = "each face words the hint of an error its own way; no command in JSON or on a page"
DRAWN = "every drawing is made of the pieces of one module"
LOAD = "a load is one line of the history"
CLOSED = "whether a device is closed is a truth value"
LOG = "ring-outs and searches share one log; only answers that count are listed"
KINDS = "a form is told how each kind of reading is typed; its script knows none by name"
WANTED: tuple[Wanted, ...] = (
    Wanted("pages", KINDS, r' data-entries="[^"]*"', both=True),
    Wanted(r": dump( --json)?$|(merged|site)\.json|changes\.csv", LOAD),
    Wanted("report", LOAD, r'^  "changes": \d+,$', '  "changes": 0,', both=True),
    Wanted("report|binder", LOAD, r"(?<=Changes noted)( in it)?(</th>\n<td>| )\d+", both=True),
    Wanted("binder/index", LOAD, r"^<li>\n<time.*\S+ loaded: .*\n</li>\n", both=True),
    Wanted("json .*: show", CLOSED, r'^   "closed": 1,', '   "closed": true,'),
    Wanted("json .*: show", CLOSED, r'^   "closed": 0,', '   "closed": false,'),
    Wanted("", FACE, r"(Look for it with: wiretrack find TEXT)\.$", r"\1"),
    Wanted("", FACE, r"(wiretrack symptom start SYMPTOM TAG)\.$", r"\1"),
    Wanted("", FACE, r"^(error: .*See: wiretrack show \S+)\.$", r"\1"),
    Wanted("trend", FACE, r"^error: (\S+) has no dated .*: wiretrack test log$", r"\g<0> \1"),
    Wanted("merge", FACE, "Name a copy made by: wiretrack backup",
           "Name a copy. Make one with: wiretrack backup FILE"),
    Wanted("symptom", FACE, r'^ "confirm(_by)?": .*\n', both=True),
    Wanted("symptom", FACE, r"^To be sure: (.|\n)*?(?=^exit|^[A-Z][a-z]|\Z)", both=True),
    Wanted("symptom", FACE, r"what the string should read \(wiretrack string\)",
           "what the string should read"),
    Wanted("symptom.*columns", FACE, r"(?<=should read)\s+\(wiretrack\s+string\)|\s+(?=no:)|"
           r"(?<=something)\s+(?=else)", both=True),
    Wanted("ringout plan|status", FACE, r"\s*\(--diode\)|\s+(--crew\s+2\s+does\s+it|"
           r"two\s+people\s+are\s+led)\s+so", both=True),
    Wanted("label placed", FACE, r"Print one first\. Give --by-hand for one written by hand\.",
           "Print one first, or say that it was written by hand."),
    Wanted("extend", FACE, "--raceway OLD (and )?--into CODE,CODE", "--raceway and --into"),
    Wanted(r"pages .*(/api/|GET)", "the API gives each error's code",
           r'^ "code": "[\w-]+",\n(?= "error")', both=True),
    Wanted("pages", FACE, r' Begin with: wiretrack [^"\n]*', ""),
    Wanted("pages", FACE, r" (Look for it|Begin)\.?</p>", "</p>"),
    Wanted("isolate|/devices/", "the opened device is no unused way of itself",
           r'"unused": \[[^\]]*\]|(<p class="question">)?Assumed unused, (.|\n)*?\.(</p>)?\n',
           both=True),
    Wanted("pages", "a page is told how each kind of reading is typed", r'data-entries="[^"]*" ',
           both=True),
    Wanted(r"pages .*/static/entry\.js", "a page is told how each kind of reading is typed"),
    Wanted("symptom", FACE, r"correct the record: (wiretrack trace TAG --tree)\.",
           r"correct the record. See: \1"),
    Wanted(r"dump|\.json$", "a load is one line of the history; guided work shares one table",
           r'^ "changes": \[(.|\n)*?^ \],?\n', both=True),
    Wanted("pages", "the version of a search is that of a ring-out: its last answer",
           r"(?<=UUID)(\.\d+)+", both=True),
    Wanted(r"dump|\.json$", "all guided work says alike that an answer is undone",
           r'"outcome": "undone"', '"undone": true'),
    Wanted("fault", FACE, r"Pace it off, or read a sound conductor beside it and ask: (.*); then "
           r"record it\.", r"Pace it off and record it, or read a sound conductor beside it. "
           r"Its ohms give the length: \1"),
    Wanted("report", "a route is told from its conductors' first end on",
           r"(?<=, through )(\S+) → (\S+)(?=;)",
           lambda m: " → ".join(sorted(m.groups())), both=True),
    Wanted("json .*: report", "a route is told from its conductors' first end on",
           r'(?<="enclosures": \[\n)( *"[^"]*"),\n( *"[^"]*")(?=\n *\])',
           lambda m: ",\n".join(sorted(m.groups())), both=True),
    Wanted("", DRAWN, "#8a97a3", "#5d6d7a"),
    Wanted("", DRAWN, r"^<title>(Route|Path) of .*\n", both=True),
    Wanted("", DRAWN, r'^<path d="M90 ([\d.]+)(L650(?:\.0)? [\d.]+|H650)"', r"LINE \1", both=True),
    Wanted("", DRAWN, r' stroke-width="1"(?= stroke="#22313f")', both=True),
    Wanted("", "the day of an only reading stands once",
           r'^<text [^>]*y="316">.*\n', both=True),
    Wanted("report", "a report names no command", r"the site file that (&#x27;|')wiretrack dump\1 "
           r"writes of it", "written as a site file it"),
    Wanted("report", "a report names no command", r"(?<=SHA-256\.)\s+Keep that file with"
           r" the\s+report[.;]( (&#x27;|')wiretrack report .* at once\.)?", both=True),
    Wanted(r": find |find\?q=", "of what is found alike, what was entered first comes first"),
    Wanted(r"pages .*openapi\.json", "each field says what it means"),
    Wanted("symptom|/searches", LOG, r'("version": "UUID)[.\d]+"', both=True),
    Wanted(r"binder/circuits/|show ", LOG,
           r"^<li>.*\? (yes|no|can&#39;t|undone)\b.*</li>\n", both=True),
    Wanted("dump", LOG, r'   \{\n    "action": "changed",\n    "at": "NOW",\n(    "by": .*\n)?'
           r'    "id": "UUID",\n    "new": (\{\n(     .*\n)*?    \}),\n    "old": \2,\n'
           r'    "record": "UUID",\n'
           r'    "what": "(ringouts|fault_searches)"\n   \},?\n', both=True),
    Wanted("dump", LOG, r'^     "(circuit_id|far_id|kind|near_id|pull_id|result|settings|symptom)"'
           r": .*\n", both=True),
    Wanted("dump", LOG, r'"outcome": "undone"', '"undone": true'),
    Wanted("dump", LOG, r'\\"outcome\\":\\"undone\\"', r'\"undone\":true'),
    Wanted("binder/csv/fault_searches", LOG, '""outcome"":""undone""', '""undone"":true'),
    Wanted("binder/csv/changes", LOG, r"^UUID.*(ringouts|fault_searches).*\n", both=True),
    Wanted("report|binder|GET", LOG,
           r'("changes": |Changes noted( in it)?( |</th>\n<td>))\d+', both=True),
    Wanted("binder/pulls", LOG, r"^<time .*ring-out NOW: written anew.*\n</li>\n<li>\n", both=True),
    Wanted("merge", LOG, r"(ringout|fault[ _]search)[ _]answers", "procedure_answers"),
    Wanted("ringout|text|report|binder", "a resistor to fit is in Ω",
           r"(?<=: )(\d[\d.]*) ohm$", r"\1 Ω"),
    Wanted("ringout run", "joins are told alike everywhere", r"  \+  ", " + "),
    Wanted(r"", "which circuits a conductor serves are rows of their own in the history",
           r'^ +"circuit_id": "[-0-9a-f]{36}",\n(?= +"colour")', ""),
)  # fmt: skip


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
