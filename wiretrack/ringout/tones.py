# SPDX-License-Identifier: MIT
"""What a tone says: a generator's signal on one end is loudest on its conductor's other end.

It is heard on neighbours too, so it proves nothing: it makes a match likely, where nothing else
tells the ends apart. How often each loudness is heard is common practice, from memory.
"""

from __future__ import annotations

from collections import defaultdict
from math import prod
from typing import TYPE_CHECKING

from wiretrack.ringout.bundle import other_place
from wiretrack.ringout.masks import bits

if TYPE_CHECKING:
    from collections.abc import Iterable

    from wiretrack.ringout.bundle import Bundle
    from wiretrack.ringout.steps import Tone

# How often so loud: on the right end, on another one. (common practice)
LIKELIHOOD = {"loud": (0.90, 0.05), "faint": (0.08, 0.50), "none": (0.02, 0.45)}
LIKELY = 0.95  # a match is told as likely from here on
MOST_HEARD = 3  # so often is one end listened to


class ToneStage:
    """What was heard at one place while the tone was on an end at the other."""

    def __init__(self, bundle: Bundle, tone: Tone) -> None:
        self.at, self.end = other_place(tone.at), bundle.index(tone.at, tone.end)
        self.heard: dict[int, list[str]] = defaultdict(list)

    def hear(self, end: int, loudness: str) -> None:
        """Take in what was heard on an end."""
        self.heard[end].append(loudness)

    def chances(self, candidates: int) -> dict[int, float]:
        """Return how likely each of the `candidates` is the right end, by Bayes' rule.

        All are alike beforehand. What is heard on one says nothing of the others.
        """
        weights = {end: _weight(self.heard.get(end, ())) for end in bits(candidates)}
        whole = sum(weights.values())
        return {end: weight / whole for end, weight in weights.items()}

    def likely(self, candidates: int) -> int | None:
        """Return the end that is likely the right one, if each was listened to."""
        chances = self.chances(candidates)
        best = max(chances, key=lambda end: chances[end], default=None)
        done = all(self.heard.get(end) for end in chances)
        return best if best is not None and done and chances[best] >= LIKELY else None

    def next_end(self, candidates: int) -> int | None:
        """Return the end to listen to next, the least often heard first."""
        if self.likely(candidates) is not None:
            return None
        ends = [end for end in bits(candidates) if len(self.heard.get(end, ())) < MOST_HEARD]
        return min(ends, key=lambda end: len(self.heard.get(end, ())), default=None)


def _weight(heard: Iterable[str]) -> float:
    return prod(right / other for right, other in map(LIKELIHOOD.__getitem__, heard))
