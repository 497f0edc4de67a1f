"""A room of live wheels: what goes out, to whom, and what is asked of it."""

from __future__ import annotations

import asyncio
import json
import sys
from dataclasses import replace
from pathlib import Path
from typing import Any

import jsonschema_rs
import pytest

sys.path.insert(0, str(Path(__file__).resolve().parent))

from rooms import Missing, Told, run_room, state, wheel

from whorlpulse.actions.listening import Habits
from whorlpulse.actions.live_room import LiveRoom
from whorlpulse.live_page.room_schema import FIGURE, room_schema
from whorlpulse.logfile import read_log
from whorlpulse.simulate import Board, Scenario, scenario, simulate
from whorlpulse.sources.events import SourceUnavailable
from whorlpulse.sources.simulated import SimulatedSource
from whorlpulse.wire import encode_pulse


def chunks(name: str = "skein-on-plan", lines: int = 20) -> list[bytes]:
    log = simulate(scenario(name), 2).log.splitlines(True)
    return [b"".join(log[i : i + lines]) for i in range(0, len(log), lines)]


WORDS = "the clock's ticks can't be believed"


def on_clock(hz: float) -> Scenario:
    """A wheel whose board's clock has so many ticks a second."""
    return replace(scenario("steady"), board=Board(tick_hz=hz, start_tick=0))


async def until(what: Any, within_s: float = 20.0) -> None:
    async with asyncio.timeout(within_s):
        while not what():
            await asyncio.sleep(0.01)


def test_documents_have_the_shape_that_the_page_is_promised(tmp_path: Path) -> None:
    """Against the JSON Schema that the page's server publishes, with jsonschema_rs as the judge."""
    seen: list[str] = []

    async def look(room: LiveRoom) -> None:
        seen.extend([text async for text in room.changes()])

    source = SimulatedSource("slipping-band", 40.0)
    room = run_room([wheel(source, tmp_path / "a"), wheel(Missing(), tmp_path / "b", 2)], look, Habits(for_s=3.0))
    assert len(seen) > 20
    schemas = {"schemas": {"Figure": FIGURE}}
    for text, whole in [(seen[0], True), (room.whole(), True), *[(text, False) for text in seen[1:]]]:
        jsonschema_rs.validate(room_schema(whole=whole) | {"components": schemas}, json.loads(text))


def test_changes_put_together_make_the_whole_room(tmp_path: Path) -> None:
    kept: dict[str, dict[str, Any]] = {}

    async def look(room: LiveRoom) -> None:
        async for text in room.changes():
            for changed in json.loads(text)["wheels"]:
                kept.setdefault(changed["id"], {}).update(changed)

    names = ("skein-soft", "planned-bursts")
    room = run_room([wheel(SimulatedSource(n, 60.0), tmp_path / n, i + 1) for i, n in enumerate(names)])
    asyncio.run(asyncio.wait_for(look(room), 5.0))
    assert [kept[w["id"]] for w in json.loads(room.whole())["wheels"]] == json.loads(room.whole())["wheels"]


def test_a_viewer_who_stops_reading_skips_states_and_holds_nobody_up(tmp_path: Path) -> None:
    got: dict[str, list[dict[str, Any]]] = {"quick": [], "slow": []}

    async def look(room: LiveRoom) -> None:
        async def quick() -> None:
            async for text in room.changes():
                got["quick"].append(json.loads(text))

        async def slow() -> None:
            async for text in room.changes():
                got["slow"].append(json.loads(text))
                await until(lambda: room.ended)

        await asyncio.gather(quick(), slow())

    source = Told(chunks(), rest_s=0.02)
    log = tmp_path / "log"
    room = run_room([wheel(source, log)], look)
    assert len(got["quick"]) > 30
    assert len(got["slow"]) <= 3  # the first, and what had changed since when it came back
    merged = {k: v for document in got["slow"] for w in document["wheels"] for k, v in w.items()}
    assert merged == state(room)
    assert b"".join(chunks()) in b"".join(
        line
        for line in log.read_bytes().splitlines(True)
        if not line.startswith((b"# started", b"# source", b"# sync"))
    )


@pytest.mark.parametrize(("hz", "refused"), [(12.0, True), (128.0, False)])
def test_a_clock_too_coarse_for_its_pulses_gives_no_figure_here_as_in_the_commands(
    tmp_path: Path, hz: float, refused: bool
) -> None:
    lines = simulate(on_clock(hz), 2).log.splitlines(True)
    told = Told([b"".join(lines[i : i + 20]) for i in range(0, len(lines), 20)], rest_s=0.01, holds_s=1.5)
    said: list[dict[str, Any]] = []

    async def look(room: LiveRoom) -> None:
        await until(lambda: state(room)["ratio"]["text"] is not None or state(room)["ratio"]["why"] == WORDS)
        await asyncio.sleep(1.0)
        said.append(state(room))

    room = run_room([wheel(told, tmp_path / "log")], look)
    for name in ("ratio", "cadence", "flyer", "twist_tpi", "loss"):
        assert (said[0][name]["why"] == WORDS) == refused, name
    assert (said[0]["ratio"]["text"] is None) == refused
    assert ("too coarse for the flyer" in (said[0]["says"] or "")) == refused
    assert any("too coarse for the flyer" in text for text in state(room)["totals"]["notes"]) == refused


