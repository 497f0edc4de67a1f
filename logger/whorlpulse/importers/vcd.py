"""VCD, the value change dump of IEEE Std 1364: what logic analysers write. Tokens by the library pyvcd."""

from __future__ import annotations

import io
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from typing import Final

import numpy as np
from vcd.reader import ScalarChange, Token, TokenKind, VarDecl, VCDParseError, VectorChange, tokenize

from whorlpulse.importers.names import by_name, listed, told
from whorlpulse.importers.recording import NothingFound, Recording, Unreadable, merged

#: The standard knows 1, 10 and 100 units; what else is a length of time is taken, too.
_LONGEST_SCALE: Final = 1_000_000
_UNITS_PER_S: Final = {"s": 1, "ms": 10**3, "us": 10**6, "ns": 10**9, "ps": 10**12, "fs": 10**15}
_LIMIT: Final = 2**63
#: IEEE 1364 knows 0, 1, x and z; weak levels (L, H) come from hardware described in VHDL.
_LEVEL: Final = {"0": 0, "1": 1, "l": 0, "h": 1}


@dataclass(frozen=True)
class _Variable:
    """A declared variable: full name with its scopes, identifier code, size in bits, number of its last bit."""

    name: str
    code: str
    size: int
    bits: tuple[int, int]


@dataclass
class _Watched:
    """One bit that carries a shaft: its last known level and the ticks at which it came to the target's level."""

    letter: str
    offset: int
    size: int
    level: int | None = None
    ticks: list[int] = field(default_factory=list)

    def take(self, tick: int, bits: str, target: int) -> None:
        level = _LEVEL.get(_bit(bits, self.offset, self.size))
        if level is None:
            return  # unknown or floating: the last known level holds
        if level == target and self.level == 1 - target:
            self.ticks.append(tick)
        self.level = level


def from_vcd(data: bytes, signals: Mapping[str, str] | None = None, *, falling: bool = False) -> Recording:
    """Return the pulses of a VCD file: an edge to the target's level, from the other one, is a pulse.

    signals: {letter: signal}, a signal by its name with or without its scopes, one bit of a bus as `bus[3]`; None:
    by name. falling: the target pulls its line down. One time unit of the file is one tick.
    Raises Unreadable for what is no VCD file or has no such signal, NothingFound for no edge.
    """
    tokens = _tokens(data)
    tick_hz, variables = _declarations(tokens)
    mapping = _mapping(variables, signals)
    watched = {letter: _watched(letter, name, variables) for letter, name in mapping.items()}
    by_code: dict[str, list[_Watched]] = {}
    for code, one in watched.values():
        by_code.setdefault(code, []).append(one)
    first, last = _follow(tokens, by_code, 0 if falling else 1)
    found = {letter: np.array(one.ticks, np.int64) for letter, (_, one) in watched.items()}
    if not any(len(t) for t in found.values()):
        raise NothingFound(f"no signal changes to the target's level: looked at {told(mapping)}")
    notes = [
        f"signals {'as told' if signals else 'guessed by name'}: {told(mapping)}; "
        f"a target {'pulls its line down' if falling else 'lifts its line'}",
        f"tick_hz {tick_hz:g} from the file's timescale",
    ]
    return merged(tick_hz, found, notes, (first, last))


def _tokens(data: bytes) -> Iterator[Token]:
    """Yield the file's tokens; whatever the parser says of bad bytes becomes Unreadable."""
    tokens = tokenize(io.BytesIO(data))
    while True:
        try:
            token = next(tokens)
        except (StopIteration, EOFError):
            return
        except VCDParseError as bad:
            raise Unreadable(f"line {bad.loc.line}: is no valid VCD there: export it again") from None
        except (ValueError, IndexError, KeyError, RuntimeError, UnicodeError, AssertionError):
            raise Unreadable("is no valid VCD: export it again, or name its kind with --kind") from None
        yield token


