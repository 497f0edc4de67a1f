"""The serial source on pseudo-terminals of the system: bytes, losses, coming back, refusals.

A pseudo-terminal stands for a port (pty(7)): closing its other end is the pulled plug, EIO or an empty read, as a
USB adapter's driver gives it.
"""

from __future__ import annotations

import asyncio
import os
import random
import sys
import threading
from collections.abc import Callable, Iterator
from contextlib import aclosing
from pathlib import Path

import pytest
import serial

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "record"))

from pty_board import PtyBoard, lines, plugged

from whorlpulse.sources.answering import answering_port
from whorlpulse.sources.events import Arrived, Connected, Lost, SourceUnavailable
from whorlpulse.sources.inbox import FULL_BYTES
from whorlpulse.sources.opening import open_source
from whorlpulse.sources.ports import UsbIdentity, come_back_as, find_ports, permission_hint
from whorlpulse.sources.reconnect import Backoff, Reconnecting
from whorlpulse.sources.serial import SerialLine, connect_port, open_serial

LIMIT_S = 10.0


@pytest.fixture
def board(tmp_path: Path) -> Iterator[PtyBoard]:
    with plugged(tmp_path / "port") as found:
        yield found


async def read(line: SerialLine, size: int) -> bytes:
    """Return what an open port gives until it is at least so many bytes."""
    data = bytearray()
    while len(data) < size:
        data += (await line.receive()).data
    return bytes(data)


def with_line(board: PtyBoard, use: Callable[[SerialLine], object], *, threaded: bool = False) -> object:
    """Open the board's port, run `use(line)` (a coroutine function) and close it, within bounds."""

    async def run() -> object:
        if threaded:
            device = serial.Serial(str(board.path), 115_200, timeout=0, exclusive=True)
            line = SerialLine(device, str(board.path), threaded=True)
        else:
            line = await connect_port(str(board.path), 115_200)
        try:
            async with asyncio.timeout(LIMIT_S):
                return await use(line)  # type: ignore[misc]
        finally:
            await line.close()

    return asyncio.run(run())


@pytest.mark.parametrize("threaded", [False, True])
def test_every_byte_comes_unaltered(board: PtyBoard, threaded: bool) -> None:
    sent = bytes(range(256)) * 40 + b"\x03\x04\x11\x13\x1a\r\n\0" * 50

    async def use(line: SerialLine) -> bytes:
        talk = asyncio.get_running_loop().run_in_executor(None, board.say, sent)
        got = await read(line, len(sent))
        await talk
        return got

    assert with_line(board, use, threaded=threaded) == sent


@pytest.mark.parametrize("threaded", [False, True])
def test_a_pulled_plug_is_said_once_and_in_words(board: PtyBoard, threaded: bool) -> None:
    async def use(line: SerialLine) -> str:
        board.say(b"w,1\n")
        assert await read(line, 4) == b"w,1\n"
        board.pull()
        with pytest.raises(SourceUnavailable) as first:
            await line.receive()
        with pytest.raises(SourceUnavailable) as again:
            await line.receive()
        assert str(first.value) == str(again.value)
        return str(first.value)

    said = with_line(board, use, threaded=threaded)
    assert isinstance(said, str)
    assert "is gone" in said
    assert "\n" not in said


def test_what_is_sent_reaches_the_board(board: PtyBoard) -> None:
    async def use(line: SerialLine) -> bytes:
        await line.send(b"hello\n")
        await asyncio.sleep(0.05)
        return board.heard()

    assert with_line(board, use) == b"hello\n"


def test_a_reader_that_nobody_empties_stops_at_its_bound(board: PtyBoard) -> None:
    """A stalled disk: memory stays bounded, and what was not read waits in the system; nothing is lost."""
    block = b"".join(lines(3000))
    size = FULL_BYTES + (1 << 20)

    async def use(line: SerialLine) -> int:
        sent = bytearray()

        def talk() -> None:
            while len(sent) < size:
                board.say(block)
                sent.extend(block)

        talking = threading.Thread(target=talk, daemon=True)
        talking.start()
        await asyncio.sleep(0.1)
        while not line._paused:
            await asyncio.sleep(0.02)
        await asyncio.sleep(0.2)  # nothing more comes in now
        held = line._inbox._held
        got = await read(line, size)
        await asyncio.to_thread(talking.join)
        rest = await read(line, len(sent) - len(got))
        assert got + rest == bytes(sent)
        return held

    held = with_line(board, use)
    assert isinstance(held, int)
    assert FULL_BYTES < held <= FULL_BYTES + 65536


