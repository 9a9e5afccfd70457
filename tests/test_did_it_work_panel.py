"""The workbook on laps: typed laps, logs, invented days, what is said and drawn, and what survives a restart."""

import re
import tomllib
from dataclasses import replace

import numpy as np
import pytest
from driving import drive, look
from unpainted import made_once

from vdlib.answers.limits import limits
from vdlib.car import examples, shelf
from vdlib.car.records import Moment
from vdlib.car.reference import reference_of
from vdlib.checks import InputError
from vdlib.draw.style import SMALLEST, smallest_text
from vdlib.laps import calm, clubday, course, logfile, visit_day
from vdlib.laps import notes as day_notes
from vdlib.laps.evidence_words import alone
from vdlib.panels import believe, day_laps, day_promise, day_sessions, did_it_work, logbox
from vdlib.panels.daywords import DAY, QUESTIONS, words
from vdlib.setup import saved as saved_whatifs
from vdlib.setup.candidate import AS_IT_STANDS, Candidate, version

pytestmark = pytest.mark.unpainted
VISIT, CLEAR, NOTHING, POWER = day_sessions.INVENTED
BEFORE = "92.1 63 88\n92.9 61 87\n1:32.4 t 62 80\n92,0 63 89"
AFTER = "91.1 64 88\n91.9 65 87\n91.3 62 80\n91,0 66 89"


@pytest.fixture(autouse=True)
def home(tmp_path, monkeypatch):
    monkeypatch.setenv(shelf.VARIABLE, str(tmp_path / "my-cars"))
    return tmp_path / "my-cars"


def desk(name="two-seater"):
    return did_it_work.panel(examples.load_example(name))


@pytest.fixture(scope="module")
def made(tmp_path_factory):
    """One panel for tests that only choose what it shows."""
    with made_once(tmp_path_factory.mktemp("made") / "my-cars"):
        return desk()


@pytest.fixture
def shown(made):
    """The same as it opens."""
    made.panel.reset()
    return made


def text_of(made):
    return re.sub("<[^>]*>", " ", made.panel.words_html.value).replace("&#x27;", "'").replace("\xa0", " ")


def type_laps(made, before=BEFORE, after=AFTER, corners="hairpin, long left", unit="km/h"):
    made.typed.corners.value, made.typed.unit.value = corners, unit
    made.typed.texts["before"].value, made.typed.texts["after"].value = before, after


def say_logs(made, *paths):
    made.logs.fill(dict(zip(day_notes.KEYS, map(str, paths), strict=False)))


@pytest.fixture(scope="module")
def written(tmp_path_factory):
    return clubday.make(4, corner_gain=0.05).write(tmp_path_factory.mktemp("logs"))


# ---- every control -----------------------------------------------------------------------------------------------


@pytest.mark.parametrize("whole", [False, pytest.param(True, marks=pytest.mark.slow)])
def test_every_control_can_be_driven_and_words_follow(request, whole):
    made = desk()
    type_laps(made)
    sources = did_it_work.SOURCES if whole else (VISIT, did_it_work.TYPED, NOTHING)
    if whole:
        say_logs(made, *request.getfixturevalue("written"))
        visits = drive(made.panel, again=False, brief=True)
    else:  # every run: walks move the rest, tests below look at other days, test_did_it_work_logs.py at logs
        visits = [look(made.panel)]
        for source in sources[1:]:
            made.panel.set("laps_from", source)
            visits.append(look(made.panel))
        made.panel.reset()
    for name in (*QUESTIONS, *(["setup_after"] * whole)):  # those like one before them
        other = next(one for one in made.panel.controls[name].options if one not in (made.panel.state[name], ""))
        made.panel.set(name, other[1] if isinstance(other, tuple) else other)
        visits.append(look(made.panel))
        made.panel.reset()
    assert not any(visit.message for visit in visits)
    assert {visit.state["laps_from"] for visit in visits} == set(sources)
    start = visits[0].words
    for name in (*QUESTIONS, *(["setup_after"] * whole), "laps_from"):
        assert any(v.words != start for v in visits if v.state[name] != visits[0].state[name]), name
    assert smallest_text(made.view.picture.figure) >= SMALLEST
    nothing = next(v for v in visits if v.state["laps_from"] == NOTHING)
    made.panel.set("laps_from", NOTHING)
    assert made.panel.image.value == nothing.picture  # the picture does not depend on what came before


