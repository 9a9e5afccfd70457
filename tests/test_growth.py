"""How fast a small slide grows, against the equations of motion put together anew, and the critical speed."""

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from vdlib.answers.growth import doubling, growth_rate

pytestmark = pytest.mark.analytic


def drawn(count, seed=4):
    """Cars at random, and how their axles' forces follow slip angle and lateral acceleration."""
    rng = np.random.default_rng(seed)
    mass, inertia = rng.uniform(600, 2000, count), rng.uniform(500, 4000, count)
    arms, stiffness = rng.uniform(0.9, 1.8, (2, count)), rng.uniform(1e4, 1.5e5, (2, count))
    follows, speed = rng.uniform(-0.2, 0.2, (2, count)) * mass, rng.uniform(8, 70, count)
    return mass, inertia, arms, stiffness, follows, speed


def test_it_is_the_largest_pole_of_the_motion_put_together_anew():
    each = drawn(200)
    found = growth_rate(*each)
    for i, rate in enumerate(found):
        m, inertia, (a, b), stiffness, follows, v = (one[..., i] for one in each)

        def change(state, m=m, inertia=inertia, a=a, b=b, stiffness=stiffness, follows=follows, v=v):
            beta, yaw = state
            slip = np.array([-(beta + a * yaw / v), -(beta - b * yaw / v)])  # left from right
            # F_i = C_i·α_i + G_i·(F_f + F_r)/m: two equations for two forces
            forces = np.linalg.solve(np.eye(2) - follows[:, None] / m, stiffness * slip)
            return [forces.sum() / (m * v) - yaw, (a * forces[0] - b * forces[1]) / inertia]

        matrix = np.array([change([1.0, 0.0]), change([0.0, 1.0])]).T
        assert rate == pytest.approx(np.linalg.eigvals(matrix).real.max(), rel=1e-9, abs=1e-9)
    assert (found > 0).any()
    assert (found < 0).any()


def test_it_changes_sign_at_the_critical_speed():
    mass, a, b, front, rear = 1000.0, 1.3, 1.1, 90e3, 70e3  # oversteering: a·C_f > b·C_r
    # V² = L²·C_f·C_r/(m·(a·C_f − b·C_r))
    critical = np.sqrt((a + b) ** 2 * front * rear / (mass * (a * front - b * rear)))
    slow, at, fast = growth_rate(mass, 1400.0, (a, b), (front, rear), (0.0, 0.0), critical * np.array([0.95, 1, 1.05]))
    assert slow < -0.01
    assert at == pytest.approx(0, abs=1e-9)
    assert fast > 0.01


def test_what_grows_at_a_rate_has_doubled_after_that_time():
    for rate in (0.3, 1.7, 12.0):
        found = float(doubling(rate))
        end = solve_ivp(lambda _, x, rate=rate: rate * x, (0, found), [0.5], rtol=1e-10, atol=1e-12).y[0, -1]
        assert end == pytest.approx(1.0, rel=1e-8)
    assert np.array_equal(doubling([0.0, -2.0, np.nan]), [np.inf, np.inf, np.nan], equal_nan=True)
