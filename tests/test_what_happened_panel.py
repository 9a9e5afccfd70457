"""The panel of one log: the moments found, five seconds of one of them, the model beside it, logs of one's own."""

import re
from dataclasses import replace
from datetime import UTC, datetime

import numpy as np
import pytest
from driving import drive, look
from unpainted import made_once

from vdlib.answers.limits import limits
from vdlib.car import examples, shelf
from vdlib.car.records import Moment
from vdlib.draw.incident import window
from vdlib.draw.style import SMALLEST, smallest_text
from vdlib.laps import clubday
from vdlib.laps.incident import NOT_SURE
from vdlib.laps.scare_day import SAYS, make_scare
from vdlib.panels import gg, gg_log, what_happened
from vdlib.panels.drive_again import drive_again
from vdlib.panels.logbox import LogBox
from vdlib.panels.stage import in_corner
from vdlib.units import G

pytestmark = pytest.mark.unpainted


@pytest.fixture(autouse=True)
def home(tmp_path, monkeypatch):
    monkeypatch.setenv(shelf.VARIABLE, str(tmp_path / "my-cars"))
    return tmp_path / "my-cars"


@pytest.fixture(scope="module")
def log_file(tmp_path_factory):
    path = tmp_path_factory.mktemp("log") / "scare.csv"
    path.write_text(make_scare(3, laps=4, rate=20.0, wide=False).csv(), "utf-8")
    return path


def desk():
    return what_happened.panel(examples.load_example("low-two-seater"))


@pytest.fixture(scope="module")
def opened(tmp_path_factory):
    """A panel for tests that only look at what it opens with."""
    with made_once(tmp_path_factory.mktemp("opened") / "my-cars"):
        return desk()


def text_of(made):
    return re.sub("<[^>]*>", " ", made.panel.words_html.value)


def upload(made, name, raw):
    when = datetime(2001, 2, 3, tzinfo=UTC)
    one = {"name": name, "type": "text/csv", "size": len(raw), "content": memoryview(raw), "last_modified": when}
    made.logs.browse["scare"].value = (one,)


@pytest.mark.parametrize("whole", [False, pytest.param(True, marks=pytest.mark.slow)])
def test_it_opens_with_a_moment_and_every_control_moves(opened, whole):
    made = opened
    assert made.panel.result.shown.moment.kind == "spin"
    assert SAYS[1:] in text_of(made)
    head = re.search("<b>(.*?)</b>", made.panel.words_html.value)[1]
    assert head.startswith(what_happened.SESSION)  # nobody can take an invented scare for their own
    assert made.view.banner.get_text() == "INVENTED"
    assert "The same moment in the model" in text_of(made)
    if whole:
        visits = drive(made.panel, again=False)
    else:  # walks move them further
        visits = [look(made.panel)]
        for change in ({"moment": 2}, {"log_from": what_happened.OWN}):
            made.panel.set_all(made.panel.controls.first | change)
            visits.append(look(made.panel))
        made.panel.reset()
    shown = [v for v in visits if not v.message]
    assert len(shown) > (3 if whole else 1)
    assert all("No log read yet" in v.message for v in visits if v.message)
    assert smallest_text(made.view.picture.figure) >= SMALLEST


def test_the_picture_shows_the_five_seconds(opened):
    made = opened
    found = made.panel.result
    part = window(found.session.drive, found.shown.moment)
    assert np.ptp(found.session.drive.time[part]) == pytest.approx(5.0, abs=0.1)
    np.testing.assert_allclose(made.view.speed.lines[0].get_ydata(), 3.6 * found.session.drive.speed[part])
    np.testing.assert_allclose(made.view.turning.lines[1].get_ydata(), np.degrees(found.session.drive.yaw[part]))
    again = found.again
    assert again.radius == pytest.approx(again.speed**2 / again.lateral)
    assert re.search(
        r"hands held still this corner forgives [\d.]+ km/h as the car is, [\d.]+ km/h in the state", text_of(made)
    )
    assert "model, as the car is" in [line.get_label() for line in made.view.speed.lines]


def test_a_slide_that_took_longer_than_the_models_is_told_so(opened):
    made = opened
    found = made.panel.result
    told = re.search(r"20° came ([\d.]+) s after the foot, ([\d.]+) s in the model", text_of(made))
    logged, model = map(float, told.groups())
    one = found.again.driven[0]
    assert model == pytest.approx(float(one.time[np.argmax(np.degrees(one.slide) > 20)]), abs=0.06)
    drive, begin = found.session.drive, found.shown.moment.time
    after = (drive.time >= begin) & (drive.time < begin + 6)
    turned = np.degrees(np.cumsum(drive.yaw[after] - drive.path[after]) * drive.step)
    seen = float(drive.time[after][np.argmax(turned > 20)] - found.shown.moment.foot.time)
    assert logged == pytest.approx(seen, abs=0.3)  # the usual lead of yaw over path is in the one and not in the other
    assert logged - model > 0.5