def _declarations(tokens: Iterator[Token]) -> tuple[float, list[_Variable]]:
    """Return ticks per second and the variables, reading up to the end of the definitions."""
    tick_hz: float | None = None
    scopes: list[str] = []
    variables: list[_Variable] = []
    for token in tokens:
        match token.kind:
            case TokenKind.TIMESCALE:
                scale = token.timescale
                units_per_s = _UNITS_PER_S.get(scale.unit.value)
                if units_per_s is None or not 1 <= scale.magnitude <= _LONGEST_SCALE:
                    raise Unreadable(
                        "has a $timescale other than 1, 10 or 100 s, ms, us, ns, ps or fs: export it again"
                    )
                tick_hz = units_per_s / int(scale.magnitude)
            case TokenKind.SCOPE:
                scopes.append(token.scope.ident)
            case TokenKind.UPSCOPE:
                del scopes[-1:]
            case TokenKind.VAR:
                variables.append(_variable(token.var, scopes))
            case TokenKind.ENDDEFINITIONS:
                break
    if tick_hz is None:
        raise Unreadable("has no $timescale, so its times mean nothing: export it again, or add '$timescale 1 ns $end'")
    return tick_hz, variables


def _variable(var: VarDecl, scopes: list[str]) -> _Variable:
    index = var.bit_index
    name = var.reference if var.size > 1 else var.ref_str
    bits = index if isinstance(index, tuple) else (var.size - 1, 0)
    return _Variable(".".join([*(s for s in scopes if s), name]), var.id_code, var.size, bits)


def _mapping(variables: list[_Variable], signals: Mapping[str, str] | None) -> dict[str, str]:
    if signals is not None:
        return dict(signals)
    one_bit = {v.code: v.name for v in reversed(variables) if v.size == 1}  # one net may be declared in many scopes
    names = sorted(one_bit.values())
    found = by_name({name: name.rsplit(".", 1)[-1] for name in names}, "signals")
    if not found:
        raise Unreadable(
            f"has no signal that is named for a shaft: say which with --channels w=...,f=...; it has {listed(names)}"
        )
    return found


def _watched(letter: str, name: str, variables: list[_Variable]) -> tuple[str, _Watched]:
    """Return the identifier code and the bit of the signal that the user or the guess named."""
    variable, bit = _find(name, variables), None
    if variable is None and name.endswith("]") and "[" in name:
        bus, _, index = name[:-1].rpartition("[")
        variable = _find(bus, variables)
        bit = int(index) if index.isascii() and index.isdigit() and len(index) < 6 else None
        if bit is None:
            variable = None
    if variable is None:
        raise Unreadable(f"has no signal {name!r} (or several): it has {listed(v.name for v in variables)}")
    if bit is None and variable.size > 1:
        raise Unreadable(f"signal {name!r} has {variable.size} bits: say which one, as {letter}={name}[0]")
    first, last = variable.bits
    offset = 0 if bit is None else bit - last if first >= last else last - bit
    if not 0 <= offset < variable.size:
        raise Unreadable(f"signal {variable.name!r} has bits {first} to {last}, so there is no {name!r}")
    return variable.code, _Watched(letter, offset, variable.size)


def _find(name: str, variables: list[_Variable]) -> _Variable | None:
    """Return the variable of that full name, or the only one whose last names are these."""
    whole = [v for v in variables if v.name == name]
    ends = whole or [v for v in variables if v.name.endswith("." + name)]
    return ends[0] if len({v.code for v in ends}) == 1 else None


def _follow(tokens: Iterator[Token], by_code: Mapping[str, list[_Watched]], target: int) -> tuple[int, int]:
    """Go through the value changes; return the first and the last time."""
    tick, first = 0, None
    for token in tokens:
        change = token.data
        if token.kind is TokenKind.CHANGE_TIME:
            time = token.time_change
            if not tick <= time < _LIMIT:
                raise Unreadable(
                    f"line {token.span.start.line}: time {time} goes back or is too large: export it again"
                )
            tick = time
            first = tick if first is None else first
        elif isinstance(change, ScalarChange | VectorChange):
            for one in by_code.get(change.id_code, ()):
                value = change.value
                one.take(tick, f"{value:b}" if isinstance(value, int) else value.lower(), target)
    return first or 0, tick


def _bit(bits: str, offset: int, size: int) -> str:
    """Return one bit of a value; a short value is extended to the left as IEEE 1364 says (0 and 1 by 0, x by x)."""
    if offset < len(bits):
        return bits[-1 - offset]
    return bits[0] if bits[0] in "xz" else "0"