def test_the_picture_shows_what_was_found(shown):
    made = shown
    for source in (CLEAR,):
        made.panel.set("laps_from", source)
        found, view = made.panel.result, made.view
        for session, dots in zip(found.sessions, view.laps.lines[::3], strict=False):
            np.testing.assert_allclose(dots.get_ydata(), session.lap_time[session.clear])
        middles = [patch.get_height() for patch in view.parts.patches if patch.get_hatch()]
        np.testing.assert_allclose(middles, [part.change.value for part in found.change.parts])
        assert sum(middles) == pytest.approx(found.change.plain.value, abs=1e-9)
        spans = [line.get_xdata() for line in view.spans.lines if len(line.get_xdata()) == 2][1:]
        np.testing.assert_allclose(spans[0], [found.change.plain.low, found.change.plain.high])
        fits = [found.change.fits.low, found.change.fits.high]  # what the words say is drawn too
        assert any(np.allclose(span, fits) for span in spans)
        kmh = view.speed.lines[0].get_ydata()
        np.testing.assert_allclose(kmh, 3.6 * found.shown.speed[0])
        assert f"before, lap {1 + day_laps._pick(found.sessions[0], 'usual')} " in view.speed.lines[0].get_label()


def test_a_part_of_the_picture_is_drawn_anew_only_where_it_shows_another_result(shown):
    made = shown
    made.panel.set("laps_from", CLEAR)
    axes = (made.view.laps, made.view.spans, made.view.speed, made.view.parts)
    first = [one.lines[0] for one in axes]
    made.panel.set(next(iter(QUESTIONS)), "yes")
    assert [one.lines[0] for one in axes] == first
    made.panel.set("corner", 3)
    assert [one.lines[0] is was for one, was in zip(axes, first, strict=True)] == [True, True, False, False]
    assert "corner 3" in made.view.speed.get_title("left")
    made.panel.set("corner", 2)
    assert "corner 2" in made.view.speed.get_title("left")


def test_the_trend_line_is_the_fit_that_the_comparison_made(shown):
    made = shown
    made.panel.set("laps_from", CLEAR)
    found = made.panel.result
    slopes = [line for line in made.view.laps.lines if len(line.get_xdata()) > 1 and line.get_linestyle() != "None"]
    x = np.concatenate([line.get_xdata() for line in slopes])
    y = np.concatenate([line.get_ydata() for line in slopes])
    times = np.concatenate([s.lap_time[s.clear] for s in found.sessions])
    group = np.repeat(np.arange(3), [int(s.clear.sum()) for s in found.sessions])
    design = np.column_stack([group[:, None] == np.arange(3), np.log(x)]).astype(float)
    np.testing.assert_allclose(y, design @ np.linalg.lstsq(design, times, rcond=None)[0], atol=1e-9)


