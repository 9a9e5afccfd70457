"""Small changes of the core, drawn at random, and whether the tests see them: ``python -m tests.mutants``.

Every operator and every number of the modules below is a place; each place has one change. Which places are tried is
drawn by ``SEED``, a number taken from the system's noise before the first run and left alone since.
"""

from __future__ import annotations

import argparse
import ast
import os
import random
import re
import resource
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path
from xml.etree import ElementTree

ROOT = Path(__file__).resolve().parents[1]
SEED = 920244
COUNT = 60
MISSED = "NOT SEEN"
TRIM = (
    "oracle",
    "four_wheels",
    "trim",
    "trim_routes",
    "suspension",
    "trim_limits",
    "tyre_published",
    "properties",
    "engine",
)
MODULES: dict[str, tuple[str, ...]] = {
    "trim/cases": TRIM,
    "trim/fixed": TRIM,
    "trim/stance": TRIM,
    "trim/standing": TRIM,
    "trim/vertical": TRIM,
    "trim/slip": ("slip", *TRIM),
    "trim/solver": ("wheel_forces", *TRIM),
    "trim/suspension": TRIM,
    "trim/aero": TRIM,
    "trim/loads": ("loads", *TRIM),
    "trim/trim": TRIM,
    "answers/ledger": ("ledger", "properties"),
    "answers/limits": ("limits", "balance", "trim_limits"),
    "answers/motion": ("wheel_forces", "lift", "forgiven"),
    "answers/motion_start": ("lift", "forgiven"),
    "answers/motion_steps": ("lift", "forgiven"),
    "answers/motion_record": ("lift",),
    "laps/bootstrap": ("evidence",),
    "laps/course": ("corners_found", "laps", "log_faults", "did_it_work_logs"),
    "garage/tape": ("tape", "garage"),
    "garage/scales": ("scales", "garage"),
    "garage/axle_lift": ("scales", "garage"),
    "garage/alignment": ("alignment", "garage"),
    "garage/travel_curves": ("tape", "garage"),
    "garage/instruments": ("tape", "scales", "alignment", "garage"),
}
"""Module → the test files that should see a change of it, the quickest first."""
OTHER = {
    "+": "-",
    "-": "+",
    "*": "/",
    "/": "*",
    "**": "*",
    "@": "*",
    "<": ">",
    ">": "<",
    "<=": ">",
    ">=": "<",
    "==": "!=",
}
OTHER |= {"!=": "==", "&": "|", "|": "&", "and": "or", "or": "and", "%": "*", "//": "*"}
SIGNS = {ast.Add: "+", ast.Sub: "-", ast.Mult: "*", ast.Div: "/", ast.Pow: "**", ast.MatMult: "@", ast.BitAnd: "&"}
SIGNS |= {ast.BitOr: "|", ast.Mod: "%", ast.FloorDiv: "//", ast.Lt: "<", ast.Gt: ">", ast.LtE: "<=", ast.GtE: ">="}
SIGNS |= {ast.Eq: "==", ast.NotEq: "!=", ast.And: "and", ast.Or: "or"}
EQUIVALENT: dict[str, str] = {
    'garage/tape: inputs = {"x": Measured(x, x_sigma + 0 * x), "y": Measured(y, y_sigma + 0 * y)} [+ -> -]': (
        "nought times a reading is there only to give the error the shape of the readings, and a - 0 is a + 0"
    ),
    "garage/axle_lift: line, cases = tangent.reshape(n, -1), load.reshape(n, -1) [1 -> 2]": (
        "numpy takes every negative size in reshape for the one to be worked out, so -2 is the same as -1"
    ),
    "garage/travel_curves: if len(angles) > degree + 1 and np.max(np.abs(over)) > 3 * np.max(sigma): [+ -> -]": (
        "they differ where there are as many readings as the curve has numbers: two at two places for a straight line, "
        "three at three for a bent one (fewer are refused before); the curve goes through all of them then, so nothing "
        "is left over, and an instrument's error is never nought"
    ),
    "laps/bootstrap: reach = np.where(unbound, np.inf, np.where(np.isinf(factor), 0.0, factor) * sigma) [0.0 -> 0.1]": (
        "where a factor is infinite unbound is true, so the outer choice takes infinity and not this number"
    ),
    "laps/course: if flat.x is None or flat.y is None: [or -> and]": (
        "a log with one of the two places and without the other is refused (logfile), so both are there or neither is"
    ),
    'laps/course: turn = turn or ("left" if bend > 0 else "right") [0 -> 1]': (
        "bend is a radius in metres with a sign: they differ between nought and one metre, and no car turns within that"
    ),
    "answers/limits: low, high = np.where(there, known.low, 0.5 * G), np.where(there, known.high, 0.6 * G) [* -> /]": (
        "the numbers are where a sweep is read for a case in which nothing is sought; what is read there is put at "
        "infinity on the way out, and no other number of such a case is used"
    ),
}
"""Changes that no test can see, and why: as ``told`` writes them → the proof."""


