"""CSV in its many dresses; pandas writes some of the files."""

from __future__ import annotations

import numpy as np
import pandas
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.importers.signals import noisy, ramped, refusal

from whorlpulse.importers import NothingFound, Unreadable
from whorlpulse.importers.csv import from_csv

WHEEL = [0.25, 1.25, 2.5, 3.5]
FLYER = [0.1, 0.3, 0.55, 0.7, 0.9, 1.1, 1.35]
LEVELS = b"time_s,wheel,flyer\n0,0,0\n0.1,0,1\n0.2,0,0\n0.25,1,0\n0.3,1,1\n0.4,0,0\n0.55,0,1\n"


def seconds(recording, letter):
    return (recording.tick[recording.channel == ord(letter)] / recording.tick_hz).tolist()


def events(separator=",", scale=1.0, header="t [s];shaft", point=".", digits=3):
    rows = sorted([(t, "w") for t in WHEEL] + [(t, "f") for t in FLYER])
    lines = [f"{t * scale:.{digits}f}".replace(".", point) + separator + c for t, c in rows]
    return "\n".join([header.replace(";", separator), *lines] if header else lines).encode()


@pytest.mark.parametrize("separator", [",", ";", "\t", "|", " "])
@pytest.mark.parametrize("header", ["", "t;shaft"])
def test_event_rows(separator, header):
    found = from_csv(events(separator, header=header))
    assert seconds(found, "w") == WHEEL
    assert seconds(found, "f") == FLYER
    assert found.watched is None


@pytest.mark.parametrize(
    ("header", "scale", "digits", "said"),
    [
        ("time [ms];shaft", 1e3, 1, "in ms (by the name)"),
        ("time_us;shaft", 1e6, 0, "in us (by the name)"),
        ("Time (ns);shaft", 1e9, 0, "in ns (by the name)"),
        ("time;shaft", 1.0, 3, "in s (guessed)"),
        ("time;shaft", 1e3, 0, "in ms (guessed)"),
        ("time;shaft", 1e6, 0, "in us (guessed)"),
        ("", 1e9, 0, "in ns (guessed)"),
    ],
)
def test_the_unit_is_told_or_guessed_and_said(header, scale, digits, said):
    found = from_csv(events(scale=scale, header=header, digits=digits))
    assert seconds(found, "w") == WHEEL
    assert said in " ".join(found.notes)


def test_the_unit_asked_for_wins():
    assert seconds(from_csv(events(header="time_s;shaft", scale=1e3), unit="ms"), "w") == WHEEL


def test_decimal_commas_and_a_byte_order_mark():
    found = from_csv(b"\xef\xbb\xbf" + events(";", point=","))
    assert seconds(found, "f") == FLYER
    assert "decimal comma" in " ".join(found.notes)
    assert seconds(from_csv(events(";", point=",").decode().encode("utf-16")), "f") == FLYER


def test_counts_of_several():
    found = from_csv(b"time_s,shaft,count\n1,w,1\n1.5,f,6\n2,w,1\n2.5,f,7\n")
    assert found.count.tolist() == [1, 6, 1, 7]


def test_levels_by_their_header():
    found = from_csv(LEVELS)
    assert seconds(found, "w") == [0.25]
    assert seconds(found, "f") == [0.1, 0.3, 0.55]
    assert found.watched == (0, 550_000)


def test_levels_that_fall():
    found = from_csv(LEVELS, falling=True)
    assert seconds(found, "w") == [0.4]
    assert seconds(found, "f") == [0.2, 0.4]


def test_columns_as_told_by_name_or_number():
    for columns in ({"w": "flyer", "f": "wheel"}, {"w": "3", "f": "2"}):
        assert seconds(from_csv(LEVELS, columns), "w") == [0.1, 0.3, 0.55]


def test_words_and_holes_are_levels_too():
    text = b"Time;A;B\n0,0;low;off\n0,1;high;\n0,2;;on\n0,3;low;on\n0,4;HIGH;off\n"
    found = from_csv(text)
    assert seconds(found, "w") == [0.1, 0.4]
    assert seconds(found, "f") == [0.2]
    assert "guessed from their order: w from 'A'" in " ".join(found.notes)


