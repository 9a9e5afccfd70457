"""Pictures made ahead: what is then shown is what would have been made afresh, and nothing old is ever shown."""

import random

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from panel_table import MAKE_AHEAD, moving, panels_of

from vdlib.car import examples
from vdlib.car.shelf import VARIABLE
from vdlib.checks import InputError, Problem
from vdlib.draw.live import LivePicture
from vdlib.panels import next_steps, nose_high, on_step, slider, whatif
from vdlib.panels.ahead import KEPT, PAUSE, STEPS, Ahead
from vdlib.panels.base import STILL, Panel, roughly


@pytest.fixture(autouse=True)
def cars_of_its_own(monkeypatch, tmp_path):
    monkeypatch.setenv(VARIABLE, str(tmp_path / "my-cars"))


def straight(seen, most=40):
    """A panel of one straight line that notes each state computed, and refuses what is above ``most``."""
    picture = LivePicture(300, 200, "a straight line")
    line = picture.moving(picture.figure.add_subplot(xlim=(0, 1), ylim=(0, 50)).plot([0, 1], [0, 0])[0])

    def compute(state):
        seen.append(state["slope"])
        if state["slope"] > most:
            raise InputError([Problem("slope", f"{state['slope']:g} mm", f"must be at most {most} mm", "flatter")])
        return state["slope"]

    def draw(_, slope):
        line.set_ydata([0, slope])

    return Panel({"slope": slider("Slope", 0, 50, 1, 10)}, compute, draw, lambda s: f"{s:g}", picture, ahead=True)


def test_the_next_steps_are_made_while_nothing_moves_and_then_shown_at_once(clock):
    seen = []
    panel = straight(seen)
    panel.controls["slope"].value = 11
    assert seen == [10, 11]
    assert clock.strike(PAUSE) == STEPS + 1  # the last finds nothing more to do
    assert seen[2:] == [12, 13, 10, 14]
    fresh = straight([])
    for value in (12, 13, 12, 11, 10):
        panel.controls["slope"].value = value
        assert panel.result == value
        assert panel.words_html.value == str(value)
        assert panel.image.value == fresh._make({"slope": value}, lambda: True, quick=True).picture
    assert len(seen) == 6


def test_the_sharp_picture_is_of_what_is_shown_not_of_what_was_made_ahead(clock):
    panel = straight([])
    panel.controls["slope"].value = 20
    clock.strike(PAUSE)
    clock.strike(STILL)
    sharp = panel.image.value
    panel.refresh()
    assert panel.image.value == sharp
    assert panel.result == 20


def test_a_move_puts_an_end_to_what_was_begun(clock):
    seen = []
    panel = straight(seen)
    panel.controls["slope"].value = 11
    panel.controls["slope"].value = 30
    clock.strike(PAUSE)
    assert seen == [10, 11, 30, 31, 32, 29, 33]


def test_a_refusal_ahead_is_silent_and_is_said_when_it_is_asked_for(clock):
    panel = straight([])
    panel.controls["slope"].value = 40
    clock.strike(PAUSE)
    assert panel.message == ""
    assert panel.result == 40
    panel.controls["slope"].value = 41
    assert panel.message == "slope must be at most 40 mm, got 41 mm: flatter"
    assert clock.strike(STILL) == 0
    panel.controls["slope"].value = 40
    assert panel.message == ""


def test_after_a_refresh_nothing_old_is_shown(clock):
    most = [40]
    seen = []
    panel = straight(seen)
    panel.words = lambda slope: f"{slope:g} of {most[0]}"
    panel.controls["slope"].value = 11
    clock.strike(PAUSE)
    most[0] = 50
    panel.refresh()
    assert clock.strike(PAUSE) == 0
    panel.controls["slope"].value = 12
    assert "12 of 50" in panel.words_html.value


def test_no_more_than_some_pictures_are_kept():
    made = []
    ahead = Ahead(lambda state, *_: made.append(state["n"]) or state["n"])
    for n in [*range(KEPT + 5), KEPT + 4, 0]:
        assert ahead.get({"n": n}) == n
    assert made == [*range(KEPT + 5), 0]


