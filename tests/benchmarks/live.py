"""What the live view costs: `python tests/benchmarks/live.py [engine|one|many|day]`, all of them without a word.

engine: processor time for each pulse at 500 pulses/s in chunks of 10, all of the room but the server.
one: the command's process with one board at 60 pulses/s and one viewer; many: 12 boards and 30 viewers.
day: 24 simulated hours, sped up: the memory that the live view's process has in use, hour by hour, and its totals
against the `ratio` and `cadence` commands on the recorded log.
"""

from __future__ import annotations

import asyncio
import json
import multiprocessing
import os
import socket
import subprocess
import sys
import tempfile
import time
import tty
from collections.abc import AsyncIterator
from pathlib import Path
from urllib.parse import urlsplit

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "live"))

from live_process import Live
from rooms import wheel

if __package__:
    from tests.benchmarks.measuring import Bar
else:
    from measuring import Bar

from whorlpulse.actions.live_counts import LiveCounts
from whorlpulse.actions.live_room import LiveRoom
from whorlpulse.simulate import scenario, simulate
from whorlpulse.sources.events import Arrived, Connected, Event
from whorlpulse.wire import encode_pulse


class Paced:
    """A source of `rate` pulses a second in chunks of `size`: ten flyer pulses to one of the wheel."""

    name = "paced"

    def __init__(self, rate: float, size: int, seconds: float) -> None:
        self._rate, self._size, self._seconds = rate, size, seconds

    async def events(self) -> AsyncIterator[Event]:
        began_s = time.monotonic()
        yield Connected.now(self.name)
        for k in range(int(self._rate * self._seconds / self._size)):
            await asyncio.sleep(max(began_s + k * self._size / self._rate - time.monotonic(), 0.0))
            chunk = [_line(i, self._rate) for i in range(k * self._size, (k + 1) * self._size)]
            yield Arrived.now(b"".join(chunk))

    async def send(self, data: bytes) -> None:
        return


def _line(i: int, rate: float) -> bytes:
    return encode_pulse("w" if i % 11 == 0 else "f", round(i * 1e6 / rate), i % 65536)


def engine_us(rate: float = 500.0, seconds: float = 30.0) -> tuple[float, float, int]:
    """Return the processor time of a whole room a pulse, what makes the pulses taken off; that; and the pulses."""
    with tempfile.TemporaryDirectory() as folder:

        async def run() -> tuple[float, int]:
            from whorlpulse.actions.live_window import measure_window  # noqa: F401 - loaded before the watch starts

            room = LiveRoom([wheel(Paced(rate, 10, seconds), Path(folder) / "log")])
            stop, running = asyncio.Event(), None
            began = time.process_time()
            running = asyncio.ensure_future(room.run(stop))
            await asyncio.sleep(seconds - 0.5)
            used = time.process_time() - began
            rows = room.wheels["1"].figures.rows_seen
            stop.set()
            await running
            return used, rows

        used, rows = asyncio.run(run())
        began = time.process_time()

        async def source_alone() -> None:
            async for _ in Paced(rate, 10, seconds / 3).events():
                pass

        asyncio.run(source_alone())
        own = (time.process_time() - began) * 3
    return 1e6 * (used - own) / rows, 1e6 * own / rows, rows


def engine(rate: float = 500.0) -> None:
    """Say what a pulse costs the whole room."""
    each, own, rows = engine_us(rate)
    print(
        f"engine: {each:.1f} µs a pulse at {rate:.0f} pulses/s in chunks of 10 ({rows} pulses); "
        f"what makes the pulses takes {own:.1f}; counting them back to back {counting():.1f}; "
        f"load of the machine {os.getloadavg()[0]:.1f}"
    )


def bars() -> list[Bar]:
    """Return the line of the table."""
    return [Bar("`live`, all but the server: processor time of a pulse, 500 pulses/s", engine_us()[0], "µs", 20.0)]


