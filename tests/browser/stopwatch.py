"""From a key or a move of the mouse to the painted picture, in a real browser, for three forms of one panel."""

from __future__ import annotations

import shutil
import tempfile
import time
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import nbformat
import numpy as np

from .lab import Notebook, chromium, let_in, server

BOOKS = Path(__file__).resolve().parents[2] / "workbooks"
MAIN = "04-nose-high.ipynb"
EVENTS = 40
"""Keys pressed, and moves of the mouse, for each form."""
REPEATS = 30
"""Repeats of a held key each way."""
USUAL = """
# the usual form: interact draws a new figure at every step
%matplotlib inline
import ipywidgets as widgets
from IPython.display import HTML, display
from vdlib.answers.height_study import study
from vdlib.car import examples
from vdlib.car.records import Moment
from vdlib.draw.nose_high import NoseHigh
from vdlib.panels.nose_high import words
from vdlib.trim.trim import ROUTES
from vdlib.units import G, to_si

file = examples.load_example(examples.FIRST)

def show(front, rear, speed, lateral, phase):
    moment = Moment.in_phase(phase, to_si(speed, "kmh"), lateral * G)
    found = study(file.car, file.setup.with_heights(front / 1e3, rear / 1e3), moment, ROUTES)
    view = NoseHigh(file.car)
    view.draw(found)
    for artist in view.picture.figure.findobj(lambda artist: artist.get_animated()):
        artist.set_animated(False)
    display(view.picture.figure)
    display(HTML(words(found)))

front, rear = (round(1e3 * float(end.height)) for end in (file.setup.front, file.setup.rear))
widgets.interact(show, front=(front - 40, front + 40, 1.0), rear=(rear - 40, rear + 40, 1.0),
                 speed=(40.0, 240.0, 5.0), lateral=(0.0, 1.5, 0.02), phase=["lift", "steady"]);
"""
OURS = """
# the same panel as workbook 4 has it under its line "by hand"
from vdlib.car import examples
from vdlib.panels import nose_high
nose_high.panel(examples.load_example(examples.FIRST)).show()
"""
EMPTY = """
# nothing but the round trip: a slider whose value is said in words
import ipywidgets as widgets
slider, said = widgets.FloatSlider(value=140, min=100, max=180, step=1), widgets.HTML("start")
slider.observe(lambda change: setattr(said, "value", f"{change['new']:g}"), names="value")
widgets.VBox([slider, said])
"""
PAINTED = """told => requestAnimationFrame(() => { const next = new MessageChannel();  // answered after painting
    next.port1.onmessage = () => told(performance.now()); next.port2.postMessage(0); })"""
WATCH = """root => { const painted = PAINTED; window.root = root; window.timing = () => new Promise(done => {
    let start = null;
    const picture = () => root.querySelector('img'), now = () => picture()?.src ?? root.querySelector('.widget-html')
        ?.innerText ?? '', before = now(), note = e => { start ??= e.timeStamp; };
    for (const kind of ['keydown', 'pointermove']) document.addEventListener(kind, note, {capture: true, once: true});
    const watcher = new MutationObserver(async () => {
        const there = picture() ?? root.querySelector('.widget-html');
        if (start === null || there === null || now() === before) return;
        watcher.disconnect();
        await picture()?.decode().catch(() => 0);
        painted(at => done(at - start));
    });
    watcher.observe(root, {subtree: true, childList: true, attributes: true, characterData: true}); }); }""".replace(
    "PAINTED", PAINTED
)
FIRST = """() => new Promise(done => { const painted = PAINTED, look = async () => {  // since navigation [s]
    const picture = document.querySelector('img.vd-picture');
    if (picture === null || await picture.decode().then(() => false, () => true)) return requestAnimationFrame(look);
    painted(at => done(at / 1000)); };
    look(); })""".replace("PAINTED", PAINTED)
FLOW = """root => { window.flow = []; const seen = () => root.querySelector('img')?.src ??
    root.querySelector('.widget-html')?.innerText; let last = seen();
    window.flowing = new MutationObserver(() => { if (seen() === last) return; last = seen();
        requestAnimationFrame(() => window.flow.push(performance.now())); });
    window.flowing.observe(root, {subtree: true, childList: true, attributes: true, characterData: true}); }"""


@dataclass(frozen=True)
class Waits:
    """Times from an input event to the painted answer [ms], and answers painted in a second of a held key [1/s]."""

    key: np.ndarray
    drag: np.ndarray
    held: float


