# SPDX-License-Identifier: MIT
"""Answers that two copies of a registry gave apart: which of them a ring-out or search goes on by.

Each answer names the one it follows. Where two follow the same one, the questions went on apart;
every answer stays, and the way with the most answers counts. Of ways equally long the one counts
whose first differing answer has the smaller identifier. So the choice depends on the answers
alone, in whatever order they came together.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Sequence

Row = dict[str, Any]


def standing(rows: Sequence[Row]) -> list[Row]:
    """Return the answers of the way that counts, first one first.

    Parameters
    ----------
    rows : sequence of rows
        All answers of one ring-out or search, by ``seq``, with ``id`` and ``follows``.
    """
    if not rows or len(rows) == rows[-1]["seq"]:
        return list(rows)
    by_id = {row["id"]: row for row in rows}
    deepest = rows[-1]["seq"]
    return min((_way(by_id, row) for row in rows if row["seq"] == deepest), key=_ids)


def superseding(rows: Sequence[Row]) -> list[list[Row]]:
    """Return the answers step by step: the first one, and those that superseded it in turn."""
    chains: dict[str, list[Row]] = {}
    order: list[list[Row]] = []
    for row in rows:
        chain = chains.get(row["supersedes"] or "")
        if chain is None:
            chain = []
            order.append(chain)
        chain.append(row)
        chains[row["id"]] = chain
    return order


def is_before(one: Sequence[str], other: Sequence[str]) -> bool:
    """Return whether the way of identifiers `one` counts before the way `other`."""
    return (-len(one), list(one)) < (-len(other), list(other))


def plain(rows: Sequence[Row]) -> list[Row]:
    """Return the answers of one ring-out without what each follows, if that is the one before."""
    one_way = len({row["seq"] for row in rows}) == len(rows)
    return [{k: v for k, v in r.items() if k != "follows"} for r in rows] if one_way else list(rows)


def linked(rows: Sequence[Row]) -> list[Row]:
    """Return the answers of one ring-out, each with the one it follows: unsaid, the one before."""
    if any("follows" in row for row in rows):
        return [{**row, "follows": row.get("follows")} for row in rows]
    in_order = sorted(rows, key=lambda row: row["seq"])
    before = [None, *(row["id"] for row in in_order)]
    return [{**row, "follows": earlier} for row, earlier in zip(in_order, before, strict=False)]


def _way(by_id: dict[str, Row], last: Row) -> list[Row]:
    way = [last]
    while (earlier := by_id.get(way[-1]["follows"] or "")) is not None:
        way.append(earlier)
    return way[::-1]


def _ids(way: list[Row]) -> list[str]:
    return [row["id"] for row in way]
