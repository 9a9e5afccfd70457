"""How fast the library is, beside something of the same run on the same machine: ``python -m tests.benchmark``.

Times are medians of several repeats. The loop that the trim is compared with solves the same equations, written anew in
``oracle``, one case after another with ``scipy.optimize.root``; ``test_trim`` holds the two against each other.
"""

from __future__ import annotations

import statistics
import subprocess
import sys
import time
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from tests.oracle import apart, loop_over, one_of
from vdlib.answers.corner import HOLDS, Corner
from vdlib.answers.forgiven import SLIDE, WITHIN, forgiven_speed
from vdlib.answers.lift import Scenario, simulate
from vdlib.answers.margins import margins, tries
from vdlib.answers.stacking import stack
from vdlib.car import examples
from vdlib.car.records import PHASES, Axle, AxleSetup, Car, Moment, Setup
from vdlib.car.reference import reference_of
from vdlib.trim.trim import ROUTES, trim
from vdlib.units import G

CARS = 10_000
LOOPED = 40  # cases that the loop does; its time is scaled up to all of them
SPEED = 110 / 3.6


@dataclass(frozen=True)
class Row:
    """One line of the table."""

    what: str
    ours: float  # [s]
    beside: str
    theirs: float  # [s]


def median_of(action: Callable[[], Any], repeats: int = 7) -> float:
    """Median time of an action, once run before for nothing."""
    action()
    times = []
    for _ in range(repeats):
        start = time.perf_counter()
        action()
        times.append(time.perf_counter() - start)
    return statistics.median(times)


def medians_of(ours: Callable[[], Any], theirs: Callable[[], Any], repeats: int = 9) -> tuple[float, float]:
    """Median times of two actions done in turns, so that whatever else the machine does troubles both alike."""
    turns = [(median_of(ours, 1), median_of(theirs, 1)) for _ in range(repeats)]
    one, other = (statistics.median(column) for column in zip(*turns, strict=True))
    return one, other


# ---- what is timed ---------------------------------------------------------------------------------------------------


def spread_of_cars(n: int, seed: int = 1) -> tuple[Car, Setup, Moment]:
    """Cars that a garage could not tell from the two-seater."""
    file = examples.load_example("two-seater")
    rng = np.random.default_rng(seed)

    def about(value: Any, part: float) -> Any:
        return value * (1 + part * rng.standard_normal(n))

    def axle(a: Axle) -> Axle:
        tyre = replace(a.tyre, grip=about(a.tyre.grip, 0.03), stiffness_max=about(a.tyre.stiffness_max, 0.05))
        return replace(
            a,
            track=about(a.track, 0.002),
            roll_centre=a.roll_centre + 0.005 * rng.standard_normal(n),
            bump_gap=a.bump_gap + 0.003 * rng.standard_normal(n),
            toe_slope=about(a.toe_slope, 0.2),
            motion_ratio=about(a.motion_ratio, 0.02),
            tyre=tyre,
        )

    def measured(s: AxleSetup) -> AxleSetup:
        return replace(s, height=s.height + 0.002 * rng.standard_normal(n), spring=about(s.spring, 0.03))

    car = replace(
        file.car,
        mass=about(file.car.mass, 0.005),
        cg_height=about(file.car.cg_height, 0.03),
        front=axle(file.car.front),
        rear=axle(file.car.rear),
    )
    setup = replace(file.setup, front=measured(file.setup.front), rear=measured(file.setup.rear))
    return car, setup, Moment.in_phase("lift", SPEED, 0.7 * G)


def many_cars() -> Row:
    car, setup, moment = spread_of_cars(CARS)
    cases = [(one_of(car, i), one_of(setup, i), moment) for i in range(LOOPED)]
    found = trim(car, setup, moment)
    assert max(apart(found, i, answer) for i, answer in enumerate(loop_over(cases))) < 1e-9
    ours, theirs = medians_of(lambda: trim(car, setup, moment), lambda: loop_over(cases), 15)
    beside = f"scipy.optimize.root in a loop, {LOOPED} timed and scaled"
    return Row(f"trim of {CARS:,} cars", ours, beside, theirs * CARS / LOOPED)


def one_car() -> Row:
    file = examples.load_example("two-seater")
    moment = Moment.in_phase("lift", SPEED, 0.7 * G)
    case = (file.car, file.setup, moment)
    ours, theirs = medians_of(lambda: trim(*case), lambda: loop_over([case]), 25)
    return Row("trim of one car", ours, "scipy.optimize.root", theirs)


