"""The measuring form on the screen: driven box by box, restored from the disk, and refused in words."""

import os
import re
from functools import partial
from itertools import groupby
from pathlib import Path

import ipywidgets as widgets
import pytest
from cars import TWO_OR_SLOW
from driving import BAD_NUMBER

from vdlib.car import examples, shelf
from vdlib.car.keys import CORNERS
from vdlib.car.typical import BODIES
from vdlib.draw import paper
from vdlib.garage import kept
from vdlib.garage.form import STEPS, WAYS
from vdlib.garage.form_fields import CHOICES, FIELDS, OPEN, SETTLED, choices_at, fields_at
from vdlib.panels import measure, measure_parts
from vdlib.panels.measure import Form
from vdlib.panels.which import Which

pytestmark = pytest.mark.unpainted


@pytest.fixture(autouse=True)
def cars(tmp_path, monkeypatch):
    monkeypatch.setenv(shelf.VARIABLE, str(tmp_path / "my-cars"))
    monkeypatch.setattr(measure_parts, "leaning", partial(measure_parts.leaning, count=40))
    return tmp_path / "my-cars"


def in_step(form):
    """The boxes, the readings, the disk and the words all say the same."""
    shown_as_typed(form)
    assert kept.load_form(form.readings.name) == (form.readings, form._text, "")
    answer = form.compute(form.readings)
    assert (answer.problems, answer.missing) == (form.answer.problems, form.answer.missing)


def shown_as_typed(form):
    """The boxes, the readings and the words say the same."""
    for key, box in form.boxes.items():
        assert form.readings.typed.get(key, "") == box.value
    for key, made in form.lists.items():
        assert form.readings.choice(key) == made.value
    answer = form.answer
    for step in STEPS:
        text = re.sub("<[^>]*>", " ", form.words[step.key].value)
        assert BAD_NUMBER.search(text) is None, text
        errors = answer.steps[step.key].errors if step.key in answer.steps else ()
        assert bool(errors) == ('role="alert"' in form.words[step.key].value)
    assert ("cannot be saved yet" in form.overall.value) == bool(answer.problems)


@pytest.fixture(scope="module")
def made(tmp_path_factory):
    """The widgets of one form, for tests that do not ask how a form opens."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv(shelf.VARIABLE, str(tmp_path_factory.mktemp("made")))
        return Form()


@pytest.fixture
def full(made):
    made.invent()  # in this test's own folder, where there is none yet
    return made


@pytest.fixture
def empty(made):
    made.new()
    return made


@pytest.fixture(scope="module")
def lent(tmp_path_factory):
    """One full form with a folder of its own, for tests that leave it as they found it."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv(shelf.VARIABLE, str(tmp_path_factory.mktemp("lent")))
        form = Form()
        form.invent()
    return form


def set_in(form):
    """What stands in every box and list."""
    return {key: one.value for key, one in (form.boxes | form.lists).items()}


@pytest.fixture
def handed(lent, tmp_path_factory, monkeypatch):
    """The lent form; given back as it was."""
    before = set_in(lent)
    monkeypatch.setenv(shelf.VARIABLE, str(tmp_path_factory.getbasetemp() / "lent0"))
    yield lent
    assert set_in(lent) == before


# ---- the form itself ---------------------------------------------------------------------------------------------


def test_an_empty_form_leaves_no_file_and_no_alarm(cars):
    form = Form()
    assert not cars.exists()
    assert "Nothing is measured yet" in form.overall.value
    assert not any("alert" in html.value for html in (*form.words.values(), form.message, form.result))
    assert list(form.boxes) == list(FIELDS)
    assert list(form.lists) == [c.key for step in STEPS for c in choices_at(step.key)]
    assert {f.step for f in FIELDS.values()} | {c.step for c in CHOICES.values()} == {step.key for step in STEPS}


def type_all(form, texts):
    """Type into one box after another; all of it is worked out once, at the last."""
    *others, last = texts
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(Form, "_show", lambda _: None)
        for key in others:
            form.type(key, texts[key])
            assert form.readings.typed.get(key, "") == texts[key]
    form.type(last, texts[last])


