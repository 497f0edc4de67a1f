"""The link for the room as a QR code (ISO/IEC 18004): text for a terminal, a picture for the page."""

from __future__ import annotations

from io import BytesIO

#: Light margin around the code, in modules: four by the standard; two are enough for cameras and save terminal rows.
_QUIET = 4
_QUIET_IN_TEXT = 2
#: Upper and lower module of a text row, light (1) or dark: what is drawn is the light, as terminals are mostly dark.
_HALVES = {(0, 0): " ", (1, 0): "▀", (0, 1): "▄", (1, 1): "█"}


def qr_text(link: str) -> str:
    """Return the code as rows of block characters, two modules a character high, for a dark terminal."""
    import segno

    rows = [[not dark for dark in row] for row in segno.make_qr(link, error="m").matrix_iter(border=_QUIET_IN_TEXT)]
    if len(rows) % 2:
        rows.append([False] * len(rows[0]))
    pairs = zip(rows[::2], rows[1::2], strict=True)
    return "\n".join("".join(_HALVES[pair] for pair in zip(upper, lower, strict=True)) for upper, lower in pairs)


def qr_svg(link: str) -> bytes:
    """Return the code as an SVG picture, black on white."""
    import segno

    picture = BytesIO()
    segno.make_qr(link, error="m").save(picture, kind="svg", scale=8, border=_QUIET, dark="#000", light="#fff")
    return picture.getvalue()
