"""As left comes back: four wheels typed again, misses told, the new car saved and the promise made anew."""

from dataclasses import replace

import ipywidgets as widgets
import numpy as np
import pytest
from cars import promise_of_the_story
from remembered import remember
from undrawn import undrawn

import vdlib.setup.as_left as own_room
from vdlib.answers.limits import limits
from vdlib.car import carfile, examples, shelf
from vdlib.car.keys import CORNERS, ENDS
from vdlib.car.known import Points
from vdlib.car.records import SIDES, Moment
from vdlib.car.reference import reference_of
from vdlib.checks import InputError
from vdlib.laps import notes
from vdlib.panels import as_left as panels
from vdlib.panels import closings_own_car, day_promise, did_it_work
from vdlib.panels.onscreen import cleared
from vdlib.panels.which import Which
from vdlib.setup import left_figures, saved
from vdlib.setup.as_left import as_left, read, words
from vdlib.setup.candidate import Candidate, Load, baseline, standing, version
from vdlib.setup.driven import own_corner
from vdlib.setup.left_rows import key
from vdlib.setup.page import back_to_reference, build
from vdlib.setup.page_wheels import heights_at
from vdlib.setup.tolerances import WITHIN, without_unsettable
from vdlib.shown import Choice, use
from vdlib.units import from_si, to_si

pytestmark = pytest.mark.unpainted


@pytest.fixture
def promised():
    """What is promised is the own car's."""


@pytest.fixture(autouse=True)
def cars(request, tmp_path, monkeypatch):
    monkeypatch.setenv(shelf.VARIABLE, str(tmp_path / "cars"))
    if "promised" in request.fixturenames:
        remember(monkeypatch, own_room, "promise")
    else:  # nobody asks what it is
        monkeypatch.setattr(own_room, "promise", lambda *_: promise_of_the_story())
    undrawn(monkeypatch)
    cleared()


FILE = examples.load_example("low-two-seater")
SPOT = Points((0.0, float(FILE.car.wheelbase)), (0.53, 0.52), "hub centre to arch")
ARCHED = replace(FILE, known=replace(FILE.known, points=SPOT))
LEFT = {
    **{key("height", c): t for c, t in zip(CORNERS, ("640", "641", "640", "652"), strict=True)},
    **{key("toe", c): t for c, t in zip(CORNERS, ("0.2 in", "0.2 in", "1.1 in", "2.2 in"), strict=True)},
    **{key("camber", c): t for c, t in zip(CORNERS, ("-1.2", "-1.2", "-1.5", "-1.5"), strict=True)},
    **{key("kg", c): t for c, t in zip(CORNERS, ("208", "204", "300", "298"), strict=True)},
}


def made(file=ARCHED, typed=LEFT):
    base = baseline(file.car, file.setup)
    return as_left(file, base, back_to_reference(base, file), read(file, typed))


@pytest.mark.analytic
@pytest.mark.parametrize("behind", [(0.0, float(FILE.car.wheelbase)), (0.4, 1.9), (-0.3, 2.8)])
def test_heights_where_the_tape_is_read_lead_back_to_the_axle_lines(behind):
    spot = Points(behind, (0.31, -0.02), "two points of the body")
    file = replace(FILE, known=replace(FILE.known, points=spot))
    front_left, front_right, rear_left, rear_right = heights_at(file, file.car, file.setup)
    own = [getattr(file.setup, end).wheels("height") for end in ENDS]
    for side, ends in enumerate(((front_left, rear_left), (front_right, rear_right))):
        at = spot.at_axles(*ends, file.car.wheelbase)  # the way that the form takes
        assert at == pytest.approx((own[0][side], own[1][side]), abs=1e-12)
        line = np.polyfit([0.0, float(file.car.wheelbase)], [own[0][side], own[1][side]], 1)  # the sill
        assert ends == pytest.approx(np.polyval(line, behind) + spot.above, abs=1e-12)
    bare = replace(FILE, known=replace(FILE.known, points=None))
    assert heights_at(bare, FILE.car, FILE.setup) == pytest.approx(np.ravel(own))


