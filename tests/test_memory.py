"""A car saved again and again: what was shown of it before is closed, and the process hardly grows."""

import gc
import os
import subprocess
import sys
import weakref
from concurrent.futures import ThreadPoolExecutor
from functools import lru_cache
from types import ModuleType

import ipywidgets as widgets
import pytest
from remembered import forget, remember
from unpainted import unpainted

from vdlib.car import shelf
from vdlib.draw.live import LivePicture
from vdlib.panels import nose_high, whatif
from vdlib.panels.base import Panel
from vdlib.panels.onscreen import onscreen
from vdlib.panels.shared_whatif import SharedWhatIf
from vdlib.panels.which import CARS, Which, close

MOST = 20e6
"""How much the process may grow over twelve saves [bytes]."""


@pytest.fixture(autouse=True)
def a_notebook_of_its_own(tmp_path, monkeypatch):
    monkeypatch.setenv(shelf.VARIABLE, str(tmp_path / "cars"))


SAVES = """
import gc, sys
from pathlib import Path
import ipywidgets as widgets
from vdlib.car import examples, shelf
from vdlib.panels import nose_high, whatif
from vdlib.panels.which import Which

def size():
    gc.collect()
    return int(Path("/proc/self/statm").read_text().split()[1]) * 4096

def save(number):
    text = examples.load_example("hatch").text.replace("Example hatch", f"Hatch {number}")
    shelf.car_path("blue").parent.mkdir(exist_ok=True)
    shelf.car_path("blue").write_text(text)
    shelf.make_open("blue")
    Which.show_opened()
    assert f"Hatch {number}" in chooser.about.value

panels = {"nose_high": nose_high.panel, "whatif": whatif.panel}
chooser = Which(*(panels[name] for name in sys.argv[3:]))
first, saves = map(int, sys.argv[1:3])
for number in range(first):  # caches of fonts and of drawn letters fill first
    save(number)
before, count = size(), len(alive())
for number in range(first, first + saves):
    save(number)
print(size() - before, len(alive()) - count)
""".replace("alive()", "widgets.widget._instances")
"""Saves of a car under one panel or two, in a process of its own: growth in bytes and in widgets."""


def alive():
    """All widgets that are not closed."""
    return widgets.widget._instances


@pytest.mark.skipif(sys.platform != "linux", reason="reads the size of the process from /proc")
@pytest.mark.parametrize(
    ("saves", "shown"), [(3, ("whatif",)), pytest.param(12, ("nose_high", "whatif"), marks=pytest.mark.slow)]
)
def test_twelve_saves_of_a_car_hardly_grow_the_process(tmp_path, saves, shown):
    own = os.environ | {shelf.VARIABLE: str(tmp_path / "cars")}
    done = subprocess.run(
        [sys.executable, "-c", SAVES, "4", str(saves), *shown], env=own, capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stderr
    grown, more = map(int, done.stdout.split())
    print(saves, grown)
    assert grown < MOST * max(saves, 6) / 12
    assert more <= 5


def test_no_more_than_a_few_cars_are_kept_and_a_closed_one_lets_go_of_its_what_if(monkeypatch):
    unpainted(monkeypatch)

    def play():
        chooser = Which(whatif.panel, path="hatch")
        (hatch,) = map(weakref.ref, onscreen().whatifs)
        for name in ("coupe", "two-seater", "low-two-seater", "coupe"):
            chooser.list.value = ("example", name)
        assert len(chooser._kept) == CARS
        gc.collect()
        return hatch()

    with ThreadPoolExecutor(1) as own:  # a browser driven before leaves a loop running here, whose timers keep panels
        assert own.submit(play).result() is None


def test_closing_a_box_closes_all_that_is_in_it():
    before = len(alive())
    box = widgets.VBox([widgets.FloatSlider(), widgets.HBox([widgets.Text("a")])])
    close(box)
    assert len(alive()) == before


LIVE = (widgets.Widget, Panel, Which, SharedWhatIf, LivePicture)


def kept_by_the_code():
    """All that modules, their classes and their caches of results hold, and where."""
    for name, module in [*sys.modules.items()]:
        if not name.startswith("vdlib.") or name == onscreen.__module__:
            continue
        for key, value in vars(module).items():
            own = vars(value).items() if isinstance(value, type) and value.__module__ == name else ()
            for place, one in [(key, value), *((f"{key}.{k}", v) for k, v in own)]:
                yield f"{name}.{place}", one


def test_no_module_no_class_and_no_cache_keeps_what_is_on_the_screen():
    chooser, apart = Which(nose_high.panel, whatif.panel), Which(nose_high.panel, path="hatch")
    assert len(onscreen().whatifs) == 1
    kinds = (list, dict, set, tuple, weakref.WeakSet, weakref.WeakValueDictionary, type(lru_cache(lambda: 0)))
    found = []
    for place, one in kept_by_the_code():
        if not isinstance(one, kinds):
            found += [place] * isinstance(one, LIVE)
            continue
        inside = gc.get_referents(one)
        inside += [
            deeper for each in inside if isinstance(each, dict | list | tuple) for deeper in gc.get_referents(each)
        ]
        inside = [each() if isinstance(each, weakref.ref) else each for each in inside]
        found += [place for each in inside if isinstance(each, LIVE)]
    assert found == []
    assert {chooser, apart} == set(onscreen().choosers)


def test_answers_that_tests_share_are_forgotten_while_more_are_asked_for(monkeypatch):
    asked, module = [], ModuleType("asked")
    module.twice = lambda number: asked.append(number) or 2 * number
    remember(monkeypatch, module, "twice")
    assert (module.twice(3), module.twice(3), asked) == (6, 6, [3])
    forget()
    assert (module.twice(3), asked) == (6, [3, 3])
