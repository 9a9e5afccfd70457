"""Advice that a mechanic accepts: ranked in the driver's own corner, nothing beyond the reference left unmarked."""

from dataclasses import replace
from html import unescape
from types import SimpleNamespace

import numpy as np
import pytest
from unpainted import made_once

from vdlib.answers.corner import HOLDS, Corner
from vdlib.answers.forgiven import forgiven_speed
from vdlib.answers.hands_still import hands_still_limit
from vdlib.car import examples
from vdlib.car.reference import reference_of
from vdlib.panels import helps, request
from vdlib.setup.advice import KINDS, Ask, levers, turned
from vdlib.setup.allowed import LITTLE, accepted, against, loss, reason, returns, sparing, to_the_reference
from vdlib.setup.candidate import Version, baseline, put
from vdlib.setup.driven import OwnCorner, measured, own_corner, ranked_in_corner
from vdlib.setup.whatif import compare
from vdlib.units import G, from_si, to_si

pytestmark = pytest.mark.unpainted

FILE = examples.load_example("low-two-seater")
BASE = baseline(FILE.car, FILE.setup)
LEVEL, FIGURES = reference_of(FILE).setup, FILE.known.figures
BY = {one.path: one for one in levers(BASE.car, BASE.setup)}
CORNER, RIGHT = OwnCorner(60.0), OwnCorner(60.0, "right")
HERE = (to_si(110.0, "kmh"), 0.8 * G)


@pytest.fixture(scope="module")
def found():
    few = tuple(one for one in BY.values() if one.field in ("height", "bar"))
    wanted = to_the_reference(few, LEVEL, FIGURES)
    return ranked_in_corner(BASE, Ask("forgiven"), wanted, RIGHT)


@pytest.mark.analytic
def test_the_measures_are_the_librarys_in_the_worse_turn():
    high = put(BASE.setup, "rear.height", BASE.setup.rear.height + 0.02)
    before, after = measured(BASE.car, [BASE.setup, high], RIGHT, "forgiven")
    exact = float(forgiven_speed(BASE.car, high, Corner(radius=60.0, turn="right"), HOLDS).speed)
    assert after == pytest.approx(exact, abs=to_si(0.3, "kmh"))  # each is sought to 0.2 km/h
    assert abs(before - exact) > to_si(0.3, "kmh")
    hands = measured(BASE.car, [BASE.setup, high], OwnCorner(60.0, "left"), "hands")
    assert hands[0] == pytest.approx(float(hands_still_limit(BASE.car, BASE.setup, 60.0, Corner().lift).limit))
    uneven = put(BASE.setup, "rear.height_difference", 0.012)
    ways = [float(hands_still_limit(BASE.car, uneven, 60.0, Corner().lift, sign).limit) for sign in (1.0, -1.0)]
    assert abs(ways[0] - ways[1]) > 0.05 * G
    assert measured(BASE.car, [uneven], CORNER, "hands")[0] == pytest.approx(min(ways))


def test_the_ranking_in_the_drivers_corner_is_what_each_setting_does(found):
    reach = [one.reach for one in found if one.end is not None]
    assert reach == sorted(reach, reverse=True)
    assert found[0].lever.path == "rear.height"  # it is the low tail
    there = [turned(BASE.setup, {one.lever.path: one.way * one.room}) for one in found[:2]]
    now, *then = measured(BASE.car, [BASE.setup, *there], RIGHT, "forgiven")
    for one, value in zip(found[:2], then, strict=True):
        assert from_si(value - now, "kmh") == pytest.approx(one.reach, abs=0.3)
        assert one.lever.low - 1e-9 <= one.lever.now + one.way * one.room <= one.lever.high + 1e-9


def test_the_corner_is_the_one_of_the_scare():
    own = own_corner({"corner": "the long right, turning right", "speed": "75 km/h"})
    assert own.turns == ("right",)
    assert own.radius == 5 * round((75 / 3.6) ** 2 / (0.8 * G) / 5)
    assert "yours: 75 km/h" in own.words("right")
    assert own_corner({}) == OwnCorner()
    assert own_corner({"corner": "chicane, turning left and right"}).turns == ("left", "right")


