"""The pulse log: its bytes to header and rows, and back."""

from whorlpulse.logfile.bulk import Log, LogReader, read_log
from whorlpulse.logfile.header import Entry, Header, LengthLine, LogError, Mark, Problem, Sync
from whorlpulse.logfile.text import looks_binary, write_log

__all__ = [
    "Entry",
    "Header",
    "LengthLine",
    "Log",
    "LogError",
    "LogReader",
    "Mark",
    "Problem",
    "Sync",
    "looks_binary",
    "read_log",
    "write_log",
]
