"""`find`: what is listed, what to type for it, and what is said when nothing can be used."""

from __future__ import annotations

import pytest
import typer

from whorlpulse.cli.find import find
from whorlpulse.sources import ble, ports
from whorlpulse.sources.ble import CSC_SERVICE, UART_SERVICE, FoundSensor
from whorlpulse.sources.events import SourceUnavailable
from whorlpulse.sources.ports import FoundPort

BOARD = FoundPort("/dev/ttyUSB0", "a board, USB 1209:0001", usb=True, allowed=True)
LOCKED = FoundPort("/dev/ttyUSB1", "a board", usb=True, allowed=False)


def sensor(name: str, *services: str, rssi: int = -60) -> FoundSensor:
    return FoundSensor(name, "AA:BB:CC:00:11:22", rssi, services, "")


def run(
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
    there: list[FoundPort],
    heard: list[FoundSensor] | SourceUnavailable | None,
) -> tuple[int, str]:
    """Run the command with these ports and sensors; None: without Bluetooth. Return exit code and text."""

    async def scan(_: float = 6.0) -> list[FoundSensor]:
        if isinstance(heard, SourceUnavailable):
            raise heard
        assert heard is not None, "sensors were not to be looked for"
        return heard

    monkeypatch.setattr(ports, "find_ports", lambda: there)
    monkeypatch.setattr(ble, "scan", scan)
    code = 0
    try:
        find(ports_only=heard is None, for_text="1 s")
    except typer.Exit as end:
        code = end.exit_code
    return code, capsys.readouterr().out


def test_each_device_has_the_text_to_record_it(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    heard = [
        sensor("lamp", rssi=-20),
        sensor("speed one", CSC_SERVICE, rssi=-70),
        sensor("pulse board", UART_SERVICE, rssi=-50),
        sensor("odd?@name", UART_SERVICE, rssi=-80),
        sensor("", UART_SERVICE, rssi=-90),
    ]
    code, text = run(monkeypatch, capsys, [BOARD], heard)
    assert code == 0
    rows = [line.split("  ")[1].strip() for line in text.splitlines() if line.startswith("  ")]
    assert rows == [
        "serial:/dev/ttyUSB0",
        '"ble:pulse board"',
        '"csc:speed one"',
        "ble:AA:BB:CC:00:11:22",  # a name that cannot be written in a source
        "ble:AA:BB:CC:00:11:22",
        "ble:lamp",  # what may not be a sensor at all goes last, however near it is
    ]
    assert text.rstrip().endswith("--from serial:/dev/ttyUSB0")


def test_a_port_that_may_not_be_opened_brings_the_hint(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    code, text = run(monkeypatch, capsys, [LOCKED], None)
    assert code == 1
    assert "may not be opened" in text
    assert ports.permission_hint() in text
    assert "To record" not in text


def test_nothing_at_all_is_exit_code_1_with_what_to_do(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    code, text = run(monkeypatch, capsys, [], SourceUnavailable("Bluetooth is turned off: turn it on"))
    assert code == 1
    assert "no serial port is there" in text
    assert "Bluetooth is turned off" in text
    assert ports.permission_hint() in text


def test_an_open_port_needs_no_hint(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    code, text = run(monkeypatch, capsys, [BOARD, LOCKED], [])
    assert code == 0
    assert ports.permission_hint() not in text
