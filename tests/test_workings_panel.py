"""The workings on the screen: each step with its sentence, and the numbers of the code."""

import html
import re

import numpy as np
import pytest
from driving import BAD_NUMBER
from test_course_panels import oversteering

from vdlib.answers.sentences import listed
from vdlib.car import examples
from vdlib.lessons import bicycle, rolling, simple
from vdlib.lessons.terms import low
from vdlib.panels import workings
from vdlib.trim import loads
from vdlib.units import G

CARS = examples.example_names()


@pytest.fixture(scope="module")
def file():
    return examples.load_example("two-seater")


@pytest.mark.analytic
@pytest.mark.parametrize("name", CARS)
def test_workings_give_the_numbers_of_the_code(name):
    file = examples.load_example(name)
    car, setup, lateral = file.car, file.setup, 0.4 * G
    moved, two = simple.transfer(car, setup, lateral), simple.two_wheel(car, setup)
    gradient = bicycle.understeer_gradient(two).total
    body = simple.roll_car(car, setup)
    code = {
        "load between the axles": loads.longitudinal_transfer(car.mass, -0.3 * G, car.cg_height, car.wheelbase),
        "roll angle": rolling.roll(
            lateral, body.sprung_mass, moved.arm, body.front.stiffness + body.rear.stiffness
        ).angle,
        "load across the front axle": moved.front.total,
        "load across the rear axle": moved.rear.total,
        "understeer gradient": gradient,
        "characteristic speed": bicycle.characteristic_speed(two.wheelbase, gradient),
        "answer to steering": bicycle.yaw_rate_gain(100 / 3.6, two.wheelbase, gradient),
    }
    assert set(code) | {"critical speed"} == set(workings.EQUATIONS)
    for equation, number in code.items():
        found = workings.value(equation, file).result
        if np.isfinite(number):
            assert found == pytest.approx(float(number)), equation
        else:
            assert np.isnan(found), equation
    soft = oversteering(file)
    two = simple.two_wheel(soft.car, soft.setup)
    critical = bicycle.critical_speed(two.wheelbase, bicycle.understeer_gradient(two).total)
    assert workings.value("critical speed", soft).result == pytest.approx(float(critical))
    assert workings.EQUATIONS["characteristic speed"].none in workings.outcome("characteristic speed", soft)


@pytest.mark.parametrize("name", list(workings.EQUATIONS))
def test_each_step_is_shown_as_an_equation_with_its_sentence(file, name):
    shown = workings.parts(name, file)
    done = workings.derive(name)
    assert sum(type(part).__name__ == "Math" for part in shown) == len(done.steps)
    assert all(sentence in part.data for (sentence, _), part in zip(done.steps, shown[2:-1:2], strict=True))
    # every symbol is explained before the first equation, and written as in it
    held = {s.name for _, equation in done.steps for s in equation.free_symbols} | set(done.symbols)
    rows = dict(re.findall('<th scope="row">(.*?): (.*?)</th><td>', shown[1].data))
    assert sorted(rows) == sorted(low(html.escape(name)) for name in held)
    assert all(rows[low(name)].startswith(plain) for name, (plain, _) in done.symbols.items())
    assert all(rows.values())
    for part in (shown[1], shown[-1]):
        text = re.sub("<style>.*?</style>|<[^>]*>", " ", part.data, flags=re.DOTALL)
        assert "_" not in text
        assert BAD_NUMBER.search(text) is None
    assert file.car.name in shown[-1].data


def test_numbers_keep_their_sign(file):
    assert "−2.943 m/s²" in workings.symbols("load between the axles", file)  # 0.3 · 9.81, slowing


@pytest.mark.analytic
def test_sensitivity_of_a_product_is_one_percent_each_way(file):
    percents = workings.weigh_example("load between the axles", file, 0.4, 0.3, 100).percents
    assert sorted(percents.values()) == pytest.approx([100 * (1 / 1.01 - 1), 1, 1, 1])
    soft = workings.weigh_example("critical speed", oversteering(file), 0.4, 0.3, 100)
    assert soft.percents["mass of the car"] == pytest.approx(100 * (1.01**-0.5 - 1))


def test_all_numbers_that_matter_alike_are_named(file):
    panel = workings.panel(file)
    for name in ("load between the axles", "roll angle", "understeer gradient"):
        panel.set("name", name)
        percents = panel.result.percents
        most = max(abs(percent) for percent in percents.values())
        told = re.search(r"matters? most(?: is|, all alike:) (.*?)\. Where", panel.words_html.value)[1]
        alike = [symbol for symbol, percent in percents.items() if round(abs(percent), 2) == round(most, 2)]
        assert html.unescape(told) == listed(alike)


@pytest.mark.painted
def test_no_name_lies_over_a_bar(file):
    panel = workings.panel(file)
    for name in ("understeer gradient", "load across the front axle", "answer to steering"):
        panel.set("name", name)
        panel.picture.pixels()
        bars = panel.drawer.draw.__closure__[0].cell_contents
        for label, bar in zip(bars.names, bars.bars, strict=True):
            if label.get_text():
                assert label.get_window_extent().x1 <= bar.get_window_extent().x0 + 1, label.get_text()
