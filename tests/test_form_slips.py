"""What people type into the form: wheel by wheel, in their own units; and the slips that are asked about."""

import re
from dataclasses import replace

import numpy as np
import pytest
from undrawn import undrawn

from vdlib.car import shelf
from vdlib.car.keys import CORNERS
from vdlib.car.reference import reference_of
from vdlib.car.typical import fill
from vdlib.garage.car_from import base_of, car_from, kinds_of, save_measured_car
from vdlib.garage.form import ARCH, BEFORE, HUB, TOE_UNITS, WAYS
from vdlib.garage.form_fields import FIELDS
from vdlib.garage.four_wheels import typed_rows, uneven
from vdlib.garage.typed import Readings, label_of, numbers, with_unit
from vdlib.garage.wheels import bounce
from vdlib.garage.whole_car import RISE, at_warmth
from vdlib.units import from_si, to_si

START = {"start.from": "example two-seater"}
READY = {"floor.driver": "in the seat", "corners.bars": "unhooked"}
MM, DEG, MINUTES = TOE_UNITS


@pytest.fixture(autouse=True)
def cars(tmp_path, monkeypatch):
    monkeypatch.setenv(shelf.VARIABLE, str(tmp_path / "my-cars"))


def form(typed, **chosen):
    return Readings("a car", typed, START | READY | {k.replace("__", "."): v for k, v in chosen.items()})


def worked(readings):
    return car_from(readings, base_of(readings))


def asked(readings, step):
    return "\n".join(map(str, worked(readings).steps[step].questions))


def four(step, values, ending=""):
    return {f"{step}.{name}{ending}": str(v) for name, v in zip(CORNERS, values, strict=True)}


ARCHES = four("heights", (655, 652, 628, 631)) | {"heights.front_reference": "640", "heights.rear_reference": "640"}
SCALES = four("corners", (302, 288, 271, 278))


# ---- what is typed becomes the car, wheel by wheel, and comes back -----------------------------------------------


@pytest.mark.parametrize("way", [HUB, ARCH])
def test_arch_heights_are_taken_wheel_by_wheel(way):
    file = worked(form(ARCHES, heights__way=way)).file
    rises = [
        [from_si(float(v), "mm") - from_si(float(axle.reference_height), "mm") for v in own.wheels("height")]
        for own, axle in ((file.setup.front, file.car.front), (file.setup.rear, file.car.rear))
    ]
    np.testing.assert_allclose(rises, [[15, 12], [-12, -9]], atol=1e-3)
    spot = file.known.points
    assert spot.what == way
    for i, own in enumerate((file.setup.front, file.setup.rear)):  # the tape's own figures come back
        read = [from_si(float(v) + spot.above[i], "mm") for v in own.wheels("height")]
        np.testing.assert_allclose(read, [(655, 652), (628, 631)][i], atol=1e-3)
    assert reference_of(file).name == "book"


def test_four_unequal_wheels_come_back_from_the_saved_car():
    typed = ARCHES | SCALES | four("toe", ("1.5 out", "0.5 out", "2.0 out", "0"), "_mm") | {"toe.diameter": "400"}
    typed |= four("camber", ("-0.6", "-1°06'", "-1.4", "-1.9")) | four("tyres", (2.1, 2.15, 2.3, 2.2), "_cold")
    readings = form(typed, toe__read=MM)
    file = save_measured_car(readings)
    again = shelf.load_car(readings.name)
    assert again.setup == file.setup
    both = ((again.setup.front, (-1.5, -0.5)), (again.setup.rear, (-2.0, 0.0)))
    for own, wanted in both:
        got = [from_si(0.4 * np.sin(float(v)), "mm") for v in own.wheels("toe")]
        np.testing.assert_allclose(got, wanted, atol=1e-4)
    lean = [from_si(float(v), "deg") for own, _ in both for v in own.wheels("camber")]
    np.testing.assert_allclose(lean, [-0.6, -1.1, -1.4, -1.9], atol=1e-4)
    hot = [float(v) - RISE for own, _ in both for v in own.wheels("pressure")]
    np.testing.assert_allclose(from_si(np.array(hot), "bar"), [2.1, 2.15, 2.3, 2.2], atol=1e-4)
    total = 302 + 288 + 271 + 278
    assert float(again.car.mass) == pytest.approx(total, abs=0.01)
    assert float(again.setup.cross_weight) == pytest.approx((288 + 271) / total, abs=1e-6)
    assert again.known.errors["setup.front.toe"] > 0


