"""Sentences of the live view, for the page and the terminal alike."""

from __future__ import annotations

from typing import Final

LIVE: Final = {
    # how things stand
    "waiting": "waiting for the first pulse line",
    "opening": "looking for {source}",
    "silent": "nothing has come for {seconds} s: the wheel stands, or the board no longer sends",
    "lost": "not connected ({why}), trying again",
    "paused": "the figures stand still; the recording goes on",
    "ended": "ended; the totals are those of the whole log",
    "ending": "ended; the whole log is being measured",
    "stopped": "{why}",
    "unreadable": "{lines} lines came and none is a pulse line: is it the right port, and its baud rate?",
    "bad-header": "{why}",
    "bad-length": "{why}",
    # why a figure is not known yet
    "why-wheel": "no wheel pulse has come",
    "why-wheel-pace": "after a second wheel pulse",
    "why-flyer": "no flyer pulse has come",
    "why-flyer-pace": "after a few flyer pulses",
    "why-ratio": "after five whole turns without a stop",
    "why-no-length": "no yarn measured: fit a roller, or note the length after each draw",
    "why-no-take-up": "after the first draw has gone in",
    "why-no-flyer": "no flyer pulse has come",
    "why-little-yarn": "after some more yarn",
    "why-marks": "after the next length is noted",
    "why-standing": "the wheel stands",
    "why-loss": "after five whole turns without a stop",
    "why-roller-unknown": "the roller turns, but nothing says how much yarn one turn takes in: give --roller",
    "why-bobbin-length": "the bobbin tells it in what is measured at each stop",
    "why-no-bobbin-core": "the bobbin tells it, if its core_diameter stands in the wheel file",
    "why-no-bobbin-growth": "the bobbin tells it, if its width stands in the wheel file and the yarn's count in --plan",
    "why-bobbin-not-full": "at the end, when the bobbin is full; sooner with its width and the yarn's count in --plan",
    "bobbin-not-full": (
        "the bobbin's full_diameter is that of the end, so length and twist are said then; sooner with its width in "
        "the wheel file and the yarn's count in --plan"
    ),
    "why-refused": "the clock's ticks can't be believed",
    # figures' companions
    "pulses": "{pulses} pulses, {lost} lost",
    "pulses-none-lost": "{pulses} pulses, none lost",
    "pulses-damaged": "{pulses} pulses, {lost} lines lost, {damaged} damaged",
    "burst": "{turns} flyer turns lost at {at}",
    "profile-text": (
        "Speed within the turn over the last {turns} turns: it swings by {swing} %, slowest {slowest} of a turn past "
        "the first target."
    ),
    "strip-text": "The last {seconds} s: cadence from {slow} to {fast} turns a minute, ratio from {low} to {high}.",
    "strip-text-short": "The last {seconds} s: cadence from {slow} to {fast} turns a minute.",
    "strip-none": "Nothing to draw yet.",
    # the plan
    "plan-under": "Softer than planned: draw {wanted} cm per treadle instead of {draft}.",
    "plan-over": "Harder than planned: draw {wanted} cm per treadle instead of {draft}.",
    "plan-on-plan": "On plan: {wanted} cm per treadle.",
    "plan-undecided": "{wanted} cm per treadle makes the planned twist.",
    "plan-unknown": "How much to draw is said once the ratio is known.",
    # answers to what was asked for
    "no-such-wheel": "there is no wheel of that name here",
    "no-such-action": "that is no action: pause, resume, mark, note, length or pace",
    "no-tick-yet": "no pulse line has come yet, so there is nothing to tie that to",
    "not-recording": "this log is closed: nothing can be noted any more",
    "bad-pace": "write wheel turns a minute from 10 to 300, or leave it empty for none",
    "nothing-to-note": "write a few words first",
    "too-long": "that is too long: {most} characters at most",
    # the terminal
    "head-cadence": "cadence",
    "head-ratio": "ratio",
    "head-twist": "twist",
    "head-flyer": "flyer",
    "head-wheel": "wheel",
    "head-state": "state",
    "head-twist-tpi": "twist, tpi",
    "head-lost": "lost",
    "title": "{name} · {state}",
    "title-simulated": "{name}, simulated · {state}",
    "waits": "{what}: {why}",
    "plan-line": "{sign} {says}  ({twist})",
    "pace-line": "pace {pace}: {cue}",
    "cadence-bars": "cadence {bars}",
    "burst-line": "! {burst}",
    "foot-length": "{length} m of yarn",
    "foot-loss": "band loses {loss} ± {half} %",
    "foot-mark": "last mark: {text}",
    "foot-mark-bare": "last mark: (no words)",
    "all-of-it": "all of it, {clock}: {figures}",
    "keys": "l length  m mark  p pause  q end",
    "keys-several": "1-{wheels} choose a wheel  l length  m mark  p pause  q end",
    # the end
    "end-wheel": "{name}{simulated}: {pulses}.",
    "end-simulated": ", simulated",
    "end-measured": "The whole log, {clock}:",
    "end-ratio": "ratio {ratio} : 1",
    "end-cadence": "cadence {cadence} turns a minute",
    "end-twist": "twist {tpi} tpi, {tpm} tpm, in {length} m of yarn",
    "end-slip": "slip {percent} %",
    "end-kept": "The log is {path}.",
    "end-none": "{name}: nothing came.",
    # while it runs
    "open-page": "The page: {link}",
    "ctrl-c": "Ctrl-C ends it.",
    "for-the-room": "For the room, to look on: {link}",
    "no-network": "This computer is in no network, so nobody else can look on; the page is open here only.",
    "all-ended": "All sources have ended; the page stays until Ctrl-C.",
}