def test_sampled_volts_are_placed_between_the_rows():
    """10 kHz samples of a 2 ms ramp at 40 dB: one row is 100 us, the bar is a twentieth of it."""
    rng = np.random.default_rng(4)
    t_s = np.arange(60_000) / 10_000
    wheel = np.arange(0.5, 5.5, 0.9371)
    volts = 3.3 * noisy(ramped(t_s, wheel, 2e-3, 0.03), rng, 40)
    frame = pandas.DataFrame({"Time (s)": t_s, "wheel [V]": volts})
    found = from_csv(frame.to_csv(index=False).encode())
    assert seconds(found, "w") == pytest.approx(wheel.tolist(), abs=15e-6)
    assert np.std(np.array(seconds(found, "w")) - wheel) < 8e-6


def test_a_column_of_times_for_each_shaft():
    frame = pandas.DataFrame({"wheel_ms": pandas.Series(WHEEL) * 1000, "flyer_ms": pandas.Series(FLYER) * 1000})
    found = from_csv(frame.to_csv(index=False).encode())
    assert seconds(found, "w") == WHEEL
    assert seconds(found, "f") == FLYER


def test_dates_with_a_time_of_day_as_pandas_writes_them():
    stamps = pandas.Timestamp("2026-03-01 18:30:00") + pandas.to_timedelta(sorted(WHEEL), unit="s")
    text = pandas.DataFrame({"when": stamps, "shaft": "wheel"}).to_csv(index=False).encode()
    found = from_csv(text)
    assert seconds(found, "w") == WHEEL
    # 1772389800: seconds from 1970 to that evening, by pandas
    assert f"tick 0 is {int(pandas.Timestamp('2026-03-01 18:30:00').timestamp())} s" in " ".join(found.notes)


def test_seconds_since_1970_keep_their_microseconds():
    found = from_csv(b"unix,shaft\n1772389800.000001,w\n1772389801.000003,w\n1772389802.000007,w\n")
    assert found.tick.tolist() == [1, 1_000_003, 2_000_007]


def test_rows_out_of_order_and_rows_that_say_nothing():
    found = from_csv(b"time_s,shaft\n1.0,w\n0.5,f\nnoise,w\n2.0,\n2.0,w\n3.0,f\n")
    assert seconds(found, "w") == [1.0, 2.0]
    assert seconds(found, "f") == [0.5, 3.0]
    said = " ".join(found.notes)
    assert "2 rows that can't be read were left out, the first is line 4" in said
    assert "not in order of time" in said


@pytest.mark.parametrize(
    ("text", "asked", "says"),
    [
        (b"", {}, "has no rows"),
        (b"# only\n", {}, "has no rows"),
        (b"a\0b,c\n", {}, "no text"),
        (b"name,colour\nx,red\ny,blue\n", {}, "no column of times"),
        (LEVELS, {"times_in": "when"}, "no column 'when'"),
        (LEVELS, {"columns": {"w": "hall"}}, "no column 'hall'"),
        (LEVELS + b"0.2,0,0\n", {}, "line 9: the time goes back"),
        (b"time,a,b,c\n0,1,1,1\n1,0,1,0\n2,1,0,1\n", {}, "no column for a shaft"),
        (b"time,wheel 1,wheel 2\n0,0,0\n1,1,1\n2,0,0\n", {}, "two columns for w"),
        (b"time,wheel\n0,red\n1,green\n2,blue\n", {}, "no levels"),
    ],
)
def test_what_cannot_be_read_says_why(text, asked, says):
    with pytest.raises(Unreadable, match=says):
        from_csv(text, **asked)


def test_levels_that_never_change():
    with pytest.raises(NothingFound, match="no level changes"):
        from_csv(b"time,wheel\n0,0\n1,0\n2,0\n3,0\n")


CELL = st.sampled_from(
    ["0", "1", "0.5", "1,5", "w", "f", "wheel", "time_s", "", '"', "x", "1e400", "2026-13-01T00:00:00"]
)


@settings(max_examples=300, deadline=None)
@given(st.lists(st.lists(CELL, max_size=4), max_size=8), st.sampled_from([",", ";", "\t", " "]))
def test_any_cells_are_safe(rows, separator):
    assert "\n" not in refusal(lambda: from_csv("\n".join(separator.join(row) for row in rows).encode()))


@settings(max_examples=200, deadline=None)
@given(st.binary(max_size=80))
def test_any_bytes_are_safe(data):
    assert "\n" not in refusal(lambda: from_csv(data))
