"""Each property holds for the kept inputs, and would not if the code lost, doubled or misread something."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).resolve().parent))

from targets import CORPUS, TARGETS

from whorlpulse.importers import recording
from whorlpulse.wire import decoder
from whorlpulse.wire.csc import counts, lines
from whorlpulse.wire.messages import Damaged

KEPT = [(target, path) for target in TARGETS for path in sorted((CORPUS / target).iterdir())]


@pytest.mark.parametrize(("target", "path"), KEPT, ids=[f"{t}-{p.name}" for t, p in KEPT])
def test_kept_input(target: str, path: Path) -> None:
    check = TARGETS[target]  # raises where a property does not hold
    check(path.read_bytes())


def test_the_corpus_is_small_and_each_target_has_one() -> None:
    assert {target for target, _ in KEPT} == set(TARGETS)
    assert sum(path.stat().st_size for _, path in KEPT) < 400_000


def fails(target: str, name: str) -> bool:
    """Whether the property fails for a kept input."""
    try:
        TARGETS[target]((CORPUS / target / name).read_bytes())
    except (AssertionError, ValueError, ZeroDivisionError):
        return True
    return False


def test_a_line_without_its_fate_is_seen(monkeypatch: pytest.MonkeyPatch) -> None:
    judge = decoder.LineJudge.judge

    def forgetful(self, text):
        return [m for m in judge(self, text) if not isinstance(m, Damaged)]

    monkeypatch.setattr(decoder.LineJudge, "judge", forgetful)
    assert fails("decoder", "odd")
    assert fails("decoder", "faults")


def test_a_reader_that_misreads_is_seen(monkeypatch: pytest.MonkeyPatch) -> None:
    from whorlpulse.logfile import bulk

    monkeypatch.setattr(bulk, "_seq_of", lambda stretch, at: None)
    long = b"".join(b"f,%d,%d\n" % (100_000 + i, 100 + i) for i in range(600))
    TARGETS["decoder"](long)
    with pytest.raises(AssertionError):
        TARGETS["log"](long + b"f,200000,900\nf,200001,901\n")


def test_a_log_that_lacks_a_pulse_is_seen(monkeypatch: pytest.MonkeyPatch) -> None:
    lines = recording.log_lines
    monkeypatch.setattr("whorlpulse.actions.convert.log_lines", lambda r: list(lines(r))[:-2])
    assert fails("csv", "lists")


def test_the_faults_that_were_found_would_be_found_again(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(counts.ShaftCount, "_unbelievable", lambda self, added, ticks: "")
    assert fails("csc", "found-count-of-0")
    monkeypatch.undo()

    def at_once(self):
        self._seq = 0
        return []

    monkeypatch.setattr(lines.CscLines, "_number_anew", at_once)
    assert fails("csc", "found-line-repeated")
