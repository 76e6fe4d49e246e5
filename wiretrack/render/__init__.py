# SPDX-License-Identifier: MIT
"""What people are shown of a record: drawings, report and binder."""