@pytest.mark.parametrize("days", [
    {CLEAR: "5 % more sideways", NOTHING: "0 % more sideways"},
    pytest.param({POWER: "10 % more power"}, marks=pytest.mark.slow),
])  # fmt: skip
def test_invented_days_say_so_and_tell_what_was_put_in(shown, days):
    made = shown
    for source, part in days.items():
        made.panel.set("laps_from", source)
        text = text_of(made)
        head = re.search("<b>(.*?)</b>", made.panel.words_html.value)[1]
        assert head.startswith(DAY)
        assert "average" in head  # what these laps can answer comes first: nothing in them shows the rear
        assert clubday.SAYS[1:] in text
        assert part in text
        found = made.panel.result
        inside = found.change.best.low <= found.day.truth <= found.change.best.high
        assert ("The interval holds it" in text) == inside
        assert ("No effect of the change on the whole lap is shown" in text) == (found.change.verdict == "not shown")
        assert ("on the straights only" in text) == (
            {p.kind for p in found.change.kinds if p.change.shown} == {"straight"}
        )
        if source == NOTHING:
            continue
        # as on a day whose corners show nothing
        flat = tuple(
            replace(p, change=replace(p.change, p=p.change.p + (p.kind == "corner"))) for p in found.change.kinds
        )
        said = alone(replace(found.change, kinds=flat))
        told = words(replace(found, change=replace(found.change, kinds=flat)), 1000.0)
        assert "not the setup" in said
        assert told.count(said) == 1
        assert told.index("on average.") < told.index(said) < told.index("Something else")


def test_the_first_day_answers_for_the_rear_and_says_that_it_is_invented(shown):
    made = shown
    assert made.panel.state["laps_from"] == VISIT
    text, found = text_of(made), made.panel.result
    head = re.search("<b>(.*?)</b>", made.panel.words_html.value)[1]
    slide = next(one for one in found.calmer if one.measure == "slide")
    lead = {"calmer": "Yes, in all corners", "rougher": "No, in all corners", "not shown": "Whether the rear is calmer"}
    assert head.startswith(f"{DAY}: {lead[slide.verdict]}")
    assert calm.SAME_LIFT in head
    assert visit_day.SAYS[1:] in text
    assert day_sessions.PUT_IN in text
    assert "The interval" not in text  # no lap time was put in, so none is looked for
    assert found.day.truth is None
    view = made.view.laps  # each lap's worst moment against its lift, and the two curves that are compared
    dots, curves = view.lines[::2], view.lines[1::2]
    for one, lift, rate in zip(dots, slide.same_lift.lift, slide.same_lift.rate, strict=True):
        np.testing.assert_allclose(one.get_xdata(), lift)
        np.testing.assert_allclose(one.get_ydata(), rate)
    before, after = (curve.get_ydata() for curve in curves)
    np.testing.assert_allclose(after / before, after[0] / before[0])
    assert 100 * (after[0] / before[0] - 1) == pytest.approx(slide.change.value, abs=8)  # plain means, unweighed
    share = 100 * (slide.after / slide.before - 1)
    assert share == pytest.approx(slide.change.value)
    assert f"{slide.before:.1f} before, {slide.after:.1f} °/s with the change" in text


# ---- laps left out -----------------------------------------------------------------------------------------------


def test_a_ticked_lap_is_left_out_and_all_of_them_is_refused_in_words(monkeypatch):
    made = desk()
    made.panel.set("laps_from", CLEAR)
    before = made.panel.result.change
    ticks = made.laps_out.ticks["after"]
    at = next(i for i, box in enumerate(ticks) if not box.value)
    ticks[at].value = True
    after = made.panel.result.change
    assert after.laps[1] == before.laps[1] - 1
    left = [t for i, t in enumerate(made.panel.result.sessions[1].lap_time) if not ticks[i].value]
    assert after.mean[1] == pytest.approx(np.mean(left))
    look(made.panel)
    with monkeypatch.context() as patch:  # all at once
        patch.setattr(made.laps_out, "changed", lambda: None)
        for i, box in enumerate(ticks):
            box.value = i != at
    ticks[at].value = True
    assert "must leave at least one lap" in made.panel.message
    assert made.panel.stale
    with monkeypatch.context() as patch:
        patch.setattr(made.laps_out, "changed", lambda: None)
        ticks[0].value = ticks[1].value = False
    ticks[2].value = False
    assert not made.panel.message
    made.panel.set("laps_from", NOTHING)
    assert made.laps_out.ticks["after"] is not ticks


