"""The drawings beside the boxes of the measuring form, and the boxes' own letters and labels."""

import pytest
from matplotlib.text import Text

from vdlib.car import examples, shelf
from vdlib.car.keys import ENDS
from vdlib.draw import garage as drawn
from vdlib.draw.png import SIGNATURE
from vdlib.draw.style import SMALLEST, smallest_text
from vdlib.garage.form import ARCH, HUB, SILL, STEPS, TOE_UNITS
from vdlib.garage.form_fields import FIELDS, LINK_POINTS, UNSAID, fields_at
from vdlib.garage.invented import invented_day
from vdlib.garage.typed import Readings, asked, label_of
from vdlib.garage.visit import visit_of
from vdlib.panels.measure import Form

pytestmark = pytest.mark.unpainted


@pytest.fixture(autouse=True)
def cars(tmp_path, monkeypatch):
    monkeypatch.setenv(shelf.VARIABLE, str(tmp_path / "my-cars"))


@pytest.mark.painted
@pytest.mark.parametrize(("step", "way"), [*((step, HUB) for step in drawn.ALT), ("heights", ARCH), ("heights", SILL)])
def test_every_letter_of_the_boxes_is_in_the_drawing_and_no_other(step, way):
    picture = drawn.picture_of(step, examples.load_example("two-seater").car, way)
    assert picture.render().startswith(SIGNATURE)
    assert smallest_text(picture.figure) >= SMALLEST
    seen = {text.get_text() for text in picture.figure.findobj(Text)}
    readings = Readings("x", {}, {"heights.way": way})
    wanted = {field.mark for field in fields_at(step) if step != "heights" or asked(readings, field)} - {""}
    assert wanted <= seen
    assert picture.alt
    if step == "heights":
        assert {text for text in seen if len(text) == 1} == wanted
        assert ("sill" in picture.alt) == (way == SILL)


def test_pictures_are_drawn_when_their_step_is_opened():
    form = Form()
    assert form.images.keys() == drawn.ALT.keys()  # where there is something to measure
    assert not form.images["toe"].value
    form.steps.selected_index = [step.key for step in STEPS].index("toe")
    assert bytes(form.images["toe"].value).startswith(SIGNATURE)


def test_the_drawing_of_the_heights_follows_the_way_they_are_read():
    form = Form()
    form.steps.selected_index = [step.key for step in STEPS].index("heights")
    first, told = bytes(form.images["heights"].value), form.alts["heights"].value
    form.choose("heights.way", SILL)
    assert bytes(form.images["heights"].value) != first
    assert ("sill" in form.alts["heights"].value, "sill" in told) == (True, False)
    form.choose("heights.way", HUB)
    assert bytes(form.images["heights"].value) == first


def test_no_label_is_longer_than_its_place():
    """21 letters' widths take some 41 signs; a longer label is cut on the screen (seen in the browser)."""
    for way in TOE_UNITS:
        readings = Readings("x", {}, {"toe.read": way, "start.rate": "lbf_per_in", "start.length": "in"})
        told = [label_of(readings, field) for field in FIELDS.values() if field.holds != "text"]
        assert max(map(len, told)) <= 41, max(told, key=len)


def test_the_invented_day_fills_every_box_but_those_nobody_must_fill():
    empty = FIELDS.keys() - invented_day(examples.load_example("two-seater")).typed.keys()
    ends = {f"curves.{end}_{name}_{way}" for end in ENDS for name in LINK_POINTS for way in ("out", "up")}
    assert empty == {"corners.known_mass", "corners.known_share", "camber.gauge", "toe.printout"} | ends


def test_foot_and_turn_of_the_scare_are_open_until_somebody_says():
    form = Form()
    assert {form.lists[f"felt.{key}"].value for key in ("phase", "direction")} == {UNSAID}
    assert not {"foot", "corner"} & visit_of(form.readings).keys()
    form.choose("felt.phase", "braking")
    form.choose("felt.direction", "left")
    said = visit_of(form.readings)
    assert (said["foot"], said["corner"]) == ("braking", "turning left")
    form.choose("felt.phase", UNSAID)
    assert "foot" not in visit_of(form.readings)
