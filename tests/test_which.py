"""The car choosers of one notebook follow each other: no loops, no panel made twice, none kept alive, no car forced."""

import gc
import weakref
from collections import Counter
from itertools import chain

import ipywidgets as widgets
import pytest

from vdlib.car import examples, shelf
from vdlib.panels.base import Refused
from vdlib.panels.onscreen import onscreen
from vdlib.panels.which import Which

COUPE, HATCH = ("example", "coupe"), ("example", "hatch")


@pytest.fixture(autouse=True)
def a_notebook_of_its_own(tmp_path, monkeypatch):
    monkeypatch.setenv(shelf.VARIABLE, str(tmp_path / "cars"))


def makers(*names):
    """Makers that count what they make, and the count."""
    made = Counter()

    def maker(name):
        def make(file):
            made[name, file.car.name] += 1
            return widgets.HTML(f"{name}: {file.car.name}")

        return make

    return made, [maker(name) for name in names]


def name_of(source):
    return examples.load_example(source[1]).car.name


def test_all_show_the_car_that_one_of_them_opens_and_each_panel_is_made_once():
    made, (one, two, three) = makers("one", "two", "three")
    choosers = [Which(one), Which(two), Which(three)]
    opened = Counter()
    for chooser in choosers:
        chooser.place.observe(lambda _: opened.update(["shown"]), names="children")
    for leader, source in zip(choosers, (COUPE, HATCH, COUPE), strict=True):
        leader.list.value = source
        for chooser in choosers:
            assert chooser.list.value == source
            assert chooser.file.car.name == name_of(source)
            assert (name_of(source) in chooser.about.value) is chooser.leads  # the car is named once a page
            assert name_of(source) in chooser.place.children[0].value
    assert set(made.values()) == {1}  # coupe the second time is the kept one
    assert len(made) == 9
    assert opened["shown"] == 9  # each of three changes reaches each of three choosers once


def test_what_shows_the_former_car_is_marked_at_once_until_the_new_one_is_there():
    seen = []

    def slow(file):
        seen.append([("vd-former" in c.place._dom_classes, c._working.value) for c in choosers])
        return widgets.HTML(file.car.name)

    choosers = []
    choosers += [Which(slow), Which(lambda file: slow(file))]
    seen.clear()
    choosers[0].list.value = COUPE
    (first, later), name = seen, name_of(COUPE)
    assert all(old and f"Working on the new car, {name}" in told for old, told in first)
    assert not later[0][0]  # done, while the other is still being made
    assert later[1][0]
    for chooser in choosers:
        assert "vd-former" not in chooser.place._dom_classes
        assert (chooser._working.value, chooser._working.layout.display) == ("", "none")


def test_a_panel_comes_back_as_it_was_left():
    _, (one, two) = makers("one", "two")
    first, second = Which(one), Which(two)
    left = second.place.children[0]
    left.value = "moved by hand"
    first.list.value = COUPE
    assert second.place.children[0] is not left
    first.list.value = ("example", examples.FIRST)
    assert second.place.children[0] is left
    assert left.value == "moved by hand"


def test_a_file_and_a_car_saved_later_are_followed_too(tmp_path):
    _, (one, two) = makers("one", "two")
    first, second = Which(one), Which(two)
    file = examples.load_example("hatch")
    path = tmp_path / "elsewhere.toml"
    path.write_text(file.text)
    first.path.value = str(path)
    assert (second.path.value, second.file.path) == (str(path), path)
    for one in (first, second):  # the list names what is shown
        assert one.list.label == "elsewhere.toml (file)"
    first.path.value = ""
    assert first.list.value == second.list.value == ("example", examples.FIRST)
    assert all(kind != "file" for _, (kind, _) in first.list.options)
    first.path.value = str(path)
    shelf.save_car("blue one", file.car, file.setup, {}, file.text)
    first.again.click()  # reads the shelf anew as well
    first.list.value = ("saved", "blue one")
    assert second.list.value == ("saved", "blue one")
    assert first.path.value == second.path.value == ""
    shelf.car_path("blue one").write_text(file.text.replace("Example hatch", "Repainted hatch"))
    second.again.click()
    assert "Repainted hatch" in first.place.children[0].value


