"""The sample captures: which simulated scenes they are, under which seed, and what a reader may expect of them.

Everything in `sample-captures/` comes from here, by `python tests/project/regenerate_samples.py`. Scenes, seed and
words are written down; every figure in the pages is the simulator's truth, never an answer of the measurement.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from whorlpulse.simulate import LineFaults, Scenario, scenario

SEED = 11


@dataclass(frozen=True)
class Sample:
    """One capture.

    like: the named scenario that scene is, or is changed from; changed: in what, in words. tells: why it is here.
    findings: the ids that `check` lists. ratio_bar, twist_bar: how near, as a part of the truth, `ratio` (of each run
    and whorl) and `twist` must come; None where there is no answer. ratio_says: what `ratio` says instead.
    length_source: where `twist` has the length from; the bobbin's needs the wheel file.
    """

    like: str
    tells: str
    findings: tuple[str, ...]
    ratio_bar: float | None = None
    twist_bar: float | None = None
    faults: LineFaults | None = None
    changed: str = ""
    ratio_says: str = ""
    length_source: str = "roller"

    @property
    def twist_options(self) -> tuple[str, ...]:
        """Files that `twist` needs beside the log, each after its option."""
        wheel = ("--wheel", "wheel.toml") if self.length_source == "bobbin" else ()
        return ("--plan", "plan.toml", *wheel)

    def scene(self, name: str) -> Scenario:
        """Return what is simulated for the folder of that name."""
        made = scenario(self.like)
        return made if self.faults is None else replace(made, name=name, line_faults=self.faults)


def samples() -> dict[str, Sample]:
    """Return the captures by the name of their folder, in the order for a reader."""
    return {
        "unlabelled-wheel": Sample(
            "three-whorls",
            "The first thing to do with a wheel whose ratios nobody knows: one run on each of its three whorls, the"
            " band moved in between. The wheel file has diameters only, from a tape measure.",
            ("log-healthy", "hand-rolled"),
            ratio_bar=5e-4,
        ),
        "steady-minute-and-a-half": Sample(
            "steady",
            "What a good log looks like: one magnet on each shaft, uneven feet, nothing wrong anywhere.",
            ("log-healthy",),
            ratio_bar=2e-4,
        ),
        "first-skein": Sample(
            "skein-on-plan",
            "A first skein, planned at 5.2 tpi and spun so; a small roller with four marks measures the yarn.",
            ("log-healthy",),
            ratio_bar=2e-4,
            twist_bar=5e-3,
        ),
        "skein-gone-soft": Sample(
            "skein-soft",
            "Such a skein again, but the spinner talked to somebody and drafted too fast for a while: 1.4 m in its"
            " middle have 3.3 tpi. The mean hardly shows it; the profile does.",
            ("log-healthy",),
            ratio_bar=2e-4,
            twist_bar=5e-3,
        ),
        "lengths-noted-by-hand": Sample(
            "skein-marks",
            "No roller: the spinner enters each draw's length, to the centimetre, half a second after it has wound on.",
            ("log-healthy",),
            ratio_bar=2e-4,
            twist_bar=5e-3,
            length_source="marks",
        ),
        "bobbin-that-fills": Sample(
            "filling-bobbin",
            "No roller and no notes: the length is that wound on, by bobbin against flyer. A bulky yarn fills the"
            " bobbin in some four layers; the spinner measured the bare core before and the package after, which is"
            " in the wheel file under [bobbin].",
            ("log-healthy",),
            ratio_bar=2e-4,
            twist_bar=2e-2,
            length_source="bobbin",
        ),
        "three-runs-and-a-hand": Sample(
            "three-runs",
            "Three runs on one whorl. In the stops the wheel is rolled to and fro by hand, which makes pulses that are"
            " no spinning.",
            ("log-healthy", "hand-rolled"),
            ratio_bar=5e-4,
        ),
        "sensors-that-miss": Sample(
            "faulty-sensors",
            "A flyer sensor too far away misses 3 % of its pulses and doubles 2 %; the wheel's bounces now and then.",
            ("missed-pulses", "extra-pulses", "bounce"),
            ratio_bar=5e-4,
        ),
        "uneven-magnets": Sample(
            "uneven-magnets",
            "Four magnets glued to the wheel by eye, up to 20° off their places, and two on the flyer, 168° and 192°"
            " apart.",
            ("log-healthy", "uneven-targets"),
            ratio_bar=2e-4,
        ),
        "every-line-fault": Sample(
            "bad-line",
            "All that can happen between a board and a file: two blocks of 15 lines lost, six lines garbled, four"
            " pulses that the board dropped and owned up to, the clock's wrap in the middle, the last line torn.",
            ("overruns", "lines-lost", "lines-corrupt", "lines-malformed", "torn-tail"),
            ratio_bar=5e-4,
            faults=LineFaults(lost_blocks=(15, 15), garbled=6, torn_tail=True, overruns=(4,)),
            changed="and four pulses that the board itself lost",
        ),
        "coarse-clock": Sample(
            "coarse-clock",
            "A sensor that was made for something else: a 16-bit clock of 1024 Hz, and once a second a line with the"
            " count of pulses since the last.",
            ("log-healthy",),
            ratio_bar=1e-3,
        ),
        "swapped-channels": Sample(
            "steady",
            "The two plugs were exchanged: the wheel's sensor reports as flyer and the other way round.",
            ("channels-swapped",),
            faults=LineFaults(swapped=("w", "f")),
            changed="with w and f exchanged",
            ratio_says="knows no better than the log: it says about 0.119 : 1, the ratio upside down",
        ),
        "board-restarted": Sample(
            "steady",
            "The USB plug was knocked: in the middle the board begins anew, with its clock at zero.",
            ("clock-jumped-back",),
            faults=LineFaults(restart_at_s=47.0),
            changed="with the board beginning anew after 47 s",
            ratio_says="ends with exit code 1 and names the line at which to split the log",
        ),
    }
