"""Saving car files: comments kept, nothing ever half saved, any car goes round, no bytes raise anything but words."""

from __future__ import annotations

import random
import re
import signal
import subprocess
import sys
import tempfile
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import tomlkit
from carfile_texts import BASE, NAMES, TEXTS, assert_same, corners, faults
from hypothesis import given, settings
from hypothesis import strategies as st

from vdlib.car import carfile, examples, store
from vdlib.car.carfile import fields_of, parse, read, render, rounded_for_file, write
from vdlib.car.records import Axle, AxleSetup, Car, Setup, Tyre
from vdlib.car.tyre import KINDS
from vdlib.checks import InputError
from vdlib.units import UNITS, to_si

# ---- writing -------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", NAMES)
def test_an_untouched_file_stays_the_same_to_the_byte(name, tmp_path):
    path = tmp_path / "car.toml"
    path.write_bytes(TEXTS[name].encode())
    found = read(path)
    write(path, found.car, found.setup, found.origin, found.text)
    assert path.read_bytes() == TEXTS[name].encode()
    assert [p.name for p in tmp_path.iterdir()] == ["car.toml"]


def test_a_text_that_only_the_comment_keeping_parser_refuses_is_said_and_left_as_it_was(tmp_path, monkeypatch):
    found = parse(BASE)
    path = tmp_path / "car.toml"
    path.write_text(BASE)

    def refuse(text):
        raise ValueError("a form it does not know")

    monkeypatch.setattr(tomlkit, "parse", refuse)
    assert_same(read(path), found.car, found.setup)
    with pytest.raises(InputError, match=r"is not TOML: a form it does not know"):
        write(path, replace(found.car, mass=1175.0), found.setup, former=found.text)
    assert path.read_text() == BASE


def test_only_the_changed_line_changes(tmp_path):
    found = parse(BASE)
    setup = replace(found.setup, front=replace(found.setup.front, height=to_si(129.5, "mm")))
    write(tmp_path / "car.toml", found.car, setup, former=found.text)
    old, new = BASE.splitlines(), (tmp_path / "car.toml").read_text("utf-8").splitlines()
    assert len(old) == len(new)
    assert [(a, b) for a, b in zip(old, new, strict=True) if a != b] == [("height_mm = 141", "height_mm = 129.5")]


def test_comments_stay_beside_changed_values():
    found = parse(BASE)
    text = render(replace(found.car, mass=1175.0), found.setup, None, found.text)
    assert "mass_kg = 1175.0          # with driver and half a tank" in text


def test_optional_numbers_and_kinds_come_and_go():
    found = parse(BASE)
    car = replace(found.car, yaw_inertia=1600.0)
    text = render(car, found.setup, None, found.text)
    assert "yaw_inertia_kgm2 = 1600.0" in text
    assert "yaw_inertia" not in render(found.car, found.setup, None, parse(text).text)
    own = replace(found.car.front, tyre=replace(found.car.front.tyre, kind="own numbers"))
    text = render(replace(found.car, front=own), found.setup, None, found.text)
    assert_same(parse(text), replace(found.car, front=own), found.setup)  # to rounding: bar to Pa moves the last bit
    assert_same(parse(render(found.car, found.setup, None, parse(text).text)), found.car, found.setup)


def test_origin_is_carried_changed_and_kept():
    text = BASE + '\n[origin]\n# who says so\n"front.track" = "measured"  # tape\nrear.track = "typical"\n'
    found = parse(text)
    assert found.origin == {"front.track": "measured", "rear.track": "typical"}
    assert render(found.car, found.setup, None, found.text) == text
    wanted = {"front.track": "example", "rear.track": "measured", "setup.front.height": "measured"}
    new = render(found.car, found.setup, wanted, found.text)
    assert parse(new).origin == wanted
    assert "# tape" in new
    assert parse(render(found.car, found.setup, {}, found.text)).origin == {}
    assert parse(render(found.car, found.setup, wanted)).origin == wanted
    twice = "[origin]\n'front.track' = 'measured'\nfront.track = 'typical'\n"
    assert list(faults(BASE + twice)) == ["origin.front.track"]
    with pytest.raises(InputError, match="must be one of measured"):
        render(found.car, found.setup, {"front.track": "guess"})


