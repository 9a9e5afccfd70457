"""Workbooks in JupyterLab in a real browser: panels follow key and mouse, Tab reaches all, nothing is cut."""

import json
from pathlib import Path

import pytest
from playwright.sync_api import TimeoutError as LateError

from .panels import at_last, at_rest, beyond_one_screen, grown, shown, unreached, whole
from .test_meanings import looked_at

WORKBOOKS = sorted((Path(__file__).resolve().parents[2] / "workbooks").glob("*.ipynb"))


def turned(page, switch, tries=3):
    """Turn to large letters: not by check(), which looks at once, and again where the click itself came to nothing."""
    switch.click()
    try:
        page.locator(".vd-large").first.wait_for(timeout=10_000)
    except LateError:
        assert tries
        assert not switch.is_checked(), "it is turned, and the letters stayed small"
        turned(page, switch, tries - 1)


def in_large_letters(book, name, artefacts):
    """What is wrong on a large screen in large letters; both are set back."""
    switch, small = book.page.get_by_label("Large letters"), book.page.viewport_size
    if not switch.count():
        return []
    book.page.set_viewport_size({"width": 1920, "height": 1080})
    book.page.wait_for_timeout(1000)  # the notebook lays itself out anew: a click in the midst of it hits nothing
    turned(book.page, switch.first)
    at_rest(book.page)
    book.screenshot(artefacts / "lab" / f"{name}_large.png")
    faults = [f"large, not on one screen: {t}" for t in at_last(book.page, lambda: beyond_one_screen(book.page))]
    faults += [f"large, drawn for another size: {t}" for t in at_last(book.page, lambda: grown(book.page, 20 / 13))]
    switch.first.click()
    book.page.locator(".vd-large").first.wait_for(state="hidden", timeout=30_000)
    book.page.set_viewport_size(small)
    at_rest(book.page)
    return faults


MAIN = "04-nose-high"
"""The workbook run here in every run. The form is typed into in ``test_typed_car.py``; the cells of the others are run
by nbval; pages of each kind are walked through and measured without code (``test_coach.py``), in every run."""
CHOSEN = [pytest.param(path, id=path.stem, marks=() if path.stem == MAIN else pytest.mark.slow) for path in WORKBOOKS]


def test_words_show_their_meaning_here_too(notebook):
    notebook.have(f"{MAIN}.ipynb")
    looked_at(notebook.page, ".jp-Notebook")


@pytest.mark.parametrize("path", CHOSEN)
def test_a_workbook_lives_in_the_browser(path, notebook, artefacts):
    book = notebook
    book.have(path.name)
    faults = book.errors()
    for i, output in enumerate(book.code_cells()):
        for n, panel in enumerate(shown(book.page, output)):
            faults += panel.move(mouse=i == n == 0)
        for box in whole(output):
            faults += unreached(book.page, box)
        faults += [f"label cut: {t}" for t in at_last(book.page, book.cut_labels)]
        faults += [f"too wide: {t}" for t in at_last(book.page, book.too_wide)]
        faults += book.alerts()
        book.screenshot(artefacts / "lab" / f"{path.stem}_{i}.png")
    faults += [f"not on one screen: {t}" for t in at_last(book.page, lambda: beyond_one_screen(book.page))]
    faults += [f"drawn for another size: {t}" for t in at_last(book.page, lambda: grown(book.page, 1.0))]
    faults += in_large_letters(book, path.stem, artefacts)
    faults += book.errors()
    assert sorted(set(faults)) == []
    assert book.console_errors == []


def test_a_workbook_opened_again_says_why_its_panels_are_gone_and_brings_them_back(notebook, copied):
    book, again = notebook, copied / "again.ipynb"
    whole = json.loads((copied / "02-weight-on-the-wheels.ipynb").read_text())
    again.write_text(json.dumps(whole | {"cells": whole["cells"][:2]}))  # a panel of a workbook, and none below it
    try:
        book.turn_to(again.name)
        book.run_all()
        book.page.evaluate("jupyterapp.commands.execute('docmanager:save')")
        book.turn_to(again.name)
        lost = "Error displaying widget"
        book.wait_for(lambda: lost in book.page.locator(".jp-OutputArea").first.inner_text(), "no panel was lost")
        assert lost in book.page.locator(".jp-MarkdownOutput").first.inner_text()
        book.run_all()
        assert book.picture()
        assert book.errors() == []
        outputs = book.page.locator(".jp-OutputArea")
        book.wait_for(lambda: lost not in "".join(outputs.all_inner_texts()), "the panels did not come back")
    finally:
        again.unlink()
