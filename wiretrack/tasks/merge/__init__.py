# SPDX-License-Identifier: MIT
"""Bring two copies together."""