def test_the_same_toe_in_mm_degrees_and_minutes_is_one_toe():
    told = []
    for way, ending, text in ((MM, "_mm", "2.6 out"), (DEG, "", "0.35 out"), (MINUTES, "_minutes", "21 out")):
        typed = four("toe", [text] * 4, ending) | {"toe.diameter": "425.6"}
        told.append(float(worked(form(typed, toe__read=way)).file.setup.rear.toe))
    np.testing.assert_allclose(told, np.radians(-0.35), atol=2e-5)


@pytest.mark.parametrize(
    ("text", "number", "unit"),
    [
        ("450 lb/in", 450, "lbf_per_in"),
        ("78,8 N/mm", 78.8, "N_per_mm"),
        ("60", 60, "N_per_mm"),
        ("35,5 cm", 35.5, "cm"),
        ("2.43 m", 2.43, "m"),
        ("355 mm", 355, "mm"),
    ],
)
def test_a_unit_written_behind_counts(text, number, unit):
    ways = WAYS["rate" if "_per_" in unit else "length"]
    assert with_unit(text, ways, ways[0]) == (number, unit)


def test_a_height_in_centimetres_counts_and_one_read_to_half_a_millimetre_is_shown_so():
    typed = ARCHES | {"heights.front_left": "65.55 cm", "heights.rear_right": "0.6305 m"}
    front_left, front_right, _, rear_right = typed_rows(form(typed), worked(form(typed)))["height"]
    assert (front_left.now, front_left.should, front_left.off) == ("655.5", "640.0", "+15.5")
    assert (front_right.now, front_right.off) == ("652", "+12")
    assert rear_right.now == "630.5"
    bad = numbers(form({"heights.front_left": "34 parsecs"})).bad["heights"][0]
    assert "one behind the number: mm, inches, cm, m" in bad.remedy


@pytest.mark.parametrize(("text", "value"), [("-1°30'", -1.5), ("0°12'", 0.2), ("-0° 30", -0.5), ("2°", 2.0)])
def test_degrees_and_minutes(text, value):
    found, unit = with_unit(text, ("deg", "arcmin"), "deg")
    assert (found, unit) == (pytest.approx(value), "deg")


@pytest.mark.analytic
def test_a_tyre_warmed_by_thirty_degrees_gains_a_tenth_of_its_absolute_pressure():
    assert at_warmth(to_si(2.0, "bar"), 0.0, 27.315) == pytest.approx(to_si(2.0, "bar") + 0.1 * (2.0e5 + 1.013e5))


@pytest.mark.analytic
def test_bounce_of_one_mass_on_one_spring():
    assert bounce(39.478e3, 1.0, 250.0) == pytest.approx(2.0, abs=1e-3)  # (2π·2)²·250 = 39 478


def test_a_bar_by_its_diameter_goes_with_the_fourth_power():
    def bar(size):
        found = worked(form({"springs.front_diameter": size}, springs__front_bar="diameter only"))
        return float(found.file.setup.front.bar), found.errors["setup.front.bar"]

    thin, thick = bar("20"), bar("22")
    assert thick[0] / thin[0] == pytest.approx(1.1**4, rel=1e-6)
    assert thick[1] > 0.3 * thick[0]  # known by its diameter alone it is known badly


# ---- slips: asked about, never guessed ---------------------------------------------------------------------------


def test_a_total_beyond_the_scales_error_is_asked_about():
    said = asked(form(SCALES | {"corners.known_mass": "1230"}), "corners")
    assert "91 kg less than 1230 kg" in said
    assert "front left 393" in said  # the reading that alone would explain it, for each wheel
    assert not asked(form(SCALES | {"corners.known_mass": "1140"}), "corners")


def test_a_swap_that_explains_an_odd_cross_weight_is_named():
    said = asked(form(four("corners", (295, 205, 212, 298))), "corners")
    assert "front left and rear left swapped" in said
    assert not asked(form(four("corners", (288, 302, 271, 278))), "corners")


