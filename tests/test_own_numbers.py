"""Cars with numbers at the ends of what a car file may hold: every panel is built, and its sliders hold that car."""

import re
from dataclasses import replace
from functools import cache

import ipywidgets as widgets
import pytest
from panel_table import ask_fewer_cars, makers, panels_of

from vdlib.car import examples
from vdlib.car.shelf import VARIABLE
from vdlib.checks import InputError
from vdlib.glossary import GLOSSARY
from vdlib.panels import own_slider
from vdlib.panels.base import BROKEN
from vdlib.panels.which import Which
from vdlib.trim import solver
from vdlib.units import to_si

pytestmark = pytest.mark.unpainted

AXLE = ("bar", "spring", "pressure")


@pytest.fixture(autouse=True)
def cars_of_its_own(request, monkeypatch, tmp_path):
    monkeypatch.setenv(VARIABLE, str(tmp_path / "my-cars"))
    if not request.node.get_closest_marker("slow"):
        ask_fewer_cars(monkeypatch)
        monkeypatch.setattr(solver, "_MOST", 14)  # thousands of cases never come to rest


@cache
def at_ends(end):
    """The hatch with all these numbers at one end of their allowed ranges, its text its own: films go by it."""

    def value(field):
        quantity = GLOSSARY[field]
        return float(to_si((quantity.low, quantity.high)[end], quantity.unit))

    file = examples.load_example("hatch")
    car, setup = replace(file.car, front_share=value("front_share")), file.setup
    for axle in ("front", "rear"):
        own = getattr(car, axle)
        tyre = replace(own.tyre, grip_fall=value("grip_fall"))
        car = replace(car, **{axle: replace(own, tyre=tyre, motion_ratio=value("motion_ratio"))})
        setup = replace(setup, **{axle: replace(getattr(setup, axle), **{field: value(field) for field in AXLE})})
    return replace(file, car=car, setup=setup, text=f"{file.text}\n# numbers at end {end}\n")


INVENTED = ("closings_film.BY_GAP", "closings_film.OTHER_CARS", "closings_film.EVERY_CAR", "closings_film.MANNERS")
"""What asks the invented cars whatever car is shown: built once, in ``test_units_everywhere.py``."""


DEAR = re.compile(
    r"(what_is_out|what_happened|how_sure|whatif|split|did_it_work|request)\.panel|lift\.asked|reasons\.(margin|phases)"
    r"|closings\.(SHARED|THREE_WHEELS)|closings_film\.(HOW_SURE|POWER_OFF|BY_HAND)"
    r"|stage\.panel|closings_own_car\.(CASE|RANKED|GRIP_USED|DRIVEN|FROM_THE_SIDE|POWER_OR_GRIP)"
)
"""What takes a fifth of a second or more: at the low ends in every run, where springs are soft and there is no bar."""


NONE = re.compile(
    r"(what_is_out|what_happened|how_sure|did_it_work)\.panel|reasons\.(margin|phases)"
    r"|stage\.panel|closings\.THREE_WHEELS|closings_film\.(HOW_SURE|POWER_OFF)|closings_own_car\.(CASE|DRIVEN)"
)
"""What is dear and has no slider that holds a number of the car, or the same ones as another."""


def cases():
    """Each maker with the ends it is asked at; plausible cars are some tens, under the mark ``slow`` hundreds."""
    for name in makers():
        if name not in INVENTED:
            yield pytest.param(name, 0, marks=pytest.mark.slow) if NONE.match(name) else (name, 0)
            yield pytest.param(name, 1, marks=pytest.mark.slow) if DEAR.match(name) else (name, 1)
    yield pytest.param("closings_film.HOW_SURE", 0, marks=pytest.mark.slow, id="hundreds of plausible cars")


@pytest.mark.parametrize(("name", "end"), [*cases()])
def test_every_panel_is_built_for_a_car_at_the_ends_of_the_ranges(name, end):
    try:
        made = panels_of(makers()[name], at_ends(end))
    except InputError:  # such as a body that would fall over on its springs: the chooser says so in words
        return
    for panel in made:
        assert not panel.message.startswith(BROKEN), panel.message
        for control in panel.controls.values():
            if isinstance(control, widgets.FloatSlider):
                assert control.min <= control.value <= control.max


@pytest.mark.parametrize(
    ("own", "low", "high", "value"),
    [(1234, 0, 1230, 1230), (-3, 0, 1000, 0), (-17, -20, 1000, -20), (500, 0, 1000, 500)],
)
def test_a_slider_reaches_the_number_of_its_car(own, low, high, value):
    made = own_slider("A number", 0, 1000, 10, own)
    assert (made.min, made.max, made.value) == (low, max(high, 1000), value)


def test_where_a_panel_breaks_the_list_stays_at_the_car_that_is_shown():
    def broken(file):
        if "hatch" in file.car.name:
            raise ValueError("no slider reaches that")
        return widgets.HTML(file.car.name)

    chooser = Which(broken, path="coupe")
    shown = chooser.list.value
    with pytest.raises(ValueError, match="no slider"):
        chooser.list.value = ("example", "hatch")
    assert chooser.list.value == shown
    assert "ValueError: no slider reaches that" in chooser.message.value
    assert "stays below" in chooser.message.value
