# SPDX-License-Identifier: MIT
"""The store: the only place that speaks SQL; opens, migrates, keeps and finds."""
