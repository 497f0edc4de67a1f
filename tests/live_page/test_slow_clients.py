"""Clients that are slow, silent or deaf, and crowds of them: the others don't notice."""

from __future__ import annotations

import contextlib
import socket
import time
from collections.abc import Iterator

import httpx
import pytest
from pretend_room import wheel_room
from serve_room import Served, serving

from tools import missing
from whorlpulse.live_page import acting, stream
from whorlpulse.live_page import serving as served_by

CROWD = 1000


@pytest.fixture
def hasty(monkeypatch):
    """Patience of a fraction of a second, so that its end can be waited for."""
    monkeypatch.setattr(served_by, "REQUEST_S", 0.4)
    monkeypatch.setattr(served_by, "STALL_S", 0.4)
    monkeypatch.setattr(acting, "BODY_S", 0.4)
    monkeypatch.delattr(socket, "TCP_USER_TIMEOUT", raising=False)  # not every system helps by itself


def connect(served: Served, receive_buffer: int | None = None) -> socket.socket:
    client = socket.socket()
    if receive_buffer is not None:
        client.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, receive_buffer)
    client.settimeout(5.0)
    client.connect(("127.0.0.1", served.port))
    return client


def cookie_of(served: Served, link: str) -> str:
    with httpx.Client(base_url=served.origin) as visitor:
        visitor.get(link)
        [(name, value)] = visitor.cookies.items()
        return f"{name}={value}"


def ask_for_changes(served: Served, cookie: str, receive_buffer: int | None = None) -> socket.socket:
    viewer = connect(served, receive_buffer)
    viewer.sendall(f"GET /changes HTTP/1.1\r\nHost: 127.0.0.1:{served.port}\r\nCookie: {cookie}\r\n\r\n".encode())
    return viewer


def hung_up_after(client: socket.socket) -> float:
    """Seconds until the server hangs up; what it still said is read."""
    begun = time.monotonic()
    with contextlib.suppress(ConnectionResetError):
        while client.recv(65536):
            pass
    return time.monotonic() - begun


@pytest.mark.parametrize("said", [b"", b"GET / HTT", b"GET / HTTP/1.1\r\nHost: 127.0.0.1\r\n"])
def test_who_asks_nothing_whole_is_hung_up(hasty, served, said):
    client = connect(served)
    client.sendall(said)
    assert 0.2 < hung_up_after(client) < 2.0
    client.close()


def test_a_head_that_trickles_in_is_late_too(hasty, served):
    client = connect(served)
    client.setblocking(False)
    begun = time.monotonic()
    with contextlib.suppress(ConnectionError):
        for letter in b"GET /state HTTP/1.1\r\nX-Slow: " + b"a" * 200:
            client.send(bytes([letter]))
            time.sleep(0.02)
    assert time.monotonic() - begun < 2.0
    client.close()


def test_a_body_that_trickles_in_is_refused(hasty, served, room):
    client = connect(served)
    cookie = cookie_of(served, served.own_link)
    head = (
        f"POST /act HTTP/1.1\r\nHost: 127.0.0.1:{served.port}\r\nOrigin: {served.origin}\r\nCookie: {cookie}\r\n"
        "Content-Type: application/json\r\nContent-Length: 60\r\n\r\n"
    )
    client.sendall(head.encode() + b'{"wheel"')
    assert client.recv(65536).startswith(b"HTTP/1.1 408 ")
    assert hung_up_after(client) < 2.0
    client.close()
    assert room.acts == []


def test_garbage_and_endless_heads_are_turned_away(served):
    tls_hello, noise = b"\x16\x03\x01\x02\x00\x01\x00\x01\xfc\x03\x03" * 20, b"\r\n" * 50 + b"\x00" * 50
    for said, status in ((tls_hello, 400), (noise, 400), (b"GET / HTTP/1.0\r\n\r\n", 421)):
        client = connect(served)
        client.sendall(said)
        assert client.recv(65536).startswith(b"HTTP/1.1 %d " % status)
        client.close()
    client = connect(served)
    with contextlib.suppress(ConnectionError):
        client.sendall(b"GET / HTTP/1.1\r\n" + b"X-Long: " + b"a" * 200_000)
    with contextlib.suppress(ConnectionError):
        assert client.recv(65536).startswith(b"HTTP/1.1 400 ")
    client.close()
    assert httpx.get(served.origin + "/static/page.css").status_code == 200


@pytest.fixture
def many_files() -> Iterator[None]:
    """Room for the two ends of a thousand connections in this one process."""
    resource = pytest.importorskip("resource")
    soft, hard = resource.getrlimit(resource.RLIMIT_NOFILE)
    needed = 2 * CROWD + 500
    if hard != resource.RLIM_INFINITY and hard < needed:
        missing(f"{needed} open files are not allowed here")
    resource.setrlimit(resource.RLIMIT_NOFILE, (max(soft, needed), hard))
    yield
    resource.setrlimit(resource.RLIMIT_NOFILE, (soft, hard))


def asked_again(visitor: httpx.Client, path: str) -> httpx.Response:
    """Ask as browsers do: once more where a connection that was kept has been hung up meanwhile."""
    try:
        return visitor.get(path)
    except httpx.TransportError:
        return visitor.get(path)


