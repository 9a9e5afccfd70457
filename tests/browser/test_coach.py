"""The coach's view: every workbook as a page without code, legible from two metres, all from the keyboard."""

import json
import re
from pathlib import Path
from urllib.parse import quote

import pytest

from vdlib.door.course import PAGES
from vdlib.draw import garage as drawn
from vdlib.garage.form import STEPS
from vdlib.garage.form_fields import CHOICES

from .lab import HARMLESS, screenshot
from .panels import (
    alerts,
    at_last,
    at_rest,
    beyond_one_screen,
    cut_labels,
    every_fold,
    grown,
    scrollbars,
    shown,
    small_text,
    too_wide,
    unreached,
)
from .reading import barred, words
from .test_meanings import meanings_of

FOLDER = Path(__file__).resolve().parents[2] / "workbooks"
WORKBOOKS = [FOLDER / page.file for page in PAGES]
"""In the order of the course: the next page is made while one is looked at."""
READ: dict[str, dict[str, int]] = {}
"""Words that can be seen on each page that was opened."""
BEFORE, ALL = 90, 6500
"""Most words that can be seen before the first panel of a page, and on all pages together, their panels included.

16,423 were counted at first, 8,522 before tables were folded away, 6,598 before the links to the code were.
"""
LEAST = 20.0
"""Smallest text in large letters [screen pixels]: 5 mm on a 15.6-inch screen of 1366 x 768, 8 minutes of arc at 2 m."""
GROWN = "[...document.querySelectorAll('img.vd-picture')].map(i => i.clientWidth / i.getAttribute('width'))"
"""How much wider each picture is than it was drawn for: its letters grow as much."""


MOVED = """new MutationObserver(() => { window.moved ||= document.querySelector('.vd-verdict em') !== null; })
    .observe(document, {subtree: true, childList: true})"""
"""Notes whether a verdict was ever rough, as while a slider moves."""


class Page:
    """One page without code, opened as the coach does."""

    def __init__(self, tab, url, name):
        self.page = tab
        self.console_errors, self.asked = [], set()
        self._heard = {
            "console": lambda m: self._note(f"{m.text} ({m.location.get('url', '')})", m.type),
            "pageerror": lambda error: self._note(str(error)),
            "request": lambda request: self.asked.add(request.url.split("/")[2]),
        }
        for what, hear in self._heard.items():
            self.page.on(what, hear)
        self.page.add_init_script(MOVED)
        self.page.goto(f"{url}/voila/render/{quote(name)}", timeout=90_000)
        self.ready()

    def _note(self, text, kind="error"):
        if kind == "error" and not any(known in text for known in HARMLESS):
            self.console_errors.append(text)

    def ready(self):
        """Wait until the page is shown and its pictures are there."""
        self.page.locator("#rendered_cells").wait_for(timeout=90_000)
        wanted = ".vd-panel:visible" if re.search("00-start|08-workings", self.page.url) else "img.vd-picture"
        self.page.locator(wanted).first.wait_for(timeout=90_000)
        self.page.wait_for_function("[...document.images].every(i => i.complete)", timeout=30_000)
        at_rest(self.page)

    def letters(self, large):
        """Make the letters of the page large or usual, as they are at first."""
        switch = self.page.get_by_role("button", name="Large letters")
        if (switch.get_attribute("aria-pressed") == "true") != large:
            switch.click()
            at_rest(self.page, 250)

    def close(self):
        """Leave the page; the browser keeps how large its letters were, the next one has usual ones nevertheless."""
        for what, hear in self._heard.items():
            self.page.remove_listener(what, hear)
        self.page.context.clear_cookies(name="vd-large")
        self.page.goto("about:blank")

    def code(self):
        """Return the code that can be seen."""
        return [t for t in self.page.locator(".jp-CodeCell .jp-InputArea:visible").all_inner_texts() if t.strip()]

    def links(self):
        """Return the names of the workbooks it links to, as the browser resolves them."""
        found = self.page.evaluate("[...document.querySelectorAll('a[href]')].map(a => decodeURI(a.href))")
        return [link for link in found if ".ipynb" in link]


def scrolled_in_folds(page):
    """What has scrollbars of its own in any line, fold or tab of a page."""
    faults = []
    for count, name in enumerate(every_fold(page)):
        faults += [f"{name}: {bar}" for bar in at_last(page, lambda: scrollbars(page), 5)]
        assert count < 200
    return faults


def parted(page):
    """The first slider and the picture beside it, where they are not seen at once."""
    top = page.locator(".vd-panel:has(.vd-panel)").first
    top.evaluate("e => e.scrollIntoView(true)")
    boxes = [part.first.bounding_box() for part in (top.locator(".noUi-handle"), top.locator("img.vd-picture"))]
    return [box for box in boxes if box["y"] < 0 or box["y"] + box["height"] > page.viewport_size["height"]]


MAIN, FORM, TALL = "04-nose-high", "07-measure-your-car", "01-setup-words"
"""The page whose marked words are pointed at, the one with the measuring form, and one where in large letters the first
slider and its picture are looked at together."""
EVERY_RUN = ("00-start", MAIN, FORM, "09-before-the-workshop", "10-did-it-work")
"""Pages opened in every run, one of each kind: the steps, pictures with sliders, the form, the printed page, the logs.

The other pages are of the second kind; nbval runs their cells, and their panels are driven without a browser.
"""
VISITED = [
    pytest.param(path, id=path.stem, marks=() if path.stem in EVERY_RUN else pytest.mark.slow) for path in WORKBOOKS
]


