"""What helps most: the ranking at every end, in the units and words of the trade, with what nobody would do marked."""

import re
from dataclasses import replace
from html import unescape

import numpy as np
import pytest
from cars import BRIEF_OR_SLOW
from driving import drive, look

from vdlib.car import examples, shelf
from vdlib.draw.style import SMALLEST, smallest_text
from vdlib.panels import helps, request
from vdlib.panels.helps import DIGITS
from vdlib.panels.onscreen import cleared
from vdlib.panels.request import AMOUNTS
from vdlib.setup.advice import GOALS, levers, turned
from vdlib.setup.candidate import Candidate, baseline
from vdlib.setup.driven import measured
from vdlib.setup.whatif import compare
from vdlib.units import number, to_si

pytestmark = pytest.mark.unpainted


@pytest.fixture(autouse=True)
def shelf_of_its_own(tmp_path, monkeypatch):
    monkeypatch.setenv(shelf.VARIABLE, str(tmp_path / "cars"))
    cleared()


FEW = (
    {"goal": "gap", "way": -1},
    {"goal": "growth", "phase": "brake", "start": "reference"},
    {"goal": "steering", "clearance": 140.0, "bar": 10.0},
)
"""A goal each, with what changes the ranking; walks move the controls further."""


@pytest.mark.parametrize(("name", "brief"), BRIEF_OR_SLOW)
def test_help_panel_at_every_end(name, brief):
    desk = helps.panel(examples.load_example(name))
    if brief:  # every run: what a setting does to the speed that is forgiven is asked in test_allowed.py
        visits = [look(desk.panel)]
        for change in FEW:
            desk.panel.set_all(desk.panel.controls.first | change)
            visits.append(look(desk.panel))
        desk.panel.reset()
    else:
        visits = drive(desk.panel, again=False)
    assert not [visit.message for visit in visits if visit.message]
    assert smallest_text(desk.panel.picture.figure) >= SMALLEST
    assert {visit.state["goal"] for visit in visits} == set(helps.EVERY) - ({"forgiven"} if brief else set())
    for visit in visits:
        shown = visit.result
        against = [bool(bad) for bad in shown.against]
        assert against == sorted(against)  # what something speaks against comes last
        assert f"First back to the reference, {shown.reference}" in unescape(visit.words)
        best = next((h for h, bad in zip(shown.helps, against, strict=True) if not bad and h.end is not None), None)
        if best and np.isfinite(best.reach) and round(best.reach, DIGITS[visit.state["goal"]]) > 0:
            beaten = any(
                bad and one.end is not None and one.reach > best.reach
                for one, bad in zip(shown.helps, against, strict=True)
            )
            advised = ", of what is advised" if beaten else ""
            assert f"Most help from {shown.start}{advised}: {best.lever.words}" in visit.words
    desk.panel.set("height", 40)
    wider = look(desk.panel)
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


def test_less_of_what_is_wanted_less_of_is_said_with_a_minus():
    """A car that turns more willingly has a lower limit gap: the versions compared anew say by how much."""
    desk = helps.panel(examples.load_example("coupe"))
    desk.panel.set_all({"goal": "gap", "way": -1})
    shown, words = desk.panel.result, unescape(desk.panel.words_html.value)
    best = shown.helps[0]
    base = desk.bench.base
    there = replace(base, setup=turned(base.setup, {best.lever.path: best.way * best.room}))
    ask = shown.ask
    gaps = [helps.value(compare([one], ask.speed, ask.lateral, (ask.phase,)), ask) for one in (base, there)]
    assert gaps[1] < gaps[0]
    told = f"{number(gaps[1] - gaps[0], 3, sign=True)} g"
    assert re.search(f"Most help from {shown.start}(, of what is advised)?: {best.lever.words}", words)
    assert f": {told}." in words
    assert desk.view.values[0].get_text().endswith(f": {told}")
    assert "so less of it" in words
    assert "change from it [g]" in words
    assert "gain" not in words


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


@pytest.mark.parametrize("whole", [False, pytest.param(True, marks=pytest.mark.slow)])
def test_a_step_of_better_by_is_explained(monkeypatch, whole):
    desk = request.panel(examples.load_example("two-seater"))
    if not whole:  # every run: as it is told while a control moves
        monkeypatch.setattr(desk.panel, "compute", desk.panel.rough)
    for goal in AMOUNTS:
        desk.panel.set_all({"request": "amount", "amount": 4.0, "goal": goal})
        size = f"{AMOUNTS[goal]:g}{helps.LABELS[goal]}"
        assert f"({4} × {size})" in desk.panel.words_html.value
        assert f"{size} of {GOALS[goal][0]}" in desk.panel.controls["amount"].tooltip
        answer = desk.panel.result.answer
        assert answer.target - answer.start == pytest.approx(4 * AMOUNTS[goal])


def test_another_speed_leaves_the_drivers_own_corner_as_it_was_and_asks_it_no_more(monkeypatch):
    asked = []
    monkeypatch.setattr(helps, "measured", lambda *given: asked.append(given[-1]) or measured(*given))
    panel = helps.panel(examples.load_example("low-two-seater")).panel
    first, many = panel.result, len(asked)
    panel.set("speed", panel.state["speed"] + 10)
    assert len(asked) == many == 2
    assert [one.reach for one in panel.result.helps] == [one.reach for one in first.helps]
    assert panel.result.ask.speed != first.ask.speed


@pytest.mark.parametrize(
    "state",
    [
        {},
        pytest.param({"request": "even"}, marks=pytest.mark.slow),
        pytest.param({"request": "amount"}, marks=pytest.mark.slow),
        pytest.param({"beyond": True, "phase": "brake"}, marks=pytest.mark.slow),
    ],
)
def test_a_first_guess_says_so_and_is_never_taken_over(state):
    desk = request.panel(examples.load_example("low-two-seater"))
    panel = desk.panel
    panel.set_all(state)
    whole, guessed = panel.result, panel.rough(panel.state)
    assert guessed.guessed
    assert not whole.guessed
    for name in ("start", "target"):
        assert getattr(guessed.answer, name) == pytest.approx(getattr(whole.answer, name), abs=1e-4)
    way = whole.answer.ask.way
    assert (guessed.answer.end - guessed.answer.start) * way >= 0.5 * (whole.answer.end - whole.answer.start) * way
    said = request.request_words(guessed)
    assert ("a first guess" in said) == (request.CORNER_WAITS in said) == bool(guessed.answer.steps)
    panel.result = guessed
    desk._take()
    assert panel.result.answer.steps == whole.answer.steps
    assert desk.bench.candidate.settings or not whole.answer.steps


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