def test_with_few_rows_the_speed_that_is_forgiven_is_called_rough():
    file = examples.load_example("low-two-seater")
    for rate, rough in ((20.0, False), (5.0, True)):
        found = what_happened.session_of(make_scare(301, laps=4, rate=rate, wide=False).log)
        moment = next(one for one in found.moments if one.foot is not None and one.rate is not None)
        head = drive_again(file, found.drive, moment).head
        assert ("With 5 rows a second the size of the foot's move is read to about 0.1 g only" in head) == rough


def test_one_click_puts_the_corner_into_the_film(opened):
    made = opened
    made.film_button.click()
    (box,) = made.film.children
    assert "invented session" in made.film_said.value
    film = box.children[0]
    again = made.panel.result.again
    assert f"a corner of {again.radius:.0f} m to the {made.panel.result.shown.moment.turn}" in made.film_said.value
    assert film.turn == (1.0 if again.corner.turn == "left" else -1.0)
    assert len(film.runs) > 1000
    # the two answer the same question: the speed that this corner forgives as the car is
    shown = in_corner(made.file, again.corner).film
    head = re.search(r"forgives ([\d.]+) km/h as the car is", made.panel.words_html.value)
    assert min(abs(3.6 * shown.forgiven - float(head[1]))) < 1.0


def test_the_film_says_that_it_works_and_goes_with_the_moment_it_is_of(opened):
    made = opened
    seen = []
    made.film_said.observe(lambda change: seen.append((change["new"], made.film.children)), names="value")
    made.film_button.click()
    assert "Working" in seen[0][0]
    assert seen[0][1] == ()  # what was there before is gone while it works
    assert len(made.film.children) == 1
    made.panel.set("moment", 2)
    assert made.film.children == ()
    assert "corner of" not in made.film_said.value
    made.panel.reset()


def test_a_log_of_ones_own_is_read_by_path_and_remembered(log_file, home):
    made = desk()
    made.logs.paths["scare"].value = str(log_file)
    assert made.panel.state["log_from"] == what_happened.OWN
    assert "it holds" in made.logs.message.value
    assert "yaw rate" in made.logs.message.value
    assert "position" in made.logs.message.value
    assert SAYS[1:] not in text_of(made)
    assert what_happened.SESSION not in text_of(made)
    assert made.view.banner.get_text() == ""
    again = desk()
    assert again.panel.state["log_from"] == what_happened.OWN
    assert again.panel.image.value == made.panel.image.value


def test_browse_keeps_the_file_in_the_cars_folder_and_says_its_size(log_file, home, tmp_path):
    made = desk()
    raw = log_file.read_bytes()
    upload(made, "../my lap.csv", raw)
    assert (home / "my lap.csv").read_bytes() == raw
    assert sorted(p.name for p in tmp_path.iterdir()) == ["my-cars"]
    assert f"{len(raw) / 1e6:.2f} MB, is kept as" in made.logs.message.value
    assert made.panel.state["log_from"] == what_happened.OWN
    upload(made, "my lap.csv", raw)  # the same once more: no second copy
    assert len(list(home.glob("my lap*.csv"))) == 1
    upload(made, "my lap.csv", raw + b"\n")
    assert (home / "my lap (2).csv").exists()


def test_bad_logs_are_said_and_the_moment_before_stays(log_file, tmp_path):
    made = desk()
    made.logs.paths["scare"].value = str(log_file)
    before, picture = made.panel.result, made.panel.image.value
    assert made.logs.fold.layout.display == ""
    made.logs.paths["scare"].value = str(tmp_path / "nowhere" / "x.csv")
    assert f"no folder {tmp_path / 'nowhere'}" in made.logs.message.value
    assert "<b><em>Still scare.csv:</em> " in made.panel.words_html.value  # what is shown is of the log before
    assert made.logs.fold.layout.display == "none"  # and so would its columns be
    made.logs.paths["scare"].value = str(tmp_path / "x.csv")
    assert f"it is not in {tmp_path}" in made.logs.message.value
    bare = tmp_path / "bare.csv"
    bare.write_text("time [s],speed [km/h]\n" + "\n".join(f"{0.1 * i:.1f},80" for i in range(600)))
    made.logs.paths["scare"].value = str(bare)
    assert "bare.csv: lateral acceleration must be in the log" in made.logs.message.value
    assert made.logs.fold.selected_index == 0
    assert [name for name, _ in made.logs.columns["lateral"].options] == ["(none)", "time [s]", "speed [km/h]"]
    assert made.panel.result.session is before.session
    assert made.panel.image.value == picture
    made.logs.paths["scare"].value = str(log_file)
    assert made.logs.former == ""
    assert "Still" not in made.panel.words_html.value


