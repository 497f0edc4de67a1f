"""The page in a real browser: nothing is fetched, nothing fails, pictures move with scripts and stand without them."""

from __future__ import annotations

import re
from itertools import pairwise

import pytest
from report_browser import opened_browser
from report_pages import asked, captured, pair_of, report_of

from whorlpulse.actions.make_report import make_report
from whorlpulse.views.report_page import Look, html, pair_html


@pytest.fixture(scope="module")
def browser():
    with opened_browser() as one:
        yield one


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    place = tmp_path_factory.mktemp("pages")
    (place / "moving.html").write_text(html(report_of("slipping-band"), Look("repairer")))
    (place / "pair.html").write_text(pair_html(pair_of("slipping-band", "skein-on-plan"), Look(script=False)))
    (place / "soft.html").write_text(html(report_of("skein-soft"), Look(script=False)))
    no_answer = make_report(asked(captured("three-whorls"), wheel=False))
    (place / "whorls.html").write_text(html(no_answer, Look("teacher", script=False)))
    return place


def visit(browser, path, *, width=1100, scripts=True):
    page = browser.new_page(viewport={"width": width, "height": 900}, java_script_enabled=scripts)
    page.asked, page.troubles = [], []
    page.on("request", lambda r: page.asked.append(r.url))
    page.on("console", lambda m: page.troubles.append(m.text) if m.type in ("error", "warning") else None)
    page.on("pageerror", lambda e: page.troubles.append(str(e)))
    page.goto(path.as_uri())
    return page


def test_pictures_come_alive_and_nothing_is_fetched(browser, folder):
    page = visit(browser, folder / "moving.html")
    charts = page.locator("figure.chart").count()
    page.wait_for_function(f"document.querySelectorAll('.live svg').length === {charts}", timeout=20_000)
    assert page.troubles == []
    assert page.asked == [(folder / "moving.html").as_uri()]
    assert page.locator(".still:visible").count() == 0
    page.close()


def test_shift_and_wheel_zoom_into_a_burst_and_a_double_click_leads_back(browser, folder):
    page = visit(browser, folder / "moving.html")
    live = page.locator("#a-loss .live svg")
    live.wait_for(timeout=20_000)
    live.scroll_into_view_if_needed()
    first = ticks(page)
    box = live.bounding_box()
    page.mouse.move(box["x"] + box["width"] / 2, box["y"] + box["height"] / 3)
    page.mouse.wheel(0, -400)
    page.wait_for_timeout(150)
    assert ticks(page) == first  # a wheel alone scrolls the page
    live.scroll_into_view_if_needed()
    box = live.bounding_box()
    page.mouse.move(box["x"] + box["width"] / 2, box["y"] + box["height"] / 3)
    page.keyboard.down("Shift")
    page.mouse.wheel(0, -400)
    page.keyboard.up("Shift")
    page.wait_for_function(f"{TICKS} !== {first!r}", timeout=5_000)
    assert span(ticks(page)) < 0.7 * span(first)
    page.mouse.dblclick(box["x"] + box["width"] / 2, box["y"] + box["height"] / 3)
    page.wait_for_function(f"{TICKS} === {first!r}", timeout=5_000)
    page.close()


TICKS = (
    "[...document.querySelectorAll('#a-loss .live .role-axis-label')][0]"
    " ? [...[...document.querySelectorAll('#a-loss .live .role-axis-label')].find(g => g.textContent.match(/\\d/))"
    ".querySelectorAll('text')].map(t => t.textContent).join(' ') : ''"
)


def ticks(page) -> str:
    return page.evaluate(TICKS)


def span(text: str) -> float:
    values = [float(x.replace("−", "-").replace(",", "")) for x in text.split()]
    return max(values) - min(values)


def test_without_scripts_the_same_pictures_stand(browser, folder):
    page = visit(browser, folder / "moving.html", scripts=False)
    charts = page.locator("figure.chart").count()
    assert charts >= 5
    assert page.locator(".still svg:visible").count() == charts
    assert page.locator(".hint:visible").count() == 0
    page.close()


@pytest.mark.parametrize("name", ["moving", "pair", "soft", "whorls"])
def test_nothing_runs_over_a_phones_edge(browser, folder, name):
    page = visit(browser, folder / f"{name}.html", width=390)
    assert page.evaluate("document.documentElement.scrollWidth") <= 390
    page.close()


@pytest.mark.parametrize("name", ["moving", "pair", "soft", "whorls"])
def test_a_screen_reader_and_weak_eyes_are_served(browser, folder, name):
    """By axe's rules of WCAG 2.1 A and AA."""
    from axe_playwright_python.sync_playwright import Axe

    page = visit(browser, folder / f"{name}.html")
    page.wait_for_timeout(1500)
    found = Axe().run(page, options={"runOnly": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "best-practice"]})
    assert [f"{v['id']}: {v['nodes'][0]['html'][:120]}" for v in found.response["violations"]] == []
    page.close()


def test_headings_go_down_by_one(browser, folder):
    page = visit(browser, folder / "pair.html")
    levels = [int(x[1]) for x in re.findall(r"<(h[1-6])[ >]", page.content())]
    assert levels[0] == 1
    assert all(b - a <= 1 for a, b in pairwise(levels))
    page.close()


#: Ways in which markup that got into a page could run something. Each sets window.ran by name if it does.
ATTACKS = """async () => {
  window.ran = [];
  const inside = document.createElement("div");
  document.body.append(inside);
  inside.innerHTML = `<img src="data:," onerror="ran.push('handler of a picture')">`
    + `<svg onload="ran.push('handler of a drawing')"></svg><script>ran.push('script as markup')<\\/script>`
    + `<iframe srcdoc="<script>parent.ran.push('frame')<\\/script>"></iframe>`;
  const script = document.createElement("script");
  script.textContent = "ran.push('script as element')";
  document.body.append(script);
  const button = document.createElement("button");
  button.setAttribute("onclick", "ran.push('handler of a button')");
  document.body.append(button);
  button.click();
  const link = document.createElement("a");
  link.href = "javascript:ran.push('link')";
  document.body.append(link);
  link.click();
  const timer = document.createElement("script");
  timer.src = "data:text/javascript,ran.push('script from an address')";
  document.body.append(timer);
  await new Promise((done) => setTimeout(done, 400));
  return window.ran;
}"""


def test_markup_that_got_in_would_run_nothing(browser, folder):
    """Of scripts only the page's own texts run, by their hashes; the same page without its policy shows the attacks."""
    text = (folder / "moving.html").read_text()
    policy = re.search(r'<meta http-equiv="Content-Security-Policy" content="([^"]*)">', text)
    assert policy is not None
    assert "unsafe" not in policy[1].replace("style-src 'unsafe-inline'", "")
    (folder / "without.html").write_text(text.replace(policy[0], ""))
    ran = {}
    for name in ("moving", "without"):
        page = visit(browser, folder / f"{name}.html")
        page.locator("#a-loss .live svg").wait_for(timeout=20_000)
        ran[name] = set(page.evaluate(ATTACKS))
        page.close()
    assert ran["moving"] == set()
    assert ran["without"] >= {"handler of a picture", "handler of a button", "script as element", "link"}