def test_four_unequal_wheels_become_the_new_car():
    found = made()
    for i, end in enumerate(ENDS):
        own = getattr(found.file.setup, end)
        heights = [from_si(float(v) + SPOT.above[i], "mm") for v in own.wheels("height")]
        np.testing.assert_allclose(heights, [(640, 641), (640, 652)][i], atol=1e-6)
        np.testing.assert_allclose(own.wheels("aligned_height"), own.wheels("height"))
    toe = [430 * np.sin(float(v)) for v in found.file.setup.rear.wheels("toe")]
    np.testing.assert_allclose(toe, [1.1, 2.2], atol=1e-3)
    assert float(found.file.car.mass) == pytest.approx(1010)
    assert float(found.file.setup.cross_weight) == pytest.approx((204 + 300) / 1010)


def test_misses_are_told_at_their_wheel_and_the_rest_was_done():
    found = made()
    assert len(found.missed) == 2
    assert any("rear right height: left 652 mm, +12 mm off" in miss for miss in found.missed)
    assert any("rear right toe" in miss for miss in found.missed)
    assert "front left height" in found.done
    assert words(found)[0].startswith("Was it done?")  # first was it done, then what it promises
    told = words(found)
    assert (told[1], told[-1]) == (found.promise.words[0], found.promise.words[-1])
    assert found.asked.told[1] in told[2]  # beside what the page promised


@pytest.mark.usefixtures("promised")
def test_the_promise_is_made_anew_from_what_was_left():
    other = made(typed=LEFT | {key("height", "rear_right"): "640", key("toe", "rear_right"): "1.1 in"})
    assert not other.missed
    assert " before the visit and " in other.promise.words[0]
    assert " as left: " in other.promise.words[0]
    assert other.promise.speed[0] == other.asked.speed[0]  # the car as it was, whatever was typed
    heavy = made(typed=LEFT | {key("kg", "rear_left"): "350"})
    assert (heavy.promise.speed[0], heavy.promise.turn) == (other.promise.speed[0], other.asked.turn)
    low = made(typed=LEFT | {key("height", f"rear_{side}"): "620" for side in SIDES})  # the tail left where it was
    assert low.promise.speed[1] < other.promise.speed[1]


def test_what_is_not_typed_is_named_and_taken_as_it_was():
    heights = {name: text for name, text in LEFT.items() if name.startswith("height.rear") or "front" in name}
    found = made(typed=heights | {key("height", c): "640" for c in CORNERS})
    assert found.untyped == ("toe (rear right)",)
    told = words(found)
    assert "Of what is typed, nothing was missed. Not typed yet: toe (rear right)." in told[0]
    assert told[1].startswith("What is not typed is taken as it was before the visit")
    assert not any("Not typed" in said or "not typed" in said for said in words(made()))
    rear, before = found.file.setup.rear, replace(ARCHED.setup.rear, height=0.12, height_difference=0.0)
    lower = standing(ARCHED.car, replace(ARCHED.setup, rear=before)).rear  # carried along the car's curves
    np.testing.assert_allclose(rear.wheels("toe"), lower.wheels("toe"), atol=1e-9)
    np.testing.assert_allclose(rear.wheels("camber"), lower.wheels("camber"), atol=1e-9)


def test_what_has_no_box_is_taken_as_asked_and_said():
    base = baseline(ARCHED.car, ARCHED.setup)
    spring = 1.2 * float(base.setup.rear.spring)
    asked = Candidate(settings={"rear.spring": spring, "rear.toe": 0.004}, loads=(Load("ballast", 20, 1.0, 0.0, 0.3),))
    found = as_left(ARCHED, base, asked, read(ARCHED, {key("camber", "rear_left"): "-1.5"}))
    assert found.file.setup.rear.spring == spring
    assert float(found.file.setup.rear.toe) == pytest.approx(float(base.setup.rear.toe))
    assert found.untyped == ("toe (rear)",)
    assert found.odd[1] == "Taken as asked, having no box here: rear spring rate, ballast."


