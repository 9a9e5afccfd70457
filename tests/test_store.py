"""What is kept on the disk: two kernels at once, bad bytes, foreign files and names, and what a killed writer left."""

from __future__ import annotations

import os
import time
from dataclasses import replace
from pathlib import Path
from typing import Any

import ipywidgets as widgets
import pytest
from many_days import short_days
from matplotlib.figure import Figure
from undrawn import drawn, undrawn
from unpainted import made_once

from vdlib.car import carfile, examples, reading, shelf, store
from vdlib.checks import InputError
from vdlib.garage import kept as forms
from vdlib.garage.car_from import Readings
from vdlib.laps import notes
from vdlib.laps.columns import recall
from vdlib.laps.text import Look
from vdlib.panels import did_it_work, page, start, whatif
from vdlib.panels.logbox import LogBox
from vdlib.panels.which import Which, with_car
from vdlib.setup import saved
from vdlib.setup.candidate import Candidate

pytestmark = pytest.mark.unpainted

FILE = examples.load_example("hatch")


@pytest.fixture
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv(shelf.VARIABLE, str(tmp_path / "my-cars"))
    monkeypatch.chdir(tmp_path)
    return tmp_path / "my-cars"


@pytest.fixture(autouse=True)
def quick(monkeypatch: pytest.MonkeyPatch) -> None:
    """No picture is drawn, but where a test asks for it, and no long day is driven."""
    undrawn(monkeypatch)
    short_days(monkeypatch, visit=False)


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> did_it_work.DayDesk:
    """One panel on laps for tests that type into it; it saves in the folder of each."""
    with made_once(tmp_path_factory.mktemp("made")), pytest.MonkeyPatch.context() as patch:
        undrawn(patch)
        short_days(patch, visit=False)
        return did_it_work.DayDesk(FILE)


# ---- two kernels on one car ----------------------------------------------------------------------------------------


def test_laps_typed_in_two_kernels_are_both_kept(home: Path) -> None:
    one, two = did_it_work.DayDesk(FILE), did_it_work.DayDesk(FILE)
    one.typed.texts["before"].value = "1:32.45"
    two.typed.texts["before"].value = "1:40.00"
    assert "changed elsewhere meanwhile" in two.message.value
    (aside,) = home.glob("*.day.toml.kept-*")
    assert "1:32.45" in aside.read_text("utf-8")
    assert notes.kept(FILE).notes["typed.before"] == "1:40.00"
    two.typed.texts["before"].value = "1:40.00\n1:41.00"  # going on alone sets nothing more aside
    assert len(list(home.glob("*.day.toml.kept-*"))) == 1


def test_what_was_felt_in_two_kernels_is_both_kept(home: Path) -> None:
    one, two = (page.PageDesk(whatif.SharedWhatIf(FILE)) for _ in range(2))
    one.felt.value = "the rear came round"
    two.felt.value = "the nose ran wide"
    assert "changed elsewhere meanwhile" in two.note.value
    (aside,) = home.rglob("what was felt.txt.kept-*")
    assert aside.read_text("utf-8") == "the rear came round"
    assert saved.kept_felt(FILE) == "the nose ran wide"


def test_saving_the_same_text_again_sets_nothing_aside(home: Path) -> None:
    first = store.save(home / "a.toml", "x = 1\n", None)
    assert (first, store.save(home / "a.toml", "x = 1\n", None)) == ("", "")
    assert [p.name for p in home.iterdir()] == ["a.toml"]


# ---- long, odd and damaged -----------------------------------------------------------------------------------------


def test_notes_that_are_saved_are_read_again(home: Path) -> None:
    long = "1:32.45\n" * 5000  # 40,000 characters
    kept = notes.keep(FILE, {"typed.before": long})
    assert notes.kept(FILE).notes == {"typed.before": long}
    with pytest.raises(InputError, match=r"200,001 characters.*shorten it"):
        notes.keep(FILE, {"typed.before": "x" * 200_001}, kept.text)
    assert notes.kept(FILE).notes == {"typed.before": long}


@pytest.mark.parametrize("raw", [b"\xff\xfe\x00", b"", b"no such car", b"x" * 100_000, b"../blue"])
def test_a_bad_byte_in_the_mark_of_the_open_car_or_form_breaks_nothing(home: Path, raw: bytes) -> None:
    file = shelf.save_car("blue", FILE.car, FILE.setup)
    forms.save_form(Readings("blue"))
    for mark in (".open", ".form"):
        assert (home / mark).read_bytes() == b"blue"
        (home / mark).write_bytes(raw)
    assert shelf.opened() == ""
    assert shelf.current().car.name == examples.load_example(examples.FIRST).car.name
    assert forms.last() == "blue"
    assert file.car.mass == FILE.car.mass
    with_car(lambda file: widgets.HTML(file.car.name))
    start.choose()


