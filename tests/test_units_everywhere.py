"""Every panel, picture, form and page in the other units: none of the usual ones is left over.

Left as they are in any choice of units: deg, s, g, N, %, m (distances along the road and radii), N·m and Nm/deg, kW,
rev/min, l, km, °C, and what is so much per so much (deg/m, N/mm²). A list to choose a unit from names both; tread depth
and toe at the rim stay in mm on form and page, as their gauges read.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from types import SimpleNamespace

import ipywidgets as widgets
import matplotlib.text
import numpy as np
import pytest
from cars import promise_of_the_story
from driving import BAD_NUMBER
from matplotlib.ticker import FixedLocator
from panel_table import ask_fewer_cars, makers, moving, panels_of

from vdlib.car import examples, shelf
from vdlib.car.keys import CORNERS
from vdlib.checks import InputError
from vdlib.draw.page import laid_out
from vdlib.draw.paper import pages
from vdlib.draw.style import start, tidy
from vdlib.garage.invented import invented_day
from vdlib.garage.typed import Readings, numbers
from vdlib.laps.logfile import Log
from vdlib.laps.slide_rate import turning
from vdlib.panels import as_left, ends_and_middle, logbox, nose_high, slider, weight, words
from vdlib.panels.frame import Frame
from vdlib.panels.measure import Form, own_units
from vdlib.panels.measure_parts import first_answer, origin_table, step_words
from vdlib.panels.said import table
from vdlib.setup import as_left as own_room
from vdlib.setup import page as setup_page
from vdlib.setup.candidate import baseline, between, put
from vdlib.shown import FOLLOWS, PAIRS, Choice, retold, use
from vdlib.units import UNITS, to_si

pytestmark = pytest.mark.unpainted

US = Choice("mph", "lb", "psi", "in")
MAKERS = makers()
BOXES = ("closings_film.BY_GAP", "closings_film.OTHER_CARS")
"""Boxes of words about plausible and invented cars, which take seconds: what they say is looked at here as well."""
STORY = examples.load_example(examples.FIRST)
_LEFT = "|".join(UNITS[name].label for name in (*(pair[0] for pair in PAIRS.values()), *FOLLOWS) if name != "bar")
LEFT = re.compile(rf"(?<![\w/·])(?:{_LEFT}|cm)(?![\w/·²])|(?<=\d )bar\b|(?<=\d)bar\b|\[bar\]")
"""A unit that should have given way; a bar without a number before it is an anti-roll bar."""
GAUGE = re.compile(r"tread|toe|rim|plumb|seat rises|ruler|^[\d.]+ mm$")
"""What the form and the page leave in mm."""
PRINTED = "mm with the"
"""How the form says that an alignment print-out may give toe, whatever the reader's own units."""
EITHER = {label for pair in PAIRS.values() for name in pair for label in (UNITS[name].label,)} | {"N/mm", "lb/in"}
"""Entries of lists in which a unit is chosen."""


@pytest.fixture(autouse=True)
def other_units(request, tmp_path, monkeypatch) -> Iterator[None]:
    monkeypatch.setenv(shelf.VARIABLE, str(tmp_path / "cars"))
    if not request.node.get_closest_marker("slow"):
        ask_fewer_cars(monkeypatch)
    use(US)
    shelf.keep_units(US)
    yield
    use(Choice())


def plain(html: str) -> str:
    return re.sub(r"<[^>]*>", " ", re.sub(r"<style.*?</style>", "", html, flags=re.DOTALL))


def texts_of(value: object) -> Iterator[str]:
    """All texts in a widget's trait: in lists and dictionaries too."""
    if isinstance(value, str):
        yield plain(value)
    elif isinstance(value, dict):
        for one in value.values():
            yield from texts_of(one)
    elif isinstance(value, list | tuple):
        for one in value:
            yield from texts_of(one)


def said_by(widget: widgets.Widget) -> Iterator[str]:
    """What of a widget can be read: labels, hints, lists, words, and what is sent to a film."""
    names = ("value", "description", "placeholder", "tooltip", "titles", "sent")
    if isinstance(widget, widgets.Text | widgets.Textarea):
        names = names[1:]  # what a person typed stays as typed
    for name in names:
        yield from texts_of(getattr(widget, name, None))
    for option in getattr(widget, "_options_labels", ()):
        if option not in EITHER:
            yield option