def test_heights_that_were_asked_for_are_typed_together():
    some = {key("height", "front_left"): "110", key("height", "rear_left"): "120"}
    with pytest.raises(InputError, match="front right height and rear right height must be typed beside the others"):
        made(FILE, some)


@pytest.mark.usefixtures("promised")
def test_the_very_figures_of_before_leave_the_promise_where_it_was():
    uneven = replace(ARCHED, setup=replace(ARCHED.setup, cross_weight=0.54))
    heights = heights_at(uneven, uneven.car, uneven.setup)
    typed = {key("height", c): f"{from_si(float(h), 'mm'):.3f}" for c, h in zip(CORNERS, heights, strict=True)}
    found = made(uneven, typed)
    assert "corner weights" in found.untyped
    assert found.promise.speed[1] == pytest.approx(found.promise.speed[0], abs=1e-3)


@pytest.mark.usefixtures("promised")
def test_as_asked_is_what_the_page_asks_for():
    base = baseline(ARCHED.car, ARCHED.setup)
    little = 0.9 * to_si(WITHIN["cross_weight"][0], "percent")  # less than can be set, which the page leaves as now
    asked = Candidate(settings={"rear.height": 0.12, "cross_weight": 0.5 - little, "rear.toe_difference": 0.0008})
    found = as_left(ARCHED, base, asked, read(ARCHED, {key("camber", "rear_left"): "-1.5"}))
    able, _ = without_unsettable(asked, base)
    page = version(able, base)
    assert "cross_weight" not in able.settings
    assert found.asked == own_room.promise(page.car, base.setup, page.setup, own_corner(ARCHED.known.visit), base.car)


@pytest.mark.parametrize(("front", "rear", "said"), [(300, 120, "its droop stop"), (110, 20, "its bump stop alone")])
def test_heights_at_which_no_car_can_stand_are_refused(front, rear, said):
    sizes = (front, front, rear, rear)
    typed = {key("height", c): str(size) for c, size in zip(CORNERS, sizes, strict=True)}
    with pytest.raises(InputError, match=said) as found:
        made(FILE, typed)
    assert len(found.value.problems) == 2
    now = [from_si(float(v), "mm") for end in ENDS for v in getattr(FILE.setup, end).wheels("height")]
    low = replace(FILE, car=replace(FILE.car, rear=replace(FILE.car.rear, bump_gap=-0.05)))  # it stands so, stop or not
    made(low, {key("height", c): f"{size:.3f}" for c, size in zip(CORNERS, now, strict=True)})


def test_scales_that_do_not_fit_the_car_are_asked_about():
    assert not made().odd
    told = " ".join(words(made(typed=LEFT | {key("kg", "rear_left"): "350"})))
    assert "The scales add up to 1060 kg, the car was 1010 kg" in told
    assert "Cross weight: left 52.3 %" in told
    three = {name: text for name, text in LEFT.items() if name != key("kg", "rear_left")}
    assert made(typed=three).odd[0].startswith("3 of four scales")


def test_toe_that_the_page_leaves_is_compared_with_the_reference():
    left = {key("toe", "front_left"): "0.0", key("toe", "front_right"): "0.1"}  # of 0.2; 0.8 before the heights
    assert not any("front" in miss for miss in made(typed=LEFT | left).missed)
    far = made(typed=LEFT | {key("toe", "front_left"): "1.6 out"}).missed
    assert any("front left toe (mm at the rim): left 1.6 toe-out, −1.8 off the reference" in miss for miss in far)
    turned = made(typed=LEFT | {key("toe", "front_left"): "0.9"}).missed  # as it was before the heights moved it
    assert any("front left toe (mm at the rim): left 0.9 toe-in, +0.7 off the reference" in miss for miss in turned)