def choose_all(form, options):
    """The same of lists."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(Form, "_show", lambda _: None)
        for key in options:
            form.choose(key, options[key])
            assert form.readings.choice(key) == options[key]
    form._show()


def said_of_all(form, step, fields, saved):
    """Each of these boxes of a step, into which "twelve" was typed, is named as wrong; what was typed is kept."""
    said = re.sub("&#x27;", "'", form.words[step].value)
    assert said.count("must be a number") >= len(fields)
    for field in fields:
        assert field.label in said
        assert "vd-bad" in form.boxes[field.key]._dom_classes
        assert form.readings.typed[field.key] == "twelve"  # nothing typed is lost
        assert field.key.partition(".")[2] + ' = "twelve"' in saved


def test_every_box_shown_with_bad_and_good_text(handed):
    full = handed
    fields = [f for f in FIELDS.values() if f.holds != "text" and full.boxes[f.key].layout.display == ""]
    assert len(fields) > 60
    assert {f.step for f in fields} >= {"corners", "toe", "springs", "camber", "heights", "tyres"}
    good = {field.key: full.readings.typed.get(field.key, "") for field in fields}
    type_all(full, dict.fromkeys(good, "twelve"))
    saved = kept.form_path(full.readings.name).read_text()
    for step in {field.step for field in fields}:
        said_of_all(full, step, [field for field in fields if field.step == step], saved)
    type_all(full, good)
    assert not any("vd-bad" in full.boxes[field.key]._dom_classes for field in fields)
    in_step(full)
    assert not full.answer.problems


@pytest.mark.slow  # every run: the same of all boxes shown at once, in the test before
@pytest.mark.parametrize("step", [step.key for step in STEPS])
def test_every_field_with_bad_and_good_text(step, handed):
    full, chosen = handed, {key: made.value for key, made in handed.lists.items()}
    for when, group in groupby(sorted(fields_at(step), key=lambda f: str(f.when)), key=lambda f: f.when):
        key, option = when
        if key:
            full.choose(key, option if isinstance(option, str) else option[-1])
        fields = [field for field in group if field.holds != "text"]
        if not fields:
            continue
        good = {field.key: full.readings.typed.get(field.key, "") for field in fields}
        type_all(full, dict.fromkeys(good, "twelve"))
        said_of_all(full, step, fields, kept.form_path(full.readings.name).read_text())
        type_all(full, good)
        assert not any("vd-bad" in full.boxes[field.key]._dom_classes for field in fields)
    in_step(full)
    assert not full.answer.problems
    for key, option in chosen.items():
        if full.readings.choice(key) != option:
            full.choose(key, option)


@pytest.mark.parametrize("step", [step.key for step in STEPS if choices_at(step.key)])
def test_the_last_of_every_choice(step, handed):
    full, keys = handed, [choice.key for choice in choices_at(step)]
    first = {key: full.lists[key].value for key in keys}
    choose_all(full, {key: full.lists[key].options[-1][1] for key in keys})
    shown_as_typed(full)
    choose_all(full, first)
    in_step(full)
    assert not full.answer.problems


@pytest.mark.slow  # every run: the last options of a step together, in the test before
@pytest.mark.parametrize("step", [step.key for step in STEPS if choices_at(step.key)])
def test_every_choice(step, handed):
    """A list with the options of one before it in its step is put to its last option only."""
    full, seen = handed, set()
    for key, made in ((c.key, full.lists[c.key]) for c in choices_at(step)):
        first, options = made.value, made.options
        for _, option in options[-1:] if options in seen else options:
            full.choose(key, option)
            shown_as_typed(full)
        seen.add(options)
        full.choose(key, first)
    in_step(full)
    assert not full.answer.problems


@pytest.mark.parametrize("name", TWO_OR_SLOW)
def test_the_kinds_are_those_of_the_start_car_until_chosen(name, empty):
    form, keys = empty, ("start.front", "start.rear", "start.body", "start.height", "tyres.kind")
    form.choose("start.from", f"example {name}")
    kinds = examples.load_example(name).known.kinds
    assert [form.lists[key].value for key in keys] == [kinds.front, kinds.rear, kinds.body, kinds.height, kinds.tyre]
    other = next(body for body in BODIES if body != kinds.body)
    form.choose("start.body", other)
    form.choose("start.from", f"example {examples.FIRST if name != examples.FIRST else 'coupe'}")
    assert form.lists["start.body"].value == other
    in_step(form)


def test_another_unit_is_shown_beside_the_box_and_read_anew(empty):
    empty.type("corners.front_left", "600")
    empty.choose("start.mass", "lb")
    assert empty.boxes["corners.front_left"].description == "A front left scale [lb]"
    assert empty.readings.typed["corners.front_left"] == "600"
    assert {unit for ways in WAYS.values() for unit in ways} >= {"lb", "in", "psi", "lbf_per_in"}


def test_boxes_come_and_go_with_the_way_of_reading(empty):
    assert empty.boxes["camber.height"].layout.display == "none"
    empty.choose("camber.way", "mm to a plumb line")
    assert empty.boxes["camber.height"].layout.display == ""
    assert empty.boxes["camber.gauge"].layout.display == "none"


def test_the_title_of_a_step_says_how_far_it_is(full):
    place = [step.key for step in STEPS].index("corners")
    assert "done: 6 of 8" in full.steps.get_title(place)
    full.type("corners.front_left", "")
    assert "not finished: 5 of 8" in full.steps.get_title(place)
    full.type("corners.front_left", "?")
    assert "a reading to take again" in full.steps.get_title(place)


# ---- the disk ----------------------------------------------------------------------------------------------------


def test_a_new_form_shows_what_was_typed_before_the_kernel_died():
    one = Form()
    one.rename("blue car")
    one.type("heights.wheelbase", "2450")
    one.type("corners.front_left", "a quarter ton")
    one.choose("start.front", "strut")
    two = Form()
    assert two.readings == one.readings
    assert two.boxes["corners.front_left"].value == "a quarter ton"
    in_step(two)
    two.new()
    two.type("heights.wheelbase", "2500")
    assert set(kept.form_names()) == {"blue car", "my car"}
    three = Form()
    assert three.readings.name == "my car"
    three.open("blue car")
    assert three.readings == one.readings
    assert Form().readings.name == "blue car"


def test_an_interrupted_save_is_said_and_leaves_the_former_file(monkeypatch, empty):
    form = empty
    form.type("heights.wheelbase", "2450")
    path = kept.form_path("my car")
    before = path.read_bytes()

    def fail(*_):
        raise OSError(5, "Input/output error")

    with monkeypatch.context() as patch:
        patch.setattr(os, "replace", fail)
        form.type("heights.wheelbase", "2451")
    assert "Not saved" in form.message.value
    assert "Input/output error" in form.message.value
    assert path.read_bytes() == before
    assert form.boxes["heights.wheelbase"].value == "2451"
    form.type("heights.front_wheel", "300")  # the next change saves all of it
    assert "Not saved" not in form.message.value
    in_step(form)


def test_a_broken_file_is_said_and_kept_aside(cars):
    kept.save_form(Form().readings)
    kept.form_path("my car").write_text("[typed\n")
    form = Form()
    assert 'role="alert"' in form.message.value
    assert "kept as my car.readings.toml.kept-1" in form.message.value
    assert (cars / "my car.readings.toml.kept-1").read_text() == "[typed\n"
    in_step(form)


def test_a_name_that_cannot_be_is_refused_and_the_old_one_stays(full):
    Form().new()
    for name, said in (("a/b", "must be 1 to 60 letters"), ("my car", "has a form already")):
        full.name.value = name
        assert said in full.message.value
        assert full.name.value == name  # nothing typed is lost
        assert full.readings.name == "Invented day"
    full.name.value = "day one"
    assert "Invented day" not in kept.form_names()
    in_step(full)


def test_the_invented_day_touches_no_form_of_ones_own():
    form = Form()
    form.type("corners.front_left", "299")
    form.invent()
    assert "invented" in form.said
    assert "These readings are invented" in form.overall.value
    form.type("corners.front_left", "250")
    form.invent()
    assert form.readings.typed["corners.front_left"] == "250"  # as it was left
    form.open("my car")
    assert form.readings.typed == {"corners.front_left": "299"}
    assert not form.readings.invented


# ---- the car and the paper ---------------------------------------------------------------------------------------


def test_saving_says_where_or_what_to_take_again(full):
    full.save_button.click()
    assert str(shelf.car_path("Invented day").resolve()) in full.result.value
    assert shelf.current().car.name == "Invented day"
    full.type("corners.front_left", "x")
    full.save_button.click()
    assert "The car is not saved; nothing typed is lost" in full.result.value
    assert "front left scale" in full.result.value
    assert full.boxes["corners.front_left"].value == "x"


def test_a_car_not_from_the_form_is_kept_and_replaced_at_a_second_press(full, monkeypatch):
    file = examples.load_example("coupe")
    shelf.save_car("Invented day", file.car, file.setup)
    there = shelf.car_path("Invented day").read_bytes()
    full.save()
    full.save()  # the second half of a double click
    assert "press again to replace it" in full.result.value
    assert shelf.car_path("Invented day").read_bytes() == there
    monkeypatch.setattr(measure, "PAUSE", 0.0)
    full.save()
    assert "Saved in" in full.result.value
    assert "kept as <b>Invented day.toml.kept-1</b>" in full.result.value
    assert shelf.car_path("Invented day").with_name("Invented day.toml.kept-1").read_bytes() == there
    full.save()
    assert "kept as" not in full.result.value


def test_every_number_is_shown_with_its_origin_and_source(full):
    full.readings = full.readings.__class__("own", full.readings.typed, full.readings.chosen)
    full._show()
    for said in ("its own measurement", "common practice, no source", "measured", "typical", "example"):
        assert said in full.origins.value
    full.type("springs.front_rate", "")
    assert "front spring rate" in full.overall.value.partition("Still missing")[2]


def test_a_start_car_that_is_gone_is_said_and_the_rest_still_worked_out(full):
    file = examples.load_example("coupe")
    shelf.save_car("old", file.car, file.setup)
    other = Form()
    other.choose("start.from", "saved old")
    shelf.car_path("old").unlink()
    again = Form()
    assert "start car" in again.overall.value
    assert again.lists["start.from"].value == "saved old"
    assert "total" in again.words["corners"].value


def test_the_paper_says_where_it_went_or_why_not(full, monkeypatch):
    monkeypatch.setattr(paper, "pdf", lambda *_: b"%PDF")
    full.print(False)
    path = Path(re.search("<b>(.*)</b>", full.result.value)[1])
    assert (path.name, path.read_bytes()[:4]) == ("blank measuring form.pdf", b"%PDF")
    monkeypatch.setattr(paper, "pdf", lambda leaves, _: repr([leaf.texts for leaf in leaves]).encode())
    full.print(True)
    said = Path(re.search("<b>(.*)</b>", full.result.value)[1]).read_text()
    assert full.readings.typed["corners.front_left"] in said

    def fail(*_):
        raise OSError(13, "Permission denied")

    monkeypatch.setattr(os, "replace", fail)
    full.print(True)
    assert "Permission denied" in full.result.value


def test_a_fault_of_the_program_is_said_and_raised(full, monkeypatch):
    monkeypatch.setattr(measure, "car_from", lambda *_: 1 / 0)
    with pytest.raises(ZeroDivisionError):
        full.type("heights.wheelbase", "2451")
    assert "please report" in full.message.value


def test_the_first_answer_is_above_the_steps_and_moves_with_each_reading(empty):
    place = list(empty.box.children)
    assert place.index(empty.first) < place.index(empty.steps)
    assert "not yet" in empty.first.value
    for name, height in zip(CORNERS, ("655", "652", "628", "631"), strict=True):
        empty.type(f"heights.{name}", height)
    empty.type("heights.front_reference", "640")
    assert "not yet" in empty.first.value
    empty.type("heights.rear_reference", "640")
    one = empty.first.value
    assert "of 100 plausible cars" in one
    assert "reference ride height" not in empty.overall.value  # it was typed, hub to arch
    empty.type("stops.rear_left_tie", "0")
    assert "of 100 plausible cars" in empty.first.value != one


def test_a_saved_car_is_called_changed_once_a_reading_is(full):
    full.save()
    assert "Saved in" in full.result.value
    full.type("tyres.front_left", "2.3")
    assert "Saved in" not in full.result.value
    assert "The readings have changed since this car was saved: press <i>Save the car</i>" in full.result.value
    full.save()
    assert "have changed" not in full.result.value


def test_a_slip_stands_over_every_answer_of_the_saved_car_until_it_is_settled(full):
    below = Which(lambda file: widgets.HTML(file.car.name))
    assert "two cars" in below._over.value  # the form is open, its car is not saved yet
    full.type("heights.rear_left", str(100 + float(full.boxes["heights.rear_left"].value)))
    full.save()
    for said in (below._over.value, Which(lambda file: widgets.HTML())._over.value):
        assert "In question: rear left height is 81 mm off what it should be (200 mm)" in said
        assert "two cars" not in said
        assert "have changed" not in said
    answered = full.lists["heights.asked"]
    assert answered.layout.display == ""
    assert full.lists["camber.asked"].layout.display == "none"
    assert full.lists["camber.way"].layout.display != "none"  # no other list goes with it
    full.choose("heights.asked", SETTLED)
    assert (
        "Read again, and as typed: rear left height is 81 mm off what it should be (200 mm)<"
        in full.words["heights"].value
    )
    assert "a slip" not in full.first.value
    assert "press <i>Save the car</i>" in below._over.value
    full.save()
    assert below._over.value == ""
    full.type("heights.rear_left", str(1 + float(full.boxes["heights.rear_left"].value)))
    assert answered.value == OPEN  # another reading is another question
    assert "press <i>Save the car</i>" in below._over.value


def test_another_tabs_readings_are_said_to_be_newer_when_a_step_is_opened():
    one = Form()
    one.type("corners.front_left", "300")
    two = Form()
    one.steps.selected_index = 2
    assert "Another tab" not in one.message.value
    two.type("corners.front_left", "301")
    one.steps.selected_index = 3
    assert "Another tab has changed these readings: what is shown here is older." in one.message.value
    two.steps.selected_index = 3
    assert "Another tab" not in two.message.value


def test_a_name_that_cannot_be_stays_in_its_box_and_is_said_until_it_is_mended(full):
    full.name.value = "Otto's red"
    full.type("tyres.front_left", "2.3")
    assert full.name.value == "Otto's red"
    assert "Until you change it, this form stays Invented day." in full.message.value
    full.name.value = "Ottos red"
    assert full.readings.name == full.name.value == "Ottos red"
    assert "Until you change it" not in full.message.value


def test_what_is_missing_is_said_with_the_step_that_asks_for_it(full):
    read = {path: step for step, out in full.answer.steps.items() for path in (*out.numbers, *out.assumed)}
    assert len(read) > 30
    for path, step in read.items():
        assert path.rpartition(".")[2] in measure_parts.READ_AT[step], path
    form = Form()
    form.new()
    form.type("heights.wheelbase", "2480")
    told = [measure_parts.with_step(path) for path in form.answer.missing]
    assert "front track (step 8)" in told
    assert all(name in form.overall.value for name in ("front track (step 8)", "rear wheel-centre height (step 6)"))
    assert measure_parts.name_of("front.tyre.nominal_load") == "front tyre's nominal load"


def test_a_saved_car_is_shown_at_once_in_the_choosers_below(full, monkeypatch):
    below = [Which(lambda file: widgets.HTML(file.car.name)), Which(lambda file: widgets.HTML(file.car.name.upper()))]
    assert full.readings.name not in (below[0].file.car.name, below[1].file.car.name)
    full.save()
    for mass in ("1111", "1122"):
        full.type("corners.known_mass", mass)
        full.save()
        for chooser in below:
            assert chooser.file.car.name == full.readings.name
            assert chooser.file.text == shelf.load_car(full.readings.name).text
    full.rename("another")
    assert "stays as it is: save the car to have it under the new name too" in full.message.value