def test_a_panel_that_hangs_on_more_than_its_controls_makes_nothing_ahead(clock):
    panel = Panel({"slope": slider("Slope", 0, 50, 1, 10)}, lambda s: s, lambda *_: b"", lambda _: "")
    panel.controls["slope"].value = 11
    assert clock.strike(PAUSE) == 0


def test_a_jump_to_the_end_of_a_slider_leaves_steps_to_make():
    assert next_steps(slider("A slider", 0, 50, 1, 0), STEPS, STEPS) == [1, 2, 3, 4]


@given(
    low=st.integers(-50, 50),
    step=st.sampled_from([0.01, 0.02, 0.05, 0.1, 0.5, 1, 5]),
    steps=st.integers(1, 200),
    places=st.tuples(st.floats(0, 1), st.floats(0, 1)),
)
def test_the_next_steps_are_values_a_slider_takes(low, step, steps, places):
    high = round(low + steps * step, 6)
    control = slider("A slider", low, high, step, low)
    before, now = (min(round(low + round(place * steps) * step, 6), high) for place in places)
    control.value = now
    found = next_steps(control, before, STEPS)
    assert len(set(found)) == len(found) <= STEPS
    assert found or steps == 0
    for value in found:
        assert low <= value <= high
        assert value != now
        control.value = value
        assert on_step(control) == value


SLOW = ("split.panel", "closings.THREE_WHEELS", "reasons.phases", "lift.asked", "reasons.tail_out")
"""What takes a second or more, and is made by the same frame."""
NAMES = [pytest.param(n, marks=pytest.mark.slow) if n in SLOW else n for n in filter(MAKE_AHEAD.match, moving())]


@pytest.mark.unpainted
@pytest.mark.parametrize("name", NAMES)
def test_a_walk_with_pictures_made_ahead_shows_what_is_made_afresh(name, clock):
    chance = random.Random(5)
    for panel in panels_of(moving()[name], examples.load_example("coupe")):
        controls = {n: c for n, c in panel.controls.items() if hasattr(c, "step") and hasattr(c, "max")}
        if panel._ahead is None or not controls:
            continue
        for name in chance.sample(list(controls), 1):
            control = controls[name]
            for _ in range(2):
                steps = next_steps(control, control.value - control.step, 1)
                control.value = steps[0]
                clock.strike(PAUSE)
            if panel.message:
                continue
            shown = panel.words_html.value, panel.image.value
            panel.compute(panel.state)
            said = panel.words(panel.result)
            if panel.rough is None:
                panel._show(None)
                assert panel.words_html.value == shown[0]
            else:
                said = roughly(said)
            assert said in shown[0]
            panel._ahead.forget()
            assert panel._ahead.get(panel.state).picture == shown[1]


@pytest.mark.unpainted
def test_the_what_if_tells_the_others_what_it_shows_not_what_it_made_ahead(clock):
    desk = whatif.panel(examples.load_example("coupe"))
    control = desk.panel.controls["front_bar"]
    for _ in range(2):
        control.value += control.step
        clock.strike(PAUSE)
        assert desk.bench.candidate.settings == desk.candidate(desk.panel.state).settings != {}


@pytest.mark.unpainted
def test_a_slider_of_the_main_panel_finds_its_pictures_ready(clock):
    panel = nose_high.panel(examples.load_example("coupe"))
    asked = []
    compute = panel.compute
    panel.compute = lambda state: asked.append(state["front"]) or compute(state)
    start = panel.state["front"]
    panel.controls["front"].value = start + 1
    clock.strike(PAUSE)
    assert len(asked) == 1 + STEPS
    panel.controls["front"].value = start + 2
    assert len(asked) == 1 + STEPS
    assert np.isclose(float(panel.result.at.load.sum()), float(compute(panel.state).at.load.sum()))
