"""The panels of the workshop workbook: every control to both ends, what is typed is kept, the page is written."""

import json
import re
from dataclasses import replace
from html import unescape
from pathlib import Path

import numpy as np
import pytest
from cars import FIRST_OR_SLOW
from driving import drive
from matplotlib.colors import to_rgb

from vdlib.answers.doubts import doubts_of
from vdlib.answers.spread import spread
from vdlib.car import examples, shelf, store
from vdlib.car.records import Moment
from vdlib.draw.style import SMALLEST, smallest_text
from vdlib.garage import car_from, invented
from vdlib.garage import kept as kept_forms
from vdlib.panels import base, helps, how_sure, request, whatif
from vdlib.panels import page as workshop_page
from vdlib.panels.helps import DIGITS
from vdlib.panels.onscreen import cleared
from vdlib.panels.request import AMOUNTS
from vdlib.setup import saved as saved_whatifs
from vdlib.setup.advice import GOALS, KINDS, Ask, levers
from vdlib.setup.candidate import Candidate, Load, baseline, put, version
from vdlib.setup.request import share_better
from vdlib.trim.trim import trim
from vdlib.units import G, from_si, to_si

CARS = examples.example_names()
BOOK = (Path(__file__).parents[1] / "workbooks" / "09-before-the-workshop.ipynb").read_text(encoding="utf-8")
PROSE = " ".join(" ".join(cell["source"]) for cell in json.loads(BOOK)["cells"])


@pytest.fixture(autouse=True)
def shelf_of_its_own(tmp_path, monkeypatch):
    monkeypatch.setenv(shelf.VARIABLE, str(tmp_path / "cars"))
    cleared()


@pytest.mark.parametrize("name", CARS)
def test_whatif_panel_at_every_end(name):
    desk = whatif.panel(examples.load_example(name))
    visits = drive(desk.panel, again=name == CARS[0], brief=name != CARS[0])
    assert not [visit.message for visit in visits if visit.message]
    assert smallest_text(desk.panel.picture.figure) >= SMALLEST
    assert "still the car as it stands" in visits[0].words
    moved = [v for v in visits if v.state["front_bar"] != visits[0].state["front_bar"]]
    assert all("front anti-roll bar" in v.words for v in moved)
    past = [v for v in visits if v.result.ledger is None]
    assert past
    assert all("past the limit" in v.words for v in past)


def test_what_the_sliders_show_is_there_again_after_the_kernel_ended(clock):
    file = examples.load_example("coupe")
    desk = whatif.panel(file)
    desk.panel.controls["speed"].value = 120
    clock.strike(base.STILL)
    assert saved_whatifs.LEFT_OFF not in saved_whatifs.whatif_names(file)  # nothing was changed yet
    desk.panel.controls["front_bar"].value += 25
    clock.strike(base.STILL)
    desk.panel.controls["rear_height"].value += 3
    clock.strike(base.STILL)
    kept = desk.candidate(desk.panel.state)
    cleared()
    again = whatif.panel(file)
    assert again.candidate(again.panel.state).empty  # it starts with the car as it stands
    assert saved_whatifs.LEFT_OFF in again.message.value
    again.open_button.click()
    assert again.candidate(again.panel.state).settings == pytest.approx(kept.settings)
    assert again.name.value == "what-if"


def test_a_full_disk_is_said_and_the_sliders_live_on(monkeypatch):
    desk = whatif.panel(examples.load_example("coupe"))
    desk.panel.set("front_bar", desk.panel.state["front_bar"] + 25)

    def full(*_):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(store, "save_whole", full)
    desk.keep()
    assert "No space left" in desk.message.value
    assert not desk.panel.message


