"""Two recorded days of a real geared pair of shafts, as passages: a rotor and the generator that it drives.

The recordings come with the PyPI package wetb 0.1.33 (ten minutes of a wind turbine each, 25 samples a second; GPL-3,
used in tests only): the rotor's azimuth in degrees, and the generator's speed. In azi.hdf5 that speed stands divided by
the gearbox ratio, which the file states; in subset_mean_test.hdf5 it is the generator's own.
"""

from __future__ import annotations

import importlib.util
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import numpy.typing as npt
from shaft_logs import Seconds

from tools import require, require_file

Samples = npt.NDArray[np.float64]
#: Gearbox ratio, as the description of channel Rot_cor in azi.hdf5 states it ("Gen_RPM / 119.752").
STATED_RATIO = 119.752
#: File -> (azimuth channel, speed channel, factor that makes the speed the generator's own in turns a minute).
DAYS = {
    "azi.hdf5": ("azi", "Rot_cor", STATED_RATIO),
    "subset_mean_test.hdf5": ("Rotor_azimuth", "Gen_RPM", 1.0),
}


@dataclass(frozen=True)
class Recorded:
    """One day: t_s (n,), azimuth_deg (n,) as recorded, wraps and faults and all, generator_rpm (n,)."""

    t_s: Samples
    azimuth_deg: Samples
    generator_rpm: Samples

    def rotor_passages(self, angle_deg: float) -> Seconds:
        """Return when a sensor at that angle reports the rotor: wherever the azimuth rises through it.

        Nothing is cleaned: a sample that the azimuth's sensor got wrong makes a pulse too, as it would on a board.
        """
        ahead = np.mod(self.azimuth_deg - angle_deg + 180.0, 360.0) - 180.0
        i = np.flatnonzero((ahead[:-1] < 0.0) & (ahead[1:] >= 0.0) & (ahead[1:] - ahead[:-1] < 180.0))
        part = -ahead[i] / (ahead[i + 1] - ahead[i])
        return self.t_s[i] + part * (self.t_s[i + 1] - self.t_s[i])

    @property
    def generator_turns(self) -> Samples:
        """The generator's angle (n,) in turns: its channel is a speed, so that is integrated (trapezium rule)."""
        speed = self.generator_rpm / 60.0
        return np.concatenate(([0.0], np.cumsum(0.5 * (speed[1:] + speed[:-1]) * np.diff(self.t_s))))

    def generator_passages(self) -> Seconds:
        """Return when the generator completed each whole turn."""
        turns = self.generator_turns
        return np.interp(np.arange(1.0, np.floor(turns[-1]) + 1.0), turns, self.t_s)


def recorded(day: str) -> Recorded:
    """Return a day's recording, or end the test when the packages that bring it are not installed."""
    for package in ("h5py", "wetb"):
        require(package, lambda package=package: importlib.util.find_spec(package) is not None)
    import h5py

    package = Path(str(importlib.util.find_spec("wetb").origin)).parent
    path = require_file(str(package / "signal" / "tests" / "test_files" / day), comes_with="wetb 0.1.33")
    azimuth, speed, factor = DAYS[day]
    with h5py.File(path) as file:
        names = [name.decode() for name in file["attribute_names"]]
        block = file["block0000"]
        columns = [block["data"][:, names.index(name)] for name in (azimuth, speed)]
        return Recorded(block["time"][:], columns[0], factor * columns[1])
