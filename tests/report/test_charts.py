"""The charts draw the truth: the simulator's where it is known, the reports' elsewhere; the scales fit both logs."""

from __future__ import annotations

import json
import re

import numpy as np
import pytest
from report_pages import asked, captured, report_of

from whorlpulse.actions.make_report import make_report
from whorlpulse.views.charts.all import NAMES, chart
from whorlpulse.views.charts.chart import Chart, Unsaid
from whorlpulse.views.charts.draw import png, svg

LONG_S = 6000.0


def layers(spec: dict) -> list[dict]:
    """All layers of a specification that have data."""
    found = []
    for part in (*spec.get("vconcat", ()), *spec.get("layer", ())):
        found += layers(part)
    return [*found, spec] if "data" in spec else found


def rows(drawn: Chart, mark: str) -> list[dict]:
    """The data of all layers with that mark."""
    return [row for layer in layers(drawn.spec) if _mark(layer) == mark for row in layer["data"]["values"]]


def _mark(layer: dict) -> str:
    return layer["mark"]["type"] if isinstance(layer["mark"], dict) else layer["mark"]


def made(name: str, case: str, **more) -> Chart:
    drawn = chart(name, report_of(case, **more))
    assert isinstance(drawn, Chart), drawn
    return drawn


def test_a_soft_stretch_is_drawn_where_it_was_spun():
    """Simulated truth: 1.4 m in the middle of the skein went soft; placed within 0.3 m (design section 9)."""
    truth = captured("skein-soft").truth.along
    soft = [d for d in truth if d.twist_tpm * 0.0254 < 4.0 and 2.0 < d.from_m < 8.0]
    thick = [layer for layer in layers(made("twist", "skein-soft").spec) if layer["mark"].get("strokeWidth") == 5]
    (row,) = thick[0]["data"]["values"]
    assert row["x"] == pytest.approx(soft[0].from_m, abs=0.3)
    assert row["x2"] == pytest.approx(soft[-1].to_m, abs=0.3)


def test_both_twist_scales_say_the_same():
    """1 tpi is 39.370079 tpm (1/0.0254, exact)."""
    drawn = made("twist", "skein-soft")
    inches, metres = (
        next(e["y"] for layer in layers(drawn.spec) if (e := layer["encoding"]).get("y", {}).get("title") == title)
        for title in ("turns per inch", "turns per metre")
    )
    for a, b in zip(inches["scale"]["domain"], metres["scale"]["domain"], strict=True):
        assert b == pytest.approx(a / 0.0254, rel=1e-9)


def test_the_ratios_turns_are_those_of_the_simulated_shafts():
    """Turn by turn the drawn ratio is what the shafts did in that turn, to the timing of its two ends."""
    report, truth = report_of("steady"), captured("steady").truth
    (course,) = report.courses.laps
    ends = np.append(course.t_s, np.nan)[1:]
    inside = np.isfinite(ends)
    flyer = truth.flyer_turns_at(ends[inside]) - truth.flyer_turns_at(course.t_s[inside])
    wheel = truth.wheel_turns_at(ends[inside]) - truth.wheel_turns_at(course.t_s[inside])
    # one target each: flyer turns between its pulses are interpolated, good to some thousandths of a turn
    assert np.abs(course.ratio[inside] - flyer / wheel).max() < 0.02
    drawn = rows(made("ratio", "steady"), "line")
    assert [r["y"] for r in drawn] == pytest.approx(course.ratio.tolist(), rel=1e-5)


def test_every_burst_put_in_is_marked_on_a_peak():
    """Simulated truth: the scenario's four bursts, at their times within a turn and a half."""
    report, truth = report_of("planned-bursts"), captured("planned-bursts").truth
    marks = sorted(rows(made("loss", "planned-bursts"), "point"), key=lambda r: float(r["at"]))
    starts = sorted(b.start_s for b in truth.bursts)
    assert len(marks) == len(starts) == 4
    for mark, start in zip(marks, starts, strict=True):
        assert float(mark["at"]) == pytest.approx(start, abs=1.5)
    usual = np.median([r["y"] for r in rows(made("loss", "planned-bursts"), "line") if r["y"] is not None])
    assert all(m["y"] > usual + 2.0 for m in marks)
    assert sum(float(m["lost"]) for m in marks) == pytest.approx(
        sum(b.lost for b in report.slip.found.bursts), abs=0.03
    )


def test_a_joint_folds_to_a_wave_of_its_own_size():
    """The folded points and the line's amplitude come about in two ways; the simulator's joint is the third."""
    report = report_of("bad-joint")
    (course,) = report.courses.rhythms
    line = report.slip.found.whorls[0].lines[0]
    assert course.amplitude == pytest.approx(line.share, rel=0.05)
    wave = course.amplitude * np.cos(2 * np.pi * (course.phase - course.at_phase))
    left = course.share - wave
    assert np.abs(left).max() < 0.15 * course.amplitude


