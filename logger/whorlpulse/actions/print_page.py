"""A page to a PDF, by an installed Chromium-like browser without a window; it reads one local file and nothing else."""

from __future__ import annotations

import os
import shutil
import subprocess
import tempfile
from pathlib import Path
from typing import Final

from whorlpulse.findings.catalogue.page import ERRORS
from whorlpulse.sources.files import SourceError

#: Programs that understand --headless and --print-to-pdf, by the names under which they are installed.
_BROWSERS: Final = (
    *("chromium", "chromium-browser", "google-chrome-stable", "google-chrome", "chrome", "brave-browser"),
    *("microsoft-edge", "msedge", "vivaldi"),
)
_IN_FOLDERS: Final = (
    "/Applications/Chromium.app/Contents/MacOS/Chromium",
    "/Applications/Google Chrome.app/Contents/MacOS/Google Chrome",
    "/Applications/Microsoft Edge.app/Contents/MacOS/Microsoft Edge",
    "C:/Program Files/Google/Chrome/Application/chrome.exe",
    "C:/Program Files (x86)/Microsoft/Edge/Application/msedge.exe",
)
_OPTIONS: Final = (
    *("--headless", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking"),
    *("--disable-component-update", "--disable-sync", "--disable-extensions", "--no-pdf-header-footer"),
)
_TIMEOUT_S: Final = 90.0


def browser() -> str | None:
    """Return the program that prints, the one named in WHORLPULSE_BROWSER first; None when there is none."""
    named = os.environ.get("WHORLPULSE_BROWSER")
    if named:
        return shutil.which(named)
    found = next((path for name in _BROWSERS if (path := shutil.which(name))), None)
    return found or next((path for path in _IN_FOLDERS if Path(path).is_file()), None)


def print_page(html: str) -> bytes:
    """Return the page as PDF; SourceError, one line, where no browser is there or it makes none."""
    program = browser()
    if program is None:
        raise SourceError(ERRORS["no-browser"])
    with tempfile.TemporaryDirectory(prefix="whorlpulse-") as folder:
        page, made = Path(folder) / "page.html", Path(folder) / "page.pdf"
        page.write_text(html, encoding="utf-8")
        options = [*_OPTIONS, f"--user-data-dir={folder}/profile", f"--print-to-pdf={made}"]
        if hasattr(os, "geteuid") and os.geteuid() == 0:  # as root it starts in no other way
            options.append("--no-sandbox")
        why = _run([program, *options, page.as_uri()])
        if not made.is_file() or not (data := made.read_bytes()).startswith(b"%PDF"):
            raise SourceError(ERRORS["browser-failed"].format(browser=Path(program).name, why=why))
        return data


def _run(words: list[str]) -> str:
    """Run the browser and return, should there be no PDF, what it has to say of it."""
    try:
        ran = subprocess.run(words, capture_output=True, text=True, errors="replace", timeout=_TIMEOUT_S, check=False)
    except subprocess.TimeoutExpired:
        return f"it took more than {_TIMEOUT_S:.0f} s"
    except OSError as fault:
        return (fault.strerror or type(fault).__name__).lower()
    said = [line for line in ran.stderr.splitlines() if line.strip()]
    return said[-1][:120] if said else f"exit code {ran.returncode}"
