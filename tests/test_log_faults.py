"""Logs with faults that loggers and people make: what is read all the same, what is left out, and that it is said."""

from __future__ import annotations

import time
from dataclasses import replace

import numpy as np
import pytest

from vdlib.checks import InputError
from vdlib.laps import clubday, course, notes
from vdlib.laps.evidence import compare
from vdlib.laps.evidence_words import conclude
from vdlib.laps.laps import Line, find_laps, hand_laps
from vdlib.laps.logfile import WILD, ColumnQuestion, guess, look, read, recall, remember

DAY = clubday.make(3, ("before",), laps=4, traffic=0.0)
LINE = Line(*clubday.LINE)
SIZE = float(clubday.course()[0][-1])


@pytest.fixture(scope="module")
def rows():
    """Cells of the first log of an invented day, with latitude and longitude in place of x and y."""
    lines = [line.split(",") for line in DAY.csv[0].splitlines() if not line.startswith("#")][1:]
    scale = 6_371_008.8 * np.pi / 180
    return [[t, v, a, f"{45 + float(y) / scale:.8f}", f"{9 + float(x) / scale / np.cos(np.pi / 4):.8f}"]
            for t, v, a, x, y in lines]  # fmt: skip


HEAD = ["time [s]", "speed [km/h]", "lateral [g]", "latitude", "longitude"]


def write(path, head, rows, sign=","):
    path.write_text("\n".join(sign.join(r) for r in [head, *rows]) + "\n", "utf-8")
    return path


def changed(rows, which, cells):
    out = [list(r) for r in rows]
    for i in which:
        out[i] = [cell if cell is not None else old for cell, old in zip(cells, out[i], strict=True)]
    return out


def shape(log):
    """Lap times, corners, and the share of the lap spent in corners."""
    found, known = course.session(log, "one")
    inside = [s.kind == "corner" for s in found.sections]
    return found, known, float(found.section_time[:, inside].sum() / found.lap_time.sum())


