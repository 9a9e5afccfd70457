"""The panels of the workshop workbook: every control to both ends, what is typed is kept, the page is written."""

import json
import re
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from driving import drive, look
from matplotlib.colors import to_rgb

from vdlib.car import examples, shelf, store
from vdlib.car.known import Points
from vdlib.car.records import Moment
from vdlib.draw.style import SMALLEST, smallest_text
from vdlib.panels import base, nose_high, request, whatif, whatif_words
from vdlib.panels.onscreen import cleared
from vdlib.setup import saved as saved_whatifs
from vdlib.setup.candidate import Candidate, Load, baseline, version
from vdlib.trim.trim import trim
from vdlib.units import G, from_si, to_si

pytestmark = pytest.mark.unpainted

CARS = examples.example_names()
BOOK = (Path(__file__).parents[1] / "workbooks" / "09-before-the-workshop.ipynb").read_text(encoding="utf-8")
PROSE = " ".join(" ".join(cell["source"]) for cell in json.loads(BOOK)["cells"])


@pytest.fixture(autouse=True)
def shelf_of_its_own(tmp_path, monkeypatch):
    monkeypatch.setenv(shelf.VARIABLE, str(tmp_path / "cars"))
    cleared()


@pytest.mark.parametrize(
    ("name", "brief"),
    [
        (CARS[0], True),
        pytest.param(CARS[0], False, marks=pytest.mark.slow),
        *(pytest.param(name, True, marks=pytest.mark.slow) for name in CARS[1:]),
    ],
)
def test_whatif_panel_at_every_end(name, brief):
    desk = whatif.panel(examples.load_example(name))
    if name == CARS[0] and brief:  # walks move the rest
        visits = [look(desk.panel)]
        for change in ({"lateral": desk.panel.controls["lateral"].max}, {"front_bar": 0.0}):
            desk.panel.set_all(desk.panel.controls.first | change)
            visits.append(look(desk.panel))
    else:
        visits = drive(desk.panel, again=not brief, brief=brief)
    assert not [visit.message for visit in visits if visit.message]
    assert smallest_text(desk.panel.picture.figure) >= SMALLEST
    assert "still the car as it stands" in visits[0].words
    moved = [v for v in visits if v.state["front_bar"] != visits[0].state["front_bar"]]
    assert all("front anti-roll bar" in v.words for v in moved)
    past = [v for v in visits if v.result.ledger is None]
    assert past
    assert all("past the limit" in v.words for v in past)


def test_while_it_moves_a_what_if_is_rough_says_so_and_stands_beside_what_is_as_rough(clock):
    desk, whole = (whatif.panel(examples.load_example("low-two-seater")) for _ in range(2))
    panel = desk.panel
    for name, steps, times in (("speed", 10, 1), ("front_bar", 5, 2)):
        for _ in range(times):
            panel.controls[name].value += steps
            assert panel.words_html.value.startswith(f"<b>{base.ROUGH}"), name
            found = panel.result.found
            if name == "speed":  # nothing is changed yet, so nothing may differ
                for field in ("limit", "angle", "growth"):
                    here, tried = np.moveaxis(getattr(found, field), -2, 0)
                    np.testing.assert_allclose(tried, here, rtol=1e-9)
        clock.strike(base.STILL)
        whole.panel.set_all(panel.state)
        assert base.ROUGH not in panel.words_html.value
        assert panel.words_html.value == whole.panel.words_html.value
        assert panel.image.value == whole.panel.image.value
        near = found.limit - panel.result.found.limit
        assert np.abs(near[np.isfinite(near)]).max() < 0.03 * G


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
    assert desk.view.names.get_text().splitlines()[1:] == ["★ this what-if", "◀ softer rear"]
    drawn = [bar for bars in desk.view.columns for bar in bars if bar.get_visible()]
    widest = [bar.get_x() + bar.get_width() for bar in drawn]
    assert desk.view.loads.get_xlim()[1] > max(widest)
    desk.panel.set("rear_bar", 0.0 + desk.panel.state["rear_bar"] - 10)
    desk.save_button.click()
    assert "is taken by" in desk.message.value
    assert 'role="alert"' in desk.message.value
    desk.over.value = True
    desk.save_button.click()
    assert "Saved as" in desk.message.value
    for name in ("one", "two", "three"):
        saved_whatifs.save_whatif(file, replace(saved, name=name))
    desk._refill()
    desk.beside.value = ("one", "two", "three", "softer rear")
    assert "Shown beside: the first 3." in desk.message.value
    assert len(desk.view.names.get_text().splitlines()) == len(desk.panel.result.found.names) == 5
    desk.name.value = "../../etc"
    desk.save_button.click()
    assert "1 to 60 letters" in desk.message.value


@pytest.mark.analytic
def test_heights_are_told_where_the_owners_tape_reads_them():
    """Read over both hubs, the tape moves as the axle line does; away from them, along the line of the body."""
    file = examples.load_example("coupe")
    base = float(file.car.wheelbase)
    assert "your tape" not in whatif.panel(file).panel.words_html.value
    spot = Points((0.0, 0.75 * base), (0.230, 0.240), "hub centre to arch")
    owned = replace(file, known=replace(file.known, points=spot), text=f"{file.text}\n# owned")
    for made, front, rear in ((whatif.panel(owned).panel, "front_height", "rear_height"),
                              (nose_high.panel(owned), "front", "rear")):  # fmt: skip
        made.set_all({front: 150, rear: 130})
        at = 150 + 0.75 * (130 - 150) + 240  # three quarters of the way back
        told = f"(hub centre to arch) that is front 380 left, 380 right; rear {at:.0f} left, {at:.0f} right mm."
        assert told in made.words_html.value


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


def test_one_mark_for_each_version_in_picture_and_tables():
    """Diamond: counted from; star: changed; front and rear of a version share its mark and differ in filling."""
    desk, asked = whatif.panel(examples.load_example("two-seater")), request.panel(examples.load_example("two-seater"))
    signs = {"D": "◆", "*": "★", "<": "◀", ">": "▶", ".": "•"}
    for view in (desk.view, asked.view):
        for sign, curve, (front, rear) in zip(whatif_words.MARKS, view.curves, view.ends, strict=True):
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


def test_the_workbook_opens_with_the_question_and_ends_with_thinking():
    cells = json.loads(BOOK)["cells"]
    texts = ["".join(cell["source"]) for cell in cells]
    assert "?" in texts[0].splitlines()[0]
    assert "own.CASE_ASK, own.workshop)" in texts[-2]  # the answer by the numbers, and questions to think of
    assert "*Next:*" in texts[-1]
    assert "never under a car on a jack" in texts[0]
    code = [text for cell, text in zip(cells, texts, strict=True) if cell["cell_type"] == "code"]
    assert all(text.startswith("# ") and len(text.splitlines()) <= 3 for text in code)
    shown = " ".join(code)
    assert all(f"{name}.panel" in shown for name in ("what_is_out", "whatif", "request", "page"))
    assert "own.AS_LEFT" in shown