def left_in(texts: Iterator[str] | list[str]) -> set[str]:
    texts = [text.replace(PRINTED, "") for text in texts]
    texts = [text for text in texts if not (len(text) < 60 and GAUGE.search(text)) and " in: " not in text[:20]]
    return {text[max(0, m.start() - 40) : m.end() + 10] for text in texts for m in LEFT.finditer(text)}


def seen_in(panels: list, new: list) -> set[str]:
    found = set().union(*(left_in(said_by(widget)) for widget in new))
    for panel in panels:
        if panel.picture is not None:
            drawn = panel.picture.figure.findobj(matplotlib.text.Text)
            found |= left_in([text.get_text() for text in drawn if text.get_visible()])
    return found


MOVING = moving()
"""Panels; in every run they are looked at where the random walks lead them (``test_random_walks.py``)."""


LIKE = ("closings_own_car.DRIVEN", "closings_own_car.CASE_ASK")
"""What is written and filmed as ``stage.panel`` and ``CASE_MEASURE``, of other numbers."""
SLOW = {*MOVING, *LIKE}


@pytest.mark.parametrize("name", [pytest.param(n, marks=pytest.mark.slow) if n in SLOW else n for n in MAKERS])
def test_no_usual_unit_is_left_over_in_a_panel(name: str) -> None:
    every = widgets.widget._instances
    before = set(every)
    panels = panels_of(MAKERS[name], STORY)
    own = lambda: [every[key] for key in set(every) - before]  # noqa: E731
    assert bool(panels) == (name in MOVING)
    told = [plain(one.value) for one in own() if isinstance(one, widgets.HTML)] if name in BOXES else []
    assert [text for text in told if BAD_NUMBER.search(text)] == []
    assert not told or len(" ".join(told).split()) > 12
    found = seen_in(panels, own())
    for panel in panels:
        if panel.question is not None:
            panel.question.answer.value = panel.question.answer.options[0]
        for key, control in panel.controls.items():
            if isinstance(control, widgets.Dropdown) and not any("my own" in str(o) for o in control.options):
                for value in ends_and_middle(control)[-1:]:
                    panel.set(key, value)
                    found |= seen_in([panel], own())
        sliders = [key for key, control in panel.controls.items() if isinstance(control, widgets.FloatSlider)]
        for key in sliders[:1]:
            panel.set(key, panel.controls[key].max)
            found |= seen_in([panel], own())
    assert found == set()


def test_the_verdict_on_an_answer_has_none() -> None:
    panel = weight.parts(STORY)
    panel.question.answer.value = weight.STAYS
    told = plain(panel.question.verdict.value)
    assert re.search(r"\d+ lb before, \d+ lb now", told)
    assert left_in([told]) == set()
    panel.question.judge = lambda *_: None
    panel.question.answer.options = ["at 100 km/h"]
    panel.question.answer.value = "at 100 km/h"
    assert "You said: at 62 mph." in panel.question.verdict.value


def test_the_button_to_the_reference_heights_has_none() -> None:
    labels = [button.description for button in nose_high.panel(STORY).frame.buttons.children]
    assert any(re.fullmatch(r"Reference heights: \d\.\d\d in front, \d\.\d\d in rear", label) for label in labels)


def test_the_page_for_the_workshop_has_none(monkeypatch) -> None:
    monkeypatch.setattr(setup_page, "promise", lambda *_: promise_of_the_story())
    base = baseline(STORY.car, STORY.setup)
    setup = put(base.setup, "rear.height", base.setup.rear.height + 0.010)
    setup = put(setup, "rear.pressure", base.setup.rear.pressure + 0.1e5)
    page = setup_page.build(STORY, base, between(base, setup, "tail up"), "it slid")
    texts = [text.words for leaf in laid_out(page) for text in leaf.texts]
    table = re.compile(r"°, [\d.]+ mm")  # toe's tolerance, beside a table that keeps its millimetres
    assert left_in([table.sub("", text) for text in texts]) == set()
    assert any(re.search(r"\d in\b", text) for text in texts)


@pytest.mark.parametrize("typed", [False, True])
def test_the_paper_form_has_none(typed: bool) -> None:
    readings = Readings("my car", {"corners.front_left": "467", "felt.speed": "70"} if typed else {}, own_units())
    assert left_in([text.words for leaf in pages(readings) for text in leaf.texts]) == set()
    usual = invented_day(STORY)  # readings in the usual units keep theirs
    assert left_in([text.words for leaf in pages(usual) for text in leaf.texts]) != set()


