"""Folded lines, boxed answers with their questions, and the search for what people say."""

import re
from dataclasses import replace
from html import escape

import numpy as np
import pytest
from cars import FIRST_OR_SLOW, TWO_OR_SLOW, promise_of_the_story

from vdlib import shown
from vdlib.answers import power_off, split
from vdlib.answers.balance import balance
from vdlib.answers.corner import Corner, Driver
from vdlib.answers.edge import By, Edge
from vdlib.answers.film import CORNER
from vdlib.answers.forgiven import forgiven_speed
from vdlib.answers.hands_still import hands_still_limit
from vdlib.car import examples
from vdlib.car.records import Moment
from vdlib.car.reference import reference_of
from vdlib.checks import InputError, Problem
from vdlib.lessons import simple
from vdlib.lessons.said import SAYINGS, saying, search
from vdlib.lessons.terms import TERMS
from vdlib.panels import closings, closings_film, closings_own_car, closings_workings, fold, two_wheel, words, workings
from vdlib.panels.stage import filmed
from vdlib.setup import page
from vdlib.setup.candidate import Candidate, baseline
from vdlib.setup.promised import why_back
from vdlib.trim.trim import trim
from vdlib.units import G, from_si, to_si

pytestmark = pytest.mark.unpainted

MAKERS = {name: getattr(closings, name) for name in ("words", "weight", "two_wheel", "split")}
MAKERS["workings"] = closings_workings.workings
MAKERS["lift"] = closings_film.lift


@pytest.fixture(params=TWO_OR_SLOW)
def file(request):
    return examples.load_example(request.param)


@pytest.mark.parametrize("name", list(MAKERS))
def test_a_closing_has_an_answer_three_things_to_think_of_and_three_to_remember(file, name):
    html = MAKERS[name](file).value
    assert html.count('class="vd-answer"') == 1
    assert html.count("<details>") == html.count("</details>") == 7  # the three to remember are behind one line
    assert "nan" not in html.lower().replace("nans", "")
    assert "inf" not in re.sub(r"<[^>]*>", "", html)
    box = re.search(r'vd-answer" role="note">(.*?)</div>', html)[1]
    assert len(re.sub(r"<[^>]*>", "", box).split()) < 70
    assert re.search(r"\d", box)


def test_the_answers_are_those_of_the_car_shown():
    html = [MAKERS["weight"](examples.load_example(name)).value for name in examples.example_names()]
    assert len(set(html)) == len(html)


def test_the_answer_on_weight_is_the_models(file):
    box = closings.weight(file).value
    turn = simple.wheel_loads(file.car, file.setup, closings.CORNER * G, 0.0).transfer
    both = (turn.front.total + turn.rear.total) / G
    assert f"<b>{both:.0f} kg</b>" in box


def test_the_two_boxes_on_load_say_what_differs_and_the_box_on_springs_answers_its_question(file):
    assert "bump stops left out" in closings.weight(file).value
    box = closings.split(file).value.split("</div>")[0]
    assert "bump stops counted" in box
    soft = re.search(r"front springs a tenth softer: (?:([−+\d.]+) deg/g|hardly)", box)
    setup = replace(file.setup, front=replace(file.setup.front, spring=0.9 * file.setup.front.spring))
    lateral = float(re.search(r"corner at ([\d.]+) g the front", box)[1])
    assert f"{file.car.name}: in a steady corner" in box  # the car chosen just above it may be another
    moment = Moment.in_phase("steady", to_si(closings.SPEED, "kmh"), lateral * G)
    change = balance(file.car, setup, moment).gradient - balance(file.car, file.setup, moment).gradient
    assert float((soft[1] or "0").replace("−", "-")) == pytest.approx(from_si(change, "deg_per_g"), abs=0.006)


