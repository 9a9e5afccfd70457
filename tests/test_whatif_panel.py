"""The panels of the workshop workbook: every control to both ends, what is typed is kept, the page is written."""

import json
from pathlib import Path

import numpy as np
import pytest
from cars import FIRST_OR_SLOW

from vdlib import candidates, examples, shelf
from vdlib.advice import KINDS
from vdlib.candidate import Candidate, Load, baseline, version
from vdlib.car import Moment
from vdlib.draw.style import SMALLEST, smallest_text
from vdlib.panels import helps, request, sheet, whatif
from vdlib.panels.base import drive
from vdlib.panels.bench import Bench
from vdlib.trim import trim
from vdlib.units import G, from_si, to_si

CARS = examples.names()


@pytest.fixture(autouse=True)
def shelf_of_its_own(tmp_path, monkeypatch):
    monkeypatch.setenv(shelf.VARIABLE, str(tmp_path / "cars"))
    Bench._all.clear()


@pytest.mark.parametrize("name", CARS)
def test_whatif_panel_at_every_end(name):
    desk = whatif.panel(examples.load(name))
    visits = drive(desk.panel, again=name == CARS[0])
    assert not [visit.message for visit in visits if visit.message]
    assert smallest_text(desk.panel.picture.figure) >= SMALLEST
    assert "still the car as it stands" in visits[0].words
    moved = [v for v in visits if v.state["front_bar"] != visits[0].state["front_bar"]]
    assert all("front anti-roll bar" in v.words for v in moved)
    past = [v for v in visits if v.result.ledger is None]
    assert past
    assert all("past the limit" in v.words for v in past)


def test_untouched_sliders_stand_for_the_exact_numbers():
    file = examples.load("two-seater")
    desk = whatif.panel(file)
    assert desk.candidate(desk.panel.state).empty
    toe = desk.bench.base.setup.rear.toe
    assert from_si(toe, "deg") != pytest.approx(desk.panel.state["rear_toe"], abs=1e-4)  # so the case is a real one
    desk.panel.set("front_height", desk.panel.state["front_height"] - 4)
    changed = desk.candidate(desk.panel.state)
    assert set(changed.settings) == {"front.height", "front.aligned_height"}
    desk.panel.set("anew", False)
    assert set(desk.candidate(desk.panel.state).settings) == {"front.height"}


def test_the_picture_shows_what_the_solver_returned():
    file = examples.load("coupe")
    desk = whatif.panel(file)
    desk.panel.set_all({"rear_bar": desk.panel.state["rear_bar"] - 50, "load_mass": 40.0, "rear_tyre": "track"})
    found, view = desk.panel.result, desk.view
    there = version(desk.bench.candidate, baseline(file.car, file.setup))
    slow = trim(there.car, there.setup, Moment.in_phase("lift", to_si(110.0, "kmh"), 0.8 * G))
    np.testing.assert_allclose(view.curves[1].get_ydata()[1], np.degrees(slow.understeer_angle), atol=1e-6)
    heights = [bar.get_height() for bar in view.columns[1]]
    np.testing.assert_allclose(heights, (slow.load / G).ravel(), rtol=1e-6)
    for end in (0, 1):
        np.testing.assert_allclose(view.ends[1][end].get_ydata(), found.found.limit[end, 1] / G)
    shown = {label.get_text(): bar.get_width() for label, bar in zip(view.labels, view.parts, strict=True)}
    for cause, part in zip(found.ledger.causes, found.ledger.parts, strict=True):
        assert shown[cause] == pytest.approx(float(np.degrees(part)))
    assert shown["all together"] == pytest.approx(float(np.degrees(found.ledger.total)))
    assert len(view.curves[2].get_xdata()) == 0
    assert f"{there.car.mass:.0f} kg" in desk.panel.words_html.value


