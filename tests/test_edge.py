"""Three ends of what a corner forgives: a slide, the grip, the last speed tried; told the same way everywhere."""

import re
from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from drawn_cars import FILES, batch, picked

from vdlib.answers import film_words, forgiven
from vdlib.answers.corner import HOLDS, Corner
from vdlib.answers.difference import Band
from vdlib.answers.edge import By, Edge, note
from vdlib.answers.film import film, states_between, states_of
from vdlib.answers.forgiven import SLIDE, forgiven_speed
from vdlib.answers.margins import margins
from vdlib.answers.stacking import stack
from vdlib.car.reference import reference_of
from vdlib.draw.stage_layout import beyond, title
from vdlib.panels import difference, reasons
from vdlib.setup.driven import OwnCorner
from vdlib.setup.promised import promise
from vdlib.shown import Choice, retold
from vdlib.units import from_si, to_si

pytestmark = pytest.mark.unpainted

CARS = ((0, 0), (0, 15), (1, 0), (2, 10), (3, 10), (4, 0), (4, 10))
"""Seed and place of drawn cars: a slide or the grip ends them, at the reference, as they are, or both."""
MARK = " (grip ends first)"


@cache
def drawn(seed, place):
    """A drawn car as a car file."""
    file = FILES[seed % len(FILES)]
    car, setup = (picked(one, place) for one in batch(seed, 0.03, 60)[:2])
    return replace(file, car=car, setup=setup, text=f"{file.text}# {seed} {place}")


@cache
def filmed(seed, place):
    file = drawn(seed, place)
    return film(states_of(file.car, file.setup, reference_of(file)))


def calm(file):
    """Its setup with bars that ask more of the front."""
    front = replace(file.setup.front, bar=4.0 * float(file.setup.front.bar) + 2e4)
    return replace(file.setup, front=front, rear=replace(file.setup.rear, bar=0.0))


@cache
def beside_calm(seed, place):
    file = drawn(seed, place)
    return film(states_between((file.car, file.setup), (file.car, calm(file)), ("as it stands", "the what-if")))


def told(edge):
    return f"{from_si(edge.speed, 'kmh'):.1f} km/h{MARK if edge.by is By.GRIP else ''}"


@pytest.mark.analytic
def test_each_kind_is_what_single_speeds_say():
    """A slide passes the angle there and no sooner; where the grip ends no corner is held there, and no sooner."""
    seen = set()
    for seed, place in CARS:
        for found in (filmed(seed, place), beside_calm(seed, place)):
            at = found.speeds[None] >= found.forgiven[:, None] - 1e-9
            slides, gone = found.slide.max(axis=0) > SLIDE, found.ends <= 0
            for k, by in enumerate(found.by):
                seen.add(by)
                first = np.flatnonzero(at[k])[:1]  # faster ones may be forgiven again
                before = ~at[k]
                assert not (slides[k] & ~gone[k])[before].any()
                assert not gone[k][before].any()
                assert gone[k][first].all() if by is By.GRIP else (slides[k] | gone[k])[first].all()
    assert seen == {By.SLIDE, By.GRIP}


@pytest.mark.analytic
def test_a_search_ends_where_something_ends_it():
    """Also where wings hold a car far beyond the speed at which its grip was thought to end."""
    for seed, place in ((0, 10), (3, 36), (4, 22)):
        car, setup = (picked(one, place) for one in batch(seed, 0.05, 60)[:2])
        found = forgiven_speed(car, setup, Corner(400.0, lift=0.05), HOLDS)
        assert found.passes | found.grip_ends | (found.speed >= to_si(339.9, "kmh"))


def test_no_two_kinds_are_told_alike():
    one = {by: Edge(to_si(80.0, "kmh"), by) for by in By}
    assert len({edge.told for edge in one.values()}) == 3
    assert one[By.GRIP].told == f"80.0 km/h{MARK}"
    assert [bool(note(edge)) for edge in one.values()] == [by is By.GRIP for by in By]
    slow = Edge(to_si(76.4, "kmh"), By.SLIDE)
    assert [slow.change(edge) for edge in one.values()] == ["3.6 km/h more", "3.6 km/h more", "at least 3.6 km/h more"]
    assert one[By.GRIP].change(slow) == "3.6 km/h less"


