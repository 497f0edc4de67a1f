"""The command line: one file a command; each parses, calls an action, renders, and says its exit code."""

from __future__ import annotations

import io
import os
import sys
import warnings


def main() -> None:
    """Run the command that the user typed and end with its exit code."""
    try:
        _main()
    except KeyboardInterrupt:  # pressed while the program was still being loaded
        sys.exit(130)


def _main() -> None:
    from .early_ctrl_c import heed

    heed()
    from .exits import run
    from .freed_memory import keep_freed_memory

    if not os.environ.get("WHORLPULSE_TRACE"):  # a library's warning says nothing to a user; tests turn them to errors
        warnings.simplefilter("ignore")
    if isinstance(sys.stdout, io.TextIOWrapper):  # a terminal that lacks a letter gets another, not a fault
        sys.stdout.reconfigure(errors="replace")
    keep_freed_memory(sys.argv[1:])
    sys.exit(run(sys.argv[1:]))