def test_saving_opening_and_showing_beside():
    file = examples.load("hatch")
    desk = whatif.panel(file)
    desk.panel.set_all({"rear_bar": desk.panel.state["rear_bar"] - 50, "load_mass": 20.0, "front_tyre": "track"})
    saved = desk.candidate(desk.panel.state)
    desk.name.value = "softer rear"
    desk.save_button.click()
    assert "Saved as" in desk.message.value
    kept = desk.panel.state
    desk.panel.reset()
    desk.list.value = "softer rear"
    desk.open_button.click()
    assert "is on the sliders" in desk.message.value
    assert desk.panel.state == kept
    opened = desk.candidate(desk.panel.state)
    assert dict(opened.settings) == pytest.approx(dict(saved.settings))
    assert (opened.loads, opened.tyres) == (saved.loads, saved.tyres)
    desk.panel.reset()
    desk.beside.value = ("softer rear",)
    assert desk.panel.result.found.names == ("as it stands", "this what-if", "softer rear")
    assert "softer rear" in desk.panel.words_html.value
    assert len(desk.view.curves[2].get_xdata()) == 4
    desk.panel.set("rear_bar", 0.0 + desk.panel.state["rear_bar"] - 10)
    desk.save_button.click()
    assert "is taken by" in desk.message.value
    assert 'role="alert"' in desk.message.value
    desk.over.value = True
    desk.save_button.click()
    assert "Saved as" in desk.message.value
    desk.name.value = "../../etc"
    desk.save_button.click()
    assert "1 to 60 letters" in desk.message.value


def test_what_no_slider_holds_is_kept():
    file = examples.load("coupe")
    base = baseline(file.car, file.setup)
    odd = Candidate(
        "odd",
        {"caster": base.setup.caster + 0.01, "front.toe": 0.0012345, "rear.spring": 4e5, "rear.aligned_height": 0.15},
        (Load("spare wheel", 17, 3.1, 0.01, 0.4), Load("helmet", 2, 1.0, 0.3, 0.5)),
        {"rear": "road"},
        "a note",
    )
    candidates.save(file, odd)
    desk = whatif.panel(file)
    desk.list.value = "odd"
    desk.open_button.click()
    assert not desk.panel.message
    back = desk.candidate(desk.panel.state)
    assert dict(back.settings) == pytest.approx(dict(odd.settings), rel=1e-9)
    assert (back.loads, back.tyres, back.note, back.name) == (odd.loads, odd.tyres, odd.note, "odd")
    (candidates.folder(file) / "broken.toml").write_text("[setup]\ncaster_deg = 99")
    desk._refill("broken")
    desk.open_button.click()
    assert "must be 0 to 15 deg" in desk.message.value
    assert dict(desk.candidate(desk.panel.state).settings) == pytest.approx(dict(odd.settings), rel=1e-9)


@pytest.mark.parametrize("name", FIRST_OR_SLOW)
def test_help_panel_at_every_end(name):
    desk = helps.panel(examples.load(name))
    visits = drive(desk.panel, again=False)
    assert not [visit.message for visit in visits if visit.message]
    assert smallest_text(desk.panel.picture.figure) >= SMALLEST
    assert {visit.state["goal"] for visit in visits} == {"gap", "steering", "growth"}
    for visit in visits:
        best = visit.result.helps[0]
        if best.end is not None and np.isfinite(best.reach) and best.reach > 0:
            assert f"Most help within the bounds: {best.lever.words}" in visit.words
    wider = next(v for v in visits if v.state["height"] == 40)
    rooms = {one.lever.path: one.room for one in visits[0].result.helps}
    assert all(one.room >= rooms[one.lever.path] - 1e-12 for one in wider.result.helps)


@pytest.mark.parametrize("name", FIRST_OR_SLOW)
def test_request_panel_at_every_end(name):
    desk = request.panel(examples.load(name))
    visits = drive(desk.panel, again=False)
    assert not [visit.message for visit in visits if visit.message]
    for visit in visits:
        answer = visit.result.answer
        if not np.isfinite(answer.start):
            assert "cannot be answered here" in visit.words
        elif answer.already:
            assert "It is so already" in visit.words
        elif answer.reached:
            assert "with the change below" in visit.words
        elif visit.result.wanted:
            assert "No allowed change was found" in visit.words


