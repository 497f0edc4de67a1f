"""From a specification to a picture: SVG text for the page, SVG or PNG bytes for a file. Nothing is fetched."""

from __future__ import annotations

import re

from whorlpulse.views.charts.chart import Spec
from whorlpulse.views.charts.theme import PAPER, SCHEMA

_NAMED = re.compile(r'\bid="([^"]+)"')
_IDS = re.compile(r'(\bid="|url\(#|href="#)([^")]+)')
_ENDS = re.compile(r"</(?=script)", re.IGNORECASE)
_SCALE = 2.0
#: All that the page takes from the scripts.
_SNIPPET = "window.vegaEmbed = vegaEmbed;"


def svg(spec: Spec, prefix: str = "p") -> str:
    """Return the picture as SVG, the same text each time.

    prefix: makes its ids its own among several pictures of one page.
    """
    import vl_convert

    text: str = vl_convert.vegalite_to_svg(spec, allowed_base_urls=[])
    # the ids count on from picture to picture of a process: numbered anew they depend on this one only
    own = {name: f"{prefix}{n}" for n, name in enumerate(dict.fromkeys(_NAMED.findall(text)))}
    return _IDS.sub(lambda found: found[1] + own.get(found[2], found[2]), text)


def svg_on_paper(spec: Spec) -> str:
    """Return the picture as SVG with a ground of its own, to stand anywhere."""
    return svg({**spec, "background": PAPER})


def png(spec: Spec) -> bytes:
    """Return the picture as PNG on paper, two dots for each of its points."""
    import vl_convert

    data: bytes = vl_convert.vegalite_to_png({**spec, "background": PAPER}, scale=_SCALE, allowed_base_urls=[])
    return data


def scripts() -> str:
    """Return the scripts that draw specifications in a browser, to stand inline: nothing ends a script element."""
    import vl_convert

    text: str = vl_convert.javascript_bundle(_SNIPPET)
    return _ENDS.sub(r"<\\/", text)


class Ready:
    """The converter and the page's scripts, made ready beside other work: each of them takes up to a second."""

    def __init__(self, *, scripts_too: bool) -> None:
        """Begin. scripts_too: a page will need its scripts."""
        from threading import Thread

        self._text: str | None = None
        self._thread = Thread(target=self._prepare, kwargs={"scripts_too": scripts_too}, daemon=True)
        self._thread.start()

    def _prepare(self, *, scripts_too: bool) -> None:
        svg({"$schema": SCHEMA, "data": {"values": []}, "mark": "point"})
        self._text = scripts() if scripts_too else None

    def scripts(self) -> str:
        """Return the scripts as soon as they are there."""
        self._thread.join()
        return self._text if self._text is not None else scripts()
