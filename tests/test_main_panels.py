"""The panels of the main workbook, driven to the ends of every control for every example car."""

from dataclasses import replace
from itertools import combinations

import ipywidgets as widgets
import numpy as np
import pytest
from cars import FIRST_OR_SLOW
from driving import drive

from vdlib.answers.sentences import LEAST_ANGLE, PHASE_WORDS, toward
from vdlib.car import examples, shelf
from vdlib.car.records import PHASES, Moment, attitude
from vdlib.car.reference import reference_of
from vdlib.draw.style import SMALLEST, smallest_text
from vdlib.panels import compare_cars, nose_high, turning_point, which
from vdlib.trim.trim import ROUTES, trim
from vdlib.units import G, from_si, to_si

pytestmark = pytest.mark.unpainted


WHOLE_OR_SLOW = [
    pytest.param("hatch", False, id="hatch"),
    *(pytest.param(n, n == examples.FIRST, id=f"{n}-too", marks=pytest.mark.slow) for n in examples.example_names()),
]
"""A car, and whether every control is moved, twice; in every run the one whose inner rear wheel lifts."""


@pytest.mark.parametrize(("name", "whole"), WHOLE_OR_SLOW)
def test_main_panel_at_every_end(name, whole):
    panel = nose_high.panel(examples.load_example(name))
    visits = drive(panel, again=whole, brief=not whole)
    assert not any(visit.message for visit in visits)
    assert {visit.state["phase"] for visit in visits} == set(PHASES)
    past = [visit for visit in visits if not visit.result.usable]
    assert past
    assert all("no steady corner here to compare" in visit.words for visit in past)
    off = [visit for visit in visits if not all(visit.state[route] for route in ROUTES)]
    assert len({visit.words for visit in off}) > whole
    assert smallest_text(panel.picture.figure) >= SMALLEST


def test_the_picture_shows_what_the_solver_returned():
    from vdlib.answers.height_study import study
    from vdlib.draw.nose_high import NoseHigh

    file = examples.load_example("two-seater")
    view = NoseHigh(file.car)
    panel = nose_high.panel(file)
    for lateral in (0.4, 0.9, 1.3):
        panel.set("lateral", lateral)
        found = panel.result
        view.draw(found)
        loads = [label.get_text() for label in view.above.labels]
        assert loads == [f"{load / G:.0f} kg" if load > 0 else "in the air" for load in found.at.load[..., 1].ravel()]
        np.testing.assert_allclose(view.now.get_ydata(), np.degrees(found.angle[1]))
        if found.usable:
            widths = [patch.get_width() for patch in view.parts]
            np.testing.assert_allclose(widths, np.degrees([*found.ledger.parts, found.ledger.total]))
            assert np.isnan(view.past.get_ydata()[0])
        else:
            assert {text.get_text() for text in view.values} == {"past the limit"}
            assert view.past.get_ydata()[0] == 0
    off = study(file.car, file.setup, found.moment, ("toe",))
    view.draw(off)
    assert [text.get_text() for text in view.values].count("switched off") == (8 if off.usable else 0)


@pytest.mark.painted
@pytest.mark.parametrize("name", FIRST_OR_SLOW)
def test_nothing_of_the_main_picture_is_cut_or_overlaps(name):
    panel = nose_high.panel(examples.load_example(name))
    figure = panel.picture.figure
    for lateral in (0.8, 1.3):
        panel.set("lateral", lateral)
        boxes = [axes.get_tightbbox(figure.canvas.get_renderer()) for axes in figure.axes]
        assert all(figure.bbox.x0 <= box.x0 and box.x1 <= figure.bbox.x1 for box in boxes)
        assert all(figure.bbox.y0 <= box.y0 and box.y1 <= figure.bbox.y1 for box in boxes)
        assert not any(one.overlaps(other) for one, other in combinations(boxes, 2))


@pytest.mark.parametrize(("name", "whole"), WHOLE_OR_SLOW)
def test_turning_point_panel_at_every_end(name, whole):
    panel = turning_point.panel(examples.load_example(name))
    visits = drive(panel, again=whole, brief=not whole)
    assert not any(visit.message for visit in visits)
    assert {visit.state["number"] for visit in visits} == set(turning_point.SPANS)


def test_the_turn_is_where_the_change_is_nil():
    file = examples.load_example("two-seater")
    panel = turning_point.panel(file)
    panel.set("lateral", 0.9)
    found = panel.result
    for phase, values in found.change.items():
        crossing = np.flatnonzero(values[:-1] * values[1:] < 0)
        told = f"{PHASE_WORDS[phase]}: the sign turns".lower() in panel.words_html.value.lower()
        assert told == bool(crossing.size)
    assert "No curve crosses zero" not in panel.words_html.value
    flat = replace(found, change={phase: np.full_like(found.x, -1.0) for phase in found.change})
    assert "No curve crosses zero" in turning_point.words(flat)
    assert any(np.nanmin(values) < 0 < np.nanmax(values) for values in found.change.values())
    assert found.own == pytest.approx(from_si(file.car.rear.bump_gap, "mm"))


