"""The film: forgiven speeds against single runs, states and suspension against the trim, words and picture."""

import json
from dataclasses import replace

import numpy as np
import pytest
from PIL import Image

from vdlib.answers import film_words
from vdlib.answers.corner import Corner
from vdlib.answers.film import AFTER, BEFORE, CORNER, FORGIVEN, STEP, film, opens_at, states_between, states_of
from vdlib.answers.lift import Scenario, track
from vdlib.car import examples
from vdlib.car.records import Moment
from vdlib.car.reference import reference_of
from vdlib.checks import InputError
from vdlib.draw.stage import CAUTION, StagePicture
from vdlib.draw.stage_layout import layout, outline
from vdlib.draw.style import SMALLEST, smallest_text
from vdlib.panels import stage, which
from vdlib.panels.shared_whatif import SharedWhatIf
from vdlib.trim.trim import trim
from vdlib.units import to_si

RADIUS, LIFT = 60.0, 0.15


def filmed(name, turn=1.0, count=None):
    """A car and the film of its first few states, or of all."""
    file = examples.load_example(name)
    corner = Corner(RADIUS, 10.0, "left" if turn > 0 else "right", LIFT)
    return file, film(states_of(file.car, file.setup, reference_of(file))[:count], corner)


@pytest.fixture(scope="module")
def two():
    return filmed("two-seater")


@pytest.fixture(scope="module")
def right():
    """The first two states in a right turn."""
    return filmed("two-seater", -1.0, 2)


def most(state, speed):
    """The greatest slide of a run at each speed."""
    scenario = Scenario(speed=speed, lateral=speed**2 / RADIUS, lift=LIFT * state.foot, starts=0.1, lasts=AFTER)
    return track(state.car, state.setup, scenario).slide.max(axis=0)


@pytest.mark.analytic
@pytest.mark.parametrize("key", ["reference", "now", "foot"])
def test_the_forgiven_speed_parts_single_runs(two, key):
    _, found = two
    at, one = found.place(key), found.states[found.place(key)]
    speed = float(found.forgiven[at])
    there, below = most(one, speed - np.array([0.0, to_si(0.25, "kmh")]))
    assert there > FORGIVEN > below
    slide = found.slide[:, at].max(axis=0)
    assert ((slide > FORGIVEN) == (found.speeds >= speed - 1e-6)).all()  # what the film shows, the strip says


@pytest.mark.analytic
def test_the_states_ask_one_end_at_a_time(two):
    file, found = two
    rise = dict(zip((state.key for state in found.states), found.rise.T, strict=True))
    assert rise["reference"] == pytest.approx([0, 0])
    assert rise["nose"] + rise["tail"] == pytest.approx(rise["now"])
    assert rise["mirror"] == pytest.approx(-rise["now"])
    assert rise["travel"] == pytest.approx(rise["now"])
    assert found.states[found.place("travel")].car.rear.bump_gap >= float(file.car.rear.bump_gap)


@pytest.mark.analytic
@pytest.mark.parametrize("turn", [1.0, -1.0])
def test_the_room_at_the_tail_is_the_trims(turn, two, right):
    file, found = two if turn > 0 else right
    speed = float(found.speeds[found.own])
    level = reference_of(file).setup
    pose = trim(file.car, level, Moment(speed, turn * speed**2 / RADIUS))
    outer = int(np.argmax(pose.load[1]))
    assert outer == (1 if turn > 0 else 0)
    assert found.room[0, 0] == pytest.approx(file.car.rear.bump_gap)
    assert found.room[1, 0] == pytest.approx(file.car.rear.bump_gap - pose.travel[1, outer])
    force = 0.5 * file.car.rear.bump_stiffening * min(0.0, float(found.room[1, 0])) ** 2
    assert float(pose.on_stop[1, outer]) == pytest.approx(force, abs=1e-6)


