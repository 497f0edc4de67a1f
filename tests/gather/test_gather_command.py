"""`gather`: figures against the simulations' truth, tables that others can read, and nothing measured twice."""

import csv
import json
import os
import shutil

import numpy as np
import pandas as pd
import pyarrow.parquet
import pytest
from guilds import SAMPLES, rows_of, truth_beside

#: The design's bars (section 9): of a ratio with faulty lines, of the mean twist.
RATIO_BAR, TWIST_BAR = 0.0005, 0.005


#: Samples of a flyer-led wheel that can be measured, from sound sensors to lost lines and a coarse clock.
SOUND = (
    *("coarse-clock", "every-line-fault", "first-skein", "lengths-noted-by-hand", "sensors-that-miss"),
    *("skein-gone-soft", "steady-minute-and-a-half", "three-runs-and-a-hand", "uneven-magnets", "unlabelled-wheel"),
)


def test_every_sample_has_a_row_and_its_figures_are_the_simulations_truth(gather, tmp_path):
    out = tmp_path / "all.jsonl"
    assert gather(SAMPLES, "-o", out).code == 0
    rows = rows_of(out)
    assert set(rows) == {p.relative_to(SAMPLES).as_posix() for p in SAMPLES.rglob("*.pulses")}
    spun = 0
    assert all(row["simulated"] is True for row in rows.values())
    for sample in SOUND:
        name = f"{sample}/log.pulses"
        row, truth = rows[name], truth_beside(SAMPLES / name)
        by_whorl = {w: [r for r in truth["runs"] if r["whorl"] == w] for w in {r["whorl"] for r in truth["runs"]}}
        true = sorted(sum(r["flyer_turns"] for r in w) / sum(r["wheel_turns"] for r in w) for w in by_whorl.values())
        assert row["whorl_ratios"] == pytest.approx(true, rel=RATIO_BAR), name
        assert row["ratio_low"] < row["ratio"] < row["ratio_high"]
        if truth.get("twist_tpm") is not None:
            spun += 1
            assert row["twist_tpm"] == pytest.approx(truth["twist_tpm"], rel=TWIST_BAR), name
            assert row["twist_tpi"] == pytest.approx(row["twist_tpm"] * 0.0254)  # the inch, exactly
            assert row["plan_tpi"] == pytest.approx(5.2)  # as their plan.toml has it
        else:
            assert row["twist_tpm"] is None
            assert "how much yarn" in row["twist_why"]
    assert spun == 3
    assert rows["board-restarted/log.pulses"]["state"] == "cannot-say"
    assert "line 514" in rows["board-restarted/log.pulses"]["why"]
    assert "channels-swapped" in rows["swapped-channels/log.pulses"]["findings"]
    soft = rows["skein-gone-soft/log.pulses"]
    planned = truth_beside(SAMPLES / "skein-gone-soft" / "log.pulses")["off_plan"]
    assert soft["off_plan_m"] == pytest.approx(sum(s["to_m"] - s["from_m"] for s in planned), abs=0.6)  # 0.3 m an end


def test_wheel_and_plan_beside_a_log_are_used(gather, guild, tmp_path):
    out = tmp_path / "r.jsonl"
    (guild / "cedar" / "wheel.toml").unlink()
    assert gather(guild, "-o", out).code == 0
    rows = rows_of(out)
    assert rows["ash/log.pulses"]["wheel_file"] == "wheel.toml"
    assert rows["ash/log.pulses"]["whorl_names"] == ["middle"]
    assert rows["ash/log.pulses"]["slip_reference"] == "wheel-file"
    assert rows["cedar/log.pulses"]["wheel_file"] is None
    assert rows["cedar/log.pulses"]["whorl_names"] == [None, None, None]
    assert rows["cedar/log.pulses"]["slip_reference"] == "this-capture"
    assert rows["birch/2025/spring/log.pulses"]["plan_file"] == "plan.toml"
    assert rows["birch/2025/spring/log.pulses"]["verdict"] == "on-plan"


