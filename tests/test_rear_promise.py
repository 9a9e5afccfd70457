"""What was promised for the rear, beside what a day's laps say of it, in the same measures."""

import re
from dataclasses import replace

import numpy as np
import pytest
from unpainted import made_once

from vdlib.answers.corner import Corner, Driver
from vdlib.answers.forgiven import forgiven_speed
from vdlib.answers.lift import Scenario, simulate
from vdlib.car import examples, shelf
from vdlib.car.reference import reference_of
from vdlib.draw.style import SMALLEST, smallest_text
from vdlib.laps.notes import kept
from vdlib.laps.scare_day import make_scare
from vdlib.panels import did_it_work
from vdlib.panels.day_promise import (
    AS_IT_STANDS,
    AT_REFERENCE,
    BEFORE_VISIT,
    LEFT,
    NOT_SAID,
    first_asked,
    rear_promise,
    versions,
)
from vdlib.setup import left_figures, saved
from vdlib.setup.candidate import Candidate, baseline
from vdlib.setup.driven import own_corner
from vdlib.setup.promised import promise

pytestmark = pytest.mark.unpainted


@pytest.fixture(scope="module")
def logs(tmp_path_factory):
    """Three sessions, slides before and none after; written as a phone would."""
    folder, paths = tmp_path_factory.mktemp("logs"), {}
    for key, seed, slides in (("before", 41, 4), ("after", 42, 0), ("before_again", 43, 4)):
        paths[key] = folder / f"{key}.csv"
        day = make_scare(seed, laps=6, kinds=("catch",) * slides, rate=10.0, wide=False)
        paths[key].write_text(day.csv(), "utf-8")
    return {key: str(path) for key, path in paths.items()}


@pytest.fixture(scope="module")
def shared(logs, tmp_path_factory):
    """The panel of a car whose workshop visit is behind it, and the folder of both."""
    folder = tmp_path_factory.mktemp("visited") / "my-cars"
    with made_once(folder):
        return _visited(logs), folder


@pytest.fixture
def made(shared, monkeypatch):
    """The panel, put back to where it starts."""
    desk, folder = shared
    monkeypatch.setenv(shelf.VARIABLE, str(folder))
    desk.panel.set_all(desk.panel.controls.first | {"laps_from": did_it_work.LOGS})
    return desk


def _visited(logs):
    file = examples.load_example("low-two-seater")
    reference = reference_of(file)
    shelf.save_car("mine - as left", reference.car, reference.setup, file.origin, file.text, file.known)
    own = shelf.save_car("mine", file.car, file.setup, file.origin, file.text, file.known)
    with pytest.MonkeyPatch.context() as patch:  # from the logs at once: the invented day is not asked for
        patch.setattr(did_it_work, "SOURCES", sorted(did_it_work.SOURCES, key=lambda one: one != did_it_work.LOGS))
        desk = did_it_work.panel(own)
    desk.logs.fill(logs)
    assert not desk.panel.message
    return desk


def text_of(desk):
    return re.sub("<[^>]*>", " ", desk.panel.words_html.value).replace("\xa0", " ")


def test_what_the_workshop_left_is_the_promise_without_being_asked(made):
    state = made.panel.state
    assert (state["setup_before"], state["setup_after"]) == (BEFORE_VISIT, LEFT)
    text = text_of(made)
    assert f"forgives {made.panel.result.promised.rear.edges[0].told} {BEFORE_VISIT}" in text
    # it stands right behind the verdict on the rear, before the lap times
    assert text.index("Whether the rear") < text.index("Promised, for") < text.index("on the whole lap")
    other = shelf.load_car("mine - as left")
    assert {BEFORE_VISIT, LEFT} <= set(versions(other))
    pair = left_figures.visit(other)
    assert [one.path.stem for one in pair] == ["mine", "mine - as left"]
    assert not {BEFORE_VISIT, LEFT} & set(versions(examples.load_example("coupe")))


