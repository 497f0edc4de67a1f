"""Make docs/pictures/ anew, all of simulated logs: python tests/project/regenerate_pictures.py

The charts come from `report --chart`; the page is photographed in an installed Chromium, at screen size and half scale.
"""

from __future__ import annotations

import sys
import tempfile
from pathlib import Path

from whorlpulse.cli.exits import run

ROOT = Path(__file__).resolve().parents[2]
sys.path[:0] = [str(ROOT / "tests"), str(ROOT / "tests" / "report")]

from report_browser import opened_browser  # noqa: E402

PICTURES = ROOT / "docs" / "pictures"
#: Scenario and chart of each picture.
CHARTS = {
    "twist-of-a-soft-skein": ("skein-soft", "twist"),
    "loss-in-bursts": ("slipping-band", "loss"),
    "loss-at-a-joint": ("bad-joint", "rhythm"),
    "speed-within-a-turn": ("hard-uneven", "turn"),
    "ratio-of-three-whorls": ("three-whorls", "ratio"),
}
MOST_BYTES = 150_000


def main() -> None:
    """Write the pictures and say their sizes."""
    PICTURES.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory() as folder:
        place = Path(folder)
        for scenario in {s for s, _ in CHARTS.values()}:
            _do("simulate", scenario, "-o", place / scenario)
        for name, (scenario, chart) in CHARTS.items():
            out = PICTURES / f"{name}.svg"
            _do("report", place / scenario / "log.pulses", "--chart", chart, "-o", out, "--replace")
        page = place / "page.html"
        _do("report", place / "skein-soft" / "log.pulses", "-o", page, "--no-script")
        with opened_browser() as browser:
            shot = browser.new_page(viewport={"width": 900, "height": 1120}, device_scale_factor=1)
            shot.goto(page.as_uri())
            shot.screenshot(path=PICTURES / "report-skein.png")
    for file in sorted(PICTURES.iterdir()):
        assert file.stat().st_size < MOST_BYTES, file
        print(f"{file.name}: {file.stat().st_size / 1000:.0f} kB")


def _do(*words: object) -> None:
    if run([str(w) for w in words]) != 0:
        raise SystemExit(f"failed: {words}")


if __name__ == "__main__":
    main()
