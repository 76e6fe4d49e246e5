# SPDX-License-Identifier: MIT
"""The instruments that readings may name."""

from __future__ import annotations

from typing import TYPE_CHECKING

from wiretrack.model.parts import Instrument
from wiretrack.store.source import site_of

if TYPE_CHECKING:
    from wiretrack.store.store import Registry


def instrument_codes(registry: Registry) -> list[tuple[str, str | None]]:
    """Return the code and the kind of each instrument, in the order of the record."""
    return [(instrument.code, instrument.kind) for instrument in site_of(registry).all(Instrument)]
