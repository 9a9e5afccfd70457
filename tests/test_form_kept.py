"""What is kept of the form: readings on the disk and the car on the shelf, nothing lost."""

import os
from dataclasses import replace

import pytest
import tomlkit
from hypothesis import given, settings
from hypothesis import strategies as st

from vdlib.car import examples, shelf, store
from vdlib.car.carfile import parse
from vdlib.checks import InputError
from vdlib.garage import kept as kept_forms
from vdlib.garage.car_from import base_of, car_from, save_measured_car, starts
from vdlib.garage.form_fields import CHOICES, FIELDS
from vdlib.garage.invented import invented_day
from vdlib.garage.typed import Readings


@pytest.fixture(autouse=True)
def cars(tmp_path, monkeypatch):
    monkeypatch.setenv(shelf.VARIABLE, str(tmp_path / "my-cars"))
    return tmp_path / "my-cars"


def day(name="two-seater", seed=None, **typed):
    readings = invented_day(examples.load_example(name), seed)
    for key, text in typed.items():
        readings = readings.with_typed(key.replace("__", "."), text)
    return readings


def worked(readings):
    return car_from(readings, base_of(readings))


@settings(max_examples=25, deadline=None)
@given(st.dictionaries(st.sampled_from(sorted(FIELDS)), st.text(st.characters(exclude_categories=["C"]), max_size=30)))
def test_any_text_comes_back_from_the_disk(tmp_path_factory, typed):
    os.environ[shelf.VARIABLE] = str(tmp_path_factory.mktemp("any"))
    readings = Readings("blue car", {k: typed[k] for k in FIELDS if typed.get(k, "").strip()}, {"start.mass": "lb"})
    saved = kept_forms.save_form(readings)
    found = kept_forms.load_form("blue car")
    assert found == (readings, saved.text, "")
    assert kept_forms.last() == "blue car"


ANY = st.characters(exclude_categories=["Cs"])  # what can be written; by its codec the same takes seconds to list


def forms(most):
    known = (st.dictionaries(st.sampled_from(sorted(k)), st.text(ANY), max_size=most) for k in (CHOICES, FIELDS))
    return given(st.text(ANY, max_size=20), st.booleans(), *known)


@settings(max_examples=25, deadline=None)
@forms(4)
def test_any_text_is_written_as_a_library_would_write_it(name, invented, chosen, typed):
    as_a_library_would(name, invented, chosen, typed)


@pytest.mark.slow
@settings(max_examples=120, deadline=None)
@forms(8)
def test_much_text_is_written_as_a_library_would_write_it(name, invented, chosen, typed):
    as_a_library_would(name, invented, chosen, typed)


def as_a_library_would(name, invented, chosen, typed):
    name = store.writable(name)
    doc = tomlkit.document()
    for line in kept_forms._HEAD.splitlines():
        doc.add(tomlkit.comment(line))
    doc["form"] = {"name": name, "invented": invented}
    for title, held in (("chosen", chosen), ("typed", typed)):
        for key, text in held.items():
            step, _, rest = key.partition(".")
            doc.setdefault(title, tomlkit.table()).setdefault(step, tomlkit.table())[rest] = store.writable(text)
    assert kept_forms.text_of(Readings(name, typed, chosen, invented)) == tomlkit.dumps(doc)


@pytest.mark.parametrize(
    ("raw", "said"),
    [
        (b"[typed\n", "not the TOML text of a form"),
        (b"\xff\xfe", "not the TOML text of a form"),
        (b"[typed.corners]\nfront_left = '300'\nelbow = '3'\n", "typed.corners.elbow is not of this form"),
        (b"[chosen.start]\nmass = 'stone'\n[typed.corners]\nfront_left = 300\n", "cannot be 'stone'"),
        (b"x" * 1_300_000, "larger than"),
    ],
)
def test_a_broken_file_is_kept_aside_and_said(cars, raw, said):
    path = kept_forms.form_path("blue")
    path.parent.mkdir()
    path.write_bytes(raw)
    found = kept_forms.load_form("blue")
    assert said in found.said
    kept = cars / "blue.readings.toml.kept-1"
    assert kept.name in found.said
    assert kept.read_bytes() == raw
    assert found.readings.typed.get("corners.front_left", "300") == "300"
    assert bool(found.readings.typed) == (b"front_left" in raw)
    assert kept_forms.load_form("blue") == (found.readings, found.text, "")


