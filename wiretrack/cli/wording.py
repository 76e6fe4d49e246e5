# SPDX-License-Identifier: MIT
"""How the command line words what an error hints at: by its options and its commands."""

from __future__ import annotations

import shlex
from contextvars import ContextVar
from typing import TYPE_CHECKING

from wiretrack.late import pattern
from wiretrack.manner import words

if TYPE_CHECKING:
    from collections.abc import Sequence

    from wiretrack.errors import Hint, WiretrackError
    from wiretrack.tasks.report.standing import NextStep

REGISTRY = "wiretrack.db"
COMPLETING = "_WIRETRACK_COMPLETE"  # set by a shell that asks what to complete
# The registry as it was typed before the command, if it was; what is to be copied repeats it.
typed_db: ContextVar[str | None] = ContextVar("typed_db", default=None)

# Each job that a hint may lead on to, beside those of NEXT; {about} is what it is done with.
JOBS = {
    "backup": "Make one with: wiretrack backup FILE",
    "expect-length": 'Its ohms give the length: wiretrack expect --size "{about}" --ohms OHMS',
    "fault-along": "Do it with: wiretrack fault TAG --along OHMS",
    "fault-both-ends": "Do it with: wiretrack fault TAG --near OHMS --far OHMS",
    "fault-murray": "Do it with: wiretrack fault TAG --murray P:Q --good TAG",
    "find": "Look for it with: wiretrack find TEXT",
    "land": "Do it with: wiretrack land {about}",
    "load": "Do it with: wiretrack load FILE",
    "log": "Log one: wiretrack test log {about}",
    "new": "Make it with: wiretrack new --name NAME",
    "rescue": "Save what can be read with: wiretrack rescue {about} NEW",
    "ringout": "Begin with: wiretrack ringout run {about} --near BOX --far BOX",
    "show": "See: wiretrack show {about}",
    "string": "Do it with: wiretrack string CIRCUIT --reading VOLTS",
    "symptom": "Begin with: wiretrack symptom start SYMPTOM TAG",
    "stocks": "See all: wiretrack label stocks",
    "topics": "See all: wiretrack manual",
    "tree": "See: wiretrack trace TAG --tree",
    "history-of": "See: wiretrack history {about}",
    "history": "See what was changed: wiretrack history",
    "same": "Say so with: wiretrack same ONE OTHER",
    "verify": "Check it with: wiretrack verify",
    "verify-file": "Check it with: wiretrack --db {about} verify",
}
# A command at the end of a line, which wants to know of which registry; some want none.
_COMMAND = pattern(
    r"(?<=: )wiretrack (?!--db |--help|demo\b|expect\b|label stocks\b|manual\b|rescue\b)"
)