def test_untouched_sliders_stand_for_the_exact_numbers():
    file = examples.load_example("two-seater")
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
    file = examples.load_example("coupe")
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
    file = examples.load_example("hatch")
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
    file = examples.load_example("coupe")
    base = baseline(file.car, file.setup)
    odd = Candidate(
        "odd",
        {"caster": base.setup.caster + 0.01, "front.toe": 0.0012345, "rear.spring": 4e5, "rear.aligned_height": 0.15},
        (Load("spare wheel", 17, 3.1, 0.01, 0.4), Load("helmet", 2, 1.0, 0.3, 0.5)),
        {"rear": "road"},
        "a note",
    )
    saved_whatifs.save_whatif(file, odd)
    desk = whatif.panel(file)
    desk.list.value = "odd"
    desk.open_button.click()
    assert not desk.panel.message
    back = desk.candidate(desk.panel.state)
    assert dict(back.settings) == pytest.approx(dict(odd.settings), rel=1e-9)
    assert (back.loads, back.tyres, back.note, back.name) == (odd.loads, odd.tyres, odd.note, "odd")
    (saved_whatifs.whatif_folder(file) / "broken.toml").write_text("[setup]\ncaster_deg = 99")
    desk._refill("broken")
    desk.open_button.click()
    assert "must be 0 to 15 deg" in desk.message.value
    assert dict(desk.candidate(desk.panel.state).settings) == pytest.approx(dict(odd.settings), rel=1e-9)


@pytest.mark.parametrize("name", FIRST_OR_SLOW)
def test_help_panel_at_every_end(name):
    desk = helps.panel(examples.load_example(name))
    visits = drive(desk.panel, again=False)
    assert not [visit.message for visit in visits if visit.message]
    assert smallest_text(desk.panel.picture.figure) >= SMALLEST
    assert {visit.state["goal"] for visit in visits} == set(helps.EVERY)
    for visit in visits:
        shown = visit.result
        against = [bool(bad) for bad in shown.against]
        assert against == sorted(against)  # what something speaks against comes last
        assert f"First back to the reference, {shown.reference}" in unescape(visit.words)
        best = next((h for h, bad in zip(shown.helps, against, strict=True) if not bad and h.end is not None), None)
        if best and np.isfinite(best.reach) and round(best.reach, DIGITS[visit.state["goal"]]) > 0:
            assert f"Most help from {shown.start}: {best.lever.words}" in visit.words
    wider = next(v for v in visits if v.state["height"] == 40)
    rooms = {one.lever.path: one.room for one in visits[0].result.helps}
    assert all(one.room >= rooms[one.lever.path] - 1e-12 for one in wider.result.helps)


def test_what_a_mechanic_would_not_do_is_marked_with_its_reason():
    desk = helps.panel(examples.load_example("low-two-seater"))
    shown = desk.panel.result
    told = {one.lever.path: (one.way, bad) for one, bad in zip(shown.helps, shown.against, strict=True)}
    for path, way, reason in (
        ("rear.toe", -1, "toward rear toe-out"),
        ("front.height", 1, "more nose-high"),
        ("rear.height", -1, "more nose-high"),
    ):
        if told[path][0] == way:
            assert told[path][1] == reason
        else:
            assert told[path][1] != reason
    words = unescape(desk.panel.words_html.value)
    assert all(f"(not advised: {bad})" in words for _, bad in told.values() if bad)
    if shown.now < 0 and all(shown.now + one.reach < 0 for one in shown.helps if one.end is not None):
        assert "No single setting brings the gap to zero." in words
    desk.panel.set("start", "reference")
    assert desk.panel.result.now == pytest.approx(shown.back, abs=1e-6)