@pytest.mark.analytic
def test_promise_and_laps_speak_of_one_corner_one_speed_and_one_measure(made):
    made.panel.set("corner", 3)
    found = made.panel.result
    rear = found.promised.rear
    assert rear.where == "corner 3"
    assert rear.corner.turn == "right"
    assert rear.corner.radius == pytest.approx(40.0, rel=0.12)  # as the invented course was drawn
    before, after = left_figures.visit(made.file)
    for i, file in enumerate((before, after)):
        corner = Corner(radius=rear.corner.radius, turn="right")
        assert rear.edges[i].speed == float(forgiven_speed(file.car, file.setup, corner).speed)
        speed, hands = rear.driven[0], Driver()
        run = simulate(file.car, file.setup, Scenario(
            speed, -(speed**2) / rear.corner.radius, corner.lift, starts=0.0, closing=hands.closing,
            counter_steer=hands.counter_steer, reaction=hands.reaction, lasts=4.0))  # fmt: skip
        moves = run.time <= float(run.held)
        # β' = a_y/V − r in the model as in the log
        rate = np.abs(np.gradient(np.unwrap(run.sideslip), run.time))[moves]
        assert rear.rate[i] == pytest.approx(rate.max(), rel=0.05)
    run = found.day.runs[0]
    used = np.median(run.hardest[run.session.clear, 2])
    assert rear.driven[0] == pytest.approx(np.sqrt(used * rear.corner.radius))
    slide = next(c for c in found.calmer if c.measure == "slide")
    assert slide.where == "corner 3"
    assert f"Measured in corner 3, usual greatest: {slide.before:.0f} °/s, then {slide.after:.0f} °/s" in text_of(made)


def test_the_corner_looked_at_is_laid_over_itself_lap_by_lap(made):
    made.panel.set("corner", 2)
    shown, view = made.panel.result.shown.corner, made.view
    assert shown.name == "corner 2"
    for line, speed in zip(view.speed.lines, shown.speed, strict=True):
        drawn = line.get_ydata().reshape(len(speed), -1)
        np.testing.assert_allclose(drawn[:, :-1], 3.6 * speed)
    for line, rate in zip(view.parts.lines, shown.slide, strict=False):
        np.testing.assert_allclose(line.get_ydata().reshape(len(rate), -1)[:, :-1], np.degrees(rate))
    slid = [np.degrees(np.abs(rate).max()) for rate in shown.slide]
    run = made.panel.result.day.runs[0]
    worst = run.calm.values["slide"][run.session.clear, 1].max()
    assert slid[0] == pytest.approx(worst, rel=0.15)  # what is drawn is what is compared
    assert smallest_text(view.picture.figure) >= SMALLEST
    made.panel.set("corner", 0)
    assert made.panel.result.shown.corner is None
    assert "Section by section" in view.parts.get_title(loc="left")


def test_all_three_sessions_can_be_felt(made):
    made.panel.set_all({"felt_before": 3, "felt_after": 7})
    assert "Felt, of 10: 3 before, 7 with the change." in text_of(made)
    made.panel.set("felt_again", 4)
    assert "Felt, of 10: 3 before, 7 with the change, 4 before again." in text_of(made)
    assert kept(made.file)[0]["rules.felt_again"] == "4"


def test_laps_without_corners_get_the_pages_promise_in_the_drivers_own_corner(tmp_path, monkeypatch, made):
    file = examples.load_example("coupe")
    visit = {"corner": "a long one, turning right", "speed": "89 km/h", "foot": "foot just lifted"}
    file = replace(file, known=replace(file.known, visit=visit))
    base, due = baseline(file.car, file.setup), reference_of(file)
    bare = replace(made.panel.result.day, course=None)
    found = rear_promise(file, bare, 0, AS_IT_STANDS, AT_REFERENCE)
    page = promise(due.car, base.setup, due.setup, own_corner(visit), base.car)
    assert (found.edges, found.corner.radius, found.corner.turn) == (page.edges, 80, "right")
    assert found.page.startswith("In an 80 m right-hander (yours: 89 km/h")
    monkeypatch.setenv(shelf.VARIABLE, str(tmp_path / "cars"))
    own = shelf.save_car("dart", file.car, file.setup, file.origin, file.text, file.known)
    assert first_asked(own) == (AS_IT_STANDS, NOT_SAID)
    saved.save_whatif(own, Candidate("back", {"rear.pressure": 2.1e5}))
    assert first_asked(own) == (AS_IT_STANDS, "back")
