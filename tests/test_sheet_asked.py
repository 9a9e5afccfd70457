"""What the workshop sheet asks for: nothing smaller than can be set, and heights where the driver reads them."""

import re
from dataclasses import replace

import numpy as np
import pytest
from test_sheet import FELT, LATERAL, SPEED, WHEN, everything, row, sheet_of

from vdlib.car import examples, shelf
from vdlib.car.carfile import fields_of, read
from vdlib.car.keys import ENDS
from vdlib.car.known import Points
from vdlib.draw.page import fitted
from vdlib.garage import car_from, invented, kept
from vdlib.setup.candidate import Candidate, Load, baseline, leaves
from vdlib.setup.page import RIM, UNDOES, build, mark, toe_words
from vdlib.setup.tolerances import UNITS_OF, within_words, without_unsettable
from vdlib.setup.whatif import plain
from vdlib.units import from_si, to_si

# ---- what can be set ---------------------------------------------------------------------------------------------

TINY = {
    "front.height": 0.0009,
    "rear.toe": float(to_si(0.04, "deg")),
    "front.camber": float(to_si(-0.09, "deg")),
    "rear.pressure": 4e3,
    "caster": float(to_si(0.15, "deg")),
    "cross_weight": 0.002,
}
"""Setting → a change just below what the page says it can be set within."""
TOLD = {"height": "±1 mm", "toe": "±0.05°", "camber": "±0.1°", "pressure": "±0.05 bar", "caster": "±0.2°",
        "cross_weight": "±0.3 %"}  # fmt: skip


def moved(base, steps, loads=()):
    known = dict(leaves(base.setup))
    return Candidate("small", {path: float(known[path]) + step for path, step in steps.items()}, loads)


@pytest.mark.parametrize("name", examples.example_names())
def test_what_is_less_than_its_tolerance_is_left_as_now_and_said_so(name):
    steps = lambda base: TINY | {"front.spring": 0.04 * base.setup.front.spring}  # noqa: E731
    light = (Load("helmet", 0.4, 1.0, 0.0, 0.9),)
    sheet, base, *_ = sheet_of(name, lambda base: moved(base, steps(base), light))
    assert not any(one.changed for one in sheet.rows)
    assert {mark(one) for one in sheet.rows} == {"as now"}
    for path in steps(base):
        assert plain(path) in sheet.car
    assert "helmet (+0.4 kg)" in sheet.car
    assert "less than can be set" in sheet.car
    assert sheet.undoes == ()
    nothing, *_ = sheet_of(name, lambda base: Candidate("small"))
    assert sheet.says == nothing.says  # the numbers are those of what can be set
    assert "less than can be set" not in nothing.car
    able, left = without_unsettable(moved(base, steps(base), light), base)
    assert able.empty
    assert len(left) == len(steps(base)) + 1


@pytest.mark.parametrize("path", list(TINY))
def test_what_is_as_large_as_its_tolerance_is_asked_for(path):
    field = path.rpartition(".")[2]
    assert within_words(field) == TOLD[field]
    base = sheet_of("coupe")[1]
    size = float(re.search(r"[\d.]+", TOLD[field])[0])
    for way in (1, -1):
        step = way * float(to_si(size, UNITS_OF[field][0]))
        sheet, *_ = sheet_of("coupe", lambda base, step=step: moved(base, {path: step}))
        assert "less than can be set" not in sheet.car
        changed = [one for one in sheet.rows if one.changed]
        assert changed
        assert any(one.within.startswith(TOLD[field]) for one in changed)
        assert all(one.now != one.asked for one in changed)
        able, left = without_unsettable(moved(base, {path: step}), base)
        assert not left
        assert able.settings[path] == pytest.approx(float(dict(leaves(base.setup))[path]) + step)


def test_a_small_change_beside_a_large_one_is_alone_left_out():
    sheet, base, *_ = sheet_of("two-seater", lambda base: moved(base, {"rear.toe": 3e-4, "rear.bar": -2000.0}))
    only, *_ = sheet_of("two-seater", lambda base: moved(base, {"rear.bar": -2000.0}))
    assert "rear toe of each wheel (+0.017°)" in sheet.car
    assert sheet.rows == only.rows
    assert sheet.says == only.says
    assert UNDOES["toe"] not in sheet.undoes
    assert toe_words(float(base.setup.rear.toe), RIM) == row(sheet, "rear toe").asked


# ---- where heights are read --------------------------------------------------------------------------------------


def lowered(base):
    return moved(base, {"front.height": -0.010, "front.aligned_height": -0.010, "rear.height": 0.004,
                        "rear.aligned_height": 0.004})  # fmt: skip


def test_heights_at_the_drivers_own_points():
    file = examples.load_example("two-seater")
    base = baseline(file.car, file.setup)
    before, behind = [], (-0.15, 2.1)
    for points in (Points(), Points(behind)):
        before.append(build(file, base, lowered(base), SPEED, LATERAL, points=points, when=WHEN))
    without, sheet = before
    assert not [one for one in without.rows if "your" in one.setting]
    first, second = (row(sheet, f"your {end} point") for end in ("front", "rear"))
    assert "150 mm ahead of front axle line" in first.setting
    assert "2100 mm behind front axle line" in second.setting
    for one, x in zip((first, second), behind, strict=True):  # a straight line through the two axle lines' heights
        part = x / base.car.wheelbase
        now = (1 - part) * base.setup.front.height + part * base.setup.rear.height
        then = now + (1 - part) * -0.010 + part * 0.004
        assert one.now == f"{1000 * now:.0f} mm"
        assert one.asked == f"{1000 * then:.0f} mm"
    assert "the car file" in sheet.heights
    fitted(sheet)


