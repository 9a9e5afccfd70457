"""The start page: the steps of the job with their state, the next step as one button, the course beside them."""

from __future__ import annotations

from html import escape
from typing import Any

import ipywidgets as widgets

from ..car import examples, shelf, store
from ..checks import InputError
from ..door import job, place
from ..door.course import COURSE, WORDS, WORKINGS, Page
from . import hover
from .base import CSS
from .said import alert
from .which import about

STYLE = """<style>
.vd-job {line-height: 1.45; font-size: var(--jp-widgets-font-size)}
.vd-job ol {margin: 4px 0; padding: 0; list-style: none}
.vd-job li {padding: 3px 8px; border-left: 5px solid #767676}
.vd-job li.vd-done {border-color: #009E73}
.vd-job li.vd-next {border-color: #D55E00; background: #FFF4E5}
.vd-job a.vd-go {display: inline-block; margin: 6px 0; padding: 8px 16px; border-radius: 4px; background: #00527A;
 color: #FFF; font-weight: bold; text-decoration: none}
.vd-job a.vd-go:focus-visible {outline: 3px solid #D55E00; outline-offset: 2px}
.vd-job a {color: #00416A; text-decoration: underline}
.vd-job h3 {margin: 6px 0}
</style>"""


def _link(page: Page, text: str, name: str = "") -> str:
    return f'<a{f" class={name!r}" if name else ""} href="{page.file}">{escape(text)}</a>'


def job_words(found: tuple[job.Step, ...]) -> str:
    """Write the steps of the job as a list, the next one on top as a button.

    Parameters:
        found: the steps [-]

    Returns:
        HTML [-]
    """
    coming = job.next_step(found)
    rows = []
    for number, step in enumerate(found, 1):
        kind, word = ("vd-done", "✓ ") if step.done else ("vd-next", "▶ ") if step is coming else ("", "")
        name = _link(step.page, step.name) if step.page else escape(step.name)
        rows.append(f'<li class="{kind}">{word}{number}. <b>{name}</b>: {escape(step.state)}</li>')
    if coming is None:
        top = "<p><b>All steps are done.</b></p>"
    elif coming.page is None:
        top = f"<p><b>Next: {escape(coming.name[0].lower() + coming.name[1:])}</b>, {escape(coming.state)}.</p>"
    else:
        top = _link(coming.page, f"Next step: {coming.name}", "vd-go")
    return f'<div class="vd-job"><h3>The job</h3>{top}<ol>{"".join(rows)}</ol></div>'


def course_words(read: tuple[Page, ...]) -> str:
    """Write the course as a list: its questions, minutes, what was opened and where the reader is.

    Parameters:
        read: the pages that were opened, the last one at the end [-]

    Returns:
        HTML [-]
    """
    rows = []
    for page in COURSE:
        here, seen = bool(read) and page is read[-1], page in read
        kind, word = ("vd-next", "▶ ") if here else ("vd-done", "✓ ") if seen else ("", "")
        said = f"{page.question} {page.minutes} min{'; you were here' if here else ''}"
        rows.append(f'<li class="{kind}">{word}{_link(page, f"{page.number} {page.name}")}: {escape(said)}</li>')
    hours = sum(page.minutes for page in COURSE) / 60
    more = " · ".join(f"{_link(page, page.name)}: {escape(page.question)}" for page in (WORDS, WORKINGS))
    return (
        f'<div class="vd-job"><h3>The course: about {hours:.0f} hours, two evenings</h3><ol>{"".join(rows)}</ol>'
        f"<p>At any time: {more}</p></div>"
    )


def choose() -> Any:
    """Return the start page: the open car, the steps of the job and the course.

    Returns:
        an ipywidgets box [-]
    """
    options = [(f"{examples.FIRST} (invented)", ""), *((f"{name} (saved)", name) for name in shelf.car_names())]
    pick = widgets.Dropdown(options=options, value=shelf.opened(), description="Your car")
    pick.layout.width = "calc(24 * var(--jp-widgets-font-size))"
    ticked = widgets.Checkbox(description="Looked over for wear and damage", indent=False)
    ticked.layout.width = "auto"
    said, steps, course = widgets.HTML(), widgets.HTML(), widgets.HTML(course_words(place.opened()))
    held = [False]

    def look(fault: str = "") -> None:
        file = job.open_car()
        try:
            shelf.current()
        except InputError as error:  # the open car's file cannot be read
            fault = fault or str(error)
        fault = fault or store.unread(shelf.folder())
        steps.value = job_words(job.steps(file))
        held[0] = True
        ticked.value, ticked.disabled = file is not None and job.looked_over(file), file is None
        held[0] = False
        said.value = alert(fault)
        if not fault:
            said.value = f'<div class="vd-words">{about(file or examples.load_example(examples.FIRST))}</div>'

    def chosen(name: str) -> None:
        try:
            shelf.make_open(name)
            look()
        except (InputError, OSError) as error:
            look(str(error))

    def tick(done: bool) -> None:
        file = job.open_car()
        if file is None or held[0]:
            return
        try:
            job.note_looked_over(file, done)
            look()
        except (InputError, OSError) as error:
            look(str(error))

    pick.observe(lambda change: chosen(change["new"]), names="value")
    ticked.observe(lambda change: tick(change["new"]), names="value")
    look()
    half = widgets.Layout(flex="1 1 420px", min_width="300px")
    steps.layout, course.layout = half, half
    top = widgets.HBox([pick, ticked], layout=widgets.Layout(flex_flow="row wrap"))
    lists = widgets.HBox([steps, course], layout=widgets.Layout(flex_flow="row wrap"))
    box = widgets.VBox([widgets.HTML(CSS + STYLE), top, said, lists, hover.shown()])
    box.add_class("vd-panel")
    return box
