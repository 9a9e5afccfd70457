"""An alignment print-out as a table fills the boxes of the form; one clear message for each bad cell."""

import numpy as np
import pytest

from vdlib.car import examples, shelf
from vdlib.garage.car_from import car_from
from vdlib.garage.printout import read_printout
from vdlib.garage.typed import Readings
from vdlib.panels.measure import Form
from vdlib.units import to_si

DEG = "degrees, each wheel"
FULL = """wheel; toe before [°]; toe now [°]; camber before; camber now
FL; -0.20; 0.05; -0.7; -1.2
FR; 0.10; 0.05; -1.1; -1.2
rear left; 0.16; 0.15; -1.9; -1.5
RR; -0.03; 0.14; -2.2; -1.6"""


def set_of(text, typed=None, way=DEG):
    found = read_printout(text, typed or {}, way)
    readings = Readings("p", {**(typed or {}), **found.boxes}, found.chosen)
    return found, car_from(readings, examples.load_example("coupe")).file.setup


@pytest.mark.analytic
def test_every_wheel_gets_its_own_figures():
    found, setup = set_of(FULL)
    assert not found.problems
    np.testing.assert_allclose(np.degrees(setup.front.wheels("toe")), [0.05, 0.05], atol=1e-6)
    np.testing.assert_allclose(np.degrees(setup.rear.wheels("toe")), [0.15, 0.14], atol=1e-6)
    np.testing.assert_allclose(np.degrees(setup.rear.wheels("camber")), [-1.5, -1.6], atol=1e-6)
    assert found.before["rear_right.toe"] == "-0.03"
    assert found.before["front_left.camber"] == "-0.7"


@pytest.mark.analytic
@pytest.mark.parametrize(
    ("heading", "cell", "angle"),
    [
        ("wheel\ttoe [mm]\tcamber\trim 430 mm", "2.0 out", -np.arcsin(2.0 / 430)),
        ("wheel\ttoe min\tcamber", "6' in", to_si(0.1, "deg")),
        ("wheel\ttoe [°]\tcamber", "0.10 out", -to_si(0.1, "deg")),
        ("", "0°06' in", to_si(0.1, "deg")),
    ],
)
def test_toe_in_degrees_minutes_or_mm_at_the_stated_rim(heading, cell, angle):
    lines = [f"{wheel}\t{cell}\t-1.0" for wheel in ("FL", "FR", "RL", "RR")]
    found, setup = set_of("\n".join([heading, *lines]))
    assert not found.problems
    np.testing.assert_allclose(setup.rear.wheels("toe"), [angle, angle], atol=2e-6)


def test_a_column_with_signs_needs_no_words():
    assert not set_of(FULL)[0].problems
    bare = "\n".join(f"{wheel}; 0.1; -1" for wheel in ("FL", "FR", "RL", "RR"))
    told = [str(p) for p in read_printout(bare, {}, DEG).problems]
    assert len(told) == 4
    assert "front left toe now in the print-out must say in or out, got '0.1'" in told[0]


@pytest.mark.parametrize(
    ("text", "said"),
    [
        (FULL.replace("-1.6", "x"), "rear right camber now in the print-out must be a number, got 'x'"),
        (FULL.replace("0.14", "14"), "rear right toe now in the print-out must be"),
        (FULL.replace("-2.2", "-22"), "rear right camber before in the print-out must be"),
        (FULL.replace("\nFR; 0.10; 0.05; -1.1; -1.2", ""), "front right in the print-out is missing"),
        (FULL + "\nRR; 0; 0; 0; 0", "rear right in the print-out is there twice"),
        (FULL + "\nspare; 0; 0; 0; 0", "is no line of a wheel"),
        (FULL.replace("0.14", "1.2 mm"), "is in mm, the others in deg"),
        (FULL.replace("[°]", "[mm]"), "is in mm at a rim nobody gave"),
        ("FL; 1; 2; 3\nFR; 1; 2; 3\nRL; 1; 2; 3\nRR; 1; 2; 3", "has 3 figures a wheel"),
    ],
)
def test_each_bad_cell_has_one_clear_message(text, said):
    found = read_printout(text, {}, DEG)
    told = [str(p) for p in found.problems]
    assert any(said in one for one in told), told
    cells = [p.field for p in found.problems]
    assert len(cells) == len(set(cells))


def test_the_form_fills_its_boxes_and_keeps_the_table(tmp_path, monkeypatch):
    monkeypatch.setenv(shelf.VARIABLE, str(tmp_path / "cars"))
    form = Form()
    form.type("toe.printout", FULL.replace("-1.6", "x"))
    assert form.boxes["toe.rear_right"].value == "0.14 deg in"
    assert form.boxes["camber.rear_left"].value == "-1.5"
    assert "rear right camber now" in form.printed.value
    assert form.boxes["camber.rear_right"].value == ""
    form.type("camber.rear_right", "-1.6")
    form.type("toe.rear_left", "0.2 in")  # changed by hand afterwards: stays
    again = Form()
    assert again.boxes["toe.printout"].value == FULL.replace("-1.6", "x")
    assert again.boxes["toe.rear_left"].value == "0.2 in"
    assert np.degrees(again.answer.file.setup.rear.wheels("camber")[1]) == pytest.approx(-1.6)