def test_what_cannot_be_read_is_said_where_it_was_chosen_and_the_others_stay(tmp_path):
    _, (one, two) = makers("one", "two")
    first, second = Which(one), Which(two)
    first.list.value = COUPE
    shown = [chooser.place.children for chooser in (first, second)]
    second.path.value = str(tmp_path / "missing.toml")
    assert "there is no such file" in second.message.value
    assert second.path.value == str(tmp_path / "missing.toml")  # stays, to be mended
    assert first.message.value == ""
    assert [chooser.place.children for chooser in (first, second)] == shown
    assert first.list.value == second.list.value == COUPE
    first.list.value = HATCH
    assert second.message.value == second.path.value == ""


def test_a_saved_car_that_cannot_be_read_leaves_the_list_at_the_car_shown():
    file = examples.load_example("hatch")
    shelf.save_car("blue", file.car, file.setup)
    shelf.make_open("")
    _, (one,) = makers("one")
    chooser = Which(one)
    shelf.car_path("blue").write_text("mass = nonsense")
    chooser.list.value = ("saved", "blue")
    assert 'role="alert"' in chooser.message.value
    assert chooser.list.value == ("example", examples.FIRST)
    shelf.car_path("blue").write_text(file.text)
    chooser.list.value = ("saved", "blue")  # can be chosen again once it is mended
    assert chooser.message.value == ""
    assert chooser.file.path == shelf.car_path("blue")


def test_a_panel_that_refuses_a_car_says_so_and_keeps_the_one_before():
    def wary(file):
        if file.car.name == name_of(HATCH):
            raise Refused("this panel needs rear drive")
        return widgets.HTML(file.car.name)

    _, (one, two) = makers("one", "two")
    first, second, third = Which(one), Which(wary), Which(two)
    first.list.value = HATCH
    assert "needs rear drive" in second.message.value
    assert "The car shown before stays" in second.message.value
    assert second.list.value == ("example", examples.FIRST)
    assert first.list.value == third.list.value == HATCH
    second.list.value = HATCH  # refused where it is chosen: the others are not asked
    assert first.message.value == third.message.value == ""


def test_a_cell_run_later_starts_with_the_car_that_the_others_show_until_another_is_opened():
    _, (one, two, three) = makers("one", "two", "three")
    first = Which(one)
    first.list.value = COUPE
    second = Which(two)
    assert second.list.value == COUPE
    file = examples.load_example("hatch")
    shelf.save_car("blue one", file.car, file.setup, {}, file.text)  # as the measuring workbook does
    third = Which(three)
    assert {chooser.list.value for chooser in (first, second, third)} == {("saved", "blue one")}


def test_a_chooser_with_a_path_stands_apart():
    _, (one, two) = makers("one", "two")
    first, apart = Which(one), Which(two, path="hatch")
    assert first.list.value == ("example", examples.FIRST)
    first.list.value = COUPE
    assert apart.list.value == HATCH
    apart.list.value = ("example", examples.FIRST)
    assert first.list.value == COUPE


def test_a_cell_run_again_takes_the_place_of_its_former_chooser():
    made, (one, two) = makers("one", "two")
    former, second = Which(one), Which(two)
    new = Which(one)
    second.list.value = COUPE
    assert new.list.value == COUPE
    assert former.list.value != COUPE
    assert made["one", name_of(COUPE)] == 1


def test_a_closed_chooser_is_forgotten():
    _, (one, two) = makers("one", "two")
    first, second = Which(one), Which(two)

    def within(widget):
        return [widget, *chain.from_iterable(within(child) for child in getattr(widget, "children", ()))]

    gone = weakref.ref(second)
    every = within(second.box)
    for widget in every:
        widget.unobserve_all()
        widget.close()
    del second, every, widget
    gc.collect(1)  # what was made just now is found by a short look, as a rule
    if gone() is not None:
        gc.collect()
    assert gone() is None
    assert onscreen().following == [first]
    first.list.value = COUPE
    assert first.file.car.name == name_of(COUPE)
