"""Losses put on top of the motion: random slip, periodic loss, and bursts at set times."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from whorlpulse.pulses import FloatArray

from .band import Band
from .path import Path


@dataclass(frozen=True)
class Run:
    """One stretch of treadling, from first motion to rest. ratio: without slip."""

    start_s: float
    end_s: float
    whorl: int
    ratio: float


@dataclass(frozen=True)
class Burst:
    """The band slid: flyer turns lost beyond creep, from start_s to end_s."""

    start_s: float
    end_s: float
    lost_turns: float


def lossy(wheel: Path, flyer: Path, runs: Sequence[Run], band: Band, rng: np.random.Generator) -> Path:
    """Return the flyer's path less the band's random, periodic and scheduled losses within the runs.

    Random slip has independent parts with variance slip_noise² per wheel turn, so that its sum is a
    Brownian motion over the wheel's angle. Raises ValueError for a burst outside the runs, or one so
    sudden that the flyer would run backwards.
    """
    if not (band.slip_noise or band.periodic or band.bursts):
        return flyer
    turns, speed = np.zeros(len(wheel.t_s)), np.zeros(len(wheel.t_s))
    for run in runs:
        first, last = np.searchsorted(wheel.t_s, [run.start_s - 1e-9, run.end_s + 1e-9])
        nodes = slice(int(first), int(last))
        here, rate = _in_run(wheel, nodes, run, band, rng)
        turns[nodes] += here
        speed[nodes] += rate
        turns[int(last) :] += here[-1]
    for burst in band.bursts:
        if not any(run.start_s <= burst.at_s and burst.at_s + burst.duration_s <= run.end_s for run in runs):
            raise ValueError(f"the slip burst at {burst.at_s:g} s is not within a run")
        u = np.clip((wheel.t_s - burst.at_s) / burst.duration_s, 0.0, 1.0)
        turns += burst.lost_turns * u * u * (3.0 - 2.0 * u)
        speed += burst.lost_turns / burst.duration_s * 6.0 * u * (1.0 - u)
    left = flyer.minus(turns, speed)
    if band.bursts and np.any((left.speed < 0.0) & (flyer.speed >= 0.0)):
        raise ValueError("a slip burst is so sudden that the flyer would turn back: make it longer or smaller")
    return left


def _in_run(wheel: Path, nodes: slice, run: Run, band: Band, rng: np.random.Generator) -> tuple[FloatArray, FloatArray]:
    """Return lost flyer turns (n,) since the run's start and their rate (n,), random and periodic ones."""
    angle, speed = wheel.turns[nodes], wheel.speed[nodes]
    turned = angle - angle[0]
    lost, rate = np.zeros(len(angle)), np.zeros(len(angle))
    if band.slip_noise:
        kicks = rng.standard_normal(len(angle) - 1) * np.sqrt(np.maximum(np.diff(angle), 0.0))
        lost += band.slip_noise * np.concatenate([[0.0], np.cumsum(kicks)])
    for part in band.periodic:
        w = 2.0 * math.pi * part.per_wheel_turn
        lost += run.ratio * (part.mean * turned + part.amplitude * (np.sin(w * angle) - np.sin(w * angle[0])) / w)
        rate += run.ratio * (part.mean + part.amplitude * np.cos(w * angle)) * speed
    return lost, rate


def scheduled(band: Band) -> list[Burst]:
    """Return the bursts that were put in on purpose."""
    return [Burst(b.at_s, b.at_s + b.duration_s, b.lost_turns) for b in band.bursts]
