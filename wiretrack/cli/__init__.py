# SPDX-License-Identifier: MIT
"""The command line: each command parses, calls one task, and shows what comes back."""

from wiretrack.cli.group import main

__all__ = ["main"]