ALL_MORE = "{...}"  # of what a job is done with
# What a person would do next: each job with the words before its command, and the command's words
# for what it is done with; those of something unknown are left out.
NEXT = {
    "add-device": ("land its wires", "land TAG", "{}", "--terminal {}:1"),
    "add-enclosure": ("what leads to it", "add raceway CODE", "from={}", "to=BOX"),
    "add-circuit": ("its wires", "add conductor FUNCTION", "circuit={}", "pull=PULL"),
    "add-instrument": ("log a reading", "test log TAG --kind KIND VALUE", "--instrument {}"),
    "add-pull": ("its wires", "add conductor --count N", "--pull {}", "size=SIZE"),
    "add-raceway": ("what is pulled through it", "add pull CODE", "path={}"),
    "add-terminal": ("land a wire", "land TAG", "{}", "--terminal {}"),
    "answer": ("answer", "symptom answer", "{}", "yes|no|cant"),
    "backup": ("copy the record to a USB stick", "backup FILE"),
    "binder": ("write the whole record for the owner", "binder DIR"),
    "completed": ("once its start file has that, try in a new shell", "show <Tab>"),
    "corrected": ("once it is corrected there, load it", "load", "{}", "--update"),
    "copy": ("make a registry of it", "--db NEW.db load", "{}"),
    "check-matches": ("check some matches once more", "ringout run", "{}", "--check"),
    "decide": ("say which value holds", "merge"),
    "due": ("print the labels due", "label print --due", "--stock {}", "--out labels.pdf"),
    "due-list": ("list the labels due", "label due", "{}"),
    "fill": ("enter what is there", "load FILE"),
    "filled": ("fill it in, then load it", "load", "{}"),
    "find-all": ("look in all registries of the folder", "find --all", "{}"),
    "fit": ("see how labels fit", "label fit WHAT", "--stock {}"),
    "isolate": ("make it dead before you work on it", "isolate", "{}"),
    "isolated": ("lock it off, prove it dead, then measure", "test run", "{}"),
    "joint": ("look for the bad joint", "fault", "{}", "--along OHMS"),
    "land": ("land it", "land", "{}", "{}"),  # the terminal is asked for
    "length": ("enter it with the wire", "set", "{}", "length={}"),
    "load": ("load it", "load", "{}", "{}", ALL_MORE),
    "log": ("log what the meter shows", "test log", "{}", "--kind KIND VALUE"),
    "markings": ("print the markings", "label print", "{}", "--kind marking --out markings.pdf"),
    "mended": ("once it is mended, measure", "test run", "{}"),
    "new": ("begin a registry", "new --name NAME"),
    "offset": ("say what the ruler shows", "label calibrate", "--stock {}",
               "--measured-x MM --measured-y MM --save FILE"),
    "open": ("see what is open", "punchlist"),
    "open-there": ("see what is open there", "--db {}", "punchlist"),
    "phone": ("open it on the phone", "--db {}", "serve --lan"),
    "placed": ("stick the labels on and say so", "label placed", "{}"),
    "print": ("print labels", "label print", "{}", "--stock {}", "--out labels.pdf"),
    "print-mine": ("print with it", "label print WHAT", "--stock {}", "--stocks {}"),
    "report": ("report it", "report", "{}", "--out report.html"),
    "rescue": ("save what can be read", "rescue", "{}", "NEW"),
    "ringout": ("ring it out", "ringout run", "{}", "--near {}", "--far {}"),
    "show": ("look at it", "show", "{}"),
    "since": ("see what changed since", "history", "{}", "--since {}"),
    "supersede": ("correct the last reading", "test log", "{}", "--kind {} VALUE",
                  "--supersedes {}"),
    "symptom": ("look for the fault", "symptom start", "{}", "{}"),
    "take-off": ("if the last label isn't on its wire", "label placed", "{}", "--take-back"),
    "test": ("measure", "test run", "{}"),
    "topic": ("read one", "manual TOPIC"),
    "trace": ("follow it", "trace", "{}"),
    "twisted": ("say what was twisted instead", "ringout correct", "{}", "{}", "{}"),
    "undo": ("take the last one back", "undo", "{}"),
    "undo-search": ("take the search's last answer back", "symptom undo", "{}"),
    "undo-work": ("take the ring-out's last answer back", "ringout undo", "{}"),
    "verify": ("check it", "--db {}", "verify"),
}  # fmt: skip


def told(error: WiretrackError) -> str:
    """Return the whole message of an error."""
    return words(error.worded(advice))


def advice(hint: Hint) -> str:
    """Return a hint with options for its fields and the command for its job."""
    return hint.worded(_option, _job)


def _job(hint: Hint) -> str:
    db = typed_db.get()
    if hint.job not in JOBS:
        return _command(hint.job, hint.about.split("\n"), db)
    return at_registry(JOBS[hint.job].format(about=hint.about))


def at_registry(line: str) -> str:
    """Return a line with the registry, as it was typed, in the command that it ends in."""
    db = typed_db.get()
    return line if db is None else _COMMAND.sub(lambda _: f"wiretrack --db {for_shell(db)} ", line)


def _option(name: str) -> str:
    return "--" + name.replace("_", "-")


def for_shell(text: str) -> str:
    """Return a word as a shell takes it; zsh makes a path of one that begins with =.

    >>> for_shell("=A1"), for_shell("MDP/Q4"), for_shell("pump house")
    ("'=A1'", 'MDP/Q4', "'pump house'")
    """
    return f"'{text}'" if text.startswith("=") and "'" not in text else shlex.quote(text)


def next_told(step: NextStep, when: str = "Next", *, db: str | None = None) -> str:
    """Return the line that says what to do next, with the exact command; `db` as it was typed.

    >>> from wiretrack.tasks.report.standing import NextStep
    >>> next_told(NextStep("print", ("P-SLIP", None)))
    'Next, print labels: wiretrack label print P-SLIP --out labels.pdf'
    >>> next_told(NextStep("backup"), db="bay barn.db")
    "Next, copy the record to a USB stick: wiretrack --db 'bay barn.db' backup FILE"
    """
    return f"{when}, {NEXT[step.job][0]}: {_command(step.job, step.about, db)}"


def _command(job: str, done_with: Sequence[str | None], db: str | None = None) -> str:
    _, *parts = NEXT[job]
    about, said = list(done_with), ["wiretrack"]
    if db and not any(part.startswith("--db ") for part in parts):
        said += ["--db", for_shell(db)]
    for part in parts:
        if part == ALL_MORE:
            said += [for_shell(text) for text in about if text]
            break
        text = about.pop(0) if "{}" in part and about else None
        if text or "{}" not in part:
            said.append(part.format(for_shell(text)) if text else part)
    return " ".join(said)
