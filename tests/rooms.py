"""The map of the rooms, drawn from the actual imports: ``python -m tests.rooms`` writes it into DEVELOPERS.md."""

from __future__ import annotations

import ast
from collections.abc import Iterator
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
CORE_NUMBERS = [n for n in PATHS if n.count(".") == 1 and not n.startswith(("vdlib.draw", "vdlib.panels", "vdlib._"))]
"""Modules of the core whose functions other modules use."""
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


def edges() -> dict[str, dict[str, int]]:
    """Module → module of the package it imports → line."""
    graph: dict[str, dict[str, int]] = {name: {} for name in PATHS}
    for name, tree in TREES.items():
        for target, line in imports(tree, name, PATHS[name].name == "__init__.py"):
            known = target if target in PATHS else target.rpartition(".")[0]
            if known in PATHS and known != name:
                graph[name].setdefault(known, line)
    return graph


def floors() -> list[list[str]]:
    """Modules by floor: each stands on modules of lower floors only, as low as it can."""
    graph = edges()
    level: dict[str, int] = {}

    def of(name: str) -> int:
        if name not in level:
            level[name] = 1 + max((of(other) for other in graph[name]), default=-1)
        return level[name]

    for name in graph:
        of(name)
    names = [n for n in level if n.count(".")]
    return [sorted(n.partition(".")[2] for n in names if level[n] == f) for f in range(max(level.values()) + 1)]


def drawing() -> str:
    """The map as text: one line a floor, the lowest first."""
    rows = [f"{number}. " + ", ".join(f"`{name}`" for name in names) for number, names in enumerate(floors()) if names]
    return "\n".join([START, "", *rows, "", END])


def main() -> None:
    """Put the map between its marks in the guide."""
    text = GUIDE.read_text("utf-8")
    before, _, rest = text.partition(START)
    GUIDE.write_text(before + drawing() + rest.partition(END)[2], "utf-8")


if __name__ == "__main__":
    main()