@pytest.mark.analytic
def test_what_a_worn_bar_moves_at_the_rim_is_the_change_of_steering_in_that_corner(file):
    text = re.sub(r"<[^>]*>", "", closings.split(file).value)
    found = re.search(r"half the front one a (\S+) g corner takes (\d+) mm (more|less).*?(H|Y)", text)
    lateral, rim, way, felt = found.groups()
    moment = Moment.in_phase("steady", to_si(closings.SPEED, "kmh"), float(lateral) * G)
    worn = replace(file.setup, front=replace(file.setup.front, bar=file.setup.front.bar / 2))
    sound, softer = (trim(file.car, setup, moment).understeer_angle for setup in (file.setup, worn))
    moved = 15 * 180 * float(softer - sound)  # a steering ratio of 15 : 1, a rim of 180 mm
    assert float(rim) == pytest.approx(abs(moved), abs=0.5)
    assert way == ("more" if moved > 0 else "less")
    assert (felt == "H") == (abs(moved) < 5)


def test_a_slide_is_said_to_grow_only_past_a_limit_that_is_one():
    for name in examples.example_names():
        file = examples.load_example(name)
        radius = Corner().radius
        steady, lifted = (hands_still_limit(file.car, file.setup, radius, lift=foot) for foot in (None, Corner().lift))
        box = re.search(r'vd-answer" role="note">(.*?)</div>', MAKERS["lift"](file).value)[1]
        assert ("Beyond that a slide grows" in box) == bool(steady.exists and lifted.exists)
        assert ("Beyond the second a slide grows" in box) == bool(lifted.exists and not steady.exists)


def test_the_gap_that_5_mm_are_taken_from_is_the_cars_as_it_is(file):
    text = closings_own_car.measure(file).value
    told = re.search(r"gap the stops have: (?:(\d+) mm|none)", text)
    left = 1000 * (file.car.rear.bump_gap + file.setup.rear.height - file.car.rear.reference_height)
    assert float(told[1] or 0) == pytest.approx(max(left, 0), abs=0.5)


def test_the_step_between_two_speeds_is_the_difference_of_the_two_as_printed():
    shown.use(shown.Choice("mph", "kg", "bar", "mm"))
    try:
        for name in examples.example_names():
            text = closings_film.film(examples.load_example(name)).value
            numbers = re.search(r"Both below ([\d.]+) mph, neither from ([\d.]+) mph: a step of ([\d.]+) mph", text)
            low, high, step = map(float, numbers.groups())
            assert step == pytest.approx(high - low, abs=1e-9)
    finally:
        shown.use(shown.Choice())


def test_a_car_without_a_hands_still_limit_is_steadied_until_its_grip_ends():
    html = MAKERS["lift"](examples.load_example("coupe")).value
    assert re.search(r"<b>until the grip ends, at 0\.\d\d g</b> in steady driving, and <b>up to 0\.\d\d g</b>", html)
    assert "1.5 to 1.5 s" not in html


def test_the_knee_and_the_box_beside_it_name_car_and_radius(file):
    assert "On a radius of 60 m this car, as it is now, settles with the hands still" in closings_film.lift(file).value


@pytest.mark.analytic
def test_the_budget_sums_to_the_whole(file):
    cells = re.findall(r"<td>([−+\d.]+) deg/g</td>", closings.budget(file).value)
    front, rear, rest, whole = (float(cell.replace("−", "-")) for cell in cells)
    assert front + rear + rest == pytest.approx(whole, abs=0.021)
    assert front > 0 > rear


@pytest.mark.analytic
def test_the_stiffness_at_which_the_balance_turns_makes_the_car_neutral(file):
    found = re.search(r"To (\d+) % of what it is", closings.two_wheel(file).value)
    told = found[1] if found else "100"
    assert bool(found) != ("as good as neutral now" in closings.two_wheel(file).value)
    own = simple.two_wheel(file.car, file.setup)
    rear = own.rear_stiffness * float(told) / 100
    gradient = own.front_mass / own.front_stiffness - own.rear_mass / rear
    assert abs(from_si(gradient, "deg_per_g")) < 0.04  # half a percent of either end's


# ---- folds -------------------------------------------------------------------------------------------------------


