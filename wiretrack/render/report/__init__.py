# SPDX-License-Identifier: MIT
"""Printable reports, pure: what stands in them (blocks), and how that becomes HTML or PDF."""
