# SPDX-License-Identifier: MIT
"""What a site consists of, in the words of the trade."""
