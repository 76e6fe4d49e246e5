# SPDX-License-Identifier: MIT
"""Prove a registry's log by Python's standard library alone, as ``schemas/log.md`` describes it.

It shares nothing with wiretrack. ``python prove_log.py REGISTRY`` prints the number of entries
proved, or the first one that doesn't fit; signatures need a library, so they are not looked at.
"""

import hashlib
import json
import sqlite3
import sys
from contextlib import closing


def prove(path: str) -> str:
    """Return what was proved, or what the first entry is that doesn't fit."""
    with closing(sqlite3.connect(f"file:{path}?mode=ro", uri=True)) as db:
        return _prove(db)


def _prove(db: sqlite3.Connection) -> str:
    sites: dict[bytes, str] = {}
    last: dict[bytes, tuple[int, bytes]] = {}
    hashes: dict[tuple[str, int], str] = {}
    count = 0
    gone = set()
    for (body,) in db.execute("SELECT body FROM log WHERE body IS NOT NULL"):
        said = json.loads(body.split(b"\n")[0])
        for lost, first, to in said["gone"] if said["kind"] == "rescue" else ():
            gone |= {(bytes.fromhex(lost), number) for number in range(first, to + 1)}
    for writer, number, kept, previous, content, salt, body in db.execute(
        "SELECT writer, number, hash, previous, content, salt, body FROM log ORDER BY nr"
    ):
        name = f"{writer.hex()} {number}"
        before, hash_before = last.get(writer, (0, bytes(32)))
        missing = [(writer, n) for n in range(before + 1, number)]
        if number <= before or not gone.issuperset(missing):
            return f"{name} does not follow {before}"
        if not missing and previous != hash_before:
            return f"{name} does not follow {before}"
        if body is not None and hashlib.sha256(salt + body).digest() != content:
            return f"{name} has another body"
        if number == 1:
            said = json.loads(body.split(b"\n")[0])
            if hashlib.sha256(bytes.fromhex(said["key"])).digest()[:16] != writer:
                return f"{name} has another writer's key"
            sites[writer] = said["site"]
        elif writer not in sites:
            return f"{name} has no site"
        lines = (
            "wiretrack-log/1", sites[writer], writer.hex(), str(number), previous.hex(),
            content.hex(),
        )  # fmt: skip
        header = "".join(line + "\n" for line in lines)
        if hashlib.sha256(header.encode("ascii")).digest() != kept:
            return f"{name} has another hash"
        said = json.loads((body or b"{}").split(b"\n")[0])
        for other, upto, first in said.get("held", ()) if said.get("kind") == "have" else ():
            if not hashes.get((other, upto), "").startswith(first):
                return f"{name} knows {other} {upto}, which isn't before it"
        hashes[writer.hex(), number] = kept.hex()
        last[writer] = (number, kept)
        count += 1
    return f"{count} entries proved"


if __name__ == "__main__":
    print(prove(sys.argv[1]))