@pytest.mark.parametrize(("goal", "unit", "digits"), [("gap", "g", 3), ("steering", "deg", 2), ("growth", "1/s", 2)])
def test_the_ranking_gives_units_and_no_digits_that_mean_nothing(goal, unit, digits):
    desk = helps.panel(examples.load_example("two-seater"))
    desk.panel.set("goal", goal)
    words = unescape(desk.panel.words_html.value)
    head, *rows = [re.findall(r"<t[hd][^>]*>(.*?)</t[hd]>", line) for line in re.findall(r"<tr>(.*?)</tr>", words)]
    assert [text for text in head if "gain" in text] == [f"its gain [{unit}]", f"gain from it [{unit}]"]
    assert all(text.endswith("]") for text in head if "limit" in text or "steering" in text)
    assert "degree" not in words
    found = {one.lever.words: one for one in desk.panel.result.helps}
    assert len(rows) == len(found)
    for named, usual, gain, room, reach, *_ in rows:
        one = found[named.partition(" (not advised")[0]]
        assert re.fullmatch(rf"[+−]?\d+\.\d{{{digits}}}", gain)
        assert float(gain.replace("−", "-")) == pytest.approx(one.gain, abs=0.5 * 10**-digits)
        if one.end is not None:
            assert float(reach.replace("−", "-")) == pytest.approx(one.reach, abs=0.5 * 10**-digits)
        for move in (usual, room):
            assert re.match(r"[\d.]+( mm| N/mm| clicks?| bar|°) \w|no ", move)
            assert len(re.sub(r"\D", "", move)) <= 3
    usual = {
        one.lever.field: row[1].split(" ")[0] for row in rows if (one := found[row[0].partition(" (not advised")[0]])
    }
    assert {usual["toe"], usual["camber"], usual["height"]} == {"0.05°", "0.25°", "5"}
    assert desk.panel.picture is not None
    assert f"[{unit}]" in desk.view.unit.get_text()


def test_directions_are_said_in_the_words_of_the_trade():
    base = baseline(*(lambda file: (file.car, file.setup))(examples.load_example("two-seater")))
    by = {lever.path: lever for lever in levers(base.car, base.setup)}
    told = lambda path, way, size: helps.move_words(by[path], way, size)  # noqa: E731
    assert told("front.camber", 1, to_si(0.412, "deg")) == "0.4° less negative"
    assert told("front.camber", -1, by["front.camber"].usual) == "0.25° more negative"
    assert told("rear.toe", -1, to_si(0.361, "deg")) == "0.36° toward toe-out"
    assert told("rear.bar", 1, by["rear.bar"].usual) == "1 click more"
    assert told("rear.bar", -1, 5 * by["rear.bar"].usual) == "5 clicks less"
    assert told("front.pressure", 1, 3e4) == "0.3 bar more"
    assert told("rear.spring", -1, 18.04e3) == "18 N/mm less"


def texts_in(widget):
    """Every text anywhere inside of what a panel shows."""
    yield str(getattr(widget, "value", ""))
    for inner in getattr(widget, "children", ()):
        yield from texts_in(inner)


@pytest.mark.parametrize("goal", list(AMOUNTS))
def test_a_step_of_better_by_is_explained(goal):
    desk = request.panel(examples.load_example("two-seater"))
    desk.panel.set_all({"request": "amount", "amount": 4.0, "goal": goal})
    size = f"{AMOUNTS[goal]:g}{helps.LABELS[goal]}"
    assert f"({4} × {size})" in desk.panel.words_html.value
    assert f"{size} of {GOALS[goal][0]}" in desk.panel.controls["amount"].tooltip
    assert any(f"{size} of <i>{GOALS[goal][0]}" in text for text in texts_in(desk.panel.show()))
    answer = desk.panel.result.answer
    assert answer.target - answer.start == pytest.approx(4 * AMOUNTS[goal])


