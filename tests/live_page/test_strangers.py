"""What strangers can't do: other names, other pages, wrong keys, too much, too often."""

from __future__ import annotations

import json
import re
import time
from collections.abc import Iterator

import httpx
import pytest
from pretend_room import PretendRoom, wheel_room
from serve_room import Served, serving

from whorlpulse.live_page.access import Access, is_loopback, new_key
from whorlpulse.live_page.door import WRONG_AT_ONCE, WRONG_EVERY_S, Door


@pytest.fixture(scope="module")
def lasting_room() -> PretendRoom:
    """A room for tests that change nothing in it."""
    return wheel_room("By the window")


@pytest.fixture(scope="module")
def lasting(lasting_room: PretendRoom) -> Iterator[Served]:
    """That room, served, with a clock so fast that no rate is ever used up."""
    with serving(lasting_room, clock=lambda: time.monotonic() * 1e6) as running:
        yield running


ACT = {"wheel": "1", "action": "mark", "text": "here"}


def post(visitor: httpx.Client, served: Served, body: object = ACT, **headers: str) -> httpx.Response:
    sent = {"origin": served.origin, "content-type": "application/json", **headers}
    content = body if isinstance(body, bytes) else json.dumps(body).encode()
    return visitor.post("/act", content=content, headers={k: v for k, v in sent.items() if v})


@pytest.mark.parametrize(
    "host",
    [
        "attacker.example",
        "127.0.0.1.attacker.example",
        "localhost.attacker.example",
        "attacker.example:{port}",
        "127.0.0.1@attacker.example",
        "127.0.0.2:{port}",
        "0.0.0.0:{port}",
        "[::ffff:127.0.0.1]:{port}",
        "localhost.:{port}",
        "2130706433:{port}",
        "",
    ],
)
def test_a_name_that_is_not_ours_gets_nothing(visit, lasting, host):
    own = visit("own")
    for path in ("/", "/state", "/changes", "/act", "/static/page.js", "/api.json"):
        answer = own.get(path, headers={"host": host.format(port=lasting.port)})
        assert answer.status_code == 421
        assert set(answer.json()) == {"says"}
        assert "whorlpulse" not in answer.text


@pytest.mark.parametrize("host", ["127.0.0.1:{port}", "localhost:{port}", "LOCALHOST:{port}"])
def test_our_own_names_are_known(visit, lasting, host):
    assert visit("own").get("/state", headers={"host": host.format(port=lasting.port)}).status_code == 200


@pytest.mark.parametrize(
    "headers",
    [
        {"origin": "http://attacker.example"},
        {"origin": "null"},
        {"origin": "http://127.0.0.1:1"},
        {"origin": "https://127.0.0.1:{port}"},
        {"origin": "http://localhost:{port}"},  # ours, but not the name that this request goes to
        {"sec-fetch-site": "cross-site"},
        {"sec-fetch-site": "same-site"},
    ],
)
def test_a_request_from_another_page_is_refused(visit, lasting, headers):
    own = visit("own")
    sent = {name: value.format(port=lasting.port) for name, value in headers.items()}
    for path in ("/", "/state", "/changes", "/share", "/share.svg", "/static/page.js"):
        assert own.get(path, headers=sent).status_code == 403
    assert post(own, lasting, **sent).status_code == 403


def test_a_link_from_elsewhere_may_lead_to_the_page_only(visit, served):
    came = {"sec-fetch-site": "cross-site", "sec-fetch-mode": "navigate", "sec-fetch-dest": "document"}
    own = visit("own")
    assert own.get("/", headers=came).status_code == 200
    assert own.get("/state", headers=came).status_code == 403
    assert own.get("/", headers={**came, "sec-fetch-dest": "iframe"}).status_code == 403


def test_without_the_link_there_is_nothing(visit, served, room):
    stranger = visit(None)
    assert stranger.get("/").status_code == 403
    for path in ("/state", "/changes", "/share", "/share.svg"):
        answer = stranger.get(path)
        assert answer.status_code == 403
        assert answer.json()["says"].startswith("this needs the link")
    assert post(stranger, served).status_code == 403
    assert room.acts == []


def test_guests_look_and_can_do_nothing(visit, served, room):
    guest = visit("guest")
    assert guest.get("/state").json()["wheels"][0]["name"] == "By the window"
    for path in ("/share", "/share.svg"):
        assert guest.get(path).status_code == 403
    assert post(guest, served).status_code == 403
    assert room.acts == []


