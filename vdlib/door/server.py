"""The server of the pages without code: on this computer alone, behind a token, nothing from the network."""

from __future__ import annotations

import logging
import os
import re
import secrets
import shutil
import signal
import sys
import webbrowser
from collections.abc import Awaitable, Callable, Collection, Iterable
from contextlib import suppress
from functools import cache
from pathlib import Path
from subprocess import DEVNULL
from threading import Thread
from time import monotonic
from typing import Any

import psutil
import tornado.web
from jupyter_core.utils import run_sync
from jupyter_server.base.handlers import JupyterHandler
from nbclient.exceptions import DeadKernelError
from tornado.ioloop import IOLoop
from tornado.iostream import StreamClosedError
from tornado.websocket import WebSocketClosedError
from traitlets import TraitError
from traitlets.config import Config
from voila.app import Voila
from voila.notebook_renderer import NotebookRenderer
from voila.tornado.kernel_websocket_handler import VoilaKernelWebsocketHandler
from voila.utils import get_page_config

from ..car import shelf
from . import place
from .ahead import Ahead, Mark, mark
from .bar import STYLE, bar
from .course import FIRST, FOLDER, PAGES, START, likely, named
from .kept import Compiled, lasting

TEMPLATE = Path(__file__).with_name("template")
PACKAGE = Path(__file__).resolve().parents[1]
LOOPBACK = ("127.0.0.1", "::1", "localhost")
LEFT = 900.0
"""Time without any page looking at a kernel after which it is ended [s]."""
READY = "import vdlib.panels.base, vdlib.panels.which"
"""What every kernel imports while it starts."""
CLOSED = (
    "<!doctype html><html lang='en'><meta charset='utf-8'><title>Setup workbook</title>"
    "<h1>This page needs its key</h1><p>Open the link that <code>python -m vdlib</code> printed: the token in "
    "it is the key, new at every start.</p></html>"
)
WRONG = (
    "<!doctype html><html lang='en'><meta charset='utf-8'><title>Setup workbook</title><h1>Nothing here</h1>"
    "<p>The server answered {code}. <a href='{way}'>To the start page</a></p></html>"
)
WARNING = """Warning: {address} can be reached from other computers. Whoever has the link with its token can open,
change and save the cars on this computer, and what is sent is not encrypted. Use a network you
trust; stop with Ctrl-C."""


