# SPDX-License-Identifier: MIT
"""Ring out a pull."""
