"""A car saved again and again: what was shown of it before is closed, and the process hardly grows."""

import gc
import sys
from pathlib import Path

import ipywidgets as widgets
import pytest

from vdlib.car import examples, shelf
from vdlib.panels import nose_high, whatif
from vdlib.panels.shared_whatif import SharedWhatIf
from vdlib.panels.which import CARS, Which, close

MOST = 20e6
"""How much the process may grow over twelve saves [bytes]."""


@pytest.fixture(autouse=True)
def a_notebook_of_its_own(tmp_path, monkeypatch):
    monkeypatch.setenv(shelf.VARIABLE, str(tmp_path / "cars"))
    monkeypatch.setattr(Which, "_family", type(Which._family)())
    monkeypatch.setattr(Which, "_last", None)


def size():
    """Memory that the process holds [bytes]."""
    gc.collect()
    return int(Path("/proc/self/statm").read_text().split()[1]) * 4096


def alive():
    """All widgets that are not closed."""
    return widgets.widget._instances


def save(number):
    file = examples.load_example("hatch")
    text = file.document.as_string().replace("Example hatch", f"Hatch {number}")
    shelf.car_path("blue").parent.mkdir(exist_ok=True)
    shelf.car_path("blue").write_text(text)
    shelf.make_open("blue")
    Which.show_opened()


@pytest.mark.skipif(sys.platform != "linux", reason="reads the size of the process from /proc")
def test_twelve_saves_of_a_car_hardly_grow_the_process():
    chooser = Which(nose_high.panel)
    for number in range(3):  # caches of fonts and of drawn letters fill first
        save(number)
    before, count = size(), len(alive())
    for number in range(3, 15):
        save(number)
        assert f"Hatch {number}" in chooser.about.value
    assert size() - before < MOST
    assert len(alive()) <= count + 5


def test_no_more_than_a_few_cars_are_kept_and_a_closed_one_lets_go_of_its_what_if():
    chooser = Which(whatif.panel, path="hatch")
    for name in ("coupe", "two-seater", "low-two-seater", "coupe"):
        chooser.list.value = ("example", name)
    assert len(chooser._kept) == CARS
    gc.collect()
    assert "Example hatch" not in {bench.file.car.name for bench in SharedWhatIf._all.values()}


def test_closing_a_box_closes_all_that_is_in_it():
    before = len(alive())
    box = widgets.VBox([widgets.FloatSlider(), widgets.HBox([widgets.Text("a")])])
    close(box)
    assert len(alive()) == before
