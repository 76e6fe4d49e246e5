# SPDX-License-Identifier: MIT
"""Find a record and follow the path."""
