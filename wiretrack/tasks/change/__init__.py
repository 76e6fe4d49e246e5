# SPDX-License-Identifier: MIT
"""Change what was built."""