def test_what_cannot_be_saved_leaves_the_former_file(tmp_path):
    path = tmp_path / "car.toml"
    path.write_text("former", "utf-8")
    found = parse(BASE)
    bad: list[tuple[Car, Setup]] = [
        (replace(found.car, mass=np.array([1100.0, 1200.0])), found.setup),
        (replace(found.car, name=""), found.setup),
        (replace(found.car, brake_front=0.005), found.setup),  # half a percent reads like a fraction of one
        (
            replace(found.car, front=replace(found.car.front, tyre=replace(found.car.front.tyre, kind="sticky"))),
            found.setup,
        ),
    ]
    for car, setup in bad:
        with pytest.raises(InputError):
            write(path, car, setup)
    with pytest.raises(InputError, match="cannot be saved"):
        write(tmp_path / "none" / "car.toml", found.car, found.setup)
    with pytest.raises(InputError, match="cannot be saved"):
        write(tmp_path, found.car, found.setup)
    assert path.read_text("utf-8") == "former"
    assert [p.name for p in tmp_path.iterdir()] == ["car.toml"]


def test_a_link_stays_a_link_and_the_mode_stays(tmp_path):
    found = parse(BASE)
    real, link = tmp_path / "real.toml", tmp_path / "link.toml"
    real.write_text("former", "utf-8")
    real.chmod(0o640)
    link.symlink_to(real)
    write(link, found.car, found.setup, former=found.text)
    assert link.is_symlink()
    assert real.read_text("utf-8") == BASE
    assert real.stat().st_mode & 0o777 == 0o640


KILLED = """
import os, signal, sys
from pathlib import Path
from vdlib.car import store
die = lambda *a, **k: os.kill(os.getpid(), signal.SIGKILL)
real_replace, real_fdopen = os.replace, os.fdopen
def write(point, target):
    class Torn:
        def __init__(self, file): self.file = file
        def __enter__(self): return self
        def __exit__(self, *a): self.file.close()
        def write(self, raw):
            self.file.write(raw[:int(point)]); self.file.flush(); die()
    if point.isdigit(): os.fdopen = lambda *a, **k: Torn(real_fdopen(*a, **k))
    elif point == "sync": os.fsync = die
    elif point == "before": os.replace = die
    elif point == "after": os.replace = lambda *a: (real_replace(*a), die())
    store.save_whole(target, b"new " * 1000)
for point in sys.argv[2:]:
    writer = os.fork()
    if not writer:
        write(point, Path(sys.argv[1]) / f"{point}.toml")
        os._exit(0)
    print(os.waitstatus_to_exitcode(os.waitpid(writer, 0)[1]))
"""
POINTS = ("0", "1", "2000", "4000", "sync", "before", "after")


def test_a_killed_writer_leaves_a_whole_file(tmp_path):
    for point in POINTS:
        (tmp_path / f"{point}.toml").write_bytes(b"former " * 1000)
    done = subprocess.run(
        [sys.executable, "-c", KILLED, str(tmp_path), *POINTS],
        check=True,
        capture_output=True,
        text=True,
        cwd=Path(carfile.__file__).parents[2],
    )
    assert [*map(int, done.stdout.split())] == [-signal.SIGKILL] * len(POINTS)
    for point in POINTS:
        held = (tmp_path / f"{point}.toml").read_bytes()
        assert held == (b"new " if point == "after" else b"former ") * 1000, point


