# SPDX-License-Identifier: MIT
"""Take readings and judge them."""
