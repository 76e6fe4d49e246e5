# SPDX-License-Identifier: MIT
"""Fit, draw and place labels."""
