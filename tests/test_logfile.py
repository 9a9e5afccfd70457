"""Logs as loggers write them: columns, units, delimiters, gaps and faults."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

from vdlib.checks import InputError
from vdlib.laps import logfile
from vdlib.laps import rows as row_reader
from vdlib.laps.logfile import UnitQuestion, guess, look, read, recall, remember
from vdlib.laps.places import to_plane
from vdlib.laps.scare_day import make_scare

TIME = np.arange(0.0, 30.0, 0.1)
SPEED = 30.0 + 10.0 * np.sin(TIME)  # m/s
FACTOR = {"km/h": 3.6, "mph": 3600 / 1609.344, "m/s": 1.0, "kn": 3600 / 1852}  # definitions of mile and knot


def write(path, rows, encoding="utf-8"):
    path.write_bytes(("\n".join(rows) + "\n").encode(encoding))
    return path


def simple(head="time [s],speed [km/h]", unit="km/h", sign=",", comma=False):
    rows = [f"{t:.2f}{sign}{v * FACTOR[unit]:.4f}" for t, v in zip(TIME, SPEED, strict=True)]
    return [head.replace(",", sign), *([r.replace(".", ",") for r in rows] if comma else rows)]


# ---- units -------------------------------------------------------------------------------------------------------


@pytest.mark.analytic
@pytest.mark.parametrize("unit", sorted(FACTOR))
@pytest.mark.parametrize("style", ["{0} [{1}]", "{0} ({1})", "{0}_{1}"])
def test_a_stated_unit_is_read_from_the_name(tmp_path, unit, style):
    log = read(write(tmp_path / "a.csv", simple("time [s]," + style.format("Speed", unit), unit)))
    np.testing.assert_allclose(log.speed, SPEED, atol=1e-4)
    np.testing.assert_allclose(log.time, TIME, atol=1e-9)
    assert log.columns["speed"][1] == unit


@pytest.mark.analytic
@pytest.mark.parametrize("row", ["s,mph", "[s],[mph]", "sec,mi/h", ",mph"])
def test_a_stated_unit_is_read_from_a_row_of_units(tmp_path, row):
    rows = simple("Time,GPS Speed", "mph")
    log = read(write(tmp_path / "a.csv", [rows[0], row, *rows[1:]]))
    np.testing.assert_allclose(log.speed, SPEED, atol=1e-4)


def test_the_unit_of_speed_is_asked_for_and_never_guessed(tmp_path):
    rows = ["time,speed", *[f"{t:.1f},{v:.0f}" for t, v in zip(TIME, np.linspace(60, 231, len(TIME)), strict=True)]]
    path = write(tmp_path / "a.csv", rows)
    with pytest.raises(UnitQuestion, match=r"column 'speed' \(speed\) has no stated unit") as caught:
        read(path)
    question = caught.value
    assert set(question.choices) == {"km/h", "mph", "m/s", "kn"}
    assert "231 km/h, that is 144 mph" in question.choices["km/h"]  # 231/1.609344 = 143.5
    assert "231 mph, that is 372 km/h" in question.choices["mph"]
    tops = {u: read(path, {"time": ("time", "s"), "speed": ("speed", u)}).speed.max() for u in ("km/h", "mph")}
    assert tops["mph"] / tops["km/h"] == pytest.approx(1.609344, rel=1e-12)
    with pytest.raises(InputError, match=r"832 km/h.*is m/s the right unit"):
        read(path, {"time": ("time", "s"), "speed": ("speed", "m/s")})


def test_other_units_are_asked_for_too(tmp_path):
    rows = ["time [ms],speed [m/s],lat acc", *[f"{1e3 * t:.0f},{v:.3f},0.5" for t, v in zip(TIME, SPEED, strict=True)]]
    path = write(tmp_path / "a.csv", rows)
    with pytest.raises(UnitQuestion, match="lateral acceleration") as caught:
        read(path)
    assert set(caught.value.choices) == {"g", "m/s²"}
    log = read(path, guess(look(path)) | {"lateral": ("lat acc", "g")})
    assert log.lateral is not None
    np.testing.assert_allclose(log.lateral, 0.5 * 9.81)
    np.testing.assert_allclose(log.time, TIME, atol=1e-3)


def test_a_long_distance_is_asked_for_in_digits(tmp_path):
    rows = ["time [s],speed [km/h],distance", *[f"{t:.1f},100,{12000 + t:.1f}" for t in TIME]]
    with pytest.raises(UnitQuestion, match="distance") as caught:
        read(write(tmp_path / "a.csv", rows))
    assert caught.value.choices["m"] == "m (largest value 12030 m)"


def test_time_without_a_unit(tmp_path):
    log = read(write(tmp_path / "a.csv", simple("t,speed [km/h]")))
    assert "taken to be seconds, one row every 0.1 s" in " ".join(log.notes)
    rows = ["t,speed [km/h]", *[f"{1000 * t:.0f},100" for t in TIME]]
    with pytest.raises(UnitQuestion, match=r"one row every 100 s.*one row every 0\.1 s"):
        read(write(tmp_path / "b.csv", rows))


# ---- how the text is written ---------------------------------------------------------------------------------------


@pytest.mark.parametrize("sign", [",", ";", "\t", "|"])
@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "cp1252"])
@pytest.mark.parametrize("comma", [False, True])
def test_delimiters_decimal_commas_and_encodings(tmp_path, sign, encoding, comma):
    if comma and sign == ",":
        plain = simple("Zeit [s],Geschwindigkeit [km/h]", sign=";", comma=True)
        rows = ['"' + r.replace(";", '","') + '"' for r in plain]
    else:
        rows = simple("Zeit [s],Geschwindigkeit [km/h]", sign=sign, comma=comma)
    log = read(write(tmp_path / "a.csv", ["# größte Runde", "", *rows], encoding))
    np.testing.assert_allclose(log.speed, SPEED, atol=1e-4)
    np.testing.assert_allclose(log.time, TIME, atol=1e-9)
    assert log.row[0] == 4


def test_comment_lines_metadata_and_text_columns_are_stepped_over(tmp_path):
    rows = simple("time [s],speed [km/h],remark,lap")
    rows[1:] = [f"{r},good,{i // 100}" for i, r in enumerate(rows[1:])]
    rows[50:50] = ["# red flag"]
    log = read(write(tmp_path / "a.csv", ["driver,nobody", "date,2001-02-03", "", *rows]))
    assert len(log.time) == len(TIME)
    assert log.lap is not None
    assert set(log.lap) == {0, 1, 2}
    assert log.row[60] == 60 + 6


def test_clock_times_and_positions(tmp_path):
    rows = ["UTC time;speed (kn);latitude;longitude"]
    rows += [f"10:59:{50 + 0.1 * i:06.3f};50,0;50,0;{8 + 1e-5 * i:.6f}".replace(".", ",") for i in range(100)]
    rows += [f"11:00:{0.1 * i:06.3f};50,0;50,0;{8 + 1e-5 * (100 + i):.6f}".replace(".", ",") for i in range(50)]
    log = read(write(tmp_path / "a.csv", rows))
    np.testing.assert_allclose(np.diff(log.time), 0.1, atol=1e-6)
    assert log.x is not None
    # one degree of longitude on the equator is 2π·6371.0088 km/360 = 111.195 km; at 50° north cos 50° of it
    assert np.diff(log.x)[0] == pytest.approx(1e-5 * 111_195 * np.cos(np.radians(50)), rel=1e-4)


def test_a_table_without_names_has_numbered_columns(tmp_path):
    path = write(tmp_path / "a.csv", simple()[1:])
    assert look(path).columns == ("column 1", "column 2")
    with pytest.raises(InputError, match=r"speed must be one of the columns.*'column 1', 'column 2'"):
        read(path)
    log = read(path, {"time": ("column 1", "s"), "speed": ("column 2", "km/h")})
    np.testing.assert_allclose(log.speed, SPEED, atol=1e-4)


# ---- gaps and clocks -----------------------------------------------------------------------------------------------


def test_short_gaps_are_filled_and_long_ones_break_the_run(tmp_path):
    rows = simple()
    for i in (20, 21, 22):
        rows[i] = rows[i].split(",")[0] + ","
    for i in range(100, 150):
        rows[i] = rows[i].split(",")[0] + ",n/a"
    log = read(write(tmp_path / "a.csv", rows))
    # a straight line over 0.4 s of a sine of 10 m/s and 1 rad/s is at most 10·0.4²/8 off
    np.testing.assert_allclose(log.speed[18:24], SPEED[18:24], atol=0.2)
    assert len(log.time) == len(TIME) - 50
    assert list(np.unique(log.run)) == [0, 1]
    assert "column of speed: 3 empty cells filled by a straight line" in log.notes
    assert "50 rows in holes longer than two seconds" in " ".join(log.notes)


def test_missing_rows_and_a_clock_that_starts_again_begin_a_new_run(tmp_path):
    rows = simple()
    gone = rows[:100] + rows[160:]
    log = read(write(tmp_path / "a.csv", gone))
    assert "1 gap without rows, the longest 6.1 s" in " ".join(log.notes)
    assert list(np.unique(log.run)) == [0, 1]
    twice = read(write(tmp_path / "b.csv", rows + rows[1:]))
    assert np.all(np.diff(twice.time) > 0)
    assert "the clock starts again 1 time (row 302)" in " ".join(twice.notes)
    assert twice.travelled[-1] == pytest.approx(2 * np.trapezoid(SPEED, TIME), rel=1e-6)


def test_a_clock_that_runs_back_is_refused_with_its_row(tmp_path):
    rows = simple()
    rows[50], rows[51] = rows[51], rows[50]
    with pytest.raises(InputError, match=r"time must not run back, got 4\.9 s after 5 s in row 52"):
        read(write(tmp_path / "a.csv", rows))


def test_a_clock_of_seconds_since_1970_is_quoted_in_full(tmp_path):
    rows = ["time [s],speed [km/h]", *[f"{1.7e9 + 0.1 * i:.1f},100" for i in range(60)]]
    rows[50], rows[51] = rows[51], rows[50]
    with pytest.raises(InputError, match=r"got 1700000004\.9 s after 1700000005 s in row 52"):
        read(write(tmp_path / "a.csv", rows))
    with pytest.raises(InputError, match=r"got 1700000000 s in every row"):
        read(write(tmp_path / "b.csv", [rows[0], *["1700000000,100"] * 30]))


def test_a_cut_off_last_row_is_left_out(tmp_path):
    rows = [f"{r},1.0,{i}.0" for i, r in enumerate(simple()[1:])]
    log = read(write(tmp_path / "a.csv", ["time [s],speed [km/h],x [m],y [m]", *rows, "30.1,10"]))
    assert len(log.time) == len(TIME)
    assert "1 row that is the last and cut off (row 302)" in " ".join(log.notes)


# ---- faults --------------------------------------------------------------------------------------------------------

BAD = [
    ([], "empty"),
    (["", "  "], "empty"),
    (["hello", "world"], "two columns of numbers"),
    (["time [s]", "1", "2"], "two columns of numbers"),
    (simple("time [s],power"), r"speed must be one of the columns.*'power'"),
    (
        [*simple()[:40], *["3.95,fast"] * 5, *simple()[41:]],
        r"got 5 of 304 rows that cannot be read .row 41 holds 'fast' in column 'speed \[km/h\]'; row 42",
    ),
    ([*simple()[:40], *["3.95"] * 5, *simple()[41:]], r"row 41 has 1 cells, not 2.*mend those rows"),
    (["time [s],speed [km/h]", *["1.0,100"] * 30], "must run on"),
    (["time [s],speed [km/h]", *[f"{i},-90" for i in range(30)]], "must not be below zero"),
    (["time [s],speed [km/h],v2", *[f"{i},,3" for i in range(30)]], "no numbers"),
    (["time [s],speed [km/h],latitude,longitude", *[f"{i},50,95,3" for i in range(30)]], "within 90 degrees"),
]


@pytest.mark.parametrize("lone", ["x", "y", "latitude", "longitude"])
def test_one_half_of_a_place_is_not_proposed(tmp_path, lone):
    path = write(tmp_path / "a.csv", [f"time [s],speed [km/h],{lone}", *(f"{0.1 * i:.1f},80,3" for i in range(50))])
    assert set(guess(look(path))) == {"time", "speed"}
    assert read(path).x is None
    with pytest.raises(InputError, match=rf"must be there with .*{lone}"):
        read(path, guess(look(path)) | {lone: (lone, logfile.CHANNELS[lone][1][0])})


@pytest.mark.parametrize(("rows", "words"), BAD)
def test_bad_input_is_told_in_words(tmp_path, rows, words):
    with pytest.raises(InputError, match=words):
        read(write(tmp_path / "a.csv", rows))


def test_faults_of_the_file_itself(tmp_path, monkeypatch):
    with pytest.raises(InputError, match="cannot be read"):
        read(tmp_path / "none.csv")
    (tmp_path / "b.bin").write_bytes(bytes(range(256)) * 40)
    with pytest.raises(InputError, match="must be a text table"):
        read(tmp_path / "b.bin")
    path = write(tmp_path / "c.csv", simple())
    monkeypatch.setattr(logfile, "MAX_BYTES", 1000)
    with pytest.raises(InputError, match=r"must be at most 0 MB|cut it to one day"):
        read(path)
    monkeypatch.setattr(logfile, "MAX_BYTES", 10**9)
    monkeypatch.setattr(row_reader, "MAX_ROWS", 100)
    with pytest.raises(InputError, match="million rows"):
        read(path)


@pytest.mark.parametrize(("columns", "words"), [
    ({"time": ("time [s]", "s"), "speed": ("v", "km/h")}, "must name a column of the file"),
    ({"time": ("time [s]", "s"), "speed": ("speed [km/h]", "furlongs")}, "must be one of km/h, mph, m/s, kn"),
    ({"time": ("time [s]", "s"), "speed": ("speed [km/h]", ""), "brake": ("speed [km/h]", "")}, "must be known"),
])  # fmt: skip
def test_a_wrong_choice_of_columns_is_refused(tmp_path, columns, words):
    with pytest.raises(InputError, match=words):
        read(write(tmp_path / "a.csv", simple()), columns)


# ---- blocks and memory of columns ----------------------------------------------------------------------------------


def test_reading_in_blocks_gives_the_same_as_reading_at_once(tmp_path, monkeypatch):
    rows = simple()
    rows[200] = rows[200].split(",")[0] + ",-"  # one block needs the careful reader
    path = write(tmp_path / "a.csv", rows)
    whole = read(path)
    monkeypatch.setattr(row_reader, "BLOCK", 500)
    pieces = read(path)
    np.testing.assert_array_equal(whole.speed, pieces.speed)
    np.testing.assert_array_equal(whole.row, pieces.row)
    assert whole.row[-1] == len(TIME) + 1


def test_columns_are_remembered_by_the_set_of_names(tmp_path):
    one = look(write(tmp_path / "a.csv", simple("Stoppuhr,Tempo")))
    other = look(write(tmp_path / "b.csv", simple("Tempo,Stoppuhr")))
    third = look(write(tmp_path / "c.csv", simple("time,speed")))
    store = tmp_path / "kept" / "columns.json"
    assert recall(one, store) is None
    columns = {"time": ("Stoppuhr", "s"), "speed": ("Tempo", "km/h")}
    remember(one, columns, store)
    assert recall(other, store) == columns
    assert recall(third, store) is None
    remember(third, {"time": ("time", "s"), "speed": ("speed", "mph")}, store)
    remember(one, columns | {"speed": ("Tempo", "mph")}, store)
    assert recall(one, store) == columns | {"speed": ("Tempo", "mph")}
    assert len(json.loads(store.read_text())) == 2
    store.write_text("[{")
    with pytest.raises(InputError, match="is kept as"):
        recall(one, store)
    assert (tmp_path / "kept" / "columns.json.kept-1").read_text() == "[{"
    assert recall(one, store) is None
    remember(one, columns, store)
    assert recall(one, store) == columns


@pytest.mark.analytic
def test_positions_lie_as_far_apart_as_on_a_ball():
    """Great-circle distance by the haversine formula, for two places some kilometres from the origin."""
    lat, lon = np.array([47.30, 47.36]), np.array([8.50, 8.57])
    x, y = to_plane(lat, lon, (47.33, 8.53))
    a, b = np.radians(lat), np.radians(lon)
    half = np.sin((a[1] - a[0]) / 2) ** 2 + np.cos(a[0]) * np.cos(a[1]) * np.sin((b[1] - b[0]) / 2) ** 2
    ball = 2 * 6371008.8 * np.arcsin(np.sqrt(half))
    assert np.hypot(np.diff(x), np.diff(y))[0] == pytest.approx(ball, rel=3e-4)
    assert x[1] > 0 > x[0]
    assert y[1] > 0 > y[0]


# The most that a process held stands in /proc; getrusage counts in what the process that began it held by then.
READ_AND_SEARCHED = """
import sys
from pathlib import Path
from vdlib.laps.incident import find
from vdlib.laps.logfile import read
from vdlib.laps.slide_rate import turning
log = read(sys.argv[1])
drive = turning(log)
most = next(line for line in Path("/proc/self/status").read_text().splitlines() if line.startswith("VmHWM"))
print(len(log.time), len(find(drive)), int(most.split()[1]) // 1024)
"""


@pytest.mark.skipif(not Path("/proc/self/status").exists(), reason="only Linux tells a process the most it held")
@pytest.mark.parametrize(("rows", "room"), [(150_000, 180), pytest.param(1_000_000, 1000, marks=pytest.mark.slow)])
def test_a_million_rows_with_yaw_rate_are_read_and_searched_in_one_gigabyte(tmp_path, rows, room):
    """And fewer in less; room for the interpreter and its libraries [MB] is in it."""
    day = make_scare(2, laps=3, rate=20.0, wide=False).log
    shown = (3.6 * day.speed, day.lateral / 9.81, day.longitudinal / 9.81, np.degrees(day.yaw_rate), day.x, day.y)
    lines = [",".join(f"{v:.4f}" for v in row) for row in zip(*shown, strict=True)]
    head = "time [s],speed [km/h],lateral [g],longitudinal [g],gyro z [deg/s],x [m],y [m]\n"
    path = tmp_path / "million.csv"
    with path.open("w") as file:
        file.write(head)
        for begin in range(0, rows, len(lines)):
            rest = lines[: rows - begin]
            file.write("".join(f"{0.05 * (begin + i):.2f},{line}\n" for i, line in enumerate(rest)))
    run = subprocess.run(
        [sys.executable, "-c", READ_AND_SEARCHED, str(path)], check=True, capture_output=True, text=True, timeout=200
    )
    held, moments, megabytes = map(int, run.stdout.split())
    print(moments, "moments,", megabytes, "MB at the most, the interpreter and its libraries included")
    assert held == rows
    assert moments > rows / 20_000
    assert megabytes < room


@pytest.mark.analytic
@pytest.mark.parametrize("how", [
    "{h:02d}:{m:02d}:{s:05.2f}", "{m:02d}:{s:06.3f}", "{h:d}:{m:02d}:{s:02.0f}",
    "2026-05-0{d:d}T{h:02d}:{m:02d}:{s:05.2f}Z",
    "2026-05-0{d:d} {h:02d}:{m:02d}:{s:05.2f}+02:00",
])  # fmt: skip
def test_times_of_day_are_read_all_at_once_as_one_by_one(how):
    rng = np.random.default_rng(4)
    cells = [
        how.format(d=1 + i // 100, h=rng.integers(1, 10), m=rng.integers(0, 60), s=float(rng.integers(0, 59)) + i / 200)
        for i in range(200)
    ]
    found = row_reader.clock_seconds(cells)
    assert found is not None
    np.testing.assert_array_equal(found, [row_reader._value(cell, ".") for cell in cells])
    for other in ("", "nan", "12", cells[0] + "0", cells[0].replace(":", "-"), cells[0][:-1] + "x"):
        assert row_reader.clock_seconds([*cells, other]) is None  # not written alike: cell by cell


@pytest.mark.parametrize("clock", [False, True])
def test_positions_that_come_seldom_and_times_of_day_leave_no_row_out(tmp_path, clock):
    time = np.arange(0, 120, 0.05)
    lines = ["time [s],speed [km/h],lateral [g],x [m],y [m]"]
    for i, t in enumerate(time):
        told = f"09:{int(t // 60):02d}:{t % 60:05.2f}" if clock else f"{t:.2f}"
        lines.append(f"{told},{60 + i % 7},0.{i % 9}," + (f"{3 * t:.1f},{t:.1f}" if i % 10 == 0 else ","))
    path = tmp_path / "seldom.csv"
    path.write_text("\n".join(lines) + "\n")
    log = read(path)
    assert len(log.time) == len(time)
    np.testing.assert_allclose(log.time - log.time[0], time, atol=1e-6)
    np.testing.assert_allclose(log.speed * 3.6, 60 + np.arange(len(time)) % 7)
    assert log.x is not None
    assert not log.notes or "left out" not in " ".join(log.notes)