class PageKernels:
    """Makes and ends the kernels of pages for the server; one more stands ready with everything imported."""

    def __init__(self, app: Door) -> None:
        """Work for one server."""
        self.app = app
        self._ready = ""
        self._left: dict[str, float] = {}
        self._compiled = Compiled()

    async def make(self, file: str, put: Callable[[str], None], started: Callable[[str], None], asked: bool) -> None:
        """Take a kernel, say its name, and run a workbook in it, putting the page's text as it comes."""
        app, page = self.app, named(file)
        config = app.voila_configuration
        told = {"base_url": app.base_url, "settings": app.app.settings, "log": app.log, "voila_configuration": config}
        renderer = NotebookRenderer(
            voila_configuration=config,
            traitlet_config=app.config,
            notebook_path=file,
            template_paths=app.template_paths,
            config_manager=app.config_manager,
            contents_manager=app.contents_manager,
            base_url=app.base_url,
            kernel_spec_manager=app.kernel_spec_manager,
            page_config=get_page_config(**told),
        )
        await renderer.initialize()
        renderer.exporter.environment.bytecode_cache = self._compiled
        renderer.notebook.metadata["title"] = page.name if page else file
        renderer.resources |= {
            "door_bar": bar(page) if page else "",
            "door_style": STYLE,
            "door_scripts": scripts(*app.static_paths),
        }
        kernel = ""
        if asked:
            kernel, self._ready = self._ready, ""
        kernel = kernel or await self._start()
        started(kernel)
        async for piece, _ in renderer.generate_content_generator(kernel, app.kernel_manager.get_kernel(kernel)):
            put(piece)

    async def _start(self) -> str:
        lines = f"--IPKernelApp.exec_lines=['{READY}']"
        quiet = "--IPKernelApp.log_level=40"
        kernel: str = await self.app.kernel_manager.start_kernel(
            kernel_name="python3",
            path="",
            env=os.environ | {"SERVER_SOFTWARE": "voila"},  # a page keeps the size of its letters in the browser
            extra_arguments=[lines, quiet],
            stdout=DEVNULL,
            stderr=DEVNULL,
        )
        return kernel

    async def stand_by(self) -> bool:
        """Have one more kernel ready; return whether it had to be started."""
        if self._ready:
            return False
        self._ready = await self._start()
        return True

    async def end(self, kernel: str) -> None:
        """End a kernel."""
        with suppress(Exception):
            await self.app.kernel_manager.shutdown_kernel(kernel, now=True)

    def memory(self) -> int:
        """Return the memory of all kernels now [byte]."""
        total = 0
        for kernel in self.app.kernel_manager.list_kernel_ids():
            with suppress(psutil.Error, AttributeError, KeyError):
                pid = self.app.kernel_manager.get_kernel(kernel).provisioner.pid
                total += psutil.Process(pid).memory_info().rss
        return total

    async def clear(self, kept: Collection[str]) -> None:
        """End the kernels of pages that nobody has looked at for a while, such as after the browser was closed."""
        manager, now = self.app.kernel_manager, monotonic()
        for kernel in manager.list_kernel_ids():
            try:
                looked_at = manager.kernel_model(kernel)["connections"]
            except (TraitError, KeyError):  # one that is only starting, or has just ended
                looked_at = True
            if kernel in kept or kernel == self._ready or looked_at:
                self._left.pop(kernel, None)
            elif now - self._left.setdefault(kernel, now) > LEFT:
                await self.end(kernel)


class PlainHandler(JupyterHandler):
    """Handler that reports a fault in one plain sentence."""

    def write_error(self, status_code: int, **_: Any) -> None:
        """Answer with a page that loads nothing."""
        self.finish(WRONG.format(code=status_code, way=f"{self.base_url}voila/render/{START.file}"))


class PageHandler(PlainHandler):
    """One page, made ahead or now."""

    @tornado.web.authenticated
    async def get(self, file: str) -> None:
        """Send the page as it comes."""
        page, app = named(file), self.settings["door"]
        if page is None:
            raise tornado.web.HTTPError(404, "there is no such page")
        self.set_header("Content-Type", "text/html; charset=utf-8")
        self.set_header("Cache-Control", "no-store")
        place.note(page)
        app.ahead.serving += 1
        try:
            made = await app.ahead.take(file)
            try:
                async for piece in made.text():
                    self.write(piece)
                    await self.flush()
            except StreamClosedError:  # the reader went elsewhere meanwhile
                await made.drop()
        finally:
            app.ahead.serving -= 1
            app.ahead.wanted = [one.file for one in likely(page)]


class CodeHandler(PlainHandler):
    """The code of a panel, to be read."""

    @tornado.web.authenticated
    def get(self, file: str) -> None:
        """Send one module of the library as plain text."""
        path = PACKAGE / file
        if not path.is_file():
            raise tornado.web.HTTPError(404, "there is no such code")
        self.set_header("Content-Type", "text/plain; charset=utf-8")
        self.finish(path.read_bytes())


class EntryHandler(PlainHandler):
    """The way in: the start page where a car is saved, else the first page of the course."""

    @tornado.web.authenticated
    def get(self) -> None:
        """Lead on; the token stays behind in a cookie."""
        self.redirect(f"{self.base_url}voila/render/{first_page()}")


class ClosedHandler(tornado.web.RequestHandler):
    """Handler for whoever has no token."""

    def get(self) -> None:
        """Return in one sentence what is needed."""
        self.set_status(403)
        self.finish(CLOSED)


