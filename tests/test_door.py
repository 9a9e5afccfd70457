"""The front door without a browser: its command line, the order of pages, and what is made ahead of being asked for."""

import asyncio
import json
import logging
import os
import re
import subprocess
import sys
from concurrent.futures import ThreadPoolExecutor
from itertools import pairwise
from pathlib import Path

import pytest

from vdlib.__main__ import main, parser
from vdlib.door import ahead, bar, course, server

ROOT = Path(__file__).parents[1]


def run(*given, **more):
    return subprocess.run(
        [sys.executable, "-m", "vdlib", *given],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=False,
        timeout=180,
        **more,
    )


# ---- the command line --------------------------------------------------------------------------------------------


def test_help_tells_every_option():
    done = run("--help")
    assert done.returncode == 0
    for option in ("--port", "--no-browser", "--cars", "--workbooks", "--address", "Ctrl-C"):
        assert option in done.stdout


@pytest.mark.parametrize("port", ["eighty", "-1", "65536", "1e3", ""])
def test_a_port_that_cannot_be_is_refused_in_words(port):
    done = run(f"--port={port}", "--no-browser")
    assert done.returncode == 2
    assert "must be a whole number from 0 (any free one) to 65535" in done.stderr
    assert "Traceback" not in done.stderr


def test_it_is_this_computer_alone_unless_asked():
    assert parser().parse_args([]).address == "127.0.0.1"


@pytest.mark.parametrize(("option", "said"), [("--cars", "is a file"), ("--workbooks", "has no 00-start.ipynb")])
def test_a_folder_that_is_none_is_refused_in_words(option, said, tmp_path, monkeypatch):
    wrong = tmp_path / "one"
    wrong.write_text("") if option == "--cars" else wrong.mkdir()
    monkeypatch.setattr(sys, "argv", ["vdlib", option, str(wrong), "--no-browser"])
    with pytest.raises(SystemExit, match=said) as end:
        main()
    assert isinstance(end.value.code, str)  # Python ends with these words and status 1


# ---- the course --------------------------------------------------------------------------------------------------


def test_the_course_holds_every_workbook_once():
    files = [page.file for page in course.PAGES]
    assert sorted(files) == sorted(path.name for path in (ROOT / "workbooks").glob("*.ipynb"))
    assert course.COURSE[0] is course.FIRST


def test_before_and_after_are_each_other():
    for one, other in pairwise(course.COURSE):
        assert course.after(one) is other
        assert course.before(other) is one
    assert course.before(course.COURSE[0]) is course.after(course.COURSE[-1]) is None


@pytest.mark.parametrize("page", course.PAGES, ids=lambda page: page.file)
def test_likely_pages_begin_with_the_next_and_miss_none(page):
    found = course.likely(page)
    assert sorted(found, key=str) == sorted(course.PAGES, key=str)
    assert found[-1] is page
    assert course.after(page) in (found[0], None)


@pytest.mark.parametrize("page", course.PAGES, ids=lambda page: page.file)
def test_the_bar_leads_where_the_course_does(page):
    links = re.findall(r'href="([^"#]+)"', bar.bar(page))
    wanted = {one.file for one in (course.before(page), course.after(page), course.START, course.WORDS) if one}
    assert set(links) == wanted - {page.file}
    keys = re.findall(r'accesskey="(.)"', bar.bar(page))
    assert len(keys) == len(set(keys))


@pytest.mark.parametrize("page", course.COURSE, ids=lambda page: page.file)
def test_a_workbooks_own_next_is_the_courses(page):
    cells = json.loads((ROOT / "workbooks" / page.file).read_text("utf-8"))["cells"]
    last = [part for cell in cells for part in re.findall(r"\*Next:?\*.*", "".join(cell["source"]))]
    follows = course.after(page)
    if last and follows:
        assert follows.file in last[-1]


# ---- pages made ahead --------------------------------------------------------------------------------------------