@pytest.mark.slow  # every run: the same of another source of laps, in the test before
def test_another_invented_day_has_ticks_of_its_own():
    made = desk()
    made.panel.set("laps_from", NOTHING)
    ticks = made.laps_out.ticks["after"]
    made.panel.set("number", 2)
    assert made.laps_out.ticks["after"] is not ticks


# ---- what was promised -------------------------------------------------------------------------------------------


def test_the_promise_comes_from_the_models_limits_and_a_saved_what_if(home):
    file = examples.load_example("two-seater")
    stiff = Candidate("stiff rear", {"rear.bar": 3 * float(file.setup.rear.bar)})
    saved_whatifs.save_whatif(file, stiff)
    made = did_it_work.panel(file)
    assert made.panel.state["setup_after"] == "stiff rear"  # the only one saved
    made.panel.set("setup_after", day_promise.NOT_SAID)
    axes = (made.view.laps, made.view.spans, made.view.speed, made.view.parts)
    drawn = [one.lines[0] for one in axes]
    made.panel.set("setup_after", "stiff rear")
    assert [one.lines[0] is was for one, was in zip(axes, drawn, strict=True)] == [True, False, True, True]
    found = made.panel.result
    speed = float(found.sessions[0].minimum_speed[found.sessions[0].clear].mean())
    base = day_promise.setup_called(file, AS_IT_STANDS)
    moment = Moment.in_phase("steady", speed, 1.0)
    one = version(stiff, base)
    want = [float(limits(v.car, v.setup, moment).car) for v in (base, one)]
    np.testing.assert_allclose(found.promised.limit, want)
    share = 100 * (want[1] / want[0] - 1)
    assert abs(share) > 0.1
    assert f": {share:+.1f} %".replace("-", "−") in text_of(made)
    inside = np.array([s.kind == "corner" for s in found.sessions[0].sections])
    first = found.sessions[0]
    spent = first.section_time[first.clear][:, inside].sum(axis=1).mean()
    assert found.shown.promised == pytest.approx(spent * (np.sqrt(want[0] / want[1]) - 1))
    level = day_promise.setup_called(file, day_promise.AT_REFERENCE)
    assert level.setup == reference_of(file).setup
    again = did_it_work.panel(file)
    assert again.panel.state["setup_after"] == "stiff rear"


def test_nothing_of_an_own_car_stands_beside_invented_laps(monkeypatch):
    monkeypatch.setattr(did_it_work, "was_it_done", lambda file: "Was it done? As asked.")
    file = examples.load_example("two-seater")
    made = did_it_work.panel(shelf.save_car("mine", file.car, file.setup, file.origin, file.text, file.known))
    type_laps(made)
    made.panel.set_all({"laps_from": did_it_work.TYPED, "setup_after": day_promise.AT_REFERENCE})
    assert made.done.layout.display == ""
    assert made.panel.result.promised is not None
    made.panel.set("laps_from", CLEAR)
    assert made.done.layout.display == "none"
    assert made.panel.result.promised is None
    assert "Promised" not in text_of(made)
    assert "set beside its own laps, not beside invented ones" in text_of(made)


def test_typed_lap_times_without_speeds_have_nothing_to_set_beside_a_promise():
    made = desk()
    type_laps(made, "92.1\n92.5\n92.3", "91.1\n91.0\n91.5", "", "")
    made.panel.set_all({"laps_from": did_it_work.TYPED, "setup_after": AS_IT_STANDS})
    assert "Lap times alone have nothing to set beside it" in text_of(made)
    made.typed.texts["before"].value, made.typed.texts["after"].value = (
        "92.1 60\n92.5 61\n92.3 60",
        "91.1 63\n91.0 64\n91.5 62",
    )
    made.typed.corners.value, made.typed.unit.value = "hairpin", "mph"
    assert "the lowest speeds, as V²/R" in text_of(made)
    assert made.panel.result.sessions[0].minimum_speed[0, 0] == pytest.approx(60 * 0.44704)


# ---- typed laps --------------------------------------------------------------------------------------------------


