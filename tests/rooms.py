"""The map of the rooms, drawn from the actual imports: ``python -m tests.rooms`` writes it into DEVELOPERS.md."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from functools import cache
from graphlib import TopologicalSorter
from pathlib import Path
from typing import NamedTuple

ROOT = Path(__file__).parents[1]


def tree_of(path: Path) -> ast.Module:
    return ast.parse(path.read_text("utf-8"), str(path))


def module_of(path: Path) -> str:
    parts = path.relative_to(ROOT).with_suffix("").parts
    return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)


PATHS = {module_of(path): path for path in sorted((ROOT / "vdlib").rglob("*.py"))}
TREES = {name: tree_of(path) for name, path in PATHS.items()}
CORE = [n for n in PATHS if "." in n and not n.startswith(("vdlib.draw", "vdlib.panels"))]
"""Every module of the core."""
INNER = {
    "vdlib.trim.cases",
    "vdlib.trim.fixed",
    "vdlib.trim.stance",
    "vdlib.trim.vertical",
    "vdlib.trim.slip",
    "vdlib.trim.solver",
    "vdlib.car.keys",
    "vdlib.car.reading",
    "vdlib.car.writing",
    "vdlib.car.typical_table",
    "vdlib.car.known_tables",
    "vdlib.answers.motion",
    "vdlib.answers.motion_start",
    "vdlib.answers.motion_steps",
    "vdlib.answers.motion_record",
    "vdlib.setup.page_rows",
    "vdlib.garage.reckoning",
    "vdlib.garage.form",
    "vdlib.garage.whole_car",
    "vdlib.garage.wheels",
    "vdlib.__main__",
    "vdlib.door.ahead",
    "vdlib.door.server",
    "vdlib.laps.text",
    "vdlib.laps.notes",
}
"""Workings of a room: their functions need no list of parameters, the open functions say what comes of them."""
ROOMS = [n for n, path in PATHS.items() if path.name == "__init__.py" and n.count(".") == 1]
"""The sub-packages, each a room with one subject."""
GUIDE = ROOT / "DEVELOPERS.md"
START, END = "<!-- map: python -m tests.rooms -->", "<!-- end of map -->"


class Import(NamedTuple):
    """One imported name and where it is imported."""

    target: str
    line: int


def imports(tree: ast.Module, module: str = "", package: bool = False) -> Iterator[Import]:
    """Every import anywhere in a file, relative ones made absolute; ``from a import b`` gives ``a.b``."""
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            yield from (Import(alias.name, node.lineno) for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            home = module.split(".")[: len(module.split(".")) - node.level + package] if node.level else []
            base = ".".join([*home, *([node.module] if node.module else [])])
            yield from (Import(f"{base}.{alias.name}", node.lineno) for alias in node.names)


@cache
def edges() -> dict[str, dict[str, int]]:
    """Module → module of the package it imports → line."""
    graph: dict[str, dict[str, int]] = {name: {} for name in PATHS}
    for name, tree in TREES.items():
        for target, line in imports(tree, name, PATHS[name].name == "__init__.py"):
            known = target if target in PATHS else target.rpartition(".")[0]
            if known in PATHS and known != name:
                graph[name].setdefault(known, line)
    return graph


def room(module: str) -> str:
    """The sub-package that a module lives in, or the module itself where it lies on the ground."""
    return ".".join(module.split(".")[:2])


@cache
def room_edges() -> dict[str, set[str]]:
    """Room → the other rooms it imports from."""
    graph: dict[str, set[str]] = {room(name): set() for name in PATHS if "." in name}
    for name, targets in edges().items():
        graph.setdefault(room(name), set()).update(room(t) for t in targets if room(t) != room(name) and "." in t)
    return graph


@cache
def floors() -> list[list[str]]:
    """Rooms by floor: each stands on lower floors only, as low as it can; raises ``CycleError`` on a ring."""
    graph = room_edges()
    level: dict[str, int] = {}
    for name in TopologicalSorter(graph).static_order():
        level[name] = 1 + max((level[other] for other in graph[name]), default=-1)
    names = [n for n in level if "." in n]
    return [sorted(n for n in names if level[n] == floor) for floor in range(max(level.values()) + 1)]


def open_modules(name: str) -> tuple[str, ...]:
    """The modules that a room says other rooms may use."""
    for node in TREES[name].body:
        if isinstance(node, ast.Assign) and ast.unparse(node.targets[0]) == "OPEN":
            return tuple(ast.literal_eval(node.value))
    return ()


def drawing() -> str:
    """The map as text: one line a room, the ground first, in the words of its own docstring."""
    rows = []
    for number, names in enumerate(floors()):
        for name in names:
            first = (ast.get_docstring(TREES[name]) or "").splitlines()[0]
            rows.append(f"- {number} `{name.partition('.')[2]}`: {first}")
    return "\n".join([START, "", *rows, "", END])


def main() -> None:
    """Put the map between its marks in the guide."""
    text = GUIDE.read_text("utf-8")
    before, _, rest = text.partition(START)
    GUIDE.write_text(before + drawing() + rest.partition(END)[2], "utf-8")


if __name__ == "__main__":
    main()
