"""The page in a real browser: silent, alone, accessible, narrow enough for a phone, whole on paper.

Debian's chromium is used where it is installed; without it (or without playwright) these tests are skipped.
"""

import re
import shutil
from itertools import pairwise

import pytest

from .report_examples import EVERY_REPORT, files

CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser")
PAGES = {"class": 1, "bakery": 2}


@pytest.fixture(scope="module")
def browser():
    """Return a headless browser."""
    if CHROMIUM is None:
        pytest.skip("no chromium here: apt-get install chromium")
    playwright = pytest.importorskip("playwright.sync_api", reason="no playwright here: pip install fairloaf[test]")
    with playwright.sync_playwright() as driver:
        running = driver.chromium.launch(executable_path=CHROMIUM, args=["--no-sandbox"])
        yield running
        running.close()


@pytest.fixture
def show(browser, tmp_path):
    """Return a function that opens a page at a width; what it asks for and says is kept on it."""
    opened = []

    def open_at(html, width):
        file = tmp_path / "page.html"
        file.write_bytes(html)
        page = browser.new_page(viewport={"width": width, "height": 900})
        opened.append(page)
        page.heard = []
        page.asked = []
        page.on("console", lambda message: page.heard.append(message.text))
        page.on("pageerror", lambda error: page.heard.append(str(error)))
        page.on("request", lambda request: page.asked.append(request.url))
        page.goto(file.as_uri())
        return page

    yield open_at
    for page in opened:
        page.close()


@pytest.mark.parametrize(("name", "audience"), EVERY_REPORT)
def test_a_page_is_silent_and_alone(show, name, audience):
    page = show(files(name, audience)["html"], 1400)
    assert page.heard == []
    assert [url for url in page.asked if not url.startswith("file:")] == []
    assert len(page.asked) == 1


@pytest.mark.parametrize(("name", "audience"), EVERY_REPORT)
def test_a_page_has_no_fault_that_axe_knows(show, name, audience):
    axe = pytest.importorskip("axe_playwright_python.sync_playwright", reason="pip install fairloaf[test]")
    for width in (360, 1400):
        found = axe.Axe().run(show(files(name, audience)["html"], width))
        assert found.violations_count == 0, found.generate_report()


@pytest.mark.parametrize("width", [360, 400, 1400])
@pytest.mark.parametrize(("name", "audience"), EVERY_REPORT)
def test_a_page_never_scrolls_sideways(show, name, audience, width):
    page = show(files(name, audience)["html"], width)
    assert page.evaluate("document.documentElement.scrollWidth") <= width


@pytest.mark.parametrize(("name", "audience"), EVERY_REPORT)
def test_letters_in_pictures_can_be_read_on_a_phone(show, name, audience):
    page = show(files(name, audience)["html"], 360)
    heights = page.evaluate(
        "[...document.querySelectorAll('svg text')].filter(t => t.textContent.trim())"
        ".map(t => [parseFloat(getComputedStyle(t).fontSize), t.getScreenCTM()])"
        ".map(([size, m]) => size * Math.hypot(m.a, m.b))")
    assert heights
    assert min(heights) >= 8


@pytest.mark.parametrize(("name", "audience"), EVERY_REPORT)
def test_nothing_is_cut_in_print(show, name, audience):
    """On a sheet of A4 with our margins everything stays inside the width, and no scrolling box hides a part."""
    page = show(files(name, audience)["html"], 688)      # (210 − 2 · 14) mm at 96 px an inch
    page.emulate_media(media="print")
    outside = page.evaluate(
        "[...document.querySelectorAll('body *')].filter(e => !e.closest('svg') || e.tagName == 'svg')"
        ".filter(e => e.getBoundingClientRect().right > innerWidth + 1 || e.scrollWidth > e.clientWidth + 1"
        " && getComputedStyle(e).overflowX != 'visible')"
        ".map(e => e.tagName + ' ' + e.className + ' ' + e.textContent.slice(0, 40))")
    assert outside == []


@pytest.mark.parametrize(("name", "audience"), [pair for pair in EVERY_REPORT if pair[1] in PAGES])
def test_the_page_fits_its_sheets(show, name, audience):
    page = show(files(name, audience)["html"], 1400)
    printed = page.pdf(prefer_css_page_size=True)
    assert len(re.findall(rb"/Type\s*/Page\b(?!s)", printed)) <= PAGES[audience]


@pytest.mark.parametrize(("name", "audience"), EVERY_REPORT)
def test_headings_tables_and_language(show, name, audience):
    page = show(files(name, audience)["html"], 1400)
    levels = page.evaluate("[...document.querySelectorAll('h1,h2,h3,h4,h5,h6')].map(h => +h.tagName[1])")
    assert levels[0] == 1
    assert levels.count(1) == 1
    assert all(later - earlier <= 1 for earlier, later in pairwise(levels))
    assert page.evaluate("document.documentElement.lang") == "en"
    bare = ("[...document.querySelectorAll('table')].filter(t => !t.caption"
            " || !t.querySelector('tbody th[scope=row]') || !t.querySelector('thead th[scope=col]')).length")
    assert page.evaluate(bare) == 0