def test_what_is_folded_is_made_when_it_is_opened_and_only_once(file):
    made = []
    box = fold.fold("One line", lambda one: made.append(one) or fold.widgets.HTML("inside"))(file)
    line, inside = box.children
    assert made == []
    assert "One line" in line.description
    assert inside.layout.display == "none"
    line.value = True
    line.value = False
    line.value = True
    assert made == [file]
    assert inside.layout.display == ""


def test_what_is_refused_under_a_line_is_said_in_words(file):
    def refuse(_):
        raise InputError([Problem("speed", "3 <b>", "must be more", "drive")])

    line, inside = fold.fold("One line", refuse)(file).children
    line.value = True
    assert 'role="alert"' in inside.children[0].value
    assert "<b>" not in inside.children[0].value


@pytest.mark.parametrize("name", list(workings.EQUATIONS))
def test_an_equation_is_one_line_with_its_number_and_everything_else_under_it(file, name):
    text = workings.folded(name, file)
    line, rest = text.split("</summary>")
    own = workings.value(name, file)
    assert ("none for this car" if np.isnan(own.result) else own.told) in line
    assert rest.count("$$") == 2 * len(workings.derive(name).steps)
    assert text.count("<details>") == text.count("</details>") == 1


# ---- what people say ---------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "key"),
    [
        ("came round", "bump_gap"),
        ("it came round on me", "bump_gap"),
        ("Twitchy", "toe"),
        ("pushes on", "understeer"),
        ("scary", "bump_gap"),
        ("tracking", "toe"),
        ("rake", "attitude"),
        ("twit", "toe"),
    ],
)
def test_what_people_say_finds_its_words(text, key):
    assert search(text)[0].key == key


def test_rake_explains_its_two_signs():
    assert "two signs" in saying("rake").sentence
    assert "nose-high or nose-low" in saying("rake").sentence


def test_every_saying_leads_to_words_that_exist():
    for one in SAYINGS:
        assert one.keys
        assert set(one.keys) <= set(TERMS)
        assert all(phrase == phrase.casefold() for phrase in one.phrases)
    phrases = [phrase for one in SAYINGS for phrase in one.phrases]
    assert len(phrases) == len(set(phrases))


@pytest.mark.parametrize("text", ["", "  ", "to", "unobtainium", "<b>", "((("])
def test_other_text_has_no_saying(text):
    assert saying(text) is None
    assert all(term.key in TERMS for term in search(text))


def test_a_plain_word_is_found_as_before():
    assert search("camber")[0].key == "camber"
    assert len(search("")) == len(TERMS)


# ---- the reader's own car ----------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", ["measure", "workshop", "laps"])
def test_the_last_workbooks_end_with_an_answer_too(file, name):
    html = getattr(closings_own_car, name)(file).value
    assert html.count("<details>") == html.count("</details>") == 7
    assert re.search(r"vd-answer.*?\d", html)
    assert "nan" not in re.sub(r"<[^>]*>", " ", html).lower().split()


def test_what_is_out_is_asked_back_by_as_much(file):
    fixed = reference_of(file).setup
    html = closings_own_car.workshop(file).value
    for word, end in (("front", "front"), ("tail", "rear")):
        rise = 1e3 * float(getattr(file.setup, end).height - getattr(fixed, end).height)
        if abs(rise) >= 1:
            assert f"{word} {'down' if rise > 0 else 'up'} {abs(rise):.0f} mm" in html
    why = dict(page.build(file, baseline(file.car, file.setup), Candidate()).back)["Why"]
    (printed,) = (line for line in why if "the corner forgives up to" in line)
    assert escape(printed) in html  # in the driver's corner, as the printed page says it


def test_corner_weights_alone_are_asked_for_by_name(file):
    reference = reference_of(file).setup
    uneven = replace(file, setup=replace(reference, cross_weight=0.55))
    assert "<b>the corner weights it should have</b>" in closings_own_car.workshop(uneven).value
    assert "corner weights it should" not in closings_own_car.workshop(replace(file, setup=reference)).value


