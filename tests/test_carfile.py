"""Reading car files: every fault told at once and in words."""

from __future__ import annotations

import json
import re
import time
import tomllib
from dataclasses import fields, replace
from operator import attrgetter
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from carfile_texts import BASE, NAMES, TEXTS, assert_same, corners, edited, faults

from vdlib.car import examples
from vdlib.car.carfile import fields_of, parse, read, render, write
from vdlib.car.records import Axle, AxleSetup, Car, Setup, Tyre
from vdlib.car.tyre import KINDS
from vdlib.checks import InputError
from vdlib.glossary import GLOSSARY
from vdlib.units import UNITS

# ---- what a file may hold ----------------------------------------------------------------------------------------


def test_every_field_of_every_record_has_a_place():
    for record in (Car, Axle, Tyre, Setup, AxleSetup):
        for field in fields(record):
            nested = field.name in ("front", "rear", "tyre")
            assert nested or (field.name in GLOSSARY) != (field.type == "str"), f"{record.__name__}.{field.name}"
    keys = [entry.key for entry in fields_of()]
    assert len(keys) == len(set(keys))
    # written by hand, as a driver would write them
    expected = {"car.mass_kg", "car.yaw_inertia_kgm2", "front.track_mm", "rear.motion_ratio", "front.tyre.grip"}
    expected |= {"rear.tyre.stiffness_max_kN_per_rad", "setup.caster_deg", "setup.rear.bar_Nm_per_deg"}
    assert expected <= set(keys)
    entry = next(e for e in fields_of() if e.key == "setup.front.toe_deg")
    assert (entry.table, entry.name, entry.path, entry.record) == (
        "setup.front",
        "toe_deg",
        "setup.front.toe",
        AxleSetup,
    )
    assert entry.quantity is GLOSSARY["toe"]


@pytest.mark.parametrize("name", NAMES)
def test_examples_read_to_what_is_written_in_them(name):
    found = examples.load_example(name)
    lines = dict(re.findall(r"^(\w+) = ([-\d.]+)", TEXTS[name].split("[front]")[0], re.M))
    assert found.car.mass == float(lines["mass_kg"])
    assert found.car.front_share == pytest.approx(float(lines["front_share_percent"]) / 100, rel=1e-15)
    assert found.car.wheelbase == pytest.approx(float(lines["wheelbase_mm"]) / 1000, rel=1e-15)
    assert found.car.front.tyre.kind in KINDS
    assert found.path is None
    assert found.origin == {}


def test_units_reach_si():
    found = parse(BASE)
    assert found.setup.front.spring == pytest.approx(58e3)  # 58 N/mm
    assert found.setup.front.toe == pytest.approx(np.radians(0.03))
    assert found.setup.front.pressure == pytest.approx(2.2e5)
    assert found.car.front.bump_stiffening == pytest.approx(6e6)  # 6 N/mm²
    assert found.setup.front.bar == pytest.approx(260 / np.radians(1))


def test_what_may_be_left_out():
    text = re.sub(r"aligned_height_mm.*|drag_area_m2.*|anti_brake_deg.*|caster_offset_mm.*", "", BASE)
    found = parse(text)
    assert found.setup.cross_weight == 0.5
    assert found.car.left_share == 0.5
    assert found.car.drag_area == found.car.front.anti_brake == 0
    assert found.car.yaw_inertia is None
    assert found.setup.front.aligned_height == found.car.front.reference_height == 0.125
    assert found.setup.rear.aligned_height == found.car.rear.reference_height == 0.135


def test_tyre_kind_fills_in_and_numbers_override():
    found = parse(BASE)
    assert found.car.front.tyre == Tyre(kind="fast road", **KINDS["fast road"])
    changed = KINDS["fast road"] | {"nominal_load": 4600, "stiffness_max": 92e3, "stiffness_load": 9700}
    assert found.car.rear.tyre == Tyre(kind="fast road", **changed)


