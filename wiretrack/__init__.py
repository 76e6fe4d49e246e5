# SPDX-License-Identifier: MIT
"""A circuit and wire-label registry with continuity-test logging."""

__version__ = "0.1.0"
