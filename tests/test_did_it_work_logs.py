"""The workbook on laps: logs of one's own, their columns and units, bad files, what is remembered."""

import json
import re
from dataclasses import replace

import numpy as np
import pytest
from many_days import short_days
from undrawn import drawn, undrawn
from unpainted import made_once

from vdlib.car import examples, shelf
from vdlib.checks import InputError
from vdlib.laps import clubday, logfile, notes
from vdlib.laps.doubts import too_much
from vdlib.laps.scare_day import make_scare
from vdlib.laps.slide_rate import turning
from vdlib.panels import day_sessions, did_it_work, logbox

pytestmark = pytest.mark.unpainted


@pytest.fixture(autouse=True)
def home(tmp_path, monkeypatch):
    monkeypatch.setenv(shelf.VARIABLE, str(tmp_path / "my-cars"))
    undrawn(monkeypatch)
    short_days(monkeypatch)
    return tmp_path / "my-cars"


@pytest.fixture(scope="module")
def written(tmp_path_factory):
    return clubday.make(4, laps=5, corner_gain=0.05).write(tmp_path_factory.mktemp("logs"))


FILE = examples.load_example("two-seater")


def desk():
    """A panel as it opens where logs were chosen last; no day is driven for it."""
    if not notes.kept(FILE).notes:
        notes.keep(FILE, {"laps_from": did_it_work.LOGS})
    return did_it_work.panel(FILE)


def say_logs(made, *paths):
    made.logs.fill(dict(zip(notes.KEYS, [*map(str, paths), "", ""], strict=False)))


@pytest.fixture(scope="module")
def lasting(written, tmp_path_factory):
    """A panel for tests that leave it as they found it, with a folder of its own."""
    with made_once(tmp_path_factory.mktemp("lasting") / "my-cars"):
        made = desk()
        say_logs(made, *written)
        assert not made.panel.message
        return made


@pytest.fixture
def shown(lasting, written):
    """The same for tests that choose other logs; the day's are read again where another test left others."""
    if [*lasting.logs.texts.values()] != [*map(str, written)]:
        say_logs(lasting, *written)
    return lasting


@pytest.fixture
def pictured(shown):
    """The same with its picture."""
    with drawn():
        shown.panel.refresh()
        yield shown


def test_logs_are_read_compared_and_said(shown):
    said = shown.logs.message.value
    assert "laps found by crossing the line" in said
    assert "top speed" in said
    assert "7 corners" in said
    found = shown.panel.result
    day = clubday.make(4, laps=5, corner_gain=0.05)
    assert len(found.sessions) == 3
    for session, true in zip(found.sessions, day.lap_time, strict=True):
        # the line is laid elsewhere, so laps begin elsewhere: the first and last differ, the sums do not by much
        assert np.median(session.lap_time) == pytest.approx(np.median(true), abs=0.5)
    assert found.day.truth is None
    assert "invented club day" not in shown.panel.words_html.value


def test_ticks_and_paths_survive_a_new_panel(pictured):
    shown = pictured
    ticks = shown.laps_out.ticks["before"]
    free = next(i for i, box in enumerate(ticks) if not box.value)
    ticks[free].value = True
    again = desk()
    assert again.panel.state["laps_from"] == did_it_work.LOGS
    assert again.laps_out.ticks["before"][free].value
    assert again.panel.result.change.plain == shown.panel.result.change.plain
    assert again.panel.image.value == shown.panel.image.value
    again.logs.read()  # the same logs once more: the ticks stay
    assert again.laps_out.ticks["before"][free].value
    ticks[free].value = False


