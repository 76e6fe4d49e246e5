# SPDX-License-Identifier: MIT
"""Say what is proved and what is open."""