@pytest.mark.parametrize("make", [filmed, beside_calm])
def test_the_films_verdict_follows_the_numbers_of_every_kind(make):
    kinds = set()
    for at in CARS:
        found = make(*at)
        first, now, half = (found.edge(key) for key in ("reference", "now", "foot"))
        kinds.add((first.by, now.by))
        said, gain = film_words.verdict(found), -film_words.lost(found, "now")
        assert gain == pytest.approx(from_si(now.speed - first.speed, "kmh"))
        if make is filmed and film_words.culprit(found) is not None:
            assert now.slides
            assert gain < 0
            assert (told(first) in said) == (not first.slides)
        else:
            assert f": up to {told(now)} against {told(first)}" in said
            more, less, alike = (word in said for word in (" more than ", " less than ", "as much as "))
            much = abs(gain) >= film_words.LITTLE
            assert (more, less, alike) == (much and gain > 0, much and gain < 0, not much)
            assert not much or f" {abs(gain):.1f} km/h " in said
        gives = from_si(half.speed - now.speed, "kmh")
        assert ("Lifting half as far" in said) == (gives >= film_words.LITTLE - 1e-6)
        if gives >= film_words.LITTLE:
            assert re.search(rf"Lifting half as far \D+{gives:.1f} km/h(?: back)?{re.escape(half.mark)}\.", said)
        assert ("cannot hold this corner at all" in said) == (MARK in said)
        assert "as as" not in said
        for k in range(len(found.states)):
            for v in (0, found.own, len(found.speeds) - 1):
                out = film_words.furthest(found, k, v)
                assert (out == "past its grip") == (found.ends[k, v] <= 0)
                assert (
                    film_words.sentence(found, k, v).count("past its grip")
                    == (found.ends[sorted({0, k}), v] <= 0).sum()
                )
    assert {By.SLIDE, By.GRIP} == {now for _, now in kinds}
    assert len(kinds) >= 3


def test_the_strip_says_which_kind_ends_each_bar():
    for at in CARS:
        found = filmed(*at)
        assert beyond(found) == ("past its grip" if found.by[0] is By.GRIP else "the tail comes round")
        assert ("grip" in title(found)) == (By.GRIP in found.by)


def test_car_and_foot_are_set_side_by_side_whatever_ends_them():
    ways = set()
    for at in CARS:
        found = filmed(*at)
        said = reasons.foot_words(found)
        first, now, half = (found.edge(key) for key in ("reference", "now", "foot"))
        car, foot = (from_si(edge.speed - now.speed, "kmh") for edge in (first, half))
        if abs(car) >= film_words.LITTLE:
            assert f"{abs(car):.1f} km/h{' less' if car < 0 else ''}{first.mark}; lifting" in said
        if abs(foot) < 0.05:
            assert "half as far adds nothing." in said
        else:
            assert f"half as far {'adds' if foot > 0 else 'costs'} {abs(foot):.1f} km/h{half.mark}." in said
        assert (f"forgiven up to {told(now)}" in said) == (not now.slides)
        assert "nothing to set side by side" not in said
        ways.add((abs(foot) < 0.05, now.by))
    assert len(ways) >= 2


