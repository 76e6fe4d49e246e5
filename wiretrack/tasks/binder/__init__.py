# SPDX-License-Identifier: MIT
"""Write the site binder."""
