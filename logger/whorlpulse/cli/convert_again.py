"""`whorlpulse convert` from log to log: two radio sensors' clocks tied again, now that all notifications are known."""

from __future__ import annotations

from collections.abc import Callable, Iterator


def tied_log(blocks: Callable[[], Iterator[bytes]], file: str) -> tuple[bytes, str]:
    """Return the log made anew, and what that gains in a line; InputError where there is nothing to tie.

    blocks: give the log's bytes. file: its name for the user.
    """
    from whorlpulse.actions.convert import tied_again
    from whorlpulse.findings.catalogue import sentence
    from whorlpulse.logfile import LogError, read_log
    from whorlpulse.views.figures import says

    from .exits import InputError
    from .inputs import clock_ties
    from .progress import Progress, followed

    with Progress(f"reading {file}") as progress:
        data = b"".join(followed(blocks, file, progress)())
    made = tied_again(data)
    if made is None:
        raise InputError(sentence("nothing-to-tie").format(file=file))
    try:
        worst_s = [max(clock_ties(read_log(lambda d=d: [d]).header).values(), default=0.0) for d in (data, made)]  # type: ignore[misc]
    except LogError as fault:
        raise InputError(f"{file}: {fault}") from None
    before_ms, after_ms = (2e3 * u_s for u_s in worst_s)  # the half of a 95 % interval
    return made, says("tied-again", before_ms=before_ms, after_ms=after_ms)
