"""Plain, native English: phrases that do not come back, in code, workbooks and guides; and how docstrings begin."""

import re

import pytest
from rooms import ROOT

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


def wrong(text: str) -> list[str]:
    """The beginnings of docstrings, and of other long texts, that say it wrongly."""
    return re.findall(rf'^\s*[rf]?"""\s*(?:{"|".join(BEGINNINGS)})\b.*', text, re.MULTILINE)


@pytest.mark.parametrize("first", BEGINNINGS)
def test_a_docstring_that_begins_wrongly_is_seen(first):
    assert len(wrong(f'def f():\n    """{first} one."""\n\n\ndef g():\n    """\n    {first} more."""\n')) == 2
    assert wrong(f'def f():\n    """Return what is {first}n."""\n') == []


def test_docstrings_say_what_comes_back():
    faults = {}
    for path in sorted((ROOT / "vdlib").rglob("*.py")):
        if seen := wrong(path.read_text("utf-8")):
            faults[str(path.relative_to(ROOT))] = seen
    assert faults == {}