def test_without_points_the_sheet_says_where_heights_are_meant_and_how_to_convert():
    file = examples.load_example("two-seater")
    base = baseline(file.car, file.setup)
    said = build(file, base, lowered(base), SPEED, LATERAL, when=WHEN).heights
    assert "From level ground up to the body" in said
    assert "the axle line is where the wheel centres are" in said
    rule = said.rpartition("change it there by ")[2].rstrip(".").replace("−", "-").replace("·", "*").replace(" mm", "")
    for x in (-300.0, 0.0, 1000.0, 2450.0):
        part = x / from_si(base.car.wheelbase, "mm")
        assert eval(rule, {"x": x}) == pytest.approx(-10 * (1 - part) + 4 * part)
    assert "No ride height is to change" in build(file, base, Candidate(), SPEED, LATERAL, when=WHEN).heights


@pytest.fixture
def measured(tmp_path, monkeypatch):
    """A car saved from the measuring form, with its form beside it."""
    monkeypatch.setenv(shelf.VARIABLE, str(tmp_path))
    readings = invented.invented_day(examples.load_example("two-seater"))
    kept.save_form(readings)
    return readings, car_from.save_measured_car(readings)


def test_points_are_those_of_the_measuring_form_that_saved_the_car(measured):
    readings, file = measured
    found = file.known.points
    assert found.behind == pytest.approx([float(readings.typed[f"heights.{end}_point"]) / 1000 for end in ENDS])
    sheet = build(file, baseline(file.car, file.setup), Candidate(), SPEED, LATERAL, when=WHEN)
    for end in ENDS:  # what the tape showed is what the sheet gives as now
        tape = [float(readings.typed[f"heights.{end}_{side}"]) for side in ("left", "right")]
        shown = float(row(sheet, f"your {end} point").now.removesuffix(" mm"))
        assert shown == pytest.approx(np.mean(tape), abs=0.5)


def test_points_go_with_the_car_file_wherever_it_is_sent(measured, tmp_path):
    _, file = measured
    for place, name in (("other", file.path.name), ("third", "renamed.toml")):
        sent = tmp_path / place / name
        sent.parent.mkdir()
        sent.write_bytes(file.path.read_bytes())
        assert read(sent).known.points == file.known.points is not None
    assert examples.load_example("coupe").known.points is None


def test_a_form_of_the_same_name_says_nothing_of_another_car(measured, tmp_path):
    _, file = measured
    stranger = examples.load_example("hatch")
    assert replace(stranger, path=file.path).known.points is None


def test_points_above_the_ride_height_line_are_shown_where_they_are(measured):
    _, file = measured
    base = baseline(file.car, file.setup)
    raised = replace(file, known=replace(file.known, points=replace(file.known.points, above=(0.3, 0.25))))
    for one, end, more in ((file, "front", 0), (raised, "front", 300), (raised, "rear", 250)):
        sheet = build(one, base, Candidate(), SPEED, LATERAL, when=WHEN)
        plain = build(file, base, Candidate(), SPEED, LATERAL, when=WHEN)
        now, then = (float(row(s, f"your {end} point").now.removesuffix(" mm")) for s in (plain, sheet))
        assert then - now == pytest.approx(more, abs=1)


# ---- what was not measured ---------------------------------------------------------------------------------------


def with_origin(name, **words):
    """An example car whose file says where its numbers come from: measured, but for those named."""
    file = examples.load_example(name)
    known = {entry.path: "measured" for entry in fields_of()}
    return replace(file, origin=known | {path.replace("__", "."): word for path, word in words.items()})


def test_what_nobody_read_is_called_so_and_a_part_is_asked_for_by_its_share():
    file = with_origin("coupe", setup__rear__bar="example", setup__front__toe="typical", setup__rear__toe="typical")
    base = baseline(file.car, file.setup)
    wish = moved(base, {"rear.bar": -0.2 * base.setup.rear.bar, "front.toe": 0.005, "front.pressure": 3e4})
    sheet = build(file, base, wish, SPEED, LATERAL, when=WHEN)
    bar = row(sheet, "rear anti-roll bar")
    assert (bar.now, bar.asked, bar.changed) == ("not measured", "−20 %", True)
    front, rear = (row(sheet, f"{end} toe, each wheel") for end in ENDS)
    assert front.now == f"{toe_words(float(base.setup.front.toe), RIM)} *"
    assert front.asked == toe_words(float(base.setup.front.toe) + 0.005, RIM)
    assert rear.now == f"{toe_words(float(base.setup.rear.toe), RIM)} *"
    assert "* in the table" in sheet.measured
    assert not rear.changed
    marked = {one.setting for one in sheet.rows if one.now == "not measured" or "*" in one.now}
    assert marked == {one.setting for one in (bar, front, rear)}
    first, second = (sheet.measured.index(name) for name in ("anti-roll bar", "toe of each wheel"))
    assert first < second  # an example car's number says least of this car
    told = build(with_origin("coupe"), base, wish, SPEED, LATERAL, when=WHEN)
    assert "not measured" not in str(told).lower()


def test_the_fullest_sheet_of_a_car_never_measured_fits_its_page():
    file = with_origin("coupe")
    file = replace(file, origin=dict.fromkeys(file.origin, "typical"))
    base = baseline(file.car, file.setup)
    fitted(build(file, base, everything(base), SPEED, LATERAL, "felt " * 200, "How sure: 93 %.", when=WHEN))
    sheet = build(file, base, moved(base, {"rear.bar": -2000.0}), SPEED, LATERAL, FELT, "How sure: 93 %.", when=WHEN)
    assert fitted(sheet).sheet.felt == FELT
