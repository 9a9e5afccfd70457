"""The front door in a real browser: one command, a picture, nothing from the network, the car that was just saved."""

import os
import re
import shutil
import signal
import subprocess
import sys
from contextlib import contextmanager
from pathlib import Path
from urllib.error import HTTPError
from urllib.request import Request, urlopen

import pytest

from vdlib.car import examples
from vdlib.door import course, kept
from vdlib.panels import split

from .lab import screenshot
from .panels import at_last, at_rest

ROOT = Path(__file__).parents[2]
PICTURE = "#rendered_cells .vd-panel :is(img, canvas):visible"


@contextmanager
def door(cars):
    """Start the command as a reader does; give its link and its process, and stop it as a reader does."""
    command = [sys.executable, "-m", "vdlib", "--no-browser", "--cars", str(cars)]
    started = subprocess.Popen(command, cwd=ROOT, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True)
    try:
        link = next(found[0] for line in started.stdout if (found := re.search(r"http://\S+", line)))
        yield link, started
    finally:
        if started.poll() is None:
            started.send_signal(signal.SIGINT)
        try:
            rest, _ = started.communicate(timeout=90)
        except subprocess.TimeoutExpired:
            started.kill()
            raise
        started.said = rest


@pytest.fixture(scope="module")
def cars(tmp_path_factory):
    return tmp_path_factory.mktemp("front-door") / "my-cars"


@pytest.fixture(scope="module")
def opened(browser, cars):
    """The door, and a page of a browser that may reach this computer alone."""
    with door(cars) as (link, process):
        context = browser.browser.new_context(viewport={"width": 1366, "height": 768})
        outside, near = [], (link.partition("/?")[0], "data:", "blob:")
        context.on("request", lambda one: None if one.url.startswith(near) else outside.append(one.url))
        page = context.new_page()
        page.outside, page.faults, page.process = outside, [], process
        page.on("console", lambda m: page.faults.append(m.text) if m.type == "error" else None)
        page.on("pageerror", lambda error: page.faults.append(str(error)))
        page.link = link
        yield page
        context.close()
    assert process.returncode == 0, process.said
    assert "Stopped. What was saved is kept." in process.said
    assert "Traceback" not in process.said, process.said
    assert kernels(process.pid) == []


def kernels(parent):
    """Return the kernels that a process has started and that still run, each as its command with its name in it."""
    found = subprocess.run(["ps", "-ww", "-eo", "ppid,args"], capture_output=True, text=True, check=True).stdout
    rows = [line.split(None, 1) for line in found.splitlines()]
    return [row[1] for row in rows if row[0] == str(parent) and "ipykernel" in row[1]]


def kernel(page):
    """Return the name of the kernel behind a page."""
    return page.evaluate("JSON.parse(document.getElementById('jupyter-config-data').textContent).kernelId")


@pytest.mark.parametrize(
    ("path", "code"),
    [
        ("", 403),
        (f"voila/render/{course.FIRST.file}", 403),
        ("api/kernels/0b5dc2c6-8f3f-4b8e-9f0e-0a6d5d8f7a11", 403),
        ("voila/files/04-nose-high.ipynb", 404),
        ("voila/tree", 404),
        ("voila/api/contents", 404),
        ("voila/vdlib/panels/split.py", 403),
        ("voila/static/../../../../etc/passwd", 403),
    ],
)
def test_without_the_token_there_is_nothing_to_see(opened, path, code):
    with pytest.raises(HTTPError) as caught:
        urlopen(f"{opened.link.partition('?')[0]}{path}", timeout=60)
    caught.value.close()
    assert caught.value.code == code


def test_another_name_for_this_computer_is_refused(opened):
    foreign = Request(opened.link, headers={"Host": "elsewhere.example"})
    with pytest.raises(HTTPError) as caught:
        urlopen(foreign, timeout=60)
    caught.value.close()
    assert caught.value.code == 403


def test_a_port_in_use_is_said_in_words(opened, tmp_path):
    port = re.search(r":(\d+)/", opened.link)[1]
    env = dict(os.environ)
    done = subprocess.run(
        [sys.executable, "-m", "vdlib", "--no-browser", "--port", port, "--cars", str(tmp_path)],
        cwd=ROOT,
        env=env,
        capture_output=True,
        text=True,
        timeout=180,
        check=False,
    )
    assert done.returncode == 1
    assert f"Port {port} of 127.0.0.1 cannot be used" in done.stderr
    assert "Traceback" not in done.stderr


def test_the_first_visit_opens_the_film(opened, artefacts):
    page = opened.goto(opened.link, timeout=120_000, wait_until="commit")
    opened.wait_for_url(f"**/{course.FIRST.file}", timeout=120_000, wait_until="commit")
    assert page.headers["cache-control"] == "no-store"
    assert "token" not in opened.url  # nothing to copy by mistake
    opened.locator(PICTURE).first.wait_for(timeout=120_000)
    screenshot(opened, artefacts / "front_door.png")
    assert opened.title() == course.FIRST.name


def test_only_the_workbooks_are_pages(opened):
    for name in ("../pyproject.toml", "my-cars/blue.toml", "none.ipynb"):
        answer = opened.context.request.get(f"{opened.link.partition('?')[0]}voila/render/{name}")
        assert answer.status == 404, name


def test_the_code_of_a_panel_can_be_read_and_nothing_else(opened):
    start = opened.link.partition("?")[0]
    for path, status in (("panels/split.py", 200), ("panels/none.py", 404), ("cars/coupe.toml", 404), ("../x.py", 404)):
        answer = opened.context.request.get(f"{start}voila/vdlib/{path}")
        assert answer.status == status, path
    code = opened.context.request.get(f"{start}voila/vdlib/panels/split.py")
    assert code.headers["content-type"].startswith("text/plain")
    assert code.text() == (Path(split.__file__)).read_text("utf-8")