@dataclass(frozen=True)
class Change:
    """One change of one module: at this place of its bytes, these bytes become others."""

    module: str
    line: int
    start: int
    old: str
    new: str
    text: str  # the line as it is

    @property
    def told(self) -> str:
        """The change in words; without a line number, so that it stays the same when lines are added above."""
        return f"{self.module}: {self.text.strip()} [{self.old} -> {self.new}]"


def places(module: str) -> Iterator[Change]:
    """Every operator and every number of a module, annotations, docstrings and default texts left out."""
    path = ROOT / "vdlib" / f"{module}.py"
    raw = path.read_bytes()
    lines = raw.split(b"\n")
    begins = [0]
    for line in lines:
        begins.append(begins[-1] + len(line) + 1)

    def at(node: ast.expr, end: bool = False) -> int:
        row, column = (node.end_lineno, node.end_col_offset) if end else (node.lineno, node.col_offset)
        assert row is not None
        assert column is not None
        return begins[row - 1] + column

    def change(start: int, old: str, new: str) -> Change:
        row = raw.count(b"\n", 0, start)
        return Change(module, row + 1, start, old, new, lines[row].decode())

    def between(left: ast.expr, right: ast.expr, sign: str) -> Iterator[Change]:
        start = raw.find(sign.encode(), at(left, True), at(right))
        if start >= 0:
            yield change(start, sign, OTHER[sign])

    tree = ast.parse(raw)
    skipped = {
        id(part)
        for node in ast.walk(tree)
        for note in (getattr(node, "annotation", None), getattr(node, "returns", None))
        if note is not None
        for part in ast.walk(note)
    }
    for node in ast.walk(tree):
        if id(node) in skipped:
            continue
        if isinstance(node, ast.BinOp) and type(node.op) in SIGNS:
            yield from between(node.left, node.right, SIGNS[type(node.op)])
        elif isinstance(node, ast.AugAssign) and type(node.op) in SIGNS:
            sign = SIGNS[type(node.op)]
            start = raw.find(f"{sign}=".encode(), at(node.target, True))
            yield change(start, sign, OTHER[sign])
        elif isinstance(node, ast.Compare):
            for left, op, right in zip([node.left, *node.comparators], node.ops, node.comparators, strict=False):
                if type(op) in SIGNS:
                    yield from between(left, right, SIGNS[type(op)])
        elif isinstance(node, ast.BoolOp):
            for left, right in zip(node.values, node.values[1:], strict=False):
                yield from between(left, right, SIGNS[type(node.op)])
        elif isinstance(node, ast.UnaryOp) and isinstance(node.op, ast.USub | ast.Invert):
            yield change(at(node), raw[at(node) : at(node) + 1].decode(), "+" if isinstance(node.op, ast.USub) else "")
        elif isinstance(node, ast.Constant) and type(node.value) in (int, float):
            old = raw[at(node) : at(node, True)].decode()
            whole = isinstance(node.value, int)
            yield change(at(node), old, str(node.value + 1) if whole else repr(node.value * 1.1 if node.value else 0.1))


def drawn(seed: int = SEED, count: int = COUNT) -> list[Change]:
    """The changes that are tried."""
    everything = [one for module in MODULES for one in sorted(places(module), key=lambda one: one.start)]
    return random.Random(seed).sample(everything, count)


def run(home: Path, files: Iterable[str], limit: int, *options: str) -> tuple[int, str]:
    """Run test files of a copy in one process that may use so many seconds of processor time; its code and words."""
    command = [sys.executable, "-m", "pytest", "-q", "-p", "no:nbval", "-p", "no:cacheprovider", "--tb=no", *options]
    command += ["--override-ini", "addopts=", "-m", "not slow", *(f"tests/test_{name}.py" for name in files)]
    done = subprocess.run(
        command,
        cwd=home,
        # nothing compiled is kept: a change of the same length within the same second would not be read
        env=os.environ | {"PYTHONPATH": str(home), "PYTHONDONTWRITEBYTECODE": "1"},
        capture_output=True,
        text=True,
        check=False,
        preexec_fn=lambda: resource.setrlimit(resource.RLIMIT_CPU, (limit, limit + 5)),
    )
    return done.returncode, done.stdout


