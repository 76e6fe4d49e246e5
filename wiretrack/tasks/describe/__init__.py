# SPDX-License-Identifier: MIT
"""Describe the site."""
