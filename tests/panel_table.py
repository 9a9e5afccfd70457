"""Every panel of every workbook: its makers are read out of the notebooks, so a new cell is tested unlisted."""

import ast
import importlib
import re
from collections.abc import Callable
from functools import cache, partial
from pathlib import Path
from typing import Any
from unittest.mock import patch

import nbformat

from vdlib.car.carfile import CarFile
from vdlib.panels import by_gap, difference
from vdlib.panels.base import Panel

FOLDER = Path(__file__).resolve().parents[1] / "workbooks"
ALONE = re.compile(r"^(\w+\.\w+)\(\)", re.MULTILINE)
Maker = Callable[[CarFile], Any]
WITHOUT = re.compile(
    r"start\.choose|stage\.|routes\.panel|page\.panel|measure\.form|reasons\.(foot_and_heights|answer)"
    r"|closings_film\.(HOW_SURE|OTHER_CARS|BY_GAP|EVERY_CAR|MANNERS|FEEL|film|lift)"
    r"|closings_own_car\.(WHERE_FROM|CASE_\w+|DRIVEN|AS_LEFT|measure|workshop|laps)"
    r"|closings\.(MOMENTS|HONEST|BUDGET|words|weight|two_wheel|split)|closings_workings\.workings"
)
"""What makes no ``Panel``: nothing moves there. ``test_units_everywhere.py`` builds everything, and says if not so."""

MAKE_AHEAD = re.compile(
    r"(lift\.asked|split\.panel|three_questions\.panel|whatif\.panel|workings\.panel"
    r"|closings\.(GROWTH|THREE_WHEELS)|closings_film\.(BY_HAND|TURNING_POINT)"
    r"|closings_own_car\.(FROM_THE_SIDE|POWER_OR_GRIP)|reasons\.(phases|tail_out)"
    r"|two_wheel\.(balance|steady_circle)|weight\.(moment|pair|parts)|words\.(lever|panel))$"
)
"""What makes pictures ahead; ``test_random_walks.py`` builds every panel, and says if it is not so."""


def _named(dotted: str) -> Any:
    module, name = dotted.split(".")
    return getattr(importlib.import_module(f"vdlib.panels.{module}"), name)


def _true_names(book: Any) -> dict[str, str]:
    """Names a workbook calls the panels' modules by → their own."""
    sources = [ast.parse(cell.source) for cell in book.cells if cell.cell_type == "code"]
    found = [a for tree in sources for n in ast.walk(tree) if isinstance(n, ast.ImportFrom) for a in n.names]
    return {alias.asname or alias.name: alias.name for alias in found}


def _handed_over(source: str) -> list[str]:
    """The ``module.function`` names that a cell hands to ``with_car``; what it calls itself is none of them."""
    calls = [n for n in ast.walk(ast.parse(source)) if isinstance(n, ast.Call)]
    called = {id(call.func) for call in calls}
    shows = [call for call in calls if isinstance(call.func, ast.Attribute) and call.func.attr == "with_car"]
    inside = [n for call in shows for part in call.args for n in ast.walk(part)]
    return [ast.unparse(n) for n in inside if isinstance(n, ast.Attribute) and id(n) not in called]


def _without_car(make: Callable[[], Any], _: CarFile) -> Any:
    return make()


@cache
def makers() -> dict[str, Maker]:
    """Return what the workbooks' cells make: "module.function" → a function of a car file."""
    found: dict[str, Maker] = {}
    for path in sorted(FOLDER.glob("*.ipynb")):
        book = nbformat.read(path, 4)
        true = _true_names(book)
        for cell in book.cells:
            if cell.cell_type != "code":
                continue
            for dotted in _handed_over(cell.source):
                module, _, name = dotted.partition(".")
                own = f"{true[module]}.{name}"
                if callable(_named(own)):  # a ready-made fold takes no car
                    found.setdefault(own, _named(own))
            for dotted in ALONE.findall(cell.source):
                if not dotted.startswith("shelf."):
                    found.setdefault(dotted, partial(_without_car, _named(dotted)))
    return found


def moving() -> dict[str, Maker]:
    """Return those of ``makers`` that make a ``Panel``."""
    return {name: maker for name, maker in makers().items() if not WITHOUT.match(name)}


def ask_fewer_cars(patch: Any) -> None:
    """Ask some tens of plausible cars about two examples where a reader's box asks hundreds about all: same sentences.

    Parameters:
        patch: a ``MonkeyPatch`` that ends it [-]
    """
    patch.setattr(by_gap, "PLAUSIBLE", 80)
    patch.setattr(by_gap, "FEWER", 40)
    patch.setattr(by_gap, "cars", lambda every=by_gap.cars: every()[:2])
    patch.setattr(difference, "difference", partial(difference.difference, counts=(40, 12)))


def panels_of(maker: Maker, file: CarFile) -> list[Panel]:
    """Make what one cell shows, and give every panel that came into being."""
    made: list[Panel] = []
    start = Panel.__init__

    def note(self: Panel, *given: Any, **named: Any) -> None:
        start(self, *given, **named)
        made.append(self)

    with patch.object(Panel, "__init__", note):
        shown = maker(file)
        if hasattr(shown, "line"):  # folded away: made when it is opened
            shown.line.value = True
    return made
