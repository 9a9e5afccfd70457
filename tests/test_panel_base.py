"""The panel: controls, picture, words and message stay in step, and nothing is swallowed."""

import asyncio
from concurrent.futures import ThreadPoolExecutor

import ipywidgets as widgets
import numpy as np
import pytest
from driving import drive, look

from vdlib.checks import InputError, Problem
from vdlib.draw import live
from vdlib.draw.style import line, start
from vdlib.panels import base
from vdlib.panels.base import NOT_UPDATED, STILL, Panel, Refused, choice, number, slider, table, toggle
from vdlib.panels.frame import MORE


def controls():
    return {
        "height": slider("Front ride height", 100, 140, 0.1, 120, "mm"),
        "mirror": toggle("Seen from behind", False),
        "form": choice("Form of the curve", ["straight", "bent"], "straight"),
    }


def compute(state):
    if state["height"] > 139.95:
        raise InputError([Problem("front ride height", "140 mm", "must be below 140 mm", "lower <it>")])
    if state["form"] == "bent" and state["mirror"]:
        raise Refused("A bent curve cannot be mirrored.")
    x = np.linspace(0, 1, 20)
    y = (state["height"] - 120) / 20 * (x if state["form"] == "straight" else x**2)
    return (x, -y if state["mirror"] else y)


def make(compute=compute, draw=None, words=None, **more):
    picture, axes = start(400, 240, "one line")
    axes.set(xlim=(0, 1), ylim=(-1, 1))
    axes.set_axis_off()  # ticks and their numbers take longest, and nothing is asked of them
    (curve,) = axes.plot([], [], **line("front"))
    picture.moving(curve)

    def own_draw(picture, result):
        curve.set_data(*result)

    return Panel(controls(), compute, draw or own_draw, words or (lambda r: number(r[1][-1], 2)), picture, **more)


def test_drive_visits_both_ends_all_options_and_finds_all_in_step():
    visits = drive(make())
    heights = {v.state["height"] for v in visits}
    assert heights == {100, 120, 140}
    assert {v.state["form"] for v in visits} == {"straight", "bent"}
    assert {v.state["mirror"] for v in visits} == {True, False}
    refused = [v for v in visits if v.message]
    assert len(refused) == 1
    assert refused[0].state["height"] == 140
    assert len({v.picture for v in visits}) == 3  # level, down, and greyed where up is refused


def test_controls_drive_compute_once_each():
    seen = []

    def counted(state):
        seen.append(state)
        return compute(state)

    panel = make(counted)
    assert len(seen) == 1
    panel.set("height", 130)
    assert len(seen) == 2
    panel.set_all({"height": 110, "form": "bent"})
    assert len(seen) == 3
    panel.reset_button.click()
    assert len(seen) == 4
    assert panel.state == {"height": 120, "mirror": False, "form": "straight"} == seen[-1]


def test_the_background_of_a_first_move_is_drawn_while_nothing_moves(clock, monkeypatch):
    panel = make()
    first, drawn = panel.image.value, []
    whole = live._static
    monkeypatch.setattr(live, "_static", lambda *given: drawn.append(given) or whole(*given))
    assert clock.strike(STILL) == 1
    assert len(drawn) == 1
    assert panel.image.value == first
    panel.controls["height"].value = 121
    assert len(drawn) == 1
    assert panel.image.value != first


def test_in_a_kernel_a_moving_picture_is_drawn_quickly_and_then_sharply(clock):
    panel = make()
    told = []
    panel.image.observe(lambda change: told.append(bytes(change["new"])), names="value")
    for height in (121, 122, 123):
        panel.controls["height"].value = height
        assert panel.image.value == panel.picture.render(quick=True)  # what is shown is never behind the numbers
        assert len(clock.waiting(STILL)) == 1
    clock.strike(STILL)
    assert len(told) == 4  # three while it moved, and one sharp one
    assert told[-1] == panel.image.value == panel.picture.render() != told[-2]


