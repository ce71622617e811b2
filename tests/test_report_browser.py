"""The page in a real browser: silent, alone, accessible, narrow enough for a phone, whole on paper.

Debian's chromium is used where it is installed; without it (or without playwright) these tests are
skipped.
"""

import re
from itertools import pairwise

import pytest

from .report_examples import EVERY_REPORT, files

PAGES = {"class": 1, "wall": 1, "bakery": 2}
# What a reader may have: these by name, and nothing but what the browser takes for itself. What is
# not installed here falls back to the browser's own.
FONTS = {
    "DejaVu": ('"DejaVu Serif"', '"DejaVu Sans"'),
    "Liberation": ('"Liberation Serif"', '"Liberation Sans"'),
    "Noto": ('"Noto Serif"', '"Noto Sans"'),
    "the browser's own": ("serif", "sans-serif"),
}
# the sheet of A4 with a tenth less of it between the margins
SHORT_SHEET = "@page { size: 210mm 268.9mm; margin: 8mm 14mm; }"
WIDE = 1400
# Judging contrast takes axe nearly all of its time, and a table's thousand cells look alike: one
# text is judged for every combination of whatever makes its contrast (none in pictures, ever).
MARK_ONE_OF_A_KIND = """() => {
    const seen = new Set();
    for (const e of document.querySelectorAll('body, body *')) {
        e.removeAttribute('data-kind');
        if (![...e.childNodes].some(n => n.nodeType == 3 && n.data.trim())) continue;
        if (!e.checkVisibility()) continue;
        const own = getComputedStyle(e), looks = [own.color, own.fontSize, own.fontWeight];
        for (let a = e; a; a = a.parentElement) {
            const s = getComputedStyle(a);
            looks.push([s.backgroundColor, s.backgroundImage, s.opacity, s.position, s.textShadow,
                        s.filter, s.mixBlendMode].join());
        }
        const kind = [...new Set(looks)].join();
        if (!seen.has(kind)) e.setAttribute('data-kind', '');
        seen.add(kind);
    }
    return seen.size;
}"""
CONTRAST_OF_THE_MARKED = (
    "; axe.configure({rules: [{id: 'color-contrast', selector: '[data-kind]'}]});"
)
PAPER = 688  # (210 − 2 · 14) mm at 96 px an inch


@pytest.fixture(scope="module")
def window(browser):
    """Return the one page in which every report is opened: a new one starts a process."""
    window = browser.new_page(viewport={"width": WIDE, "height": 900})
    window.on("console", lambda message: window.heard.append(message.text))
    window.on("pageerror", lambda error: window.heard.append(str(error)))
    window.on("request", lambda request: window.asked.append(request.url))
    yield window
    window.close()


@pytest.fixture(scope="module", params=EVERY_REPORT, ids="-".join)
def page(window, request, tmp_path_factory):
    """Return an open page, loaded once for all tests; what it asks for and says is kept on it."""
    name, audience = request.param
    file = tmp_path_factory.mktemp("page") / "page.html"
    file.write_bytes(files(name, audience)["html"])
    window.audience, window.heard, window.asked = audience, [], []
    window.goto(file.as_uri())
    return window


@pytest.fixture
def show(page):
    """Return a function that shows the page on a screen of a width.

    A page that is laid out anew takes longer than what most tests ask of it: tests at one width
    follow each other below.
    """

    def show_at(width):
        page.set_viewport_size({"width": width, "height": 900})
        return page

    yield show_at
    page.emulate_media(media="null")


def test_a_page_is_silent_and_alone(show):
    page = show(WIDE)
    assert page.heard == []
    assert [url for url in page.asked if not url.startswith("file:")] == []
    assert len(page.asked) == 1


def test_headings_tables_and_language(show):
    page = show(WIDE)
    levels = page.evaluate(
        "[...document.querySelectorAll('h1,h2,h3,h4,h5,h6')].map(h => +h.tagName[1])"
    )
    assert levels[0] == 1
    assert levels.count(1) == 1
    assert all(later - earlier <= 1 for earlier, later in pairwise(levels))
    assert page.evaluate("document.documentElement.lang") == "en"
    bare = (
        "[...document.querySelectorAll('table')].filter(t => !t.caption || !t.querySelector('tbody"
        " th[scope=row]') || !t.querySelector('thead th[scope=col]')).length"
    )
    assert page.evaluate(bare) == 0


