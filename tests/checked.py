"""Which public functions of the library are named in a test that compares with something outside them.

A test counts when it is marked published, memory, common_practice or analytic, or when its file compares with an
independent engine. A function counts as checked when such a test, or a helper that it uses, names it; helpers stand in
the same file or in one of this folder that it imports from.
"""

from __future__ import annotations

import ast
import re
from collections import ChainMap
from functools import cache
from pathlib import Path

from rooms import CORE, TREES

TESTS = Path(__file__).parent
MARKS = {"published", "memory", "common_practice", "analytic"}
ENGINES = {"test_engine", "test_linkage", "test_properties"}


def public() -> dict[str, str]:
    """``module.function`` of every public function of the core that computes a quantity → its name.

    Those that open files, choose words or list names have tests of their own, but nothing outside to compare with:
    their docstrings state neither a validity nor a returned unit.
    """
    found = {}
    for module in CORE:
        for node in TREES[module].body:
            if isinstance(node, ast.FunctionDef) and not node.name.startswith("_") and _computes(node):
                found[f"{module.partition('.')[2]}.{node.name}"] = node.name
    return found


def _computes(node: ast.FunctionDef) -> bool:
    text = ast.get_docstring(node) or ""
    returned = text.partition("Returns:")[2].partition("Errors:")[0]
    units = set(re.findall(r"\[([^\]]+)\]\s*$", returned.strip())) - {"-", "any"}
    return bool(units) or ("Validity:" in text and "Source:" in text)


def marks(node: ast.AST) -> set[str]:
    """Marks of a test function or of a whole file."""
    return {a.attr for a in ast.walk(node) if isinstance(a, ast.Attribute)} & MARKS


def named(node: ast.AST) -> set[str]:
    """Every name and attribute used inside."""
    return {n.id for n in ast.walk(node) if isinstance(n, ast.Name)} | {
        n.attr for n in ast.walk(node) if isinstance(n, ast.Attribute)
    }


def checked() -> set[str]:
    """Every name used by a test that counts, helpers included."""
    found: set[str] = set()
    for path in TESTS.glob("test_*.py"):
        tree = _read(path)
        functions = dict(ChainMap(_functions(tree), *map(_functions, _lent(tree))))
        whole = path.stem in ENGINES or any(
            isinstance(n, ast.Assign) and "pytestmark" in named(n) and marks(n) for n in tree.body
        )
        todo = [n for name, n in functions.items() if name.startswith("test_") and (whole or _marked(n))]
        tables = {
            t.id: named(n.value)
            for n in tree.body
            if isinstance(n, ast.Assign)
            for t in n.targets
            if isinstance(t, ast.Name)
        }
        seen: set[str] = set()
        while todo:
            for name in named(todo.pop()) - seen:
                seen.add(name)
                if name in functions and not name.startswith("test_"):
                    todo.append(functions[name])
                seen |= tables.get(name, set()) - {name}
        found |= seen
    return found


@cache
def _read(path: Path) -> ast.Module:
    return ast.parse(path.read_text("utf-8"))


def _functions(tree: ast.Module) -> dict[str, ast.FunctionDef | ast.ClassDef]:
    return {n.name: n for n in tree.body if isinstance(n, ast.FunctionDef | ast.ClassDef)}


def _lent(tree: ast.Module) -> list[ast.Module]:
    """The files without tests in this folder that a file imports from."""
    names = {n.module for n in tree.body if isinstance(n, ast.ImportFrom) and n.module} - {"checked", "rooms"}
    paths = [TESTS / f"{name}.py" for name in sorted(names) if not name.startswith("test_")]
    return [_read(path) for path in paths if path.is_file()]


def _marked(node: ast.FunctionDef | ast.ClassDef) -> bool:
    return any(marks(decorator) for decorator in node.decorator_list)


def missing_and_share() -> tuple[list[str], float]:
    """Public functions without an outside check, and the share that has one."""
    names, known = public(), checked()
    missing = sorted(path for path, name in names.items() if name not in known)
    return missing, 1 - len(missing) / len(names)
