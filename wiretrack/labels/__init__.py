# SPDX-License-Identifier: MIT
"""Labels, drawn at true size and read back before they are handed over.

payload (text) -> symbol (QR modules) -> fit (what goes on this conductor) -> draw (dots)
-> proof (an independent decoder) -> output (PDF and PNG). Nothing here knows the registry.
"""
