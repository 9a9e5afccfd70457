"""The house rules that no other test sees: lint and types, light imports, docstrings, the direction of imports."""

from __future__ import annotations

import ast
import inspect
import json
import os
import re
import subprocess
import sys
from collections.abc import Iterator
from graphlib import CycleError, TopologicalSorter
from itertools import pairwise

import pytest
from checked import missing_and_share
from rooms import CORE, INNER, PATHS, ROOT, TREES, edges, imports

from vdlib.units import UNITS

HEAVY = ("ipywidgets", "matplotlib", "sympy")
Function = ast.FunctionDef | ast.AsyncFunctionDef


def place(module: str, line: int) -> str:
    return f"{PATHS[module].relative_to(ROOT)}:{line}"


# ---- lint, format, types -----------------------------------------------------------------------------------------


CONCISE = "--output-format concise vdlib tests"
ONCE = f" --no-incremental --cache-dir {os.devnull}" if os.environ.get("VDLIB_CI") else ""
"""Where nobody asks again nothing is kept for the next time: a tenth quicker."""


@pytest.mark.parametrize("command", [f"ruff check {CONCISE}", f"ruff format --check {CONCISE}", f"mypy vdlib{ONCE}"])
def test_the_tools_find_nothing(command):
    done = subprocess.run(
        [sys.executable, "-m", *command.split()], cwd=ROOT, capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, f"{command}\n{done.stdout}{done.stderr}"


# ---- what an import pulls in -------------------------------------------------------------------------------------


def test_the_core_imports_nothing_heavy():
    modules = ["vdlib", *(name for name in CORE if name != "vdlib.lessons.working")]
    code = (
        "import importlib, json, sys\n"
        f"for name in {modules!r}:\n"
        "    importlib.import_module(name)\n"
        f"    heavy = [h for h in {HEAVY!r} if h in sys.modules]\n"
        "    if heavy: sys.exit(f'importing {name} pulls in {heavy}')\n"
    )
    done = subprocess.run([sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    assert len(modules) > 15


def test_imports_are_read_rightly():
    tree = ast.parse("import a.b\nfrom . import c\nfrom ..d import e\ndef f():\n    from g import h\n")
    assert {i.target for i in imports(tree, "vdlib.draw.x")} == {"a.b", "vdlib.draw.c", "vdlib.d.e", "g.h"}
    assert {i.target for i in imports(tree, "vdlib.draw", True)} == {"a.b", "vdlib.draw.c", "vdlib.d.e", "g.h"}


def test_no_workbook_imports_pyplot():
    """Elsewhere ruff forbids it."""
    found = []
    for path in sorted((ROOT / "workbooks").rglob("*.ipynb")):
        cells = json.loads(path.read_text("utf-8"))["cells"]
        code = ["".join(cell["source"]) for cell in cells if cell["cell_type"] == "code"]
        found += [f"{path.relative_to(ROOT)}: {text}" for text in code if "pyplot" in text or "pylab" in text]
    assert not found


# ---- the direction of imports ------------------------------------------------------------------------------------


def room(module: str) -> str:
    return next((part for part in ("draw", "panels") if part in module.split(".")[1:2]), "core")


def test_imports_go_one_way():
    allowed = {"core": {"core"}, "draw": {"core", "draw"}, "panels": {"core", "draw", "panels"}}
    wrong = [
        f"{place(name, line)} {room(name)} must not import {room(target)} ({target})"
        for name, targets in edges().items()
        for target, line in targets.items()
        if room(target) not in allowed[room(name)]
    ]
    assert not wrong, "\n".join(wrong)
    assert sum(map(len, edges().values())) > 40  # the reader of imports did find them


def test_imports_have_no_ring():
    graph = edges()
    ring: list[str] = []
    try:
        TopologicalSorter(graph).prepare()
    except CycleError as fault:
        ring = fault.args[1][::-1]
    assert not ring, "\n".join(f"{place(a, graph[a][b])} {a} imports {b}" for a, b in pairwise(ring))


# ---- docstrings --------------------------------------------------------------------------------------------------

SHOWN = {unit.label for unit in UNITS.values()} | {unit.si for unit in UNITS.values()}
OTHERS = {"1/m", "1/s", "(m/s²)/rad", "rad/rad", "W", "N·m"}
"""Units of results that no car file and no panel holds, so that they have no name in ``units``."""
ALLOWED_UNITS = (SHOWN | OTHERS | {"-", "any"}) - {""}
UNIT = re.compile(r"\[([^\[\]]*)\]$")
HEADINGS = ("Parameters", "Returns", "Errors", "Validity", "Source", "Example")


def functions(tree: ast.Module) -> Iterator[tuple[str, Function]]:
    """Public functions and public methods of public classes; properties say their unit in their one sentence."""
    for node in tree.body:
        if isinstance(node, Function) and not node.name.startswith("_"):
            yield node.name, node
        elif isinstance(node, ast.ClassDef) and not node.name.startswith("_"):
            for part in node.body:
                plain = isinstance(part, Function) and not part.name.startswith("_")
                marks = {ast.unparse(mark) for mark in part.decorator_list} if isinstance(part, Function) else set()
                if isinstance(part, Function) and plain and not marks & {"property", "functools.cached_property"}:
                    yield f"{node.name}.{part.name}", part


def public() -> Iterator[tuple[str, str, Function]]:
    """Module, name and function of all public in the core: its own, and what an ``__all__`` passes on."""
    for module in CORE:
        tree = TREES[module]
        if module in INNER:
            continue
        yield from ((module, name, node) for name, node in functions(tree))
        lists = [n for n in tree.body if isinstance(n, ast.Assign) and ast.unparse(n.targets[0]) == "__all__"]
        passed = {name for node in lists for name in ast.literal_eval(node.value)}
        for target, _ in imports(tree, module):
            home, _, name = target.rpartition(".")
            if name in passed and home in TREES:
                yield from ((home, n, node) for n, node in functions(TREES[home]) if n == name)


def sections(text: str) -> dict[str, list[str]]:
    """Heading → its entries, lines that go on joined to the one they belong to."""
    found: dict[str, list[str]] = {}
    heading = ""
    for line in inspect.cleandoc(text).splitlines():
        if head := re.fullmatch(rf"({'|'.join(HEADINGS)}):(.*)", line):
            heading = head[1]
            found[heading] = [head[2].strip()] if head[2].strip() else []
        elif heading and line.strip():
            new = heading == "Parameters" and re.match(r"    \*{0,2}\w+: ", line)
            if new or not found[heading]:
                found[heading].append(line.strip())
            else:
                found[heading][-1] += " " + line.strip()
    return found


def faults_of(node: Function) -> Iterator[str]:
    found = sections(ast.get_docstring(node) or "")
    spec = node.args
    arguments = [*spec.posonlyargs, *spec.args, *spec.kwonlyargs, *filter(None, (spec.vararg, spec.kwarg))]
    names = [a.arg for a in arguments if a.arg not in ("self", "cls")]
    entries = dict(entry.partition(": ")[::2] for entry in found.get("Parameters", []))
    if [name.lstrip("*") for name in entries] != names:
        yield f"takes ({', '.join(names)}) but lists ({', '.join(entries)}) under Parameters"
    for name, text in entries.items():
        unit = UNIT.search(text)
        if not unit or unit[1] not in ALLOWED_UNITS:
            yield f"{name} does not end with a known unit in [ ]: {text}"
    if node.returns is None or ast.unparse(node.returns) != "None":
        text = " ".join(found.get("Returns", []))
        unit = UNIT.search(text)
        if not unit or unit[1] not in ALLOWED_UNITS:
            yield f"Returns does not end with a known unit in [ ]: {text or 'nothing there'}"


GOOD = """def f(x: float, *, y: float) -> float:
    '''Do.

    Parameters:
        x: size, any
            shape [m]
        y: other [-]

    Returns:
        size [m]
    '''
"""


@pytest.mark.parametrize(
    ("old", "new", "fault"),
    [
        ("size", "length", None),
        ("-> float", "-> None", None),
        ("[-]", "[furlong]", "y does not end with a known unit"),
        ("shape [m]", "shape [m] or none", "x does not end with a known unit"),
        ("        y: other [-]\n", "", "takes (x, y) but lists (x) under"),
        ("x: float, *, ", "", "takes (y) but lists (x, y) under"),
        ("        size [m]\n", "        size\n", "Returns does not end with a known unit"),
        ("    Returns:\n        size [m]\n", "", "nothing there"),
    ],
)
def test_docstring_faults_are_seen(old, new, fault):
    assert old in GOOD
    (node,) = ast.parse(GOOD.replace(old, new)).body
    found = list(faults_of(node))
    assert len(found) == (fault is not None), found
    assert not fault or fault in found[0]


def test_every_public_docstring_gives_parameters_and_units():
    everything = list(public())
    names = {name for _, name, _ in everything}
    assert {"read", "write", "trim", "spring_roll_stiffness", "Setup.with_heights"} <= names  # the reader did find them
    wrong = [f"{place(m, node.lineno)} {name}: {fault}" for m, name, node in everything for fault in faults_of(node)]
    assert not wrong, "\n" + "\n".join(wrong)


# ---- the share that is checked -----------------------------------------------------------------------------------


def test_nearly_every_function_is_compared_with_something_outside(record_property):
    missing, share = missing_and_share()
    without = f"; without one: {', '.join(missing)}" if missing else ""
    record_property("public functions with a published, analytic or independent check", f"{100 * share:.0f} %{without}")
    assert share > 0.95, missing
