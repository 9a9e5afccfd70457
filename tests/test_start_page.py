"""The start page: the steps of the job follow the cars folder, the next one is one button, the place is kept."""

import re
import shutil
from pathlib import Path

import pytest

import vdlib.setup.as_left as as_left_room
from vdlib.answers.edge import By, Edge
from vdlib.car import examples, shelf
from vdlib.door import course, job, place
from vdlib.laps import notes
from vdlib.panels import as_left, start
from vdlib.setup import saved
from vdlib.setup.candidate import Candidate
from vdlib.setup.driven import OwnCorner
from vdlib.setup.promised import Promise

CARS = Path(examples.__file__).parents[1] / "cars"


@pytest.fixture
def cars(tmp_path, monkeypatch):
    monkeypatch.setenv(shelf.VARIABLE, str(tmp_path / "my-cars"))
    return tmp_path / "my-cars"


@pytest.fixture
def blue(cars, monkeypatch):
    known = Promise(OwnCorner(turn="left"), "left", (Edge(20.0, By.SLIDE), Edge(21.0, By.SLIDE)), ("0.7 g", "0.8 g"))
    monkeypatch.setattr(as_left_room, "promise", lambda *_: known)  # nobody asks what a visit promised
    cars.mkdir()
    shutil.copy(CARS / "hatch.toml", cars / "blue.toml")
    shelf.make_open("blue")
    return cars / "blue.toml"


def state():
    found = job.steps(job.open_car())
    coming = job.next_step(found)
    return [step.done for step in found], coming and coming.name


def test_without_a_car_the_first_step_is_to_see_it(cars):
    assert state() == ([False] * 9, "See what happened")
    place.note(course.FIRST)
    assert state() == ([True] + [False] * 8, "Put your car in")


def test_the_steps_are_the_same_ones_with_a_car_and_without(blue):
    assert [one.name for one in job.steps(None)] == [one.name for one in job.steps(job.open_car())]


def test_each_step_is_done_by_what_is_on_the_disk(blue):
    assert state() == ([True, True] + [False] * 7, "Have it looked over")
    job.note_looked_over(job.open_car(), True)
    assert state()[1] == "Measure it"
    text = blue.read_text()
    assert "[origin]" not in text
    blue.write_text(text + '\n[origin]\n"setup.front.height" = "measured"\n')
    assert state()[1] == "Measure it"  # one end is not enough
    blue.write_text(text + '\n[origin]\n"setup.front.height" = "measured"\n"setup.rear.height" = "measured"\n')
    assert state()[1] == "Give the figures it should have"
    assert job.measured(job.open_car())[0] == 2
    book = '[book]\nsource = "an invented handbook"\nheights_at = "axle lines"\n'
    blue.write_text(f"{blue.read_text()}\n{book}front.height_mm = 140\nrear.height_mm = 140\n")
    assert state()[1] == "Try what-ifs"
    saved.save_whatif(job.open_car(), Candidate(name=saved.BACK))  # as the page does: no what-if was tried
    assert state()[1] == "Try what-ifs"
    saved.save_whatif(job.open_car(), Candidate(name="tail up"))
    assert state()[1] == "Write the page for the workshop"
    (saved.whatif_folder(job.open_car()) / "workshop page.pdf").write_bytes(b"%PDF")
    assert state()[1] == "Type in what the workshop left"
    desk = as_left.panel(job.open_car())
    desk.boxes["camber.rear_left"].value = "-1.5"
    assert "1 figures typed" in job.steps(job.open_car())[-2].state
    desk.save_button.click()
    assert job.open_car().path.stem == "blue - as left"
    assert state()[1] == "Compare laps before and after"  # what was asked of the car before the visit still counts
    notes.keep(job.open_car(), {"typed.before": "61.2"})
    assert job.steps(job.open_car())[-1].state == "before: in; after: missing"
    notes.keep(job.open_car(), {"typed.before": "61.2", "typed.after": "60.9"})
    assert state() == ([True] * 9, None)
    assert "All steps are done" in start.job_words(job.steps(job.open_car()))
    shelf.make_open("blue")  # the same visit, seen from the car as it was before
    assert state() == ([True] * 9, None)
    assert job.steps(job.open_car())[-2].state == "done: saved as blue - as left"


def test_the_next_step_is_one_button(blue):
    html = start.job_words(job.steps(None))
    assert re.findall(r"class='vd-go' href=\"([^\"]+)\"", html) == [course.FIRST.file]
    assert html.count("vd-next") == 1


def test_looked_over_is_ticked_and_taken_back(blue):
    box = start.choose()
    tick = box.children[1].children[1]
    assert not tick.disabled
    assert not tick.value
    tick.value = True
    assert job.looked_over(job.open_car())
    assert start.choose().children[1].children[1].value
    tick.value = False
    assert not job.looked_over(job.open_car())


def test_what_was_looked_over_before_the_visit_is_ticked_after_it(blue, cars):
    job.note_looked_over(job.open_car(), True)
    shutil.copy(blue, cars / "blue - as left.toml")
    shelf.make_open("blue - as left")
    tick = start.choose().children[1].children[1]
    assert tick.value
    assert job.steps(job.open_car())[2].done
    tick.value = False
    assert not job.steps(job.open_car())[2].done
    assert not start.choose().children[1].children[1].value


def test_another_car_brings_its_own_steps(blue, cars):
    shutil.copy(blue, cars / "red.toml")
    job.note_looked_over(job.open_car(), True)
    box = start.choose()
    pick, tick = box.children[1].children
    pick.value = "red"
    assert shelf.opened() == "red"
    assert not tick.value
    pick.value = "blue"
    assert tick.value
    pick.value = ""
    assert tick.disabled
    assert job.open_car() is None


def test_a_car_file_that_cannot_be_read_leaves_a_page_that_says_so(blue):
    box = start.choose()
    blue.write_text("nonsense = [")
    pick = box.children[1].children[0]
    pick.value = ""
    pick.value = "blue"
    assert 'role="alert"' in box.children[2].value
    assert "vd-go" in box.children[3].children[0].value
    assert 'role="alert"' in start.choose().children[2].value


def test_the_place_is_kept_and_shown(cars):
    assert place.opened() == ()
    for page in (course.COURSE[0], course.COURSE[1], course.WORDS, course.COURSE[0]):
        place.note(page)
    assert place.opened() == (course.COURSE[1], course.COURSE[0])
    html = start.course_words(place.opened())
    assert html.count("you were here") == 1
    assert html.count("✓") == 1
    for page in course.PAGES[1:]:
        assert f'href="{page.file}"' in html


@pytest.mark.parametrize("text", [b"\xff\xfe", b"none.ipynb\n../../x\n", b"x" * 100_000])
def test_a_damaged_note_of_the_place_costs_the_place_only(cars, text):
    cars.mkdir()
    (cars / place.NAME).write_bytes(text)
    assert place.opened() == ()
    place.note(course.FIRST)
    assert place.opened() == (course.FIRST,)