def test_cold_pressures_are_left_as_the_page_has_them():
    file = replace(ARCHED, known=replace(ARCHED.known, visit={"cold": "1.85 | 1.85 | 1.95 | 1.95"}))
    assert not made(file, {key("cold", "front_left"): "1.85"}).missed
    assert "+0.15 bar off what it was" in made(file, {key("cold", "front_left"): "2.00"}).missed[0]


def test_a_bare_toe_is_in_as_the_page_says_and_in_alone_is_no_inch():
    assert read(ARCHED, {key("toe", "rear_left"): "1.1"}) == read(ARCHED, {key("toe", "rear_left"): "1.1 in"})
    use(Choice(length="in"))
    try:
        assert read(ARCHED, {key("toe", "rear_left"): "1.1"}) == read(ARCHED, {key("toe", "rear_left"): "1.1 mm in"})
        with pytest.raises(InputError, match=r"write 1\.1 mm in, or 1\.1 inch in"):
            read(ARCHED, {key("toe", "rear_left"): "1.1 in"})
    finally:
        use(Choice())


def test_heights_at_sill_points_need_both_ends_of_a_side():
    sill = replace(FILE, known=replace(FILE.known, points=Points((0.3, 2.1))))
    with pytest.raises(InputError, match="must be typed in front and at the rear"):
        made(sill, {key("height", "front_left"): "110"})
    level = made(sill, {key("height", corner): "120" for corner in CORNERS})
    assert float(level.file.setup.front.wheels("height")[0]) == pytest.approx(0.12)


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ({key("camber", "rear_left"): "x"}, "rear left camber must be a number"),
        ({key("camber", "rear_left"): "1.8"}, "camber must have its sign, got 1.8: write −1.8 where its top leans in"),
        ({key("toe", "rear_left"): "1.1 up"}, "rear left toe must be a number"),
        ({key("kg", "front_left"): "5000"}, "front left scale"),
        ({}, "holds no figure yet"),
    ],
)
def test_bad_figures_get_one_clear_message(typed, said):
    with pytest.raises(InputError, match=said):
        made(typed=typed)


def test_the_panel_saves_the_new_car_and_keeps_the_old():
    shelf.save_car("mine", ARCHED.car, ARCHED.setup, None, None, ARCHED.known)
    desk = panels.panel(shelf.load_car("mine"))
    for name, text in LEFT.items():
        desk.boxes[name].value = text
    desk.look_button.click()
    assert "Was it done?" in desk.message.value
    desk.save_button.click()
    assert shelf.opened() == "mine - as left"
    again = shelf.load_car("mine - as left")
    assert float(again.setup.rear.wheels("height")[1]) == pytest.approx(to_si(652, "mm") - SPOT.above[1], abs=1e-6)
    assert shelf.load_car("mine").setup == ARCHED.setup


def typed_desk(name="mine", left=LEFT):
    if name not in shelf.car_names():
        shelf.save_car(name, ARCHED.car, ARCHED.setup, None, None, ARCHED.known)
    desk = panels.panel(shelf.load_car(name))
    for box, text in left.items():
        desk.boxes[box].value = text
    return desk


def test_what_was_typed_is_there_again_after_the_kernel_stopped():
    typed_desk()
    cleared()
    again = panels.panel(shelf.load_car("mine"))
    assert {name: box.value for name, box in again.boxes.items() if box.value} == LEFT
    assert "figures, as typed before" in again.note.value
    assert saved.whatif_names(shelf.load_car("mine")) == ()  # it is no what-if
    assert "two-seater" not in (saved.whatif_folder(shelf.load_car("mine")) / left_figures.FILE).read_text()


def test_two_windows_lose_nothing():
    one, other = typed_desk(left={}), typed_desk(left={})
    one.boxes[key("toe", "rear_left")].value = "1.1 in"
    other.boxes[key("camber", "rear_left")].value = "-1.5"
    assert other.boxes[key("toe", "rear_left")].value == "1.1 in"  # taken over from the first window
    one.boxes[key("camber", "rear_right")].value = "-1.6"
    held = left_figures.kept(shelf.load_car("mine")).typed
    both = {key("toe", "rear_left"): "1.1 in", key("camber", "rear_left"): "-1.5", key("camber", "rear_right"): "-1.6"}
    assert held == both
    other.boxes[key("camber", "rear_right")].value = "-1.9"  # a box that the other changed as well
    aside = list(saved.whatif_folder(shelf.load_car("mine")).glob("*.kept-*"))
    assert len(aside) == 1
    assert "-1.6" in aside[0].read_text()
    assert aside[0].name in other.note.value
    assert left_figures.kept(shelf.load_car("mine")).typed[key("camber", "rear_right")] == "-1.9"