def test_a_few_rows_with_a_speed_no_car_has_are_left_out_and_said(tmp_path, rows):
    whole = read(write(tmp_path / "whole.csv", HEAD, rows))
    wild = changed(rows, (900, 901, 2500), (None, "720", None, None, None))
    wild = changed(wild, (3000,), (None, "-60", None, None, None))
    log = read(write(tmp_path / "wild.csv", HEAD, wild))
    assert log.left_out == {WILD: 4}
    assert f"left out: 4 rows {WILD} (row 902, 903, 2502, ...)" in log.notes
    assert shape(log)[0].lap_time == pytest.approx(shape(whole)[0].lap_time, abs=0.02)
    for which in (range(900, 904), range(900, 904 + 5 * len(rows) // 100, 5)):  # many mean a unit
        with pytest.raises(InputError, match="If so, take those rows out"):
            read(write(tmp_path / "many.csv", HEAD, changed(rows, which, (None, "720", None, None, None))))
    fast = [[t, f"{4 * float(v):.1f}", *rest] for t, v, *rest in rows]  # nor is the top of a wrong unit a slip
    with pytest.raises(InputError, match="the right unit"):
        read(write(tmp_path / "fast.csv", HEAD, fast))


# ---- (1) positions -----------------------------------------------------------------------------------------------


@pytest.mark.parametrize("fault", ["no fix", "first", "swapped", "frozen", "jump"])
def test_bad_positions_do_not_move_time_from_corners_to_straights(tmp_path, rows, fault):
    whole = read(write(tmp_path / "whole.csv", HEAD, rows))
    no_force = [[*r[:2], *r[3:]] for r in rows]  # corners are then found by the positions alone
    head = [*HEAD[:2], *HEAD[3:]]
    bad = {
        "no fix": lambda: changed(no_force, [700], [None, None, "0", "0"]),
        "first": lambda: changed(no_force, range(3), [None, None, "", ""]),
        "swapped": lambda: [
            [t, v, b, a] if 900 <= i < 940 else [t, v, a, b] for i, (t, v, a, b) in enumerate(no_force)
        ],
        "frozen": lambda: changed(no_force, range(500, 600), [None, None, *no_force[500][2:]]),
        "jump": lambda: changed(no_force, [400, 800], [None, None, "45.1", None]),
    }[fault]()
    log = read(write(tmp_path / "bad.csv", head, bad))
    assert len(log.time) == len(rows)  # speed and time of those rows count all the same
    good_found, good, share = shape(replace(whole, lateral=None))
    found, known, other = shape(log)
    assert len(known.corners) == len(good.corners) == len(clubday.CORNERS)
    assert other == pytest.approx(share, abs=0.01)
    # frozen positions may hide the line once: that lap is then two, and set aside
    assert np.median(found.lap_time) == pytest.approx(np.median(good_found.lap_time), abs=0.2)
    if fault != "first":
        said = "1 row without a fix" if fault == "no fix" else "a place where the car cannot have been"
        assert said in " ".join(log.notes)


def test_a_place_held_for_less_than_two_seconds_costs_no_other_row(tmp_path, rows):
    fast = max(range(200, 1500), key=lambda i: float(rows[i][1]))
    held = changed(rows, range(fast, fast + 30), [None, *rows[fast][1:]])  # a phone that hangs for a moment
    log = read(write(tmp_path / "held.csv", HEAD, held))
    way = log.speed[fast] * (log.time[fast + 30] - log.time[fast])
    assert way > 2 * 25.0  # farther than is spared
    assert np.isfinite(log.x).all()
    assert not [note for note in log.notes if "cannot have been" in note]
    jump = changed(held, range(fast + 30, len(rows)), [None, None, None, "45.1", None])  # still no place for a car
    assert np.isnan(read(write(tmp_path / "jump.csv", HEAD, jump)).x).any()


def test_the_origin_is_the_middle_and_not_the_first_row(tmp_path, rows):
    log = read(write(tmp_path / "a.csv", HEAD, changed(rows, [0], [None, None, None, "0", "0"])))
    assert log.origin is not None
    assert log.origin[0] == pytest.approx(45, abs=0.01)
    assert np.nanmax(np.abs(log.x)) < 2000


@pytest.mark.parametrize(("stated", "true"), [("km/h", "mph"), ("mph", "km/h"), ("km/h", "kn")])
def test_a_speed_in_the_wrong_unit_is_found_by_the_positions(tmp_path, rows, stated, true):
    factor = {"km/h": 1.0, "mph": 1.609344, "kn": 1.852}
    said = [[t, f"{float(v) / factor[true]:.3f}", *rest] for t, v, *rest in rows]
    head = [HEAD[0], f"speed [{stated}]", *HEAD[2:]]
    log = read(write(tmp_path / "a.csv", head, said))
    assert f"that is so where the speed is in {true}, not in {stated}" in " ".join(log.notes)
    assert "check the units" not in " ".join(read(write(tmp_path / "b.csv", HEAD, rows)).notes)


def test_latitude_and_longitude_the_wrong_way_round_are_told(tmp_path, rows):
    turned = [[t, v, a, b, c] for t, v, a, c, b in rows]
    log = read(write(tmp_path / "turned.csv", HEAD, turned))
    (said,) = log.doubts
    assert said in log.notes
    assert "latitude and longitude are the wrong way round" in said
    far = [[t, v, a, str(float(b) + 100), c] for t, v, a, b, c in turned]
    with pytest.raises(InputError, match="are 'latitude' and 'longitude' the wrong way round"):
        read(write(tmp_path / "far.csv", HEAD, far))


def test_positions_that_place_nothing_are_left_out_and_said(tmp_path, rows):
    rng = np.random.default_rng(1)
    noise = [
        [*r[:3], f"{50 * a:.3f}", f"{80 * b:.3f}"] for r, (a, b) in zip(rows, rng.random((len(rows), 2)), strict=True)
    ]
    log = read(write(tmp_path / "a.csv", HEAD, noise))
    assert log.x is None
    assert "the positions place nothing" in " ".join(log.notes)
    assert len(log.time) == len(rows)


# ---- (2) rows and the lap column ---------------------------------------------------------------------------------


def with_laps(rows, cell):
    """Add a lap column: ``cell(lap, whether a lap begins in this row, row)``."""
    log = [float(r[0]) for r in rows]
    found = find_laps(read_day(), LINE)
    number = np.searchsorted(found.start, log, side="right")
    return [
        [*r, cell(int(n), i == 0 or n != number[i - 1], i)] for i, (r, n) in enumerate(zip(rows, number, strict=True))
    ]


def read_day():
    import tempfile

    with tempfile.TemporaryDirectory() as folder:
        return read(DAY.write(folder)[0])


def test_a_lap_column_filled_only_where_a_lap_begins_keeps_every_row(tmp_path, rows):
    some = with_laps(rows, lambda lap, begins, i: str(lap) if begins and lap else "")
    log = read(write(tmp_path / "a.csv", [*HEAD, "lap"], some))
    assert len(log.time) == len(rows)
    found = find_laps(log)
    assert found.how == "the lap column"
    np.testing.assert_allclose(found.time, DAY.lap_time[0][: len(found.time)], atol=0.12)
    assert len(found.time) >= 3
    assert "filled with the number before" in " ".join(log.notes)


def test_a_lap_column_written_too_seldom_is_refused_in_words(tmp_path, rows):
    some = with_laps(rows, lambda lap, begins, i: str(lap) if i % 100 == 0 else "")
    log = read(write(tmp_path / "a.csv", [*HEAD, "lap"], some))
    assert log.lap is None
    assert "too seldom to time a lap" in " ".join(log.notes)
    assert len(log.time) == len(rows)


@pytest.mark.parametrize("sign", [",", ";"])
def test_thousands_are_read_where_a_decimal_sign_stands_behind_them(tmp_path, rows, sign):
    def written(cell, many):
        text = f"{float(cell) + 1000:,.2f}" if many else cell
        return f'"{text}"' if sign == "," else text.translate(str.maketrans(",.", ".,"))

    parted = [[written(t, True), *(written(c, False) for c in rest)] for t, *rest in rows[:200]]
    log = read(write(tmp_path / "parted.csv", HEAD, parted, sign))
    np.testing.assert_allclose(log.time - 1000, [float(r[0]) for r in rows[:200]], atol=0.006)
    whole = [[f'"1,{i:03d}"', *rest] for i, (_, *rest) in enumerate(rows[:200])]
    with pytest.raises(InputError, match="numbers must be plain"):  # it may be a decimal comma
        read(write(tmp_path / "whole.csv", HEAD, whole))


def test_every_line_that_is_not_used_is_counted_in_words(tmp_path, rows):
    text = [",".join(r) for r in rows]
    text[10] = ""
    text[20] = "# yellow flag"
    text[30] = text[29]
    text[40] = text[40] + ",7"
    text[50] = "x" + text[50]
    text[60] = text[60].replace(",", ',"', 1)
    text[70] = "," + text[70].split(",", 1)[1]
    for i in range(200, 260):
        text[i] = text[i].split(",")[0] + ",,0.1,,"
    path = tmp_path / "a.csv"
    path.write_text("\n".join([",".join(HEAD), *text, text[-1][:4]]) + "\n")
    log = read(path)
    assert len(log.time) + sum(log.left_out.values()) == len(rows) + 1
    said = " ".join(log.notes)
    for why, count in log.left_out.items():
        assert f"left out: {count} row{'s' if count > 1 else ''} {why} (row " in said
    assert log.left_out == {
        "with nothing in them": 1, "that are comments": 1, "with the time of the row before": 1,
        "with too many cells": 1, "without a number where one must be": 1, "without a time": 1,
        "with a quotation mark that is never closed": 1, "that is the last and cut off": 1,
        "in holes longer than two seconds, where speed or lateral acceleration is empty": 60,
    }  # fmt: skip


# ---- (3, 4) cells ------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("place", [0, 1, 2])
def test_a_row_with_too_many_cells_is_left_out_and_not_read_shifted(tmp_path, rows, place):
    more = [list(r) for r in rows]
    more[300].insert(place, "55")
    log = read(write(tmp_path / "a.csv", HEAD, more))
    assert len(log.time) == len(rows) - 1
    assert log.left_out == {"with too many cells": 1}
    assert "(row 302)" in " ".join(log.notes)
    ends = [[*r, ""] if i % 2 else r for i, r in enumerate(rows)]  # a delimiter at the end is no cell
    assert len(read(write(tmp_path / "b.csv", HEAD, ends)).time) == len(rows)


@pytest.mark.parametrize("where", ["start", "end", "middle"])
def test_a_stray_quotation_mark_costs_its_own_row_only(tmp_path, rows, where):
    text = [",".join(r) for r in rows]
    text[500] = {"start": '"' + text[500], "end": text[500] + '"', "middle": text[500].replace(",", ',"', 1)}[where]
    path = tmp_path / "a.csv"
    path.write_text("\n".join([",".join(HEAD), *text]))
    log = read(path)
    assert len(log.time) == len(rows) - 1
    assert "(row 502)" in " ".join(log.notes)
    quoted = [[f'"{cell}"' for cell in r] for r in rows]
    assert len(read(write(tmp_path / "b.csv", HEAD, quoted)).time) == len(rows)


# ---- (5) a beacon ------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("pulse", [1, 30])
def test_a_beacons_pulse_does_not_shorten_the_laps(tmp_path, rows, pulse):
    plain = with_laps(rows, lambda lap, begins, i: str(lap))
    marks = [i for i, r in enumerate(plain) if i and r[-1] != plain[i - 1][-1]]
    on = {i + k for i in marks for k in range(pulse)}
    log = read(
        write(tmp_path / "a.csv", [*HEAD, "lap"], [[*r[:-1], "1" if i in on else "0"] for i, r in enumerate(plain)])
    )
    found = find_laps(log)
    assert "a beacon's pulses" in found.sure
    np.testing.assert_allclose(found.time, np.diff([float(rows[i][0]) for i in marks]), atol=1e-6)


# ---- (6) remembered units ----------------------------------------------------------------------------------------


def test_the_unit_that_a_file_states_comes_before_one_remembered(tmp_path, rows):
    store = tmp_path / "columns.json"
    names = ["time [s]", "speed", "lateral [g]", "latitude", "longitude"]
    bare = write(tmp_path / "bare.csv", names, rows)
    chosen = guess(look(bare)) | {"speed": ("speed", "mph")}
    remember(look(bare), chosen, store)
    assert recall(look(bare), store)["speed"] == ("speed", "mph")
    with_units = write(tmp_path / "units.csv", names, [["s", "km/h", "g", "", ""], *rows])
    assert look(with_units).columns == look(bare).columns
    assert recall(look(with_units), store)["speed"] == ("speed", "km/h")
    remember(look(with_units), chosen, store)  # a stated unit that was overruled once stays overruled
    assert recall(look(with_units), store)["speed"] == ("speed", "mph")


# ---- (7) which column is what ------------------------------------------------------------------------------------


@pytest.mark.parametrize(("names", "expected"), [
    (["time [s]", "GPS Accuracy [m]", "GPS Speed [km/h]"], {"time": 0, "speed": 2}),
    (["time [s]", "GPS Accuracy", "speed [km/h]"], {"time": 0, "speed": 2}),
    (["time [s]", "Wind Speed [km/h]", "Average Speed [km/h]", "Limit Speed [km/h]", "Speed [km/h]"],
     {"time": 0, "speed": 4}),
    (["time [s]", "speed [km/h]", "lat [g]", "long [g]"], {"time": 0, "speed": 1, "lateral": 2, "longitudinal": 3}),
    (["time [s]", "speed [km/h]", "Lat Acc [m/s²]", "Long Acc [m/s²]", "lat", "long"],
     {"time": 0, "speed": 1, "lateral": 2, "longitudinal": 3, "latitude": 4, "longitude": 5}),
    (["time [s]", "speed [km/h]", "Yaw Rate [deg/s]", "Yaw Angle [deg]", "Steering Angle [deg]", "Steering Torque"],
     {"time": 0, "speed": 1, "yaw_rate": 2, "steer": 4}),
    (["time [s]", "speed [km/h]", "Gyro X [deg/s]", "Gyro Y [deg/s]", "Gyro Z [deg/s]"],
     {"time": 0, "speed": 1, "yaw_rate": 4, "turn_x": 2, "turn_y": 3}),
])  # fmt: skip
def test_columns_that_only_sound_alike_are_not_proposed(tmp_path, names, expected):
    path = write(tmp_path / "a.csv", names, [[f"{0.1 * i:.1f}"] * len(names) for i in range(40)])
    assert {c: held for c, (held, _) in guess(look(path)).items()} == {c: names[i] for c, i in expected.items()}


def test_two_columns_that_fit_are_asked_about(tmp_path):
    names = ["time [s]", "Speed [km/h]", "GPS Speed [km/h]"]
    path = write(tmp_path / "a.csv", names, [[f"{0.1 * i:.1f}", "80", "81"] for i in range(40)])
    with pytest.raises(ColumnQuestion, match=r"speed must be one column, got 'Speed \[km/h\]', 'GPS Speed"):
        read(path)
    assert read(path, {"time": ("time [s]", ""), "speed": (names[2], "")}).speed[0] == pytest.approx(81 / 3.6)


# ---- (8) identical laps ------------------------------------------------------------------------------------------


@pytest.mark.parametrize("after", [92.1, 92.0, 80.0])
def test_identical_typed_laps_are_not_decided_by_rounding(after):
    times = [f"1:{32.1:.1f}"] * 5, [f"{after}"] * 5
    found = compare(hand_laps("before", times[0]), hand_laps("after", times[1]))
    assert found.verdict == "not shown"
    assert np.isinf(float(found.plain.high))
    assert "alike to the last digit" in " ".join(conclude(found))
    shifted = compare(hand_laps("b", [92.1, 92.3, 92.2, 92.1, 92.2]), hand_laps("a", [80.1, 80.3, 80.2, 80.1, 80.2]))
    assert shifted.verdict == "faster"


# ---- (9) a bare # ------------------------------------------------------------------------------------------------


def test_a_bare_hash_is_no_unit(tmp_path):
    rows = [[f"{0.1 * i:.1f}", "80", "3"] for i in range(40)]
    found = look(write(tmp_path / "a.csv", ["t", "v", "#"], rows))
    assert found.columns == ("t", "v", "#")
    assert found.units == ("", "", "")
    found = look(write(tmp_path / "b.csv", ["v", "#", "#"], rows))
    assert found.columns == ("v", "#", "# (2)")


# ---- quick even where there is nothing ---------------------------------------------------------------------------


def test_many_empty_lines_cost_little(tmp_path, rows):
    text = [",".join(r) for r in rows]
    path = tmp_path / "a.csv"
    path.write_text("\n".join([",".join(HEAD), *text[:100], *[""] * 225_000, *text[100:]]))
    begin = time.process_time()
    log = read(path)
    assert time.process_time() - begin < 1
    assert log.left_out == {"with nothing in them": 225_000}
    assert len(log.time) == len(rows)
    begin = time.process_time()
    typed = notes.typed_session("before", "92.1\n" + "\n" * 225_000 + "92.3")
    assert time.process_time() - begin < 0.5
    assert len(typed.lap_time) == 2
