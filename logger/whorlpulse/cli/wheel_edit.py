"""Measured ratios into the text of a wheel file: only their lines change, every other byte stays as it was written."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any, Final

from whorlpulse.views.figures import cut, decimals_for

from .wheel_file import read_wheel

if TYPE_CHECKING:
    from whorlpulse.estimators.measured import Measured
    from whorlpulse.findings.survey_report import Saved

_BOM: Final = b"\xef\xbb\xbf"
#: Half of a 95 % interval over the standard uncertainty, as readers of the file will reckon it.
_K95: Final = 1.959964
#: More digits than a ratio shows, so that nothing is lost by writing it down.
_GUARD_DIGITS: Final = 3


def with_ratios(data: bytes, name: str, saved: Sequence[Saved], heading: str) -> bytes:
    """Return the wheel file `name` of content `data` with these ratios in it.

    heading: the first line of a new file, as a comment (data empty). The result has been read back: WheelError if it
    is no wheel file, before anything is written.
    """
    import tomlkit

    mark = _BOM if data.startswith(_BOM) else b""
    text = data.decode("utf-8-sig")
    end = "\r\n" if "\r\n" in text else "\n"
    document = tomlkit.parse(text or f"# {heading}{end}")
    for one in saved:
        if one.index is not None:
            _change(document["whorl"][one.index], one.ratio, end)
        elif "whorl" in document:
            _add(document["whorl"], one, end)
        else:
            document = tomlkit.parse(_with_first_whorl(document.as_string(), one, end))
    made = mark + document.as_string().encode()
    read_wheel(made, name)
    return made


def written(ratio: Measured) -> tuple[str, str]:
    """Return `ratio` and `ratio_u` as they are written: the u that gives the same 95 % interval, and guard digits."""
    half = ratio.half_width
    digits = decimals_for(half) + _GUARD_DIGITS if half > 0 else 9
    digits = min(max(digits, 1), 12)
    return cut(ratio.value, digits), cut(half / _K95, digits)


def _change(whorl: Any, ratio: Measured, end: str) -> None:
    for key, text in zip(("ratio", "ratio_u"), written(ratio), strict=True):
        if key in whorl:
            whorl[key] = _number(text, whorl[key])
        else:
            _put_behind(whorl, key, _number(text), end)


def _number(text: str, like: Any = None) -> Any:
    """A TOML number as written; like: the item whose place and comment it takes."""
    from tomlkit.items import Float, Trivia

    trivia = getattr(like, "trivia", None)
    return Float(float(text), trivia if trivia is not None else Trivia(trail=""), text)


def _put_behind(whorl: Any, key: str, item: Any, end: str) -> None:
    """Put a key behind the table's last one, and before the blank lines and comments that lead over to the next."""
    from tomlkit.items import Table

    if not isinstance(whorl, Table):  # an inline table
        whorl[key] = item
        return
    item.trivia.trail = end
    following = _cut_behind_last_key(whorl, end)
    whorl.append(key, item)
    whorl.value.body.extend(following)


def _with_first_whorl(text: str, one: Saved, end: str) -> str:
    """Return the text with its first whorl at its end, a blank line between."""
    import tomlkit

    ratio, ratio_u = written(one.ratio)
    lines = ["", "[[whorl]]", f"name = {tomlkit.string(one.name).as_string()}", f"ratio = {ratio}"]
    gap = "" if text.endswith("\n") else end
    return text + gap + end.join([*lines, f"ratio_u = {ratio_u}", ""])


def _add(whorls: Any, one: Saved, end: str) -> None:
    """Add a whorl behind the last one, with a blank line between."""
    import tomlkit
    from tomlkit.items import AoT

    ratio, ratio_u = (_number(text) for text in written(one.ratio))
    keys = {"name": tomlkit.string(one.name), "ratio": ratio, "ratio_u": ratio_u}
    if not isinstance(whorls, AoT):  # a list of inline tables
        row = tomlkit.inline_table()
        row.update(keys)
        whorls.append(row)
        return
    table = tomlkit.table()
    table.trivia.trail = end
    for key, item in keys.items():
        item.trivia.trail = end
        table.append(key, item)
    table.value.body.extend(_cut_behind_last_key(whorls[-1], end))
    whorls[-1].value.add(tomlkit.ws(end))
    whorls.append(table)


def _cut_behind_last_key(table: Any, end: str) -> list[Any]:
    """Take off and return what stands behind a table's last key; that key's line has an end afterwards."""
    body = table.value.body
    last = max((i for i, (key, _) in enumerate(body) if key is not None), default=-1)
    following = list(body[last + 1 :])
    del body[last + 1 :]
    if last >= 0 and not body[last][1].trivia.trail:
        body[last][1].trivia.trail = end
    return following