def test_a_unit_is_asked_for_said_once_and_remembered(shown, written, tmp_path, home):
    bare = tmp_path / "bare.csv"
    bare.write_text(written[1].read_text().replace("speed [km/h]", "speed").replace("time [s]", "time"))
    before = shown.panel.result
    shown.logs.paths["after"].value = str(bare)
    box = shown.logs
    assert "has no stated unit" in box.message.value
    assert logbox.KEPT in box.message.value
    assert shown.panel.result.change.plain == before.change.plain
    assert box.fold.selected_index == 0
    assert "never guessed" in box.message.value
    assert "Which is it" not in box.ask.value  # asked once
    assert "km/h (top speed" in box.ask.value.replace("&nbsp;", " ")
    means = dict((value, text) for text, value in box.units["speed"].options)
    assert box.units["speed"].value == logbox.NO_UNIT
    assert "km/h (top speed" in means["km/h"]
    assert "mph, that is" in means["mph"]
    box.use.click()  # nothing said yet: asked again
    assert "has no stated unit" in box.message.value
    box.units["speed"].value = "mph"  # the wrong answer makes another course, and is not remembered
    box.use.click()
    assert "must be about as long as the course" in box.message.value
    assert not (home / logbox.STORE).exists()
    box.units["speed"].value = "km/h"
    box.use.click()
    assert "read in km/h" in box.message.value
    assert box.fold.selected_index is None
    assert shown.panel.result.change.plain.value == pytest.approx(before.change.plain.value, abs=1e-6)
    held = json.loads((home / logbox.STORE).read_text())
    assert ["speed", "km/h", ""] in [entry["channels"]["speed"] for entry in held]
    again = desk()  # a new panel reads the same files without a question
    assert not again.panel.message
    assert "has no stated unit" not in again.logs.message.value


def test_two_logs_with_the_same_columns_may_have_other_units(written, tmp_path, home):
    paths = []
    for path, factor in zip(written[:2], (1.0, 1 / 1.609344), strict=True):
        head, *rows = [line.split(",") for line in path.read_text().splitlines() if not line.startswith("#")]
        at = head.index("speed [km/h]")
        rows = [[*row[:at], f"{float(row[at]) * factor:.3f}", *row[at + 1 :]] for row in rows]
        paths.append(tmp_path / path.name)
        paths[-1].write_text("\n".join(",".join(row) for row in [[*head[:at], "speed", *head[at + 1 :]], *rows]))
    made = desk()
    say_logs(made, *paths)
    box = made.logs
    assert box.of.value == "before"
    box.units["speed"].value = "km/h"
    box.use.click()
    assert "is the speed of the log after in mph, not in km/h?" in box.message.value
    box.of.value = "after"
    box.units["speed"].value = "mph"
    box.use.click()
    assert 'role="alert"' not in box.message.value
    assert "read in km/h" in box.message.value
    assert "read in mph" in box.message.value
    assert made.panel.result is not None
    assert not (home / logbox.STORE).exists()  # which of the two is the next file's unit is not known
    box.read()
    assert "read in mph" in box.message.value


def test_speed_alone_is_enough_and_what_it_misses_is_said(shown, written, tmp_path):
    made, paths = shown, []
    for path in written[:2]:
        rows = [line.split(",")[:2] for line in path.read_text().splitlines() if not line.startswith("#")]
        paths.append(tmp_path / path.name)
        paths[-1].write_text("\n".join(",".join(row) for row in rows))
    say_logs(made, *paths)
    assert not made.panel.message
    assert "9 km/h is missed" in made.logs.message.value
    assert "speeds that repeat" in made.logs.message.value
    assert "drive again with the change taken back" in made.panel.words_html.value
    assert "not known" in made.panel.words_html.value


def grown(written, **change):
    """A log of two columns with something changed in it."""
    rows = [line.split(",")[:2] for line in written[1].read_text().splitlines() if not line.startswith("#")]
    if "cell" in change:
        for row in rows[500 : 500 + change.get("times", 1)]:
            row[1] = change["cell"]
    if "back" in change:
        rows[500][0] = f"{float(rows[499][0]) - 0.02:.2f}"
    if "few" in change:
        rows = rows[: change["few"]]
    if "text" in change:
        return change["text"]
    return "\n".join(",".join(row) for row in rows)


