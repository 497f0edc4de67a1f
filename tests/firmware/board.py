"""The reference firmware on its simulated board: edges at exact moments in, decoded lines out.

Times are in microseconds of the simulated processor, on a grid of 1/16 (one cycle at 16 MHz).
"""

from __future__ import annotations

import asyncio
import subprocess
from collections.abc import Iterable
from dataclasses import dataclass, field
from pathlib import Path

from whorlpulse.sources.serial import SerialLine, connect_port
from whorlpulse.wire import Damaged, Decoder, Gap, Message, Meta, Pulse

HERE = Path(__file__).resolve().parent
NOTES = HERE.parents[1] / "firmware-notes"
AVR_SOURCE = NOTES / "reference" / "atmega328p"

CYCLES_PER_US = 16
#: Sensor pins on port D, as wiring.md gives them.
PINS = {"w": 2, "f": 3, "b": 4, "y": 5}
#: The greeting takes 17 ms at 115200 baud; nothing is planned before this.
AWAKE_US = 50_000.0
SHAFTS = "wfby"


def build(source: Path, out: Path, **variables: str) -> Path:
    """Build the firmware by its own Makefile and return the path of the ELF file."""
    given = [f"{name}={value}" for name, value in variables.items()]
    ran = subprocess.run(
        ["make", "-s", "-C", str(source), f"BUILD={out}", *given], capture_output=True, text=True, check=False
    )
    assert ran.returncode == 0, ran.stderr
    return out / "board.elf"


class Port:
    """The board's port, through the project's own serial source; its event loop runs only while a test waits."""

    def __init__(self, path: str, patience_s: float = 5.0) -> None:
        self._loop = asyncio.new_event_loop()
        self._patience_s = patience_s
        self._line: SerialLine = self._loop.run_until_complete(connect_port(path, 115_200))
        self._ahead = bytearray()

    def read(self, size: int) -> bytes:
        """Return exactly `size` bytes that the board has already sent; the one place where a test reads a port."""
        self._loop.run_until_complete(self._fill(size))
        data, self._ahead = bytes(self._ahead[:size]), self._ahead[size:]
        return data

    def write(self, data: bytes) -> None:
        """Send bytes to the board."""
        self._loop.run_until_complete(self._line.send(data))

    def close(self) -> None:
        self._loop.run_until_complete(self._line.close())
        self._loop.run_until_complete(self._loop.shutdown_default_executor())
        self._loop.close()

    async def _fill(self, size: int) -> None:
        try:
            while len(self._ahead) < size:
                async with asyncio.timeout(self._patience_s):
                    self._ahead += (await self._line.receive()).data
        except TimeoutError:
            raise AssertionError(f"the port went silent {size - len(self._ahead)} bytes early") from None


@dataclass
class Heard:
    """What came down the line, as raw bytes and as decoded messages in order."""

    raw: bytes = b""
    messages: list[Message] = field(default_factory=list)

    def pulses(self, channels: str = SHAFTS) -> list[Pulse]:
        return [m for m in self.messages if isinstance(m, Pulse) and m.channel in channels]

    def ticks(self, channel: str) -> list[int]:
        return [m.tick for m in self.pulses(channel)]

    def meta(self) -> dict[str, str]:
        return {m.key: m.value for m in self.messages if isinstance(m, Meta)}

    def gap_lines(self) -> int:
        return sum(m.lines for m in self.messages if isinstance(m, Gap))

    def overrun_pulses(self) -> int:
        return sum(m.count for m in self.pulses("x"))

    def damaged(self) -> list[Damaged]:
        return [m for m in self.messages if isinstance(m, Damaged)]


class Bench:
    """A board on the bench, with a host that reads its port through the project's own serial source."""

    def __init__(self, program: Path, elf: Path) -> None:
        self._process = subprocess.Popen(
            [program, elf], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True, bufsize=1 << 16
        )
        self._read = 0
        self._written = 0
        self._decoder = Decoder()
        self._planned: list[tuple[int, int, int]] = []
        self._port = Port(self._terminal())

    def __enter__(self) -> Bench:
        return self

    def __exit__(self, *_: object) -> None:
        self._port.close()
        assert self._process.stdin is not None
        assert self._process.stdout is not None
        self._process.stdin.close()
        self._process.wait(timeout=10)
        self._process.stdout.close()

    def plan(self, pulses: Iterable[tuple[float, str]], *, width_us: float = 400.0) -> None:
        """Let a target come to each named channel at its time and stay for `width_us`."""
        half = [
            (round(at * CYCLES_PER_US) + later, PINS[channel], level)
            for at, channel in pulses
            for later, level in ((0, 0), (round(width_us * CYCLES_PER_US), 1))
        ]
        self._planned += half

    def run(self, until_us: float) -> Heard:
        """Let the board run until then and return everything that it sent meanwhile."""
        until = round(until_us * CYCLES_PER_US)
        now = sorted(edge for edge in self._planned if edge[0] <= until)
        self._planned = [edge for edge in self._planned if edge[0] > until]
        self._order("".join(f"edge {cycle} {pin} {level}\n" for cycle, pin, level in now) + f"run {until}\n")
        return self._hear()

    def say(self, line: bytes) -> None:
        """Write bytes to the board's port; they travel at the line's rate during the next run."""
        self._written += len(line)
        self._port.write(line)
        self._order(f"await {self._written}\n")
        self._answer()

    def reset(self) -> None:
        """Pull the reset pin."""
        self._order("reset\n")
        self._answer()

    def lamp(self) -> bool:
        """Whether the board's lamp is lit."""
        self._order("lamp\n")
        return self._line() == "1"

    def _terminal(self) -> str:
        while not (line := self._line()).startswith("terminal "):
            pass  # the simulator reports what it loads
        return line.removeprefix("terminal ")

    def _order(self, text: str) -> None:
        assert self._process.stdin is not None
        self._process.stdin.write(text)
        self._process.stdin.flush()

    def _line(self) -> str:
        assert self._process.stdout is not None
        line = self._process.stdout.readline()
        assert line, f"the bench stopped with status {self._process.wait(timeout=10)}"
        return line.rstrip("\n")

    def _answer(self) -> int:
        ok, _cycle, sent = self._line().split()
        assert ok == "ok"
        return int(sent)

    def _hear(self) -> Heard:
        sent = self._answer()
        raw = self._port.read(sent - self._read)
        self._read = sent
        return Heard(raw, self._decoder.feed(raw))
