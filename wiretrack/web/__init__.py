# SPDX-License-Identifier: MIT
"""The pages for phones and the HTTP API: each parses, calls one task, and shows what comes back."""
