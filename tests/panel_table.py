"""Every panel of every workbook: its makers are read out of the notebooks, so a new cell is tested unlisted."""

import importlib
import re
from collections.abc import Callable
from functools import partial
from pathlib import Path
from typing import Any
from unittest.mock import patch

import nbformat

from vdlib.car.carfile import CarFile
from vdlib.panels.base import Panel

FOLDER = Path(__file__).resolve().parents[1] / "workbooks"
WITH_CAR = re.compile(r"with_car\(([^)]*)\)")
ALONE = re.compile(r"^(\w+\.\w+)\(\)", re.MULTILINE)
Maker = Callable[[CarFile], Any]


def _named(dotted: str) -> Any:
    module, name = dotted.split(".")
    return getattr(importlib.import_module(f"vdlib.panels.{module}"), name)


def _without_car(make: Callable[[], Any], _: CarFile) -> Any:
    return make()


def makers() -> dict[str, Maker]:
    """Give what the workbooks' cells make: "module.function" → a function of a car file."""
    found: dict[str, Maker] = {}
    for path in sorted(FOLDER.glob("*.ipynb")):
        for cell in nbformat.read(path, 4).cells:
            if cell.cell_type != "code":
                continue
            for inside in WITH_CAR.findall(cell.source):
                for dotted in re.findall(r"\b[a-z]\w*\.[a-z]\w*", inside):
                    found.setdefault(dotted, _named(dotted))
            for dotted in ALONE.findall(cell.source):
                if not dotted.startswith("shelf."):
                    found.setdefault(dotted, partial(_without_car, _named(dotted)))
    return found


def panels_of(maker: Maker, file: CarFile) -> list[Panel]:
    """Make what one cell shows, and give every panel that came into being."""
    made: list[Panel] = []
    start = Panel.__init__

    def note(self: Panel, *given: Any, **named: Any) -> None:
        start(self, *given, **named)
        made.append(self)

    with patch.object(Panel, "__init__", note):
        maker(file)
    return made