@pytest.mark.analytic
def test_the_room_is_that_of_the_wheel_shown_where_left_and_right_differ():
    file = examples.load_example("two-seater")
    lean = to_si(10.0, "mm")
    ends = {end: replace(getattr(file.setup, end), height_difference=lean) for end in ("front", "rear")}
    uneven = replace(file.setup, **ends)
    both = states_between((file.car, file.setup), (file.car, uneven), ("a", "b"))[:2]
    found = film(both, Corner(RADIUS, turn="right"))  # the left wheel stands 5 mm higher, and is outer
    assert found.room[0, 1] - found.room[0, 0] == pytest.approx(0.5 * lean, abs=to_si(0.7, "mm"))


@pytest.mark.analytic
def test_a_corner_to_the_right_is_the_mirror_of_one_to_the_left(two, right):
    _, left = two
    _, glass = right
    assert glass.forgiven == pytest.approx(left.forgiven[:2])
    assert glass.y == pytest.approx(-left.y[:, :2], abs=1e-6)


def test_equal_ends_make_no_verdict_and_no_threshold(two):
    _, found = two
    moves = ("x", "y", "heading", "sideslip", "slide", "steer", "rise", "room")
    alike = {name: np.repeat(getattr(found, name)[:, :1], len(found.states), axis=1) for name in moves}
    first = {name: np.repeat(getattr(found, name)[:1], len(found.states), axis=0) for name in ("forgiven", "ends")}
    found = replace(found, **alike, **first)
    assert film_words.culprit(found) is None
    assert film_words.verdict(found).startswith("Neither")
    assert "as much as" in film_words.verdict(found)
    assert "Very little between them" in film_words.sentence(found, 1, found.own)


@pytest.mark.parametrize("gap", [0.0, 0.1, 0.3, 0.4, 0.5, 0.7, 1.8, 30.0])
def test_a_film_opens_where_two_cars_part_and_where_they_are_alike_both_hold(gap):
    for first in np.arange(72.5, 73.05, 0.1):
        pair = to_si(np.array([first + gap, first]), "kmh")
        own = opens_at(pair)
        assert own / STEP == pytest.approx(round(own / STEP))
        if gap < film_words.LITTLE:
            assert f"{own * 2.23694:.1f}" < f"{pair.min() * 2.23694:.1f}"  # in mph too no printed speed says otherwise
            assert own < pair.min() - 1e-9 < own + 2 * STEP
        else:
            assert pair.min() - 1e-9 <= own < pair.max() - 1e-9


@pytest.mark.parametrize(
    "name", ["two-seater", *(pytest.param(name, marks=pytest.mark.slow) for name in ("coupe", "hatch"))]
)
def test_the_verdict_follows_the_numbers(name, two):
    _, found = two if name == "two-seater" else filmed(name)
    true, said = film_words.culprit(found), film_words.verdict(found, 0)
    both, tail, nose = (film_words.lost(found, key) for key in ("now", "tail", "nose"))
    if true is None:
        assert not both >= film_words.LITTLE
        assert said.startswith("Neither")
        assert ("more than" in said) == (both <= -film_words.LITTLE)
    else:
        if len(found.states) == 7:  # nothing out but the heights
            assert (true == 1) == (tail >= 2 * nose and tail >= both / 2)
        assert (("no single thing" in said) or ("both ends together" in said)) == (true == 3)
    for k in range(len(found.states)):
        assert "nan" not in film_words.sentence(found, k, found.own)


