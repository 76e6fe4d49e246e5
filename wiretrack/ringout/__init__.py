# SPDX-License-Identifier: MIT
"""Ring-out: which ends to join and probe, in what order, and why it suffices.

Pure: a bundle and the log of what was done and read go in; the next step and the conclusions
come out. `bundle` describes the wires, `steps` the words of the protocol, `engine` is the way in.
"""