def test_a_file_that_cannot_be_read_is_set_aside_and_said():
    desk = typed_desk()
    path = saved.whatif_folder(shelf.load_car("mine")) / left_figures.FILE
    for text in ("asked = [", "[spare_wheel]\ntoe = '1'", "[front_left]\ntoe = 3", "asked = 3"):
        path.write_text(text)
        cleared()
        again = panels.panel(shelf.load_car("mine"))
        assert "cannot be read" in again.note.value
        assert not any(box.value for box in again.boxes.values())
    assert len(list(path.parent.glob("*.kept-*"))) == 4
    assert desk.boxes[key("kg", "front_left")].value == "208"


def test_a_second_visit_writes_over_nothing():
    typed_desk().save_button.click()
    first = shelf.load_car("mine - as left")
    typed_desk("mine - as left").save_button.click()
    assert shelf.opened() == "mine - as left 2"
    assert shelf.load_car("mine - as left").setup == first.setup
    names = [left_figures.came_from(shelf.load_car(name)) for name in ("mine", "mine - as left", "mine - as left 2")]
    assert [car and car.path.stem for car in names] == [None, "mine", "mine - as left"]


def test_what_was_saved_is_said_over_the_panels_of_the_new_car():
    shelf.save_car("mine", ARCHED.car, ARCHED.setup, None, None, ARCHED.known)
    above, chooser = Which(lambda _: widgets.HTML("")), Which(closings_own_car.AS_LEFT)
    chooser.place.children[0].line.value = True
    inside = {getattr(one, "description", ""): one for one in every(chooser.place)}  # boxes: those of the rear right
    inside["camber, with its sign [°]"].value = "-1.5"
    inside["Save the new car"].click()
    inside["Save the new car"].click()  # the second half of a double click
    assert chooser.file.path.stem == "mine - as left"
    assert "saved as mine - as left already" in chooser.message.value
    assert not above.message.value


def test_a_second_click_saves_no_second_car_and_a_corrected_figure_replaces_the_first():
    desk = typed_desk()
    desk.save_button.click()
    desk.save_button.click()
    assert shelf.car_names() == ("mine", "mine - as left")
    assert "saved as mine - as left already" in desk.message.value
    desk.boxes[key("height", "rear_right")].value = "640"
    desk.save_button.click()
    assert shelf.car_names() == ("mine", "mine - as left")
    assert "The one saved before is kept as mine - as left.toml.kept-1" in desk.message.value
    new = shelf.load_car("mine - as left")
    assert float(new.setup.rear.wheels("height")[1]) == pytest.approx(to_si(640, "mm") - SPOT.above[1], abs=1e-6)
    assert left_figures.came_from(new).path.stem == "mine"


@pytest.mark.parametrize("name", ["far", "mine"])  # one of the same name on the shelf is another car
def test_a_car_of_another_folder_is_not_called_an_example(tmp_path, name):
    shelf.save_car("mine", ARCHED.car, ARCHED.setup, None, None, ARCHED.known)
    (tmp_path / f"{name}.toml").write_text(shelf.load_car("mine").text)
    desk = panels.panel(examples.open_car(str(tmp_path / f"{name}.toml")))
    desk.boxes[key("camber", "rear_left")].value = "-1.5"
    desk.save_button.click()
    assert "must lie among the saved cars" in desk.message.value
    assert str(shelf.folder()) in desk.message.value
    assert shelf.car_names() == ("mine",)


