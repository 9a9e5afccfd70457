"""JupyterLab in a real browser: start it, run a notebook, move its controls, look at its pictures.

As a command it takes screenshots of a workbook from top to bottom:

    python -m tests.browser.lab workbooks/01.ipynb .artefacts/01 --keys "Front ride height=ArrowRight*10"
"""

from __future__ import annotations

import argparse
import base64
import json
import os
import re
import shutil
import socket
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any
from urllib.error import URLError
from urllib.parse import quote
from urllib.request import urlopen

from . import panels

CHROMIUM = "/usr/bin/chromium"
FLAGS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--host-resolver-rules=MAP * ~NOTFOUND, EXCLUDE 127.0.0.1",  # there is no network
]
QUIET = {
    "apputils-extension/notification": {"fetchNews": "false", "checkForUpdates": False, "doNotDisturbMode": True},
    "apputils-extension/themes": {"theme": "JupyterLab Light", "adaptive-theme": False},
    "docmanager-extension/plugin": {"autosave": False},
}
STILL = 700
"""Time a picture stays what it is before it is at rest [ms]; it becomes sharp half a second after the last move."""
SHARP = """async (img, [still, most]) => { let source = '', since = 0; const first = performance.now();
    for (let now = first; now - first < most; now = performance.now()) {
        if (img.src !== source) { source = img.src; since = now; }
        else if (now - since >= still && img.complete && img.naturalWidth > img.getAttribute('width')) return true;
        await new Promise(done => setTimeout(done, 50)); }
    return false; }"""
"""Whether a picture has come to rest with all its sharpness."""
HARMLESS: tuple[str, ...] = (
    "Could not restore the debugger state",  # a notebook was left while JupyterLab still asked its kernel
    "Canceled future for",  # the same of whatever else it asked: a kernel that dies by itself fails every panel's test
)
"""Console errors known to be harmless, by a piece of their text; each with its reason beside it."""
ENDED = "(s => s ? [s.id, s.kernel?.id].filter(Boolean) : [])(jupyterapp.shell.currentWidget?.sessionContext?.session)"
CONTENT = "jupyterapp.shell.currentWidget.content"


@contextmanager
def server(root: Path, coach: bool = False) -> Iterator[str]:
    """Serve a folder on a free loopback port, settings of its own; give JupyterLab's address, or the pages' link."""
    with tempfile.TemporaryDirectory(prefix="lab-") as home:
        env = dict(os.environ)
        for name in ("CONFIG_DIR", "RUNTIME_DIR", "DATA_DIR"):
            env[f"JUPYTER_{name}"] = f"{home}/{name}"
        env |= {f"JUPYTERLAB_{n}_DIR": f"{home}/{n}" for n in ("SETTINGS", "WORKSPACES")}
        env |= {"IPYTHONDIR": f"{home}/ipython", "JUPYTER_PLATFORM_DIRS": "1", "VDLIB_CARS": f"{home}/my-cars"}
        files = {f"SETTINGS/@jupyterlab/{name}.jupyterlab-settings": values for name, values in QUIET.items()}
        files["CONFIG_DIR/labconfig/page_config.json"] = {"buildCheck": False}  # it would start node
        for name, values in files.items():
            path = Path(home, name)
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_text(json.dumps(values))
        with socket.socket() as probe:
            probe.bind(("127.0.0.1", 0))
            port = probe.getsockname()[1]
        command = _coach(root, port) if coach else _lab(root, port)
        log = Path(home, "log")
        with log.open("wb") as out, subprocess.Popen(command, env=env, stdout=out, stderr=out, cwd=root) as process:
            try:
                url = f"http://127.0.0.1:{port}"
                wanted = f"{url}/voila/static/voila.js" if coach else f"{url}/api"
                _until(lambda: _answers(wanted), 90, lambda: f"the server did not start:\n{log.read_text()}")
                yield re.findall(r"http://\S+", log.read_text())[0] if coach else url
            finally:
                process.terminate()
                try:
                    process.wait(5)  # the front door's own tests see to it that it stops
                except subprocess.TimeoutExpired:
                    process.kill()