def test_what_the_form_says_has_none() -> None:
    read = {"tyres": ("2.30", "2.20", "2.20", "2.20"), "heights": ("655", "652", "628", "631")}
    typed = {f"{step}.{name}": text for step in read for name, text in zip(CORNERS, read[step], strict=True)}
    typed |= {"heights.front_reference": "640", "heights.rear_reference": "640"}
    answer = Form.compute(Readings("a car", typed, {"start.from": "example two-seater"}))
    told = [plain(step_words(outcome)) for outcome in answer.steps.values()]
    assert any("left 33.4, right 31.9 psi" in words for words in told)
    lines = [line for outcome in answer.steps.values() for line in outcome.lines]
    for _, size in lines:  # each number of a line, its error too
        (value, error), (there, off) = (re.findall(r"[\d.]+", text)[:2] for text in (size, retold(size)))
        per = re.search(r" (bar|mm|kg)$", size)
        turned = {"bar": 14.5038, "mm": 1 / 25.4, "kg": 2.20462}[per[1]] if per else 1.0
        assert (float(there), float(off)) == pytest.approx((turned * float(value), turned * float(error)), rel=0.2)
        assert float(there) == pytest.approx(turned * float(value), rel=0.01)
    assert {"bar", "mm"} <= {size.split()[-1] for _, size in lines}
    table_of_origins = origin_table(answer)
    assert left_in([*told, plain(first_answer(answer)), plain(table_of_origins)]) == set()
    row = re.search(r"<th[^>]*>mass ready to drive</th><td>(\d+) lb</td><td>(\d+) to (\d+) lb</td>", table_of_origins)
    assert int(row[2]) < int(row[1]) < int(row[3])


def test_a_reading_in_another_unit_is_refused_in_that() -> None:
    other = Readings("a car", {"heights.wheelbase": "2380"}, {"start.length": "in"})
    (fault,) = numbers(other).bad["heights"]
    assert (fault.rule, fault.value) == ("must be 59.06 to 157.4 in", "2380 in")


def test_what_is_said_of_figures_as_left_has_none(monkeypatch) -> None:
    monkeypatch.setattr(own_room, "promise", lambda *_: promise_of_the_story())
    desk = as_left.panel(STORY)
    desk.boxes["height.front_left"].value = "640"
    desk.look_button.click()
    assert "must be 0.79 to 47.24 in, got 640.00 in" in desk.message.value
    desk.boxes["height.front_left"].value = ""
    desk.boxes["cold.front_left"].value = "31"
    desk.look_button.click()
    assert re.search(r"\d+ mph", desk.message.value)
    assert left_in([plain(desk.message.value)]) == set()


def test_what_is_said_of_a_log_has_none() -> None:
    log = SimpleNamespace(speed=np.full(9, 30.0), travelled=np.arange(9.0), time=np.arange(9.0), x=None, lateral=None)
    log.columns = {"speed": ("v", "m/s")}
    assert "top speed 67 mph (read in m/s)" in logbox.about(log)
    ends = [SimpleNamespace(kind="straight")] * 2
    day = SimpleNamespace(course=SimpleNamespace(corners=[], sections=ends, length=900.0))
    assert "without slowing by 6 mph" in logbox._corners(day, log)[1]
    even = np.arange(0.0, 5.0, 0.1)
    short = Log(even, np.full(even.size, 5.0), *np.zeros((2, even.size), int), lateral=np.zeros(even.size))
    with pytest.raises(InputError, match="driving faster than 18 mph must last 20 s"):
        turning(short)


def test_the_printed_page_of_words_has_none(tmp_path, monkeypatch) -> None:
    monkeypatch.chdir(tmp_path)
    words.panel(STORY)._print()
    assert left_in([plain((tmp_path / words.PAGE).read_text("utf-8"))]) == set()


def test_a_figure_the_workshop_left_means_the_same_after_another_unit_is_chosen() -> None:
    use(Choice())
    as_left.panel(STORY).boxes["height.front_left"].value = "130"
    use(US)
    desk = as_left.panel(STORY)
    assert desk.boxes["height.front_left"].value == "130 mm"
    desk.boxes["height.front_right"].value = "5.25"
    desk.boxes["toe.front_left"].value = "1.5 out"
    use(Choice())
    typed = {key: box.value for key, box in as_left.panel(STORY).boxes.items() if box.value}
    assert typed == {"height.front_left": "130 mm", "height.front_right": "5.25 in", "toe.front_left": "1.5 out"}