def test_where_the_ends_share_it_the_worse_one_is_named_and_another_corner_may_differ(two):
    _, found = two
    costs = {"now": 0.9, "nose": 0.2, "tail": 0.4}
    lower = np.array([to_si(costs.get(state.key, 0.0), "kmh") for state in found.states])
    shared = replace(found, forgiven=found.forgiven[0] - lower)
    half = {"now": 0.9, "nose": 0.3, "tail": 0.5}  # more than half of both, less than twice the other
    lower = np.array([to_si(half.get(state.key, 0.0), "kmh") for state in found.states])
    assert film_words.culprit(replace(found, forgiven=found.forgiven[0] - lower)) == 3
    said, nose = film_words.verdict(shared), film_words.options(shared)[0].lower()
    assert film_words.culprit(shared) == 3
    assert said.startswith("It is both ends together. Alone, the nose costs 0.2 km/h and the tail 0.4 km/h; together")
    worse = film_words.options(shared)[1].lower().removeprefix("the ")
    assert f"together 0.9 km/h here, the {worse} most, and another corner shares it otherwise" in said
    assert nose not in said
    assert film_words.verdict(shared, 2).startswith("Right: it is both ends together")


@pytest.mark.analytic
def test_why_is_said_only_where_the_corner_presses_the_rubber_deeper(two):
    _, found = two
    lower = np.array([to_si({"now": 2.0, "tail": 1.8}.get(state.key, 0.0), "kmh") for state in found.states])
    low = replace(found, forgiven=found.forgiven[0] - lower)
    now = low.place("now")

    def said(reference: float, as_it_is: float) -> str:
        room = low.room.copy()
        room[1, [0, now]] = reference, as_it_is
        return film_words.verdict(replace(low, room=room))

    assert film_words.culprit(low) == 1
    assert ": on its rubber the rear turns stiff, and its outer tyre lets go sooner. Alone, " in said(0.012, -0.017)
    assert "rubber" in said(-0.005, -0.017)
    assert "rubber" not in said(0.02, 0.004)  # a gap is left
    assert "rubber" not in said(-0.017, -0.017)  # pressed as deep before


def test_a_tail_far_out_has_one_name_wherever_it_is_told():
    assert [film_words.out(slide) for slide in (-0.2, 9.6, 25.0, 25.4, 29.0)] == [
        "0°",
        "10°",
        "25°",
        "over 25°",
        "over 25°",
    ]
    assert film_words.out(24.0, ended=True) == "over 25°"  # the model has stopped


def test_the_foot_is_said_as_it_was(two):
    _, found = two
    assert film_words.foot(replace(found, lift=0.15)) == "a quick lift"
    assert film_words.foot(replace(found, lift=0.08)) == "a lift of 0.08 g"


def test_the_film_opens_between_the_two_forgiven_speeds(two):
    _, found = two
    low, high = sorted(found.forgiven[:2])
    step = to_si(0.5, "kmh")
    assert low - step <= found.speeds[found.own] <= high + step
    assert found.time[-1] == pytest.approx(BEFORE + AFTER, abs=0.05)


def test_the_picture_shows_the_layout(two):
    file, found = two
    view = StagePicture(file.car, CAUTION)
    view.draw(found, 1, found.own, 2.6)
    at = layout(found, outline(file.car), 1, found.own, 2.6)
    texts = {text.get_text() for text in view.axes.texts}
    assert {one["out"] for one in at["cars"]} <= texts
    assert {at["side"]["front"], at["side"]["rear"], at["clock"]} <= texts
    assert all(any(half in text for text in texts) for half in CAUTION.split(". "))
    assert {row["text"] for row in at["strip"]["rows"]} <= texts
    assert smallest_text(view.picture.figure) >= SMALLEST
    before = view.picture.pixels().copy()
    fast = len(found.speeds) - 1
    view.draw(found, 1, fast, 4.0)
    assert not np.array_equal(before, view.picture.pixels())
    ended = [one for one in layout(found, outline(file.car), 1, fast, 4.0)["cars"] if one["ended"]]
    assert ended
    assert {one["stops"] for one in ended} <= {text.get_text() for text in view.axes.texts}
    assert all("30° off its path" in one["stops"] for one in ended)  # why the model stops, not only that it does