def let_in(browser: Any, link: str) -> str:
    """Use the link with its token once, so that the browser may open every page; give the address without it."""
    browser.request.get(link, max_redirects=0)
    return link.partition("/?")[0]


def _lab(root: Path, port: int) -> list[str]:
    command = [sys.executable, "-m", "jupyterlab", "--no-browser", "--allow-root", "--ServerApp.ip=127.0.0.1"]
    command += [f"--ServerApp.port={port}", "--ServerApp.port_retries=0", f"--ServerApp.root_dir={root}"]
    command += ["--IdentityProvider.token=", "--ServerApp.password=", "--LabApp.expose_app_in_browser=True"]
    command += ["--LabApp.check_for_updates_class=jupyterlab.NeverCheckForUpdate", "--LabApp.news_url="]
    command += ["--LanguageServerManager.autodetect=False"]  # there is none to find, and node would look for it
    return command


NEXT_ONLY = Path(__file__).with_name("next_only.py")
"""The front door that beside the page looked at makes only the next one ahead."""


def _coach(root: Path, port: int) -> list[str]:
    return [sys.executable, str(NEXT_ONLY), "--no-browser", f"--port={port}", f"--workbooks={root}"]


@contextmanager
def chromium() -> Iterator[Any]:
    """Start the headless browser; its pages are as large as a small laptop's screen and share one cache."""
    from playwright.sync_api import sync_playwright

    with sync_playwright() as play:
        browser = play.chromium.launch(executable_path=CHROMIUM, args=FLAGS)
        try:
            yield browser.new_context(viewport={"width": 1366, "height": 768})
        finally:
            browser.close()


def screenshot(page: Any, path: Path) -> None:
    """Take a screenshot of a page, for whoever looks at it; nobody does where the tests run for their verdict alone."""
    if not os.environ.get("VDLIB_CI"):
        path.parent.mkdir(parents=True, exist_ok=True)
        page.screenshot(path=path)


