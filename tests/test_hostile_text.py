"""Hostile text typed into every field of the panels that take text: one message at most, nothing lost, nothing run."""

from __future__ import annotations

from html import escape
from pathlib import Path

import ipywidgets as widgets
import pytest
from many_days import short_days

from vdlib.car import examples, shelf
from vdlib.draw.live import LivePicture
from vdlib.panels import as_left, did_it_work, measure, page, what_happened, whatif, words
from vdlib.panels.base import BROKEN
from vdlib.panels.frame import Frame
from vdlib.setup import saved

FILE = examples.load_example("hatch")
MARKUP = "<zq7><img src=x onerror=alert(1)>"
TEXTS = {
    "markup": MARKUP,
    "mathtext": r"$\frac{1}{$ & \\",
    "NUL": "a\0b",
    "half a character": "\ud800",
    "five thousand digits": "9" * 5000,
    "no number": "nan",
    "right to left": "\u202e\u2067abc\u200f",
    "twenty thousand letters": "n" * 20_000,
    "escapes": "\t\x0b\x1b[31m",
    "a device": "/dev/zero",
}
SLOWER = ("markup",)
"""What is typed into the one panel that computes for seconds after each path; it shares its fields with another."""
MAKERS = {
    "words": lambda: words.panel(FILE),
    "what-if": lambda: whatif.panel(FILE),
    "page": lambda: page.panel(FILE),
    "as left": lambda: as_left.panel(FILE),
    "did it work": lambda: did_it_work.panel(FILE),
    "what happened": lambda: what_happened.panel(FILE),
}


@pytest.fixture(autouse=True)
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv(shelf.VARIABLE, str(tmp_path / "my-cars"))
    monkeypatch.chdir(tmp_path)
    short_days(monkeypatch, visit=False)
    return tmp_path / "my-cars"


def new(others: set[str], *kinds: type) -> list[widgets.Widget]:
    """The widgets made since, those of other tests left out."""
    every = widgets.widget._instances
    return [every[key] for key in every if key not in others and isinstance(every[key], kinds)]


def broken(others: set[str]) -> list[widgets.HTML]:
    """What says that something broke or lets markup through."""
    return [html for html in new(others, widgets.HTML) if "<zq7>" in html.value or BROKEN in html.value]


def faults_of(fields: list[widgets.Widget], text: str, others: set[str]) -> list[str]:
    """Type a text into each field, then what was there before; what came of it that must not."""
    found = []
    for field in fields:
        before = field.value
        for typed in (text, before):
            field.value = typed
            found += [f"{field.description}: {html.value[:200]}" for html in broken(others)]
    return found


@pytest.mark.parametrize("name", [
    *(name for name in MAKERS if name != "what happened"),
    pytest.param("what happened", marks=pytest.mark.slow),  # every run: did it work, which has the same fields
])  # fmt: skip
def test_any_text_may_be_typed_into_any_field(name: str) -> None:
    others = {*widgets.widget._instances}
    kept = MAKERS[name]()
    fields = new(others, widgets.Text, widgets.Textarea)
    assert fields
    assert kept is not None
    texts = [TEXTS[one] for one in SLOWER] if name == "what happened" else [*TEXTS.values()]
    assert [fault for text in texts for fault in faults_of(fields, text, others)] == []


def test_any_text_may_be_typed_into_the_form() -> None:
    others = {*widgets.widget._instances}
    kept = measure.form()
    fields = new(others, widgets.Text, widgets.Textarea)
    assert len(fields) > 40
    assert kept is not None
    for i, name in enumerate(("markup", "NUL", "half a character", "five thousand digits")):
        assert faults_of(fields[8 * i :: 32], TEXTS[name], others) == []


def test_a_folder_of_any_name_is_written_as_text(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv(shelf.VARIABLE, str(tmp_path / MARKUP))
    monkeypatch.setattr(measure, "save_measured_car", lambda *_: FILE)
    monkeypatch.setattr(measure.paper, "write", lambda path, *_: path)
    form = measure.Form()
    for act in (form.save, lambda: form.print(False)):
        act()
        assert escape(MARKUP) in form.result.value
        assert MARKUP not in form.result.value
        form.result.value = ""


@pytest.mark.parametrize("fault", [True, False])
def test_a_frame_takes_messages_and_descriptions_as_text(fault: bool) -> None:
    """Both are plain text, whoever wrote them: a name in them may hold anything."""
    picture = LivePicture(60, 40, MARKUP)
    frame = Frame({}, picture)
    frame.grey(b"", MARKUP, fault)
    told = (frame.message if fault else frame.said.verdict).value + frame._alt.value
    assert told.count(escape(MARKUP)) == 2
    picture.alt = f"now {MARKUP}"
    frame.fresh(b"", "")
    assert frame._alt.value == f"now {escape(MARKUP)}"


@pytest.mark.parametrize("text", ["\ud800 half", "a\0b", "\x1b[31m"])
def test_what_was_felt_is_kept_whatever_was_typed_before(home: Path, text: str) -> None:
    desk = page.PageDesk(whatif.SharedWhatIf(FILE))
    desk.felt.value = text
    desk.felt.value = "the rear came round"
    assert saved.kept_felt(FILE) == "the rear came round"
    assert list(home.rglob("*.kept-*")) == []  # nobody else has changed it
    assert "changed elsewhere" not in desk.note.value