@pytest.mark.parametrize("fonts", FONTS.values(), ids=FONTS)
@pytest.mark.parametrize(
    "page", [pair for pair in EVERY_REPORT if pair[1] in PAGES], ids="-".join, indirect=True
)
def test_the_page_fits_its_sheets_with_a_tenth_to_spare(show, fonts):
    page = show(WIDE)
    serif, sans = fonts
    style = page.add_style_tag(
        content=f":root {{ --serif: {serif}; --sans: {sans}; }} {SHORT_SHEET}"
    )
    printed = page.pdf(prefer_css_page_size=True)
    style.evaluate("e => e.remove()")
    assert len(re.findall(rb"/Type\s*/Page\b(?!s)", printed)) <= PAGES[page.audience]


@pytest.mark.parametrize("width", [WIDE, 360])
def test_a_table_that_is_wider_than_the_screen_says_so(show, width):
    silent = show(width).evaluate(
        "[...document.querySelectorAll('.wide')].filter(e => e.scrollWidth > e.clientWidth + 1)"
        ".filter(e => getComputedStyle(e.querySelector('.more')).display == 'none')"
        ".map(e => e.textContent.slice(0, 60))"
    )
    assert silent == []


def faults_by_axe(page, more_script=""):
    """Return what axe has against a page."""
    base = pytest.importorskip("axe_playwright_python.base", reason="pip install fairloaf[test]")
    from axe_playwright_python.sync_playwright import Axe

    found = Axe(base.AXE_SCRIPT + more_script).run(page, options={"resultTypes": ["violations"]})
    return found.generate_report() if found.violations_count else ""


@pytest.mark.parametrize("width", [360, WIDE])
def test_a_page_has_no_fault_that_axe_knows(show, width):
    page = show(width)
    assert page.evaluate(MARK_ONE_OF_A_KIND) > 4
    assert faults_by_axe(page, CONTRAST_OF_THE_MARKED) == ""


@pytest.mark.benchmark
@pytest.mark.parametrize("width", [360, WIDE])
def test_every_text_has_contrast_enough(show, width):
    assert faults_by_axe(show(width)) == ""


@pytest.mark.parametrize("width", [WIDE, 400, 360])
def test_a_page_never_scrolls_sideways(show, width):
    page = show(width)
    assert page.evaluate("document.documentElement.scrollWidth") <= width


def letters_of_pictures(page):
    """Return how high letters stand in the page's pictures, in px."""
    heights = page.evaluate(
        "[...document.querySelectorAll('svg text')].filter(t => t.textContent.trim())"
        ".map(t => [parseFloat(getComputedStyle(t).fontSize), t.getScreenCTM()])"
        ".map(([size, m]) => size * Math.hypot(m.a, m.b))"
    )
    assert heights
    return heights


def test_letters_in_pictures_can_be_read_on_a_phone(show):
    assert min(letters_of_pictures(show(360))) >= 11


def test_letters_in_pictures_can_be_read_on_paper(show):
    page = show(PAPER)
    page.emulate_media(media="print")
    assert min(letters_of_pictures(page)) * 72 / 96 >= 5.8  # points


def test_nothing_is_cut_in_print(show):
    """On a sheet of A4 with our margins everything stays inside the width, and no scrolling box
    hides a part.
    """
    page = show(PAPER)
    page.emulate_media(media="print")
    outside = page.evaluate(
        "[...document.querySelectorAll('body *')].filter(e => !e.closest('svg') || e.tagName =="
        " 'svg').filter(e => e.getBoundingClientRect().right > innerWidth + 1 || e.scrollWidth >"
        " e.clientWidth + 1 && getComputedStyle(e).overflowX != 'visible').map(e => e.tagName + ' '"
        " + e.className + ' ' + e.textContent.slice(0, 40))"
    )
    assert outside == []