class LeaveHandler(PlainHandler):
    """A page that is left says so: its kernel ends."""

    def check_xsrf_cookie(self) -> None:
        """Ask for no second cookie: a page that is being left cannot send it, and the kernel's name is secret."""

    @tornado.web.authenticated
    async def post(self, kernel: str) -> None:
        """End the page's kernel."""
        await self.settings["door"].kernels.end(kernel)
        self.set_status(204)


class SocketHandler(VoilaKernelWebsocketHandler):
    """The way between a page and its kernel."""

    async def pre_get(self) -> None:
        """Go no further where the page was left while the way was being made."""
        await super().pre_get()
        if self.connection is None:
            raise tornado.web.HTTPError(410)

    def write_error(self, status_code: int, **_: Any) -> None:
        """Say nothing: nobody listens any more."""
        self.finish()


class Door(Voila):
    """The server: voila's own parts for pages and their kernels, with fewer ways in."""

    name = "vdlib"

    def init_settings(self) -> dict[str, Any]:
        """Add what the handlers need, and let no name but this computer's own lead here."""
        settings: dict[str, Any] = super().init_settings()
        return settings | {"door": self, "allow_remote_access": self.ip not in LOOPBACK}

    def init_handlers(self) -> list[Any]:
        """Serve the pages of the course and what they load; no lists of files, no files, no form to log in."""
        unwanted = ("/voila/tree", "/voila/files", "/voila/render", "/voila/api/contents", "/voila/api/shutdown")
        kept = [
            lasting(one) if one[1] is not VoilaKernelWebsocketHandler else (one[0], SocketHandler)
            for one in super().init_handlers()
            if one[0] != self.server_url and not any(way in one[0] for way in unwanted)
        ]
        own = [
            (self.server_url, EntryHandler),
            (rf"{self.server_url}log(?:in|out).*", ClosedHandler),
            (rf"{self.server_url}voila/render/([^/]+)", PageHandler),
            (rf"{self.server_url}voila/vdlib/([a-z_/]+\.py)", CodeHandler),
            (rf"{self.server_url}voila/api/shutdown/([0-9a-f-]+)", LeaveHandler),
        ]
        self.kernels = PageKernels(self)
        self.ahead = Ahead(self.kernels, marks)
        self.ahead.wanted = [first_page(), *(one.file for one in likely(FIRST))]
        IOLoop.current().add_callback(self.ahead.keep_up)
        return own + kept

    def launch_browser(self) -> None:
        """Open the browser without waiting for it."""
        Thread(target=webbrowser.open, args=(self.way_in,), daemon=True).start()

    @property
    def way_in(self) -> str:
        """The link with its token."""
        host = "127.0.0.1" if self.ip in ("", "0.0.0.0") else self.ip
        return f"http://{f'[{host}]' if ':' in host else host}:{self.port}/?token={self.token}"

    def listen(self) -> None:
        """Take a port, say where, and run until stopped."""
        try:
            server = self.app.listen(self.port, self.ip)
        except OSError as error:
            sys.exit(
                f"Port {self.port} of {self.ip} cannot be used ({error.strerror}): choose another, or leave it out."
            )
        self.port: int = next(iter(server._sockets.values())).getsockname()[1]
        print(f"The workbooks are open at\n\n    {self.way_in}\n", flush=True)
        print("Stop with Ctrl-C.", flush=True)
        if self.open_browser:
            self.launch_browser()
        self.ioloop = IOLoop.current()
        for one in (signal.SIGINT, signal.SIGTERM):  # an interrupt raised in the midst of a handler could be swallowed
            signal.signal(one, lambda *_: self.ioloop.add_callback_from_signal(self.ioloop.stop))
        self.ioloop.start()
        signal.signal(signal.SIGINT, signal.default_int_handler)
        print("\nStopping ...", flush=True)
        end_all(self.kernel_manager.shutdown_all, psutil.Process().children)
        shutil.rmtree(self.connection_dir, ignore_errors=True)
        print("Stopped. What was saved is kept.", flush=True)


