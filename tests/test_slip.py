"""The slip angles of an axle: the first guess, one Newton step and what a step teaches, against other ways."""

import numpy as np
import pytest
from scipy.optimize import brentq

from vdlib.car.tyre import Curve
from vdlib.trim.slip import Slip, first_slip, learn, look, newton_slip, slopes

pytestmark = pytest.mark.analytic


def force(curve, at, alpha):
    """Side force of one tyre, the Magic Formula written anew."""
    names, whole = ("steepness", "shape", "peak", "curvature", "shift"), curve.peak.shape
    b, c, d, e, s = (np.broadcast_to(getattr(curve, name), whole)[at] for name in names)
    x = b * (alpha + s)
    return d * np.sin(c * np.arctan(x - e * (x - np.arctan(x))))


def curves(count, seed=2, alike=False):
    rng = np.random.default_rng(seed)

    def size(low, high):
        one = rng.uniform(low, high, (2, 2, count))
        return np.stack([one[0], one[0]]) if alike else one

    shape, curvature = rng.uniform(1.2, 1.7, (2, count)), rng.uniform(-1.5, 0.7, (2, count))  # of an axle's tyres
    return Curve(size(8, 25), shape, size(1500, 6000), curvature, size(-0.005, 0.005))


def both(curve, axle, i, alpha):
    return force(curve, (0, axle, i), alpha) + force(curve, (1, axle, i), alpha)


def test_of_two_tyres_alike_the_first_guess_is_the_answer():
    tyres, rng = curves(20, alike=True), np.random.default_rng(3)
    asked = rng.uniform(0.05, 0.95, (2, 20)) * tyres.peak.sum(axis=0)
    slip, top = first_slip(tyres, np.zeros((2, 2, 20)), asked)
    angles = np.linspace(0, 1.2, 200_001)
    for axle, i in np.ndindex(2, 20):
        assert both(tyres, axle, i, slip[axle, i]) == pytest.approx(asked[axle, i], rel=1e-9)
        steepest = angles[np.argmax(both(tyres, axle, i, angles))]
        assert top[axle, i] == pytest.approx(min(steepest, 1.2), abs=1e-5) or steepest == angles[-1]
    more = first_slip(tyres, np.zeros((2, 2, 20)), 1.5 * tyres.peak.sum(axis=0))
    assert (more[0] <= more[1]).all()  # never beyond the greatest force


def test_toe_moves_the_first_guess_by_its_mean():
    tyres = curves(5, alike=True)
    asked = 0.5 * tyres.peak.sum(axis=0)
    plain, toed = first_slip(tyres, np.zeros((2, 2, 5)), asked), first_slip(tyres, np.full((2, 2, 5), 0.01), asked)
    np.testing.assert_allclose(plain[0] - toed[0], 0.01, atol=1e-12)
    np.testing.assert_allclose(plain[1] - toed[1], 0.01, atol=1e-12)


def test_newtons_steps_end_where_a_search_by_halves_ends():
    tyres, none = curves(20), np.zeros((2, 20))
    offset = np.zeros((2, 2, 20))
    asked = 0.8 * tyres.peak.sum(axis=0)
    slip, top = first_slip(tyres, offset, asked)
    sense, missed = np.ones(20), np.zeros((2, 2, 20))
    for _ in range(40):
        now = look(tyres, offset, asked, slip, top, none, none)
        slip, top = slip + newton_slip(now, sense, missed), now.top
    for axle, i in np.ndindex(2, 20):

        def missing(angle, axle=axle, i=i):
            return both(tyres, axle, i, angle) - asked[axle, i]

        assert slip[axle, i] == pytest.approx(brentq(missing, -0.1, top[axle, i], xtol=1e-13), abs=1e-9)


def state(slip, left, tilt, stiffness=(8e4, 9e4)):
    """Residuals of one moment far below the peak, where no step is bent back."""
    two = np.array([[2e4], [2e4]])
    return Slip(
        slip=np.array(slip)[:, None], top=np.full((2, 1), 1.0), peak=two, fall=0 * two,
        stiffness=np.array(stiffness)[:, None], tilt=np.array([tilt]), left=np.array(left)[:, None],
        short=two < 0, far=two > 0,
    )  # fmt: skip


@pytest.mark.parametrize("sense", [1.0, -1.0])
def test_one_step_solves_the_two_equations_with_what_the_steering_tilts(sense):
    now = state((0.03, 0.02), (500.0, -700.0), 6e3)
    change = newton_slip(now, np.array([sense]), np.zeros((2, 2, 1)))[:, 0]
    # the front's force moves by (C_f + T)·Δα_f − s·T·Δα_r, the rear's by C_r·Δα_r
    want = np.linalg.solve([[8e4 + 6e3, -sense * 6e3], [0, 9e4]], [-500.0, 700.0])
    np.testing.assert_allclose(change, want, rtol=1e-12)
    np.testing.assert_allclose(slopes(now, np.array([sense]))[..., 0] @ want, [-500.0, 700.0])


def test_what_is_learnt_explains_the_step_and_is_the_least_that_does():
    before, now = state((0.03, 0.02), (500.0, -700.0), 6e3), state((0.024, 0.029), (90.0, 120.0), 5e3, (7e4, 8.5e4))
    sense, missed = np.ones(1), np.array([[[300.0], [-200.0]], [[100.0], [50.0]]])
    step = (now.slip - before.slip)[:, 0]
    mean = 0.5 * (slopes(before, sense) + slopes(now, sense))[..., 0]
    surprise = (now.left - before.left)[:, 0] - (mean + missed[..., 0]) @ step
    found = learn(missed, before, now, sense)[..., 0]
    clipped = np.abs(found) >= 0.1 * 2e4 - 1e-9
    wanted = missed[..., 0] + [np.linalg.lstsq(step[None], [s], rcond=None)[0] for s in surprise]  # the least change
    assert not clipped.all()
    np.testing.assert_allclose(found, np.clip(wanted, -0.1 * 2e4, 0.1 * 2e4), rtol=1e-9)
    still = learn(missed, now, now, sense)
    np.testing.assert_array_equal(still, missed)  # nothing moved, nothing learnt