@pytest.mark.parametrize("kind", ["file", "dangling link", "ring of links"])
def test_a_shelf_that_is_no_folder_is_said_and_the_workbooks_open(home: Path, kind: str) -> None:
    if kind == "file":
        home.write_text("not a folder")
    else:
        home.symlink_to(home.parent / "nowhere" if kind == "dangling link" else home)
    assert shelf.car_names() == forms.form_names() == saved.whatif_names(FILE) == ()
    assert shelf.opened() == forms.last() == ""
    with_car(lambda file: widgets.HTML(file.car.name))
    for act in (
        lambda: shelf.save_car("blue", FILE.car, FILE.setup),
        lambda: forms.save_form(Readings("blue")),
        lambda: saved.keep_felt(FILE, "loose"),
        lambda: saved.save_whatif(FILE, Candidate("a", {"front.height": 0.12})),
        lambda: notes.keep(FILE, {"typed.before": "1:30"}),
    ):
        with pytest.raises(InputError, match="my-cars"):
            act()
    made = did_it_work.DayDesk(FILE)
    made.typed.texts["before"].value = "1:32.45"
    assert "my-cars" in made.message.value


def test_a_folder_that_cannot_be_listed_holds_nothing(home: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    shelf.save_car("blue", FILE.car, FILE.setup)

    def closed(*_: Any) -> Any:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(store.os, "listdir", closed)
    assert shelf.car_names() == ()
    assert shelf.opened() == ""


DAMAGED = [
    "mass = " + "9" * 5000,
    "a = " + "[" * 3000 + "]" * 3000,
    'tyres = {front = ["road"]}',
    "tyres = 3",
    "load = [1, 2]",
    "load = 'x'",
    "setup = []",
    "[setup]\nfront = 3",
    "[setup.front]\nheight_mm = [1]",
    "name = 3",
    "a" + ".a" * 3000 + " = 1",
    "\x00",
]


@pytest.mark.parametrize("raw", DAMAGED)
def test_a_damaged_what_if_is_one_clear_message(home: Path, raw: str) -> None:
    path = saved.whatif_path(FILE, "odd")
    path.parent.mkdir(parents=True)
    path.write_text(raw, "utf-8")
    with pytest.raises(InputError):
        saved.load_whatif(FILE, "odd")
    assert path.read_text("utf-8") == raw  # it stays to be mended


@pytest.mark.parametrize("raw", [DAMAGED[4], *(pytest.param(raw, marks=pytest.mark.slow) for raw in DAMAGED)])
def test_the_panel_says_that_a_what_if_is_damaged(home: Path, raw: str) -> None:
    path = saved.whatif_path(FILE, "odd")
    path.parent.mkdir(parents=True)
    path.write_text(raw, "utf-8")
    desk = whatif.panel(FILE)
    desk.list.value = "odd"
    desk.open_button.click()
    assert "vd-alert" in desk.message.value
    assert path.read_text("utf-8") == raw


def test_no_what_if_takes_the_name_of_the_one_that_is_kept_on_its_own(home: Path) -> None:
    one = Candidate(saved.LEFT_OFF, {"front.height": 0.12})
    with pytest.raises(InputError, match="keeps what the sliders show"):
        saved.save_whatif(FILE, one, over=True)
    with pytest.raises(InputError, match="keeps what the sliders show"):
        saved.save_whatif(FILE, replace(one, name=saved.LEFT_OFF.upper()))
    assert saved.save_whatif(FILE, one, over=True, own=True).is_file()


@pytest.mark.parametrize(
    "raw",
    [
        '[{"columns": [1, "a"], "channels": {}}]',
        "9" * 5000,
        "[" * 5000,
        '[{"columns": ["a"], "channels": []}]',
        '{"columns": 3}',
        "\ufffe",
    ],
)
def test_damaged_remembered_columns_are_said_once_and_the_rest_goes_on(tmp_path: Path, raw: str) -> None:
    path = tmp_path / "log-columns.json"
    path.write_text(raw, "utf-8")
    found = Look(("a",), ("",), (False,), ",", ".", "utf-8", 1)
    with pytest.raises(InputError, match=r"log-columns\.json\.kept-1"):
        recall(found, path)
    assert recall(found, path) is None


@pytest.mark.parametrize(
    "path",
    ["~nosuchuser/x.csv", "a\0b.csv", "~nosuchuser/blue.toml", "a\0b.toml", "n" * 300 + ".csv", "9" * 5000 + ".toml"],
)
def test_a_path_that_cannot_be_is_one_clear_message(made: did_it_work.DayDesk, home: Path, path: str) -> None:
    if path.endswith("toml"):
        with pytest.raises(InputError, match="must name a file"):
            examples.open_car(path)
        return
    made.logs.paths["before"].value = path
    assert "must name a file" in made.logs.message.value
    again = LogBox(notes.kept(FILE).notes, lambda: None)  # and it opens again
    assert again.paths["before"].value.startswith(path[:1])
    again.read()
    assert "vd-alert" in again.message.value


SECRET = "hunter2-7f3a"


@pytest.mark.parametrize(
    "text",
    [
        f"{SECRET}\n",
        f"root:x:0:0:{SECRET}:/root\n",
        f"password = '{SECRET}'\n[database]\nuser = '{SECRET}'\n",
        f"{SECRET} = [",
        f"-----BEGIN KEY-----\n{SECRET}\n",
        f"\xff{SECRET}",
    ],
)
@pytest.mark.parametrize("kind", ["car", "log"])
def test_a_typed_path_shows_nothing_of_a_file_that_is_neither_car_nor_log(
    made: did_it_work.DayDesk, home: Path, tmp_path: Path, text: str, kind: str
) -> None:
    path = tmp_path / "other.txt"
    path.write_text(text, "latin-1")
    if kind == "car":
        chooser = Which(lambda file: widgets.HTML(file.car.name), path=str(path))
        shown = chooser.message.value
        assert "nothing of this one is shown" in shown
    else:
        made.logs.paths["before"].value = str(path)
        shown = made.logs.message.value
        assert "nothing of this file is shown" in shown
    assert SECRET not in shown


@pytest.mark.painted
@pytest.mark.parametrize(
    "name",
    [r"long $\left", *(pytest.param(n, marks=pytest.mark.slow) for n in (r"$\frac$", "$", "$x_{$ & y", "a_b^c"))],
)
def test_a_corner_may_have_any_name(made: did_it_work.DayDesk, home: Path, name: str) -> None:
    with drawn():
        every_name(made, name)


def every_name(made: did_it_work.DayDesk, name: str) -> None:
    made.typed.corners.value, made.typed.unit.value = name, "km/h"
    for key in ("before", "after"):
        made.typed.texts[key].value = "1:32.45 63\n1:32.80 64\n1:31.90 62"
    made.panel.set("laps_from", did_it_work.TYPED)
    for desk in (made, did_it_work.DayDesk(FILE)):  # it opens again too
        assert desk.typed.corners.value == name
        assert desk.panel.state["laps_from"] == did_it_work.TYPED
        assert not desk.panel.message
        assert bytes(desk.panel.image.value).startswith(b"\x89PNG")
    figure = Figure()
    figure.text(0, 0, name)
    figure.canvas.draw()


# ---- leftovers, and time -------------------------------------------------------------------------------------------


def test_what_killed_writers_left_is_cleared_and_nothing_else(home: Path) -> None:
    home.mkdir()
    old, young = home / ".blue.toml.0a1b2c3d.part", home / ".red.toml.0a1b2c3d.part"
    others = [home / name for name in ("notes.part", ".blue.toml.part", ".x.0a1b2c3d.parts")]
    for path in (old, young, *others):
        path.write_text("x")
        os.utime(path, (time.time() - 7200,) * 2)
    os.utime(young)
    shelf.save_car("blue", FILE.car, FILE.setup)
    assert not old.exists()
    assert young.exists()
    assert all(path.exists() for path in others)


def test_a_car_file_of_endless_lines_is_refused_at_once(tmp_path: Path) -> None:
    path = tmp_path / "empty.toml"
    path.write_text(carfile.render(FILE.car, FILE.setup) + "\n" * 900_000)
    start = time.process_time()
    with pytest.raises(InputError, match="at most 20,000 lines"):
        reading.read(path)
    assert time.process_time() - start < 2.0
    path.write_text(carfile.render(FILE.car, FILE.setup) + "\n" * 19_000)
    assert reading.read(path).car == FILE.car