def test_one_mark_for_each_version_in_picture_and_tables():
    """Diamond: counted from; star: changed; front and rear of a version share its mark and differ in filling."""
    desk, asked = whatif.panel(examples.load_example("two-seater")), request.panel(examples.load_example("two-seater"))
    signs = {"D": "◆", "*": "★", "<": "◀", ">": "▶", ".": "•"}
    for view in (desk.view, asked.view):
        for sign, curve, (front, rear) in zip(whatif.MARKS, view.curves, view.ends, strict=True):
            assert signs[curve.get_marker()] == sign
            assert front.get_marker() == rear.get_marker() == curve.get_marker()
            assert to_rgb(rear.get_markerfacecolor()) == (1, 1, 1)
            assert to_rgb(front.get_markerfacecolor()) == to_rgb(curve.get_color())
        assert "filled front, hollow rear" in view.limits.get_title(loc="left")
        assert any(re.fullmatch("◆ .+\n★ .+", text.get_text()) for text in view.balance.texts)
    for panel in (desk.panel, asked.panel):
        heads = re.findall(r'<th scope="col">(.*?)</th>', panel.words_html.value)
        assert [head[:1] for head in heads] == ["", "◆", "★"]
    assert "Diamond ◆" in PROSE
    assert "star ★" in PROSE
    assert "Filled marks are the front, hollow ones the rear" in PROSE


@pytest.mark.parametrize("name", FIRST_OR_SLOW)
def test_request_panel_at_every_end(name):
    desk = request.panel(examples.load_example(name))
    visits = drive(desk.panel, again=False)
    assert not [visit.message for visit in visits if visit.message]
    for visit in visits:
        answer = visit.result.answer
        if not np.isfinite(answer.start):
            assert "cannot be answered here" in visit.words
        elif answer.already:
            assert "Nothing to do" in visit.words
        elif answer.reached:
            assert "with the change described below it becomes" in visit.words
        elif visit.result.wanted:
            assert "No allowed change was found" in visit.words


def test_an_answer_becomes_the_whatif_and_its_sureness_is_told():
    file = examples.load_example("two-seater")
    first, desk = whatif.panel(file), request.panel(file)
    desk.panel.set_all({"request": "amount", "goal": "steering", "amount": 2.0})
    answer = desk.panel.result.answer
    assert answer.steps
    desk.sure_button.click()
    assert "of 10,000 plausible cars" in desk.message.value
    desk.take_button.click()
    taken = first.candidate(first.panel.state)
    assert first.name.value == "a calmer rear throttle closed"
    assert "To keep it, press Save it" in desk.message.value
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


def test_the_page_is_sure_only_of_what_can_be_set():
    file = examples.load_example("two-seater")
    first = whatif.panel(file)
    desk = workshop_page.panel(file)
    desk.source.value = workshop_page.ABOVE
    first.panel.set("rear_toe", round(first.panel.state["rear_toe"] + 0.03, 2))
    back = dict(desk.make().back)
    assert "rear toe" in back["Left as now, being less than can be set"][0]
    assert "Nothing is asked for" in back["How sure"][0]
    first.panel.set("rear_bar", first.panel.state["rear_bar"] - 50)
    both = desk.make()
    first.panel.set("rear_toe", first.panel._start["rear_toe"])
    alone = desk.make()
    assert dict(both.back)["How sure"] == dict(alone.back)["How sure"]
    assert both.wheels == alone.wheels


def test_how_sure_takes_kinds_and_errors_from_the_measuring_form():
    day = invented.invented_day(examples.load_example("coupe")).with_choice("start.rear", "trailing arm")
    readings = replace(day, invented=False)
    kept_forms.save_form(readings)
    file = car_from.save_measured_car(readings)
    kinds, errors = how_sure.known_of(file)
    assert (kinds.rear, len(errors) > 10) == ("trailing arm", True)
    base = baseline(file.car, file.setup)
    softer = replace(base, setup=put(base.setup, "rear.toe", base.setup.rear.toe + 2e-3))
    share = share_better(file, kinds, base, softer, Ask(), 2000, errors=errors)
    assert f" {100 * share:.0f} % of 2,000" in request.sure_words(file, base, softer, Ask(), 2000)
    assert share != share_better(file, kinds, base, softer, Ask(), 2000)