@pytest.mark.parametrize("refusal", [{"height": 140}, {"form": "bent", "mirror": True}])
def test_a_picture_refused_meanwhile_is_not_sharpened(clock, refusal):
    panel = make()
    panel.controls["height"].value = 130
    for name, value in refusal.items():
        panel.controls[name].value = value
    grey = bytes(panel.image.value)
    clock.strike(STILL)
    assert panel.image.value == grey
    assert panel.stale


def test_a_kernel_has_a_clock_and_a_plain_program_has_none():
    async def inside():
        return base.clock_here() is asyncio.get_running_loop()

    def plain():
        return base.clock_here() is None, asyncio.run(inside())

    with ThreadPoolExecutor(1) as apart:  # a thread of its own: a browser test may have left a loop running in this one
        assert apart.submit(plain).result() == (True, True)


def test_a_rough_result_says_so_while_it_moves_and_gives_way_at_rest(monkeypatch):
    monkeypatch.setattr(base, "STILL", 0.01)
    seen, still = [], []

    def run():
        panel = Panel(
            {"height": slider("Height", 100, 140, 1, 120, "mm")},
            lambda state: 2 * state["height"],
            lambda _, found: None,
            lambda found: f"<b>Found {found:g}.</b>",
            rough=lambda state: round(2 * state["height"], -1),
        )
        panel.when_shown = lambda: seen.append((panel.result, panel.words_html.value))
        panel.when_still = lambda: still.append(panel.result)

        async def move():
            for height in (122, 123):
                panel.controls["height"].value = height
            await asyncio.sleep(0.2)

        asyncio.run(move())
        panel.set("height", 121)  # no time can be told: the whole at once

    with ThreadPoolExecutor(1) as apart:  # a thread of its own, as above
        apart.submit(run).result()
    rough = [f"<b>{base.ROUGH}Found {found}.</b>" for found in (240, 250)]
    assert seen == [(240, rough[0]), (250, rough[1]), (246, "<b>Found 246.</b>"), (242, "<b>Found 242.</b>")]
    assert still == [246]


def test_key_press_noise_is_rounded_to_the_step():
    panel = make()
    panel.controls["height"].value = 114.99999999999999
    assert panel.state["height"] == 115.0
    panel.controls["height"].value = 114.96
    assert panel.state["height"] == 115.0
    odd = slider("Odd", -0.25, 0.35, 0.2, -0.05)
    odd.value = 0.1499999999
    make_state = Panel({"odd": odd}, lambda s: s["odd"], lambda p, r: None, str).state
    assert make_state == {"odd": 0.15}


def test_a_browser_that_answers_with_the_same_step_moves_nothing():
    asked = []
    panel = make(lambda state: asked.append(state["height"]) or compute(state))
    panel.set("height", 114.9)
    first = asked.copy()
    for value in (114.89999999999999, 114.9):
        panel.controls["height"].value = value
    assert asked == first
    panel.controls["height"].value = 114.79999999999998  # a step is a move, whatever rides on it
    assert asked == [*first, 114.8]
    panel.controls["form"].value = "bent"
    assert len(asked) == len(first) + 2


def test_expected_errors_are_said_in_words_and_the_picture_is_greyed():
    panel = make()
    panel.set("height", 130)
    good, result = bytes(panel.image.value), panel.result
    panel.set("height", 140)
    assert panel.message == "front ride height must be below 140 mm, got 140 mm: lower <it>"
    assert "lower &lt;it&gt;" in panel.message_html.value
    assert panel.result is None
    assert panel.drawn_from is result
    assert panel.stale
    assert bytes(panel.image.value) not in (good, b"")
    assert NOT_UPDATED in panel.words_html.value
    once = bytes(panel.image.value)
    panel.set_all({"height": 120, "form": "bent", "mirror": True})
    assert panel.message == "A bent curve cannot be mirrored."
    assert panel.image.value == once  # greyed from the last good picture, not greyed twice
    panel.set_all({"height": 130, "form": "straight", "mirror": False})
    assert panel.image.value == good
    assert panel.message == panel.message_html.value == ""
    assert not panel.stale


