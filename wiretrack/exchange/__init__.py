# SPDX-License-Identifier: MIT
"""Site files in and out: JSON and CSV to records and back, every fault named with its place."""
