"""Plain, native English: phrases that do not come back, in code, workbooks and guides; and how docstrings begin."""

import ast
import re

import pytest
from rooms import ROOT, tree_of

BANNED = (
    r"gives? up\b(?! to)",
    r"lengthways",
    r"larger than life",
    r"by itself",
    r"fits these laps",
    r"more than a trace",
    r"hangs? on\b(?! what was drawn| an upper)",
    r"leaves? over",
    r"\bopen car's tyres",
    r"scroll back to the top",
    r"belongs on a lift",
    r"all its room",
    r"slowing by the foot",
    r"revs past that",
    r"the promise is not among",
    r"the form tells you",
    r"as much as as\b",
    r"in square brackets after",
)
"""Patterns of phrases that no native reader of the trade would write, in small letters."""
BEGINNINGS = ("Give", "Tell")
"""Words that begin no docstring: it says Return or Compute."""
FILES = [
    path
    for pattern in ("vdlib/**/*.py", "vdlib/**/*.js", "workbooks/*.ipynb", "*.md")
    for path in sorted(ROOT.glob(pattern))
]


def found(text: str) -> list[str]:
    return [match[0] for pattern in BANNED for match in re.finditer(pattern, text.casefold())]


@pytest.mark.parametrize("text", ["The rear gives up first", "It dies out by itself.", "0.57 s fits these laps"])
def test_a_banned_phrase_is_seen(text):
    assert len(found(text)) == 1


def test_an_allowed_phrase_passes():
    assert found("The corner forgives up to 74 km/h; it gives up to 3 mm. The rear slides first.".lower()) == []


def test_no_banned_phrase_is_on_a_screen_or_in_the_code():
    assert len(FILES) > 200
    faults = {}
    for path in FILES:
        text = re.sub(r"\s+", " ", path.read_text("utf-8").replace("forgives", "").replace('\\n",\n    "', " "))
        if seen := found(text):
            faults[str(path.relative_to(ROOT))] = seen
    assert faults == {}


def test_docstrings_say_what_comes_back():
    faults = []
    for path in sorted((ROOT / "vdlib").rglob("*.py")):
        for node in ast.walk(tree_of(path)):
            if isinstance(node, ast.FunctionDef | ast.ClassDef | ast.Module):
                first = (ast.get_docstring(node) or "-").split()[0]
                if first in BEGINNINGS:
                    faults.append(f"{path.relative_to(ROOT)}: {(ast.get_docstring(node) or '').splitlines()[0]}")
    assert faults == []
