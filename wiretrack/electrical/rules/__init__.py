# SPDX-License-Identifier: MIT
"""The wiring rules: a module a family, each rule a function from facts to findings."""
