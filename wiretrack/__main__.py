# SPDX-License-Identifier: MIT
"""``python -m wiretrack``."""

from wiretrack.cli import main

if __name__ == "__main__":
    main()
