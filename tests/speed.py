"""The whole speed report, one table: ``python -m tests.speed``.

Everything is timed in the same run on the same machine, each beside something that does the same job in another way;
the ratio says how many times as fast ours is. Goals are for an idle machine of two cores; they are printed beside what
was found, met or not. ``--no-browser`` leaves the browser out.
"""

from __future__ import annotations

import argparse
import asyncio
import csv
import os
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from tests import benchmark
from tests.benchmark import Row, median_of
from tests.browser.stopwatch import Waits, measure
from vdlib.answers.doubts import doubts_of
from vdlib.answers.spread import COUNT, draw, plausible, spread
from vdlib.car import examples
from vdlib.car.records import Moment, reference_setup
from vdlib.laps import logfile
from vdlib.panels.how_sure import known_of
from vdlib.trim.trim import trim
from vdlib.units import G

sys.path.insert(0, str(Path(__file__).parent))  # as the tests find it
from panel_table import makers, panels_of

GOALS = {"key": 50.0, "drag": 60.0, "usual": 4.0, "first": 5.0, "step": 40.0, "other": 100.0}
"""95 % of key presses and of mouse moves [ms], times as fast as the usual form, first picture [s], one step [ms]."""
MAIN = ("lift.asked", "reasons.tail_out", "three_questions.panel", "whatif.panel", "split.panel", "weight.parts")
"""The panels that a reader meets first in a workbook of their own, and comes back to."""
STEPS = 20
"""Slider steps of each panel."""


def one_spread() -> Row:
    """Plausible cars in one call against one call for each."""
    file = examples.load_example(examples.FIRST)
    kinds, errors = known_of(file)
    doubts, level = doubts_of(file, kinds, errors), reference_setup(file.car, file.setup)
    moment = Moment.in_phase("lift", 110 / 3.6, 0.8 * G)
    ratios = frozenset(path for doubt in doubts if doubt.middle for path in doubt.also)
    many = plausible(file.car, draw(doubts, COUNT), "", ratios)
    cars = [benchmark.one_of(many, i) for i in range(20)]
    ours = median_of(lambda: spread(file.car, level, file.setup, moment, doubts), 5)
    theirs = median_of(lambda: [trim(car, setup, moment) for car in cars for setup in (level, file.setup)], 3)
    return Row(
        f"how sure: {COUNT:,} plausible cars", ours, "trims one by one, 20 timed and scaled", theirs * COUNT / 20
    )


def one_log() -> Row:
    """A log of half an hour at 50 rows a second against reading it row by row."""
    at = np.arange(0, 1800, 0.02)
    speed, lateral = 110 + 40 * np.sin(at / 9), np.sin(at / 5)
    with tempfile.TemporaryDirectory() as temp:
        path = Path(temp, "made-up.csv")
        table = np.column_stack([at, speed, lateral, 50 + at * 1e-6, 8 + at * 1e-6])
        head = "time [s],speed [km/h],lateral acceleration [g],latitude [deg],longitude [deg]"
        np.savetxt(path, table, fmt="%.6f", delimiter=",", header=head, comments="")

        def row_by_row() -> list[list[float]]:
            with path.open(newline="") as lines:
                rows = csv.reader(lines)
                next(rows)
                return [[float(cell) for cell in row] for row in rows]

        ours, theirs = median_of(lambda: logfile.read(path), 3), median_of(row_by_row, 3)
    return Row(f"reading a log of {at.size:,} rows", ours, "csv.reader and float, unchecked", theirs)


def import_panels() -> Row:
    """The main panel's module in a fresh Python."""
    ours = min(benchmark.fresh_python("import vdlib.panels.nose_high") for _ in range(3))
    theirs = min(benchmark.fresh_python("import matplotlib.figure, ipywidgets") for _ in range(3))
    return Row("import the main panel, a fresh Python", ours, "import matplotlib.figure and ipywidgets", theirs)


@dataclass(frozen=True)
class Step:
    """One panel's slider steps, in the kernel [ms]: time that passed; time of the processor, which other work on the
    machine lengthens less; and the processor's time of what is shown once nothing moves."""

    name: str
    waits: np.ndarray
    worked: np.ndarray
    at_rest: np.ndarray
    goal: float