def test_tyre_without_kind_needs_every_number():
    found = faults(edited('[front.tyre]\nkind = "fast road"', "[front.tyre]\ngrip = 1.1"))
    expected = {
        f"front.tyre.{name}" for name in ("grip_fall", "shape", "curvature", "nominal_load_N", "camber_thrust_per_rad")
    }
    assert expected <= set(found)
    assert "front.tyre.grip" not in found
    assert len(found) == len(fields(Tyre)) - 2  # all but the kind and the one number given


@pytest.mark.parametrize(
    "layout",
    [
        "reordered",
        "inline",
        "dotted",
        "crlf",
    ],
)
def test_other_ways_to_write_the_same_toml(layout, tmp_path):
    tables = re.split(r"(?m)^(?=\[)", BASE)
    if layout == "reordered":
        text = "".join([tables[0], *reversed(tables[1:])])
    elif layout == "crlf":
        text = BASE.replace("\n", "\r\n")
    elif layout == "inline":
        text = edited('[front.tyre]\nkind = "fast road"\n', "").replace(
            "[front]\n", '[front]\ntyre = {kind = "fast road"}\n', 1
        )
    else:
        text = edited('[front.tyre]\nkind = "fast road"\n', "").replace(
            "[front]\n", '[front]\ntyre.kind = "fast road"\n', 1
        )
    found, plain = parse(text), parse(BASE)
    assert (found.car, found.setup) == (plain.car, plain.setup)
    path = tmp_path / "car.toml"
    path.write_bytes(text.encode())
    write(path, found.car, found.setup, former=read(path).text)
    assert path.read_bytes() == text.encode()
    stiffer = replace(found.car.front, track=1.5, tyre=replace(found.car.front.tyre, grip=1.2))
    car = replace(found.car, front=stiffer, yaw_inertia=1500.0)
    assert_same(write(path, car, found.setup, {"front.track": "measured"}, found.text), car, found.setup)
    assert_same(read(path), car, found.setup)
    assert path.read_text("utf-8").count("#") == BASE.count("#")


# ---- faults --------------------------------------------------------------------------------------------------


def test_a_value_in_the_wrong_unit_is_told_in_full():
    found = faults(edited("track_mm = 1480", "track_mm = 1.45"))
    assert found == {"front.track_mm": "front.track_mm must be 800 to 2200 mm, got 1.45 mm: was it typed in metres?"}


def test_every_fault_is_told_at_once():
    text = edited("wheelbase_mm", "wheelbas_mm")
    text = edited("mass_kg = 1160", "mass_kg = 116", text)
    text = edited('kind = "fast road"', 'kind = "fst road"', text)
    text = edited("toe_deg = 0.03", "toe_deg = true", text)
    text = edited("[setup.rear]", "[setup.rear]\ntyre_pressure_bar = 2", text) + "\n[before]\nx = 1\n"
    text = "[origin]\nfront.track = 'guess'\nfront.trak = 'measured'\n" + text
    found = faults(text)
    assert set(found) == {
        "car.wheelbas_mm", "car.wheelbase_mm", "car.mass_kg", "front.tyre.kind", "setup.front.toe_deg",
        "setup.rear.tyre_pressure_bar", "before", "origin.front.track", "origin.front.trak",
    }  # fmt: skip
    assert "did you mean car.wheelbase_mm?" in found["car.wheelbas_mm"]
    assert "is missing" in found["car.wheelbase_mm"]
    assert "1500 to 4000 mm" in found["car.wheelbase_mm"]
    assert "got 116 kg" in found["car.mass_kg"]
    assert "got true" in found["setup.front.toe_deg"]
    assert '"fast road"' in found["front.tyre.kind"]
    assert "did you mean front.track?" in found["origin.front.trak"]
    assert "measured, typical, example" in found["origin.front.track"]


# light wheels, so that the smallest mass and shares are refused or taken for their own sake
LIGHT = re.sub(r"unsprung_mass_kg = \d+", "unsprung_mass_kg = 20", BASE)


def written(values: dict[str, float]) -> str:
    """The light car with other numbers, by their keys; each line is a whole dotted key."""
    lines: dict[str, Any] = {}

    def walk(table: dict[str, Any], before: str) -> None:
        for name, value in table.items():
            if isinstance(value, dict):
                walk(value, f"{before}{name}.")
            else:
                lines[before + name] = value

    walk(tomllib.loads(LIGHT), "")
    return "\n".join(f"{key} = {json.dumps(value)}" for key, value in (lines | values).items())


