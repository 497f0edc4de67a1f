"""Sentences of `gather`: what became of many logs, and what stopped it."""

from __future__ import annotations

from typing import Final

SAYS: Final = {
    "answer": "Logs measured: {measured} of {rows}.",
    "answer-stopped": "Stopped with {left} logs still to measure; the same command goes on from here.",
    "written": "Written: {output}, a row for each log: {fresh} gone through now, {known} known from before.",
    "cannot-say": "Logs that were read but can't answer any question: {count}.",
    "unreadable": "Logs that could not be read, or whose wheel or plan file could not: {count}.",
    "failed": "Logs whose measurement broke off: {count}; they are tried again next time.",
    "gone": "Rows of logs that are no longer below the folder: {count}; they are kept.",
    "shut": "Folders that could not be looked into: {count}, the first is {first}.",
    "each": "{log}: {why}",
    "more": "and {more} more; the column `why` has every reason.",
}

ERRORS: Final = {
    "output-needed": "say where to write with -o: a name that ends in .parquet, .csv or .jsonl",
    "output-kind": "-o {file}: the name must end in .parquet, .csv or .jsonl",
    "no-folder": "{folder} is no folder: name one that has logs (*.pulses) somewhere below it",
    "no-logs": "{folder} has no logs below it: their names must end in .pulses",
    "not-ours": "{file} is no table of gather ({why}): name another file, or remove it",
    "extra": "{what} needs {package}, which is not installed: pip install 'whorlpulse[{extra}]'",
    "workers": "--workers {given}: give a number of processes from 1 to {most}",
    "limit": "--limit {given!r} is no time: write for example --limit '30 s', '10 min' or '1.5 h'",
    "too-long": "took longer than {limit}: measure it by itself, or give --limit a longer time",
    "no-cluster": "{address}: no Dask scheduler answers there ({why}): check the address, and that it runs",
    "no-workers": "{address}: the scheduler has no workers: start some, with whorlpulse installed beside them",
    "other-version": "{address}: a worker has whorlpulse {theirs}, here is {ours}: install the same on both",
    "cluster-lost": "{address}: the scheduler is gone: what was measured is kept, the same command goes on",
    "without-us": "{address}: a worker has no whorlpulse: install whorlpulse {ours} where the workers run",
    "crashed": "the process that measured it died, perhaps for want of memory",
    "fault": "an unexpected fault, {fault}",
    "too-large": "larger than {megabytes} MB, too large to be gathered: measure it by itself",
}