def test_pause_holds_the_figures_while_the_recording_goes_on(tmp_path: Path) -> None:
    held: list[dict[str, Any]] = []

    async def ask(room: LiveRoom) -> None:
        await until(lambda: state(room)["ratio"]["text"] is not None)
        assert await room.act("1", "pause", "") is None
        await until(lambda: state(room)["state"] == "paused")
        size = (tmp_path / "log").stat().st_size
        held.append(state(room))
        await until(lambda: (tmp_path / "log").stat().st_size > size + 2000)
        held.append(state(room))
        assert await room.act("1", "resume", "") is None
        await until(lambda: state(room)["state"] == "turning")
        held.append(state(room))

    run_room([wheel(Told(chunks(), rest_s=0.02), tmp_path / "log")], ask)
    assert held[0] == held[1]
    assert "recording goes on" in held[0]["says"]
    assert sum(held[2]["pulses"].values()) > sum(held[0]["pulses"].values())


def test_marks_notes_and_lengths_land_in_the_log_at_their_moment(tmp_path: Path) -> None:
    """The board's tick is its microsecond clock, and a line comes every 10 ms; the moment is that of the asking."""

    async def ask(room: LiveRoom) -> None:
        await until(lambda: sum(state(room)["pulses"].values()) > 30)
        assert await room.act("1", "mark", " mended\tthe  band ") is None
        assert await room.act("1", "note", "third bobbin <b>of</b> seven") is None
        assert await room.act("1", "length", "24.5 in") is None
        assert await room.act("1", "length", "0.62 m") is None
        assert await room.act("1", "length", "a bit") is not None
        assert await room.act("1", "mark", "x" * 300) is not None
        assert await room.act("2", "mark", "") == "there is no wheel of that name here"
        assert await room.act("1", "fly", "") is not None
        assert await room.act("1", "pace", "60") is None
        assert await room.act("1", "pace", "sixty") is not None
        await until(lambda: state(room)["length"]["text"] is not None)
        assert state(room)["length"]["value"] == pytest.approx(24.5 * 0.0254 + 0.62)
        assert [m["text"] for m in state(room)["marks"]] == ["mended the band"]
        assert state(room)["pace"]["per_min"] == 60.0

    source = Told([encode_pulse("f", 10_000 * i, i) for i in range(200)], rest_s=0.01)
    room = run_room([wheel(source, tmp_path / "log")], ask)
    header = read_log(lambda: [(tmp_path / "log").read_bytes()]).header
    assert [m.text for m in header.marks] == ["mended the band"]
    assert header.note == "third bobbin <b>of</b> seven"
    assert [(line.value, line.unit) for line in header.lengths] == [(24.5, "in"), (0.62, "m")]
    assert header.problems == ()
    ticks = [header.marks[0].tick, *[line.tick for line in header.lengths]]
    assert all(300_000 < tick < 1_000_000 for tick in ticks)
    assert room.wheels["1"].figures.lost == 0


def test_a_failing_source_does_not_stop_the_others(tmp_path: Path) -> None:
    missing = Missing()
    setups = [wheel(missing, tmp_path / "a"), wheel(Told(chunks()[:40], holds_s=3.3), tmp_path / "b", 2)]

    async def look(room: LiveRoom) -> None:
        await until(lambda: state(room, 2)["pulses"]["f"] > 100 and missing.tried > 1)
        assert state(room, 1)["state"] == "lost"
        assert "plug the board in" in state(room, 1)["says"]

    room = run_room(setups, look)
    assert missing.tried > 1
    assert state(room, 2)["state"] == "ended"
    assert state(room, 2)["totals"]["ratio"]["text"] is not None
    assert not (tmp_path / "a").exists()


def test_a_lone_wheel_without_a_source_ends_at_once(tmp_path: Path) -> None:
    with pytest.raises(SourceUnavailable, match="plug the board in"):
        run_room([wheel(Missing(), tmp_path / "a")])


def test_a_wheel_whose_log_cannot_grow_says_so_and_ends(tmp_path: Path) -> None:
    """/dev/full: every write fails as on a full disk."""
    if not Path("/dev/full").exists():
        pytest.skip("there is no /dev/full here")
    setups = [wheel(Told(chunks()[:30], rest_s=0.01), tmp_path / "a"), wheel(Told(chunks()), tmp_path / "b", 2)]

    async def fill(room: LiveRoom) -> None:
        import os

        await until(lambda: state(room, 1)["pulses"]["f"] > 20)
        log = room.wheels["1"].listening.keeper.log
        assert log is not None
        os.dup2(os.open("/dev/full", os.O_WRONLY), log._fd)
        await until(lambda: room.wheels["1"].ended and room.wheels["2"].ended)

    room = run_room(setups, fill)
    assert "disk is full" in state(room, 1)["says"]
    assert state(room, 2)["totals"]["ratio"]["text"] is not None


def test_a_silent_board_is_told_from_a_standing_wheel(tmp_path: Path) -> None:
    lines = [encode_pulse("f", 10_000 * i, i) for i in range(100)] + [
        encode_pulse("k", 1_000_000 * (i + 2), 100 + i) for i in range(5)
    ]
    states: list[str] = []

    async def look(room: LiveRoom) -> None:
        await until(lambda: state(room)["state"] == "standing")
        states.append(state(room)["flyer"]["text"])
        await until(lambda: state(room)["state"] == "silent")
        states.append(state(room)["says"])

    run_room([wheel(Told(lines, holds_s=5.0), tmp_path / "log")], look, Habits(silent_s=1.0))
    assert states[0] == "0"
    assert "no longer sends" in states[1]