@pytest.mark.parametrize(
    ("rate", "other"), [("450", "450 lb/in"), ("14", "N/mm"), ("450 lb/in", None), ("60", None), ("79", None)]
)
def test_a_spring_in_the_wrong_unit_is_asked_about_by_its_bounce(rate, other):
    said = asked(form({"springs.front_rate": rate}), "springs")
    if other is None:
        assert not said
    else:
        assert "Hz" in said
    if rate == "450":
        assert "as 450 lb/in it would be" in said


@pytest.mark.analytic
def test_the_bounce_is_asked_with_the_mass_that_the_scales_show():
    """Of 262 and 258 kg on the front scales, less half of the axle's own mass."""
    typed = {"springs.front_rate": "450"}
    assert "that it usually carries (no corner scale typed yet)" in asked(form(typed), "springs")
    weighed = form(typed | four("corners", (262, 258, 230, 235)))
    said = asked(weighed, "springs")
    assert "the 260 kg of its scale, less" in said
    front = fill(base_of(weighed), kinds_of(weighed)).car.front
    assert f"{bounce(450e3, front.motion_ratio, 260 - front.unsprung_mass / 2):.1f} Hz" in said
    half = form(typed | {"corners.front_left": "262"})
    assert "the 262 kg of its scale" in asked(half, "springs")


def test_toe_without_in_or_out_is_refused_and_mixed_is_asked():
    found = numbers(form(four("toe", ("1.5", "1.5 in", "+1", "-1"), "_mm"), toe__read=MM))
    assert "must say in or out" in str(found.bad["toe"][0])
    assert len(found.bad["toe"]) == 1
    mixed = four("toe", ("1.5 out", "1.5 in", "1 in", "1 in"), "_mm") | {"toe.diameter": "430"}
    assert "in on one side and out on the other" in asked(form(mixed, toe__read=MM), "toe")


@pytest.mark.parametrize(
    ("text", "size"),
    [
        ("1/16 inch out", -25.4 / 16),
        ("0.06 inch in", 0.06 * 25.4),
        ('0.06" out', -0.06 * 25.4),
        ("1.5 mm in", 1.5),
        ("1.5 toe-in", 1.5),
        ("1.5 out", -1.5),
    ],
)
def test_toe_takes_inches_where_they_are_meant(text, size):
    inches = {"start__length": "in", "toe__read": MM}
    read = numbers(form({"toe.front_left_mm": text, "toe.diameter": "430 mm"}, **inches))
    assert 430 * np.sin(read.good["toe.front_left_mm"]) == pytest.approx(size)
    assert 430 * read.marks["toe.front_left_mm"] < 1.0  # a sixteenth is read to half of it


def test_toe_with_in_alone_is_refused_of_a_reader_of_inches():
    inches = {"start__length": "in", "toe__read": MM}
    (wrong,) = numbers(form({"toe.front_left_mm": "0.06 in"}, **inches)).bad["toe"]
    assert str(wrong).endswith("may mean toe-in or inch, got 0.06 in: write 0.06 mm in, or 0.06 inch in")
    assert "[mm toe-in/out]" in label_of(form({}, **inches), FIELDS["toe.front_left_mm"])
    far = numbers(form({"toe.front_left_mm": "99 mm out", "toe.diameter": "430 mm"}, **inches)).bad["toe"][0]
    assert "must be -29.9 to 29.9 mm, got 99 mm out" in str(far)


def test_the_ends_that_a_refusal_names_are_taken():
    chosen = {"start__length": "in", "start__mass": "lb", "start__pressure": "psi", "toe__read": MM}
    tried = 0
    for key, box in FIELDS.items():
        toe = box.holds == "toe"
        refused = numbers(form({key: "99999 out" if toe else "99999"}, **chosen)).bad.get(box.step, [])
        if box.holds not in ("toe", "length", "pressure", "mass") or not refused:
            continue
        for end in re.findall(r"must be (-?[\d.]+) to (-?[\d.]+)", str(refused[0]))[0]:
            text = f"{end.removeprefix('-')} {'out' if end[0] == '-' else 'in'}" if toe else end
            if toe and not key.endswith("_mm"):
                continue
            assert key in numbers(form({key: text.replace(" in", " mm in")}, **chosen)).good, (key, str(refused[0]))
            tried += 1
    assert tried > 60


