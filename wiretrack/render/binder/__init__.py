# SPDX-License-Identifier: MIT
"""The site binder's paper: names of files, pages from records, search, checksums; pure."""
