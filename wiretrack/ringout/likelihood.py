# SPDX-License-Identifier: MIT
"""How likely it is that an end belongs to a component found so far.

A component of so many ends of each kind may be any group with room for them. The chance of
each is the number of ways to draw those ends from the group, and every group is one component
only: rows (components) and columns (groups) are scaled in turn until both add up to one
(Sinkhorn's scaling). A few rounds come close enough for choosing what to touch; proofs never
rest on it.
"""

from __future__ import annotations

from math import comb
from typing import TYPE_CHECKING

from wiretrack.ringout.masks import bits

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from wiretrack.ringout.probing import Model

_ROUNDS = 3
_FULL = 0.98  # stands for "all ends of this kind are placed", so that no column vanishes


class Likelihood:
    """Which group each component is, as chances, for one state of a stage."""

    def __init__(self, model: Model, anchors: Sequence[int], claims: Mapping[int, int]) -> None:
        self.model = model
        column = self._column(anchors)
        barred = 0
        for claim in claims.values():
            barred |= claim
        self._row = {members: place for place, members in enumerate(anchors)}
        self._chance = [
            self._first_row(members, column, claims.get(members, ~barred)) for members in anchors
        ]
        self._scale(column, barred)

    def _column(self, anchors: Sequence[int]) -> list[float]:
        """Return the chance, up to a factor, that nothing of a group was met yet."""
        model = self.model
        placed = [0] * len(model.caps)
        for members in anchors:
            for kind, n in model.counts(members).items():
                placed[kind] += n
        result = [1.0] * len(model.groups)
        for kind, caps in enumerate(model.caps):
            missing = 1 - min(placed[kind] / model.totals[kind], _FULL)
            if missing < 1:
                for index, cap in model.present[kind]:
                    result[index] *= missing**cap if caps else 1
        return result

    def _first_row(self, members: int, column: list[float], usable: int) -> list[float]:
        ways = self.model.ways(members)
        fit = self.model.fitting(members) & usable
        return [
            ways[index] * column[index] if fit >> index & 1 else 0.0 for index in range(len(column))
        ]

    def _scale(self, column: list[float], barred: int) -> None:
        """Scale rows and columns in turn; groups not met yet share one row."""
        unmet = len(self.model.groups) - len(self._chance)
        fresh = [0.0 if barred >> i & 1 else one for i, one in enumerate(column)]
        for _ in range(_ROUNDS):
            for row in self._chance:
                _normalise(row)
            _normalise(fresh)
            sums = [sum(cells) for cells in zip(*self._chance, strict=True)] or [0.0] * len(fresh)
            for index, one in enumerate(fresh):
                total = sums[index] + max(unmet, 0) * one
                if total > 0:
                    fresh[index] = one / total
                    for row in self._chance:
                        row[index] /= total

    def of(self, members: int, anchor: int) -> float:
        """Return about how likely it is that `members` belong to `anchor`; 0 if they can't."""
        fit = self.model.fitting(members | anchor)
        row = self._chance[self._row[anchor]]
        held, added = self.model.counts(anchor), self.model.counts(members)
        chance = 0.0
        for index in bits(fit):
            part = row[index]
            for kind, n in added.items():
                left = self.model.caps[kind][index] - held.get(kind, 0)
                part *= comb(left, n)
            chance += part
        return chance


def _normalise(row: list[float]) -> None:
    total = sum(row)
    if total > 0:
        for index, one in enumerate(row):
            row[index] = one / total
