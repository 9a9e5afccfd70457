"""A kernel's clock turned by hand, an empty screen for each test, and how the tests are shared out to the processes."""

from __future__ import annotations

import gc
import importlib
import os
import sys
from contextlib import suppress
from pathlib import Path

import pytest

# some fifty processes run the same code: it is compiled once, whatever is usual on this machine
os.environ.pop("PYTHONDONTWRITEBYTECODE", None)
sys.dont_write_bytecode = False
gc.disable()  # until everything is imported
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # as many processes as cores run already; kernels inherit it


class Handle:
    """One call that waits for its time."""

    def __init__(self, delay, call):
        self.delay, self.call, self.gone = delay, call, False

    def cancel(self):
        self.gone = True


class Clock:
    """A kernel's clock that a test turns by hand."""

    def __init__(self):
        self._due = []

    def call_later(self, delay, call):
        self._due.append(Handle(delay, call))
        return self._due[-1]

    def waiting(self, delay):
        """Return the calls that wait for this delay to pass."""
        self._due = [one for one in self._due if not one.gone]
        return [one for one in self._due if one.delay == delay]

    def strike(self, delay):
        """Let everything of this delay happen; give how much there was."""
        struck = 0
        while ready := self.waiting(delay):
            self._due.remove(ready[0])
            ready[0].call()
            struck += 1
            while at_once := self.waiting(0):  # the other parts of a drawing
                self._due.remove(at_once[0])
                at_once[0].call()
        return struck


@pytest.fixture(scope="session", autouse=True)
def no_listener():
    """Let widgets say nothing of themselves: nobody listens here, and to tell it all takes as long as to make them.

    What they do tell is looked at in every workbook's kernel, by nbval and in the browser.
    """
    import comm
    from ipywidgets import Widget

    def opened(widget):
        if widget.comm is None:
            widget.comm = comm.create_comm(target_name="jupyter.widget")

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(Widget, "open", opened)
        patch.setattr(Widget, "send_state", lambda widget, key=None: None)
        yield


@pytest.fixture(autouse=True)
def screen():
    """Begin with the empty screen of a notebook of its own, and close what was put on it, as a kernel's end does.

    ipywidgets keeps every widget until it is closed: all panels of a run together hold gigabytes.
    """
    if module := sys.modules.get("vdlib.panels.onscreen"):
        module.cleared()
    before = set(_widgets())
    yield
    for one in set(_widgets()) - before:
        _widgets()[one].close()


def _widgets():
    module = sys.modules.get("ipywidgets.widgets.widget")
    return module._instances if module else {}


def pytest_sessionstart():
    """Let each process compile its share of the files before it reads them all, so that none is compiled twice."""
    worker, workers = os.environ.get("PYTEST_XDIST_WORKER", ""), int(os.environ.get("PYTEST_XDIST_WORKER_COUNT", 1))
    if worker:
        for path in sorted(Path(__file__).parent.glob("test_*.py"))[int(worker[2:]) :: workers]:
            with suppress(Exception, pytest.skip.Exception):  # told when the file is read
                importlib.import_module(path.stem)


def pytest_collection_finish():
    """Look for garbage, from now on and seldom: what was imported until now stays, and is not looked through."""
    gc.freeze()
    gc.set_threshold(50_000, 20, 20)
    gc.enable()


@pytest.fixture(autouse=True)
def brush(request, monkeypatch):
    """Leave pictures unpainted where a test says so by the mark ``unpainted``, unless it is ``painted`` after all.

    Tests of such a file share what their panels ask of the core.
    """
    if not request.node.get_closest_marker("unpainted"):
        return
    from remembered import remember_dearest

    remember_dearest(monkeypatch)
    if not request.node.get_closest_marker("painted"):
        from unpainted import unpainted

        unpainted(monkeypatch)


@pytest.fixture(scope="module", autouse=True)
def forgotten():
    """Forget after each file what its tests asked of the core."""
    yield
    if module := sys.modules.get("remembered"):
        module.forget()


@pytest.fixture
def clock(monkeypatch):
    """Return the clock that every panel of the test looks at, as in a kernel."""
    from vdlib.panels import base

    made = Clock()
    monkeypatch.setattr(base, "clock_here", lambda: made)
    return made


BROWSER = "tests/browser/"


def pytest_collection_modifyitems(items):
    """Put the browser's tests first: they take longest."""
    items.sort(key=lambda item: not item.nodeid.startswith(BROWSER))


@pytest.hookimpl(optionalhook=True)  # where pytest-xdist is not installed all runs in one process
def pytest_xdist_make_scheduler(config, log):
    """Share the tests out file by file, the browser's as one: what a file or the browser makes once is made once.

    The cells of a workbook stay together and in their order. Groups by the mark ``xdist_group`` would say the same,
    but pytest 9.2 does not let pytest-xdist 3.8 write them into the names of tests.
    """
    from xdist.scheduler import LoadScopeScheduling

    class ByFile(LoadScopeScheduling):
        def _split_scope(self, nodeid):
            return BROWSER if nodeid.startswith(BROWSER) else nodeid.partition("::")[0]

    return ByFile(config, log)


def pytest_terminal_summary(terminalreporter):
    for report in terminalreporter.stats.get("passed", []):
        for name, told in report.user_properties:
            terminalreporter.write_line(f"{name}: {told}")
