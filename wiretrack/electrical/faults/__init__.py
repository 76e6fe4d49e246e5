# SPDX-License-Identifier: MIT
"""Pure: from readings on a faulty conductor to the place of the fault, with its uncertainty."""