class Notebook:
    """One notebook open in the browser."""

    def __init__(self, browser: Any, url: str, name: str) -> None:
        self.page = browser.new_page()
        self.console_errors: list[str] = []
        self.name, self.ran = name, False
        self.ended: set[str] = set()
        """Names of the kernels and sessions that were ended: nothing answers there any more, as it should be."""
        self.page.on(
            "console", lambda m: self._note(f"{m.text} ({m.location.get('url', '')})") if m.type == "error" else None
        )
        self.page.on("pageerror", lambda error: self._note(str(error)))
        self.page.goto(f"{url}/lab/tree/{quote(name)}?reset")  # without the tabs of an earlier page
        self._wait()

    def _wait(self) -> None:
        self.page.wait_for_function(  # once a frame; waiting for an element looks only twice a second
            """document.querySelector('.jp-Notebook .jp-Cell') !== null &&
            window.jupyterapp?.shell.currentWidget?.sessionContext?.session?.kernel?.status === 'idle'""",
            timeout=80_000,
        )

    def turn_to(self, name: str) -> None:
        """End this notebook's kernel, and open another notebook in its place."""
        self.name, self.ran = name, False
        self.ended |= {*self.page.evaluate(ENDED)}
        self.page.evaluate(
            """async name => { const old = jupyterapp.shell.currentWidget; await old.sessionContext.shutdown();
            old.dispose(); await jupyterapp.commands.execute('docmanager:open', {path: name}); }""",
            name,
        )
        self._wait()
        self.console_errors.clear()  # what its ended kernel still owed the former notebook is told as canceled

    def have(self, name: str) -> None:
        """Show a notebook whose cells have been run, as the last test left it where it was the same one."""
        if self.name != name:
            self.turn_to(name)
        if not self.ran:
            self.run_all()

    def _note(self, text: str) -> None:
        if not any(known in text for known in (*HARMLESS, *self.ended)):
            self.console_errors.append(text)

    def run_all(self, timeout: float = 120) -> None:
        """Run every cell and wait until the kernel is idle again."""
        done = self.page.evaluate(
            """seconds => Promise.race([
            jupyterapp.commands.execute('notebook:run-all-cells').then(() => true),
            new Promise(give_up => setTimeout(() => give_up(false), 1000 * seconds))])""",
            timeout,
        )
        if not done:
            raise TimeoutError(f"the notebook's cells did not end within {timeout:g} s")
        self.ran = True
        panels.at_rest(self.page)

    def errors(self) -> list[str]:
        """Return every error output, warning text and alert in a panel that the notebook now holds."""
        cells = self.page.evaluate("jupyterapp.shell.currentWidget.content.model.sharedModel.toJSON().cells")
        found = []
        for cell in cells:
            for output in cell.get("outputs", []):
                if output["output_type"] == "error":
                    found.append(f"{output['ename']}: {output['evalue']}")
                elif output.get("name") == "stderr":
                    found.append("".join(output["text"]))
        return found + self.alerts()

    def alerts(self) -> list[str]:
        """Return the words of every message shown by a panel, of those that are in the page now."""
        return panels.alerts(self.page)

    def picture(self, index: int = 0) -> bytes:
        """Return the bytes of one widget picture, as the browser holds them."""
        image = self.page.locator(".jp-Notebook img.widget-image").nth(index)
        image.wait_for(timeout=30_000)
        coded = image.evaluate(
            """async img => { for (let tries = 0;; tries += 1) { const source = img.src;
            try { await img.decode(); const b = await (await fetch(source)).blob(); if (img.src === source)
                return await new Promise(done => { const r = new FileReader();
                    r.onload = () => done(r.result.split(',')[1]); r.readAsDataURL(b); });
            } catch (fault) { if (tries > 50) throw fault; }  // another picture has come in its place
            await new Promise(done => setTimeout(done, 50)); } }"""
        )
        return base64.b64decode(coded)

    def changed(self, before: bytes, index: int = 0, seconds: float = 30) -> bytes:
        """Wait until a picture differs from an earlier one, and give it."""
        self.wait_for(lambda: self.picture(index) != before, "the picture did not change", seconds)
        return self.picture(index)

    def sharp(self) -> bytes:
        """Wait until the first picture has come to rest with all its sharpness, and give it."""
        image = self.page.locator(".jp-Notebook img.widget-image").first
        image.wait_for(timeout=30_000)
        if not image.evaluate(SHARP, [STILL, 90_000]):
            raise TimeoutError("the picture did not come to rest")
        return self.picture()

    def wait_for(self, true: Any, complaint: str, seconds: float = 30) -> None:
        """Wait until something is true of the page."""
        _until(true, seconds, lambda: complaint, lambda: self.page.wait_for_timeout(100))

    def slider(self, label: str | None = None) -> Any:
        """Return the handle of the first slider, or of the one with this label, scrolling down to find it."""
        row = self.page.locator(".jp-Notebook .widget-slider")
        if label is not None:
            row = row.filter(has=self.page.get_by_text(label, exact=True))
        handle = row.first.locator(".noUi-handle")
        if label is not None:
            for _ in self.scroll():
                if handle.count():
                    break
        handle.scroll_into_view_if_needed(timeout=15_000)
        return handle

    def press(self, label: str | None, key: str, times: int = 1) -> None:
        """Press a key on a slider some times."""
        handle = self.slider(label)
        handle.focus()
        for _ in range(times):
            self.page.keyboard.press(key)
        self.page.wait_for_timeout(400)

    def drag(self, label: str | None, pixels: float) -> None:
        """Drag a slider by the mouse."""
        box = self.slider(label).bounding_box()
        x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
        self.page.mouse.move(x, y)
        self.page.mouse.down()
        self.page.mouse.move(x + pixels, y, steps=8)
        self.page.mouse.up()

    def cut_labels(self) -> list[str]:
        """Return the words of every control whose label is cut off on the screen."""
        return panels.cut_labels(self.page)

    def too_wide(self) -> list[str]:
        """Return what in a panel sticks out of its cell to the right."""
        return panels.too_wide(self.page)

    def code_cells(self) -> Iterator[Any]:
        """Scroll to each code cell's output in turn, and give its place in the page."""
        count = self.page.evaluate(f"{CONTENT}.widgets.length")
        for index in range(count):
            if self.page.evaluate(f"{CONTENT}.widgets[{index}].model.type") == "code":
                self.page.evaluate(f"{CONTENT}.scrollToItem({index}, 'start')")
                panels.at_rest(self.page, 200)
                yield self.page.locator(
                    f".jp-Notebook .jp-Cell[data-windowed-list-index='{index}'] .jp-Cell-outputArea"
                )

    def scroll(self) -> Iterator[int]:
        """Scroll from the top to the bottom, most of a screen at a time; give each step's number."""
        find = "document.querySelector('.jp-NotebookPanel:not(.lm-mod-hidden) .jp-WindowedPanel-outer')"
        self.page.evaluate(f"{find}.scrollTop = 0")
        for step in range(200):
            self.page.wait_for_timeout(700 if step == 0 else 400)
            yield step
            moved = self.page.evaluate(
                f"(() => {{ const e = {find}; const was = e.scrollTop; e.scrollTop += 0.85 * e.clientHeight;"
                "return e.scrollTop - was; })()"
            )
            if moved < 1:
                return

    def close(self) -> None:
        """End the notebook's kernel and close its page."""
        self.page.evaluate("jupyterapp.shell.currentWidget?.sessionContext?.shutdown()")
        self.page.close()

    def screenshot(self, path: Path) -> None:
        """Take a screenshot of what can be seen now."""
        screenshot(self.page, path)