def test_the_margin_bars_mark_each_row_with_what_ends_it():
    seen = set()
    for at in ((1, 0), (2, 10), (0, 15)):
        file = drawn(*at)
        found = margins(file.car, file.setup, reference_of(file), Corner(), HOLDS)
        assert found.now == filmed(*at).edge("now")  # one corner, one figure
        said = re.sub("<[^>]*>", "", reasons.margin_words(found))
        assert f"Now this corner is forgiven up to {told(found.now)}." in said
        for row in found.rows:
            seen.add((row.edge.by, row.gained > 0))
            assert row.gained == pytest.approx(row.edge.speed - found.now.speed)
            if f"{row.name}, " in said:
                assert f"{row.name}, {from_si(row.gained, 'kmh'):+.1f} km/h{row.edge.mark}." in said
        best = max(row.gained for row in found.rows if row.owner == "car" and not row.fitted)
        assert ("No setting alone adds anything." in said) == (best < to_si(0.05, "kmh"))
        assert ("cannot hold this corner at all" in said) == (MARK in said)
    assert len(seen) == 4
    still = replace(found, rows=tuple(replace(row, gained=min(row.gained, 0.0)) for row in found.rows))
    said = reasons.margin_words(still)
    assert "Nothing you can do alone adds anything. No setting alone adds anything." in said


def test_a_promise_tells_both_ends_and_their_difference(monkeypatch):
    kinds, promised = set(), []
    for at in CARS:
        file = drawn(*at)
        found = promise(file.car, file.setup, calm(file), OwnCorner(turn="left", speed=to_si(200.0, "kmh")))
        promised.append(found)
        now, then = found.edges
        kinds.add((now.by, then.by))
        assert (now.speed, then.speed) == pytest.approx(tuple(beside_calm(*at).forgiven[:2]))
        said = " ".join(found.words)
        gain = from_si(then.speed - now.speed, "kmh")
        more = f"{abs(gain):.1f} km/h {'more' if gain > 0 else 'less'}" if abs(gain) > 0.01 else "as much as before"
        assert f"forgives up to {told(now)} now and {told(then)} as asked: {more}." in said
        assert ("still comes round" in said) == (then.by is By.SLIDE)
        assert ("cannot hold the corner at all: less speed" in said) == (then.by is By.GRIP)
        assert ("cannot hold this corner at all, lift or no lift" in said) == (By.GRIP in (now.by, then.by))
        assert "none" not in said
    assert len(kinds) >= 3
    monkeypatch.setattr("vdlib.shown._now", [Choice(speed="mph")])
    for found in promised:
        said = found.words[0]
        ends = [float(v) for v in re.findall(r"(?:to|and) (\d+\.\d) mph", retold(said))]
        apart = f"{abs(ends[1] - ends[0]):.1f} mph"
        assert ("as much as before" if apart == "0.0 mph" else apart) in said


def test_plausible_cars_whose_grip_ends_first_are_counted_and_said():
    speed = np.array([[20.0, 21.0, 22.0, 23.0], [19.5, 20.5, 22.5, 22.0]])
    ends = np.array([[True, True, True, False], [True, False, True, False]])
    said = difference.words(Band(speed, ends), Band(speed, ends | True))
    assert "Of 4 plausible cars like yours, 75 in 100 forgive less" in said
    assert "In 2 of these 4 the grip ends first in one of the two, before any slide." in said
    assert "grip ends" not in difference.words(Band(speed, ends | True), Band(speed, ends))


@pytest.mark.analytic
def test_another_angle_or_time_moves_the_examples_as_the_workbook_says(monkeypatch):
    def speeds(angle=10.0, within=4.0):
        monkeypatch.setattr(forgiven, "SLIDE", to_si(angle, "deg"))
        monkeypatch.setattr(forgiven, "WITHIN", within)
        pairs = [(file, reference_of(file)) for file in FILES]
        both = [(stack([one.car for one in pair]), stack([one.setup for one in pair])) for pair in pairs]
        return 3.6 * np.concatenate([forgiven_speed(*one, Corner(), HOLDS).speed for one in both])

    usual = speeds()
    angles = np.array([speeds(5.0), speeds(20.0)]) - usual
    assert np.abs(angles).max() == pytest.approx(1.4, abs=0.05)
    assert np.abs(np.array([speeds(within=3.0), speeds(within=6.0)]) - usual).max() <= 0.1 + 1e-6
    shorter = speeds(within=1.0) - usual
    assert shorter.min() > 1.0
    assert np.ptp(shorter) > 1.0
