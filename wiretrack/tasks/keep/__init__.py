# SPDX-License-Identifier: MIT
"""Keeping a registry safe: what is left of a damaged one, and copies of it."""