def test_a_reference_that_promises_less_is_said_to_in_the_box(file, monkeypatch):
    told = replace(promise_of_the_story(), edges=(Edge(30.0, By.SLIDE), Edge(29.0, By.SLIDE)))
    monkeypatch.setattr(closings_own_car, "promise", lambda *_: told)
    html = closings_own_car.workshop(file).value
    assert "First ask" not in html
    assert "Back to the reference means: <b>" in html
    assert escape(why_back(told)[0]) in html


def test_the_worked_case_tells_less_and_less():
    steps = [closings_own_car.case_words(part) for part in ("measure", "ask", "judge")]
    told = [len(re.sub(r"<details>.*?</details>|<[^>]*>", " ", text, flags=re.DOTALL).split()) for text in steps]
    assert told[0] > told[1] > told[2]
    assert [text.count("<details>") for text in steps] == [0, 1, 1]
    file = examples.load_example(examples.FIRST)
    speeds = [
        3.6 * float(forgiven_speed(file.car, setup, Corner(), Driver()).speed)
        for setup in (file.setup, reference_of(file).setup)
    ]
    assert f"up to {speeds[0]:.1f} km/h now" in steps[1]
    assert f"{speeds[1]:.1f} km/h at" in steps[1]


@pytest.mark.parametrize("name", FIRST_OR_SLOW)
def test_the_first_page_ends_with_the_films_own_speeds(name):
    file = examples.load_example(name)
    html = closings_film.film(file).value
    found = filmed(file)
    pair = sorted(3.6 * float(found.forgiven[place]) for place in (0, found.place("now")))
    assert "vd-answer" not in html.split("</style>")[-1]  # its box is another panel's
    assert (f"Both below {pair[0]:.1f} km/h" in html) == bool(np.isfinite(pair[1]))
    assert html.count("<details>") == 7


def test_a_car_heavier_on_one_side_does_not_turn_alike_both_ways():
    file = examples.load_example("coupe")
    assert "alike left and right, so both ways are the same" in closings_film.film(file).value
    for odd in ({"car": replace(file.car, left_share=0.47)}, {"setup": replace(file.setup, cross_weight=0.52)}):
        made = replace(file, **odd)
        left, right = (forgiven_speed(made.car, made.setup, Corner(turn=turn), Driver()) for turn in ("left", "right"))
        assert abs(float(left.speed) - float(right.speed)) > to_si(0.5, "kmh")
        assert "differ from side to side, so yes" in closings_film.film(made).value


def test_pressures_are_asked_for_before_heights(monkeypatch):
    file = examples.load_example(examples.FIRST)
    back = page.back_to_reference(baseline(file.car, file.setup), file)
    cold = replace(back, settings={**back.settings, "front.pressure": float(file.setup.front.pressure) + 2e4})
    assert "pressures" not in re.search(r"vd-answer.*?</b>.*?</b>", closings_own_car.workshop(file).value)[0]
    monkeypatch.setattr(closings_own_car, "back_to_reference", lambda *_: cold)
    html = closings_own_car.workshop(file).value
    assert "<b>the tyre pressures it should have, front down 18 mm and tail up 24 mm</b>" in html


@pytest.mark.parametrize("seats", ["", "fixed"])
def test_the_box_asks_for_the_heights_that_the_page_asks_for(seats):
    """4 mm off is inside the tolerance printed on the page: neither asks for them."""
    file = examples.load_example("coupe")
    file = replace(file, known=replace(file.known, visit={"seats": seats} if seats else {}))
    due = reference_of(file).setup
    for front, rear, asked in ((0.004, -0.004, ""), (0.004, -0.009, "tail up 9 mm")):
        made = replace(file, setup=due.with_heights(due.front.height + front, due.rear.height + rear))
        box = re.search(r'"vd-answer".*?</b>.*?</b>', closings_own_car.workshop(made).value, re.S)[0]
        printed = page.build(made, baseline(made.car, made.setup), Candidate())
        heights = {key for key in printed.wheels.changed if key.endswith("height")}
        assert heights == ({"rear height"} if asked else set())
        assert re.findall(r"(?:front|tail)[ a-z]* \d+ mm", box) == [asked] * bool(asked)
        assert ("Nothing is asked for" in box, "Nothing is asked for" in printed.do[-1]) == (not asked, not asked)


