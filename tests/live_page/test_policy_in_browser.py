"""The page's policy in a real browser: text made into markup or code is refused before anything comes of it."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pytest
from pretend_room import wheel_room
from serve_room import Served, serving

#: Ways in which a script makes markup or code of a text (the injection sinks of W3C's Trusted Types). Each tells what
#: became of it: "TypeError", or "made" if the page took it. What an error's name does not tell, `ran` does.
SINKS = """async () => {
  const bad = `<img src="data:," onerror="ran.push('markup')">`;
  window.ran = [];
  const tried = {};
  const tries = (name, sink) => {
    try { sink(); tried[name] = "made"; } catch (error) { tried[name] = error.name; }
  };
  const inside = document.createElement("div");
  document.body.append(inside);
  tries("innerHTML", () => { inside.innerHTML = bad; });
  tries("outerHTML", () => { inside.outerHTML = bad; });
  tries("insertAdjacentHTML", () => { document.body.insertAdjacentHTML("beforeend", bad); });
  tries("parseFromString", () => { new DOMParser().parseFromString(bad, "text/html"); });
  tries("contextual fragment", () => { document.createRange().createContextualFragment(bad); });
  tries("srcdoc", () => { document.createElement("iframe").srcdoc = bad; });
  tries("script text", () => { document.createElement("script").text = "ran.push('script')"; });
  tries("script src", () => { document.createElement("script").src = "/static/page.js"; });
  tries("event handler", () => { inside.setAttribute("onclick", "ran.push('handler')"); });
  tries("timer", () => { setTimeout("ran.push('timer')", 0); });
  tries("a policy of one's own", () => { trustedTypes.createPolicy("mine", { createHTML: (text) => text }); });
  tries("the default policy", () => { trustedTypes.createPolicy("default", { createHTML: (text) => text }); });
  await new Promise((done) => setTimeout(done, 300));
  return { tried, ran: window.ran, there: document.querySelectorAll("img[onerror]").length };
}"""


@pytest.fixture(scope="module")
def held() -> Iterator[Served]:
    """A served room for tests that change nothing in it."""
    with serving(wheel_room("By the window")) as running:
        yield running


def tried(browser: Any, served: Served, *, policy: bool) -> dict[str, Any]:
    """What became of the attacks in the page as it is served, or without its policy."""
    context = browser.new_context()
    page = context.new_page()
    if not policy:

        def undressed(route: Any) -> None:
            answer = route.fetch()
            headers = {k: v for k, v in answer.headers.items() if k != "content-security-policy"}
            route.fulfill(response=answer, headers=headers)

        page.route(lambda url: url.startswith(f"{served.origin}/?"), undressed)
    page.goto(served.own_link)
    page.wait_for_selector(".sheet .numeral:not(:empty)")
    found: dict[str, Any] = page.evaluate(SINKS)
    context.close()
    return found


def test_no_text_becomes_markup_or_code(browser, held):
    found = tried(browser, held, policy=True)
    assert set(found["tried"].values()) <= {"TypeError", "EvalError"}, found["tried"]
    assert (found["ran"], found["there"]) == ([], 0)


def test_without_the_policy_the_same_attacks_work(browser, held):
    """So that the test above cannot pass for another reason."""
    found = tried(browser, held, policy=False)
    assert set(found["tried"].values()) == {"made"}
    assert {"markup", "timer"} <= set(found["ran"])
