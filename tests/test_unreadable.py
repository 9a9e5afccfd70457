"""A folder that cannot be read is not an empty one: wherever it is read a message of its own says why, and all goes on.

Played by an error of the system (a test that runs as root may read everything) and by a plain file in its place.
"""

import os

import ipywidgets as widgets
import pytest
from many_days import short_days
from undrawn import undrawn

from vdlib.car import examples, shelf, store
from vdlib.panels import as_left, did_it_work, measure, page, start, whatif
from vdlib.panels.which import Which
from vdlib.setup import saved

NO = "cannot be read"
FILE = examples.load_example("hatch")


@pytest.fixture(params=["refused", "a file", "a dead link"])
def barred(request, tmp_path, monkeypatch):
    """A folder of cars, and one of what-ifs, that cannot be listed."""
    undrawn(monkeypatch)
    short_days(monkeypatch, visit=False)
    place = tmp_path / "cars"
    monkeypatch.setenv(shelf.VARIABLE, str(place))
    if request.param == "a file":
        place.write_text("not a folder")
    elif request.param == "a dead link":
        place.symlink_to(tmp_path / "gone")
    else:
        place.mkdir()
        listing = os.listdir

        def refuse(folder):
            if str(folder).startswith(str(place)):
                raise PermissionError(13, "Permission denied")
            return listing(folder)

        monkeypatch.setattr(os, "listdir", refuse)
    return request.param


def words_of(box):
    inside = getattr(box, "children", ())
    return str(getattr(box, "value", "")) + "".join(words_of(one) for one in inside)


def test_a_folder_that_is_not_there_yet_is_no_fault(tmp_path):
    assert store.unread(tmp_path / "none yet") == ""
    assert store.unread(tmp_path) == ""


def test_the_chooser_says_so_and_shows_an_example(barred):
    chooser = Which(lambda file: widgets.HTML(file.car.name), path="")
    assert NO in chooser.message.value
    assert "The saved cars cannot be listed" in chooser.message.value
    assert chooser.file.path is None
    chooser.list.value = ("example", "coupe")
    assert chooser.message.value == ""
    chooser.again.click()
    assert NO in chooser.message.value


def test_the_start_page_says_so(barred):
    assert NO in words_of(start.choose())


def test_the_form_says_so(barred):
    assert NO in measure.Form().message.value


@pytest.mark.parametrize("maker", [whatif.panel, page.panel, as_left.panel, did_it_work.panel])
def test_what_lists_saved_what_ifs_says_so(maker, barred, tmp_path, monkeypatch):
    if barred == "a dead link":
        pytest.skip("the folder of a car's what-ifs lies in the dead link's: it is not there yet")
    monkeypatch.setattr(saved, "whatif_folder", lambda file: shelf.folder())
    desk = maker(FILE)
    assert NO in words_of(desk.show())
