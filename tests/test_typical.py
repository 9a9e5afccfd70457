"""Typical values: the table against published cars, and filling a car without losing what was measured."""

from dataclasses import fields, replace

import numpy as np
import pytest

from vdlib.car import examples
from vdlib.car.carfile import ORIGINS, fields_of, parse, read, render
from vdlib.car.records import Axle, Moment, Tyre
from vdlib.car.typical import BODIES, SUSPENSIONS, TYRES, Kinds, fill, kinds_at, origins, ranges, typical, unusual
from vdlib.car.typical_table import HEIGHTS, MEASURED_ERROR, ROWS, TYRE_SPREAD, UNKNOWN
from vdlib.car.tyre import KINDS as KINDS_OF_TYRE
from vdlib.checks import InputError
from vdlib.garage.instruments import Scale, Tape, measured
from vdlib.garage.scales import weigh_corners
from vdlib.glossary import GLOSSARY
from vdlib.panels.which import about
from vdlib.trim.trim import trim
from vdlib.units import from_si, to_si


def span(path, **kinds):
    found = typical(path, Kinds(**kinds))
    unit = GLOSSARY[path.rpartition(".")[2]].unit
    return tuple(from_si(v, unit) for v in (found.low, found.central, found.high))


# ---- against cars of the outside world ----------------------------------------------------------------------------

# K. Tse, kktse.github.io: measured front-drive coupe, strut front and multi-link rear; the last row is another of his
# cars with double wishbones in front, for which only the size of the bump steer is taken
TSE = [
    ("front.roll_centre", "strut", 96),
    ("rear.roll_centre", "multi-link", 168),
    ("front.roll_centre_slope", "strut", 3.1),
    ("rear.roll_centre_slope", "multi-link", 1.07),
    ("rear.camber_slope", "multi-link", -14),
    ("rear.toe_slope", "multi-link", 3),
    ("front.anti_brake", "strut", 2.7),
    ("front.motion_ratio", "strut", 0.92),
    ("rear.motion_ratio", "multi-link", 0.59),
    ("front.toe_slope", "double wishbone", 2.2),
    ("front.toe_slope", "double wishbone", -2.2),
]


@pytest.mark.published
@pytest.mark.common_practice
@pytest.mark.parametrize("end", ["front", "rear"])
def test_a_lowered_car_has_spent_bump_travel_and_gained_droop(end):
    """Springs shorter by 30 to 40 mm on dampers of the standard length; common practice, no source."""
    plain, low = Kinds(), Kinds(height="lowered")
    for field, way in (("bump_gap", -1), ("droop_gap", 1)):
        one, other = (typical(f"{end}.{field}", kinds) for kinds in (plain, low))
        assert 0.020 < way * (other.central - one.central) < 0.045
        assert other.low <= other.central <= other.high
    story = examples.load_example("low-two-seater")
    extent = typical(f"{end}.bump_gap", story.known.kinds)
    assert extent.low < getattr(story.car, end).bump_gap < extent.high
    with pytest.raises(InputError, match="must be one of standard height, lowered"):
        Kinds(height="high")


@pytest.mark.parametrize(("path", "kind", "printed"), TSE)
def test_a_measured_coupe_lies_within(path, kind, printed):
    low, _, high = span(path, **{path.partition(".")[0]: kind})
    assert low < printed < high


@pytest.mark.published
def test_heights_of_measured_cars():
    # NHTSA rollover test data: four low cars. The percentiles of the whole list in the table are our own sums, which
    # nothing printed can check.
    low, _, high = span("car.cg_height", body="low two-seater")
    assert all(low < h < high for h in (449.8, 462.5, 471.4, 477.3))


# ---- the table as a whole -----------------------------------------------------------------------------------------


def test_every_row_is_in_order_and_within_the_glossary():
    assert len({row[:3] for row in ROWS}) == len(ROWS)
    for row in ROWS:
        q = GLOSSARY[row.field]
        assert q.low <= row.low < row.central < row.high <= q.high, row
        assert row.source
        assert row.kind in ("", *SUSPENSIONS, *TYRES, *BODIES, *HEIGHTS)
        assert row.end in ("", "front", "rear")
    assert set(MEASURED_ERROR) | set(UNKNOWN) <= set(GLOSSARY)