def counting(pulses: int = 50_000) -> float:
    """Microseconds a pulse that `LiveCounts` takes when nothing else comes between."""
    chunks = [b"".join(_line(i, 500.0) for i in range(k, k + 10)) for k in range(0, pulses, 10)]
    counts, began = LiveCounts(), time.process_time()
    for chunk in chunks:
        counts.take(chunk, 0.0, 0.0)
    return 1e6 * (time.process_time() - began) / pulses


def boards(count: int, rate: float, seconds: float, ports: multiprocessing.Queue[list[str]]) -> None:
    """Boards on pseudo-terminals, each sending one line at a time."""
    masters, names = [], []
    for _ in range(count):
        master, slave = os.openpty()
        tty.setraw(slave)
        os.set_blocking(master, False)
        masters.append(master)
        names.append(os.ttyname(slave))
    ports.put(names)
    began_s = time.monotonic()
    for i in range(int(rate * seconds)):
        for k, master in enumerate(masters):
            rest_s = began_s + (i + k / count) / rate - time.monotonic()
            if rest_s > 0:
                time.sleep(rest_s)
            try:
                os.write(master, _line(i, rate))
            except BlockingIOError:
                continue


def viewers(link: str, count: int, seconds: float, got: multiprocessing.Queue[list[int]]) -> None:
    """Viewers that read all that comes; puts how many documents each got."""
    place = urlsplit(link)
    assert place.hostname is not None
    assert place.port is not None
    host = f"{place.hostname}:{place.port}"
    first = socket.create_connection((place.hostname, place.port))
    first.sendall(f"GET /?{place.query} HTTP/1.1\r\nHost: {host}\r\nConnection: close\r\n\r\n".encode())
    answer = b""
    while piece := first.recv(65536):
        answer += piece
    cookie = answer.split(b"set-cookie: ")[1].split(b";")[0].decode()

    async def watch() -> int:
        reader, writer = await asyncio.open_connection(place.hostname, place.port)
        writer.write(f"GET /changes HTTP/1.1\r\nHost: {host}\r\nCookie: {cookie}\r\n\r\n".encode())
        documents, ends = 0, time.monotonic() + seconds
        while time.monotonic() < ends:
            try:
                documents += (await asyncio.wait_for(reader.read(1 << 16), 1.0)).count(b"data: {")
            except TimeoutError:
                continue
        writer.close()
        return documents

    async def all_of_them() -> list[int]:
        return list(await asyncio.gather(*[watch() for _ in range(count)]))

    got.put(asyncio.run(all_of_them()))


def served(count: int, watching: int, seconds: float = 40.0, rate: float = 60.0) -> None:
    """Processor time of the command's process, and of it with the processes that it starts."""
    spawn = multiprocessing.get_context("spawn")
    ports: multiprocessing.Queue[list[str]] = spawn.Queue()
    got: multiprocessing.Queue[list[int]] = spawn.Queue()
    sending = spawn.Process(target=boards, args=(count, rate, seconds + 20.0, ports))
    sending.start()
    words = [word for port in ports.get() for word in ("--from", f"serial:{port}")]
    with Live(*words) as live:
        looking = spawn.Process(target=viewers, args=(live.link, watching, seconds + 3.0, got))
        looking.start()
        time.sleep(3.0)
        began_s, began, began_all = time.monotonic(), live.processor_s(), live.processor_s(with_children=True)
        time.sleep(seconds)
        took_s = time.monotonic() - began_s
        share = 100 * (live.processor_s() - began) / took_s
        whole = 100 * (live.processor_s(with_children=True) - began_all) / took_s
        documents = got.get()
        looking.join()
        memory = live.resident_mb()
        live.stop()
    sending.kill()
    print(
        f"{count} wheels at {rate:.0f} pulses/s, {watching} viewers: server {share:.1f} % of a core, with the process "
        f"for totals {whole:.1f} %; load of the machine {os.getloadavg()[0]:.1f}; "
        f"{np.mean(documents) / (seconds + 3):.1f} documents/s a viewer; {memory:.0f} MB"
    )


