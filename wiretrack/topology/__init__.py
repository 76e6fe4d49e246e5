# SPDX-License-Identifier: MIT
"""Pure: what is joined to what, what goes dead with a device, and which question to ask next."""