def test_toe_typed_in_millimetres_is_answered_in_them_too():
    typed = four("toe", ["3 mm out"] * 4, "_mm") | {"toe.diameter": "430 mm"}
    lines = dict(worked(form(typed, toe__read=MM)).steps["toe"].lines)
    assert lines["front toe, each wheel, in positive"].endswith("= 3.0 toe-out (mm at the rim)")


def test_toe_in_millimetres_without_the_rim_is_asked_about():
    assert "millimetres mean nothing without it" in asked(form(four("toe", ["1 in"] * 4, "_mm"), toe__read=MM), "toe")


@pytest.mark.parametrize(
    ("typed", "step", "said"),
    [
        (four("heights", (655, 645, 628, 631)), "heights", "more than the trade's 5 mm"),
        (four("heights", (655, 652, 628, 740)) | {"heights.rear_reference": "640"}, "heights", "rear right height"),
        (four("camber", (-0.6, -1.2, -1.4, -1.9)), "camber", "front camber"),
        (four("camber", (-1, -1, -2, -2)), "camber", "more coarsely"),
        (four("tyres", (2.1, 2.1, 2.2, 2.4), "_cold"), "tyres", "rear tyre pressures, cold"),
        (four("tyres", (2, 2, 2, 2), "_cold"), "tyres", "more coarsely"),
        (four("tyres", (2.1,) * 4) | four("tyres", (2.4,) * 4, "_cold"), "tyres", "hot and cold swapped"),
        (four("stops", (20, 20, 30, 30), "_tie") | {"stops.rear_shaft": "11"}, "stops", "cable tie"),
    ],
)
def test_each_slip_names_the_reading_to_take_again(typed, step, said):
    assert said in asked(form(typed), step)
    assert worked(form(typed)).file is not None  # a question, never a refusal


def test_a_cable_tie_alone_tells_the_travel_left():
    used = worked(form({"stops.rear_left_tie": "0"}))
    free = worked(form({"stops.rear_left_tie": "25"}))
    gaps = [float(found.file.car.rear.bump_gap) for found in (used, free)]
    assert gaps[0] < gaps[1] - 0.02
    assert "the stop was touched" in str(used.steps["stops"].lines)
    assert used.errors["rear.bump_gap"] == pytest.approx(0.010)


def test_the_four_wheels_show_each_reading_and_how_far_it_is_off():
    readings = form(ARCHES | SCALES | four("toe", ("1.5 out", "0.5 out", "2.0 out", "0"), "_mm"), toe__read=MM)
    rows = typed_rows(readings, worked(readings))
    assert [c.now for c in rows["height"]] == ["655", "652", "628", "631"]
    assert [c.off for c in rows["height"]] == ["+15", "+12", "−12", "−9"]
    assert all(c.out for c in rows["height"])
    assert [c.now for c in rows["toe"]] == ["1.5 out", "0.5 out", "2.0 out", "0.0"]
    assert [c.out for c in rows["toe"]] == [False, False, True, False]  # rear toe-out stands out
    assert uneven(typed_rows(form(four("heights", (655, 645, 628, 631))), worked(form({}))))


def test_figures_from_before_the_work_are_not_called_book():
    file = worked(form(ARCHES, heights__reference_is=BEFORE)).file
    assert reference_of(file).name == "as it was before the work"
    assert replace(file).known.figures.table == "reference"


# ---- a first answer early, and the inspection list ---------------------------------------------------------------


@pytest.mark.analytic
def test_a_cable_tie_counts_at_its_own_wheel():
    """The stops of an axle are alike, so a wheel that stands 10 mm lower has 10 mm less before its own."""
    level = four("heights", (650, 650, 640, 640)) | {"heights.front_reference": "650", "heights.rear_reference": "640"}
    lean = level | {"heights.rear_left": "645", "heights.rear_right": "635"}
    gap = lambda typed: float(worked(form(typed)).measured["rear.bump_gap"].value)  # noqa: E731
    same, low = (gap(lean | {f"stops.rear_{side}_tie": "20"}) for side in ("left", "right"))
    assert low - same == pytest.approx(0.010, abs=1e-6)
    assert gap(level | {"stops.rear_left_tie": "20"}) == pytest.approx(0.5 * (low + same), abs=1e-6)


