"""The workshop sheet: its numbers are the library's, and it fits one A4 page that can be read printed grey."""

import re
from dataclasses import replace
from datetime import date
from html import unescape
from io import BytesIO
from pathlib import Path

import numpy as np
import pytest
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.text import Text
from PIL import Image

from tests.browser.lab import CHROMIUM
from vdlib.car import examples
from vdlib.car.carfile import ORIGINS, fields_of
from vdlib.car.known import Points
from vdlib.car.records import Moment
from vdlib.checks import InputError
from vdlib.draw.page import MARGIN, PAGE, SIZES, fitted, pdf, picture, wrapped
from vdlib.draw.page import figure_of as drawn
from vdlib.setup.candidate import Candidate, Load, baseline, leaves, standing, version
from vdlib.setup.page import COLUMNS, CUT, LIMITS, RIM, UNDOES, build, cut, html, mark, toe_words
from vdlib.setup.whatif import compare
from vdlib.trim.trim import trim
from vdlib.units import G, from_si, to_si

WHEN = date(2026, 2, 3)
SPEED, LATERAL = 30.0, 0.8 * G
FELT = "In the long right, throttle closed, the rear came round."


def wanted(base):
    setup = base.setup
    settings = {
        "front.height": base.car.front.reference_height,
        "front.aligned_height": base.car.front.reference_height,
        "rear.bar": 0.8 * setup.rear.bar,
        "front.spring": 1.1 * setup.front.spring,
        "rear.toe": setup.rear.toe + 0.002,
        "rear.camber": setup.rear.camber - 0.005,
        "rear.pressure": setup.rear.pressure + 1e4,
    }
    return Candidate("calmer rear", settings, (Load("ballast", 20, 1.0, -0.3, 0.3),))


def everything(base):
    """The fullest page there can be: every setting, four loads, both tyres, texts as long as they may be."""
    settings = {
        path: value * (1.05 if "height" in path or "cross" in path else 1.25) for path, value in leaves(base.setup)
    }
    settings["front.toe"] = settings["rear.toe"] = 0.004
    loads = tuple(Load("a load with a very long name indeed", 5, 1.0 + k, -0.3, 0.3) for k in range(4))
    name = "a what-if with a name so long that it cannot possibly stand in one line of any page"
    return Candidate(name[:60], settings, loads, {"front": "track", "rear": "road"})


def sheet_of(name, make=wanted, felt=FELT, sure="How sure: 93 %.", points=None):
    file = examples.load_example(name)
    base = baseline(file.car, file.setup)
    candidate = make(base)
    found = compare([base, version(candidate, base)], SPEED, LATERAL)
    return build(file, base, candidate, SPEED, LATERAL, felt, sure, points=points, when=WHEN), base, candidate, found


def row(sheet, words):
    (found,) = [one for one in sheet.rows if words in one.setting]
    return found


# ---- what stands on it -------------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", examples.example_names())
def test_numbers_are_the_librarys(name):
    sheet, base, candidate, found = sheet_of(name)
    asked = version(candidate, base)
    new = standing(asked.car, asked.setup)
    number = lambda text: float(re.search(r"−?\+?[\d.]+", text)[0].replace("−", "-"))  # noqa: E731
    for end in ("front", "rear"):
        heights = row(sheet, f"{end} axle line")
        assert number(heights.asked) == round(from_si(getattr(new, end).height, "mm"))
        assert number(heights.now) == round(from_si(getattr(base.setup, end).height, "mm"))
        assert number(row(sheet, f"{end} camber").asked) == round(from_si(getattr(new, end).camber, "deg"), 1)
        assert number(row(sheet, f"{end} hot pressure").asked) == round(from_si(getattr(new, end).pressure, "bar"), 2)
        assert row(sheet, f"{end} toe, each wheel").asked == toe_words(getattr(new, end).toe, RIM)
    loads, before = (trim(v.car, v.setup, Moment(6.0, 0.0)).load / G for v in (asked, base))  # slow: no air
    for i, end in enumerate(("front", "rear")):
        for j, side in enumerate(("left", "right")):
            settable = abs(loads[i, j] - before[i, j]) >= 3  # kg, what the sheet says corner weights can be set within
            kept = (loads if settable else before)[i, j]
            assert number(row(sheet, f"{end} {side}, bars").asked) == round(float(kept))
            assert row(sheet, f"{end} {side}, bars").changed == settable
    assert number(row(sheet, "rear anti-roll bar").asked) == round(from_si(new.rear.bar, "Nm_per_deg"))
    gap = f"{abs(found.gap[1, 1]) / G:.3f} g"
    assert gap in " ".join(sheet.says)
    assert number(row(sheet, "driver's weight").asked) == round(float(asked.car.mass))
    assert number(row(sheet, "front springs").asked) == round(from_si(new.front.spring, "N_per_mm"))