@pytest.mark.analytic
@pytest.mark.parametrize(
    ("usual", "other"),
    [
        ("left 2.30, right 2.20 bar", "left 33.4, right 31.9 psi"),
        ("5 to 10 mm lower", "0.20 to 0.39 in lower"),
        ("front up 18, tail down 24 mm", "front up 0.71, tail down 0.94 in"),
        ("<b>−0.10 bar</b> and +7 km/h", "<b>−1.5 psi</b> and +4 mph"),
        ("a 62 N/mm spring, 1,010 kg", "a 354 lb/in spring, 2227 lb"),
        ("36 cm", "14.2 in"),
        ("23 Nm/deg more front anti-roll bar, 4 N/mm² and 3 kg·m²",) * 2,
        ("<style>a {width: 5 mm}</style><i title='5 mm'>x</i>",) * 2,
        ("±0.5 mm in corner 2 and 110 km/h", "±0.020 in in corner 2 and 68 mph"),
        ("over 10 laps, 2.2 bar", "over 10 laps, 32 psi"),
        ("wheelbase 2380 ± 1 mm, 2.20 ± 0.03 bar", "wheelbase 93.70 ± 0.04 in, 31.9 ± 0.4 psi"),
        (
            "front left 236, front right 231, rear left 297, rear right 333 kg",
            "front left 520, front right 509, rear left 655, rear right 734 lb",
        ),
        ("got 463, 455, 454 mm", "got 18.23, 17.91, 17.87 in"),
        ("76.3 before, 76.7 km/h with the change", "47.4 before, 47.7 mph with the change"),
        ("in corner 2, 110 km/h; corners 2, 3 and 90 km/h", "in corner 2, 68 mph; corners 2, 3 and 56 mph"),
    ],
)
def test_finished_texts_are_written_anew(usual: str, other: str) -> None:
    """By the inch of 25.4 mm, the mile of 1609.344 m, the pound of 0.45359237 kg: exact by definition."""
    assert retold(usual) == other
    assert retold(other) == other  # once
    use(Choice())
    assert retold(usual) == usual


def test_numbers_of_a_table_follow_its_heads() -> None:
    html = plain(table(["corner", "lowest [km/h]", "[g]"], [["2", "90.0", "0.80"], ["load [kg]", "100", "200"]]))
    assert html.split() == ["corner", "lowest", "[mph]", "[g]", "2", "55.9", "0.80", "load", "[lb]", "220", "441"]


@pytest.mark.painted
def test_the_scales_of_a_picture_are_round_in_the_other_unit_and_its_data_stay() -> None:
    picture, axes = start(400, 300, "a line over speed")
    tidy(axes, "", "speed [km/h]", "roll [deg]").set(xlim=(40, 240), ylim=(0, 5))
    (curve,) = axes.plot([40, 240], [0, 5])
    picture.render()
    assert axes.get_xlabel() == "speed [mph]"
    assert axes.get_ylabel() == "roll [deg]"
    numbers = [float(label.get_text()) for label in axes.get_xticklabels()]
    assert all(number % 5 == 0 for number in numbers)
    at = [tick.get_loc() for tick in axes.xaxis.get_major_ticks()]
    assert at == pytest.approx([3.6 * to_si(number, "mph") for number in numbers])
    assert curve.get_xdata().tolist() == [40, 240]
    axes.set_ylim(0, 240)
    for name, title in (("speed [km/h]", ""), ("", "Speed [km/h]")):  # of a title, the unit is the upright axis's
        axes.set_ylabel(name)
        axes.set_title(title, loc="left")
        axes.yaxis.set_major_locator(FixedLocator([0.0, 160.9344]))
        axes.yaxis.set_major_formatter("not yet")
        picture.refresh_background()
        picture.render()
        upright = [float(label.get_text()) for label in axes.get_yticklabels()]
        assert [to_si(number, "mph") * 3.6 for number in upright] == pytest.approx(list(axes.get_yticks()))
        assert 100 in upright


def test_the_number_of_a_slider_can_be_read_and_typed_in_the_other_unit() -> None:
    made = slider("Speed", 40, 240, 5, 110, "km/h")
    row = Frame({"speed": made}).rows["speed"]
    box, unit = row.children[1:]
    assert (box.value, unit.value) == (68, "mph")
    box.value = 100  # 160.9 km/h
    assert made.value == 160
    assert box.value == 99
    box.value = 1e9
    assert made.value == 240
    made.value = 40
    assert box.value == 25
    box.value = float("nan")
    assert np.isfinite(made.value)