def test_the_one_who_started_the_program_acts(visit, served, room):
    own = visit("own")
    assert (post(own, served).status_code, room.acts) == (200, [("1", "mark", "here")])
    answer = post(own, served, {"wheel": "1", "action": "length", "text": "35"})
    assert (answer.status_code, answer.json()["says"]) == (409, "A length needs a unit: for example 35 cm.")
    assert own.get("/share").json()["link"] == served.guest_link
    picture = own.get("/share.svg")
    assert picture.headers["content-type"] == "image/svg+xml"
    assert picture.text.startswith("<?xml")


def test_the_cookie_is_not_the_key_and_scripts_never_see_it(visit, served):
    own = visit("own")
    cookie = own.get(served.own_link).headers["set-cookie"]
    assert {"httponly", "path=/", "samesite=strict"} <= {part.strip().lower() for part in cookie.split(";")}
    assert served.access.own_key not in cookie
    assert f"-{served.port}=" in cookie


def test_a_cookie_can_t_be_made_up(visit, served):
    guest = visit("guest")
    [(name, value)] = guest.cookies.items()
    role, number, proof = value.split(".")
    last = "0" if proof[-1] != "0" else "1"
    for forged in (
        f"own.{number}.{proof}",
        f"guest.x{number}.{proof}",
        f"{role}.{number}.{proof[:-1]}{last}",
        "own..",
        ".",
    ):
        stranger = visit(None)
        assert stranger.get("/state", headers={"cookie": f"{name}={forged}"}).status_code == 403


def test_the_key_of_another_run_opens_nothing(visit, served):
    stranger = visit(None)
    for key in (new_key(), "", "x" * 4000, "%00", "é", served.access.own_key[:-1], served.access.own_key + "A"):
        assert stranger.get("/", params={"key": key}).status_code == 403
    assert not stranger.cookies


def test_guessing_is_slowed_down_even_for_the_right_key(visit, served):
    stranger = visit(None)
    answers = [stranger.get("/", params={"key": new_key()}).status_code for _ in range(WRONG_AT_ONCE + 5)]
    assert answers[:WRONG_AT_ONCE] == [403] * WRONG_AT_ONCE
    assert set(answers[WRONG_AT_ONCE:]) == {429}
    assert stranger.get(served.own_link).status_code == 429


def test_who_guesses_shuts_out_only_himself_and_not_for_long():
    now = [0.0]
    access = Access.shared(["192.0.2.7"])
    door = Door(access, lambda: now[0])
    for _ in range(100):
        assert door.by_key("wrong", "192.0.2.50") in ("wrong", "too-often")
    assert door.by_key(access.guest_key or "", "192.0.2.50") == "too-often"
    assert door.by_key(access.guest_key or "", "192.0.2.51") == "guest"
    now[0] += 2 * WRONG_EVERY_S
    assert door.by_key(access.guest_key or "", "192.0.2.50") == "guest"


def test_the_own_key_works_on_this_computer_only():
    access = Access.shared(["192.0.2.7"])
    door = Door(access, lambda: 0.0)
    assert door.by_key(access.own_key, "127.0.0.1") == "own"
    assert door.by_key(access.own_key, "192.0.2.50") == "wrong"
    assert door.by_cookie(door.cookie("own"), "192.0.2.50") == "wrong"
    assert [is_loopback(a) for a in ("127.0.0.1", "127.9.9.9", "::1", "192.0.2.1", "", "localhost")] == [
        *(True, True, True),
        *(False, False, False),
    ]


def test_an_unshared_room_has_no_guests_and_keys_are_new_each_time():
    alone = Access.alone()
    assert alone.guest_link("127.0.0.1", 1) is None
    assert Door(alone, lambda: 0.0).by_key("", "127.0.0.1") == "wrong"
    keys = {new_key() for _ in range(1000)}
    assert len(keys) == 1000
    assert {len(key) for key in keys} == {22}  # 128 bits in base64 without its padding (RFC 4648): 128 / 6, up
    assert alone.own_key not in repr(alone)


