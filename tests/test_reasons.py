"""The small panels under the film: they show what the engine says, and their words follow the numbers."""

import re
from dataclasses import replace

import numpy as np
import pytest
from cars import OTHERS
from driving import drive

from vdlib.answers import film_words
from vdlib.answers.corner import HOLDS
from vdlib.answers.difference import difference
from vdlib.answers.doubts import doubts_of
from vdlib.answers.edge import By, Edge
from vdlib.answers.film import CORNER
from vdlib.answers.height_study import net_change
from vdlib.answers.limits import limits
from vdlib.answers.margins import Margin, Margins, tries
from vdlib.answers.route_words import headline, routes_of
from vdlib.answers.sentences import toward
from vdlib.car import examples
from vdlib.car.records import Moment
from vdlib.car.reference import reference_of
from vdlib.car.typical import Kinds
from vdlib.draw.difference import DifferencePicture
from vdlib.draw.reasons import Gains
from vdlib.draw.style import SMALLEST, smallest_text
from vdlib.panels import by_gap, nose_high, reasons, routes, sizes
from vdlib.panels import difference as difference_panel
from vdlib.panels.stage import filmed
from vdlib.shown import says
from vdlib.trim.trim import ROUTES
from vdlib.units import G, from_si, to_si

pytestmark = pytest.mark.unpainted

FILE = examples.load_example("low-two-seater")


def plain(html):
    return re.sub("<[^>]*>", " ", html)


@pytest.mark.parametrize("maker", [reasons.phases, reasons.tail_out])
def test_every_control_can_be_driven(maker):
    panel = maker(FILE)
    visits = drive(panel, again=False, brief=True)
    assert not [visit.message for visit in visits if visit.message]
    assert len({visit.picture for visit in visits}) > 1
    assert smallest_text(panel.picture.figure) >= SMALLEST


def test_foot_and_heights_are_the_films():
    found = filmed(FILE)
    car, foot = film_words.lost(found, "now"), film_words.lost(found, "now") - film_words.lost(found, "foot")
    said = plain(reasons.foot_and_heights(FILE).children[1].value)
    assert f"{abs(car):.1f}" in said
    assert f"{foot:.1f}" in said
    view = Gains(3)
    view.draw(("a", "b"), ("car", "driver"), (car, float("nan")), ("x", "y"))
    assert [bar.get_width() for bar in view.bars] == pytest.approx([car, 0.0, 0.0])
    assert not view.bars[2].get_visible()


@pytest.mark.analytic
def test_the_limits_shown_are_those_of_each_setup_alone():
    panel = reasons.phases(FILE)
    panel.set("speed", 100)
    found, level = panel.result, reference_of(FILE)
    for shown, car, setup in ((found.reference, level.car, level.setup), (found.now, FILE.car, FILE.setup)):
        alone = limits(car, setup, Moment.in_phase("lift", to_si(100, "kmh"), G)).lateral / G
        assert shown[:, 1] == pytest.approx(alone, abs=2e-4)
    said = plain(panel.words_html.value)
    assert ("throttle closed" in said.split(".")[0]) == bool(found.now[1, 1] < found.now[0, 1])


def test_the_tails_curves_are_the_films_and_end_with_it():
    panel = reasons.tail_out(FILE)
    found, film = panel.result, filmed(FILE)
    curve = panel.picture.figure.axes[0].lines[2]
    k, end = film.place("now"), film.ends[film.place("now"), found.speed]
    shown = np.isfinite(curve.get_ydata())
    assert curve.get_ydata()[shown] == pytest.approx(from_si(film.slide[shown, k, found.speed], "deg"))
    assert (film.time[shown] <= end).all()
    panel.set("speed", panel.state["speed"] - 4)
    most = from_si(film.slide[:, found.which, panel.result.speed].max(axis=0), "deg")
    told = plain(panel.words_html.value)
    names = [film.states[k].name for k in found.which]
    for angle, name in zip(most, names, strict=True):
        assert f"{angle:.0f}° {name}" in told  # as the curve has it, not more
    low, high = panel.picture.figure.axes[0].get_ylim()
    assert all(low < text.get_position()[1] < high for text in panel.picture.figure.axes[0].texts[1:])