@pytest.mark.parametrize("end", ["front", "rear"])
def test_every_kind_has_one_row_for_every_curve_of_an_axle(end):
    by_tape = {"track", "wheel_radius", "reference_height", "tyre"}
    for kind in kinds_at(end):
        for tyre in TYRES:
            for field in fields(Axle):
                found = typical(f"{end}.{field.name}", Kinds(tyre=tyre, **{end: kind}))
                assert (found is None) == (field.name in by_tape | set(UNKNOWN)), (kind, field.name)
    near = [r for r in ROWS if r.end in ("", end) and r.kind in ("", "strut", "road")]
    assert len({r.field for r in near}) == len(near)  # never two answers


@pytest.mark.parametrize("tyre", TYRES)
def test_tyre_ranges_are_allowed_tyres(tyre):
    for field in fields(Tyre):
        found = typical(f"front.tyre.{field.name}", Kinds(tyre=tyre))
        assert (found is None) == (field.name == "kind")
        if found and TYRE_SPREAD[field.name] != (1.0, 1.0):
            q = GLOSSARY[field.name]
            low, central, high = (from_si(v, q.unit) for v in (found.low, found.central, found.high))
            assert q.low - 1e-9 <= low < central < high <= q.high + 1e-9, field.name


def test_kinds_are_checked():
    assert "trailing arm" not in kinds_at("front")
    with pytest.raises(InputError, match="kind of front suspension must be one of double wishbone"):
        Kinds(front="twist beam")
    with pytest.raises(InputError, match="kind of tyre must be one of road, fast road, track"):
        Kinds(tyre="slick")


@pytest.mark.analytic
def test_errors_of_careful_measurements_are_those_of_the_tools():
    found = weigh_corners(270.0, 260.0, 320.0, 310.0, *(measured(v, 0.0) for v in (2.45, 1.48, 1.5)), scale=Scale(0.5))
    assert MEASURED_ERROR["mass"][0] == pytest.approx(found.total.sigma, abs=0.1)
    assert MEASURED_ERROR["front_share"][0] == pytest.approx(100 * found.front_share.sigma, abs=0.06)
    assert MEASURED_ERROR["height"][0] > 1e3 * Tape().sigma(0.13)  # the tape alone is better than the floor and the eye


# ---- filling a car ------------------------------------------------------------------------------------------------

KINDS = Kinds("strut", "multi-link", "road", "saloon or hatch")


@pytest.mark.parametrize("name", examples.example_names())
def test_filled_example_trims_and_saves(name):
    file = examples.load_example(name)
    full = fill(file, KINDS)
    assert full.car.front.roll_centre == pytest.approx(to_si(70, "mm"))
    assert full.car.rear.tyre.kind == "road"
    assert full.car.front.track == file.car.front.track
    assert full.origin["front.roll_centre"] == "typical"
    assert full.origin["front.track"] == "example"
    assert set(full.origin.values()) <= set(ORIGINS)
    again = parse(render(full.car, full.setup, full.origin))
    assert again.car == full.car
    assert again.origin == full.origin
    assert trim(full.car, full.setup, Moment(30.0, 3.0)).usable


def test_measured_numbers_stay(tmp_path):
    text = examples.load_example("coupe").text
    marked = text + (
        '\n[origin]\n"front.toe_slope" = "measured"\n"car.cg_height" = "measured"\n'
        '"front.roll_centre" = "example"\n"rear.tyre.grip" = "measured"\n'
    )
    (tmp_path / "my.toml").write_text(marked, encoding="utf-8")
    file = read(tmp_path / "my.toml")
    words = origins(file)
    assert words["front.toe_slope"] == "measured"
    assert words["front.roll_centre_slope"] == "typed in"
    assert words["rear.lift_attitude"] == "left out"
    assert set(words) == {entry.path for entry in fields_of()}

    full = fill(file, replace(KINDS, tyre="track"))
    assert full.car.front.toe_slope == file.car.front.toe_slope
    assert full.car.cg_height == file.car.cg_height
    assert full.car.front.roll_centre_slope == file.car.front.roll_centre_slope  # typed in: somebody's number
    assert full.car.front.roll_centre == pytest.approx(0.070)
    assert full.car.rear.lift_area == pytest.approx(0.1)  # left out of the file
    assert full.car.rear.tyre.grip == file.car.rear.tyre.grip
    assert full.car.rear.tyre.kind == "track"
    assert full.car.rear.tyre.nominal_load == file.car.rear.tyre.nominal_load  # typed in
    assert full.car.rear.tyre.shape == KINDS_OF_TYRE["track"]["shape"]
    assert full.origin["front.toe_slope"] == "measured"
    assert "front.roll_centre_slope" not in full.origin
    assert set(full.changed) == {p for p, w in full.origin.items() if w == "typical"}

    everything = fill(file, KINDS, keep=("measured",))
    assert everything.car.front.roll_centre_slope == pytest.approx(2.5)
    assert everything.car.front.toe_slope == file.car.front.toe_slope
    assert everything.car.rear.tyre.grip == file.car.rear.tyre.grip