@pytest.mark.parametrize("part", ["compute", "draw", "words"])
def test_a_panel_is_built_even_when_its_first_state_fails(part):
    first = [True]

    def fails_once(*given):
        if first[0]:
            raise ZeroDivisionError("at first")
        return {"compute": compute, "draw": lambda picture, result: None, "words": lambda r: "well"}[part](*given)

    panel = make(**{part: fails_once})
    assert panel.message == "Something in the workbook broke, please report: ZeroDivisionError: at first"
    assert bytes(panel.image.value).startswith(b"\x89PNG")
    first[0] = False
    panel.set("height", 125)
    assert panel.message == ""
    assert panel.result is not None


def test_a_first_state_that_is_refused_is_not_blank():
    def never(state):
        raise Refused("Not today.")

    panel = make(never)
    assert panel.message == "Not today."
    assert panel.drawn_from is None
    look(panel)


def test_programming_errors_are_shown_and_raised():
    def broken(state):
        if state["mirror"]:
            return {}["missing & lost"]
        return compute(state)

    panel = make(broken)
    with pytest.raises(KeyError, match="missing"):
        panel.set("mirror", True)
    assert panel.message == "Something in the workbook broke, please report: KeyError: 'missing & lost'"
    assert "missing &amp; lost" in panel.message_html.value
    assert panel.stale
    panel.set("mirror", False)
    assert not panel.stale


def test_a_user_message_from_the_browser_is_shown_where_ipywidgets_would_swallow_it():
    def broken(state):
        if state["height"] > 125:
            raise RuntimeError("lost")
        return compute(state)

    panel = make(broken)
    message = {"content": {"data": {"method": "update", "state": {"value": 130.0}, "buffer_paths": []}}, "buffers": []}
    panel.controls["height"]._handle_msg(message)  # ipywidgets logs the exception and goes on
    assert panel.message.endswith("RuntimeError: lost")


def test_set_refuses_what_a_control_cannot_take():
    panel = make()
    with pytest.raises(KeyError, match="no control named"):
        panel.set("hight", 1)
    with pytest.raises(ValueError, match="went to 140"):
        panel.set("height", 150)
    with pytest.raises(ValueError, match="form cannot be"):
        panel.set_all({"height": 130, "form": "wavy"})
    assert panel.state == {"height": 120, "mirror": False, "form": "straight"}
    look(panel)


def test_slider_must_fit_its_range():
    with pytest.raises(ValueError, match="does not fit"):
        slider("x", 0, 1, 0.3, 0)
    with pytest.raises(ValueError, match="does not fit"):
        slider("x", 0, 1, 0.1, 2)
    assert slider("x", -2, 2, 0.05, 0, "deg").readout_format == ".2f"
    assert slider("x", 0, 400, 5, 0, "mm").readout_format == ".0f"
    for made in controls().values():
        assert made.description
        assert made.tooltip


@pytest.mark.parametrize(
    ("spoil", "complaint"),
    [
        ("history", "what came before"),
        ("nan", "went wrong"),
        ("words", "words are of another result"),
    ],
)
def test_drive_catches_a_panel_out_of_step(spoil, complaint):
    picture, axes = start(200, 150, "one line")
    axes.set(xlim=(0, 1), ylim=(-20, 20))
    (curve,) = axes.plot([0, 1], [0, 0])
    picture.moving(curve)
    calls = []

    def draw(picture, result):
        calls.append(result)
        curve.set_ydata([0, len(calls) if spoil == "history" else result - 120])

    def words(result):
        calls.append(result)
        return {"nan": "balance nan deg", "words": f"{len(calls)}", "history": ""}[spoil]

    panel = Panel({"height": controls()["height"]}, lambda s: s["height"], draw, words, picture)
    with pytest.raises(AssertionError, match=complaint):
        drive(panel)