def test_typed_laps_are_compared_and_kept_at_once(home):
    made = desk()
    made.panel.set("laps_from", did_it_work.TYPED)
    assert "No laps typed yet" in made.panel.message
    made.typed.texts["before"].value = "92.1\n92.5"
    assert "Read and saved: 2 before. Still to type: laps after." in made.typed.said.value
    assert "alert" not in made.typed.said.value  # a day half typed is no fault
    assert "Not enough laps typed yet" in made.panel.message
    made.typed.texts["before"].value = "92.1\nabc"
    assert "before, line 2" in made.typed.said.value
    assert "got 'abc'" in made.panel.message.replace('"', "'")  # the bad line, not too few
    type_laps(made)
    assert not made.panel.message
    found = made.panel.result
    assert found.change.laps == (3, 4)
    assert found.change.plain.value == pytest.approx(np.mean([91.1, 91.9, 91.3, 91.0]) - np.mean([92.1, 92.9, 92.0]))
    assert "hairpin" in text_of(made)
    path = day_notes.notes_path(made.file)
    assert path.name == "Example two-seater.day.toml"
    assert tomllib.loads(path.read_text("utf-8"))["typed"]["before"] == BEFORE
    made.panel.set_all({"same_tyres": "yes", "same_fuel": "no"})
    again = desk()
    assert again.panel.state == made.panel.state
    assert again.panel.words_html.value == made.panel.words_html.value
    assert again.panel.image.value == made.panel.image.value


@pytest.fixture(scope="module")
def lent(tmp_path_factory):
    """A panel that shows typed laps, and its folder; whoever takes it types good laps first."""
    folder = tmp_path_factory.mktemp("lent") / "my-cars"
    with made_once(folder):
        made = desk()
        type_laps(made)
        made.panel.set("laps_from", did_it_work.TYPED)
    return made, folder


def test_two_laps_a_session_are_compared_without_a_bound_in_words_and_picture(lent, monkeypatch):
    made, folder = lent
    monkeypatch.setenv(shelf.VARIABLE, str(folder))
    type_laps(made, "92.1 63\n92.4 61", "91.8 64\n92.0 65", "hairpin")
    assert made.panel.result.change.laps == (2, 2)
    assert "These laps set no bound on it, all allowed for." in text_of(made)
    assert "+2.5 (these laps set no bound)" in text_of(made)
    assert not re.search(r"\d{5}|\de[+-]?\d|\binf\b|\bnan\b", text_of(made))
    for axes in (made.view.laps, made.view.spans, made.view.speed):
        ends = [*axes.get_xlim(), *axes.get_ylim(), *(v for line in axes.lines for v in np.ravel(line.get_ydata()))]
        assert np.abs(ends).max() < 100
    assert made.view.spans.get_xlim()[1] < 2


@pytest.mark.parametrize(("before", "corners", "unit", "words"), [
    ("92.1\nninety", "", "", "before, line 2, lap time must be seconds"),
    ("92.1\n9.1", "", "", "lap 2 of"),
    ("92.1 63 88\n92.9 61", "hairpin, long left", "km/h", "before, line 2: speeds must be 2"),
    ("92.1 63 fast", "hairpin, long left", "km/h", "must be a speed, or t for traffic"),
    ("92.1 63 88\n92.9 61 87", "hairpin, long left", "", "choose km/h or mph"),
    ("92.1 63\n92.9 61", "", "km/h", "need the corners"),
    ("92.1 630 88\n92.9 61 87", "hairpin, long left", "km/h", "below 504 km/h, got 630 km/h"),
    ("92.1 t 63 88\n92.9 t 61 87", "hairpin, long left", "km/h", "at least one lap in each"),
    ("92.1 63 88\n" * 101, "hairpin, long left", "km/h", "must be at most 100"),
    ("", "", "", "laps before must be at least one"),
])  # fmt: skip
def test_bad_typing_is_said_and_the_laps_before_stay(lent, monkeypatch, before, corners, unit, words):
    made, folder = lent
    monkeypatch.setenv(shelf.VARIABLE, str(folder))
    type_laps(made)
    assert "alert" not in made.typed.said.value
    shown, picture = made.panel.result, made.panel.image.value
    made.typed.unit.value, made.typed.corners.value, made.typed.texts["before"].value = unit, corners, before
    assert words in made.typed.said.value
    assert "stay in the picture" in made.typed.said.value
    assert "<b><em>Still the laps typed before:</em> " in made.panel.words_html.value
    assert made.panel.image.value == picture
    assert made.panel.result.change.plain == shown.change.plain
    assert day_notes.kept(made.file).notes.get("typed.before", "") == before  # even so, nothing typed is lost