def test_a_browser_keeps_the_scripts_that_every_page_loads(opened):
    start = opened.link.partition("?")[0]
    loaded = opened.evaluate("performance.getEntriesByType('resource').map(one => one.name)")
    scripts = [one for one in loaded if one.startswith(start) and one.partition("?")[0].endswith(".js")]
    assert len(scripts) > 50
    for path in (scripts[0], next(one for one in scripts if "labextensions" in one)):
        assert "max-age=" in opened.context.request.get(path).headers["cache-control"]
    showing = [opened.context.request.get(one).body() for one in scripts if any(part in one for part in kept.SHOWING)]
    assert showing
    assert not any(kept.HURRIED.search(script) for script in showing)


def test_the_bar_leads_on_and_keeps_the_letters_large(opened):
    opened.get_by_role("button", name="Large letters").click()
    size = "getComputedStyle(document.querySelector('#rendered_cells p')).fontSize"
    assert opened.evaluate(size) == "20px"
    opened.left, opened.ran = kernel(opened), set(kernels(opened.process.pid))
    follows = course.after(course.FIRST)
    opened.get_by_role("link", name=f"Next: {follows.name}").click()
    opened.wait_for_url(f"**/{follows.file}", timeout=120_000, wait_until="commit")
    opened.locator(PICTURE).first.wait_for(timeout=120_000)
    opened.locator("button[aria-pressed=true]", has_text="Large letters").wait_for(timeout=30_000)
    assert opened.evaluate(size) == "20px"
    opened.get_by_role("button", name="Large letters").click()
    assert opened.evaluate(size) != "20px"


def test_the_bar_stays_while_a_page_is_read_and_all_of_it_is_printed(opened):
    at_rest(opened)
    opened.locator("summary").last.evaluate("e => e.scrollIntoView(true)")
    assert opened.locator("#door-bar").bounding_box()["y"] == 0
    assert opened.evaluate("document.querySelector('#rendered_cells').scrollTop") > 300
    paper = opened.pdf(format="A4")
    assert len(re.findall(rb"/Type\s*/Page\b", paper)) >= 2
    opened.emulate_media(media="print")
    shown = opened.evaluate("(e => [e.clientHeight, e.scrollHeight])(document.querySelector('#rendered_cells'))")
    opened.emulate_media(media="screen")
    assert shown[0] == shown[1] > opened.viewport_size["height"]  # nothing is cut off


def test_a_page_that_is_left_takes_its_kernel_with_it(opened):
    here = kernel(opened)
    assert opened.left != here
    assert at_last(opened, lambda: [one for one in kernels(opened.process.pid) if opened.left in one], 60) == []
    assert [one for one in kernels(opened.process.pid) if here in one]


@pytest.mark.slow
def test_a_page_that_is_loaded_again_and_again_leaves_no_kernels_behind(opened):
    if opened.url == "about:blank":  # asked for alone
        opened.goto(opened.link, timeout=120_000, wait_until="commit")
        opened.wait_for_url(f"**/{course.FIRST.file}", timeout=120_000, wait_until="commit")
    here = opened.url
    opened.goto(f"{here.rpartition('/')[0]}/{course.START.file}", timeout=120_000, wait_until="commit")  # the lightest
    begun = opened.locator("#rendered_cells .vd-panel a").first
    begun.wait_for(timeout=120_000)
    at_rest(opened)
    before = set(kernels(opened.process.pid))
    for _ in range(3):
        opened.reload(timeout=120_000, wait_until="commit")
        begun.wait_for(timeout=120_000)
    most = max(len(before), 7)
    assert at_last(opened, lambda: kernels(opened.process.pid)[most:], 60) == []
    opened.goto(here, timeout=120_000, wait_until="commit")


def test_a_page_shows_the_car_that_was_saved_a_moment_ago(opened, cars):
    opened.locator(PICTURE).first.wait_for(timeout=120_000)
    for _ in range(20):  # until the next page is made ahead: the kernel of the one after it has begun
        if len(set(kernels(opened.process.pid)) - opened.ran) > 1:
            break
        opened.wait_for_timeout(200)
    source = Path(examples.__file__).parents[1] / "cars" / "hatch.toml"
    cars.mkdir(exist_ok=True)
    shutil.copy(source, cars / "blue.toml")
    (cars / ".open").write_text("blue")
    follows = course.after(course.named(opened.url.rpartition("/")[2]))
    opened.get_by_role("link", name=f"Next: {follows.name}").click()
    opened.wait_for_url(f"**/{follows.file}", timeout=120_000, wait_until="commit")
    opened.locator(PICTURE).first.wait_for(timeout=120_000)
    at_rest(opened)
    shown = opened.locator("select").first.locator("option:checked").inner_text()
    assert "blue (saved)" in shown.replace("\xa0", " ")


def test_with_a_saved_car_the_way_in_is_the_start_page(opened, cars):
    assert (cars / "blue.toml").exists()
    opened.goto(opened.link, timeout=120_000, wait_until="commit")
    opened.wait_for_url(f"**/{course.START.file}", timeout=120_000, wait_until="commit")
    opened.locator("#rendered_cells").wait_for(timeout=120_000)


def test_nothing_was_asked_of_the_network_and_nothing_went_wrong(opened):
    assert opened.outside == []
    assert opened.faults == []