def held(found: Any, entry: Any) -> Any:
    return attrgetter(entry.path.removeprefix("car."))(SimpleNamespace(**vars(found.car), setup=found.setup))


@pytest.mark.parametrize("end", ["low", "high"])
def test_all_numbers_are_refused_beyond_their_ranges_at_once(end):
    beyond = {"low": lambda q: q.low - 0.01 * (q.high - q.low), "high": lambda q: q.high + 0.01 * (q.high - q.low)}
    found = faults(written({e.key: beyond[end](e.quantity) for e in fields_of()}))
    assert found.keys() == {e.key for e in fields_of()}
    for entry in fields_of():
        assert f"{entry.quantity.low:g} to {entry.quantity.high:g}" in found[entry.key]


@pytest.mark.parametrize("end", ["low", "high"])
def test_all_numbers_are_taken_at_the_ends_of_their_ranges(end):
    own_rule = ("unsprung_mass",)
    ends = {e: getattr(e.quantity, end) for e in fields_of() if e.field not in own_rule}
    if end == "low":
        ends = {e: value for e, value in ends.items() if e.field != "mass"}  # it must be more than the wheels'
    found = parse(written({e.key: value for e, value in ends.items()}))
    for entry, value in ends.items():
        assert held(found, entry) == pytest.approx(value * UNITS[entry.quantity.unit].to_si, rel=1e-15), entry.key


@pytest.mark.parametrize(
    "entry",
    [e if e.key == "car.mass_kg" else pytest.param(e, marks=pytest.mark.slow) for e in fields_of()],
    ids=lambda entry: entry.key,
)
def test_every_number_is_refused_beyond_its_range_and_taken_at_it(entry):
    """Both ends of every range, alone in a whole file; the unsprung masses have a rule of their own."""
    q = entry.quantity
    step = 0.01 * (q.high - q.low)
    for value, good in ((q.low, True), (q.high, True), (q.low - step, False), (q.high + step, False)):
        if good and entry.field == "unsprung_mass":
            continue
        text = written({entry.key: value})
        if good:
            assert held(parse(text), entry) == pytest.approx(value * UNITS[q.unit].to_si, rel=1e-15)
        else:
            found_faults = faults(text)
            assert list(found_faults) == [entry.key]
            assert f"{q.low:g} to {q.high:g}" in found_faults[entry.key]


@pytest.mark.parametrize(
    ("raw", "got"),
    [
        ("true", "true"), ("'1480'", "quote marks"), ("nan", "nan"), ("inf", "inf"), ("-inf", "-inf"),
        ("[1480]", "a list"),
        ("{a = 1}", "a table"), ("1979-05-27", "1979"), ("1e400", "inf"), ("1" + "0" * 400, "inf"),
        ("0x" + "f" * 5000, "inf"), ("'" + "x" * 5000 + "'", "…"),
    ],
)  # fmt: skip
def test_what_is_not_a_number(raw, got):
    found = faults(edited("track_mm = 1480", f"track_mm = {raw}"))
    assert list(found) == ["front.track_mm"]
    assert got in found["front.track_mm"]
    assert "800 to 2200 mm" in found["front.track_mm"]
    assert len(found["front.track_mm"]) < 250


@pytest.mark.parametrize(
    ("table", "key", "hint"),
    [
        ("[front]", "camber_deg", "setup.front.camber_deg"), ("[rear]", "camber_deg", "setup.rear.camber_deg"),
        ("[setup]", "spring_N_per_mm", "setup.front.spring_N_per_mm"),
        ("[front.tyre]", "toe_deg", "setup.front.toe_deg"), ("[car]", "track_mm", "front.track_mm"),
        ("[front]", "wheel_radius_m", "front.wheel_radius_mm"),
        ("[setup.rear]", "pressure", "setup.rear.pressure_bar"),
        ("[car]", "frontshare_percent", "car.front_share_percent"),
    ],
)  # fmt: skip
def test_hints_for_unknown_keys(table, key, hint):
    found = faults(edited(table + "\n" if table + "\n" in BASE else table, f"{table}\n{key} = 1\n"))
    assert found == {f"{table[1:-1]}.{key}": f"{table[1:-1]}.{key} is an unknown key: did you mean {hint}?"}


