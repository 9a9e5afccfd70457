"""On a page without code only the first part is made before the page is sent; the rest follows, and is the same."""

import pytest

from vdlib.car import shelf
from vdlib.panels import later, measure, nose_high, onscreen, turning_point, which

pytestmark = pytest.mark.unpainted


@pytest.fixture
def page(clock, monkeypatch):
    """A page without code, with a clock turned by hand."""
    monkeypatch.setenv("SERVER_SOFTWARE", "voila/0.5")
    monkeypatch.setattr(which, "clock_here", lambda: clock)
    return clock


def waits(chooser):
    return len(chooser.place.children) == 1 and getattr(chooser.place.children[0], "value", "") == later.WAITING


def names(chooser):
    return [type(one).__name__ for one in chooser.place.children]


def test_parts_are_made_in_their_order_once_the_page_is_seen(clock):
    made, due = [], later.Later()
    for part in "abc":
        due.add(clock, lambda part=part: made.append(part))
    due.seen()
    assert made == []
    assert clock.strike(later.PAUSE) == 3  # a pause before each
    assert made == list("abc")


def test_nothing_is_made_before_the_page_is_seen_and_what_comes_after_that_follows(clock):
    made, due = [], later.Later()
    due.add(clock, lambda: made.append("a"))
    assert clock.waiting(later.PAUSE) == []
    due.seen()
    clock.strike(later.PAUSE)
    due.add(clock, lambda: made.append("b"))
    clock.strike(later.PAUSE)
    assert made == ["a", "b"]


def test_a_part_that_breaks_does_not_keep_the_next_from_being_made(clock):
    made, due = [], later.Later()
    due.add(clock, lambda: 1 / 0)
    due.add(clock, lambda: made.append("b"))
    due.seen()
    with pytest.raises(ZeroDivisionError):
        clock.strike(later.PAUSE)
    clock.strike(later.PAUSE)
    assert made == ["b"]


def test_a_page_seen_when_nothing_is_due_is_no_fault(clock):
    due = later.Later()
    due.seen()
    due.seen()
    assert clock.waiting(later.PAUSE) == []


def test_the_first_part_is_made_at_once_and_the_next_says_that_it_comes(page):
    first, second = which.Which(nose_high.panel), which.Which(turning_point.panel)
    assert first.file is not None
    assert not waits(first)
    assert waits(second)
    assert "Being drawn" in later.WAITING
    onscreen.onscreen().later.seen()
    page.strike(later.PAUSE)
    assert second.file is not None
    assert not waits(second)
    assert not second.message.value
    assert names(second) == names(first)
    assert "vd-former" not in first.place._dom_classes


def test_after_the_form_even_the_leading_chooser_waits(page):
    measure.form()
    only = which.Which(nose_high.panel)
    assert only.leads
    assert waits(only)


def test_in_a_notebook_nothing_waits(clock, monkeypatch):
    monkeypatch.setattr(which, "clock_here", lambda: clock)
    monkeypatch.delenv("SERVER_SOFTWARE", raising=False)
    assert not any(waits(which.Which(maker)) for maker in (nose_high.panel, turning_point.panel))


def test_a_car_chosen_meanwhile_is_the_one_that_comes(page):
    first, second = which.Which(nose_high.panel), which.Which(turning_point.panel)
    apart = which.Which(turning_point.panel, path="coupe")
    first.list.value = ("example", "hatch")
    assert first.file.car.name == second.file.car.name  # brought along
    shown = second.place.children
    onscreen.onscreen().later.seen()
    page.strike(later.PAUSE)
    page.strike(later.PAUSE)
    assert second.place.children == shown  # and not made twice
    assert apart.file.car.name != first.file.car.name


def test_what_came_later_is_the_car_chosen_last(page, monkeypatch):
    first = which.Which(nose_high.panel)
    first.list.value = ("example", "hatch")
    second = which.Which(turning_point.panel)
    onscreen.onscreen().later.seen()
    page.strike(later.PAUSE)
    assert second.file.car.name == first.file.car.name


def test_a_saved_car_that_cannot_be_read_is_said_by_each_part(page, tmp_path, monkeypatch):
    monkeypatch.setenv(shelf.VARIABLE, str(tmp_path))
    (tmp_path / "blue.toml").write_text("this is no car")
    (tmp_path / ".open").write_text("blue")
    first, second = which.Which(nose_high.panel), which.Which(turning_point.panel)
    onscreen.onscreen().later.seen()
    page.strike(later.PAUSE)
    for one in (first, second):
        assert "An invented example is shown instead" in one.message.value
        assert not waits(one)