@pytest.mark.parametrize("name", FIRST_OR_SLOW)
def test_the_page_is_written_and_says_where(name):
    file = examples.load_example(name)
    first = whatif.panel(file)
    first.panel.set_all({"rear_bar": first.panel.state["rear_bar"] - 20, "load_mass": -40.0})
    desk = workshop_page.panel(file)
    desk.source.value = workshop_page.ABOVE
    desk.felt.value = "The rear came round.\n" + "again and " * 200
    assert "Kept in" in desk.note.value
    assert "are cut there" in desk.note.value
    assert saved_whatifs.kept_felt(file) == desk.felt.value
    desk.write_button.click()
    folder = saved_whatifs.whatif_folder(file)
    assert str(folder) in desk.message.value
    pdf, html = folder / "page what-if.pdf", folder / "page what-if.html"
    assert pdf.read_bytes().startswith(b"%PDF")
    text = html.read_text(encoding="utf-8")
    for words in ("The rear came round.", "plausible cars", "rear anti-roll bar −", "bolted to the"):
        assert words in text
    assert "Nm/deg" not in text
    assert all(bytes(image.value).startswith(b"\x89PNG") for image in desk.images)
    again = workshop_page.panel(file)
    assert again.felt.value == desk.felt.value


def test_an_untouched_page_asks_to_go_back_to_the_reference():
    file = examples.load_example("low-two-seater")
    desk = workshop_page.panel(file)
    desk.write_button.click()
    assert desk.page.asked == "back to the reference"
    assert saved_whatifs.whatif_names(file) == ("back to the reference",)  # for workbook 10


def test_what_a_written_page_asks_for_is_kept_as_a_whatif():
    file = examples.load_example("two-seater")
    first, desk = whatif.panel(file), workshop_page.panel(file)
    desk.source.value = workshop_page.ABOVE
    first.panel.set("rear_bar", first.panel.state["rear_bar"] - 20)
    first.name.value = "softer"
    first.panel.refresh()
    desk.write_button.click()
    assert "is saved as the what-if &#x27;softer&#x27;" in desk.message.value
    assert saved_whatifs.load_whatif(file, "softer").settings == first.bench.candidate.settings
    assert first.list.options == ("softer",)
    first.panel.set("rear_bar", first.panel.state["rear_bar"] - 20)
    desk.write_button.click()
    assert "is not saved as a what-if" in desk.message.value
    assert "is taken by a what-if with other settings" in desk.message.value
    assert saved_whatifs.load_whatif(file, "softer").settings != first.bench.candidate.settings


def test_balance_and_gap_that_part_ways_are_said_to_do_so():
    file = examples.load_example("coupe")
    desk = whatif.panel(file)
    kinds = set()
    for front, rear in ((0.3, -0.3), (0.3, 0.0), (0.0, -0.3), (-0.3, 0.3)):
        start = desk.panel._start
        desk.panel.set_all(
            {"front_pressure": start["front_pressure"] + front, "rear_pressure": start["rear_pressure"] + rear}
        )
        shown = desk.panel.result
        at = shown.found.phases.index(shown.phase)
        gap = float(shown.found.gap[1, at] - shown.found.gap[0, at])
        apart = float(shown.ledger.total) * gap < 0
        assert (whatif.APART in desk.panel.words_html.value) == apart
        kinds.add(apart)
    desk.panel.set_all({"front_pressure": start["front_pressure"], "rear_pressure": start["rear_pressure"]})
    desk.panel.set("rear_bar", desk.panel.state["rear_bar"] - 60)
    assert whatif.APART not in desk.panel.words_html.value
    assert True in kinds


def test_a_page_that_cannot_be_written_says_so():
    file = examples.load_example("hatch")
    whatif.panel(file)
    desk = workshop_page.panel(file)
    folder = saved_whatifs.whatif_folder(file)
    folder.parent.mkdir(parents=True, exist_ok=True)
    folder.write_text("in the way")
    desk.write_button.click()
    assert "File exists" in desk.message.value
    desk.felt.value = "words"
    assert "File exists" in desk.note.value
    assert desk.felt.value == "words"