def test_bursts_by_angle_add_up():
    report = report_of("slipping-band")
    sectors = rows(made("angle", "slipping-band"), "rect")[:12]
    assert sum(r["y"] for r in sectors) == pytest.approx(sum(b.lost for b in report.slip.found.bursts), rel=1e-4)


def test_a_long_log_is_thinned_and_loses_no_extreme():
    report = report_of("long-hour", seconds=LONG_S)
    drawn = made("ratio", "long-hour", seconds=LONG_S)
    for i in range(len(report.ratio.whorls)):
        every = np.concatenate([c.ratio for c in report.courses.laps if c.whorl == i])
        lines = [r["y"] for layer in _panel(drawn, i) if _mark(layer) == "line" for r in layer["data"]["values"]]
        lines = [y for y in lines if y is not None]
        assert len(lines) < len(every)
        assert min(lines) == pytest.approx(every.min(), rel=1e-5)
        assert max(lines) == pytest.approx(every.max(), rel=1e-5)
    loss = made("loss", "long-hour", seconds=LONG_S)
    largest = max(b.lost for b in report.slip.found.bursts) if report.slip.found.bursts else None
    if largest is not None:
        assert max(float(r["lost"]) for r in rows(loss, "point")) == pytest.approx(largest, abs=0.006)


def _panel(drawn: Chart, i: int) -> list[dict]:
    return layers(drawn.spec["vconcat"][i]) if "vconcat" in drawn.spec else layers(drawn.spec)


@pytest.mark.parametrize("name", NAMES)
def test_two_logs_have_the_same_scales(name):
    """Each pair has one set of axes, and it holds what either log's own picture held."""
    a, b = report_of("slipping-band"), report_of("planned-bursts")
    both, alone = (chart(name, a, b), chart(name, b, a)), (chart(name, a), chart(name, b))
    if any(isinstance(c, Unsaid) for c in both):
        return
    assert domains(both[0]) == domains(both[1])
    for own in alone:
        for mine, shared in zip(domains(own), domains(both[0]), strict=True):
            assert shared[0] <= mine[0] + 1e-9
            assert shared[1] >= mine[1] - 1e-9
    if name == "loss":
        assert domains(alone[0]) != domains(alone[1])  # or it would prove nothing


def domains(drawn: Chart) -> list[tuple[float, float]]:
    """The spans of all axes, each once, in the order of the layers."""
    found = [
        tuple(e[axis]["scale"]["domain"])
        for layer in layers(drawn.spec)
        for e in [layer["encoding"]]
        for axis in "xy"
        if axis in e
    ]
    return list(dict.fromkeys(found))


@pytest.mark.parametrize("case", ["skein-soft", "three-whorls", "slipping-band", "bad-joint"])
@pytest.mark.parametrize("name", NAMES)
def test_a_chart_is_a_picture_with_titles_and_a_sentence_or_says_why_not(case, name):
    drawn = chart(name, report_of(case))
    if isinstance(drawn, Unsaid):
        assert drawn.why.endswith(".")
        return
    assert len(drawn.says) > 40
    assert drawn.says.endswith(".")
    picture = svg(drawn.spec, "x-")
    texts = re.findall(r"<text[^>]*>([^<]+)</text>", picture)
    titles = {
        e[axis]["title"] for layer in layers(drawn.spec) for e in [layer["encoding"]] for axis in "xy" if axis in e
    }
    for title in titles - {None}:
        assert title in texts
    assert len([t for t in titles if t]) >= 2 or name == "ratio"
    assert "http" not in picture.replace("http://www.w3.org/", "")
    assert not re.search(r"NaN|Infinity|undefined", picture)
    json.dumps(drawn.spec, allow_nan=False)


def test_ids_of_two_pictures_differ():
    spec = made("ratio", "steady").spec
    ids = [set(re.findall(r'\bid="([^"]+)"', svg(spec, p))) for p in ("a-", "b-")]
    assert ids[0]
    assert not ids[0] & ids[1]
    for prefix, own in zip(("a-", "b-"), ids, strict=True):
        picture = svg(spec, prefix)
        assert set(re.findall(r"url\(#([^)]+)\)", picture)) <= own
        assert picture == svg(spec, prefix)


def test_a_png_has_a_size_and_is_drawn():
    data = png(made("turn", "steady").spec)
    assert data.startswith(b"\x89PNG\r\n\x1a\n")
    width, height = int.from_bytes(data[16:20], "big"), int.from_bytes(data[20:24], "big")
    assert width > 1200
    assert height > 350
    assert len(data) > 10_000


def test_a_flyer_alone_or_an_empty_log_draws_nothing_and_says_why():
    from report_pages import with_log

    empty = make_report(asked(with_log(captured("steady"), lambda log: b"")))
    for name in NAMES:
        drawn = chart(name, empty)
        assert isinstance(drawn, Unsaid)
        assert drawn.why