def test_a_second_opener_is_refused_in_words(board: PtyBoard) -> None:
    async def use(line: SerialLine) -> str:
        with pytest.raises(SourceUnavailable) as refused:
            await connect_port(str(board.path), 115_200)
        return str(refused.value)

    said = str(with_line(board, use))
    assert "is in use by another program" in said
    assert with_line(board, lambda line: line.send(b"x")) is None  # and is free again


@pytest.mark.parametrize(
    ("make", "says"),
    [
        (lambda p: None, "is not there"),
        (lambda p: p.write_text("no port"), "is not a serial port"),
        (lambda p: p.mkdir(), "cannot be opened: is a directory"),
    ],
)
def test_what_is_no_port_is_refused_in_one_line(tmp_path: Path, make: Callable[[Path], object], says: str) -> None:
    path = tmp_path / "thing"
    make(path)

    async def run() -> None:
        with pytest.raises(SourceUnavailable) as refused:
            await connect_port(str(path), 115_200)
        assert says in str(refused.value)
        assert "\n" not in str(refused.value)

    asyncio.run(run())


def test_a_source_comes_back_and_tells_each_loss(tmp_path: Path) -> None:
    """Ten times plugged and pulled: events alternate, and bytes come between Connected and Lost only."""
    board = PtyBoard(tmp_path / "port")
    board.plug()
    heard: list[bytes] = []

    async def run() -> list[str]:
        source = open_serial(str(board.path), backoff=Backoff(0.01, 1.5, 0.05))
        told: list[str] = []
        async with asyncio.timeout(LIMIT_S), aclosing(source.events()) as events:  # type: ignore[type-var]
            async for event in events:
                if isinstance(event, Connected):
                    told.append("connected")
                    heard.append(b"")
                    board.say(b"w,%d\n" % len(heard))
                elif isinstance(event, Arrived):
                    assert told[-1] == "connected"
                    heard[-1] += event.data
                    if heard[-1].endswith(b"\n"):
                        board.pull()
                elif isinstance(event, Lost):
                    told.append("lost")
                    if len(heard) == 10:
                        break
                    board.plug()
        return told

    assert asyncio.run(run()) == ["connected", "lost"] * 10
    assert heard == [b"w,%d\n" % n for n in range(1, 11)]


def test_the_waits_grow_to_their_bound_and_begin_anew_after_bytes() -> None:
    waits: list[float] = []

    class Dying:
        name = "line"

        def __init__(self, chunks: list[bytes]) -> None:
            self._chunks = chunks

        async def receive(self) -> Arrived:
            if not self._chunks:
                raise SourceUnavailable("gone")
            return Arrived.now(self._chunks.pop())

        async def send(self, data: bytes) -> None: ...

        async def close(self) -> None: ...

    # up with a byte; three refusals; up without a byte; up with one; then the end of the test
    plan: list[list[bytes] | None] = [[b"x"], None, None, None, [], [b"y"], []]

    async def connect() -> Dying:
        step = plan.pop(0)
        if step is None:
            raise SourceUnavailable("not there")
        return Dying(step)

    async def pause(seconds: float) -> None:
        waits.append(round(seconds, 6))

    async def run() -> None:
        source = Reconnecting("line", connect, Backoff(1.0, 2.0, 6.0), pause)
        async with aclosing(source.events()) as events:  # type: ignore[type-var]
            async for _ in events:
                if not plan:
                    return

    asyncio.run(run())
    assert waits == [1.0, 2.0, 4.0, 6.0, 6.0, 1.0]


def test_auto_takes_the_one_port_that_speaks(tmp_path: Path) -> None:
    with plugged(tmp_path / "a") as mute, plugged(tmp_path / "b") as board, plugged(tmp_path / "c") as stranger:
        paths = [str(x.path) for x in (mute, board, stranger)]
        done, told = threading.Event(), []

        def talk() -> None:
            n = 0
            while not done.wait(0.02):
                board.say(lines(1, n)[0])
                stranger.say(b"$GPGGA,092750.000,5321.6802,N*76\r\n")
                told.append(stranger.heard())
                n += 1

        talking = threading.Thread(target=talk, daemon=True)
        talking.start()
        try:
            assert asyncio.run(answering_port(paths, listen_s=0.5)) == paths[1]
            with pytest.raises(SourceUnavailable, match="no board answers"):
                asyncio.run(answering_port([paths[0], paths[2]], listen_s=0.3))
        finally:
            done.set()
            talking.join()
        assert len(told) > 10
        assert b"".join(told) == b""  # a stranger is sent nothing