@pytest.mark.analytic
@pytest.mark.parametrize("name", ["low-two-seater", "coupe"])
def test_the_routes_parts_add_up_and_each_has_its_sentence(name):
    file = examples.load_example(name)
    level = reference_of(file).setup
    found, ledger = routes_of(file.car, file.setup, level, Moment.in_phase("lift", to_si(110, "kmh"), 0.8 * G))
    assert {route.key for route in found} == set(ROUTES)
    assert sum(route.part for route in found) == pytest.approx(float(ledger.total))
    assert [abs(route.part) for route in found] == sorted((abs(route.part) for route in found), reverse=True)
    assert all(route.sentence.endswith(".") and "nan" not in route.sentence for route in found)
    assert "In sum" in headline(found, ledger)


def test_every_panel_of_the_heights_says_the_same_of_a_car_that_is_lower_on_one_side():
    lower = replace(FILE.setup.rear, height_difference=0.012)
    file = replace(FILE, setup=replace(FILE.setup, rear=lower, cross_weight=0.515))
    why = routes.panel(file)
    by_hand = nose_high.panel(file)
    ledger = by_hand.result.ledger
    angles, fixed = [], reference_of(file)
    for lateral in (0.8 * G, -0.8 * G):
        at = replace(by_hand.result.moment, lateral=lateral)
        angles.append(float(net_change(file.car, fixed.at_heights_of(file.setup), at, fixed.setup)))
    turn = 1 if by_hand.result.moment.lateral < 0 else 0
    assert abs(angles[0] - angles[1]) > np.radians(0.02)
    assert float(ledger.total) == pytest.approx(angles[turn], abs=1e-8)
    said = f"in a {('left', 'right')[turn]} turn, the worse of the two"
    parts = {row["key"]: row["part"] for row in why.children[2].sent["routes"]}
    for key, part in zip(ledger.causes, ledger.parts, strict=True):
        assert parts[key] == pytest.approx(float(np.degrees(part)), abs=1e-6)
    for told in (why.children[1].value, by_hand.words_html.value):
        assert toward(float(ledger.total)) in told
        assert said in told
    assert "turn" not in nose_high.panel(examples.load_example("coupe")).words_html.value


@pytest.mark.parametrize("rises", [(0.0, -0.02), (0.015, 0.0), (0.0, 0.0), (0.012, -0.018)])
def test_an_end_at_its_reference_is_said_to_stay_in_whole_sentences(rises):
    level, moment = reference_of(FILE).setup, Moment.in_phase("lift", to_si(75, "kmh"), 0.7 * G)
    here = level.with_heights(level.front.height + rises[0], level.rear.height + rises[1])
    said = {route.key: route.sentence for route in routes_of(FILE.car, here, level, moment)[0]}
    for key, end in (("toe", "points as before"), ("camber", "lean as before"), ("roll_centres", "stays")):
        assert said[key].count(end) == rises.count(0.0)
    assert ("axis stays" in said["caster"]) == (rises[0] == rises[1])
    assert ("gravity stays" in said["cg_height"]) == (not any(rises))
    assert not re.search(r"(points|lean|tips) stays", " ".join(said.values()))


@pytest.mark.analytic
def test_a_car_without_stops_in_reach_owes_the_stops_nothing():
    roomy = [replace(axle, bump_gap=0.25, droop_gap=0.25) for axle in (FILE.car.front, FILE.car.rear)]
    car = replace(FILE.car, front=roomy[0], rear=roomy[1])
    level = reference_of(FILE).setup
    found, _ = routes_of(car, FILE.setup, level, Moment.in_phase("lift", to_si(75, "kmh"), 0.7 * G))
    assert next(route for route in found if route.key == "stops").part == pytest.approx(0, abs=1e-9)


def test_a_tail_with_little_travel_costs_the_rear_engined_car_what_hands_still_settle(monkeypatch):
    monkeypatch.setattr(by_gap, "FEWER", 150)
    found = by_gap.settling(examples.load_example("two-seater"))
    assert not found.own  # no example is calm
    assert 5 < found.calm < 50  # some plausible cars are
    assert found.lose[0] > 75 > 10 > found.lose[-1]


@pytest.mark.slow
def test_a_car_whose_inner_rear_wheel_hardly_carries_hardly_asks_for_travel(monkeypatch):
    monkeypatch.setattr(by_gap, "FEWER", 150)
    found = by_gap.settling(examples.load_example("hatch"))
    assert found.lose.max() < 30
    assert not found.own
    assert 5 < found.calm < 50