#: Ways of being idle: what each connection says once before it falls silent.
IDLE = {
    "says nothing": b"",
    "half a request": b"GET /state HTTP/1.1\r\nHost: 127.0.0.1:%d\r\n",
    "one request, then nothing": b"GET /static/page.css HTTP/1.1\r\nHost: 127.0.0.1:%d\r\n\r\n",
    "looks on and never reads": b"GET /changes HTTP/1.1\r\nHost: 127.0.0.1:%d\r\nCookie: %b\r\n\r\n",
}


@pytest.mark.parametrize("way", IDLE)
def test_a_thousand_idle_connections_keep_nobody_out(many_files, served, visit, way):
    own, cookie = visit("own"), cookie_of(served, served.guest_link).encode()
    said = IDLE[way]
    said = said % ((served.port, cookie)[: said.count(b"%")]) if b"%" in said else said
    crowd = []
    try:
        for _ in range(CROWD):
            crowd.append(connect(served))
            with contextlib.suppress(ConnectionError):  # the server may have hung up on it already
                crowd[-1].sendall(said)
        begun = time.monotonic()
        assert asked_again(own, "/state").status_code == 200
        with httpx.Client(base_url=served.origin) as late:
            assert late.get(served.guest_link).status_code == 200
        assert time.monotonic() - begun < 3.0
        at_most = served_by.MOST_WAITING + served_by.MOST_NEW + (stream.MOST_VIEWERS if b"/changes" in said else 0) + 10
        until = time.monotonic() + 5.0  # what has been asked already is still being answered
        while (held := len(served.server.server_state.connections)) > at_most and time.monotonic() < until:
            time.sleep(0.02)
        assert held <= at_most
    finally:
        for client in crowd:
            client.close()


def test_a_viewer_that_stops_reading_is_hung_up_and_slows_nobody(hasty, visit):
    room = wheel_room(*(f"Wheel {k}" for k in range(12)), every_s=0.01)
    with serving(room) as served:
        cookie = cookie_of(served, served.guest_link)
        deaf = [ask_for_changes(served, cookie, receive_buffer=4096) for _ in range(5)]
        begun = time.monotonic()
        gaps = [_reads(served, cookie, seconds=2.5)]
        assert len(served.server.server_state.connections) == 0, "the deaf viewers are still held"
        assert time.monotonic() - begun < 6.0
        for viewer in deaf:
            viewer.close()
    assert max(gaps) < 0.5


def _reads(served: Served, cookie: str, seconds: float) -> float:
    """Read the changes for a while as one should; return the longest wait for something new, in seconds."""
    longest, ends = 0.0, time.monotonic() + seconds
    with (
        httpx.Client(base_url=served.origin, headers={"cookie": cookie}) as viewer,
        viewer.stream("GET", "/changes") as changes,
    ):
        last = time.monotonic()
        for _ in changes.iter_raw():
            now = time.monotonic()
            longest, last = max(longest, now - last), now
            if now > ends:
                break
    time.sleep(0.2)
    return longest


def test_there_is_an_end_to_the_viewers(monkeypatch, room):
    monkeypatch.setattr(stream.Changes.__init__, "__defaults__", (3, stream.ALIVE_S))
    with serving(room) as served:
        cookie = cookie_of(served, served.guest_link)
        viewers = [ask_for_changes(served, cookie) for _ in range(3)]
        for viewer in viewers:
            assert viewer.recv(12).startswith(b"HTTP/1.1 200")
        one_more = ask_for_changes(served, cookie)
        assert one_more.recv(12).startswith(b"HTTP/1.1 503")
        viewers[0].close()
        ends = time.monotonic() + 5.0
        while True:
            again = ask_for_changes(served, cookie)
            let_in = again.recv(12).startswith(b"HTTP/1.1 200")
            again.close()
            if let_in:
                break
            assert time.monotonic() < ends, "the place of the one who left is not free"
        for viewer in (*viewers, one_more):
            viewer.close()


def test_the_stream_is_alive_when_nothing_changes(monkeypatch):
    monkeypatch.setattr(stream.Changes.__init__, "__defaults__", (3, 0.1))
    room = wheel_room("Still", every_s=30.0)
    with serving(room) as served:
        viewer = ask_for_changes(served, cookie_of(served, served.guest_link))
        said = b""
        while said.count(b"event: alive") < 3:
            said += viewer.recv(65536)
        viewer.close()
    assert said.count(b'data: {"schema"') == 1
    assert b'event: you\ndata: {"may_act":false}' in said


def test_the_stream_ends_with_the_room(served, room):
    viewer = ask_for_changes(served, cookie_of(served, served.own_link))
    assert b'"may_act":true' in viewer.recv(65536) + viewer.recv(65536)
    room.ended = True
    said = b""
    while not said.endswith(b"\r\n0\r\n\r\n"):  # the last chunk of HTTP/1.1 (RFC 9112, section 7.1)
        said += viewer.recv(65536)
    assert b'"ended": true' in said
    viewer.close()
