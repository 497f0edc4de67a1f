"""Sentences that stand instead of an answer: what is wrong, and what would be enough."""

from __future__ import annotations

from typing import Final

ERRORS: Final = {
    # a log that was read but can't answer (exit code 1)
    "empty": "the log is empty: record some treadling first",
    "no-pulse-lines": "no pulse line is in the log, only {lines} other lines: is the board sending pulses?",
    "no-flyer": (
        "no flyer pulses (f) are in the log, only {others}: check the flyer's sensor and target, or which wire is on "
        "which channel"
    ),
    "no-wheel": (
        "no wheel pulses (w) are in the log, only {others}: check the wheel's sensor and target, or which wire is on "
        "which channel"
    ),
    "few-turns": (
        "too few whole wheel turns were counted, {turns} where {needed} are needed: {enough_s} s of treadling at this "
        "pace would do"
    ),
    "few-turns-no-pace": "too few whole wheel turns were counted, {turns} where {needed} are needed: record for longer",
    "never-together": (
        "wheel and flyer were never seen turning together for two whole wheel turns without a lost line: "
        "see what whorlpulse check says of the log"
    ),
    "clock-back": (
        "line {line}: the clock jumps back there, {seconds} s into the log, so the board restarted or two logs were "
        "pasted together: split the log at that line and measure each part"
    ),
    "second-log": (
        "line {line}: a second log begins there, {seconds} s into the first, after a silence: split the file at that "
        "line and measure each part"
    ),
    "coarse-clock": (
        "a clock of {hertz} ticks a second is too coarse for the {shaft}: half of its pulses come within less than "
        "{ticks} ticks of each other: correct tick_hz in the log if it is wrong, else record with a finer clock"
    ),
    "tick-bits": (
        "{percent} % of the ticks don't fit tick_bits {bits}; the largest is {largest}: write the width of the board's "
        "clock in the log, here '# tick_bits: {enough}' or more"
    ),
    "no-length": (
        "nothing says how much yarn there is: write length lines in the log, or measure the yarn and give --total "
        "with a unit, for example --total '23.4 m'"
    ),
    "no-roller-length": (
        "there are {pulses} roller pulses, but nothing says how much yarn one turn takes in: give --roller with a "
        "unit, for example --roller '10.00 cm'"
    ),
    "no-take-up": "no take-up was seen while the flyer turned: record until some yarn has gone in",
    "little-yarn": (
        "too little yarn to tell: {length} m with {turns} flyer turns leaves the twist uncertain by more than half; "
        "{enough} m would do"
    ),
    # the command line (exit code 2)
    "not-a-log": "is no pulse log: no usable line in its first {kilobytes} kB; is it the right file?",
    "nothing-to-tie": (
        "{file} is a pulse log already and holds no two radio sensors' notifications to tie again: a log is converted "
        "to a table, so name the output *.csv"
    ),
    "targets-option": (
        '--targets "{given}": '
        "write channels and targets per turn, for example --targets 'w=4 f=1' (w, f, b, y; "
        "1 to {most})"
    ),
    "ratio-option": '--ratio "{given}": write flyer turns per wheel turn, from 0.01 to 1000, for example --ratio 6.21',
    "bad-option": "{option}: {why}",
    "header-needed": '{file}: line {line}: {key} is "{value}": {why}; correct the line{or_option}',
    "usage": "{said} ({command} --help says more)",
    "usage-missing": "{name} is missing: {help}",
    "usage-no-option": "there is no option {option}{meant}",
    "usage-meant": ": did you mean {option}?",
    "toml-for-log": (
        "{file}: by its name this is a wheel or plan file: name a log (*.pulses), and give this with --wheel or --plan"
    ),
    "which-scenario": "name a scenario to simulate: {names}",
    "no-such-scenario": "there is no scenario '{given}'{meant} whorlpulse simulate --list tells what each is",
    "folder-in-use": "{folder} has a {file} already: name another folder with -o, or overwrite with --replace",
    "no-folder": "{folder} can't be made a folder: {why}: name another with -o",
    "unexpected": (
        "an unexpected fault, {fault}: please report it with the command and the file "
        "(set WHORLPULSE_TRACE=1 to see it all)"
    ),
}
