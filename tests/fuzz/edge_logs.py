"""Logs at the edges of what numbers can be: made by rule, none is a measurement of anything."""

from __future__ import annotations

from collections.abc import Iterator

LAST = 2**63 - 1
HEAD = "# tick_hz: {hz}\n# tick_bits: {bits}\n# targets: w=1 f=1 b=1 y=1\n# roller: 10 cm\n"


def head(hz: object = 1000000, bits: int = 32) -> str:
    return HEAD.format(hz=hz, bits=bits)


def spun(turns: int, wheel_ticks: float, ratio: int = 6, roller: int = 2, **header: object) -> str:
    """Return a log of `turns` wheel turns of so many ticks, `ratio` flyer pulses in each, now and then a roller's."""
    return head(**header) + "".join(_lines(turns, wheel_ticks, ratio, roller))


def _lines(turns: int, wheel_ticks: float, ratio: int, roller: int) -> Iterator[str]:
    seq = 0
    for i in range(turns):
        yield f"w,{int(i * wheel_ticks)},{seq}\n"
        for j in range(ratio):
            seq += 1
            yield f"f,{int((i + (j + 0.5) / ratio) * wheel_ticks)},{seq}\n"
        if roller and i % roller == 0:
            seq += 1
            yield f"y,{int((i + 0.95) * wheel_ticks)},{seq}\n"
        seq += 1


def _with(line: str, at: int = 300) -> str:
    """Return an ordinary log with one more line somewhere in it."""
    lines = spun(60, 900_000).splitlines(keepends=True)
    return "".join([*lines[:at], line + "\n", *lines[at:]])


def edge_logs() -> dict[str, bytes]:
    """Return the logs by name."""
    logs = {
        "nothing": "",
        "header-only": head(),
        "one-wheel-pulse": head() + "w,5,0\n",
        "one-flyer-pulse": head() + "f,5,0\n",
        "one-of-each": head() + "w,5,0\nf,6,1\nb,7,2\ny,8,3\nk,9,4\nx,10,5,1\n",
        "two-of-each": head() + "w,5\nf,6\nb,7\ny,8\nw,1000005\nf,1000006\nb,1000007\ny,1000008\n",
        "wheel-only": spun(60, 900_000, ratio=0, roller=0),
        "roller-only": head() + "".join(f"y,{i * 300_000},{i}\n" for i in range(200)),
        "bobbin-only": head() + "".join(f"b,{i * 100_000},{i}\n" for i in range(400)),
        "keep-alives-only": head() + "".join(f"k,{i * 1_000_000},{i}\n" for i in range(100)),
        "all-at-tick-0": head() + "".join(f"{'wffffff'[i % 7]},0,{i}\n" for i in range(420)),
        "all-at-the-last-tick": head(bits=64) + "".join(f"{'wffffff'[i % 7]},{LAST},{i}\n" for i in range(420)),
        "ticks-1-apart": head() + "".join(f"{'wffffffy'[i % 8]},{i},{i}\n" for i in range(480)),
        "from-0-to-the-last-tick": head(bits=64) + f"w,0,0\nf,1,1\nw,{LAST - 1},2\nf,{LAST},3\n",
        "spun-at-the-last-ticks": head(bits=64)
        + "".join(f"{'wffffff'[i % 7]},{LAST - (420 - i) * 130_000},{i}\n" for i in range(420)),
        "spread-over-all-ticks": head(bits=64)
        + "".join(f"{'wffffff'[i % 7]},{i * (LAST // 420)},{i}\n" for i in range(420)),
        "last-tick-and-back": head(bits=64) + "".join(f"{'wf'[i % 2]},{(i % 2) * LAST},{i}\n" for i in range(100)),
        "narrowest-clock": spun(60, 900_000).replace("tick_bits: 32", "tick_bits: 1"),
        "coarse-1e12": head() + "".join(f"{'wf'[i % 2]},{i * 500_000},{i},{10**12}\n" for i in range(120)),
        "coarse-last": head() + "".join(f"{'wfy'[i % 3]},{i * 500_000},{i},{LAST}\n" for i in range(120)),
        "one-count-1e12": _with("f,40000000,9999,1000000000000"),
        "one-count-last": _with(f"w,40000000,9999,{LAST}"),
        "roller-count-1e12": _with("y,40000000,9999,1000000000000"),
        "overrun-last": _with(f"x,40000000,9999,{LAST}"),
        "one-last-tick": _with(f"f,{LAST},9999"),
        "one-last-number": _with(f"f,40000000,{LAST}"),
        "clock-1-hz": spun(120, 7, hz=1),
        "clock-1-hz-in-one-second": spun(120, 0.2, hz=1),
        "clock-10-ghz": spun(60, 9e9, hz=10**10, bits=64),
        "clock-10-ghz-wrapping": spun(60, 9e9, hz=10**10, bits=64).replace("tick_bits: 64", "tick_bits: 40"),
        "clock-of-nearly-0": spun(60, 900_000, hz="1e-300"),
        "clock-without-end": spun(60, 900_000, hz="1e300"),
        "clock-nan": spun(60, 900_000, hz="nan"),
        "clock-inf": spun(60, 900_000, hz="inf"),
        "clock-0": spun(60, 900_000, hz="0"),
        "most-targets": spun(60, 900_000).replace("w=1 f=1", "w=4096 f=4096"),
        "impossible-targets": spun(60, 900_000).replace("w=1 f=1", "w=999999 f=999999"),
        "thin-roller": spun(60, 900_000).replace("10 cm", "1.1e-9 m"),
        "thick-roller": spun(60, 900_000).replace("10 cm", "9e11 m"),
        "roller-0": spun(60, 900_000).replace("10 cm", "0 cm"),
        "roller-nan": spun(60, 900_000).replace("10 cm", "nan cm"),
        "lengths-of-0": spun(60, 900_000, roller=0) + "# length: 1 0\n# length: 40000000 0\n# length: 50000000 0 m\n",
        "length-of-nearly-0": spun(60, 900_000, roller=0) + "# length: 1 0\n# length: 50000000 2e-9 m\n",
        "length-without-end": spun(60, 900_000, roller=0) + "# length: 1 0\n# length: 50000000 9e11 m\n",
        "length-beyond-numbers": spun(60, 900_000, roller=0) + "# length: 1 0\n# length: 50000000 1e308 m\n",
        "length-nan": spun(60, 900_000, roller=0) + "# length: 1 0\n# length: 50000000 nan m\n",
        "length-at-the-last-tick": spun(60, 900_000, roller=0) + f"# length: 1 0\n# length: {LAST} 3 m\n",
        "mark-at-the-last-tick": _with(f"# mark: {LAST} here"),
        "syncs-at-one-tick": _with("# sync: 1700000000 5\n# sync: 1700000100 5\n# sync: 1600000000 5"),
        "sync-beyond-numbers": _with("# sync: 1e308 5\n# sync: -1e308 40000000\n# sync: 1e-308 40000001"),
        "syncs-far-apart": _with(f"# sync: 1700000000 0\n# sync: 1700000001 {LAST}"),
        "clock-tie-large": _with("# clock-tie: w 999999\n# clock-tie: f 999999"),
        "fast-as-can-be": spun(300, 10),
        "slow-as-can-be": spun(60, 5e12, bits=64),
        "half-still": spun(30, 900_000) + f"w,{2**31},9000\n" + "".join(f"f,{2**31},{9001 + i}\n" for i in range(60)),
    }  # fmt: skip
    return {name: text.encode() for name, text in logs.items()}
