# SPDX-License-Identifier: MIT
"""Time 10,000 labels to PDF against the same symbols made by `qrcode` alone, and say the memory.

Run by hand: ``python tests/benchmarks/labels_speed.py [COUNT] [STOCK] [BASE_ADDRESS]``.
"""

from __future__ import annotations

import os
import random
import resource
import sys
import tempfile
import time
from pathlib import Path
from typing import TYPE_CHECKING

import qrcode

from wiretrack.labels.output import print_labels
from wiretrack.labels.stocks import get_stock, shipped_stocks
from wiretrack.labels.subject import LabelSubject
from wiretrack.labels.symbol import symbol_choices
from wiretrack.model.tags import ALPHABET, check_character, make_payload

if TYPE_CHECKING:
    from collections.abc import Iterator


def subjects(count: int, base: str | None) -> Iterator[LabelSubject]:
    """Yield invented conductors' ends."""
    rng = random.Random(1)
    for number in range(count):
        body = "".join(rng.choice(ALPHABET) for _ in range(6))
        tag = body + check_character(body)
        yield LabelSubject(
            tag=tag,
            payload=make_payload(tag, base),
            circuit=f"PUMP{number % 50}",
            function="L1",
            this_place=f"MDB{number % 9} Q{number % 40}:1",
            other_place=f"PH{number % 30} X1:{number % 60}",
            outer_diameter_mm=3.3,
        )


def seconds_of_symbols_alone(count: int, base: str | None) -> float:
    """Return how long `qrcode` takes for the same symbols, no picture made of them."""
    start = time.perf_counter()
    for subject in subjects(count, base):
        version, level = symbol_choices(subject.payload)[0]
        correction = getattr(qrcode.constants, f"ERROR_CORRECT_{level}")
        code = qrcode.QRCode(version=version, error_correction=correction, border=0)
        code.add_data(subject.payload)
        code.make(fit=False)
    return time.perf_counter() - start


def main(count: int = 10_000, stock: str = "flag-70x16-300", base: str | None = None) -> None:
    """Print both times, their ratio and the largest memory of any process."""
    alone = seconds_of_symbols_alone(count, base)
    start = time.perf_counter()
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder) / "labels.pdf"
        workers = os.cpu_count() or 1
        printed = print_labels(
            subjects(count, base), get_stock(stock, shipped_stocks()), file, workers=workers
        )
        size = file.stat().st_size
    labels = time.perf_counter() - start
    kibibytes = sum(
        resource.getrusage(who).ru_maxrss
        for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN)
    )
    print(f"{printed.labels} labels, {printed.proofread} codes read back, {size / 1e6:.1f} MB")
    print(f"qrcode alone {alone:.1f} s, labels {labels:.1f} s: {labels / alone:.2f} times")
    print(f"memory: largest process and largest child together {kibibytes / 1024:.0f} MiB")


if __name__ == "__main__":
    given = sys.argv[1:]
    main(int(given[0]) if given else 10_000, *given[1:])
