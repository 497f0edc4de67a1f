"""Cycling speed and cadence sensors: from notifications to pulse-log lines; standard library only, no input or output.

`counts` reads a notification, `sensor` follows one sensor's counts, `hull`, `pace`, `tie_window` and `clock_tie` tie
its clock to the host's, `lines` writes the log, and `again` makes it once more of a log's own `csc-raw` lines.
"""
