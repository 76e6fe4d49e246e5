# SPDX-License-Identifier: MIT
"""How the command line words what an error hints at: by its options and its commands."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from wiretrack.errors import Hint, WiretrackError

# Each job that a hint may lead on to; {about} is the tag or code that it is done with.
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
    "ringout": "Begin with: wiretrack ringout run {about} --near BOX --far BOX",
    "show": "See: wiretrack show {about}",
    "string": "Do it with: wiretrack string CIRCUIT --reading VOLTS",
    "symptom": "Begin with: wiretrack symptom start SYMPTOM TAG",
    "tree": "See: wiretrack trace TAG --tree",
    "verify": "Prove it with: wiretrack verify",
    "verify-file": "Prove it with: wiretrack --db {about} verify",
}


def told(error: WiretrackError) -> str:
    """Return the whole message of an error."""
    return error.worded(advice)


def advice(hint: Hint) -> str:
    """Return a hint with options for its fields and the command for its job."""
    return hint.worded(_option, lambda hint: JOBS[hint.job].format(about=hint.about))


def _option(name: str) -> str:
    return "--" + name.replace("_", "-")
