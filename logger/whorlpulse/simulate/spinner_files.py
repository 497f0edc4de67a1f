"""The wheel file and the plan file that belong to a scenario."""

from __future__ import annotations

from .scenario import Scenario
from .truth import M_PER_INCH
from .yarn import Yarn


def wheel_toml(scenario: Scenario) -> str:
    """Return the wheel file with the scenario's true diameters; it gives no ratios."""
    lines = [
        "# simulated: the invented bench wheel",
        "[wheel]",
        'name = "the bench wheel"',
        'tension = "scotch"',
        f'wheel_diameter = "{1000.0 * scenario.wheel.diameter_m:g} mm"',
        f'band_thickness = "{1000.0 * scenario.band.thickness_m:g} mm"',
        f'band_length = "{scenario.band.length_m:g} m"',
    ]
    for whorl in scenario.whorls:
        lines += ["", "[[whorl]]", f'name = "{whorl.name}"', f'diameter = "{1000.0 * whorl.diameter_m:g} mm"']
    return "\n".join(lines) + "\n"


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
