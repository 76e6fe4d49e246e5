# SPDX-License-Identifier: MIT
"""Bundles for the ring-out tests, made at random or arrangement by arrangement."""

from __future__ import annotations

import random
from typing import TYPE_CHECKING, Any

from tests.ringout.simulation import Wires
from wiretrack.ringout.bundle import Bundle, FarEnd, NearEnd

if TYPE_CHECKING:
    from collections.abc import Sequence

COLOURS = ("BK", "RD", "GN", "BU", "WH", "YE", "BN", "GY")


def arranged(
    colours: Sequence[str | None], arrangement: Sequence[int], **options: Any
) -> tuple[Bundle, dict[str, str]]:
    """Return a bundle whose conductor ``i`` comes out at far end ``arrangement[i]``."""
    far: dict[int, FarEnd] = {}
    mate = {}
    for i, position in enumerate(arrangement):
        far[position] = FarEnd(name=str(position + 1), colour=colours[i])
        mate[f"T{i + 1}"] = str(position + 1)
    near = tuple(NearEnd(name=f"T{i + 1}", colour=colour) for i, colour in enumerate(colours))
    return Bundle(near=near, far=tuple(far[i] for i in sorted(far)), **options), mate


def random_wires(
    seed: int, fewest: int, most: int, *, bad_contact: float = 0.0, **options: Any
) -> Wires:
    """Return a sound bundle with random colours, arrangement and references."""
    rng = random.Random(seed)
    size = rng.randint(fewest, most)
    shown = rng.choice((0, 1, 1, 2, 3, 6))
    colours = [rng.choice(COLOURS[:shown]) if shown else None for _ in range(size)]
    options.setdefault("references", rng.choice(((), (), ("raceway",), ("R1",))))
    options.setdefault("start", rng.choice(("near", "far")))
    bundle, mate = arranged(colours, rng.sample(range(size), size), **options)
    return Wires(bundle, mate, bad_contact=bad_contact, rng=rng)


def with_random_fault(wires: Wires) -> str:
    """Put one physical fault into a bundle and return its kind."""
    tags = list(wires.mate)
    kind = wires.rng.choice(("open", "short", "earthed"))
    if kind == "open":
        wires.broken = {wires.rng.choice(tags)}
    elif kind == "short":
        one, two = wires.rng.sample(tags, 2)
        wires.shorted = [(one, two)]
    else:
        wires.shorted = [(wires.rng.choice(tags), "raceway")]
    return kind