@pytest.mark.parametrize("name", TWO_OR_SLOW)
def test_the_steps_of_both_bars_that_are_said_to_keep_the_balance_do(name):
    own = examples.load_example(name)
    text = re.sub(r"<[^>]*>", "", closings.split(own).value)
    ratio = float(re.search(r"([\d.]+) Nm/deg more at the rear for each Nm/deg", text)[1])
    step = to_si(5, "Nm_per_deg")

    def change(front, rear):
        bars = split.with_bars(own.setup, own.setup.front.bar + front * step, own.setup.rear.bar + rear * step)
        moment = Moment.in_phase("steady", to_si(closings.SPEED, "kmh"), closings.LATERAL * G)
        return float(balance(own.car, bars, moment).gradient - balance(own.car, own.setup, moment).gradient)

    assert abs(change(1, ratio)) < 0.12 * abs(change(1, 0))  # the ratio is printed with one digit


@pytest.mark.parametrize("name", TWO_OR_SLOW)
def test_the_box_on_the_equations_says_where_the_car_rests_on_a_stop_that_they_leave_out(name):
    own = examples.load_example(name)
    found = trim(own.car, own.setup, Moment(closings.FAST, closings.CORNER * G))
    box = re.sub(r"<[^>]*>", "", closings_workings.workings(own).value.split("</div>")[0])
    assert ("They hold until" in box) != bool(found.on_stop.max() > 0 and name == "low-two-seater")
    told = re.search(r"rests on a bump stop at the rear: with it the body leans ([\d.]+) deg", box)
    assert bool(told) == (name == "low-two-seater")
    if told:
        assert float(told[1]) == pytest.approx(abs(float(np.degrees(found.roll))), abs=0.006)


@pytest.mark.parametrize("name", TWO_OR_SLOW)
def test_the_speeds_at_which_a_slide_grows_are_those_of_the_panel_and_in_its_reach(name):
    text = re.sub(r"<[^>]*>", "", closings.two_wheel(examples.load_example(name)).value)
    part, start = re.search(r"With rear tyres at (\d+) % of this car's, slides grow above (\d+) km/h", text).groups()
    panel = two_wheel.growth(examples.load_example(name))
    panel.set("rear", float(part))
    assert f"not run straight on its own, is {start} km/h" in panel.words_html.value
    late = float(re.search(r"(?:From about|Up to) (\d+) km/h (?:they double|none doubles)", text)[1])
    assert late <= panel.controls["speed"].max
    panel.set("speed", late)
    doubles = float(panel.result.motion.time_to_double)
    assert (doubles < 1.5) == ("they double" in text)


def test_the_three_edges_of_the_lift_are_told_apart_with_their_radii():
    own = examples.load_example(examples.FIRST)
    text = re.sub(r"<[^>]*>", "", closings_film.lift(own).value)
    limit, speed = re.search(r"the box's ([\d.]+) g, ([\d.]+) km/h there, is where a small slide begins", text).groups()
    assert f"{limit} g once the throttle closes" in text
    assert float(speed) == pytest.approx(3.6 * np.sqrt(float(limit) * G * CORNER.radius), rel=0.01)
    assert f"the film, on {CORNER.radius:g} m" in text
    assert f"the knee, on {power_off.RADIUS:g} m" in text


@pytest.mark.parametrize("name", TWO_OR_SLOW)
def test_the_wheel_rate_and_motion_ratio_of_the_box_are_those_of_the_panels(name):
    own = examples.load_example(name)
    box = re.sub(r"<[^>]*>", "", closings.words(own).value)
    felt, ratio = re.search(r"is ([\d.]+) N/mm at the wheel, for its motion ratio is ([\d.]+),", box).groups()
    panel = words.panel(own)
    panel.set("word", "wheel_rate")
    assert f"Wheel rate: {felt} N/mm" in panel.words_html.value
    assert words.lever(own).controls["ratio"].value == float(ratio)
