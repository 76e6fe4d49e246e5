# SPDX-License-Identifier: MIT
"""Find a fault."""