def test_auto_asks_which_when_two_speak(tmp_path: Path) -> None:
    with plugged(tmp_path / "a") as one, plugged(tmp_path / "b") as two:
        done = threading.Event()

        def talk() -> None:
            while not done.wait(0.02):
                one.say(b"# format: pulses 1\n")
                two.say(b"# format: pulses 1\n")

        talking = threading.Thread(target=talk, daemon=True)
        talking.start()
        try:
            with pytest.raises(SourceUnavailable, match="say which"):
                asyncio.run(answering_port([str(one.path), str(two.path)], listen_s=1.0))
        finally:
            done.set()
            talking.join()


def test_random_bytes_never_make_a_board(tmp_path: Path) -> None:
    noise = random.Random(3).randbytes(4000)
    with plugged(tmp_path / "a") as board:
        done = threading.Event()

        def talk() -> None:
            while not done.wait(0.01):
                board.say(noise[:512])

        talking = threading.Thread(target=talk, daemon=True)
        talking.start()
        try:
            with pytest.raises(SourceUnavailable, match="said no pulse line"):
                asyncio.run(answering_port([str(board.path)], listen_s=0.3))
        finally:
            done.set()
            talking.join()


class _ListedPort:
    """What pyserial lists: the attributes of its documented ListPortInfo."""

    def __init__(self, device: str, serial_number: str | None, location: str | None, vid: int | None = 0x1209) -> None:
        self.device, self.serial_number, self.location, self.vid, self.pid = device, serial_number, location, vid, 1
        self.description, self.manufacturer = "a board\n", "n/a"


def test_a_board_that_comes_back_under_another_number_is_known_again(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    listed = [
        _ListedPort(str(tmp_path / "USB0"), "other", "1-1"),
        _ListedPort(str(tmp_path / "USB2"), "mine", "1-4"),
        _ListedPort(str(tmp_path / "S0"), None, None, vid=None),
    ]
    monkeypatch.setattr("serial.tools.list_ports.comports", lambda: listed)
    gone = str(tmp_path / "USB1")
    assert come_back_as(gone, UsbIdentity(0x1209, 1, "mine", "1-2")) == listed[1].device
    assert come_back_as(gone, UsbIdentity(0x1209, 1, "third", "1-2")) == gone
    assert come_back_as(gone, None) == gone
    listed[1].serial_number = None
    assert come_back_as(gone, UsbIdentity(0x1209, 1, None, "1-4")) == listed[1].device
    assert come_back_as(gone, UsbIdentity(0x1209, 1, None, "1-2")) == gone  # another socket: perhaps another board


def test_ports_are_listed_with_what_is_known(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    there = tmp_path / "USB1"
    there.touch()
    listed = [_ListedPort("/nowhere/S0", None, None, vid=None), _ListedPort(str(there), "77", "1-4")]
    monkeypatch.setattr("serial.tools.list_ports.comports", lambda: listed)
    usb, plain = find_ports()
    assert (usb.path, usb.usb, usb.allowed) == (str(there), True, True)
    assert usb.says == "a board, USB 1209:0001, serial number 77"
    assert (plain.usb, plain.allowed) == (False, False)


@pytest.mark.parametrize(("system", "word"), [("linux", "dialout"), ("darwin", "/dev/cu"), ("win32", "Device Manager")])
def test_each_system_has_its_own_hint(system: str, word: str) -> None:
    assert word in permission_hint(system)


@pytest.mark.parametrize(
    "text", ["", "serial", "serial:", "usb:x", "sim:", "sim:steady@fast", "sim:nothing", "sim:steady@0", "serial:x@0"]
)
def test_a_text_that_names_no_source_is_refused_in_one_line(text: str) -> None:
    with pytest.raises(SourceUnavailable) as refused:
        asyncio.run(open_source(text))
    assert "\n" not in str(refused.value)


def test_sources_are_known_by_their_text(tmp_path: Path) -> None:
    for text, name in (
        ("serial:/dev/x@9600", "serial:/dev/x"),
        ("serial:COM3", "serial:COM3"),
        ("sim:steady@10", "sim:steady@10"),
        ("-", "standard input"),
    ):
        assert asyncio.run(open_source(text)).name == name


@pytest.mark.skipif(os.name != "posix", reason="file descriptors are counted in /dev/fd")
def test_a_hundred_losses_leave_no_descriptor_open(tmp_path: Path) -> None:
    async def run() -> int:
        before = len(os.listdir("/dev/fd"))
        for _ in range(100):
            with plugged(tmp_path / "port") as board:
                line = await connect_port(str(board.path), 115_200)
                board.pull()
                with pytest.raises(SourceUnavailable):
                    await line.receive()
                await line.close()
        return len(os.listdir("/dev/fd")) - before

    assert asyncio.run(run()) <= 1