def test_a_full_disk_leaves_the_former_file_and_no_litter(tmp_path, monkeypatch):
    path = tmp_path / "car.toml"
    path.write_text("former", "utf-8")

    def full(_: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(store.os, "fsync", full)
    found = parse(BASE)
    with pytest.raises(InputError, match="No space left"):
        write(path, found.car, found.setup)
    assert path.read_text("utf-8") == "former"
    assert [p.name for p in tmp_path.iterdir()] == ["car.toml"]


@pytest.mark.parametrize(
    ("value", "unit", "shown"),
    [
        (1.4899999999999998, "mm", 1490.0),
        (1.49, "mm", 1490.0),
        (0.1 + 0.2, "kg", 0.3),
        (0.0, "deg", 0.0),
        (-0.0125, "mm", -12.5),
    ],
)
def test_short_numbers(value, unit, shown):
    assert rounded_for_file(value, unit) == shown


@given(st.floats(1e-9, 1e9), st.sampled_from(sorted(UNITS)))
def test_short_numbers_lose_nothing(value, unit):
    assert to_si(rounded_for_file(value, unit), unit) == pytest.approx(value, rel=1e-14, abs=0)


@given(st.integers(1, 99999), st.sampled_from([0.01, 0.1, 1.0]), st.sampled_from(sorted(UNITS)))
def test_what_a_person_types_comes_back_as_typed(count, step, unit):
    typed = round(count * step, 2)
    assert rounded_for_file(to_si(typed, unit), unit) == typed


def random_car(seed: int, name: str, note: str) -> tuple[Car, Setup, dict[str, str]]:
    """A car with any allowed numbers: ends of the range, round ones, and ones with every digit."""
    rng = random.Random(seed)
    kinds = {end: rng.choice([*KINDS, "own numbers"]) for end in ("front", "rear")}
    numbers: dict[str, dict[str, Any]] = {table: {} for table in carfile.TABLES}
    for entry in fields_of():
        q = entry.quantity
        low, high = {"mass": (1000, 4000), "unsprung_mass": (10, 120)}.get(entry.field, (q.low, q.high))
        value = rng.choice([low, high, round(rng.uniform(low, high), 1), rng.uniform(low, high)])
        value = min(max(value, low), high)
        value = 0 if q.unit == "percent" and 0 < value <= 1 else value  # no car file may hold so small a share
        numbers[entry.table][entry.field] = to_si(float(value), q.unit)
    if rng.random() < 0.5:
        numbers["car"]["yaw_inertia"] = None
    axles = {}
    for end in ("front", "rear"):
        tyre = numbers[f"{end}.tyre"]
        if kinds[end] in KINDS:
            tyre = KINDS[kinds[end]] | {key: value for key, value in tyre.items() if rng.random() < 0.3}
        axles[end] = Axle(**numbers[end], tyre=Tyre(kind=kinds[end], **tyre))
    car = Car(name=name, note=note, **numbers["car"], **axles)
    setup = Setup(**numbers["setup"], **{end: AxleSetup(**numbers[f"setup.{end}"]) for end in ("front", "rear")})
    origin = {entry.path: rng.choice(carfile.ORIGINS) for entry in fields_of() if rng.random() < 0.2}
    return car, setup, origin


WORDS = st.text(st.characters(exclude_categories=["Cs"]), max_size=100)


CARS = given(st.integers(0, 2**32), WORDS.filter(str.strip), WORDS, st.sampled_from([None, *NAMES]))


@settings(max_examples=12, deadline=None)
@CARS
def test_any_car_goes_round(seed, name, note, start):
    goes_round(seed, name, note, start)


@pytest.mark.slow
@settings(max_examples=60, deadline=None)
@CARS
def test_many_cars_go_round(seed, name, note, start):
    goes_round(seed, name, note, start)


def goes_round(seed, name, note, start):
    car, setup, origin = random_car(seed, name, note)
    text = render(car, setup, origin, examples.load_example(start).text if start else None)
    found = parse(text)
    assert_same(found, car, setup)
    assert found.origin == origin
    assert render(found.car, found.setup, origin, found.text) == text
    if start:
        remarks = re.findall(r"#[^\n\"]*$", TEXTS[start], re.M)
        assert all(remark in text for remark in remarks)


# ---- nothing but InputError, whatever the bytes ----------------------------------------------------------------

ODD = [
    "nan",
    "inf",
    "true",
    '"x"',
    "[]",
    "{}",
    "1e999",
    "-1",
    "0x" + "f" * 300,
    "1979-05-27",
    "'''",
    "[[",
    "9" * 5000,
    "\ufeff",
    "\r",
]


def try_read(raw: bytes) -> None:
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "car.toml"
        path.write_bytes(raw)
        try:
            found = read(path)
        except InputError as fault:
            told = fault.problems
        else:
            assert_same(parse(render(found.car, found.setup, None, found.text)), found.car, found.setup)
            return
    assert told
    assert all(p.field and p.remedy and len(str(p)) < 1000 for p in told)


CHANGES = given(
    st.sampled_from(NAMES),
    st.lists(
        st.tuples(st.floats(0, 1), st.sampled_from(["put", "cut", "swap"]), st.binary(min_size=1, max_size=3)),
        max_size=4,
    ),
)


@settings(max_examples=50, deadline=None)
@CHANGES
def test_mutated_bytes_never_raise_anything_else(name, changes):
    with_bytes(name, changes)


@pytest.mark.slow
@settings(max_examples=300, deadline=None)
@CHANGES
def test_many_mutated_bytes_never_raise_anything_else(name, changes):
    with_bytes(name, changes)


def with_bytes(name, changes):
    raw = bytearray(TEXTS[name].encode())
    for where, what, new in changes:
        at = int(where * len(raw))
        raw[at : at + (0 if what == "put" else len(new))] = b"" if what == "cut" else new
    try_read(bytes(raw))


@settings(max_examples=50, deadline=None)
@given(st.sampled_from(NAMES), st.integers(0, 2**32))
def test_mutated_lines_never_raise_anything_else(name, seed):
    with_lines(name, seed)


@pytest.mark.slow
@settings(max_examples=300, deadline=None)
@given(st.sampled_from(NAMES), st.integers(0, 2**32))
def test_many_mutated_lines_never_raise_anything_else(name, seed):
    with_lines(name, seed)


def with_lines(name, seed):
    rng = random.Random(seed)
    lines = (TEXTS[name] + corners(255, 244, 333, 328) + '[origin]\nfront.track = "measured"\n').splitlines()
    for _ in range(rng.randint(1, 3)):
        at = rng.randrange(len(lines))
        how = rng.choice(["odd", "drop", "twice", "move", "head", "nest"])
        if how == "odd":
            lines[at] = re.sub(r"=.*", lambda _: "= " + rng.choice(ODD), lines[at])
        elif how == "twice":
            lines.insert(rng.randrange(len(lines)), lines[at])
        elif how == "head":
            lines[at] = rng.choice(
                ["[car]", "[[rear]]", "[origin]", "[front.track_mm]", "[corner_weights.x]", "[setup.front.x.y]"]
            )
        elif how == "nest":
            lines[at] = "front." + lines[at]
        else:
            line = lines.pop(at)
            if how == "move":
                lines.insert(rng.randrange(len(lines)), line)
    try_read("\n".join(lines).encode())


@settings(max_examples=40, deadline=None)
@given(st.binary(max_size=200))
def test_any_bytes_never_raise_anything_else(raw):
    try_read(raw)


# ---- examples ------------------------------------------------------------------------------------------------


def test_names_of_the_examples():
    assert examples.example_names() == ("low-two-seater", "coupe", "hatch", "two-seater")
    for name in examples.example_names():
        found = examples.load_example(name)
        assert "invented" in found.car.note.lower()


def test_unknown_example_names_the_choices():
    for opened in (examples.load_example, examples.open_car):
        with pytest.raises(
            InputError, match=r"did you mean coupe\? the examples are low-two-seater, coupe, hatch, two"
        ):
            opened("coup")
    with pytest.raises(InputError, match="must be one of the examples"):
        examples.load_example("../cars/coupe")


def test_open_car(tmp_path, monkeypatch):
    assert examples.open_car("hatch").car.name == "Example hatch"
    (tmp_path / "mine.toml").write_text(BASE, "utf-8")
    monkeypatch.setenv("HOME", str(tmp_path))
    found = examples.open_car("~/mine.toml")
    assert found.car == parse(BASE).car
    assert found.path == tmp_path / "mine.toml"
    for bad in ("~nobody-of-this-name/x.toml", "\x00", "x" * 5000, tmp_path, ""):
        with pytest.raises(InputError):
            examples.open_car(bad)


def test_importing_the_package_leaves_the_parser_out():
    code = "import sys, vdlib; print('tomlkit' in sys.modules)"
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True, cwd=Path(carfile.__file__).parents[2]
    )
    assert done.stdout.strip() == "False"
