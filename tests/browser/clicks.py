"""From the click to the decoded picture, page by page, and the memory of it all: ``python -m tests.browser.clicks``.

Through the front door as a reader uses it: the very first page, every page made ahead, every page not thought of.
"""

from __future__ import annotations

import re
import signal
import subprocess
import sys
import tempfile
import time
from contextlib import suppress
from pathlib import Path
from typing import Any

import psutil

from vdlib.door import course

from .lab import chromium
from .stopwatch import FIRST

ROOT = Path(__file__).resolve().parents[2]
SHOWN = """() => new Promise(done => { const look = () => document.querySelector('#rendered_cells .vd-panel FIRST')
    ? requestAnimationFrame(() => done(performance.now() / 1000)) : requestAnimationFrame(look); look(); })"""
"""When what a page begins with is painted, where that is no picture made by the kernel [s]."""
BEGIN = {
    course.START.file: "a",
    course.FIRST.file: "canvas",
    "06-lift.ipynb": "canvas",
    "07-measure-your-car.ipynb": "input",
    course.WORKINGS.file: "button",
}


def kernels(door: Any) -> list[psutil.Process]:
    """Return the kernels that run behind the door."""
    found = []
    for one in psutil.Process(door.pid).children():
        with suppress(psutil.Error):  # one that ends while it is asked
            found += [one] if "ipykernel" in " ".join(one.cmdline()) else []
    return found


def spent(door: Any) -> float:
    """Return the processor time of the kernels that run behind the door [s]."""
    total = 0.0
    for one in kernels(door):
        with suppress(psutil.Error):
            total += sum(one.cpu_times()[:2])
    return total


def settled(door: Any, seconds: float = 15) -> None:
    """Wait until no kernel has used the processor for two seconds."""
    end = time.monotonic() + seconds
    still = 0
    while still < 4 and time.monotonic() < end:
        before = spent(door)
        time.sleep(0.5)
        still = still + 1 if abs(spent(door) - before) < 0.05 else 0


def opened(page: Any, link: str, file: str) -> float:
    """Open a page, and give the time until its first picture, or its film, list or form, is painted [s]."""
    page.goto(f"{link.partition('/?')[0]}/voila/render/{file}", wait_until="commit", timeout=120_000)
    return begun(page, file)


def begun(page: Any, file: str) -> float:
    """Wait until what a page begins with is painted, and give the time since it was asked for [s]."""
    return float(page.evaluate(SHOWN.replace("FIRST", BEGIN[file]) if file in BEGIN else FIRST))


def measure() -> None:
    """Print a line for each page, and the memory at the end."""
    with tempfile.TemporaryDirectory() as cars, chromium() as browser:
        command = [sys.executable, "-m", "vdlib", "--no-browser", "--cars", f"{cars}/my-cars"]
        began = time.monotonic()
        door = subprocess.Popen(command, cwd=ROOT, stdout=subprocess.PIPE, text=True)
        try:
            link = next(found[0] for line in door.stdout or [] if (found := re.search(r"http://\S+", line)))
            page = browser.new_page()
            page.goto(link, wait_until="commit")
            begun(page, course.FIRST.file)
            print(f"command to first picture {time.monotonic() - began:.2f} s")
            waits: dict[str, dict[str, float]] = {}
            for one in course.PAGES:
                leading = (other for other in course.PAGES if one in course.likely(other)[:3] and other is not one)
                before = next(leading, None)  # from no page to the workings: they are made ahead for nobody
                waits[one.file] = {}
                if before:
                    opened(page, link, before.file)
                    settled(door)
                    waits[one.file] = {"ahead": opened(page, link, one.file)}
            for one in course.PAGES:
                opened(page, link, course.START.file)
                Path(cars, "my-cars", "note.txt").write_text(one.file)  # whatever was made ahead is old now
                found = waits[one.file] | {"cold": opened(page, link, one.file)}
                print(f"{one.file:32} made ahead {found.get('ahead', float('nan')):.2f} s, cold {found['cold']:.2f} s")
            page.close()
            pages = [browser.new_page() for _ in course.PAGES]
            for one, other in zip(pages, course.PAGES, strict=True):
                opened(one, link, other.file)
            settled(door, 60)
            sizes = [one.memory_info().rss / 1e6 for one in kernels(door)]
            own = psutil.Process(door.pid).memory_info().rss / 1e6
            print(f"every page open: {len(sizes)} kernels {sum(sizes):.0f} MB, the server {own:.0f} MB")
        finally:
            door.send_signal(signal.SIGINT)
            door.wait(30)


if __name__ == "__main__":
    measure()