def test_ranges_say_how_far_each_number_may_lie(tmp_path):
    file = examples.load_example("coupe")
    full = fill(file, KINDS)
    origin = full.origin | {"front.toe_slope": "measured", "car.mass": "measured", "rear.roll_centre": "measured"}
    text = render(full.car, full.setup, origin)
    (tmp_path / "my.toml").write_text(text, encoding="utf-8")
    mine = read(tmp_path / "my.toml")
    found = ranges(mine, KINDS, {"front.toe_slope": to_si(0.7, "deg_per_m")})
    assert found["front.toe_slope"].sigma == pytest.approx(to_si(0.7, "deg_per_m"))
    assert found["front.toe_slope"].source == "its own measurement"
    assert found["car.mass"].sigma == pytest.approx(MEASURED_ERROR["mass"][0])
    assert found["front.roll_centre"].low == pytest.approx(0.020)
    assert found["front.roll_centre"].origin == "typical"
    assert found["rear.roll_centre"].sigma == pytest.approx(typical("rear.roll_centre", KINDS).sigma / 2)
    assert "car.yaw_inertia" not in found
    assert all(r.low <= r.central <= r.high and r.source for r in found.values())
    # an example's number keeps its place and takes the width of the kind
    own = ranges(file, KINDS)["front.roll_centre"]
    assert own.central == file.car.front.roll_centre
    assert own.high - own.low == pytest.approx(0.100)


@pytest.mark.parametrize("path", ["setup.front.bar", "setup.rear.spring", "front.wheel_radius", "car.mass"])
def test_a_number_borrowed_from_an_example_is_far_less_sure_than_a_reading(path, tmp_path):
    example = examples.load_example("coupe")
    kept = {word: {path: word} for word in ("example", "measured")}
    found = {"invented car": ranges(example, KINDS)[path]}
    for word, origin in kept.items():
        (tmp_path / f"{word}.toml").write_text(render(example.car, example.setup, origin), encoding="utf-8")
        found[word] = ranges(read(tmp_path / f"{word}.toml"), KINDS)[path]
    assert found["example"].sigma > 4.999 * found["measured"].sigma > 0
    assert found["example"].sigma > 0.04999 * found["example"].central
    assert found["invented car"].sigma == pytest.approx(found["measured"].sigma)  # an invented car is what it says
    assert "borrowed" in found["example"].source


def test_a_range_is_nine_tenths():
    one = typical("car.cg_height", Kinds())
    draws = np.random.default_rng(1).normal(0.552, one.sigma, 100_000)
    assert np.mean((draws > one.low) & (draws < one.high)) == pytest.approx(0.9, abs=0.005)
    assert replace(one, low=0.0, high=0.0).sigma == 0.0


def test_slips_of_ten_and_ratios_upside_down_are_asked_about_and_no_example_is(tmp_path):
    for name in examples.example_names():
        assert unusual(examples.load_example(name)) == {}
    file = examples.load_example("hatch")
    front = replace(file.car.front, motion_ratio=1 / float(file.car.front.motion_ratio) + 0.4)
    car = replace(file.car, yaw_inertia=0.1 * float(file.car.inertia), front=front)
    odd = replace(file, car=car, path=tmp_path / "odd.toml")
    assert list(unusual(odd)) == ["car.yaw_inertia", "front.motion_ratio"]
    told = about(odd)
    assert "Is that so?</b> yaw inertia" in told
    assert f"front motion ratio {front.motion_ratio:.3g}, usual 0.88 to 0.99" in told
    assert "Is that so" not in about(replace(file, path=tmp_path / "as it was.toml"))