def test_drive_refuses_a_control_it_does_not_know():
    panel = Panel({"t": widgets.Text("a")}, lambda s: s["t"], lambda p, r: None, str)
    with pytest.raises(TypeError, match="drive a Text"):
        drive(panel)


def test_draw_may_give_its_own_picture():
    own, _ = start(200, 150)
    png = own.render()
    panel = Panel({"mirror": toggle("Mirror", False)}, lambda s: s, lambda p, r: png, str)
    assert panel.image.value == png


def test_numbers_are_written_for_people():
    assert number(-0.0001, 2) == "0.00"
    assert number(-1.25, 1) == "−1.2"
    assert number(3, 1, sign=True) == "+3.0"
    assert number(0.04, 1, sign=True) == "0.0"
    assert number(float("nan"), 1) == number(float("-inf"), 1) == "no value"
    html = table(["", "front [kg]", "rear [kg]"], [["left & right", "310", "420"]])
    assert html.count("<th") == 4 + 1  # three heads, one row name, and <thead>
    assert "left &amp; right" in html


def test_further_widgets_and_taken_controls_stand_where_they_are_put():
    def order(box):
        return [box, *(inner for each in getattr(box, "children", ()) for inner in order(each))]

    panel = make()
    over, under, last = (widgets.HTML(word) for word in ("over", "under", "last"))
    sheet = widgets.VBox(panel.take_rows(["mirror"]))
    panel.add(last)
    panel.add(over, place="top")
    panel.add(under, sheet, place="controls")
    panel.set("mirror", True)
    assert panel.result[1][-1] == pytest.approx(0)
    shown = order(panel.show())
    form, mirror = panel.controls["form"], panel.controls["mirror"]
    said = panel.words_html
    wanted = [over, said.verdict, panel.message_html, form, under, sheet, mirror, panel.image, said.rest, last]
    assert [each for each in shown if any(each is one for one in wanted)] == wanted
    assert sum(each is panel.image for each in shown) == 1
    drive(panel)


def test_folded_controls_go_on_working_and_the_verdict_is_the_bold_beginning():
    panel = make(words=lambda r: f"<b>Ends at {number(r[1][-1], 2)}.</b><br>And so on.", folded=["mirror", "form"])
    folds = panel.frame._folds
    assert folds.titles == (MORE,)
    assert folds.selected_index is None
    assert panel.rows["mirror"] in folds.children[0].children
    panel.set("height", 130)
    assert ">Ends at 0.50.<" in panel.words_html.verdict.value
    assert ">And so on.<" in panel.words_html.rest.value
    panel.set("mirror", True)
    assert ">Ends at −0.50.<" in panel.words_html.verdict.value
    drive(panel)


def test_a_start_button_puts_its_values_on_the_controls():
    panel = make(starts={"Up and turned: 130 mm": {"height": 130, "mirror": True}})
    button = next(b for b in panel.frame.buttons.children if b.description == "Up and turned: 130 mm")
    button.click()
    assert (panel.state["height"], panel.state["mirror"]) == (130, True)
    panel.reset_button.click()
    assert panel.state["height"] == 120


def test_any_widget_may_stand_in_the_picture_s_place():
    stage = widgets.HTML()

    def draw(given, result):
        given.value = number(result[1][-1], 2)

    panel = Panel(controls(), compute, draw, lambda r: f"<b>{number(r[1][-1], 2)}</b>", stage)
    assert stage in panel.frame.stage.children
    assert panel.image not in panel.frame.stage.children
    panel.set("height", 130)
    assert stage.value == "0.50"
    panel.set("height", 140)
    assert "vd-stale" in stage._dom_classes
    panel.set("height", 110)
    assert stage.value == "−0.50"
    assert "vd-stale" not in stage._dom_classes