class Kernels:
    """Kernels that cost what a test says and end when they are told to."""

    def __init__(self, cost=100):
        self.cost, self.live, self.made, self.gate = cost, [], [], None

    async def make(self, file, put, started, asked):
        started(file)
        self.live.append(file)
        self.made.append(file)
        put(f"head of {file}")
        if self.gate is not None:
            await self.gate.wait()
        put(f"rest of {file}")

    async def end(self, kernel):
        self.live.remove(kernel)

    async def stand_by(self):
        return False

    async def clear(self, kept):
        pass

    def memory(self):
        return self.cost * len(self.live)


def played(play, monkeypatch, limit=1000, quiet=0.0):
    """Run a play with a pantry of pages; the first part of its mark is what was saved."""
    monkeypatch.setattr(ahead, "EACH", 100)
    monkeypatch.setattr(ahead, "QUIET", {True: quiet, False: quiet})

    async def scene():
        saved, kernels = [()], Kernels()
        pantry = ahead.Ahead(kernels, lambda file: (saved[0], ()), limit)
        await play(pantry, kernels, saved)
        await pantry.close()

    in_a_loop_of_its_own(scene())


def in_a_loop_of_its_own(scene):
    with ThreadPoolExecutor(1) as own:  # a browser driven from this thread leaves a loop running in it
        own.submit(asyncio.run, scene).result()


async def turns(pantry, count):
    for _ in range(count):
        await pantry.turn()
        await asyncio.sleep(0)
        await asyncio.sleep(0)


async def read(made):
    return [piece async for piece in made.text()]


def test_a_page_made_ahead_is_given_out_once(monkeypatch):
    async def play(pantry, kernels, saved):
        pantry.wanted = ["a", "b"]
        await turns(pantry, 3)
        assert kernels.made == ["a", "b"]
        assert await read(await pantry.take("a")) == ["head of a", "rest of a"]
        assert kernels.made == ["a", "b"]
        await read(await pantry.take("a"))
        assert kernels.made == ["a", "b", "a"]

    played(play, monkeypatch)


def test_a_page_made_before_a_car_was_saved_is_never_given_out(monkeypatch):
    async def play(pantry, kernels, saved):
        pantry.wanted = ["a"]
        await turns(pantry, 2)
        saved[0] = ("blue.toml",)  # no turn in between: looked at in the moment the page is opened
        made = await pantry.take("a")
        assert made.marked == ("blue.toml",)
        await read(made)
        assert kernels.made == ["a", "a"]
        assert kernels.live == ["a"]

    played(play, monkeypatch)


def test_old_pages_are_made_again_once_it_is_quiet(monkeypatch):
    now = [100.0]
    monkeypatch.setattr(ahead, "monotonic", lambda: now[0])

    async def play(pantry, kernels, saved):
        pantry.wanted = ["a"]
        await turns(pantry, 2)
        saved[0] = ("blue.toml",)
        await turns(pantry, 2)
        assert kernels.live == []
        now[0] += 4
        await turns(pantry, 2)
        assert kernels.live == []  # not quiet for long enough
        now[0] += 2
        await turns(pantry, 1)
        assert pantry.pages["a"].marked == ("blue.toml",)

    played(play, monkeypatch, quiet=5.0)


def test_the_memory_is_kept_to(monkeypatch):
    async def play(pantry, kernels, saved):
        pantry.wanted = list("abcdefgh")
        await turns(pantry, 12)
        assert kernels.memory() <= 500
        assert kernels.made == list("abcde")
        kernels.cost = 150  # they grow while they are used
        await turns(pantry, 1)
        assert kernels.memory() <= 500
        assert set(kernels.live) == set("abc")  # the least likely went

    played(play, monkeypatch, limit=500)