@pytest.mark.analytic
def test_toe_in_millimetres_at_the_rim():
    # sin 30° = ½, so half a rim of 600 mm; and small angles by the radian: 600 mm · 0.3 · π/180 = 3.14 mm
    assert toe_words(float(to_si(30.0, "deg")), 0.6) == "30.00° in = 300.0 mm"
    assert toe_words(float(to_si(0.3, "deg")), 0.6) == "0.30° in = 3.1 mm"
    assert toe_words(float(to_si(-0.3, "deg")), 0.6) == "0.30° out = 3.1 mm"
    assert toe_words(0.0, 0.4) == "0.00° = 0.0 mm"


@pytest.mark.common_practice
def test_the_order_of_the_work():
    # tyres and pressures, driver's weight, ride heights, corner weights, camber and caster, toe last: common practice
    sheet, *_ = sheet_of("coupe")
    steps = [one.step for one in sheet.rows if one.step]
    assert [step[0] for step in steps] == list("0123456")
    assert steps[-1] == "6 toe, last"
    assert "bars unhooked" in row(sheet, "front left").setting
    assert row(sheet, "front toe, each wheel").within == "±0.05° = 0.4 mm"  # 430 mm · sin 0.05° = 0.375 mm


def test_only_what_is_asked_for_is_a_change():
    sheet, *_ = sheet_of("hatch")
    assert not row(sheet, "front hot pressure").changed
    assert row(sheet, "rear hot pressure").changed
    assert mark(row(sheet, "rear hot pressure")).startswith("change: ")
    assert UNDOES["height"] in sheet.undoes
    assert UNDOES["tyre"] not in sheet.undoes
    nothing, *_ = sheet_of("hatch", lambda base: Candidate())
    assert not any(one.changed for one in nothing.rows)
    assert nothing.undoes == ()
    assert "Nothing is asked for." in html(nothing)


def test_origins_and_sureness_are_said():
    file = examples.load_example("coupe")
    base = baseline(file.car, file.setup)
    made = lambda file, **more: build(file, base, Candidate(), SPEED, LATERAL, when=WHEN, **more)  # noqa: E731
    plain = made(file)
    assert "invented example car" in plain.measured
    assert "measure your car first" in plain.says[-1]
    assert "does not say where its numbers come from" in made(replace(file, path=Path("own.toml"))).measured
    paths = [entry.path for entry in fields_of()]
    some = replace(file, origin={paths[0]: "measured", paths[1]: "measured", paths[2]: "typical"})
    told = made(some).measured
    assert f"2 measured, 1 typical of such cars and {len(paths) - 3} without a note" in told
    assert fields_of()[2].quantity.name in told
    for word in ORIGINS:  # only what there is
        told = made(replace(file, origin=dict.fromkeys(paths, word))).measured
        assert f": {len(paths)} {word}" in told.replace("taken from an example", "example")
        assert "without a note" not in told
        assert not re.search(r"\b0 ", told)
    with pytest.raises(InputError, match="distance across the rim must be 200 to 800 mm"):
        made(file, rim=5.0)


def test_past_the_limit_is_said():
    file = examples.load_example("two-seater")
    base = baseline(file.car, file.setup)
    sheet = build(file, base, Candidate(), 30.0, 1.4 * G, when=WHEN)
    assert "past the limit" in sheet.says[0]
    fitted(sheet)


def test_long_texts_are_cut_with_a_mark_in_words():
    assert cut("short  text\nhere", 50) == "short text here"
    long = cut("word " * 400, LIMITS["felt"])
    assert long.endswith(CUT)
    assert len(long) <= LIMITS["felt"] + len(CUT)
    assert cut("x" * 900, 100) == "x" * 100 + CUT


# ---- the page ----------------------------------------------------------------------------------------------------

CASES = {
    "plain": ("two-seater", wanted, FELT),
    "full": ("coupe", everything, "the rear came round and round " * 100),
    "no spaces": ("hatch", everything, "x" * 3000),
    "odd letters": ("hatch", wanted, "$5 \\frac{1}{2} _a^b & <b>bold</b> 车 😀 “quoted”"),
    "nothing": ("hatch", lambda base: Candidate(), ""),
}


def page_of(case):
    name, make, felt = CASES[case]
    return fitted(sheet_of(name, make, felt, points=Points((0.3, 2.1)) if case == "full" else None)[0])


@pytest.mark.parametrize("case", list(CASES))
def test_it_fits_one_page_and_nothing_is_cut_off(case):
    page = page_of(case)
    figure = drawn(page)
    figure.set_dpi(144)
    canvas = FigureCanvasAgg(figure)
    canvas.draw()
    texts = [text for text in figure.findobj(Text) if text.get_text()]
    assert len(texts) > 60
    assert min(text.get_fontsize() for text in texts) >= 8.0
    boxes = [text.get_window_extent(canvas.get_renderer()).extents / 2 for text in texts]  # points
    edge = MARGIN - 1.5  # a letter's own overhang
    for text, (x0, y0, x1, y1) in zip(texts, boxes, strict=True):
        assert edge <= x0 <= x1 <= PAGE[0] - edge, text.get_text()
        assert edge - 3 <= y0 <= y1 <= PAGE[1] - edge, text.get_text()
    for i, (ax, ay, bx, by) in enumerate(boxes):  # no two texts lie on each other
        for j, (cx, cy, dx, dy) in enumerate(boxes[:i]):
            over = min(bx, dx) - max(ax, cx), min(by, dy) - max(ay, cy)
            assert not (over[0] > 1 and over[1] > 2.5), (texts[i].get_text(), texts[j].get_text())