def slider_step() -> Row:
    file = examples.load_example("two-seater")
    lateral = np.linspace(0.02, 1.0, 60) * G
    cases = [(file.car, file.setup, Moment.in_phase("steady", SPEED, float(a))) for a in lateral]
    moment = Moment.in_phase("steady", SPEED, lateral)
    ours, theirs = medians_of(lambda: trim(file.car, file.setup, moment), lambda: loop_over(cases))
    return Row("trim of a sweep of 60 (a slider step)", ours, "scipy.optimize.root in a loop", theirs)


def all_subsets() -> Row:
    file = examples.load_example("two-seater")
    chosen = (np.arange(2 ** len(ROUTES))[:, None] >> np.arange(len(ROUTES))) & 1
    heights: dict[str, Any] = {
        route: tuple(
            np.where(chosen[:, i, None] == 1, end.height, axle.reference_height)
            for end, axle in ((file.setup.front, file.car.front), (file.setup.rear, file.car.rear))
        )
        for i, route in enumerate(ROUTES)
    }
    usual = np.array(list(PHASES.values())).T
    moment = Moment(SPEED, 0.7 * G, *usual)
    single = Moment.in_phase("steady", SPEED, 0.7 * G)
    ours, each = medians_of(
        lambda: trim(file.car, file.setup, moment, heights), lambda: trim(file.car, file.setup, single), 15
    )
    what = f"trim of all subsets of {len(ROUTES)} routes in {len(PHASES)} phases"
    return Row(what, ours, "one trim a case", each * chosen.shape[0] * len(PHASES))


def one_by_one(car: Car, setup: Setup, corner: Corner, low: float, high: float) -> float:
    """Find a forgiven speed as one would by hand: a bisection of single runs."""
    while high - low > 0.25 / 3.6:
        speed = 0.5 * (low + high)
        scenario = Scenario(speed, float(corner.lateral(speed)), corner.lift, starts=0.0, lasts=WITHIN)
        passed = float(simulate(car, setup, scenario).slide.max()) > SLIDE
        low, high = (low, speed) if passed else (speed, high)
    return high


def forgiven_speeds() -> Row:
    """Two setups' forgiven speeds in one call against two bisections of single runs."""
    file, corner = examples.load_example("low-two-seater"), Corner()
    setups = [reference_of(file).setup, file.setup]
    both = stack(setups)
    found = forgiven_speed(file.car, both, corner, HOLDS).speed
    byhand = [one_by_one(file.car, setup, corner, 15.0, 25.0) for setup in setups]
    assert np.abs(found - byhand).max() < 0.5 / 3.6
    ours, theirs = medians_of(
        lambda: forgiven_speed(file.car, both, corner, HOLDS),
        lambda: [one_by_one(file.car, setup, corner, 15.0, 25.0) for setup in setups],
        3,
    )
    return Row("forgiven speed of two setups", ours, "bisection of single runs", theirs)


def margin_bars() -> Row:
    """Twelve single what-ifs in one call against a bisection of single runs for each."""
    file, corner = examples.load_example("low-two-seater"), Corner()
    reference = reference_of(file)
    asked = list(tries(file.car, file.setup, reference, corner, HOLDS))
    ours, theirs = medians_of(
        lambda: margins(file.car, file.setup, reference, corner, HOLDS),
        lambda: [one_by_one(one.car, one.setup, one.corner, 15.0, 25.0) for one in asked],
        2,
    )
    return Row(f"{len(asked)} margin bars", ours, "bisection of single runs", theirs)


def fresh_python(code: str) -> float:
    start = time.perf_counter()
    subprocess.run([sys.executable, "-c", code], check=True)
    return time.perf_counter() - start


def importing() -> Row:
    runs = [(fresh_python("import vdlib.trim.trim"), fresh_python("import numpy")) for _ in range(7)]
    ours, theirs = (statistics.median(column) for column in zip(*runs, strict=True))
    return Row("import vdlib.trim.trim, a fresh Python", ours, "import numpy, a fresh Python", theirs)


# A benchmark is a function without arguments that gives a Row. To come, each as one more name in this list:
# the spread of 10,000 cars; a slider step with its picture; reading a log; the same in a browser.
BENCHMARKS: list[Callable[[], Row]] = [
    many_cars,
    one_car,
    slider_step,
    all_subsets,
    importing,
    forgiven_speeds,
    margin_bars,
]


def main() -> None:
    print(f"{'what':<48} {'time':>10}   {'times as fast as':<58} {'time':>10} {'ratio':>8}")
    for benchmark in BENCHMARKS:
        row = benchmark()
        print(
            f"{row.what:<48} {1e3 * row.ours:7.1f} ms   {row.beside:<58} {1e3 * row.theirs:7.1f} ms "
            f"{row.theirs / row.ours:8.3g}"
        )


if __name__ == "__main__":
    main()