def test_a_tail_with_little_travel_moves_more_cars_toward_oversteer(monkeypatch):
    monkeypatch.setattr(by_gap, "PLAUSIBLE", 1000)
    shares = np.array([by_gap.gap_share(examples.load_example(name)) for name in ("two-seater", "coupe", "hatch")])
    assert (shares[:, 0] > shares[:, -1]).all()
    assert np.isfinite(shares).all()


def test_what_is_counted_by_travel_is_what_the_heights_do_alone(monkeypatch):
    monkeypatch.setattr(by_gap, "PLAUSIBLE", 300)
    level = replace(FILE, setup=reference_of(FILE).at_heights_of(FILE.setup))
    assert level.setup != FILE.setup  # its toe and camber are out as well
    np.testing.assert_array_equal(by_gap.gap_share(FILE), by_gap.gap_share(level))


def test_the_travel_is_said_to_decide_only_where_it_does():
    shares = np.array([[98.0, 100.0, 96.0], [79.0, 43.0, 22.0], [16.0, 12.0, 19.0]])
    said = by_gap.decides_for(["low", "middle", "small"], shares)
    assert said.startswith("The travel left decides for cars like the middle. ")
    assert "About the low it is 96 to 100 of 100 whatever is left" in said
    assert "About the small it is 12 to 19 of 100 whatever is left" in said
    assert "for cars like not one of these" in by_gap.decides_for(["low"], shares[:1])


def test_tyres_are_no_setting():
    rows = [
        Margin("track tyres", "car", 1.3, Edge(21.3, By.GRIP), fitted=True),
        Margin("half the lift", "driver", 1.2, Edge(21.2, By.SLIDE)),
        Margin("more travel", "car", 0.6, Edge(20.6, By.SLIDE)),
    ]
    said = reasons.margin_words(Margins(Edge(20.0, By.SLIDE), tuple(rows)))
    assert "The most a setting can do: more travel, +2.2 km/h." in said
    assert "No setting, but bought: track tyres, +4.7 km/h (grip ends first)." in said
    assert any(row.fitted for row in tries(FILE.car, FILE.setup, reference_of(FILE), CORNER, HOLDS))


@pytest.mark.parametrize("name", ["low-two-seater", *(pytest.param(n, marks=pytest.mark.slow) for n in OTHERS)])
def test_the_answer_says_what_travel_gives_where_it_gives_anything(name):
    found = filmed(examples.load_example(name))
    gained = (found.forgiven[found.place("travel")] - found.forgiven[found.place("now")]) * 3.6
    said = reasons.travel_words(found)
    assert bool(said) == (gained > film_words.LITTLE - 1e-6)
    assert not said or f"would add {gained:.1f} km/h" in said


def test_boxes_hold_words_and_no_number_gone_wrong():
    for made in (reasons.answer(FILE), sizes.feel(FILE), routes.panel(FILE)):
        words = [child.value for child in made.children if isinstance(getattr(child, "value", None), str)]
        text = plain(re.sub("<style>.*?</style>", "", " ".join(words), flags=re.DOTALL))
        assert len(text.split()) > 12
        assert not re.search(r"(?<![a-z])(nan|inf|none)(?![a-z])", text, re.IGNORECASE)


def test_the_band_is_that_of_the_difference_and_narrower_than_that_of_either_speed():
    reference = reference_of(FILE)
    doubts = doubts_of(FILE, FILE.known.kinds or Kinds())
    found = difference(FILE.car, reference.setup, FILE.setup, CORNER, HOLDS, doubts, (20, 6))
    said = plain(difference_panel.words(found.by_film, found.by_limit))
    low, middle, high = (says(value, "kmh", 1, sign=True) for value in found.by_film.of(found.by_film.change))
    assert all(edge in said for edge in (low, middle, high))
    assert f"Of 6 plausible cars like yours, {round(100 * found.by_film.worse)} in 100" in said
    spans = [
        band[2] - band[0]
        for band in (found.by_limit.of(what) for what in (found.by_limit.change, *found.by_limit.speed))
    ]
    assert spans[0] < min(spans[1:])  # what errs, errs in both
    view = DifferencePicture(("a", "b"))
    view.draw(found.by_film)
    each, change = view.picture.figure.axes
    assert len(each.lines) == found.by_film.change.size
    assert sum(bar.get_height() for bar in change.patches) == found.by_film.change.size
    assert smallest_text(view.picture.figure) >= SMALLEST
