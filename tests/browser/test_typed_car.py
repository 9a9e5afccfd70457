"""A car of one's own typed from nothing to the workshop's page in a browser, slips and all, in at most 60 moves."""

import json
import re
from pathlib import Path

import pytest
from read_pdf import words_of

from .panels import at_last, beyond_one_screen, cut_labels, too_wide

MOST = 60
CELLS = (
    "# the measuring form\nfrom vdlib.panels import measure\nmeasure.form()",
    "# the page\nfrom vdlib.panels import page, which\nwhich.with_car(page.panel)",
)


class Typist:
    """Types, chooses and clicks as a driver does, and counts it."""

    def __init__(self, page):
        self.page, self.moves = page, 0

    def box(self, label):
        name = re.compile(rf"^(?:[A-S] )?{re.escape(label)}(?: \[.*\])?$")
        named = self.page.locator("label", has_text=name)
        found = self.page.locator(".vd-form .widget-text", has=named).locator("input:visible")
        for _ in range(100):  # a step just opened shows for a moment the boxes that it is about to hide
            if found.count() == 1:
                break
            self.page.wait_for_timeout(50)
        return found

    def type(self, label, text):
        box = self.box(label)
        box.scroll_into_view_if_needed()
        box.fill(text)
        box.press("Enter")
        self.moves += 1
        self.still()

    def four(self, what, values):
        wheels = ("front left", "front right", "rear left", "rear right")
        for wheel, value in zip(wheels, values, strict=True):
            self.type(f"{wheel}{what}", value)

    def choose(self, label, option):
        row = self.page.locator(".widget-dropdown", has=self.page.locator("label", has_text=re.compile(f"^{label}$")))
        row.locator("select").select_option(label=option)
        self.moves += 1
        self.still()

    def open(self, title):
        header = self.page.locator(".vd-form .jupyter-widget-Collapse-header", has_text=title).first
        for _ in range(3):  # the form may move under the hand as an answer comes in: a hand presses again
            header.click()
            self.still()
            if "Collapse-open" in header.locator("..").get_attribute("class"):
                break
        self.moves += 1

    def click(self, text):
        self.page.locator("button.jupyter-button", has_text=text).click()
        self.moves += 1
        self.still()

    def still(self):
        self.page.wait_for_function(
            "window.jupyterapp.shell.currentWidget.sessionContext.session.kernel.status === 'idle'", timeout=60_000
        )
        self.page.wait_for_timeout(60)

    def says(self, words):
        self.page.locator(".vd-form", has_text=words).first.wait_for(timeout=30_000)


@pytest.fixture
def typist(notebook, copied):
    cells = [
        {"cell_type": "code", "id": f"c{i}", "metadata": {}, "execution_count": None, "outputs": [], "source": text}
        for i, text in enumerate(CELLS)
    ]
    kernel = {"display_name": "Python 3", "language": "python", "name": "python3"}
    book = {"cells": cells, "metadata": {"kernelspec": kernel}, "nbformat": 4, "nbformat_minor": 5}
    (copied / "typed.ipynb").write_text(json.dumps(book))
    notebook.have("typed.ipynb")
    return Typist(notebook.page)


def test_a_car_typed_from_nothing_to_its_page(typist, artefacts):
    page = typist.page
    page.locator(".vd-form .widget-text", has_text="Car's name").locator("input").fill("red roadster")
    page.keyboard.press("Enter")
    typist.moves += 1
    typist.still()
    typist.choose("body", "low two-seater")
    typist.open("What happened")
    typist.type("what it did, in your words", "In the long right, foot just lifted, the rear came round.")
    typist.type("since when", "since the springs were done")
    typist.choose("turning", "right")
    typist.open("Ride heights")
    typist.four(" height", ("655", "652", "628", "731"))
    typist.type("front height it should have", "640")
    typist.type("rear height it should have", "640")
    typist.says("is it read at the same place")  # 731 for 631
    typist.type("rear right height", "631")
    typist.says("of 100 plausible cars")  # four heights with their reference are enough for one
    typist.open("Travel left")
    typist.type("rear free shaft, standing", "11")
    typist.open("Corner scales")
    typist.choose("anti-roll bars", "unhooked")
    typist.four(" scale", ("295", "205", "212", "298"))
    typist.says("front left and rear left swapped")
    typist.type("front left scale", "212")
    typist.type("rear left scale", "295")
    typist.type("total the scales show", "1101")
    typist.says("91 kg less than 1101 kg")
    typist.type("total the scales show", "1010")
    typist.open("Camber and caster")
    typist.four(" camber", ("-0.6", "-1.1", "-1.4", "-1.9"))
    typist.open("10 Toe")
    typist.type("rim edge to rim edge", "400")
    typist.four(" toe", ("1.5 out", "0.5 out", "2.0", "0"))
    typist.says("must say in or out")
    typist.type("rear left toe", "2.0 out")
    typist.open("Springs and bars")
    typist.type("front spring rate", "450")
    typist.says("as 450 lb/in it would be")
    typist.type("front spring rate", "450 lb/in")
    first = page.locator(".vd-first").bounding_box()
    assert 0 <= first["y"] < page.viewport_size["height"] - first["height"]  # the first answer stays in sight
    typist.open("What can be set")
    typist.choose("spring seats", "threaded, all four")
    assert at_last(page, lambda: cut_labels(page) + too_wide(page) + beyond_one_screen(page)) == []
    typist.click("Save the car")
    typist.says("Saved in")
    typist.click("Write the page")
    written = page.locator(".vd-panel", has_text="Print both sides on").last
    written.wait_for(timeout=240_000)
    assert typist.moves <= MOST, typist.moves
    path = Path(re.search(r"Written: (.*?\.pdf) and", written.inner_text())[1])
    (artefacts / "typed-page.pdf").write_bytes(path.read_bytes())
    flat = words_of(path)
    for words in (
        "red roadster",
        "RING BEFORE SETTING",
        "hub-arch mm",
        "655 !",
        "628 !",
        "2.0 OUT !",
        "gap mm",
        "book",
    ):
        assert words in flat, words
    assert "In the long right, foot just lifted, the rear came round." in flat
