# SPDX-License-Identifier: MIT
"""Find a fault; where record or readings don't suffice, an error says what would settle it."""
