"""What a page of somebody else can do in the browser in which the live page is open: nothing.

Real attacks in a real browser that holds the owner's cookie: requests across ports of one host (which browsers call
the same site), from another name, in a frame, and by a name that is pointed at this computer (DNS rebinding).
"""

from __future__ import annotations

import threading
from collections.abc import Iterator
from functools import partial
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from typing import Any

import pytest
from serve_room import CHROMIUM_ARGS

from tools import require_tool

ATTACKS = """
const target = location.hash.slice(1);
const act = JSON.stringify({wheel: "1", action: "mark", text: "owned"});
const tried = {};
async function tries(name, attack) {
  try { tried[name] = await attack(); } catch (error) { tried[name] = "refused"; }
}
const image = (path) => new Promise((done) => {
  const made = new Image();
  made.onload = () => done("loaded");
  made.onerror = () => done("refused");
  made.src = target + path;
});
const script = (path) => new Promise((done) => {
  const made = document.createElement("script");
  made.onload = () => done("loaded");
  made.onerror = () => done("refused");
  made.src = target + path;
  document.head.append(made);
});
const stream = (path) => new Promise((done) => {
  const made = new EventSource(target + path, { withCredentials: true });
  made.onmessage = () => done("heard");
  made.onerror = () => { made.close(); done("refused"); };
});
const frame = (path) => new Promise((done) => {
  const made = document.createElement("iframe");
  made.onload = () => {
    let inside = null;
    try { inside = made.contentDocument; } catch {}
    done(inside ? "seen" : "refused");
  };
  made.src = target + path;
  document.body.append(made);
});
const post = (kind, mode) => async () => {
  const answer = await fetch(target + "/act",
    { method: "POST", mode, credentials: "include", headers: kind ? { "content-type": kind } : {}, body: act });
  return answer.type === "opaque" ? "refused" : String(answer.status);
};
await tries("read", async () => (await fetch(target + "/state", { credentials: "include" })).text());
await tries("simple post", post("text/plain", "no-cors"));
await tries("plain post", post("", "no-cors"));
await tries("json post", post("application/json", "cors"));
await tries("picture", () => image("/share.svg"));
await tries("script", () => script("/static/words.js"));
await tries("stream", () => stream("/changes"));
await tries("frame", () => frame("/"));
document.title = JSON.stringify(tried);
"""


class _Attacker(BaseHTTPRequestHandler):
    def do_GET(self) -> None:
        page = f"<!doctype html><body><script type=module>{ATTACKS}</script>".encode()
        self.send_response(200)
        self.send_header("content-type", "text/html")
        self.send_header("content-length", str(len(page)))
        self.end_headers()
        self.wfile.write(page)

    def log_message(self, *said: object) -> None:
        pass


@pytest.fixture(scope="module")
def attacker() -> Iterator[int]:
    """The port of a page that attacks the address behind its #."""
    server = ThreadingHTTPServer(("127.0.0.1", 0), partial(_Attacker))
    thread = threading.Thread(target=server.serve_forever, kwargs={"poll_interval": 0.05})
    thread.start()
    yield server.server_address[1]
    server.shutdown()
    thread.join()
    server.server_close()


@pytest.fixture(scope="module")
def deceived(playwright: Any) -> Iterator[Any]:
    """A browser to which a stranger's name means this computer."""
    rules = "--host-resolver-rules=MAP rebound.example 127.0.0.1"
    running = playwright.chromium.launch(executable_path=require_tool("chromium"), args=[*CHROMIUM_ARGS, rules])
    yield running
    running.close()


@pytest.mark.parametrize("name", ["127.0.0.1", "localhost", "rebound.example"])
def test_another_page_in_the_owners_browser_gets_nothing_done(deceived, attacker, served, room, name):
    context = deceived.new_context()
    owner = context.new_page()
    owner.goto(served.own_link)
    owner.wait_for_selector(".sheet")
    other = context.new_page()
    other.goto(f"http://{name}:{attacker}/#{served.origin}")
    other.wait_for_function("() => document.title.startsWith('{')")
    tried = other.evaluate("() => JSON.parse(document.title)")
    assert set(tried) == {"read", "simple post", "plain post", "json post", "picture", "script", "stream", "frame"}
    assert set(tried.values()) == {"refused"}
    assert room.acts == []
    context.close()


def test_a_name_pointed_at_this_computer_finds_no_page(deceived, served, room):
    context = deceived.new_context()
    page = context.new_page()
    answer = page.goto(f"http://rebound.example:{served.port}/?key={served.access.own_key}")
    assert answer.status == 421
    assert context.cookies() == []
    read = "async () => (await fetch('/state')).status"
    assert page.evaluate(read) == 421
    assert room.acts == []
    context.close()
