"""Panels moved from two threads at once: whole pictures of the last state, no dead-lock, and nobody waits long."""

import asyncio
import gc
import threading
import time
from concurrent.futures import Future, ThreadPoolExecutor

import ipywidgets as widgets
import pytest
from panel_table import moving, panels_of

from vdlib.car import examples
from vdlib.car.shelf import VARIABLE
from vdlib.draw.style import line, start
from vdlib.draw.turn import LONGEST, TURN, Turn
from vdlib.panels import ends_and_middle, next_steps, slider
from vdlib.panels.base import ROUGH, Panel, roughly
from vdlib.panels.onscreen import cleared

MAKERS = moving()
MOVES = 2


@pytest.fixture(autouse=True)
def cars_of_its_own(monkeypatch, tmp_path):
    monkeypatch.setenv(VARIABLE, str(tmp_path / "my-cars"))


def live(name):
    """The panels of one cell that have a kept picture and a slider, with their sliders."""
    for panel in panels_of(MAKERS[name], examples.load_example("coupe")):
        sliders = [c for c in panel.controls.values() if isinstance(c, widgets.FloatSlider) and not c.disabled]
        if panel.picture is not None and sliders:
            yield panel, sliders


async def moved(control, rests):
    """Move one slider to and fro as a held key does, with the timers of this thread's own clock in between."""
    for _ in range(MOVES):
        step = next_steps(control, control.value - control.step, 1)
        control.value = step[0]
        await asyncio.sleep(rests)


LOCKED = 120
"""What lasts longer than this is a dead-lock [s]; a machine under load is slow, but not so slow."""


def until(true):
    """Wait until something that another thread does has happened."""
    end = time.monotonic() + LOCKED
    while not true():
        assert time.monotonic() < end
        time.sleep(0.001)


def together(*works):
    """Run each in a thread of its own, all at once; an error or a dead-lock in one of them is raised."""
    outcome = [Future() for _ in works]

    def run(work, told):
        try:
            told.set_result(work())
        except BaseException as fault:
            told.set_exception(fault)

    for work, told in zip(works, outcome, strict=True):
        threading.Thread(target=run, args=(work, told), daemon=True).start()  # a dead-lock must not keep the test alive
    for told in outcome:
        told.result(timeout=LOCKED)


IN_EVERY_RUN = ("whatif.panel", "words.panel")
"""Made ahead and rough while it moves; with texts for words. All take turns by the same frame."""
NAMES = [name if name in IN_EVERY_RUN else pytest.param(name, marks=pytest.mark.slow) for name in MAKERS]


@pytest.mark.parametrize("name", NAMES)
def test_two_threads_that_each_move_a_slider_leave_the_picture_of_the_last_state(name):
    others = [*live(name)]
    cleared()  # they share no what-if
    for (panel, sliders), (other, _) in zip(live(name), others, strict=True):
        first, second = sliders[0], sliders[min(1, len(sliders) - 1)]
        together(lambda a=first: asyncio.run(moved(a, 0.0)), lambda b=second: asyncio.run(moved(b, 0.05)))
        other.set_all(panel.state)
        assert panel.message == other.message
        if panel.message:
            continue
        result, words = other.result, other.words_html.value
        if ROUGH in panel.words_html.value:  # it was not yet at rest
            result = other.rough(panel.state) or panel.result  # none where the other has the whole by now
            words = roughly(other.words(result))
        assert words in panel.words_html.value
        quick, sharp = (
            next(png for png in other.drawer.parts(result, quick) if png is not None) for quick in (True, False)
        )
        assert panel.image.value in (quick, sharp)
        again = next(png for png in panel.drawer.parts(result, quick=False) if png is not None)
        assert again == sharp  # no background of another sharpness was kept


def straight(draw=None, **more):
    picture, axes = start(300, 200, "a straight line")
    axes.set(xlim=(0, 1), ylim=(0, 50))
    curve = picture.moving(axes.plot([0, 1], [0, 0], **line("front"))[0])

    def own(_, slope):
        curve.set_ydata([0, slope])

    controls = {"slope": slider("Slope", 0, 50, 1, 10), "other": slider("Other", 0, 50, 1, 10)}
    return Panel(controls, lambda s: s["slope"], draw or own, lambda s: f"{s:g}", picture, **more)


def test_callbacks_that_move_each_other_s_controls_lock_nothing():
    one, two = straight(), straight()
    one.when_shown = lambda: two.set("other", one.state["slope"])
    two.when_shown = lambda: one.set("other", two.state["slope"])
    one.image.observe(lambda _: two.set("slope", one.state["slope"]), names="value")
    two.image.observe(lambda _: one.set("slope", two.state["slope"]), names="value")

    def to_and_fro(panel, values):
        for value in values:
            panel.controls["slope"].value = value

    together(lambda: to_and_fro(one, range(11, 31)), lambda: to_and_fro(two, range(31, 50)))
    for panel in (one, two):
        assert panel.result == panel.state["slope"]
        assert panel.words_html.value == f"{panel.result:g}"


def test_the_newest_request_wins_and_an_older_one_shows_nothing():
    panel, slow = straight(), threading.Event()
    begun = threading.Event()
    compute = panel.compute

    def waits(state):
        if state["slope"] == 20:
            begun.set()
            assert slow.wait(LOCKED)
        return compute(state)

    panel.compute = waits
    shown = []
    panel.when_shown = lambda: shown.append(panel.result)
    with ThreadPoolExecutor(2) as threads:
        old = threads.submit(panel.set, "slope", 20)
        assert begun.wait(LOCKED)
        asked = panel._asked
        new = threads.submit(panel.set, "slope", 30)
        until(lambda: panel._asked is not asked)  # the new request has come, and waits for the old one's compute
        slow.set()
        old.result(LOCKED)
        new.result(LOCKED)
    assert shown == [30]
    assert panel.result == 30
    assert panel.words_html.value == "30"


def test_a_move_in_one_thread_counts_while_another_moves_several():
    panel = straight()
    inside, go = threading.Event(), threading.Event()

    def several():
        with panel.controls.idle():
            inside.set()
            assert go.wait(LOCKED)

    def one():
        assert inside.wait(LOCKED)
        panel.controls["slope"].value = 33
        go.set()

    together(several, one)
    assert panel.result == 33


def test_turns_are_handed_on_in_the_order_of_asking_and_one_thread_may_take_its_own_again():
    turn, order, first = Turn(), [], threading.Event()

    def parts():
        for i in range(3):
            with turn, turn:
                order.append(("long", i))
                first.set()
                until(lambda: len(order) > 1 or turn._waiting)  # in the first turn the other one comes to ask

    def once():
        assert first.wait(LOCKED)
        with turn:
            order.append(("short", 0))

    together(parts, once)
    assert order == [("long", 0), ("short", 0), ("long", 1), ("long", 2)]


def test_a_turn_is_given_back_after_an_error():
    turn = Turn()
    with pytest.raises(ZeroDivisionError), turn:
        _ = 1 / 0
    together(lambda: turn.__enter__())


@pytest.mark.slow  # a time, which a machine under load may miss
@pytest.mark.parametrize("name", MAKERS)
def test_no_turn_lasts_longer_than_it_may(name):
    """In processor time of its thread, so that a busy machine does not matter."""
    panels = list(live(name))
    gc.collect()
    gc.disable()
    TURN.longest = 0.0
    try:
        for panel, _ in panels:
            for control in list(panel.controls)[:4]:
                for value in ends_and_middle(panel.controls[control])[:3]:
                    panel.set(control, value)
                panel.reset()
    finally:
        gc.enable()
    assert not panels or 0 < TURN.longest < LONGEST