def test_an_answer_becomes_the_whatif_and_its_sureness_is_told():
    file = examples.load("two-seater")
    first, desk = whatif.panel(file), request.panel(file)
    desk.panel.set_all({"request": "amount", "goal": "steering", "amount": 2.0})
    answer = desk.panel.result.answer
    assert answer.steps
    desk.sure_button.click()
    assert "of 10,000 plausible cars" in desk.message.value
    desk.take_button.click()
    taken = first.candidate(first.panel.state)
    for path, step in answer.steps.items():
        now = dict(vars(getattr(first.bench.base.setup, path.split(".")[0])))[path.split(".")[1]]
        assert taken.settings[path] == pytest.approx(now + step)
    assert first.panel.result.found.angle[1, 1] == pytest.approx(answer.found.angle[1, 1], abs=1e-7)
    desk.panel.set("start", "what-if")
    assert desk.panel.result.answer.start == pytest.approx(answer.end, abs=1e-4)
    desk.panel.set_all({"start": "stands", **dict.fromkeys(KINDS, False)})
    assert "tick at least one kind" in desk.panel.words_html.value
    desk.sure_button.click()
    assert "nothing to be sure of" in desk.message.value


@pytest.mark.parametrize("name", FIRST_OR_SLOW)
def test_the_sheet_is_written_and_says_where(name):
    file = examples.load(name)
    first = whatif.panel(file)
    first.panel.set_all({"rear_bar": first.panel.state["rear_bar"] - 20, "load_mass": -40.0})
    desk = sheet.panel(file)
    desk.felt.value = "The rear came round.\n" + "again and " * 200
    assert "Kept in" in desk.note.value
    assert "are cut there" in desk.note.value
    assert candidates.kept_felt(file) == desk.felt.value
    desk.write_button.click()
    folder = candidates.folder(file)
    assert str(folder) in desk.message.value
    pdf, html = folder / "sheet what-if.pdf", folder / "sheet what-if.html"
    assert pdf.read_bytes().startswith(b"%PDF")
    text = html.read_text(encoding="utf-8")
    assert "The rear came round." in text
    assert "plausible cars" in text
    bar = first.bench.version.setup.rear.bar
    assert f"change: {from_si(bar, 'Nm_per_deg'):.0f} Nm/deg" in text
    assert bytes(desk.image.value).startswith(b"\x89PNG")
    for control in (desk.speed, desk.lateral, desk.rim):
        for value in (control.min, control.max):
            control.value = value
            desk.look_button.click()
            assert "The page as it will be printed" in desk.message.value, desk.message.value
    again = sheet.panel(file)
    assert again.felt.value == desk.felt.value


def test_a_sheet_that_cannot_be_written_says_so():
    file = examples.load("hatch")
    whatif.panel(file)
    desk = sheet.panel(file)
    folder = candidates.folder(file)
    folder.parent.mkdir(parents=True, exist_ok=True)
    folder.write_text("in the way")
    desk.write_button.click()
    assert "cannot be saved" in desk.message.value
    desk.felt.value = "words"
    assert "cannot be saved" in desk.note.value
    assert desk.felt.value == "words"


def test_the_workbook_opens_with_the_question_and_ends_with_thinking():
    path = Path(__file__).parents[1] / "workbooks" / "09-before-the-workshop.ipynb"
    cells = json.loads(path.read_text(encoding="utf-8"))["cells"]
    texts = ["".join(cell["source"]) for cell in cells]
    assert "?" in texts[0].splitlines()[0]
    assert "Explore and think" in texts[-1]
    assert "never under a car on a jack" in texts[-1]
    code = [text for cell, text in zip(cells, texts, strict=True) if cell["cell_type"] == "code"]
    assert all(text.startswith("# ") and len(text.splitlines()) <= 3 for text in code)
    shown = " ".join(code)
    assert all(f"with_car({name}.panel)" in shown for name in ("whatif", "helps", "request", "sheet"))