def test_four_arch_heights_already_give_an_answer_that_a_tie_narrows():
    from vdlib.panels.measure_parts import first_answer

    assert first_answer(worked(form({}))) == ""
    high = first_answer(worked(form(ARCHES)))
    assert "First answer" in high
    assert "the rear has come nearer its limit" in high
    tied = first_answer(worked(form(ARCHES | four("stops", (20, 20, 0, 0), "_tie"))))
    share = [int(text.split("in ")[1].split(" of 100")[0]) for text in (high, tied)]
    assert share[1] > share[0]  # a stop touched says more of the rear than the heights alone
    assert ("still open" in high) == (10 < share[0] < 90)
    assert "narrow it" not in high  # whether a reading would is worked out below, not promised here
    assert "a slip" not in high
    coarse = worked(form(ARCHES | four("tyres", ("2", "2", "2", "2"))))
    assert "more coarsely" in coarse.steps["tyres"].questions[0].rule
    assert "a slip" not in first_answer(coarse)
    elsewhere = four("heights", (655, 652, 300, 300))  # read from the ground, not to the arch
    for slip in ({"heights.wheelbase": "2.9"}, elsewhere):
        assert "waits for the reading to take again in 6 Ride heights" in first_answer(worked(form(ARCHES | slip)))
    slipped = first_answer(worked(form(ARCHES | {"heights.rear_right": "731"})))
    assert "a slip may stand behind it" in slipped
    assert "sure" not in slipped
    alone = first_answer(worked(form({"stops.rear_left_tie": "0"})))
    assert "the rear lets go first" in alone


def test_left_and_right_apart_and_toe_are_no_slip_that_the_first_answer_waits_for():
    from vdlib.panels.measure_parts import first_answer

    apart = ARCHES | four("camber", (-1, -1, -2.3, -1.6)) | four("toe", ("1 in", "1 in", "1.1 out", "0.9 in"), "_mm")
    worked_out = worked(form(apart | {"toe.diameter": "430"}, toe__read=MM))
    assert worked_out.steps["camber"].questions[0].rule.startswith("differs by more than the trade's")
    assert worked_out.steps["toe"].questions
    assert "a slip may stand behind it" not in first_answer(worked_out)
    scales = apart | four("corners", (352, 361, 318, 344)) | {"corners.known_mass": "1402"}
    assert "Corner scales" in first_answer(worked(form(scales)))


def test_every_whatif_carries_the_caution_until_the_list_is_ticked(monkeypatch):
    from vdlib.door import job
    from vdlib.garage.form_fields import FINE, FOUND, LOOK, UNSEEN
    from vdlib.garage.visit import unticked
    from vdlib.panels import shared_whatif, whatif

    undrawn(monkeypatch)
    file = save_measured_car(form(ARCHES))
    assert len(unticked(file.known.visit)) == len(LOOK)
    assert "Is it safe to drive?" in whatif.panel(file).box.children[0].value
    seen = replace(form(ARCHES), chosen=form({}).chosen | {f"look.{key}": FINE for key in LOOK})
    ticked = save_measured_car(seen)
    assert unticked(ticked.known.visit) == ()
    assert whatif.panel(ticked).box.children[0].value == ""
    odd = seen.with_choice("look.dampers", FOUND).with_typed("look.note", "left one wet")
    said = whatif.panel(save_measured_car(odd)).box.children[0].value
    assert "Found: dampers dry; bump stops there, whole, their marks: left one wet. Have that put right" in said
    assert "not looked at yet" not in said  # what was found has been looked at
    part = save_measured_car(odd.with_choice("look.bars", UNSEEN))
    told = shared_whatif.inspected(part).value
    assert "1 of the form's inspection list not looked at yet, first: bar links whole" in told
    job.note_looked_over(part, True)  # as ticked on the start page
    assert "not looked at yet" not in shared_whatif.inspected(part).value


def test_a_figure_that_no_car_can_have_is_asked_again_and_no_car_is_made_of_it():
    said = form({"toe.rear_reference": "2.21 in", "tyres.front_left": "2.2"}, toe__read=DEG)
    told = "\n".join(map(str, worked(said).problems))
    assert worked(said).file is None
    assert "what it should have, toe of each wheel must be -2 to 2 deg, got 2.21 deg" in told
    assert worked(said.with_typed("toe.rear_reference", "0.21 in")).file is not None