def test_going_back_to_the_reference_is_never_spoken_against(found):
    told = {one.lever.path: against(one, LEVEL, FIGURES) for one in found}
    assert told["rear.height"] == ""
    for path in ("front.height", "rear.height"):
        due = float(getattr(LEVEL, path.split(".")[0]).height)
        assert reason(BY[path], due, LEVEL, FIGURES) == ""
        past = due + 0.005 * np.sign(due - BY[path].now)
        assert reason(BY[path], past, LEVEL, FIGURES) == "beyond the reference"
        back = BY[path].now - 0.005 * np.sign(due - BY[path].now)
        assert reason(BY[path], back, LEVEL, FIGURES) == "more nose-high"
    out = BY["rear.toe"].now - to_si(0.1, "deg")
    there = float(LEVEL.rear.toe) > BY["rear.toe"].now
    assert (reason(BY["rear.toe"], out, LEVEL, FIGURES) == "toward rear toe-out") == there


def test_a_reference_without_a_figure_for_toe_bounds_no_toe_in():
    bare = replace(FIGURES, values={k: v for k, v in FIGURES.values.items() if "toe" not in k})
    lever = BY["rear.toe"]
    assert reason(lever, lever.now + to_si(0.1, "deg"), LEVEL, bare) == ""
    assert reason(lever, lever.now - to_si(0.1, "deg"), LEVEL, bare) == "toward rear toe-out"


def test_accepted_settings_have_no_way_that_something_is_against():
    for name in examples.example_names():
        file = examples.load_example(name)
        base = baseline(file.car, file.setup)
        level, figures = reference_of(file).setup, file.known.figures
        for one in accepted(levers(base.car, base.setup), level, figures):
            for there in (one.low, one.high):
                assert reason(one, there, level, figures) == ""
        kept = {one.path for one in accepted(levers(base.car, base.setup), level, figures)}
        assert {"front.bar", "front.spring", "rear.pressure"} <= kept  # of these a reference says nothing


@pytest.fixture(scope="module")
def coupes(tmp_path_factory):
    """The request panel of a car that all its tests turn from where it starts."""
    with made_once(tmp_path_factory.mktemp("cars")):
        return request.panel(examples.load_example("coupe"))


class Promised:
    """A promise in words of its own, and what it was asked of."""

    def __call__(self, *given):
        self.given = given
        return SimpleNamespace(words=("In your corner, 71 km/h as asked.",), gain="1 km/h more", little=False)


def test_a_request_stays_within_the_reference_unless_it_is_asked_for(coupes, monkeypatch):
    desk, asked = coupes, Promised()
    monkeypatch.setattr(desk, "_promised", asked)
    desk.panel.set_all(desk.panel.controls.first | {"request": "amount", "amount": 3.0})
    words = unescape(desk.panel.words_html.value)
    assert "height" not in words.partition("What it costs")[0].partition("Change")[2]
    assert "asked for, though" not in words
    assert "71 km/h as asked" in words  # in the driver's measure
    base, then = desk.bench.base, desk.panel.result.answer.version.setup
    assert asked.given == (base.car, base.setup, then, OwnCorner())
    assert then != base.setup
    desk.panel.set("beyond", True)
    found = desk.panel.result
    for path, step in found.answer.steps.items():
        if path == "front.height" and step > 0:
            assert "Front ride height is asked for, though more nose-high." in unescape(desk.panel.words_html.value)
    assert found.marks