def worded(page):
    """What is wrong with the words of the form's pictures, each step opened: each picture has those of its step."""
    faults = []
    for step in STEPS:
        if step.key in drawn.ALT:
            head = page.locator(".jupyter-widget-Collapse-header", has_text=re.compile(rf"\d+ {step.title}")).first
            if "Collapse-open" not in (head.locator("..").get_attribute("class") or ""):
                head.click()
            due = {drawn.alt_of(step.key, way) for way in CHOICES["heights.way"].options}
            faults += at_last(page, lambda due=due: [said for said in seen(page) or [None] if said not in due])
            faults += barred(page)
    return faults


def seen(page):
    """Return the words of the form's pictures that are seen."""
    return [one.get_attribute("alt") for one in page.locator(".jupyter-widget-Collapse-contents img:visible").all()]


@pytest.mark.parametrize("path", VISITED)
def test_a_page_without_code_is_legible_and_all_from_the_keyboard(path, tab, coach, artefacts):
    pages = {f"{coach}/voila/render/{quote(one.name)}" for one in WORKBOOKS}
    coached = Page(tab, coach, path.name)
    page = coached.page
    try:
        assert page.evaluate("window.moved") is False  # nobody has moved anything yet
        assert coached.code() == []
        assert "There was an error" not in page.locator("body").inner_text()
        assert {link.partition("#")[0] for link in coached.links()} <= pages
        assert not any(told.is_visible() for told in page.get_by_text("Run All Cells").all())  # there is no such menu
        READ[path.name] = words(page)
        assert barred(page) == []
        faults = [fault for i, panel in enumerate(shown(page, page)) for fault in panel.move(mouse=i == 0)]
        faults += unreached(page, page.locator("#rendered_cells"))
        assert sorted(set(faults)) == []
        assert at_last(page, lambda: beyond_one_screen(page)) == []
        assert at_last(page, lambda: scrollbars(page)) == []
        assert at_last(page, lambda: grown(page, 1.0)) == []
        screenshot(page, artefacts / "coach" / f"{path.stem}.png")
        if path.stem == FORM:
            assert worded(page) == []
        if path.stem == MAIN:
            meanings_of(page)
        coached.letters(large=True)
        screenshot(page, artefacts / "coach" / f"{path.stem}_large.png")
        assert at_last(page, lambda: small_text(page, LEAST)) == []
        assert at_last(page, lambda: [times for times in page.evaluate(GROWN) if times < 1.4]) == []
        assert at_last(page, lambda: cut_labels(page) + too_wide(page) + alerts(page)) == []
        if path.stem == TALL:
            assert at_last(page, lambda: parted(page)) == []
        assert coached.console_errors == []
        assert coached.asked - {""} == {coach.split("/")[2]}  # nothing of the network; what is inlined has no host
    finally:
        coached.close()


@pytest.mark.slow
@pytest.mark.parametrize("path", WORKBOOKS, ids=lambda path: path.stem)
def test_nothing_in_a_panel_is_scrolled_for_itself_whatever_is_opened(path, tab, coach):
    coached = Page(tab, coach, path.name)
    try:
        assert scrolled_in_folds(coached.page) == []
        assert coached.console_errors == []
    finally:
        coached.close()


@pytest.mark.slow  # every run looks at what the script that shows widgets is served as
def test_a_slow_computer_shows_its_page_a_little_later(tab, coach):
    speed = tab.context.new_cdp_session(tab)
    try:
        speed.send("Emulation.setCPUThrottlingRate", {"rate": 4})
        coached = Page(tab, coach, f"{FORM}.ipynb")
        assert coached.page.get_by_text("Error displaying widget: model not found").count() == 0
        assert coached.console_errors == []
        coached.close()
    finally:
        speed.send("Emulation.setCPUThrottlingRate", {"rate": 1})
        speed.detach()


def test_few_words_stand_between_a_reader_and_the_first_panel():
    assert {name: found["before"] for name, found in READ.items() if found["before"] > BEFORE} == {}


@pytest.mark.slow  # every run opens some pages, and counts what stands before their first panels
def test_the_whole_course_has_few_words():
    if len(READ) < len(WORKBOOKS):
        pytest.skip("not every page was opened")
    sums = {name: found["prose"] + found["panels"] for name, found in READ.items()}
    assert sum(sums.values()) <= ALL, sums


def test_no_page_without_code_speaks_of_running_or_of_cells_but_for_who_sees_no_panels():
    for path in WORKBOOKS:
        cells = json.loads(path.read_text())["cells"]
        prose = "".join("".join(cell["source"]) + "\n" for cell in cells if cell["cell_type"] == "markdown")
        prose = prose.replace("Run All Cells", "", 1)
        assert re.search("panels|film", prose.split("*Run → ")[0].splitlines()[-1])
        assert re.findall(r"\b[Cc]ells?\b|[Rr]un it\b|\bthe notebook\b", prose) == []


@pytest.mark.slow  # every page's links lead to pages, and every page is opened, in every run
def test_a_link_leads_from_the_start_to_the_main_page(tab, coach):
    coached = Page(tab, coach, "00-start.ipynb")
    coached.page.get_by_role("link", name="Nose-high").first.click()
    coached.page.wait_for_url("**/voila/render/04-nose-high.ipynb", timeout=60_000)
    coached.ready()
    assert coached.page.locator("img.vd-picture").count() > 0
    coached.close()
