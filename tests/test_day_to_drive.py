"""While the number of an invented day moves, the day is said to be driven, and nothing of another day is seen."""

import re

import pytest
from many_days import short_days
from undrawn import undrawn
from unpainted import unpainted

from vdlib.car import examples, shelf
from vdlib.draw.evidence import ALT, WAITING, EvidencePicture
from vdlib.panels import day_sessions, did_it_work
from vdlib.panels.base import ROUGH, STILL
from vdlib.panels.daywords import DAY, SAFE, is_driven

VISIT, CLEAR, *_ = day_sessions.INVENTED


@pytest.fixture
def desk(tmp_path, monkeypatch):
    monkeypatch.setenv(shelf.VARIABLE, str(tmp_path / "my-cars"))
    short_days(monkeypatch, visit=False)
    return did_it_work.panel(examples.load_example("two-seater"))


def seen(desk):
    """What is to be seen and read: words, picture, its words, parts of the picture, boxes to tick."""
    panel, view = desk.panel, desk.view
    parts = [axes.get_visible() for axes in (view.laps, view.spans, view.speed, view.parts)]
    boxes = re.sub("<[^>]*>", "", desk.laps_out.box.children[0].value)
    return panel.words_html.value, bytes(panel.image.value), panel.frame._alt.value, parts, boxes


@pytest.mark.parametrize("painted", [False, pytest.param(True, marks=pytest.mark.slow)])
def test_while_its_number_moves_a_day_is_to_be_driven_and_at_rest_it_is(painted, request, clock, monkeypatch):
    if not painted:  # what the artists are set to is compared, not their pixels
        unpainted(monkeypatch)
    desk = request.getfixturevalue("desk")
    panel = desk.panel
    desk.panel.set("laps_from", CLEAR)
    start = seen(desk)
    met = []
    for number in (2, 3):
        panel.controls["number"].value = number
        words, picture, alt, parts, boxes = seen(desk)
        day = day_sessions.Coming(CLEAR, number)
        assert panel.result == day
        assert words.startswith(f"<b>{ROUGH}{DAY}: {is_driven(day)}</b>")
        assert "5 % more sideways acceleration" in words
        assert SAFE in words
        assert alt == WAITING
        assert not any(parts)
        assert boxes == is_driven(day)
        assert not desk.laps_out.ticks
        met.append(picture)
    assert len({*met, start[1]}) == 3  # the day's number is in the picture
    clock.strike(STILL)
    there = seen(desk)
    assert there[2] != WAITING
    assert all(there[3])
    assert ROUGH not in there[0]
    assert panel.result.day.truth == did_it_work.invented(CLEAR, 3).truth
    assert set(desk.laps_out.ticks) == {run.session.name for run in panel.result.day.runs}
    panel.set("number", 1)
    assert seen(desk) == start  # nothing is left of the days between, to the last pixel
    assert there[1] != start[1]
    assert ALT.startswith(start[2][:40])


def test_what_is_known_already_is_not_said_to_be_rough(request, clock, monkeypatch):
    undrawn(monkeypatch)
    panel = request.getfixturevalue("desk").panel
    for name, value in (("felt_before", 4), ("corner", 2)):
        panel.controls[name].value = value
        assert ROUGH not in panel.words_html.value
    panel.controls["laps_from"].value = CLEAR  # chosen once, not slid through
    assert ROUGH not in panel.words_html.value
    assert panel.result.day.made_of


@pytest.mark.parametrize("kind", list(day_sessions.INVENTED))
def test_what_is_put_in_is_said_before_the_day_is_driven_as_after(kind, monkeypatch):
    short_days(monkeypatch)
    assert day_sessions.Coming(kind, 1).made_of == did_it_work.invented(kind, 1).made_of


def test_what_was_drawn_is_hidden_while_a_day_is_driven_and_comes_back():
    view, fresh = EvidencePicture(), EvidencePicture()
    before = view.picture.render()
    view.wait("being driven")
    fresh.wait("being driven")
    assert view.picture.render() == fresh.picture.render() != before
    view.wait("")
    assert view.picture.render() == before