def end_all(
    shutdown: Callable[..., Awaitable[None]], left: Callable[[], Iterable[psutil.Process]], tries: int = 3
) -> None:
    """End every kernel; one half made, or ended by its page, may refuse: all are asked again, and killed at last.

    Parameters:
        shutdown: what ends all kernels, with ``now`` [-]
        left: gives the processes that are to be killed where they still refuse at the last try [-]
        tries: how often it is asked [-]
    """
    for _ in range(tries):
        with suppress(Exception):  # whatever a kernel half made answers with
            run_sync(shutdown)(now=True)
            return
    for process in left():
        with suppress(psutil.Error):
            process.kill()


@cache
def scripts(*folders: str) -> tuple[str, ...]:
    """Return the scripts that every page loads before it shows anything: voila's first one, and those it names."""
    first = "voila.js"
    for folder in map(Path, folders):
        if (folder / first).is_file():
            named = sorted(set(re.findall(r"\.e\((\d+)\)", (folder / first).read_text("utf-8"))), key=int)
            return (first, *(f"{one}.{first}" for one in named if (folder / f"{one}.{first}").is_file()))
    return (first,)


LEFT_ALONE = (DeadKernelError, StreamClosedError, WebSocketClosedError)
"""What goes wrong where a page is left while it is being made, or while its kernel has something to tell it."""


def is_news(record: logging.LogRecord) -> bool:
    """Return whether a log's record is news: that a page was left is none.

    Parameters:
        record: the record [-]

    Returns:
        True where it is to be written [-]
    """
    fault = record.exc_info[0] if record.exc_info else None
    return not (fault is not None and issubclass(fault, LEFT_ALONE)) and "Kernel died" not in record.getMessage()


def marks(file: str) -> tuple[Mark, Mark]:
    """Return what a page depends on: the cars folder; the start page on the reader's place too."""
    cars, rest = mark(shelf.folder())
    return (*cars, *(place.opened() if file == START.file else ())), rest


def first_page() -> str:
    """Return the file of the page to begin with: the start page where a car is saved, else the film's."""
    return START.file if shelf.car_names() else FIRST.file


def serve(port: int, address: str, browser: bool, cars: Path | None, books: Path | None) -> None:
    """Serve the pages until Ctrl-C."""
    folder = (books or FOLDER).expanduser().resolve()
    missing = [page.file for page in PAGES if not (folder / page.file).is_file()]
    if missing:
        sys.exit(f"{folder} has no {missing[0]}: name the folder of the workbooks with --workbooks FOLDER.")
    place = (cars or Path(os.environ.get(shelf.VARIABLE, folder / "my-cars"))).expanduser().resolve()
    if place.exists() and not place.is_dir():
        sys.exit(f"--cars must name a folder, and {place} is a file: name another.")
    os.environ[shelf.VARIABLE] = str(place)
    if address not in LOOPBACK:
        print(WARNING.format(address=address), file=sys.stderr, flush=True)
    settings = Config(KernelManager={"transport": "tcp" if sys.platform == "win32" else "ipc"})
    app = Door.instance(
        config=settings,
        config_file_paths=[],
        port=port,
        ip=address,
        open_browser=browser,
        root_dir=str(folder),
        token=secrets.token_urlsafe(24),
        log_level=logging.ERROR,
    )
    app.initialize([])
    logging.getLogger("tornado.access").setLevel(logging.CRITICAL)
    logging.getLogger("tornado.general").setLevel(logging.ERROR)  # its warnings are of pings and of sockets at the end
    app.log.setLevel(app.log_level)  # what only its handlers leave out would be written first, several lines a message
    for log in (app.log, logging.getLogger("asyncio")):
        log.addFilter(is_news)
    app.template_paths = [str(TEMPLATE), *app.template_paths]
    app.start()
