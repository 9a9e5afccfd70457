"""Units the reader chose: one place that writes sizes, kept from workbook to workbook, the numbers inside untouched."""

from __future__ import annotations

import asyncio
import doctest
import re
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import ipywidgets as widgets
import pytest

from vdlib import shown
from vdlib.car import examples, shelf
from vdlib.car.keys import CORNERS
from vdlib.checks import InputError
from vdlib.garage.typed import Readings
from vdlib.garage.visit import visit_of
from vdlib.panels import gears, lift, measure, nose_high, slider, unit_switch
from vdlib.panels.base import Panel
from vdlib.panels.fold import fold
from vdlib.panels.frame import Frame
from vdlib.panels.measure import Form
from vdlib.panels.which import Which
from vdlib.setup import page
from vdlib.setup.candidate import baseline, put
from vdlib.setup.page_wheels import AS_NOW, wheel_table
from vdlib.shown import PAIRS, Choice, chosen, says, seen, use
from vdlib.units import G, from_si, to_si

pytestmark = pytest.mark.unpainted

US = Choice("mph", "lb", "psi", "in")
FILE = examples.load_example("hatch")


@pytest.fixture(autouse=True)
def usual(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    monkeypatch.setenv(shelf.VARIABLE, str(tmp_path))
    yield
    use(Choice())


def test_the_examples_in_the_docstrings_hold() -> None:
    assert doctest.testmod(shown).failed == 0


@pytest.mark.analytic
def test_sizes_are_written_in_the_units_chosen() -> None:
    sizes = [(30.0, "kmh", 0, False), (1010.0, "kg", 0, False), (2.2e5, "bar", 2, False), (-0.018, "mm", 0, True)]
    assert [says(*size) for size in sizes] == ["108 km/h", "1010 kg", "2.20 bar", "−18 mm"]
    use(US)
    # 30 m/s / 0.44704; 1010 kg / 0.45359237; 2.2 bar / 0.0689476; 18 mm / 25.4, exact by definition
    assert [says(*size) for size in sizes] == ["67 mph", "2227 lb", "31.9 psi", "−0.71 in"]
    assert says(0.1 * G, "g", 2) == "0.10 g"  # what has no choice stays
    assert seen(0.0254, "mm") == pytest.approx(1.0)


def test_a_ratio_before_a_size_is_no_size() -> None:
    use(US)
    assert shown.retold("(15 : 1, 36 cm across)") == "(15 : 1, 14.2 in across)"
    assert shown.retold("tails 12, 24 mm") == "tails 0.47, 0.94 in"


def test_other_units_say_about_as_much() -> None:
    """Half the last digit shown is, in SI, within a factor of three of what it is in the usual unit."""
    use(US)
    for unit, decimals in (("kmh", 0), ("kmh", 1), ("kg", 0), ("bar", 2), ("mm", 0), ("mm", 1)):
        other, digits = shown.unit_for(unit), shown.digits_for(unit, decimals)
        assert other != unit
        ratio = to_si(10.0**-digits, other) / to_si(10.0**-decimals, unit)
        assert 0.2 < ratio < 3


def test_a_unit_that_is_none_of_the_two_is_refused() -> None:
    with pytest.raises(InputError, match="unit of speed must be kmh or mph"):
        Choice("knots")


@pytest.mark.parametrize("raw", [b"", b"mph", b"mph lb psi", b"\xff", b"a b c d", b"mph lb psi in more"])
def test_the_choice_is_kept_and_a_broken_one_is_the_usual(raw: bytes, tmp_path: Path) -> None:
    shelf.keep_units(US)
    assert chosen() == shelf.kept_units() == US
    (tmp_path / ".units").write_bytes(raw)
    found = shelf.kept_units()
    part = {b"mph": Choice("mph"), b"mph lb psi": Choice("mph", "lb", "psi")}
    assert found == part.get(raw, Choice())


def test_a_slider_keeps_its_number_and_says_it_in_the_unit_chosen() -> None:
    use(US)
    made = slider("Speed", 40, 240, 5, 110, "km/h")
    row = Frame({"speed": made}).rows["speed"]
    assert [row.children[1].value, row.children[2].value] == [68, "mph"]
    assert not made.readout
    made.value = 160
    assert row.children[1].value == 99
    use(Choice())
    plain = Frame({"speed": slider("Speed", 40, 240, 5, 110, "km/h")}).rows["speed"]
    assert plain.children[1].value == "km/h"


def words_of(text: str) -> str:
    return re.sub("<[^>]*>", " ", text)


@pytest.mark.parametrize("maker", [lift.panel, gears.panel])
def test_words_change_and_results_do_not(maker) -> None:
    made = maker(FILE)
    plain = getattr(made, "panel", made)
    use(US)
    made = maker(FILE)
    other = getattr(made, "panel", made)
    assert plain.state == other.state
    assert "km/h" in words_of(plain.words_html.value)
    told = words_of(other.words_html.value)
    assert "mph" in told
    assert "km/h" not in told


def test_the_workshops_page_is_written_in_the_units_chosen() -> None:
    base = baseline(FILE.car, FILE.setup)
    ask = replace(base, setup=put(base.setup, "front.height", base.setup.front.height + 0.010))
    plain = wheel_table(FILE, base, base.setup, ask).rows
    use(US)
    other = wheel_table(FILE, base, base.setup, ask).rows
    assert [name for name, _ in other[:3]] == ["cold psi", "height in", "gap in"]
    for (name, before), (_, after) in zip(plain, other, strict=True):
        unit = next((u for u in ("mm", "bar", "kg") if name.endswith(u)), "")
        if not unit or name.startswith("toe"):
            continue
        for one, two in zip(before, after, strict=True):
            for was, now in ((one.now, two.now), (one.ask, two.ask)):
                if was != AS_NOW:
                    there = {"mm": "in", "bar": "psi", "kg": "lb"}[unit]
                    assert to_si(float(now), there) == pytest.approx(to_si(float(was), unit), rel=0.02)


def test_what_was_typed_in_other_units_is_printed_as_typed(tmp_path: Path) -> None:
    use(US)
    typed = {f"tyres.{name}_cold": "24.0" for name in CORNERS} | {"springs.front_rate": "350"}
    told = visit_of(Readings("a car", typed, {"start.pressure": "psi", "start.rate": "lbf_per_in"}))
    cold = [float(from_si(to_si(float(bar), "bar"), "psi")) for bar in told["cold"].split("|")]
    assert [round(one, 1) for one in cold] == [24.0] * 4
    setup = put(FILE.setup, "front.spring", to_si(350.0, "lbf_per_in"))
    file = replace(FILE, setup=setup, path=tmp_path / "a.toml", origin={"setup.front.spring": "measured"})
    assert "front 350 lb/in" in page._springs(file)


def test_the_switch_shows_every_panel_anew() -> None:
    chooser = Which(gears.panel)
    chooser.units.lists["speed"].value = "mph"
    assert shelf.kept_units().speed == "mph"
    again = Which(gears.panel)
    assert again.units.lists["speed"].value == "mph"
    chooser.units.lists["speed"].value = "kmh"
    assert again.units.lists["speed"].value == "kmh"


def test_units_switched_midway_leave_every_control_where_it_was_and_nothing_behind() -> None:
    chooser = Which(fold("Gears", gears.panel), nose_high.panel)
    chooser.place.children[0].line.value = True
    gears_of, other_of = (lambda: panels_in(chooser.place)[0]), (lambda: panels_in(chooser.place)[1])
    gear, moved = next(iter(gears_of().controls)), {"lateral": 0.7, "speed": 120.0}
    gears_of().set(gear, gears_of().controls[gear].max)
    other_of().set_all(moved)
    left, before = gears_of().state, other_of()
    alive = len(widgets.widget._instances)
    for unit in ("mph", "kmh"):
        chooser.units.lists["speed"].value = unit
        assert other_of() is not before
        assert gears_of().state == left
        assert {name: other_of().state[name] for name in moved} == moved
        assert ("mph" in gears_of().words_html.value) == (unit == "mph")
    assert len(widgets.widget._instances) <= alive + 30  # the boxes to type in beside the sliders


def panels_in(widget) -> list:
    own = [widget.panel] if isinstance(getattr(widget, "panel", None), Panel) else []
    return own + [panel for child in getattr(widget, "children", ()) for panel in panels_in(child)]


def test_a_new_form_is_typed_in_the_units_chosen_and_an_old_one_stays() -> None:
    form = Form()
    form.new()
    form.type("corners.front_left", "250")
    old = form.readings.name
    use(US)
    form.new()
    assert [form.readings.choice(f"start.{kind}") for kind in PAIRS] == ["mph", "lb", "psi", "in"]
    form.open(old)
    assert form.readings.choice("start.mass") == "kg"


def test_a_kernel_that_begins_with_the_form_knows_the_units_chosen_in_another() -> None:
    shelf.keep_units(US)
    use(Choice())  # as a new kernel begins
    box = measure.form()
    labels = {getattr(one, "description", "") for one in widgets_in(box)}
    assert "A front left scale [lb]" in labels


def widgets_in(widget) -> list:
    return [widget, *(inner for one in getattr(widget, "children", ()) for inner in widgets_in(one))]


def test_units_chosen_one_after_the_other_are_all_kept_at_once_and_shown_anew_once(monkeypatch) -> None:
    shown: list[Choice] = []
    monkeypatch.setattr(unit_switch, "TOGETHER", 0.05)

    async def choose() -> None:
        switch = unit_switch.unit_switch(lambda: shown.append(chosen()))
        for kind, unit in (("speed", "mph"), ("mass", "lb"), ("pressure", "psi"), ("length", "in")):
            switch.lists[kind].value = unit
            assert getattr(shelf.kept_units(), kind) == unit  # kept whatever page is opened next
            await asyncio.sleep(0.01)
        assert not shown
        await asyncio.sleep(0.2)

    asyncio.run(choose())
    assert shown == [US]