class Day:
    """A simulated hour over and over, its clock running on, as fast as it is taken."""

    name = "day"
    speed = 1.0
    brings_sync = True

    def __init__(self, hours: float) -> None:
        self._lines = [x for x in simulate(scenario("long-hour"), 1).log.splitlines(True) if x[:1] in b"wfybk"]
        self._head = [x for x in simulate(scenario("long-hour"), 1).log.splitlines(True) if x[:1] == b"#"]
        self._hours = hours
        self.hour_done = asyncio.Event()
        self.hours = 0.0

    async def events(self) -> AsyncIterator[Event]:
        yield Connected.now(self.name)
        yield Arrived.now(b"".join(x for x in self._head if not x.startswith((b"# sync", b"# tick_bits"))))
        fields = [line.split(b"*")[0].split(b",") for line in self._lines]
        ticks = [int(f[1]) for f in fields]
        start, seq = 0, 0
        for _ in range(round(self._hours)):
            out, before, tick = [], ticks[0], 0
            for field, raw in zip(fields, ticks, strict=True):
                tick += (raw - before) % 2**32
                before = raw
                out.append(encode_pulse(field[0].decode(), (start + tick) % 2**32, seq % 65536))
                seq += 1
                if len(out) == 40:
                    yield Arrived.now(b"".join(out))
                    out = []
                    await asyncio.sleep(0.0005)
            yield Arrived.now(b"".join(out))
            start += tick + 1_000_000
            self.hours += 1.0

    async def send(self, data: bytes) -> None:
        return


def day(hours: float = 24.0) -> None:
    """Memory by the hour, of a process that does nothing else; totals against the commands."""
    with tempfile.TemporaryDirectory() as folder:
        log = Path(folder) / "day.pulses"
        source = Day(hours)

        async def run() -> list[float]:
            room, memory = LiveRoom([wheel(source, log)]), []
            running = asyncio.ensure_future(room.run(asyncio.Event()))

            async def viewer() -> None:
                async for _ in room.changes():
                    pass

            looking = asyncio.ensure_future(viewer())
            done = 0.0
            while not running.done():
                await asyncio.sleep(0.05)
                if source.hours > done:
                    done = source.hours
                    memory.append(_resident_mb())
            await running
            room.close()
            await looking
            totals = json.loads(room.whole())["wheels"][0]["totals"]
            for command, key in (("ratio", "ratio"), ("cadence", "cadence")):
                ran = subprocess.run(
                    [sys.executable, "-m", "whorlpulse", command, str(log), "--json"], capture_output=True, check=True
                )
                said = json.loads(ran.stdout)
                value, live = (said.get("ratio") or said.get("cadence_per_min"))["value"], totals[key]["value"]
                print(f"  {command}: live {live!r}, command {value!r}, equal: {live == value}")
            return memory

        began_s = time.monotonic()
        memory = asyncio.run(run())
        size = log.stat().st_size / 1e6
    print(
        f"day: {hours:.0f} h in {time.monotonic() - began_s:.0f} s, log {size:.0f} MB; in use after each hour "
        f"{memory[0]:.0f} … {memory[-1]:.0f} MB, growth from the second hour on {memory[-1] - memory[1]:.1f} MB"
    )


def _resident_mb() -> float:
    return int(Path("/proc/self/statm").read_text().split()[1]) * os.sysconf("SC_PAGE_SIZE") / 1e6


def main() -> None:
    wanted = sys.argv[1:] or ["engine", "one", "many", "day"]
    for name in wanted:
        {"engine": engine, "one": lambda: served(1, 1), "many": lambda: served(12, 30), "day": day}[name]()


if __name__ == "__main__":
    main()
