"""Every figure on a page equals the command's JSON through the one rounding rule, which is written out here once more.

The rule (house style 11, views/figures): half of the 95 % interval keeps one digit, two when the first is a 1; the
value is cut at the same place; a figure without ± keeps three digits.
"""

from __future__ import annotations

import json
from decimal import ROUND_HALF_EVEN, Decimal

import pytest
from report_pages import Page

from whorlpulse.cli.exits import run

CASES = ("skein-soft", "three-whorls", "slipping-band", "bad-joint")


def cut(value: float, decimals: int) -> str:
    """By decimal arithmetic on the number as it is, so that nothing is shared with the code."""
    text = str(Decimal(value).quantize(Decimal(1).scaleb(-decimals), ROUND_HALF_EVEN))
    if "E" in text:
        text = f"{float(text):.0f}"
    return text.lstrip("-") if not text.strip("-0.") else text


def by_rule(value, form: str, factor: float) -> str:
    if value is None:
        return "not known"
    if form in ("both", "value"):
        half = 0.5 * (value["high"] - value["low"]) * factor
        digits = f"{half:.6e}"
        decimals = -int(digits.split("e")[1]) + (digits[0] == "1")
        first = cut(value["value"] * factor, decimals)
        return f"{first} ± {cut(half, decimals)}" if form == "both" else first
    x = value * factor
    if form == "plain":
        return str(x) if isinstance(x, int) else cut(x, max(2 - int(f"{abs(x):.12e}".split("e")[1]), 0)) if x else "0"
    return cut(x, {"whole": 0, "tenth": 1, "hundredth": 2}[form])


def found(objects: dict, part: str, key: str):
    value = objects[part]
    for step in key.split("."):
        value = value[int(step)] if isinstance(value, list) else value[step]
    return value


@pytest.fixture(scope="module", params=CASES)
def page_and_objects(
    request,
    tmp_path_factory,
):
    place = tmp_path_factory.mktemp(request.param)
    assert run(["simulate", request.param, "-o", str(place)]) == 0
    log, wheel, plan = (str(place / name) for name in ("log.pulses", "wheel.toml", "plan.toml"))
    assert run(["report", log, "-o", str(place / "page.html"), "--no-script"]) == 0
    with_plan = ["--plan", plan] if (place / "plan.toml").exists() else []
    return Page.of((place / "page.html").read_text()), {
        "ratio": printed("ratio", log, "--wheel", wheel),
        "slip": printed("slip", log, "--wheel", wheel),
        "cadence": printed("cadence", log, "--wheel", wheel),
        "twist": printed("twist", log, "--wheel", wheel, *with_plan),
        "check": printed("check", log, "--wheel", wheel),
    }


def printed(*words: str) -> dict:
    """What the command itself prints with --json."""
    import contextlib
    import io

    out = io.StringIO()
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(io.StringIO()):
        run([*words, "--json"])
    return json.loads(out.getvalue())


def test_every_figure_is_the_jsons(page_and_objects):
    page, objects = page_and_objects
    own = [f for f in page.figures if f.part != "plan"]
    assert len(own) >= 15
    for f in own:
        assert f.shown == by_rule(found(objects, f.part, f.key), f.form, f.factor), f


def test_the_tiles_carry_the_answers(page_and_objects):
    page, objects = page_and_objects
    keys = {(f.part, f.key.split(".")[0]) for f in page.figures[:8]}
    expected = {("slip", "slip_percent"), ("cadence", "cadence_per_min")}
    expected.add(("ratio", "whorls" if len(objects["ratio"]["whorls"]) > 1 else "ratio"))
    if objects["twist"]["twist_tpi"] is not None:
        expected.add(("twist", "twist_tpi"))
    assert expected <= keys


def test_draft_and_pace_follow_from_the_ratio(page_and_objects):
    """Draft = ratio / twist; pace = 60 · treadles a minute · draft (CHECKS: delivery is speed over twist)."""
    page, objects = page_and_objects
    drafts = [f for f in page.figures if f.part == "plan" and f.key.endswith("draft_per_treadle_m")]
    if objects["twist"]["plan_tpi"] is None:
        assert not drafts
        return
    twist_tpm = objects["twist"]["plan_tpi"] / 0.0254
    per_min = float(f"{objects['cadence']['cadence_per_min']['value']:.3g}")
    paces = [f for f in page.figures if f.part == "plan" and f.key.endswith("metres_per_hour")]
    for i, whorl in enumerate(objects["ratio"]["whorls"]):
        draft_m = whorl["ratio"]["value"] / twist_tpm
        assert drafts[i].shown == by_rule(draft_m, "plain", 100.0)
        assert paces[i].shown == by_rule(60.0 * per_min * draft_m, "plain", 1.0)


def test_a_changed_figure_is_noticed(page_and_objects):
    """The check above can fail."""
    page, objects = page_and_objects
    f = next(f for f in page.figures if f.form == "both" and f.shown != "not known")
    value = dict(found(objects, f.part, f.key))
    value["value"] += 3.0 * (value["high"] - value["low"])
    assert f.shown != by_rule(value, f.form, f.factor)


def test_notes_are_the_jsons_notes(page_and_objects):
    page, objects = page_and_objects
    said = " ".join(page.lines)
    for part in ("ratio", "slip", "cadence"):
        for words in objects[part]["notes"]:
            assert " ".join(words.split()) in said, (part, words)