def test_what_is_sent_is_plain_and_small(two):
    file, found = two
    sent = stage.sent(found, outline(file.car))
    assert len(json.dumps(sent)) < 60_000
    runs = np.frombuffer(stage.packed(found), dtype="<f4")
    assert len(runs) == 6 * found.x.size
    assert runs[: len(found.time)] == pytest.approx(found.x[:, 0, 0], abs=1e-4)


def test_a_saved_film_moves_in_real_time_and_says_where_it_went(tmp_path, monkeypatch, two):
    monkeypatch.setattr(stage, "film", lambda *_: two[1])
    monkeypatch.setattr("vdlib.panels.stage.EVERY", 2.0)
    monkeypatch.chdir(tmp_path)
    made = stage.panel(examples.load_example("two-seater"))
    made.widget.saves = 1
    (written,) = tmp_path.glob("film-*.gif")
    assert str(written) in made.said.value
    with Image.open(written) as shown:
        assert shown.n_frames == 3
        assert shown.info["duration"] == 2000
    with pytest.raises(InputError, match=r"must end in \.gif or \.png"):
        made.save("film.mp4")


def test_a_corner_nobody_can_hold_is_said_and_drawn():
    file = examples.load_example("two-seater")
    found = film(states_of(file.car, file.setup, reference_of(file))[:3], Corner(20.0, 10.0, "left", 0.02))
    last = len(found.speeds) - 1
    for k in range(1, len(found.states)):
        at = layout(found, outline(file.car), k, last, 1.0)
        assert ("cannot hold" in at["cars"][1]["out"]) == (found.ends[k, last] <= 0)
        assert "nan" not in film_words.sentence(found, k, last)


def test_a_what_if_is_filmed_beside_the_car_as_it_stands():
    file = examples.load_example("low-two-seater")
    made = stage.whatif(file)
    assert [state.name for state in made.film.states][:2] == ["as it stands", "the what-if"]
    assert "as much as" in made.widget.sent["verdict"]
    shared = SharedWhatIf.of(file)
    shared.candidate = replace(shared.candidate, settings={"rear.height": float(file.setup.rear.height) + 0.02})
    made.box.children[0].click()
    assert made.film.rise[1, 1] == pytest.approx(0.02)
    gained = film_words.lost(made.film, "now")
    assert gained < -film_words.LITTLE
    assert "more than" in made.widget.sent["verdict"]


def test_a_film_made_anew_keeps_its_answer_and_its_corner():
    old, new = (stage.widgets.VBox([stage.FilmWidget()]) for _ in range(2))
    old.children[0].said, old.children[0].turn = 2, -1.0
    which.as_left(old, new)
    assert (new.children[0].said, new.children[0].turn) == (2, -1.0)


@pytest.mark.painted
@pytest.mark.parametrize("turn", ["left", "right"])
def test_no_words_of_the_stage_lie_over_others_nor_on_the_road(turn):
    file = examples.load_example(examples.FIRST)
    found = film(states_of(file.car, file.setup, reference_of(file)), replace(CORNER, turn=turn))
    view = StagePicture(file.car, CAUTION)
    for speed in (0, found.own, len(found.speeds) - 1):
        view.draw(found, 1, speed, float(found.time[-1]))
        view.picture.pixels()
        boxes = [(text.get_text(), text.get_window_extent()) for text in view.axes.texts if text.get_text()]
        for i, (one, box) in enumerate(boxes):
            for other, around in boxes[i + 1 :]:
                over = min(box.y1, around.y1) - max(box.y0, around.y0)
                beside = min(box.x1, around.x1) - max(box.x0, around.x0)
                assert beside < 1 or over < 0.3 * min(box.height, around.height), (speed, one, other)
        edge = view.axes.get_window_extent()
        assert all(edge.x0 - 1 <= box.x0 and box.x1 <= edge.x1 + 1 for _, box in boxes)
        out = [box for said, box in boxes if said.startswith("tail out")]
        assert all(box.width < 0.26 * view.picture.figure.bbox.width for box in out)
