"""Every derivation equals the numeric code over random cars, and says in plain words what it does."""

from functools import cache

import numpy as np
import pytest
import sympy as sp

from vdlib.lessons import bicycle, rolling, working
from vdlib.trim import loads
from vdlib.units import G

RANDOM = np.random.default_rng(20)
N = 500


def some(low, high):
    return RANDOM.uniform(low, high, N)


def same(left, right):
    np.testing.assert_allclose(left, right, rtol=1e-12, atol=0)


ALL = [
    ("longitudinal_transfer",),
    ("roll_angle",),
    ("lateral_transfer",),
    ("lateral_transfer", "rear"),
    ("understeer_gradient",),
    ("characteristic_speed",),
    ("critical_speed",),
    ("yaw_rate_gain",),
]


@pytest.fixture(scope="module", autouse=True)
def derived_once():
    """Let each derivation be made once for all tests of this file."""
    with pytest.MonkeyPatch.context() as patch:
        for name in {name for name, *_ in ALL}:
            patch.setattr(working, name, cache(getattr(working, name)))
        yield


@pytest.mark.analytic
def test_longitudinal_transfer():
    v = {"m": some(600, 2500), "a_x": some(-12, 6), "h": some(0.3, 0.8), "L": some(2, 3.2)}
    same(working.longitudinal_transfer().numeric(**v), loads.longitudinal_transfer(v["m"], v["a_x"], v["h"], v["L"]))


@pytest.mark.analytic
def test_roll_angle():
    v = {"a_y": some(1, 12), "m_s": some(500, 2200), "d": some(0.2, 0.6), "K_f": some(2e4, 9e4), "K_r": some(2e4, 9e4)}
    expected = rolling.roll(v["a_y"], v["m_s"], v["d"], v["K_f"] + v["K_r"])
    same(working.roll_angle().numeric(**v, g=G), expected.angle)
    no_weight = rolling.roll(v["a_y"], v["m_s"], v["d"], v["K_f"] + v["K_r"], gravity_roll=False)
    same(working.roll_angle().numeric(**v, g=0.0), no_weight.angle)


@pytest.mark.analytic
@pytest.mark.parametrize("axle", ["front", "rear"])
def test_lateral_transfer_and_its_three_parts(axle):
    i = axle[0]
    v = {"a_y": some(1, 12), "m_s": some(500, 2200), "q": some(0.35, 0.65), "h": some(0.4, 0.7)}
    v |= {"h_f": some(-0.05, 0.2), "h_r": some(-0.05, 0.2), "K_f": some(2e4, 9e4), "K_r": some(2e4, 9e4)}
    own = {f"t_{i}": some(1.2, 1.9), f"m_u{i}": some(40, 200), f"h_u{i}": some(0.25, 0.35)}
    track, mass, height = own.values()
    axles = {k: rolling.RollAxle(track, v[f"h_{k}"], v[f"K_{k}"], mass, height) for k in "fr"}
    got = rolling.lateral_transfer(v["a_y"], v["m_s"], v["q"], v["h"], axles["f"], axles["r"])
    part = getattr(got, axle)
    derived = working.lateral_transfer(axle)
    same(derived.numeric(**v, **own, g=G), part.total)

    # each step that names a part gives that part
    for word, expected in (("links", part.links), ("unsprung", part.unsprung), ("springs", part.springs)):
        (step,) = [e for s, e in derived.steps if s.startswith("The part") and word in s]
        values = v | own | {"g": G, "d": got.arm}
        names = sorted(s.name for s in step.rhs.free_symbols)
        by_name = {s.name: s for s in step.rhs.free_symbols}
        np.testing.assert_allclose(
            sp.lambdify([by_name[n] for n in names], step.rhs, "numpy")(*(values[n] for n in names)),
            expected,
            rtol=1e-12,
        )


@pytest.mark.analytic
@pytest.mark.parametrize("stronger", ["C_f", "C_r"])
def test_understeer_gradient(stronger):
    # axle products kept apart by a fifth or more: near neutral a difference of nearly equal numbers has no 12 digits
    a, b, weak = some(1.0, 1.6), some(1.0, 1.6), some(3e4, 2e5)
    strong = weak * some(1.2, 2.0) * (b / a if stronger == "C_f" else a / b)
    v = {"m": some(600, 2500), "a": a, "b": b, "C_f": weak, "C_r": weak} | {stronger: strong}
    car = bicycle.TwoWheel(v["m"], 2000.0, a, b, v["C_f"], v["C_r"])
    expected = bicycle.understeer_gradient(car).total
    assert np.all((expected > 0) == (stronger == "C_r"))
    same(working.understeer_gradient().numeric(**v), expected)
    if stronger == "C_f":
        same(working.critical_speed().numeric(**v), bicycle.critical_speed(a + b, expected))


@pytest.mark.analytic
def test_characteristic_speed():
    v = {"L": some(2, 3.2), "K": some(1e-4, 1e-2)}
    same(working.characteristic_speed().numeric(**v), bicycle.characteristic_speed(v["L"], v["K"]))


@pytest.mark.analytic
def test_yaw_rate_gain():
    v = {"V": some(3, 80), "L": some(2, 3.2), "K": some(-2e-4, 1e-2)}
    derived = working.yaw_rate_gain()
    same(derived.numeric(**v), bicycle.yaw_rate_gain(v["V"], v["L"], v["K"]))
    assert derived.steps[-1][1].rhs == sp.Rational(1, 2)  # of a neutral car's, at the characteristic speed
    speed = derived.steps[-2][1].rhs
    L, K = sorted(speed.free_symbols, key=lambda s: s.name, reverse=True)
    assert float(speed.subs({L: 2.7, K: 0.003})) == pytest.approx(bicycle.characteristic_speed(2.7, 0.003), rel=1e-14)


@pytest.mark.analytic
@pytest.mark.parametrize("which", ALL, ids=" ".join)
def test_each_working_reads_well(which):
    name, *axle = which
    got = getattr(working, name)(*axle)
    assert len(got.steps) >= 3
    assert all(sentence.endswith(".") and isinstance(equation, sp.Eq) for sentence, equation in got.steps)
    assert any(equation == got.result for _, equation in got.steps)
    assert {s.name for s in got.result.rhs.free_symbols} <= set(got.symbols)
    assert all(plain and unit for plain, unit in got.symbols.values())
    assert sp.latex(got.result)


@pytest.mark.analytic
def test_another_axle_is_refused():
    with pytest.raises(ValueError, match="front or rear"):
        working.lateral_transfer("middle")
