# SPDX-License-Identifier: MIT
"""Published figures and what follows from them: numbers in, numbers out, each with its source."""
