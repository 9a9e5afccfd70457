"""Random walks over the controls of every workbook's panels: nothing raises, picture and words stay in step.

They go in the other units, of which none of the usual ones may be left over; all other tests of panels go in those.
"""

import random

import ipywidgets as widgets
import numpy as np
import pytest
from driving import look
from matplotlib.colors import to_hex
from matplotlib.lines import Line2D
from panel_table import MAKE_AHEAD, moving, panels_of
from remembered import remember_dearest
from test_palette import SHAPE, WHITE, contrast
from test_units_everywhere import US, seen_in
from unpainted import prints

from vdlib.car import examples
from vdlib.draw.live import POINT
from vdlib.shown import Choice, use

MAKERS = moving()
CARS = examples.example_names()
SEED = 3
QUIET = {WHITE.lower(), "#dddddd"}  # white edges on dark shapes, and the grid


def test_the_workbooks_have_panels():
    assert {"closings_film.BY_HAND", "weight.parts", "lift.asked"} <= set(MAKERS)
    assert len(MAKERS) > 30
    assert panels_of(MAKERS["closings_film.BY_HAND"], examples.load_example(examples.FIRST))  # folded ones too


OWN = "a log of my own"


def somewhere(control, chance, near=0.5):
    """A value that a user could give this control, or None for one that is typed into; near its own by this chance."""
    if isinstance(control, widgets.Checkbox):
        return not control.value
    if isinstance(control, widgets.FloatSlider):
        steps = round((control.max - control.min) / control.step)
        close = round((control.value - control.min) / control.step) + chance.choice([-1, 1, -5, 5])
        step = close if 0 <= close <= steps and chance.random() < near else chance.randint(0, steps)
        return min(round(control.min + step * control.step, 9), control.max)
    if isinstance(control, widgets.IntSlider):
        return chance.randint(control.min, control.max)
    if hasattr(control, "options") and control.options:
        options = [option[1] if isinstance(option, tuple) else option for option in control.options]
        options = [option for option in options if option != OWN]  # a walk has no file of its own
        return chance.choice([option for option in options if option != control.value] or options)
    return None


def walk(panel, moves, chance):
    """Move all controls at once, each slider by a few steps, then one after another, now and then back to the start.

    Of a single move, three controls. Give how often the panel had a result.
    """
    question = getattr(panel, "question", None)
    kept = Kept(panel)
    kept.check("at the start")
    if question is not None:
        question.answer.value = chance.choice(list(question.answer.options))
    together = {name: somewhere(control, chance, near=1.0) for name, control in panel.controls.items()}
    together = {name: value for name, value in together.items() if value is not None}
    if moves == 1:  # another invented day takes a second: the long walks drive it
        some = sorted(together.keys() - {"number"})
        some = chance.sample(some, min(3, len(some)))
        together = {name: together[name] for name in some}
    panel.set_all(together)
    shown = not look(panel).message
    kept.check("all controls moved at once")
    left = []
    for _ in range(moves - 1):
        left = left or chance.sample(list(panel.controls.items()), len(panel.controls))  # each before one comes again
        name, control = left.pop()
        value = somewhere(control, chance)
        if chance.random() < 0.02:
            panel.reset()
        elif value is not None:
            panel.set(name, value)
        shown += not look(panel).message
        kept.check(f"{name} = {value}")
    return shown


class Kept:
    """The backgrounds that a panel's picture keeps, each with what its still artists were set to when painted."""

    def __init__(self, panel):
        self.panel, self.told = panel, {}

    def check(self, where):
        """The background last drawn on must be one painted of what stands still now."""
        if self.panel.picture is None or self.panel.message:
            return
        now, kept = prints(self.panel.picture.figure)[1], list(self.panel.picture._kept.values())
        self.told = {id(one): self.told[id(one)] for one in kept if id(one) in self.told}
        _, painted = self.told.setdefault(id(kept[-1]), (kept[-1], now))  # held, so that no other takes its id
        assert painted == now, f"{where}: an old background"


def walk_all(name, car, moves, seed):
    chance = random.Random(seed)
    every = widgets.widget._instances
    before = set(every)
    panels = panels_of(MAKERS[name], examples.load_example(car))
    assert panels
    for panel in panels:
        first = look(panel)
        assert not panel.message, f"{name} starts with a message: {panel.message}"
        left = seen_in([panel], [every[key] for key in set(every) - before])
        shown = walk(panel, moves, chance)
        left |= seen_in([panel], [every[key] for key in set(every) - before])
        assert left == set()
        assert shown > 0.2 * moves, f"{name} with {car}: only {shown} of {moves} states could be shown"
        panel.reset()
        last = look(panel)
        assert last.words == first.words or panel.question is not None
        assert last.picture == first.picture, f"{name} with {car}: not the picture it began with"
    return panels


@pytest.fixture(autouse=True)
def own_folder(tmp_path, monkeypatch):
    """Whatever a panel saves goes to a folder of the test's, and it speaks the other units."""
    monkeypatch.setenv("VDLIB_CARS", str(tmp_path / "my-cars"))
    monkeypatch.chdir(tmp_path)
    use(US)
    yield
    use(Choice())


DEAR = ("did_it_work.panel", "what_happened.panel", "request.panel", "split.panel", "how_sure.panel", "lift.asked")
"""What takes some tenths of a second a move, and is driven to the ends of its controls by a test of its own."""


@pytest.fixture
def remembered(monkeypatch):
    """What several panels ask of the core about one car is worked out once; no panel may write into an answer."""
    remember_dearest(monkeypatch)


@pytest.mark.usefixtures("remembered")
@pytest.mark.parametrize("name", MAKERS)
def test_a_short_walk_keeps_every_panel_in_step(name):
    car = CARS[list(MAKERS).index(name) % len(CARS)]
    panels = walk_all(name, car, 1 if name in DEAR else 2, SEED)
    assert any(panel._ahead is not None for panel in panels) == bool(MAKE_AHEAD.match(name))
    for panel in panels:
        if panel.picture is not None:  # what moves is there now: no line of it is too faint on white
            lines = [a for a in panel.picture.figure.findobj(Line2D) if a.get_visible() and a.get_linestyle() != "None"]
            drawn = {to_hex(a.get_color()) for a in lines if a.get_linewidth() > 0 and len(a.get_xdata()) > 1} - QUIET
            assert [colour for colour in drawn if contrast(colour, WHITE) < SHAPE] == []
            whole, kept = in_one_draw(panel.picture)
            assert np.array_equal(whole, kept), "not what matplotlib draws"


def in_one_draw(picture):
    """What stands still as matplotlib draws it at once, and as it was painted in pieces and kept."""
    picture.figure.set_dpi(POINT * picture.scale)
    picture.canvas.draw()
    whole = np.array(picture.canvas.buffer_rgba())
    picture.canvas.restore_region(list(picture._kept.values())[-1])
    return whole, np.array(picture.canvas.buffer_rgba())


@pytest.mark.slow
@pytest.mark.parametrize("car", CARS)
@pytest.mark.parametrize("name", MAKERS)
def test_a_walk_of_500_moves_keeps_every_panel_in_step(name, car):
    walk_all(name, car, 500, f"{SEED} {name} {car}")
