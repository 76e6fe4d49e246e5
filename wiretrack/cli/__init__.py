# SPDX-License-Identifier: MIT
"""The command line: each command parses, calls one task, and shows what comes back."""

from __future__ import annotations

import gc

FEW = 50_000  # objects: a command ends sooner than it is worth to look for those left behind


def main(arguments: list[str] | None = None) -> None:
    """Run the command line, and end the process with its status."""
    gc.set_threshold(FEW, 20, 100)
    from wiretrack.cli import group

    group.main(arguments)