@pytest.mark.parametrize(
    ("body", "headers", "status"),
    [
        (ACT, {"origin": ""}, 403),
        (ACT, {"content-type": "text/plain"}, 415),
        (ACT, {"content-type": "application/x-www-form-urlencoded"}, 415),
        (ACT, {"content-type": ""}, 415),
        (b"x" * 4097, {}, 413),
        (b"", {}, 400),
        (b"[]", {}, 400),
        (b"nul", {}, 400),
        (b'{"wheel":"1","action":"mark","text":"\xff"}', {}, 400),
        (b'{"wheel":"1","action":"mark","text":"\\ud800"}', {}, 400),
        ({**ACT, "action": "erase"}, {}, 400),
        ({**ACT, "wheel": 1}, {}, 400),
        ({**ACT, "more": 1}, {}, 400),
        ({**ACT, "text": "x" * 501}, {}, 400),
        ({**ACT, "text": "mark\nw,1,1"}, {}, 400),
        ({**ACT, "text": "a\rb"}, {}, 400),
        ({**ACT, "text": "a\u2028b"}, {}, 400),
        ({**ACT, "text": "a\x00b"}, {}, 400),
        ({**ACT, "wheel": "9"}, {}, 409),
    ],
)
def test_what_can_t_be_right_is_not_done(visit, lasting, lasting_room, body, headers, status):
    answer = post(visit("own"), lasting, body, **headers)
    assert answer.status_code == status
    assert isinstance(answer.json()["says"], str)
    assert lasting_room.acts == []


def test_a_body_without_a_declared_length_is_cut_off_too(visit, served, room):
    own = visit("own")
    headers = {"origin": served.origin, "content-type": "application/json"}
    answer = own.post("/act", content=(b"x" * 1000 for _ in range(10_000)), headers=headers)
    assert answer.status_code == 413
    assert room.acts == []


def test_acts_come_at_a_persons_pace(visit, served, room):
    own = visit("own")
    answers = [post(own, served).status_code for _ in range(60)]
    assert answers[:12] == [200] * 12
    assert 429 in answers[12:]
    assert len(room.acts) == answers.count(200)


@pytest.mark.parametrize(
    "path",
    [
        "/static/../app.py",
        "/static/..%2fapp.py",
        "/static/%2e%2e/app.py",
        "/static/..%5capp.py",
        "/static//etc/passwd",
        "/static/%2fetc%2fpasswd",
        "/static/page.js/",
        "/static/page.js%00.html",
        "/static/",
        "/static",
        "/app.py",
        "/.git/config",
        "//static/page.js",
        "/changes/",
    ],
)
def test_no_path_leads_out_of_the_page(lasting, path):
    import http.client

    asked = http.client.HTTPConnection("127.0.0.1", lasting.port, timeout=5)
    asked.request("GET", path)  # sent as it stands, not tidied up first
    answer = asked.getresponse()
    body = answer.read()
    asked.close()
    assert answer.status == 404
    assert set(json.loads(body)) == {"says"}


@pytest.mark.parametrize("method", ["PUT", "DELETE", "PATCH", "OPTIONS", "TRACE", "CONNECT", "POST"])
def test_other_methods_do_nothing(visit, lasting, method):
    own = visit("own")
    for path in ("/", "/state", "/changes", "/static/page.js"):
        assert own.request(method, path, headers={"origin": lasting.origin}).status_code in (404, 405)


def test_every_answer_forbids_what_the_page_doesn_t_need(visit, lasting):
    own = visit("own")
    for path in ("/", "/state", "/static/page.js", "/static/none", "/api.json", "/share.svg"):
        headers = own.get(path).headers
        policy = dict(part.split(" ", 1) for part in headers["content-security-policy"].split("; "))
        assert (
            policy["default-src"]
            == policy["base-uri"]
            == policy["frame-ancestors"]
            == policy["form-action"]
            == "'none'"
        )
        assert policy["script-src"] == policy["style-src"] == policy["connect-src"] == "'self'"
        assert headers["x-content-type-options"] == "nosniff"
        assert headers["referrer-policy"] == "no-referrer"
        assert headers["cache-control"] == "no-store"
        assert "server" not in headers
        assert "access-control-allow-origin" not in headers


def test_the_pages_files_load_nothing_from_elsewhere_and_make_no_markup_of_text():
    from whorlpulse.live_page.files import page_files

    files = page_files()
    assert {"page.html", "door.html", "page.css", "page.js"} <= set(files)
    for name, file in files.items():
        text = file.content.decode()
        addresses = set(re.findall(r"https?://[^\s\"')]+", text)) - {"http://www.w3.org/2000/svg"}
        assert not addresses, name
        if name.endswith(".js"):
            assert not re.search(
                r"innerHTML|outerHTML|insertAdjacentHTML|document\.write|\beval\b|new Function", text
            ), name
        if name.endswith(".html"):
            assert not re.search(r"\sstyle=|\son\w+=|<script(?![^>]*\ssrc=)|<style", text), name