def _answers(url: str) -> bool:
    try:
        with urlopen(url, timeout=2):
            return True
    except (URLError, OSError):
        return False


def _until(true: Any, seconds: float, complaint: Any, wait: Any = lambda: time.sleep(0.1)) -> None:
    """Wait until something is true."""
    end = time.monotonic() + seconds
    while not true():
        if time.monotonic() > end:
            raise TimeoutError(complaint())
        wait()


def main() -> int:
    """Take screenshots of a workbook; one line for each error found, and exit code 1 if there are any."""
    parser = argparse.ArgumentParser(description="Screenshots of a workbook in JupyterLab, run from top to bottom.")
    parser.add_argument("notebook", type=Path)
    parser.add_argument("folder", type=Path)
    parser.add_argument("--keys", action="append", default=[], help='such as "Front ride height=ArrowRight*10"')
    parser.add_argument("--timeout", type=float, default=180, help="seconds for all cells")
    args = parser.parse_args()
    if not args.notebook.is_file():
        parser.error(f"there is no notebook {args.notebook}")
    moves = []
    for text in args.keys:
        match = re.fullmatch(r"(.*)=(\w+)(?:\*(\d+))?", text)
        if match is None:
            parser.error(f"--keys must be LABEL=KEY*TIMES, got {text}")
        moves.append((match[1], match[2], int(match[3] or 1)))
    with tempfile.TemporaryDirectory(prefix="workbook-") as temp:
        folder = args.notebook.resolve().parent
        shutil.copytree(folder, Path(temp, folder.name))  # a copy: nothing typed or saved reaches the original
        with server(Path(temp)) as url, chromium() as browser:
            book = Notebook(browser, url, f"{folder.name}/{args.notebook.name}")
            book.run_all(args.timeout)
            for label, key, times in moves:
                book.press(label, key, times)
            faults = {f"console: {e}" for e in book.console_errors} | set(book.errors())
            for step in book.scroll():
                book.screenshot(args.folder / f"{args.notebook.stem}_{step:02d}.png")
                faults |= {f"label cut: {t}" for t in book.cut_labels()} | {f"too wide: {t}" for t in book.too_wide()}
                faults |= set(book.alerts())
            faults |= {f"console: {e}" for e in book.console_errors}
    print(f"{step + 1} screenshots in {args.folder}")
    for fault in sorted(faults):
        print(fault)
    return bool(faults)


if __name__ == "__main__":
    sys.exit(main())