@pytest.mark.parametrize(
    ("name", "goal"),
    [
        ("coupe", "growth"),
        *(
            pytest.param(*one, marks=pytest.mark.slow)
            for one in (("low-two-seater", "gap"), ("low-two-seater", "growth"), ("coupe", "gap"))
        ),
    ],
)
def test_no_answer_takes_from_the_end_that_holds_longer_unless_it_is_asked_for(name, goal, coupes, monkeypatch):
    """Each answer is asked anew: limits of both ends, before and after, from the library and not from the panel."""
    file = examples.load_example(name)
    desk = coupes if name == "coupe" else request.panel(file)
    monkeypatch.setattr(desk, "_promised", Promised())
    asked = {"request": "amount", "amount": 8.0, "goal": goal, **dict.fromkeys(KINDS, True)}
    desk.panel.set_all(desk.panel.controls.first | asked)
    level, figures = reference_of(file).setup, file.known.figures
    found = desk.panel.result
    base = baseline(file.car, file.setup)
    by = {one.path: one for one in levers(base.car, base.setup)}

    def lost(answer):
        both = compare([base, answer.version], *HERE, ("lift",))
        worse = both.worse("lift").limit[:, :, 0] / G
        good = int(np.argmax(worse[:, 0]))
        return float(worse[good, 0] - worse[good, 1])

    astray = {path: step for path, step in found.answer.steps.items()
              if not returns(by[path], by[path].now + step, level, figures)}  # fmt: skip
    for path, step in astray.items():
        assert reason(by[path], by[path].now + step, level, figures) == ""
    if astray and not set(found.answer.steps) - set(astray):
        assert lost(found.answer) < 2 * LITTLE  # bounded to first order
    desk.panel.set("beyond", True)
    found, words = desk.panel.result, unescape(desk.panel.words_html.value)
    assert found.answer.steps
    if lost(found.answer) > 1.2 * LITTLE:
        assert "Asked for, though it takes" in words


def test_what_spares_the_good_end_is_bounded_by_it_and_the_way_back_is_not():
    wanted = tuple(one for path, one in BY.items() if path in ("front.bar", "rear.bar", "rear.height"))
    kept = {one.path: one for one in sparing(BASE, Ask("gap"), wanted, LEVEL, FIGURES)}
    assert kept["rear.height"].high == BY["rear.height"].high  # back up to the reference and the bounds above it
    for path in ("front.bar", "rear.bar"):
        one = kept.get(path)
        if one is None:
            continue
        for there in (one.low, one.high):
            pair = compare([BASE, Version("", BASE.car, turned(BASE.setup, {path: there - one.now}))], *HERE, ("lift",))
            assert loss(pair.worse("lift"))[1] < 1.5 * LITTLE
    cut = [path for path in ("front.bar", "rear.bar") if path not in kept or
           (kept[path].low, kept[path].high) != (BY[path].low, BY[path].high)]  # fmt: skip
    assert cut  # a bar moves grip from one end to the other
    assert sparing(BASE, Ask("gap"), (), LEVEL, FIGURES) == ()


def test_the_panel_ranks_by_what_the_driver_meets(monkeypatch):
    """Of two settings: what all of them do is the ranking's own test."""
    monkeypatch.setattr(helps, "levers", lambda *given: [one for one in levers(*given) if one.field == "height"])
    desk = helps.panel(FILE)
    assert desk.panel.state["goal"] == "hands"  # nobody has said which corner
    visit = {"corner": "the long right, turning right", "speed": "75 km/h"}
    told = helps.panel(replace(FILE, path=None, known=replace(FILE.known, visit=visit)))
    if told.bench is desk.bench:  # the same text is the same car: ask the maker itself
        told.bench.file = replace(FILE, known=replace(FILE.known, visit=visit))
        told = helps.HelpDesk(told.bench)
    assert told.panel.state["goal"] == "forgiven"
    words = unescape(told.panel.words_html.value)
    assert "a 55 m right-hander (yours: 75 km/h at about 0.8 g)" in words
    assert "gain from it [km/h]" in words


@pytest.mark.analytic
def test_the_loss_of_the_end_that_holds_longer_is_counted_from_its_own_limit():
    """Front lets go at 1.10, then 1.07 g; rear at 1.04, then 1.09 g: the front held longer, and lost 0.03 g."""
    limit = G * np.array([[1.10, 1.07], [1.04, 1.09]])[:, :, None]
    end, lost = loss(SimpleNamespace(limit=limit, phases=("lift",)))
    assert end == "front"
    assert lost == pytest.approx(0.03)
    end, lost = loss(SimpleNamespace(limit=limit[::-1], phases=("lift",)))
    assert (end, round(lost, 9)) == ("rear", 0.03)