def _waits(book: Notebook, events: int) -> Waits:
    """Time a notebook's first slider, once its first live cell has been run."""
    page = book.page
    output = next(cell for cell in book.code_cells() if cell.locator(".noUi-handle").count())
    handle = output.locator(".widget-slider .noUi-handle").first
    output.evaluate(WATCH)

    def once(act: Any) -> float:
        page.evaluate("() => { window.pending = window.timing(); }")
        act()
        waited = page.evaluate(
            "() => Promise.race([window.pending, new Promise(end => setTimeout(() => end(-1), 5000))])"
        )
        if waited < 0:
            raise TimeoutError("no new picture within 5 s of an input event")
        page.wait_for_timeout(250)  # until all of the answer is there
        return float(waited)

    handle.focus()
    handle.press("ArrowLeft")  # the first step warms up
    page.wait_for_timeout(1500)
    ways = ["ArrowLeft"] * (events // 4) + ["ArrowRight"] * (events // 2) + ["ArrowLeft"] * (events - 3 * (events // 4))
    keys = [once(lambda way=way: page.keyboard.press(way)) for way in ways]
    box = handle.bounding_box()
    x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    page.mouse.move(x, y)
    page.mouse.down()
    page.mouse.move(x - 6, y)
    page.wait_for_timeout(1500)
    drags = []
    for i in range(events):
        away = (i % 10 + 1) * 4 if i % 20 < 10 else 40 - (i % 10 + 1) * 4
        drags.append(once(lambda away=away: page.mouse.move(x - 6 - away, y)))
    page.mouse.up()
    return Waits(np.array(keys), np.array(drags), _held(page, handle))


def _held(page: Any, handle: Any) -> float:
    """Hold an arrow key, which repeats 30 times a second, back and forth; give the pictures painted in a second."""
    page.wait_for_timeout(1500)
    page.evaluate("() => (" + FLOW + ")(window.root)")
    handle.focus()
    start = page.evaluate("performance.now()")
    for way in ("ArrowRight", "ArrowLeft"):
        for i in range(REPEATS):
            due = start + 1000 / 30 * (i + 1 + (way == "ArrowLeft") * REPEATS)
            page.keyboard.press(way)
            page.wait_for_timeout(max(0, due - page.evaluate("performance.now()")))
    end = page.evaluate("performance.now()")
    page.wait_for_timeout(1500)
    shown = np.array(page.evaluate("() => { flowing.disconnect(); return flow; }"))
    return float((shown <= end).sum() / (end - start) * 1e3)


def measure(events: int = EVENTS) -> dict[str, Any]:
    """Open the main workbook and the two notebooks it is held against, and time them.

    Returns:
        "main", "usual" and "empty" → ``Waits``; "server", "opened", "first picture" and "coach" → seconds
    """
    found: dict[str, Any] = {}
    with tempfile.TemporaryDirectory(prefix="speed-") as temp:
        folder = Path(temp, "workbooks")
        shutil.copytree(BOOKS, folder, ignore=shutil.ignore_patterns("my-cars", ".*"))
        kernel = {"kernelspec": {"name": "python3", "display_name": "Python 3", "language": "python"}}
        for name, code in (("main", OURS), ("usual", USUAL), ("empty", EMPTY)):
            cells = [nbformat.v4.new_code_cell(code.strip())]
            nbformat.write(nbformat.v4.new_notebook(cells=cells, metadata=kernel), folder / f"{name}.ipynb")
        start = time.perf_counter()
        with server(folder) as url, chromium() as browser:
            found["server"] = time.perf_counter() - start
            book = Notebook(browser, url, MAIN)
            found["opened"] = book.page.evaluate("performance.now() / 1000")
            book.page.evaluate("() => { window.ran = jupyterapp.commands.execute('notebook:run-all-cells'); }")
            found["first picture"] = book.page.evaluate(FIRST)  # there before the cells below have run
            book.page.evaluate("() => window.ran.then(() => true)")
            book.close()
            for name in ("main", "usual", "empty"):
                book = Notebook(browser, url, f"{name}.ipynb")
                book.run_all()
                found[name] = _waits(book, events)
                book.close()
        with server(folder, coach=True) as link, chromium() as browser:
            url = let_in(browser, link)
            page = browser.new_page()
            page.goto(f"{url}/voila/render/{MAIN}", wait_until="commit", timeout=120_000)
            found["coach"] = page.evaluate(FIRST)
    return found
