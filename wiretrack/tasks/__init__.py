# SPDX-License-Identifier: MIT
"""One function for each thing that a person does; joins the registry and the pure rooms."""