def test_the_page_asked_for_comes_first(monkeypatch):
    async def play(pantry, kernels, saved):
        kernels.gate = asyncio.Event()
        pantry.wanted = ["a", "b"]
        await turns(pantry, 3)
        assert kernels.live == ["a"]  # one at a time
        pantry.serving = 1
        made = await pantry.take("z")
        await turns(pantry, 3)
        assert kernels.live == ["z"]  # nothing else is made meanwhile
        kernels.gate.set()
        await read(made)

    played(play, monkeypatch)


def test_a_page_in_the_making_is_taken_over_and_not_made_twice(monkeypatch):
    async def play(pantry, kernels, saved):
        kernels.gate = asyncio.Event()
        pantry.wanted = ["a"]
        await turns(pantry, 1)
        made = await pantry.take("a")
        kernels.gate.set()
        assert await read(made) == ["head of a", "rest of a"]
        assert kernels.made == ["a"]

    played(play, monkeypatch)


def test_what_went_wrong_is_raised_and_the_page_made_anew(monkeypatch):
    async def play(pantry, kernels, saved):
        async def broken(file, put, started, asked):
            raise RuntimeError("no kernel")

        whole, kernels.make = kernels.make, broken
        pantry.wanted = ["a"]
        await turns(pantry, 2)
        kernels.make = whole
        assert await read(await pantry.take("a")) == ["head of a", "rest of a"]

    played(play, monkeypatch)


def test_a_mark_sees_a_saved_car_an_opened_one_and_any_other_file(tmp_path):
    seen = [ahead.mark(tmp_path / "none"), ahead.mark(tmp_path)]
    assert seen[0] == seen[1] == ((), ())
    for name, part in (("blue.toml", 0), (".open", 0), ("blue.laps", 1), ("blue what-ifs/one.toml", 1)):
        path, before = tmp_path / name, ahead.mark(tmp_path)
        path.parent.mkdir(exist_ok=True)
        path.write_text("x")
        now = ahead.mark(tmp_path)
        assert now[part] != before[part]
    os.utime(tmp_path / "blue.toml", ns=(1, 1))
    assert ahead.mark(tmp_path)[0] != now[0]


class Process:
    """A process that notes its end."""

    def __init__(self):
        self.killed = False

    def kill(self):
        self.killed = True


@pytest.mark.parametrize("refused", [1, 3])
def test_a_kernel_that_refuses_to_end_is_asked_again_and_killed_at_last(refused, monkeypatch):
    monkeypatch.setattr(server, "run_sync", lambda ends: lambda **given: asyncio.run(ends(**given)))
    asked, kernel = [], Process()

    async def shutdown(now):
        asked.append(now)
        if len(asked) <= refused:
            raise KeyError("a kernel half made")

    with ThreadPoolExecutor(1) as own:  # a browser driven from this thread leaves a loop running in it
        own.submit(server.end_all, shutdown, lambda: [kernel]).result()
    assert kernel.killed == (refused == 3)
    assert len(asked) == min(refused + 1, 3)


def test_a_page_left_while_it_is_being_joined_to_its_kernel_is_no_fault(monkeypatch):
    made = server.SocketHandler.__new__(server.SocketHandler)

    async def joined(self):
        self.connection = object()

    async def left(self):
        self.connection = None  # as the closing of the page's end leaves it

    monkeypatch.setattr(server.VoilaKernelWebsocketHandler, "pre_get", joined)
    in_a_loop_of_its_own(made.pre_get())
    monkeypatch.setattr(server.VoilaKernelWebsocketHandler, "pre_get", left)
    with pytest.raises(server.tornado.web.HTTPError) as said:
        in_a_loop_of_its_own(made.pre_get())
    assert said.value.status_code == 410


@pytest.mark.parametrize(("fault", "news"), [*((kind, False) for kind in server.LEFT_ALONE), (ValueError, True)])
def test_that_a_page_was_left_is_no_news(fault, news, caplog):
    log = logging.getLogger("a door's")
    log.addFilter(server.is_news)

    log.error("a task's exception was never retrieved", exc_info=fault("closed"))
    assert [record.exc_info[0] for record in caplog.records] == [fault] * news