def test_the_three_tables_say_the_same_to_other_programs(gather, guild, tmp_path):
    (guild / "empty").mkdir()
    (guild / "empty" / "log.pulses").touch()
    for ending in ("jsonl", "csv", "parquet"):
        assert gather(guild, "-o", tmp_path / f"r.{ending}").code == 0
    lines = pd.read_json(tmp_path / "r.jsonl", lines=True)
    cells = pd.read_csv(tmp_path / "r.csv")
    columns = pd.read_parquet(tmp_path / "r.parquet")
    assert list(cells.columns) == list(columns.columns) == list(lines.columns)
    assert list(cells["log"]) == list(columns["log"]) == sorted(cells["log"])
    for name in ("ratio", "slip_percent", "cadence_per_min", "twist_tpm", "off_plan_m", "duration_s"):
        # pandas reads JSON to its own 15 digits (precise_float)
        np.testing.assert_allclose(lines[name].astype(float), columns[name].astype(float), rtol=1e-14)
        np.testing.assert_array_equal(cells[name].to_numpy(float), columns[name].to_numpy(float))
    assert columns["whorl_ratios"].map(len).tolist() == [1, 1, 3, 0]
    assert [json.loads(c) for c in cells["whorl_ratios"]] == [list(c) for c in columns["whorl_ratios"]]
    types = {f.name: str(f.type) for f in pyarrow.parquet.read_schema(tmp_path / "r.parquet")}
    assert (types["ratio"], types["lines"], types["simulated"], types["why"]) == ("double", "int64", "bool", "string")
    assert types["whorl_ratios"].startswith("list<")


@pytest.mark.parametrize("ending", ["jsonl", "csv", "parquet"])
def test_what_is_known_is_not_measured_again(gather, guild, tmp_path, ending):
    out = tmp_path / f"r.{ending}"
    assert gather(guild, "-o", out, "--json").json["measured_now"] == 3
    before = out.read_bytes()
    again = gather(guild, "-o", out, "--json").json
    assert (again["measured_now"], again["known_before"], again["rows"]) == (0, 3, 3)
    assert out.read_bytes() == before
    assert gather(guild, "-o", out, "--json", "--anew").json["measured_now"] == 3
    assert out.read_bytes() == before
    assert [p.name for p in tmp_path.iterdir() if p.name.startswith("r.")] == [out.name]


def test_what_changed_is_measured_again_and_what_moved_takes_its_row_along(gather, guild, tmp_path):
    out = tmp_path / "r.jsonl"
    assert gather(guild, "-o", out).code == 0
    wheel = guild / "ash" / "wheel.toml"
    wheel.write_text(wheel.read_text() + "\n# a word\n")
    (guild / "cedar").rename(guild / "drawn-off")
    shutil.rmtree(guild / "birch")
    shutil.copytree(SAMPLES / "uneven-magnets", guild / "elm")
    told = gather(guild, "-o", out, "--json").json
    assert (told["measured_now"], told["known_before"], told["gone"], told["rows"]) == (2, 1, 1, 3)
    assert set(rows_of(out)) == {
        "ash/log.pulses",
        "birch/2025/spring/log.pulses",  # gone, but what was measured is kept
        "drawn-off/log.pulses",
        "elm/log.pulses",
    }


def test_rows_of_another_version_are_measured_again(gather, guild, tmp_path):
    out = tmp_path / "r.jsonl"
    assert gather(guild, "-o", out).code == 0
    older = [{**row, "version": "0.0.9/1"} for row in rows_of(out).values()]
    other_columns = {"log": "ash/log.pulses", "a_column_of_the_past": 3}
    out.write_text("".join(json.dumps(row) + "\n" for row in [*older[1:], other_columns]))
    assert gather(guild, "-o", out, "--json").json["measured_now"] == 3


