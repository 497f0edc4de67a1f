"""The wheel file and the plan file that belong to a scenario."""

from __future__ import annotations

import numpy as np

from .scenario import Scenario
from .truth import M_PER_INCH
from .yarn import Yarn


def wheel_toml(scenario: Scenario, package_m: float | None, rng: np.random.Generator) -> str:
    """Return the wheel file with the scenario's true diameters; it gives no ratios.

    With a sensor on the bobbin it has the bobbin's measures too, read off with the spinner's gauge: the core, and the
    package after spinning (package_m).
    """
    lines = [
        "# simulated: the invented bench wheel",
        "[wheel]",
        'name = "the bench wheel"',
        f'tension = "{scenario.tension}"',
        f'wheel_diameter = "{1000.0 * scenario.wheel.diameter_m:g} mm"',
        f'band_thickness = "{1000.0 * scenario.band.thickness_m:g} mm"',
        f'band_length = "{scenario.band.length_m:g} m"',
    ]
    for whorl in scenario.whorls:
        lines += ["", "[[whorl]]", f'name = "{whorl.name}"', f'diameter = "{1000.0 * whorl.diameter_m:g} mm"']
    if package_m is not None and scenario.sensor("b") is not None:
        lines += _bobbin(scenario, package_m, rng)
    return "\n".join(lines) + "\n"


def _bobbin(scenario: Scenario, package_m: float, rng: np.random.Generator) -> list[str]:
    bobbin = scenario.bobbin
    lines = ["", "[bobbin]"]
    for name, true_m, u_m in zip(
        ("core_diameter", "full_diameter"), (bobbin.core_m, package_m), bobbin.gauge_m, strict=True
    ):
        read_m = true_m + u_m * float(rng.standard_normal())
        lines.append(f'{name} = "{1000.0 * read_m:.2f} mm +- {1000.0 * u_m:g} mm"')
    lines.append(f'width = "{1000.0 * bobbin.width_m:g} mm"')
    if scenario.tension == "double-drive":
        lines.append(f'whorl_diameter = "{1000.0 * bobbin.whorl_m:g} mm"')
    return lines


def plan_toml(yarn: Yarn) -> str:
    """Return the plan file with the twist that the spinner aims at."""
    return (
        "# simulated: what the spinner aims at\n"
        "[yarn]\n"
        f'twist = "{yarn.twist_tpm * M_PER_INCH:.4g} tpi"\n'
        f'tolerance = "{yarn.tolerance_percent:g} %"\n'
        'direction = "Z"\n'
        "plies = 1\n"
    )