def test_an_interrupted_save_leaves_the_former_file(cars, monkeypatch):
    first = kept_forms.save_form(Readings("blue", {"corners.front_left": "300"}))

    def fail(*_):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "replace", fail)
    with pytest.raises(InputError, match=r"No space left.*what is typed stays"):
        kept_forms.save_form(first.readings.with_typed("corners.front_left", "301"), first.text)
    monkeypatch.undo()
    monkeypatch.setenv(shelf.VARIABLE, str(cars))
    assert kept_forms.load_form("blue") == first
    assert [p.name for p in cars.iterdir() if p.suffix == ".part"] == []


def test_a_file_changed_elsewhere_is_kept(cars):
    first = kept_forms.save_form(Readings("blue", {"corners.front_left": "300"}))
    other = kept_forms.save_form(first.readings.with_typed("corners.front_left", "299"), first.text)
    mine = kept_forms.save_form(first.readings.with_typed("corners.front_left", "301"), first.text)
    assert "changed elsewhere" in mine.said
    assert "give it the name blue.readings.toml" in mine.said
    assert (cars / "blue.readings.toml.kept-1").read_text() == other.text


def test_forms_are_renamed_and_never_lost():
    one = kept_forms.save_form(Readings("blue", {"corners.front_left": "300"}))
    kept_forms.save_form(Readings("red"))
    with pytest.raises(InputError, match="has a form already"):
        kept_forms.rename(one.readings, "red", one.text)
    found = kept_forms.rename(one.readings, "green", one.text)
    assert kept_forms.form_names() == ("green", "red")
    assert kept_forms.load_form("green").readings == found.readings
    for bad in ("a/b", "", "x.readings"):
        with pytest.raises(InputError, match="the car's name"):
            kept_forms.form_path(bad)
    assert kept_forms.free_name("red") == "red 2"


def test_the_saved_car_has_its_origins_and_opens_in_every_workbook():
    readings = replace(day(seed=1), name="blue", invented=False)
    saved = save_measured_car(readings)
    assert shelf.opened() == "blue"
    assert shelf.current().car == saved.car
    assert saved.origin["car.mass"] == "measured"
    assert saved.origin["front.roll_centre"] == "typical"
    assert saved.car.drive_front == 0
    assert "saved blue" in starts()
    again = save_measured_car(readings.with_choice("start.from", "saved blue"))
    assert again.car.mass == pytest.approx(saved.car.mass)


def test_an_invented_day_is_never_called_measured():
    saved = save_measured_car(day(seed=1))
    assert "measured" not in saved.origin.values()
    assert "invented" in saved.car.note


def test_a_refused_save_leaves_what_was_saved_before():
    readings = replace(day(seed=1), name="blue")
    path = shelf.car_path("blue")
    save_measured_car(readings)
    before = path.read_bytes()
    with pytest.raises(InputError, match=r"front left scale.*must be a number"):
        save_measured_car(readings.with_typed("corners.front_left", "lots"))
    assert path.read_bytes() == before
    with pytest.raises(InputError, match="holds no finished reading"):
        save_measured_car(Readings("empty"))


def test_a_car_that_is_not_from_the_form_is_not_replaced_unasked():
    file = examples.load_example("hatch")
    shelf.save_car("blue", file.car, file.setup)
    readings = replace(day(seed=1), name="blue")
    with pytest.raises(InputError, match="press again to replace it"):
        save_measured_car(readings)
    assert shelf.load_car("blue").car == file.car
    assert save_measured_car(readings, again=True).car.name == "blue"
    kept = shelf.car_path("blue").with_name("blue.toml.kept-1")
    assert parse(kept.read_text(encoding="utf-8")).car == file.car
    save_measured_car(readings, again=True)
    assert not kept.with_name("blue.toml.kept-2").exists()  # the form's own file is its to change


def test_a_start_car_that_is_gone_is_named():
    with pytest.raises(InputError, match="no such file"):
        base_of(Readings("blue", chosen={"start.from": "saved gone"}))