def test_columns_of_the_table_hold_their_texts():
    page = fitted(sheet_of("coupe", everything)[0])
    edges = MARGIN + (PAGE[0] - 2 * MARGIN) * np.concatenate([[0.0], np.cumsum(COLUMNS)])
    assert edges[-1] == pytest.approx(PAGE[0] - MARGIN)
    figure = drawn(page)
    canvas = FigureCanvasAgg(figure)
    canvas.draw()
    table = min(line[1] for line in page.lines), max(line[1] for line in page.lines)
    cells = [t for t in figure.findobj(Text) if table[0] < t.get_position()[1] * PAGE[1] < table[1]]
    assert len(cells) > 80
    for text in cells:
        x0, _, x1, _ = text.get_window_extent(canvas.get_renderer()).extents
        column = int(np.searchsorted(edges, x0 + 0.5)) - 1
        assert x1 <= edges[column + 1] + 1, text.get_text()


def test_the_fullest_page_says_that_it_was_cut():
    page = fitted(sheet_of("coupe", everything, "the rear came round and round " * 100)[0])
    assert page.sheet.felt.endswith(CUT)
    assert page.size in SIZES
    assert CUT.strip() in html(page.sheet)
    room = fitted(sheet_of("two-seater")[0])
    assert room.size == SIZES[0]
    assert room.sheet.felt == FELT


def test_too_much_for_a_page_is_refused_in_words():
    sheet, *_ = sheet_of("two-seater")
    with pytest.raises(InputError, match="must fit on one page"):
        fitted(replace(sheet, says=("word " * 3000,)))


def test_wrapping_keeps_every_word():
    words = "a bb ccc dddd " * 20 + "e" * 300
    for size in (8.0, 9.5):
        lines = wrapped(words, 100.0, size)
        assert "".join(lines).replace(" ", "") == words.replace(" ", "")
        assert len(lines) > 10
    assert wrapped("", 100.0, 8.0) == [""]


def test_pdf_is_one_a4_page_without_pyplot_state():
    page = fitted(sheet_of("two-seater")[0])
    raw = pdf(page)
    assert raw.startswith(b"%PDF")
    assert re.search(rb"/Type /Pages[^>]*/Count 1\b|/Count 1\b", raw)
    (box,) = set(re.findall(rb"/MediaBox \[ ?([\d. ]+)\]", raw))
    assert [float(v) for v in box.split()] == pytest.approx([0, 0, *PAGE], abs=0.1)
    assert pdf(page) == raw  # the same sheet gives the same file


def test_it_can_be_read_printed_grey():
    page = fitted(sheet_of("two-seater")[0])
    grey = np.asarray(Image.open(BytesIO(picture(page, 150))).convert("L"), dtype=float) / 255
    assert grey.max() == 1.0
    assert 0.02 < (grey < 0.5).mean() < 0.2  # ink there is, and not a dark page
    linear = lambda v: v / 12.92 if v <= 0.03928 else ((v + 0.055) / 1.055) ** 2.4  # noqa: E731
    figure = drawn(page)
    shades = [text.get_color() for text in figure.findobj(Text) if text.get_text()]
    assert set(shades) == {"black"}
    darkest = float(grey.min())
    assert (1.05) / (linear(darkest) + 0.05) > 15  # contrast of WCAG 2, at least 4.5 for text; from memory
    rule = int("55", 16) / 255  # the table's lines
    assert 1.05 / (linear(rule) + 0.05) > 4.5


def test_html_says_the_same_as_the_pdf():
    for page in map(page_of, CASES):
        text = unescape(re.sub(r"<[^>]+>", " ", html(page.sheet).split("</style>")[1]))
        flat = re.sub(r"\s+", "", text)
        printed = "".join(one.words for one in page.texts).replace(" ", "")
        assert sorted(flat.replace(" ", "")) == sorted(printed)
    assert "<b>bold" not in html(sheet_of("hatch", wanted, CASES["odd letters"][2])[0])


@pytest.mark.slow
def test_html_prints_on_one_page(tmp_path):
    sync = pytest.importorskip("playwright.sync_api")
    with sync.sync_playwright() as play:
        try:
            browser = play.chromium.launch(executable_path=CHROMIUM, args=["--no-sandbox"])
        except sync.Error:
            pytest.skip("no browser")
        for case in CASES:
            path = tmp_path / "sheet.html"
            path.write_text(html(page_of(case).sheet), encoding="utf-8")
            page = browser.new_page()
            page.goto(path.as_uri())
            raw = page.pdf(prefer_css_page_size=True)
            assert len(re.findall(rb"/Type\s*/Page\b", raw)) == 1, case
        browser.close()