@pytest.mark.parametrize("name", ["low-two-seater", "two-seater", "hatch"])
def test_the_turning_points_verdict_counts_no_phase_past_the_limit_and_no_change_too_small(name):
    panel = turning_point.panel(examples.load_example(name))
    kinds = set()
    for lateral in (0.5, 0.8, 0.95, 1.0, 1.1):
        panel.set("lateral", lateral)
        changes = {PHASE_WORDS[phase]: np.degrees(change) for phase, change in panel.result.own_change.items()}
        said = turning_point.verdict(panel.result)
        past = {phase for phase, change in changes.items() if not np.isfinite(change)}
        over = {phase for phase, change in changes.items() if change < -LEAST_ANGLE}
        start, _, end = said.partition(" Past the limit: ")
        assert {phase for phase in changes if phase in end} == (past if len(past) < len(changes) else set())
        assert ("in every phase of the corner:" in said) == (len(past) == len(changes))
        if len(past) < len(changes):
            assert ("in no phase" in start) == (not over)
            assert ("in every phase" in start) == (len(over) == len(changes) - len(past))
            assert ("of the corner" in start) == (not past and len(over) in (0, len(changes)))
            if 0 < len(over) < len(changes) - len(past):
                assert {phase for phase in changes if phase in start} == over
        kinds.add((len(past) == len(changes), bool(past)))
        for phase, change in changes.items():
            if np.isfinite(change):
                assert f"{phase}: {toward(np.radians(change))}" in panel.words_html.value
        assert len(past) < len(changes) or "No curve crosses" not in panel.words_html.value
    assert (True, True) in kinds


def test_the_tables_of_all_cars_give_signs_as_computed():
    _, *rows = compare_cars.signs().children[1].value.split("<tr>")[1:]
    for file, row in zip(compare_cars.cars(), rows, strict=True):
        assert file.car.name in row
        for phase, cell in zip(PHASE_WORDS, row.split("<td>")[1:], strict=True):
            moment = Moment.in_phase(phase, to_si(110.0, "kmh"), 0.8 * G)
            reference = reference_of(file)  # heights alone: the reference's figures at today's heights
            setups = (reference.at_heights_of(file.setup), reference.setup)
            now, level = (trim(file.car, setup, moment) for setup in setups)
            usable = bool(now.usable and level.usable)
            said = toward(float(now.understeer_angle - level.understeer_angle)) if usable else "past the limit"
            assert cell.startswith(said)


def test_the_chooser_opens_examples_saved_cars_and_files(tmp_path, monkeypatch):
    monkeypatch.setenv(shelf.VARIABLE, str(tmp_path))
    file = examples.load_example("hatch")
    shelf.save_car("blue one", file.car, file.setup, dict(file.origin), file.text)
    chooser = which.Which(nose_high.panel)
    assert chooser.file.path == shelf.car_path("blue one")
    assert "blue one" in chooser.about.value
    shown = chooser.place.children
    chooser.list.value = ("example", "coupe")
    assert chooser.file.car.name == examples.load_example("coupe").car.name
    chooser.list.value = ("saved", "blue one")
    assert chooser.place.children == shown
    chooser.path.value = str(tmp_path / "missing.toml")
    assert "there is no such file" in chooser.message.value
    assert chooser.place.children == shown
    (tmp_path / "broken.toml").write_text("[car\n")
    chooser.path.value = str(tmp_path / "broken.toml")
    assert 'role="alert"' in chooser.message.value
    chooser.path.value = str(shelf.car_path("blue one"))
    assert chooser.message.value == ""


def named(file):
    return widgets.HTML(file.car.name)


def test_a_broken_open_car_is_said_and_an_example_shown(tmp_path, monkeypatch):
    monkeypatch.setenv(shelf.VARIABLE, str(tmp_path))
    file = examples.load_example("hatch")
    shelf.save_car("blue", file.car, file.setup)
    shelf.car_path("blue").write_text("mass = nonsense")
    chooser = which.Which(named)
    assert "An invented example is shown instead" in chooser.message.value
    assert chooser.file.path is None
    assert chooser.place.children


def test_large_letters_are_one_switch_for_the_whole_workbook(tmp_path, monkeypatch):
    monkeypatch.setenv(shelf.VARIABLE, str(tmp_path))
    chooser = which.Which(named)
    chooser.large.value = True
    assert "vd-large" in chooser.box._dom_classes
    chooser.large.value = False
    assert "vd-large" not in chooser.box._dom_classes


def test_a_slider_not_moved_stands_for_the_height_in_the_file():
    """The panels of one car call it nose-high by the same number though its heights are no whole millimetres."""
    file = examples.load_example("coupe")
    file = replace(file, setup=file.setup.with_heights(0.1543, 0.1346))
    panel = nose_high.panel(file)
    assert (panel.state["front"], panel.state["rear"]) == (154, 135)
    assert panel.result.attitude == pytest.approx(attitude(file.car, file.setup), abs=1e-12)
    panel.set("front", 155)
    assert panel.result.attitude == pytest.approx(attitude(file.car, file.setup.with_heights(0.155, 0.1346)), abs=1e-12)


@pytest.mark.parametrize(
    ("value", "told"), [(37.77, "38 deg/m"), (8.22, "8.2 deg/m"), (-1.304, "−1.30 deg/m"), (0.04, "0.040 deg/m")]
)
def test_a_number_is_not_told_finer_than_it_can_be_known(value, told):
    assert turning_point._brief(value, "deg/m") == told
    assert turning_point._brief(8.22, "mm") == "8 mm"
