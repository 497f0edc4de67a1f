"""A message bus of the tests' own, in the place of the system's."""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from tools import require_tool

CONFIG = """<busconfig><type>session</type><listen>unix:dir={folder}</listen><auth>EXTERNAL</auth>
<policy context="default">
<allow send_destination="*" eavesdrop="true"/><allow eavesdrop="true"/><allow own="*"/>
</policy>
</busconfig>"""


@pytest.fixture
def bus(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[str]:
    """The address of a private bus; everything in this test takes it for the system's."""
    if not sys.platform.startswith("linux"):
        pytest.skip("bleak's Linux backend is tested on Linux")
    daemon = require_tool("dbus-daemon")
    config = tmp_path / "bus.conf"
    config.write_text(CONFIG.format(folder=tmp_path))
    command = [daemon, "--nofork", "--print-address", f"--config-file={config}"]
    with subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True) as process:
        assert process.stdout is not None
        address = process.stdout.readline().strip()
        assert address.startswith("unix:")
        monkeypatch.setenv("DBUS_SYSTEM_BUS_ADDRESS", address)
        try:
            yield address
        finally:
            process.terminate()
            process.wait(5)