def test_a_calm_log_without_yaw_rate_is_told_as_that(tmp_path):
    made = desk()
    path = clubday.make(2, ("before",), laps=5, traffic=0.0).write(tmp_path)[0]
    made.logs.paths["scare"].value = str(path)
    said = made.panel.frame.said.value  # an answer, not a fault
    assert "a slide cannot be seen in it" in said
    assert "no slide" not in said
    assert "no corner was much slower" in said
    assert made.panel.message
    assert made.panel.frame.message.value == ""


def test_what_is_shown_is_marked_before_another_log_is_read(log_file, tmp_path):
    told = []
    box = LogBox({}, lambda: told.append(box.former), what_happened.LABEL, 1, lambda logs: (logs, []))
    box.paths["scare"].value = str(log_file)
    other = tmp_path / "other.csv"
    other.write_bytes(log_file.read_bytes())
    box.paths["scare"].value = str(other)
    assert told == ["", "scare.csv", ""]


def test_nothing_is_sure_where_columns_contradict_each_other():
    day = make_scare(3, laps=4, rate=20.0, wide=False, three_axes=False, positions=False)
    good = what_happened.session_of(day.log)
    assert good.moments[0].sure == "sure"
    assert "no slide of 5° or more" in what_happened.nothing_found(good)
    mph = what_happened.session_of(replace(day.log, speed=day.log.speed / 1.609344))
    assert mph.moments
    assert {one.sure for one in mph.moments} == {NOT_SURE}
    for factor in (180 / np.pi, np.pi / 180):
        one = what_happened.session_of(replace(day.log, yaw_rate=day.log.yaw_rate * factor))
        assert one.moments == ()  # a spin of 50 g is none
        said = what_happened.nothing_found(one)
        assert said.startswith("Whether the car slid cannot be said.")
        assert re.search("5[6-9] times too", said)
        assert "no slide" not in said


def test_the_g_g_diagram_holds_the_log_inside_the_models_limits(log_file):
    file = examples.load_example("low-two-seater")
    alone = gg_log.panel(file)
    assert alone.state["log_from"] == gg_log.NOTHING
    found = alone.result
    moment = Moment(found.grip.speed, np.array([1.0, -1.0]), 0.0, 0.0)
    steady = int(np.abs(gg.ALONG).argmin())
    model = limits(file.car, file.setup, moment).lateral
    assert abs(gg.ALONG[steady]) < 0.3 * G
    np.testing.assert_allclose(np.abs(found.grip.both.lateral[:, :, steady]), np.abs(model), rtol=0.15)
    short = gg.from_model(file)  # the same without a log, as the workbook on weight shows it
    np.testing.assert_array_equal(short.result.both.lateral, found.grip.both.lateral)
    at = int(np.abs(gg.ALONG + 0.5 * G).argmin())
    braked = limits(file.car, file.setup, Moment(found.grip.speed, 1.0, gg.ALONG[at], 1.0)).car
    assert f"leaves {abs(float(braked)) / G:.2f} g of cornering" in short.words_html.value
    assert what_happened.SESSION not in alone.words_html.value
    alone.set("log_from", gg_log.INVENTED)
    assert what_happened.SESSION in re.search("<b>(.*?)</b>", alone.words_html.value)[1]
    alone.set("log_from", gg_log.OWN)
    assert "choose it in the panel What happened there" in alone.message
    made = desk()
    made.logs.paths["scare"].value = str(log_file)
    own = gg_log.panel(file)
    assert own.state["log_from"] == gg_log.OWN
    assert len(own.result.shown.lateral_driven) > 100
    assert 0.5 < own.result.most / G < 1.5
    assert "hardest held for a second" in own.words_html.value
    assert "contradict each other" not in own.words_html.value
    used = own.result
    doubted = replace(used, drive=replace(used.drive, doubts=("check the units",)))
    assert "Numbers of this log contradict each other" in gg_log.words(doubted)
