"""Live wheels in a terminal: large figures first, then what is beside them; the same texts as on the page."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

from rich.cells import cell_len
from rich.console import Console, ConsoleOptions, Group, RenderableType, RenderResult
from rich.panel import Panel
from rich.segment import Segment
from rich.table import Table
from rich.text import Text

from whorlpulse.views.live_json import burst_text, quick_parts, window_parts
from whorlpulse.views.live_words import live_says

if TYPE_CHECKING:
    from collections.abc import Sequence

    from whorlpulse.findings.live import WheelNow

#: Heights of a strip's characters, lowest first.
_BARS: Final = "▁▂▃▄▅▆▇█"
_MOST_BURSTS: Final = 3
_SIGNS: Final = {"on-plan": "=", "under": "-", "over": "+"}
#: With so many wheels or more, each is one row of a table.
_ROWS_FROM: Final = 3
#: Characters that a frame's edge takes beside the words in it, and those of a table beside its wheels' names.
_FRAME: Final = 6
_BESIDE_NAMES: Final = 52
_SHORTEST_NAME: Final = 8


class _Screen:
    """What is shown, and below it the keys' line, which stays in sight where the terminal is too low for all."""

    def __init__(self, ways: Sequence[RenderableType], keys: RenderableType) -> None:
        """ways: of showing it, the first that fits is taken, the last cut where none does."""
        self._ways, self._keys = ways, keys

    def __rich_console__(self, console: Console, options: ConsoleOptions) -> RenderResult:
        """Give its rows, no more than there is room for."""
        keys = console.render_lines(self._keys, options, pad=False)
        room = max(options.max_height - len(keys), 0)
        shown: list[list[Segment]] = []
        for way in self._ways:
            shown = console.render_lines(way, options, pad=False)
            if len(shown) <= room:
                break
        for row in [*shown[:room], *keys]:
            yield from row
            yield Segment.line()


def live_screen(
    wheels: Sequence[WheelNow], chosen: str, asked: str | None, said: str | None, width: int
) -> RenderableType:
    """Return the whole screen. chosen: the id of the wheel that keys go to; asked: what is being typed."""
    ways: list[RenderableType] = []
    if len(wheels) < _ROWS_FROM:
        ways.append(Group(*[_wheel(w, width, chosen=len(wheels) > 1 and w.id == chosen) for w in wheels]))
    if len(wheels) > 1:
        mine = next(w for w in wheels if w.id == chosen)
        ways.append(Group(_table(wheels, chosen, width), _wheel(mine, width, chosen=True)))
    keys = live_says("keys") if len(wheels) == 1 else live_says("keys-several", wheels=len(wheels))
    last = Text(asked if asked is not None else said or keys, style="bold" if asked or said else "dim")
    return _Screen(ways, last)


def _wheel(now: WheelNow, width: int, *, chosen: bool) -> Panel:
    quick, slow = quick_parts(now), window_parts(now)
    grid = Table.grid(padding=(0, 3))
    for _ in range(4):
        grid.add_column(no_wrap=True)
    grid.add_row(*[Text(live_says(f"head-{of}"), style="dim") for of in ("cadence", "ratio", "twist", "flyer")])
    grid.add_row(
        *[Text(_large(f), style="bold") for f in (quick["cadence"], slow["ratio"], slow["twist_tpi"], quick["flyer"])]
    )
    grid.add_row(*[Text(_beside(f), style="dim") for f in (quick["cadence"], slow["ratio"], slow["twist_tpm"])], "")
    lines: list[RenderableType] = [grid, *_reasons(quick, slow)]
    if slow["plan"] is not None:
        plan = slow["plan"]
        sign = _SIGNS.get(plan["verdict"], "?")
        lines.append(Text(live_says("plan-line", sign=sign, says=plan["says"], twist=plan["twist"])))
    if quick["pace"] is not None and quick["pace"]["cue"] is not None:
        lines.append(Text(live_says("pace-line", pace=quick["pace"]["text"], cue=quick["pace"]["cue"])))
    lines += _strip(slow["strip"], width - 4)
    lines += [Text(live_says("burst-line", burst=burst_text(b)), style="bold") for b in now.bursts[-_MOST_BURSTS:]]
    lines.append(Text(_foot(quick, slow), style="dim"))
    lines += _totals(slow["totals"])
    says = Text(quick["says"] or "")
    if in_frame := says.cell_len > width - _FRAME:
        lines.append(says)
    title = _title(now, width - _FRAME, chosen=chosen)
    below = says if says.plain and not in_frame else None
    return Panel(Group(*lines), title=Text(title), title_align="left", subtitle=below, subtitle_align="left")