BAD = [
    ({"text": ""}, "it is empty"),
    ({"text": "hello\nworld\n"}, "two columns of numbers"),
    ({"cell": "fast", "times": 900}, "row 501 holds 'fast' in column 'speed [km/h]'"),
    ({"back": True}, "must not run back"),
    ({"few": 40}, "must hold two laps"),
    ({"few": 1500}, "must hold two laps"),
    ({"cell": "900", "times": 4}, "must be at most 504 km/h"),
]


@pytest.mark.parametrize(("change", "words"), BAD)
def test_a_bad_log_is_refused_in_words(written, tmp_path, change, words):
    bad = tmp_path / "bad.csv"
    bad.write_text(grown(written, **change))
    with pytest.raises(InputError, match=re.escape(words)):
        logbox.of_a_day([("before", logfile.read(written[0])), ("after", logfile.read(bad))])


@pytest.mark.parametrize(
    ("change", "words"),
    [BAD[2], BAD[5], *(pytest.param(*BAD[i], marks=pytest.mark.slow) for i in (0, 1, 3, 4, 6))],
)
def test_a_bad_log_is_said_in_words_and_the_day_before_stays(pictured, written, tmp_path, change, words):
    shown = pictured
    bad = tmp_path / "bad.csv"
    bad.write_text(grown(written, **change))
    before, picture = shown.panel.result, shown.panel.image.value
    shown.logs.paths["after"].value = str(bad)
    assert words in shown.logs.message.value.replace("&#x27;", "'")
    assert logbox.KEPT in shown.logs.message.value
    assert shown.panel.result.change.plain == before.change.plain
    assert shown.panel.image.value == picture
    names = ", ".join(path.name for path in written)
    assert f"<b><em>Still {names}:</em> " in shown.panel.words_html.value
    shown.logs.paths["after"].value = str(written[1])
    assert 'role="alert"' not in shown.logs.message.value
    assert "Still" not in shown.panel.words_html.value


def test_the_same_file_twice_is_refused_in_words(written):
    log = logfile.read(written[0])
    with pytest.raises(InputError, match="the log after must be of other laps than the log before"):
        logbox.of_a_day([("before", log), ("after", log)])


def test_columns_that_contradict_each_other_say_nothing_of_the_rear():
    log = make_scare(9, laps=3, rate=10.0, kinds=(), wide=False, three_axes=False).log
    for factor, seen in ((1.0, True), (np.pi / 180, False)):
        (run,) = day_sessions.from_logs([("before", replace(log, yaw_rate=log.yaw_rate * factor))]).runs
        assert (run.slide is not None) == seen
        assert (day_sessions.NOT_COMPARED in run.session.notes) != seen
        assert (run.hardest is not None) == seen


def test_more_than_any_car_reaches_is_asked_about_and_not_compared():
    log = make_scare(9, laps=3, rate=10.0, kinds=(), wide=False, positions=False).log
    bare = replace(log, yaw_rate=None, turn_x=None, turn_y=None, longitudinal=None, columns={"lateral": ("a", "g")})
    for factor, held in ((1.0, True), (9.80665, False)):
        one = replace(bare, lateral=bare.lateral * factor)
        (run,) = day_sessions.from_logs([("before", one)]).runs
        assert (run.hardest is not None) == held
        notes = " ".join(run.session.notes)
        said = "more than any car on the road. In m/s² it would be 0."
        assert ("the column 'a' reaches" in notes and said in notes) != held
        assert (run.lateral is not None) == held
        assert too_much(one) == turning(one).doubts[0] if not held else not turning(one).doubts


def test_one_lap_is_told_and_compared_without_a_bound(shown, written, tmp_path):
    rows = written[1].read_text().splitlines()
    one = tmp_path / "one.csv"
    one.write_text("\n".join(rows[: int(0.33 * len(rows))]))
    say_logs(shown, written[0], one)
    assert not shown.panel.message
    assert shown.panel.result.change.laps[1] == 1
    assert "these laps set no bound" in shown.panel.words_html.value