def baseline(home: Path) -> dict[str, float]:
    """Run every test file named here with nothing changed: file → its seconds; an error where one of them fails."""
    report = home / "unchanged.xml"
    names = list(dict.fromkeys(name for files in MODULES.values() for name in files))
    code, said = run(home, names, 3600, f"--junitxml={report}")
    if code:
        raise RuntimeError(f"with nothing changed the tests already fail:\n{said}")
    spent = dict.fromkeys(names, 0.0)
    for case in ElementTree.parse(report).iter("testcase"):
        spent[case.attrib["classname"].rpartition("test_")[2]] += float(case.attrib["time"])
    return spent


def caught(one: Change, home: Path, spent: dict[str, float]) -> str:
    """Make the change in a copy, run its tests until one fails, take it back; what saw it, empty where nothing did."""
    path = home / "vdlib" / f"{one.module}.py"
    raw = path.read_bytes()
    old = one.old.encode()
    assert raw[one.start : one.start + len(old)] == old
    files = MODULES[one.module]
    path.write_bytes(raw[: one.start] + one.new.encode() + raw[one.start + len(old) :])
    try:
        code, said = run(home, files, 60 + 5 * round(sum(spent[name] for name in files)), "-x")
    finally:
        path.write_bytes(raw)
    if code < 0:
        return f"does not end in {', '.join(files)}"
    found = re.findall(r"^(?:FAILED|ERROR) tests/(\S+)", said, re.MULTILINE)
    return (found[0] if found else said[-200:]) if code else ""


def copied(home: Path) -> Path:
    """Copy what the tests of the core need."""
    for name in ("vdlib", "tests", "workbooks", "figures"):
        shutil.copytree(ROOT / name, home / name, ignore=shutil.ignore_patterns("__pycache__", "my-cars"))
    for name in ("pyproject.toml", "README.md", "DEVELOPERS.md"):
        shutil.copy(ROOT / name, home / name)
    return home


def survivors(begin: int = 1, end: int = COUNT, keep: Path | None = None) -> list[str]:
    """Try the changes of these numbers; those that nothing saw and that are not known to be equivalent.

    With a file to ``keep`` the results in, each is added to it as it comes, and changes told there are not tried again.
    """
    left = []
    done = keep.read_text("utf-8").splitlines() if keep is not None and keep.exists() else []
    known = {int(line.split(None, 1)[0]): line for line in done}
    with tempfile.TemporaryDirectory(prefix="mutants-") as folder:
        home = copied(Path(folder))
        spent = baseline(home)
        for number, one in list(enumerate(drawn(), start=1))[begin - 1 : end]:
            start = time.perf_counter()
            if number not in known:
                seen = caught(one, home, spent) or ("equivalent" if one.told in EQUIVALENT else MISSED)
                known[number] = f"{number:3} {one.told}: {seen} ({time.perf_counter() - start:.0f} s)"
                if keep is not None:
                    with keep.open("a", encoding="utf-8") as told:
                        print(known[number], file=told)
            print(known[number], flush=True)
            if f": {MISSED} (" in known[number]:
                left.append(one.told)
    return left


def main(arguments: list[str] | None = None) -> None:
    """Try the changes that the command line asks for."""
    parser = argparse.ArgumentParser(prog="python -m tests.mutants", description=__doc__.partition("\n")[0])
    parser.add_argument("--from", type=int, default=1, dest="begin", metavar="N", help="first change to try")
    parser.add_argument("--to", type=int, default=COUNT, dest="end", metavar="N", help="last change to try")
    parser.add_argument("--keep", type=Path, help="file of results: added to, and what it tells is not tried again")
    asked = parser.parse_args(arguments)
    print(f"drawn by {SEED}: {COUNT} of {sum(len(list(places(module))) for module in MODULES)} places")
    left = survivors(asked.begin, asked.end, asked.keep)
    print(f"{len(left)} not seen:", *left, sep="\n")


if __name__ == "__main__":
    main()
