"""The base of every panel in a real browser: a slider moved by keyboard and mouse redraws the picture."""

import nbformat
import pytest

CODE = """
# A picture of a straight line, a slider for its slope and a message above 40
import numpy as np
from vdlib.checks import InputError, Problem
from vdlib.draw.style import line, start, tidy
from vdlib.panels.base import Panel, choice, number, slider, table, toggle

picture, axes = start(900, 420, "a straight line", columns=3)
x = np.linspace(0, 1, 50)
curves = []
for one in axes:
    tidy(one, "A line", "distance [m]", "height [mm]").set(xlim=(0, 1), ylim=(-50, 50))
    curves += [picture.moving(one.plot(x, 0 * x, **line("front"))[0]) for _ in range(13)]

def compute(state):
    if state["slope"] > 40:
        raise InputError([Problem("slope", f"{state['slope']:g} mm", "must be at most 40 mm", "make it flatter")])
    if state["wreck"]:
        raise RuntimeError("wrecked on purpose")
    return state["slope"]

def draw(picture, slope):
    for i, curve in enumerate(curves):
        curve.set_ydata(slope * x + i % 13)

def words(slope):
    return table(["", "value"], [["Height at the end", number(slope, 1) + " mm"]])

panel = Panel({
    "slope": slider("Slope of the whole line over its length", -50, 50, 0.5, 10, "mm"),
    "other": slider("Another one", 0, 1, 0.05, 0.5, "deg/g"),
    "form": choice("Which of the many forms", ["straight and simple", "bent"], "straight and simple"),
    "wreck": toggle("Wreck the panel", False),
}, compute, draw, words, picture)
panel.show()
"""


@pytest.fixture(scope="module")
def book(notebook, copied):
    cells = [nbformat.v4.new_markdown_cell("# First picture"), nbformat.v4.new_code_cell(CODE.strip())]
    kernel = {"kernelspec": {"name": "python3", "display_name": "Python 3", "language": "python"}}
    nbformat.write(nbformat.v4.new_notebook(cells=cells, metadata=kernel), copied / "first.ipynb")
    notebook.have("first.ipynb")
    return notebook


def readout(book):
    return float(book.page.locator(".widget-readout").first.inner_text().replace("−", "-"))


def test_keyboard_and_mouse_move_the_picture(book, artefacts):
    first = book.sharp()
    book.screenshot(artefacts / "first_picture.png")
    assert book.page.locator(".vd-alt").inner_text() == "a straight line"
    assert book.cut_labels() == []
    assert book.too_wide() == []
    book.press(None, "ArrowRight")
    second = book.changed(first)
    assert readout(book) == 10.5
    book.wait_for(lambda: "10.5 mm" in book.page.locator(".vd-words").inner_text(), "the words stayed behind")
    book.drag(None, -40)
    book.changed(second)
    assert readout(book) < 10
    book.screenshot(artefacts / "first_picture_moved.png")
    assert book.errors() == []
    assert book.console_errors == []


def test_the_start_button_brings_the_first_picture_back(book):
    button = book.page.get_by_role("button", name="Back to the start")
    button.click()
    book.wait_for(lambda: readout(book) == 10, "the slider did not go back")
    first = book.sharp()
    book.press(None, "ArrowLeft", 3)
    book.changed(first)
    button.focus()
    book.page.keyboard.press("Enter")
    book.wait_for(lambda: book.picture() == first, "the first picture did not come back")


def test_a_picture_that_stands_still_is_as_sharp_as_at_first(book):
    wide = "img => img.naturalWidth"
    image = book.page.locator(".jp-Notebook img.widget-image").first
    first, sharp = book.sharp(), image.evaluate(wide)
    book.press(None, "ArrowRight")
    book.changed(first)
    book.wait_for(lambda: image.evaluate(wide) == sharp, "the picture was not sharpened")
    book.press(None, "ArrowLeft")
    book.wait_for(lambda: book.picture() == first, "the sharp picture did not come back")


def test_an_expected_error_is_said_beside_the_controls(book, artefacts):
    good = book.sharp()
    book.press(None, "End")
    book.changed(good)
    book.wait_for(book.alerts, "nothing was said")
    assert book.alerts() == ["slope must be at most 40 mm, got 50 mm: make it flatter"]
    assert "not updated" in book.page.locator(".vd-panel").first.inner_text()
    book.screenshot(artefacts / "first_picture_refused.png")
    book.page.get_by_role("button", name="Back to the start").click()
    book.wait_for(lambda: book.alerts() == [] and book.picture() == good, "the good picture did not come back")


def test_a_programming_error_is_said_and_the_panel_lives_on(book):
    good = book.sharp()
    tick = book.page.get_by_label("Wreck the panel")
    tick.check()
    book.changed(good)
    book.wait_for(book.alerts, "nothing was said")
    assert book.alerts() == ["Something in the workbook broke, please report: RuntimeError: wrecked on purpose"]
    tick.uncheck()
    book.wait_for(lambda: book.alerts() == [] and book.picture() == good, "the panel did not come back to life")


def test_the_picture_follows_a_held_key_within_a_quarter_of_a_second(book):
    """Key to new picture, median of ten; the best of three rounds, for other programs may want the machine."""
    book.page.evaluate(
        """() => { const img = document.querySelector('.jp-Notebook img.widget-image');
        window.next = () => new Promise(done => { const began = performance.now();
            const watch = new MutationObserver(async () => { watch.disconnect(); await img.decode().catch(() => 0);
                requestAnimationFrame(() => done(performance.now() - began)); });
            watch.observe(img, {attributes: true, attributeFilter: ['src']}); }); }"""
    )
    handle = book.slider()
    handle.focus()
    medians = []
    for _ in range(3):
        waits = []
        for _ in range(10):
            book.page.wait_for_timeout(60)
            book.page.evaluate(
                """() => { window.waited = null; document.addEventListener('keydown', () => {
                next().then(time => { window.waited = time; }); }, {capture: true, once: true}); }"""
            )
            book.page.keyboard.press("ArrowRight")
            book.page.wait_for_function("window.waited !== null", timeout=30_000)
            waits.append(book.page.evaluate("window.waited"))
        medians.append(sorted(waits)[5])
        print(f"key to new picture: median {medians[-1]:.0f} ms, worst {max(waits):.0f} ms")
        if medians[-1] < 250:
            break
    assert min(medians) < 250