def _title(now: WheelNow, room: int, *, chosen: bool) -> str:
    """The wheel's name and how things stand with it; where that is too long, the name is cut."""
    key = "title-simulated" if now.simulated else "title"
    mark = "> " if chosen else ""
    title = mark + live_says(key, name=now.name, state=now.state)
    if (over := cell_len(title) - room) <= 0:
        return title
    name = Text(now.name)
    name.truncate(max(name.cell_len - over, _SHORTEST_NAME), overflow="ellipsis")
    return mark + live_says(key, name=name.plain, state=now.state)


def _table(wheels: Sequence[WheelNow], chosen: str, width: int) -> Table:
    table = Table(box=None, padding=(0, 1), header_style="dim")
    table.add_column("", no_wrap=True)
    table.add_column(live_says("head-wheel"), no_wrap=True, max_width=max(width - _BESIDE_NAMES, _SHORTEST_NAME))
    for head in ("state", "cadence", "ratio", "twist-tpi", "lost"):
        table.add_column(live_says(f"head-{head}"), no_wrap=True)
    for now in wheels:
        quick, slow = quick_parts(now), window_parts(now)
        figures = [_large(f) for f in (quick["cadence"], slow["ratio"], slow["twist_tpi"])]
        cells = [now.id, now.name, now.state, *figures, str(now.lost)]
        table.add_row(*[Text(c) for c in cells], style="bold" if now.id == chosen else "")
    return table


def _large(figure: dict[str, Any]) -> str:
    text: str | None = figure["text"]
    return "–" if text is None else text


def _beside(figure: dict[str, Any]) -> str:
    if figure["text"] is None:
        return ""
    half = f"± {figure['pm']} " if figure["pm"] else ""
    return f"{half}{figure['unit']}" if figure["unit"] != "tpm" else f"{figure['text']} {half}tpm"


def _reasons(quick: dict[str, Any], slow: dict[str, Any]) -> list[RenderableType]:
    waits = [
        live_says("waits", what=live_says(f"head-{name}"), why=figure["why"])
        for name, figure in (("cadence", quick["cadence"]), ("ratio", slow["ratio"]), ("twist", slow["twist_tpi"]))
        if figure["text"] is None and figure["why"]
    ]
    return [Text(" · ".join(waits), style="dim")] if waits else []


def _strip(strip: dict[str, Any] | None, width: int) -> list[RenderableType]:
    """The last minutes' cadence as a row of bars."""
    if strip is None:
        return []
    values = [v for v in strip["cadence_per_min"] if v is not None][-max(width - 10, 1) :]
    if len(values) < 2:
        return []
    top = max(values) or 1.0
    bars = "".join(_BARS[min(int(v / top * (len(_BARS) - 1) + 0.5), len(_BARS) - 1)] for v in values)
    return [Text(live_says("cadence-bars", bars=bars)), Text(strip["text"], style="dim")]


def _foot(quick: dict[str, Any], slow: dict[str, Any]) -> str:
    parts = [quick["pulses_text"]]
    if quick["length"]["text"] is not None:
        parts.append(live_says("foot-length", length=quick["length"]["text"]))
    if slow["loss"]["text"] is not None:
        parts.append(live_says("foot-loss", loss=slow["loss"]["text"], half=slow["loss"]["pm"]))
    if slow["marks"]:
        text = slow["marks"][-1]["text"]
        parts.append(live_says("foot-mark", text=text) if text else live_says("foot-mark-bare"))
    return " · ".join(parts)


def _totals(totals: dict[str, Any] | None) -> list[RenderableType]:
    if totals is None:
        return []
    said = []
    for key in ("ratio", "cadence", "twist_tpi", "twist_tpm"):
        figure = totals[key]
        if figure["text"] is not None:
            said.append(f"{figure['text']} ± {figure['pm']} {figure['unit']}".replace(" ± None", ""))
    if not said:
        return []
    return [Text(live_says("all-of-it", clock=totals["measured_to"], figures=" · ".join(said)), style="dim")]