def test_did_it_work_asks_first_whether_it_was_done():
    desk = typed_desk()
    laps = "61.2\n61.4\n61.1"
    notes.keep(shelf.load_car("mine"), {"typed.before": laps})
    before = day_promise.was_it_done(shelf.load_car("mine"))
    assert before.startswith("Was it done? As asked:")
    assert "rear right height: left 652 mm" in before
    desk.save_button.click()
    new = shelf.load_car("mine - as left")
    assert day_promise.was_it_done(new) == before
    kept = notes.kept(new)
    assert kept.notes["typed.before"] == laps  # the laps from before the visit are compared with
    notes.keep(new, kept.notes | {"laps_from": did_it_work.TYPED, "typed.after": laps}, kept.text)
    made = did_it_work.panel(new)
    assert made.panel.state["setup_before"] == day_promise.BEFORE_VISIT
    assert "Was it done?" in text_of(made.panel.show())
    shown = made.panel.result.promised
    assert (shown.before, shown.after) == (day_promise.BEFORE_VISIT, day_promise.LEFT)
    exact = [limits(ARCHED.car, s, Moment.in_phase("steady", shown.speed, 1.0)) for s in (ARCHED.setup, new.setup)]
    np.testing.assert_allclose(shown.limit, [float(one.car) for one in exact], rtol=2e-3)


def every(widget):
    return [widget, *(one for child in getattr(widget, "children", ()) for one in every(child))]


def text_of(widget):
    own = str(getattr(widget, "value", "")) if hasattr(widget, "value") else ""
    return own + "".join(text_of(child) for child in getattr(widget, "children", ()))


def test_a_car_with_a_long_name_still_finds_its_way_back():
    long = "a roadster with a name as long as a name may be sixty letters"[:60].strip()
    typed_desk(long).save_button.click()
    new = shelf.load_car(shelf.opened())
    assert len(new.path.stem) <= 60
    assert left_figures.came_from(new).path.stem == long


def test_an_example_is_never_written_over():
    desk = panels.panel(FILE)
    desk.boxes[key("camber", "rear_left")].value = "-1.5"
    desk.save_button.click()
    assert "stays as it is" in desk.message.value
    assert desk.boxes[key("camber", "rear_left")].value == "-1.5"


def test_readings_that_the_work_has_overtaken_are_not_those_of_the_new_car():
    visit = {"cold": "2.1 | 2.1 | 2.0 | 2.0", "ties": "22 | 24 | 0 | 0", "felt": "it came round"}
    level = reference_of(ARCHED).setup  # its rear does not sit on the stops
    file = replace(ARCHED, setup=level, known=replace(ARCHED.known, visit=visit))
    found = made(file, LEFT | {key("cold", "front_left"): "1.8", key("cold", "front_right"): "1.85"}).file
    text = carfile.render(found.car, found.setup, found.origin, file.text, found.known)
    assert carfile.parse(text).known.visit == found.known.visit  # what is left out goes from the file as well
    assert "ties" not in found.known.visit
    assert found.known.visit["felt"] == "it came round"
    page = build(found, baseline(found.car, found.setup), Candidate())
    assert [cell.now.rstrip(" !") for cell in dict(page.wheels.rows)["cold bar"]] == ["1.80", "1.85", "2.00", "2.00"]
    assert "IN A SESSION" not in page.warning
    assert "IN A SESSION" in build(file, baseline(file.car, file.setup), Candidate()).warning
    assert made(file).file.known.visit["cold"] == visit["cold"]  # not typed: as before


def test_what_was_in_question_is_settled_by_four_new_figures():
    asks = {"in_question": "rear left height is 76 mm off (441 mm); front spring should bounce at 1.0 to 3.0 Hz"}
    file = replace(ARCHED, known=replace(ARCHED.known, visit=asks))
    assert made(file).file.known.visit["in_question"] == "front spring should bounce at 1.0 to 3.0 Hz"
    cambers = {name: text for name, text in LEFT.items() if name.startswith("camber")}
    assert made(file, cambers).file.known.visit == asks
