"""What-ifs saved beside their car: opened again as they were, and refused in words where they cannot be."""

from dataclasses import replace
from functools import partial

import pytest
from test_whatif import some

from vdlib.car import examples, shelf
from vdlib.checks import InputError
from vdlib.garage import kept
from vdlib.setup import saved
from vdlib.setup.candidate import (
    Candidate,
    baseline,
)
from vdlib.setup.page import back_to_reference_of

CARS = examples.example_names()


@pytest.fixture(scope="module")
def files():
    return {name: examples.load_example(name) for name in CARS}


@pytest.fixture
def own(tmp_path, monkeypatch):
    monkeypatch.setenv(shelf.VARIABLE, str(tmp_path))
    file = examples.load_example("coupe")
    return shelf.save_car("blue one", file.car, file.setup, {}, file.text)


def test_candidates_are_saved_and_opened_beside_the_car(own):
    base = baseline(own.car, own.setup)
    wanted = some(base)
    where = saved.save_whatif(own, wanted)
    assert where.parent == own.path.parent / "blue one - what-ifs"
    back = saved.load_whatif(own, "some")
    assert dict(back.settings) == pytest.approx(dict(wanted.settings), rel=1e-12)
    assert (back.loads, back.tyres, back.note, back.name) == (wanted.loads, wanted.tyres, wanted.note, "some")
    assert saved.whatif_names(own) == ("some",)
    assert shelf.car_names() == ("blue one",)  # a what-if is no car
    saved.save_whatif(own, wanted)
    with pytest.raises(InputError, match="is taken by a what-if with other settings"):
        saved.save_whatif(own, replace(wanted, loads=()))
    assert saved.load_whatif(own, "some").loads == wanted.loads
    saved.save_whatif(own, replace(wanted, loads=()), over=True)
    assert saved.load_whatif(own, "some").loads == ()
    assert not list(where.parent.glob(".*part"))


def test_left_and_right_asked_for_are_saved_too(own):
    story = examples.load_example("low-two-seater")  # whose rear wheels do not point alike
    wanted = back_to_reference_of(story)
    assert any(path.endswith("toe_difference") for path in wanted.settings)
    saved.save_whatif(own, wanted)
    assert dict(saved.load_whatif(own, wanted.name).settings) == pytest.approx(dict(wanted.settings), abs=1e-7)


def test_what_was_typed_is_kept(own):
    assert saved.kept_felt(own) == ""
    words = "the rear came round, in the long right\nthen “again”"
    assert saved.keep_felt(own, words)[0].read_text(encoding="utf-8") == words
    assert saved.kept_felt(own) == words


@pytest.mark.parametrize(
    ("text", "fault"),
    [
        ("name = ", "must be TOML"),
        ("[setup.front]\nheigth_mm = 120", "did you mean setup.front.height_mm"),
        ("[setup.front]\nheight_mm = 1200", "must be 20 to 500 mm"),
        ("[setup.front]\nheight_mm = '120'", "give one number"),
        ("[setup.front]\nheight_mm = nan", "must be 20 to 500 mm"),
        ("setup = 3", "must be a table"),
        ("[tyres]\nfront = 'slick'", "the kinds are road"),
        ("[[load]]\nmass_kg = 3", "needs behind_front_mm"),
        ("load = 4", "needs mass_kg"),
        ("colour = 'red'", "colour is an unknown key"),
        ("note = 4", "must be text"),
    ],
)
def test_bad_files_are_refused_in_words(own, text, fault):
    target = saved.whatif_path(own, "bad")
    target.parent.mkdir(parents=True)
    target.write_text(text)
    with pytest.raises(InputError, match=fault):
        saved.load_whatif(own, "bad")


def test_bad_names_and_places_are_refused(own, tmp_path):
    with pytest.raises(InputError, match="1 to 60 letters"):
        saved.save_whatif(own, Candidate("../x"))
    with pytest.raises(InputError, match="is not saved here"):
        saved.load_whatif(own, "not there")
    saved.whatif_folder(own).write_text("a file where the folder should be")
    with pytest.raises(InputError, match="nothing can be saved there"):
        saved.save_whatif(own, Candidate("x"))
    assert saved.whatif_names(own) == ()


@pytest.mark.parametrize("name", ["v1.2", ".hidden", "a/b", "", " ", "x" * 61, "trailing-", "con:1"])
def test_a_name_is_refused_everywhere_the_same(files, name):
    asked = (shelf.car_path, kept.form_path, partial(saved.whatif_path, files["coupe"]))
    for path_of in asked:
        with pytest.raises(InputError, match="name must be 1 to 60 letters, digits, spaces, dashes or underscores"):
            path_of(name)