def test_a_bad_log_is_a_row_with_its_reason(gather, guild, tmp_path):
    bad = guild / "bad"
    bad.mkdir()
    (bad / "picture.pulses").write_bytes(bytes(range(256)) * 64)
    (bad / "empty.pulses").touch()
    (bad / "short.pulses").write_text("w,1000000,1\nf,1100000,2\n")
    (guild / "worse").mkdir()
    (guild / "worse" / "plain.pulses").write_bytes((guild / "ash" / "log.pulses").read_bytes())
    (guild / "worse" / "wheel.toml").write_text('[wheel]\nwheel_diametre = "510 mm"\n')
    (guild / "targets").mkdir()
    (guild / "targets" / "log.pulses").write_text("# targets: w=0\nw,1000000,1\nf,1100000,2\n")
    os.symlink(guild / "nowhere.pulses", bad / "lost.pulses")  # a link to nothing is no file
    out = tmp_path / "r.jsonl"
    ran = gather(guild, "-o", out)
    assert ran.code == 0
    rows = rows_of(out)
    assert len(rows) == 8
    assert {name: rows[name]["state"] for name in rows if "bad" in name or "worse" in name or "targets" in name} == {
        "bad/picture.pulses": "unreadable",
        "bad/empty.pulses": "cannot-say",
        "bad/short.pulses": "cannot-say",
        "worse/plain.pulses": "unreadable",
        "targets/log.pulses": "unreadable",
    }
    assert "no pulse log" in rows["bad/picture.pulses"]["why"]
    assert "log is empty" in rows["bad/empty.pulses"]["why"]
    assert "wheel.toml" in rows["worse/plain.pulses"]["why"]
    assert "wheel_diametre" in rows["worse/plain.pulses"]["why"]
    assert "targets" in rows["targets/log.pulses"]["why"]
    assert rows["worse/plain.pulses"]["lines"] == rows["ash/log.pulses"]["lines"]  # these are known all the same
    assert rows["ash/log.pulses"]["state"] == "measured"
    assert "3 of 8" in ran.out
    assert "wheel_diametre" in ran.out


def test_text_that_a_spreadsheet_would_run_stays_text(gather, guild, tmp_path):
    log = guild / "ash" / "log.pulses"
    log.write_text("# board: =1+1\n" + log.read_text().replace("# board: ", "# note: "))
    (guild / "ash").rename(guild / "'ash")
    out = tmp_path / "r.csv"
    assert gather(guild, "-o", out).code == 0
    with open(out, newline="") as file:
        rows = list(csv.DictReader(file))
    first = next(row for row in rows if "ash" in row["log"])
    assert first["board"] == "'=1+1"
    assert first["log"] == "''ash/log.pulses"
    assert gather(guild, "-o", out, "--json").json["measured_now"] == 0  # and is read back as it was


def test_a_torn_journal_gives_back_its_whole_rows(gather, guild, tmp_path):
    out = tmp_path / "r.csv"
    whole = tmp_path / "whole.jsonl"
    assert gather(guild, "-o", whole).code == 0
    lines = whole.read_bytes().splitlines(keepends=True)
    (tmp_path / "r.csv.unfinished.jsonl").write_bytes(lines[0] + lines[1] + lines[2][:70])
    assert gather(guild, "-o", out, "--json").json["known_before"] == 2
    assert len(pd.read_csv(out)) == 3
    assert not (tmp_path / "r.csv.unfinished.jsonl").exists()


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (["FOLDER"], "-o"),
        (["FOLDER", "-o", "r.xlsx"], ".parquet, .csv or .jsonl"),
        (["nowhere", "-o", "r.csv"], "nowhere is no folder"),
        (["EMPTY", "-o", "r.csv"], "no logs below it"),
        (["FOLDER", "-o", "r.csv", "--workers", "0"], "1 to 256"),
        (["FOLDER", "-o", "theirs.csv"], "no table of gather"),
        (["FOLDER", "-o", "theirs.jsonl"], "no table of gather"),
        (["FOLDER", "-o", "theirs.parquet"], "no table of gather"),
        (["FOLDER", "-o", "no/such/folder/r.csv"], "cannot be written"),
    ],
)
def test_what_cannot_be_is_said_in_one_line_and_nothing_is_overwritten(
    gather, guild, tmp_path, monkeypatch, words, says
):
    monkeypatch.chdir(tmp_path)
    (tmp_path / "EMPTY").mkdir()
    guild.rename(tmp_path / "FOLDER")
    theirs = [tmp_path / f"theirs.{ending}" for ending in ("csv", "jsonl", "parquet")]
    for path in theirs:
        path.write_text("name,age\nsomeone,7\n")
    ran = gather(*words)
    assert ran.code == 2
    assert says in ran.err
    assert len(ran.err.splitlines()) == 1
    assert all(path.read_text() == "name,age\nsomeone,7\n" for path in theirs)
    assert not list(tmp_path.glob("*.unfinished.jsonl"))


def test_parquet_says_what_to_install(gather, guild, tmp_path, monkeypatch):
    monkeypatch.setitem(__import__("sys").modules, "pyarrow", None)  # as if it were not there
    ran = gather(guild, "-o", tmp_path / "r.parquet")
    assert ran.code == 2
    assert "pip install 'whorlpulse[parquet]'" in ran.err
    assert list(tmp_path.iterdir()) == [guild]