def test_missing_and_misshaped_tables():
    found = faults("car = 3\n[[front]]\n[rear]\n")
    assert "must be a table" in found["car"]
    assert "got a list" in found["front"]
    assert "[rear.tyre]" in found["rear.tyre"]
    assert "is missing" in found["setup"]
    assert "rear.track_mm" in found
    assert "setup.front" not in found  # told with its parent


@pytest.mark.parametrize(
    ("raw", "place"), [("name = ''", "car.name"), ("name = 7", "car.name"), ("note = []", "car.note")]
)
def test_words(raw, place):
    key = raw.split()[0]
    found = faults(re.sub(rf'(?m)^{key} = ".*"$', raw, BASE))
    assert list(found) == [place]


def test_unsprung_masses_too_large_are_told_by_their_keys():
    found = faults(edited("unsprung_mass_kg = 72", "unsprung_mass_kg = 499"))
    assert list(found) == ["front.unsprung_mass_kg and rear.unsprung_mass_kg"]


@pytest.mark.parametrize(
    ("text", "match"),
    [
        ("", "empty"), (" \n\t\n", "empty"), ("[car\nname", r"not TOML.*line 1, column 5"),
        ("[car]\nmass_kg = 1,5", r"line 2.*decimals with a point"),
        ("[car]\nmass_kg = 1\nmass_kg = 2\n", r"not TOML"), ("a = " + "[" * 5000, "too deep"),
        ("a = " + "9" * 5000, "not TOML"),
        ("[car]\x00", "not TOML"), ("# only words\n", "car is missing"),
    ],
)  # fmt: skip
def test_not_a_car_file_at_all(text, match):
    with pytest.raises(InputError, match=match) as caught:
        parse(text, "my.toml")
    assert str(caught.value).startswith("my.toml: ")


def test_faults_of_the_file_itself(tmp_path):
    with pytest.raises(InputError, match="no such file"):
        read(tmp_path / "none.toml")
    with pytest.raises(InputError, match="a folder"):
        read(tmp_path)
    path = tmp_path / "car.toml"
    path.write_bytes(b"[car]\n# caf\xe9\n")
    with pytest.raises(InputError, match=r"UTF-8.*0xe9 in line 2"):
        read(path)
    path.write_bytes(BASE.encode("utf-16"))
    with pytest.raises(InputError, match="must hold the tables"):
        read(path)
    path.write_bytes(BASE.encode() + b"#" * 1_000_000)
    with pytest.raises(InputError, match="1 MB"):
        read(path)
    for name in ("a\x00b", "x" * 5000, "/dev/null"):
        with pytest.raises(InputError, match="car file"):
            read(name)
    path.write_bytes(b"\xef\xbb\xbf" + BASE.encode())  # the mark that some editors put first
    found = read(path)
    assert found.car == parse(BASE).car
    write(path, found.car, found.setup, former=found.text)
    assert path.read_bytes() == b"\xef\xbb\xbf" + BASE.encode()


PERCENT_FROM_0 = [e for e in fields_of() if e.quantity.unit == "percent" and e.quantity.low == 0]


def test_a_share_typed_as_a_fraction_is_refused_where_its_range_begins_at_zero():
    assert {e.key for e in PERCENT_FROM_0} == {"car.brake_front_percent", "car.drive_front_percent"}
    for entry in PERCENT_FROM_0:
        for raw, good in (("0", True), ("0.6", False), ("1e-9", False), ("1", False), ("1.0", False), ("1.01", True)):
            text = re.sub(rf"(?m)^{entry.name} = [\d.]+", f"{entry.name} = {raw}", BASE)
            if good:
                assert getattr(parse(text).car, entry.field) == pytest.approx(float(raw) / 100, rel=1e-15)
            else:
                found = faults(text)
                assert list(found) == [entry.key]
                assert f"must be 0, or more than 1 up to 100 %, got {float(raw):g} %" in found[entry.key]
                assert "was it typed as a fraction of one?" in found[entry.key]
                assert "one percent or less cannot be told from a fraction" in found[entry.key]