def test_missing_files_a_missing_session_and_too_large_a_file(shown, written, tmp_path, monkeypatch):
    shown.logs.paths["after"].value = str(tmp_path / "gone.csv")
    assert "cannot be read" in shown.logs.message.value
    shown.logs.paths["after"].value = ""
    assert "Now choose the log after, by Browse" in shown.logs.message.value
    assert "alert" not in shown.logs.message.value  # a day half chosen is no fault
    assert "top speed" in shown.logs.message.value
    other = tmp_path / "other.csv"
    other.write_text(written[1].read_text())
    monkeypatch.setattr(logfile, "MAX_BYTES", 1000)
    shown.logs.paths["after"].value = str(other)
    assert "cut it to one day" in shown.logs.message.value
    assert shown.panel.result is not None


def test_a_large_file_is_announced_before_it_is_read(shown, written, tmp_path, monkeypatch):
    monkeypatch.setattr(logbox, "LARGE", 1000)
    told, new = [], tmp_path / "new.csv"
    new.write_text(written[1].read_text())

    def tell(change):
        told.append(change["new"])

    shown.logs.message.observe(tell, names="value")
    say_logs(shown, written[0], new)
    shown.logs.message.unobserve(tell, names="value")
    assert any("can take a minute" in text for text in told)
    assert "can take a minute" not in shown.logs.message.value


def test_the_invented_days_logs_can_be_written_and_read_back(home):
    made = desk()
    made.panel.set("number", 3)
    made.panel.set("laps_from", list(did_it_work.INVENTED)[1])
    made.write_button.click()
    assert len(list(home.glob("club-day-3-*.csv"))) == 3
    assert "They stand under the tab Logs" in made.message.value
    invented = made.panel.result.change.plain
    made.panel.set("laps_from", did_it_work.LOGS)
    assert made.panel.result.change.plain == invented


def test_the_day_with_a_yaw_rate_can_be_written_and_read_back(home, monkeypatch):
    made = desk()
    made.panel.set("number", 2)
    made.panel.set("laps_from", day_sessions.VISIT)
    shown = {one.measure: one for one in made.panel.result.calmer}
    made.write_button.click()
    assert len(list(home.glob("workshop-visit-2-*.csv"))) == 2
    made.panel.set("laps_from", did_it_work.LOGS)
    assert not made.panel.message
    assert "yaw rate" in made.logs.message.value
    again = {one.measure: one for one in made.panel.result.calmer}
    for end in ("value", "low", "high"):
        assert getattr(again["slide"].change, end) == pytest.approx(getattr(shown["slide"].change, end), abs=3)
    assert again["slide"].same_lift
    asked = []
    monkeypatch.setattr(did_it_work, "write_invented", lambda *what: asked.append(what) or ())
    made.write_button.click()  # where logs are shown it is the first kind of day
    assert asked == [(day_sessions.VISIT, 2, home)]
    assert "Type these paths" in made.message.value
    made.logs.read()
    assert "Type these paths" not in made.message.value  # logs are read: said long enough


def test_a_damaged_store_of_columns_is_said(shown, written, tmp_path, home):
    home.mkdir(exist_ok=True)
    (home / logbox.STORE).write_text("nonsense")
    shown.logs.read()
    assert "is kept as" in shown.logs.message.value
    assert shown.panel.result is not None


def test_a_path_copied_with_its_quotes_is_read_and_a_begun_day_is_not_called_empty(written):
    made = desk()
    assert "type their paths" in made.panel.message
    say_logs(made, f' "{written[0]}" ')
    assert "choose the log after" in made.logs.message.value
    assert "see the tab Logs" in made.panel.message
    say_logs(made, f"'{written[0]}'", f'"{written[1]}"')
    assert not made.panel.message
    assert made.logs.texts["logs.before"] == str(written[0])