def test_the_workbook_opens_with_the_question_and_ends_with_thinking():
    cells = json.loads(BOOK)["cells"]
    texts = ["".join(cell["source"]) for cell in cells]
    assert "?" in texts[0].splitlines()[0]
    assert "with_car(own.CASE_ASK, own.workshop)" in texts[-2]  # the answer by the numbers, and questions to think of
    assert "*Next:*" in texts[-1]
    assert "never under a car on a jack" in texts[0]
    code = [text for cell, text in zip(cells, texts, strict=True) if cell["cell_type"] == "code"]
    assert all(text.startswith("# ") and len(text.splitlines()) <= 3 for text in code)
    shown = " ".join(code)
    assert all(f"{name}.panel)" in shown for name in ("what_is_out", "whatif", "request", "page", "as_left"))


@pytest.fixture
def form_car():
    """A car saved by the form with its bars not measured: typical ones stand in the file."""
    day = invented.invented_day(examples.load_example("coupe"))
    bars = {f"springs.{end}_bar": "not measured" for end in ("front", "rear")}
    typed = {key: text for key, text in day.typed.items() if not key.startswith("springs.")}
    made = replace(day, name="bars not measured", typed=typed, chosen=day.chosen | bars, invented=False)
    kept_forms.save_form(made)
    return car_from.save_measured_car(made)


@pytest.mark.parametrize(
    ("path", "part"),
    [*(("front.bar", p) for p in (0.75, 0.5, 0.2, 0.0, 1.5)), ("rear.spring", 0.5), ("rear.spring", 0.2)],
)
def test_a_part_of_a_bar_or_spring_nobody_measured_still_has_its_page_and_its_sureness(form_car, path, part):
    desk = workshop_page.panel(form_car)
    desk.source.value = workshop_page.ABOVE
    bench = desk.bench
    end, _, field = path.partition(".")
    now = float(getattr(getattr(bench.base.setup, end), field))
    bench.take(Candidate("less of it", {path: part * now}))
    sure = request.sure_words(bench.file, bench.base, bench.version, Ask(), 500)
    assert "plausible cars" in sure
    desk.write_button.click()
    assert "Written" in desk.message.value, desk.message.value


def test_an_unmeasured_bar_errs_by_the_same_part_whatever_is_left_of_it(form_car):
    base = baseline(form_car.car, form_car.setup)
    found = {}
    for part in (1.0, 0.5, 0.0):
        after = put(base.setup, "front.bar", part * float(base.setup.front.bar))
        kinds, errors = how_sure.known_of(form_car)
        doubts = [d for d in doubts_of(form_car, kinds, errors) if d.path == "setup.front.bar"]
        one = spread(base.car, base.setup, after, Moment(30.0, 6.0), doubts, 400)
        found[part] = one
    assert np.std(found[0.0].after) == pytest.approx(0, abs=1e-12)  # no bar is no bar in every one of them
    assert 0 < np.std(found[0.5].after) < np.std(found[1.0].after)
    np.testing.assert_allclose(found[0.0].before, found[1.0].before)


@pytest.mark.parametrize("ends", [("front",), ("front", "rear")])
def test_the_ranking_lives_without_bars(ends):
    desk = helps.panel(examples.load_example("coupe"))
    whole = len(desk.panel.result.helps)
    desk.bench.take(Candidate("no bars", {f"{end}.bar": 0.0 for end in ends}))
    desk.panel.set("start", "what-if")
    assert not desk.panel.message
    left = desk.panel.result.helps
    assert len(left) == whole - len(ends)
    shown = [text.get_text() for text in desk.view.labels if text.get_text()]
    assert shown == [one.lever.words for one in left]
    assert all(bar.get_width() == 0 for bar in desk.view.bars[len(left) :])
    desk.bench.take(Candidate("bars again"))
    desk.panel.refresh()
    assert len(desk.panel.result.helps) == whole