@pytest.mark.parametrize("part", ["a", "'a b'", '"a"'])
def test_a_key_of_thousands_of_parts_is_refused_at_once(part):
    for text, line in ((".".join([part] * 20_000) + " = 1\n" + BASE, 1), (f"x.y = 1\n {' . '.join([part] * 21)}=1", 2)):
        began = time.process_time()
        with pytest.raises(InputError, match=rf"more than 20 parts joined by dots, got .* in line {line}: keys have"):
            parse(text)
        assert time.process_time() - began < 3  # 9 s and more before it was bounded
    assert "a" in faults(f"{'.'.join(['a'] * 20)} = 1\n{BASE}")  # twenty parts: an unknown key like any other
    prose = "e.g. " * 30
    parse(edited("[setup]", f"# {prose}\n[setup]", BASE))


# ---- corner weights ------------------------------------------------------------------------------------------


def test_corner_weights_give_what_is_left_out():
    found = parse(BASE + corners(255, 244, 333, 328))  # 1160 kg, by hand: left 588, cross 244 + 333 = 577
    assert found.car.left_share == pytest.approx(588 / 1160, rel=1e-15)
    assert found.setup.cross_weight == pytest.approx(577 / 1160, rel=1e-15)
    given_too = parse(edited("caster_deg", "cross_weight_percent = 50.0\ncaster_deg") + corners(255, 244, 333, 328))
    assert given_too.setup.cross_weight == 0.5


@pytest.mark.parametrize(
    ("weights", "extra", "match"),
    [
        ((258, 247, 336, 331), "", r"car.mass_kg = 1160 kg within 1 %"),  # 1172 kg, 1.03 % more
        ((263, 250, 327, 320), "", r"car.front_share_percent = 43 %"),  # 513 of 1160 = 44.2 %
        ((255, 244, 333, 328), "cross_weight_percent = 51", r"setup.cross_weight_percent = 51 %"),  # 49.7 %
        ((400, 99, 400, 261), "", r"corner_weights .left share of weight. must be 40 to 60"),
    ],
)
def test_corner_weights_that_do_not_add_up(weights, extra, match):
    found = faults(edited("caster_deg", f"{extra}\ncaster_deg") + corners(*weights))
    assert re.search(match, " ".join(found.values()))


def test_corner_weights_just_within_the_allowance():
    parse(BASE + corners(257, 246, 335, 333))  # 1171 kg, 0.95 % more
    parse(BASE + corners(260, 250, 327, 323))  # 510 of 1160 = 43.97 %


def test_corner_weights_incomplete_or_misshaped():
    found = faults(BASE + "[corner_weights]\nfront_left_kg = 'x'\nfront_rigth_kg = 250\n")
    assert "quote marks" in found["corner_weights.front_left_kg"]
    assert "did you mean corner_weights.front_right_kg?" in found["corner_weights.front_rigth_kg"]
    assert {"corner_weights.front_right_kg", "corner_weights.rear_left_kg", "corner_weights.rear_right_kg"} <= set(
        found
    )
    assert "must be a table" in faults("corner_weights = 4\n" + BASE)["corner_weights"]


def test_corner_weights_go_when_the_car_is_no_longer_the_one_on_the_scales():
    found = parse(BASE + corners(255, 244, 333, 328))
    kept = render(found.car, replace(found.setup, cross_weight=0.495), None, found.text)
    assert "[corner_weights]" in kept
    assert parse(kept).setup.cross_weight == pytest.approx(0.495, rel=1e-15)
    moved = render(found.car, replace(found.setup, cross_weight=0.52), None, found.text)
    assert "corner_weights" not in moved
    assert parse(moved).setup.cross_weight == pytest.approx(0.52, rel=1e-15)
    assert parse(moved).car.left_share == pytest.approx(588 / 1160, rel=1e-12)