# ---- what is kept ------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("raw", [
    b"[typed\nbefore = 1",
    b"[typed]\nbefore = 3",
    *(pytest.param(raw, marks=pytest.mark.slow) for raw in (b"\xff\xfe\x00", b"surprise = 'x'")),
])  # fmt: skip
def test_a_broken_file_is_said_and_kept_aside(home, raw):
    path = day_notes.notes_path(examples.load_example("two-seater"))
    home.mkdir()
    path.write_bytes(raw)
    made = desk()
    aside = path.with_name(f"{path.name}.kept-1")
    assert aside.read_bytes() == raw
    assert not path.exists()
    assert "cannot be read" in made.message.value
    assert aside.name in made.message.value
    type_laps(made)
    assert path.is_file()
    path.write_bytes(raw)
    assert "kept-2" in desk().message.value


def test_a_fault_in_saving_is_said_and_the_laps_are_shown_all_the_same(home, monkeypatch):
    made = desk()

    def refuse(target, raw):
        raise PermissionError(13, "no writing here")

    monkeypatch.setattr("vdlib.car.store.save_whole", refuse)
    type_laps(made)
    made.panel.set("laps_from", did_it_work.TYPED)
    assert "cannot be saved, got no writing here" in made.message.value
    assert made.panel.result.change.laps == (3, 4)
    assert not day_notes.notes_path(made.file).exists()


def test_notes_keep_any_text(home):
    file = examples.load_example("hatch")
    notes = {"typed.before": 'a "quoted" \\ line\n\'\'\' """ é\n', "left_out.before": [], "laps_from": "x\x00y\x1b"}
    day_notes.keep(file, notes)
    assert day_notes.kept(file).notes == notes | {"laps_from": "x y "}
    assert not list(home.glob("*.part"))
    saved = replace(file, path=home / "blue.toml")
    assert day_notes.notes_path(saved) == home / "blue.day.toml"


# ---- the question before -----------------------------------------------------------------------------------------


def test_the_smallest_difference_to_believe():
    panel = believe.panel()
    assert panel.controls["laps"].disabled
    panel.question.answer.value = believe._about(believe.ANSWERS[-1])
    assert not panel.controls["laps"].disabled
    assert "<b>Not so:</b>" in panel.question.verdict.value
    assert ", because with 8 laps" in panel.question.verdict.value
    first = panel.question.verdict.value
    panel.set("spread", 1.5)  # the question's own numbers answer it, whatever is moved afterwards
    assert panel.question.verdict.value == first
    visits = drive(panel, again=False, brief=True)
    assert not any(visit.message for visit in visits)
    here = {visit.state["laps"]: visit.result.here for visit in visits if visit.state["spread"] == 0.4}
    assert np.all(here[15] < here[3])
    assert here[8][1] > here[8][2]  # learning costs little once "before again" was driven


def test_the_workbooks_numbers_are_the_codes():
    assert pytest.approx(9) == course._DROP * 3.6  # "without slowing by 9 km/h"
    assert logbox.CHANNELS is logfile.CHANNELS
    with pytest.raises(InputError, match="laps before"):
        day_notes.typed_session("before", "\n \n")
