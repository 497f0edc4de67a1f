"""The link as a QR code: what is drawn is the code, and a reader of another make reads it."""

from __future__ import annotations

import re

import pytest
import segno

from whorlpulse.live_page.access import Access
from whorlpulse.live_page.serving import open_port, room_addresses
from whorlpulse.live_page.share import qr_svg, qr_text

LINK = "http://192.0.2.17:8470/?key=AbCdEfGhIjKlMnOpQrStUv"


def modules_of(text: str) -> list[list[bool]]:
    """Light (True) and dark modules of a code drawn with half blocks."""
    rows = []
    for line in text.split("\n"):
        rows.append([letter in "▀█" for letter in line])
        rows.append([letter in "▄█" for letter in line])
    return rows


def test_the_text_has_the_finder_patterns_and_fits_a_screen():
    """Three finder patterns of 7 modules in three corners, light around them (ISO/IEC 18004)."""
    text = qr_text(LINK)
    lines = text.split("\n")
    assert len(lines) <= 22
    assert len({len(line) for line in lines}) == 1
    assert len(lines[0]) <= 78
    rows = modules_of(text)
    side = len(rows[0])
    ring = [[dark(r, c) for c in range(7)] for r in range(7)]
    for top, left in ((2, 2), (2, side - 9), (side - 9, 2)):
        assert [[not rows[top + r][left + c] for c in range(7)] for r in range(7)] == ring
    assert all(rows[0])
    assert all(row[0] for row in rows[:side])


def dark(row: int, column: int) -> bool:
    """Finder pattern: a dark square of 3 in a light ring in a dark ring."""
    out = max(abs(row - 3), abs(column - 3))
    return out != 2


@pytest.mark.parametrize("link", [LINK, "http://[2001:db8::1]:8470/?key=" + "x" * 22])
def test_picture_and_text_show_the_same_code(link):
    picture = qr_svg(link).decode()
    assert set(re.findall(r'(?:stroke|fill)="(#[0-9a-f]+)"', picture)) == {"#000", "#fff"}
    code = segno.make_qr(link, error="m")
    assert [[not light for light in row] for row in modules_of(qr_text(link))][2 : 2 + len(code.matrix)] == [
        [False, False, *map(bool, row), False, False] for row in code.matrix
    ]


def test_the_links_name_the_right_door():
    access = Access.shared(["192.0.2.17"])
    assert access.own_link(8470) == f"http://127.0.0.1:8470/?key={access.own_key}"
    assert access.guest_link("192.0.2.17", 8470) == f"http://192.0.2.17:8470/?key={access.guest_key}"
    assert access.guest_key != access.own_key
    assert "192.0.2.17" in access.hosts


def test_only_a_shared_port_is_open_to_the_room():
    for shared, address in ((False, "127.0.0.1"), (True, "0.0.0.0")):
        with open_port(0, shared=shared) as opened:
            assert opened.getsockname()[0] == address
            opened.listen()
            with pytest.raises(OSError, match=r"[Aa]ddress already in use"):
                open_port(opened.getsockname()[1], shared=shared)


def test_the_rooms_addresses_are_no_loopback_ones():
    for address in room_addresses():
        assert re.fullmatch(r"\d+\.\d+\.\d+\.\d+", address)
        assert not address.startswith("127.")
