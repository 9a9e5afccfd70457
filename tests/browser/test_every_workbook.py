"""Every workbook in a real browser: it runs, its panels follow key and mouse, Tab reaches all, nothing is cut."""

import shutil
from pathlib import Path

import pytest

from .lab import Notebook
from .panels import shown, unreached, whole

WORKBOOKS = sorted((Path(__file__).resolve().parents[2] / "workbooks").glob("*.ipynb"))


@pytest.fixture(scope="module")
def book(browser, lab):
    """One page for all the workbooks, one after another."""
    opened = Notebook(browser, lab, WORKBOOKS[0].name)
    yield opened
    opened.close()


@pytest.mark.parametrize("path", WORKBOOKS, ids=lambda path: path.stem)
def test_a_workbook_lives_in_the_browser(path, book, artefacts):
    book.turn_to(path.name)
    book.run_all()
    faults = book.errors()
    for i, output in enumerate(book.code_cells()):
        for panel in shown(book.page, output):
            faults += panel.move()
        for box in whole(output):
            faults += unreached(book.page, box)
        faults += [f"label cut: {t}" for t in book.cut_labels()] + [f"too wide: {t}" for t in book.too_wide()]
        faults += book.alerts()
        book.screenshot(artefacts / "lab" / f"{path.stem}_{i}.png")
    faults += book.errors()
    assert sorted(set(faults)) == []
    assert book.console_errors == []


def test_a_workbook_opened_again_says_why_its_panels_are_gone_and_brings_them_back(book, copied):
    again = shutil.copy(copied / "04-nose-high.ipynb", copied / "again.ipynb")
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
        assert lost not in "".join(book.page.locator(".jp-OutputArea").all_inner_texts())
    finally:
        again.unlink()
