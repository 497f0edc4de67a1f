"""Whatever a roller, a bobbin and the spinner's lines say, `twist` and `calibrate` answer or say why not; no crash."""

import numpy as np
import pytest

from whorlpulse.actions.calibrate import calibrate_roller
from whorlpulse.actions.measure_twist import measure_twist
from whorlpulse.actions.recording import read_recording
from whorlpulse.cli.exits import InputError
from whorlpulse.cli.inputs import Given, rig_of
from whorlpulse.rig import Length
from whorlpulse.views import calibrate as calibrate_view
from whorlpulse.views import twist as twist_view
from whorlpulse.views.json_object import as_json
from whorlpulse.views.layout import Page

TOTALS = (None, "9 x 1.5 m", "12 g of 10 Nm", "3.3 m")


def shaft_times(rng, lasts_s, per_s):
    n = int(lasts_s * per_s) + 1
    steps = rng.exponential(1 / per_s, n) if rng.random() < 0.3 else np.full(n, (1 + 0.01 * rng.random()) / per_s)
    return np.cumsum(steps)


def roller_times(rng, lasts_s):
    n = int(rng.integers(0, 60))
    if rng.random() < 0.5:
        return rng.random(n) * lasts_s
    return np.repeat(rng.random(4) * lasts_s, n // 4) + rng.random(n // 4 * 4)


def any_log(rng):
    """Shafts that may be missing, a roller in any rhythm, lost lines, counts, length and mark lines at any place."""
    lasts_s = rng.uniform(1, 120)
    rows = [(t, "y") for t in roller_times(rng, lasts_s)]
    for channel, per_s in (("w", 1), ("f", 8), ("b", 7)):
        if rng.random() < 0.85:
            rows += [(t, channel) for t in shaft_times(rng, lasts_s, per_s) if t < lasts_s]
    lines = [f"# targets: w=1 f=1 b=1 y={rng.integers(1, 5)}"]
    lines += ["# roller: 10.0 cm"] if rng.random() < 0.6 else []
    for seq, (t, channel) in enumerate(sorted(rows)):
        if rng.random() < 0.01:
            continue
        count = f",{rng.integers(1, 4)}" if rng.random() < 0.003 else ""
        lines.append(f"{channel},{int(t * 1e6)},{seq}{count}")
        if rng.random() < 0.01:
            lines.append(f"# length: {int(t * 1e6)} {rng.choice(['0', '50 cm', '0.61 m'])}")
        if rng.random() < 0.005:
            lines.append(f"# mark: {int(t * 1e6)} here")
    return "\n".join(lines).encode()


@pytest.mark.parametrize("seed", range(10))
def test_any_log_is_answered_or_refused_with_a_reason(seed):
    rng = np.random.default_rng(seed)
    answered = 0
    for _ in range(20):
        data = any_log(rng)
        recording = read_recording(lambda data=data: [data], "any.pulses")
        try:
            rig, notes = rig_of(recording, Given(total=TOTALS[rng.integers(4)]), needs_length=True)
        except InputError:
            continue
        twist = measure_twist(recording, rig, None, notes)
        as_json(twist_view.json_object(twist))
        if twist.cannot_say is None:
            answered += 1
            assert max(map(len, twist_view.text(twist, Page(80), list_draws=True).splitlines())) <= 96
            told = [d for d in twist.draws.draws if d.length_m is not None]
            assert all(d.start_s <= d.end_s and d.length_m > 0 for d in told)
            assert all(a.end_s <= b.end_s for a, b in zip(twist.draws.draws, twist.draws.draws[1:], strict=False))
        pulled = calibrate_roller(recording, rig, [Length(10.0, 0.01)] * int(rng.integers(0, 4)), None, notes)
        as_json(calibrate_view.json_object(pulled))
        if pulled.cannot_say is None:
            calibrate_view.text(pulled, Page(80))
    assert answered > 5