def steps() -> Iterator[Step]:
    """Compute, draw and encode, nothing made ahead, at each step of every panel's first slider.

    It moves as in a kernel, where time can be told: sharpness, and what is rough while it moves, are made up at rest.
    """
    for name, maker in makers().items():
        for panel in panels_of(maker, examples.load_example(examples.FIRST)):
            sliders = {n: c for n, c in panel.controls.items() if hasattr(c, "step") and hasattr(c, "max")}
            if not sliders:
                continue
            control = next(iter(sliders.values()))
            places = np.linspace(control.min, control.max, STEPS + 2)
            found: list[list[float]] = [[], [], []]
            for place in places:
                steps_up = round((place - control.min) / control.step)
                value = min(round(control.min + steps_up * control.step, 9), control.max)

                start, began = time.perf_counter(), time.process_time()
                asyncio.run(_moved(control, type(control.step)(value)))
                found[0].append(1e3 * (time.perf_counter() - start))
                found[1].append(1e3 * (time.process_time() - began))
                began = time.process_time()
                panel.refresh()
                found[2].append(1e3 * (time.process_time() - began))
            goal = GOALS["step"] if name in MAIN else GOALS["other"]
            yield Step(f"{name}, {control.description}", *(np.array(each[2:]) for each in found), goal)


async def _moved(control: Any, value: float) -> None:
    """Move a slider where time can be told."""
    control.value = value


def print_steps() -> None:
    goals = f"median at most {GOALS['step']:g} ms in the main panels, {GOALS['other']:g} in every other"
    print(f"\nCompute, draw and encode for one slider step, in the kernel; goal: {goals}")
    for one in steps():
        median, late, busy = np.median(one.waits), np.percentile(one.waits, 95), np.median(one.worked)
        times = f"median {median:6.1f} ms   95 % {late:6.1f} ms   processor {busy:6.1f} ms"
        print(f"{one.name:<56} {times}   at rest {np.median(one.at_rest):6.1f} ms   {_met(median, one.goal)}")


def print_browser(events: int) -> None:
    found = measure(events)
    print("\nIn the browser: from an input event to the painted picture")
    main, usual, empty = found["main"], found["usual"], found["empty"]
    for way, words in (("key", "arrow key"), ("drag", "mouse drag")):
        for name, waits in (("the main panel", main), ("interact, a new figure a step", usual), ("no picture", empty)):
            median, late = _two(waits, way)
            goal = f"goal 95 % {GOALS[way]:g} ms: {_met(late, GOALS[way])}" if waits is main else ""
            print(f"{words:<12} {name:<32} median {median:6.0f} ms   95 % {late:6.0f} ms   {goal}")
        ratio = _two(usual, way)[0] / _two(main, way)[0]
        over = _two(main, way)[0] / _two(empty, way)[0]
        goal = f"goal {GOALS['usual']:g}: {'met' if ratio >= GOALS['usual'] else 'NOT met'}"
        print(f"{words:<12} {ratio:.1f} times as fast as interact ({goal}), {over:.1f} times an empty trip")
    for name, waits in (("the main panel", main), ("interact, a new figure a step", usual), ("no picture", empty)):
        print(f"{'held key':<12} {name:<32} {waits.held:.1f} pictures a second")
    first = found["first picture"]
    goal = f"goal {GOALS['first']:g} s: {_met(first, GOALS['first'])}"
    print(f"\nServer up in {found['server']:.1f} s; the main workbook is open in {found['opened']:.1f} s,")
    print(f"and its first picture is there {first:.1f} s after opening ({goal}); without code, {found['coach']:.1f} s")


def _two(waits: Waits, way: str) -> tuple[float, float]:
    at = getattr(waits, way)
    return float(np.median(at)), float(np.percentile(at, 95))


def _met(value: float, goal: float) -> str:
    return "met" if value <= goal else "NOT met"


def main() -> int:
    parser = argparse.ArgumentParser(description="Print how fast everything is, and beside what.")
    parser.add_argument("--no-browser", action="store_true", help="leave the browser out")
    parser.add_argument("--events", type=int, default=40, help="keys, and mouse moves, timed in the browser")
    args = parser.parse_args()
    load = os.getloadavg()[0]
    print(f"{os.cpu_count()} cores, load {load:.1f}{' - NOT idle, times are too long' if load > 0.5 else ''}\n")
    if not args.no_browser:
        print_browser(args.events)
    print(f"\n{'what':<48} {'time':>10}   {'beside':<58} {'time':>10} {'ratio':>8}")
    rows: list[Callable[[], Row]] = [*benchmark.BENCHMARKS, one_spread, one_log, import_panels]
    for make in rows:
        row = make()
        print(
            f"{row.what:<48} {1e3 * row.ours:7.1f} ms   {row.beside:<58} {1e3 * row.theirs:7.1f} ms "
            f"{row.theirs / row.ours:8.3g}",
            flush=True,
        )
    with tempfile.TemporaryDirectory() as temp:  # whatever a panel saves
        os.environ["VDLIB_CARS"] = temp
        print_steps()
    return 0


if __name__ == "__main__":
    sys.exit(main())
