"""The browser and the two servers, started once for all browser tests; skipped where there is none, but never in CI."""

import importlib.util
import os
import shutil
from pathlib import Path

import pytest

from .lab import CHROMIUM, Notebook, chromium, let_in, server

ROOT = Path(__file__).resolve().parents[2]
ARTEFACTS = ROOT / ".artefacts"


def missing(what: str) -> None:
    """Skip, or fail where the browser tests have to run."""
    if os.environ.get("VDLIB_CI"):
        pytest.fail(f"{what}, and VDLIB_CI says that no browser test may be skipped")
    pytest.skip(what)


@pytest.fixture(scope="package")
def browser():
    if importlib.util.find_spec("playwright") is None:
        missing("playwright is not installed: pip install -e '.[test]'")
    if not Path(CHROMIUM).exists():
        missing(f"no browser at {CHROMIUM}: install Debian's package chromium")
    with chromium() as started:
        yield started


@pytest.fixture(scope="package")
def artefacts():
    ARTEFACTS.mkdir(exist_ok=True)
    return ARTEFACTS


@pytest.fixture(scope="package")
def copied(tmp_path_factory):
    """A copy of the workbooks, so that nothing typed or saved reaches the originals."""
    folder = tmp_path_factory.mktemp("books") / "workbooks"
    shutil.copytree(ROOT / "workbooks", folder, ignore=shutil.ignore_patterns("my-cars", ".*"))
    return folder


@pytest.fixture(scope="package")
def lab(browser, copied):
    with server(copied) as url:
        yield url


@pytest.fixture(scope="package")
def notebook(browser, lab):
    """One page of JupyterLab for all its tests, one workbook after another."""
    opened = Notebook(browser, lab, "04-nose-high.ipynb")
    yield opened
    opened.close()


@pytest.fixture(scope="package")
def coach(browser, copied):
    with server(copied, coach=True) as link:
        yield let_in(browser, link)


@pytest.fixture(scope="package")
def tab(browser):
    """One page of the browser that goes from one workbook to the next, as a reader does."""
    page = browser.new_page()
    yield page
    page.close()
