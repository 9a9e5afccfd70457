"""The workshop page: its numbers are the library's, four wheels each for itself, and a mechanic can work from it."""

import re
from dataclasses import replace
from datetime import date
from html import unescape
from itertools import combinations, pairwise

import numpy as np
import pytest
from remembered import remember

from vdlib.answers.corner import HOLDS, Corner
from vdlib.answers.edge import By, Edge
from vdlib.answers.forgiven import forgiven_speed
from vdlib.answers.route_words import routes_of
from vdlib.car import examples
from vdlib.car.keys import ENDS
from vdlib.car.known import Figures, Points
from vdlib.car.records import Moment
from vdlib.car.reference import reference_of
from vdlib.draw.page import LEGEND, laid_out
from vdlib.draw.typeset import MARGIN, PAPERS, SMALLEST, html, length, pdf
from vdlib.garage import four_wheels
from vdlib.garage.car_from import car_from
from vdlib.garage.four_wheels import typed_rows
from vdlib.garage.typed import Readings
from vdlib.setup import page as setup_page
from vdlib.setup.candidate import Candidate, Load, baseline, standing, version
from vdlib.setup.driven import OwnCorner
from vdlib.setup.page import build
from vdlib.setup.page_wheels import AS_NOW, LEAVE, LOOK_UP, OUT, UNREAD, rim_of
from vdlib.setup.promised import promise, why_back
from vdlib.shown import Choice, use
from vdlib.trim.trim import trim
from vdlib.units import G, from_si, to_si

WHEN = date(2026, 2, 3)
CALM = {"felt": "In the long left, lifted, the rear came round."}
"""Nobody says that it is so since some work."""
STORY = CALM | {"since": "since the springs", "work": "springs", "corner": "a long left"}


def page_of(name="low-two-seater", candidate=None, visit=STORY, known=None, **more):
    file = examples.load_example(name)
    file = replace(file, known=replace(file.known, visit=visit, **(known or {})))
    base = baseline(file.car, file.setup)
    return file, base, build(file, base, candidate or Candidate(), when=WHEN, **more)


@pytest.fixture
def promised():
    """Its pages' promise is their own."""


@pytest.fixture(scope="module")
def told():
    """The story's page, and the promises that it asked for."""
    heard = []
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(setup_page, "promise", lambda *asked: heard.append(promise(*asked)) or heard[-1])
        return page_of(), heard


@pytest.fixture(scope="module")
def story(told):
    return told[0]


@pytest.fixture(autouse=True)
def promised_once(request, told, monkeypatch):
    """Where nobody asks what is promised, it is the story's; ``story`` is made before this."""
    if "promised" in request.fixturenames:
        remember(monkeypatch, setup_page, "promise")
    else:
        monkeypatch.setattr(setup_page, "promise", lambda *_: told[1][0])


def rows(page):
    return dict(page.wheels.rows)


def test_each_wheel_stands_for_itself(story):
    file, base, page = story
    now, due = base.setup, standing(file.car, reference_of(file).setup)
    for name, field, unit, digits in (("height mm", "height", "mm", 0), ("camber °", "camber", "deg", 1)):
        cells = rows(page)[name]
        for setup, part in ((now, "now"), (due, "book")):
            four = [float(v) for end in ENDS for v in getattr(setup, end).wheels(field)]
            said = [float(getattr(cell, part).replace("−", "-")) for cell in cells]
            np.testing.assert_allclose(said, from_si(np.array(four), unit), atol=0.5001 * 10**-digits)
    loads = np.asarray(trim(file.car, now, Moment(20.0, 0.0)).standing_load).ravel() / G
    np.testing.assert_allclose([float(c.now) for c in rows(page)["kg"]], loads, atol=0.5001)


def test_a_single_wheel_toed_out_is_seen_at_that_wheel(story):
    _, base, page = story
    left, right = rows(page)["toe mm"][2:]
    assert right.now.endswith(" OUT")  # the rear wheel that points out, and no other
    assert right.out
    assert not left.now.endswith("OUT")
    assert page.wheels.thrust.out
    assert page.wheels.thrust.now.endswith("to right")
    assert float(base.setup.rear.wheels("toe")[1]) < 0


def test_the_back_begins_with_the_travel_that_is_spent(story):
    first = dict(story[2].back)["Why"][0]
    now = min(float(c.now.replace("−", "-")) for c in rows(story[2])["gap mm"][2:])
    assert now < 0
    assert f"shaft sits {-now:.0f} mm into the stop" in first
    file = story[0]
    found, _ = routes_of(file.car, file.setup, reference_of(file).setup, Moment.in_phase("lift", 30.0, 7.0))
    said = next(route.sentence for route in found if route.key == "stops")
    at_wheel = re.search(r"presses its stops by (\d+) mm at the wheel", said)  # the same, where it is larger
    assert float(at_wheel[1]) * float(file.car.rear.motion_ratio) == pytest.approx(-now, abs=1)
    assert "damper" not in " ".join(dict(page_of("coupe")[2].back)["Why"])  # it has travel left


def test_what_is_out_on_the_form_is_out_on_the_page():
    """One table of tolerances; the two-seater's 12 mm of free shaft are few on both."""
    assert set(OUT) == set(four_wheels.OUT)
    for row, (size, unit) in four_wheels.OUT.items():
        assert OUT[row] == pytest.approx(float(to_si(size, unit)))
    file, _, page = page_of("two-seater", visit=CALM)
    shaft = 12.0
    typed = Readings("a", {"stops.rear_shaft": str(shaft), "stops.front_shaft": "39"})
    form = typed_rows(typed, car_from(typed, file))["gap"]
    cells = rows(page)["gap mm"]
    assert [cell.out for cell in form] == [cell.out for cell in cells] == [False, False, True, True]
    assert float(cells[2].now) == pytest.approx(shaft, abs=0.6)
    assert "once that is used up the tail stiffens" in dict(page.back)["Why"][0]
    assert "under 15 mm to the stop" in LEGEND


def test_a_long_event_leaves_the_date_readable():
    _, _, page = page_of(visit=STORY | {"event": "an invented track day with a long name", "km": "61 400"})
    texts = laid_out(page)[0].texts
    top = sorted((t for t in texts if t.y == texts[0].y), key=lambda t: t.x)
    assert len(top) > 1
    for one, two in pairwise(top):
        assert one.x + length(one.words, one.bold) * one.size <= two.x


def test_an_empty_whatif_asks_to_go_back_to_the_reference():
    _, _, page = page_of(visit=CALM)
    assert page.asked == "back to the reference"
    for cell in rows(page)["height mm"]:
        assert cell.ask == cell.book
    assert page.reference == "as lowered, before it sagged"  # a maker's figure it is not


def test_work_done_before_leads_to_looking_and_ringing_first(story):
    _, _, page = story
    assert page.ring
    assert page.do[0].endswith("RING BEFORE SETTING ANYTHING.")
    text = " ".join(t.words for t in laid_out(page)[0].texts)
    assert "a fault, not a setting" in text
    assert text.index("LOOK FIRST") < text.index("FRONT LEFT") < text.index("ASKED")
    _, _, calm = page_of(visit={"felt": "nothing special"})
    assert not calm.ring
    assert "RING BEFORE" not in " ".join(calm.do)


@pytest.mark.parametrize("seats", ["fixed", "threaded, all four"])
def test_heights_of_a_whatif_go_to_what_is_asked_not_to_the_reference(seats):
    file = examples.load_example("low-two-seater")
    for rise, words in ((0.010, "as asked"), (None, "to ")):
        rear = file.setup.rear.height + rise if rise else reference_of(file).setup.rear.height
        _, _, page = page_of(candidate=Candidate("rear up", {"rear.height": rear}), visit=STORY | {"seats": seats})
        line = next(line for line in page.do if "Heights" in line)
        assert ("as asked" in line) == (words == "as asked")
        assert (reference_of(file).name in line) == (words == "to ")


def test_what_cannot_be_set_is_not_asked_for():
    _, _, page = page_of(visit=STORY | {"seats": "fixed", "rear_toe": "not adjustable"})
    assert {c.ask for c in rows(page)["height mm"]} == {"look"}
    told = " ".join(page.do)
    assert "seats are fixed front and rear, so find why" in told
    assert "Corner weights cannot be set" in told
    assert "front only. Rear toe cannot be set" in told
    _, _, half = page_of(visit=CALM | {"seats": "threaded, rear only"})
    assert [c.ask for c in rows(half)["height mm"]] == ["look", "look", "120", "120"]


def test_the_order_is_rear_toe_before_front_and_toe_last(story):
    told = story[2].do
    toe = next(i for i, line in enumerate(told) if "Toe last" in line)
    assert told[toe].index("rear toe and thrust first") < told[toe].index("then front")
    assert all("Toe" not in line for line in told[:toe] if "void" not in line)
    assert [line.split()[0] for line in told] == [str(i) for i in range(1, len(told) + 1)]


def test_corner_weights_become_turns_of_seats():
    file = examples.load_example("coupe")
    visit = STORY | {"seats": "threaded, all four", "thread": "1.5"}
    file = replace(file, setup=replace(file.setup, cross_weight=0.48), known=replace(file.known, visit=visit))
    page = build(file, baseline(file.car, file.setup), Candidate(), when=WHEN)
    told = next(line for line in page.do if "Corner weights" in line)
    assert "The scales will then read" in told
    assert page.wheels.cross.out
    assert page.wheels.cross.ask == "50.0"
    seats = [cell.ask for cell in rows(page)["seat, turns"]]  # each at its wheel: one diagonal up, the other down
    assert all(re.fullmatch(r"\d+\.\d\d (up|down)", told) for told in seats)
    assert [told.split()[1] for told in seats] == ["down", "up", "up", "down"]


def test_a_cross_weight_within_tolerance_is_noted_and_no_seat_turned():
    file = examples.load_example("coupe")
    visit = STORY | {"seats": "threaded, all four", "thread": "1.5"}
    file = replace(file, setup=replace(file.setup, cross_weight=0.496), known=replace(file.known, visit=visit))
    page = build(file, baseline(file.car, file.setup), Candidate(), when=WHEN)
    assert not page.wheels.cross.out
    assert page.wheels.cross.ask == AS_NOW
    assert "seat, turns" not in rows(page)
    assert "Weigh again after the heights, bars unhooked: cross weight 50.0 %; inside tolerance, leave." in " ".join(
        page.do
    )


def test_what_nobody_read_is_a_question_mark(tmp_path):
    file = examples.load_example("coupe")
    read = {f"setup.{end}.{field}": "typical" for end in ENDS for field in ("toe", "camber")}
    file = replace(file, path=tmp_path / "a.toml", origin=read | {"setup.cross_weight": "typical"})
    page = build(file, baseline(file.car, file.setup), Candidate(), when=WHEN)
    for name in ("toe mm", "camber °", "kg"):
        assert {c.now for c in rows(page)[name]} == {LOOK_UP}
    assert page.wheels.thrust.now == LOOK_UP
    assert {c.now for c in rows(page)["height mm"]} != {LOOK_UP}


def test_a_reference_that_was_given_is_not_called_unmeasured(tmp_path):
    heights = {f"{end}.reference_height": "typical" for end in ENDS} | {"car.mass": "example"}
    for known in (Figures("book", "book", values={"front.height": 0.11, "rear.height": 0.12}), None):
        file = examples.load_example("coupe")
        file = replace(file, path=tmp_path / "a.toml", origin=heights, known=replace(file.known, figures=known))
        said = dict(build(file, baseline(file.car, file.setup), Candidate(), when=WHEN).back)["How it was measured"][0]
        assert "Not measured: " in said
        assert ("reference ride height" in said.partition("Not measured: ")[2]) == (known is None)


def test_heights_stand_where_the_tape_was_held():
    spot = Points((0.0, 2.38), (0.53, 0.52), "hub centre to arch")
    file, base, page = page_of(known={"points": spot})
    cells = rows(page)["hub-arch mm"]
    for i, end in enumerate(ENDS):
        for j, height in enumerate(getattr(base.setup, end).wheels("height")):
            assert float(cells[2 * i + j].now) == pytest.approx(from_si(float(height) + spot.above[i], "mm"), abs=0.5)
    assert "over each wheel centre" in dict(page.back)["Where heights are read"][0]
    assert file.known.points == spot


def test_cold_pressures_are_those_typed_and_asked_for_cold():
    file = examples.load_example("coupe")
    more = Candidate("harder", {"rear.pressure": float(file.setup.rear.pressure) + 0.2e5})
    _, _, page = page_of("coupe", more, {"cold": "2.10 | 2.15 | 2.00 | –"})
    cells = rows(page)["cold bar"]
    assert [c.now for c in cells[:3]] == ["2.10", "2.15", "2.00"]
    assert [c.ask for c in cells[:3]] == [AS_NOW, LEAVE, "2.20"]  # 0.05 bar off is inside tolerance


def test_cold_pressures_asked_for_are_the_references_own():
    file = examples.load_example("low-two-seater")
    hard = {f"{end}.pressure": to_si(2.4, "bar") for end in ENDS}
    figures = replace(file.known.figures, values={**file.known.figures.values, **hard})
    cold = {"cold": "1.80 | 1.80 | 1.92 | 1.92"}  # which rose by another amount than usual
    _, _, page = page_of(visit=CALM | cold, known={"figures": figures})
    assert {(c.book, c.ask) for c in rows(page)["cold bar"]} == {("2.10", "2.10")}


def test_less_than_can_be_set_is_left_and_said():
    file = examples.load_example("coupe")
    tiny = Candidate(
        "tiny", {"rear.toe": float(file.setup.rear.toe) + 2e-4, "rear.bar": 0.8 * float(file.setup.rear.bar)}
    )
    _, _, page = page_of("coupe", tiny)
    assert {c.ask for c in rows(page)["toe mm"]} == {LEAVE}
    assert "rear toe" in dict(page.back)["Left as now, being less than can be set"][0]
    assert "rear anti-roll bar −20 %, nearest hole" in " ".join(page.do)


def test_ballast_is_bolted_down_on_the_page():
    _, _, page = page_of("coupe", Candidate("b", {}, (Load("ballast", 20, 1.0, -0.3, 0.3),)))
    assert "bolted to the structure" in " ".join(page.do)
    assert "a loose mass kills" in " ".join(dict(page.back)["What each change undoes"])


def test_the_weights_asked_for_hold_what_is_put_in():
    """The loads of the whole car with its ballast, from a trim at the heights and the cross weight asked for."""
    ballast = Load("b", 60.0, 2.2, 0.3, 0.3)
    for settings in ({}, {"cross_weight": 0.51, "front.height": 0.141, "front.aligned_height": 0.141}):
        _, base, page = page_of("hatch", Candidate("b", settings, (ballast,)))
        asked = version(Candidate("b", settings, (ballast,)), base)
        due = np.asarray(trim(asked.car, asked.setup, Moment(20.0, 0.0)).standing_load).ravel() / G
        found = [float(c.ask) for c in rows(page)["kg"]]
        np.testing.assert_allclose(found, due, atol=0.5001)
        assert sum(found) == pytest.approx(float(base.car.mass) + ballast.mass, abs=2)


def test_the_promise_is_the_librarys_and_says_when_it_is_too_small_to_feel(story):
    file, base, page = story
    told = promise(file.car, base.setup, standing(file.car, reference_of(file).setup), OwnCorner(turn="left"))
    assert dict(page.back)["Why"][1:] == told.words
    assert told.speed[1] > told.speed[0]
    same = promise(file.car, base.setup, base.setup, OwnCorner(turn="left"))
    assert same.words[0].endswith("as asked: as much as before.")
    touch = replace(told, edges=(Edge(20.0, By.SLIDE), Edge(20.06, By.SLIDE)))
    assert "0.2 km/h more. That is too small to feel." in touch.words[0]


def test_a_reference_that_promises_nothing_is_said_to_and_why_one_may_go_back(told):
    found = told[1][0]
    assert why_back(found) == ()  # the story's is felt
    for speed, word in (((30.0, 30.1), "nothing that can be felt"), ((30.0, 29.0), "less")):
        (said,) = why_back(replace(found, edges=tuple(Edge(v, By.SLIDE) for v in speed)))
        assert f"promises {word} in this corner" in said
        assert "the workshop knows that state" in said


def test_front_and_back_give_one_order_of_work(story):
    page = story[2]
    front, back = " ".join(page.do), " ".join(dict(page.back)["Order of the work, and within what"])
    steps = (r"[Pp]ressures", "Heights", "[Ww]eight", "Heights again", r"Camber", r"[Rr]ear toe and thrust", "torqued")
    for text in (front, back):
        places = [re.search(step, text).start() for step in steps if step != "[Ww]eight"]
        assert places == sorted(places)
    assert re.search("links", front).start() < re.search("[Rr]ear toe and thrust", front).start()


@pytest.mark.analytic
def test_toe_is_in_millimetres_wherever_its_table_is():
    use(Choice("mph", "lb", "psi", "in"))
    try:
        page = page_of(visit=CALM | {"rim": "406", "speed": "89 km/h"})[2]
    finally:
        use(Choice())
    far = 1e3 * rim_of({"rim": "406"}) * np.sin(np.radians(0.08))
    assert far == pytest.approx(406 * np.radians(0.08), rel=1e-5)
    assert f"toe ±0.08°, {far:.1f} mm at the rim" in page.within
    assert "0.6 mm at the rim; ±0.05°, 0.4 mm" in " ".join(dict(page.back)["Order of the work, and within what"])
    assert "(over 16.0 in of each rim)" in " ".join(page.do)
    assert "55 mph" in page.felt


def test_where_heights_are_read_is_a_place_a_tape_reaches():
    words = dict(page_of(visit=CALM | {"load": "the driver's weight in the seat"})[2].back)["Where heights are read"][0]
    assert "underside" in words
    assert words.endswith("Read with the driver's weight in the seat.")


def test_nothing_is_asked_names_what_was_compared():
    file = examples.load_example("hatch")
    file = replace(file, setup=reference_of(file).setup)
    page = build(file, baseline(file.car, file.setup), Candidate(), when=WHEN)
    assert "every figure compared with its reference heights is inside tolerance" in page.do[-1]
    _, _, tiny = page_of("hatch", Candidate("tiny", {"rear.toe": float(file.setup.rear.toe) + 2e-4}))
    assert any(cell.out for cell in rows(tiny)["height mm"])  # not asked for, and out all the same
    assert tiny.do[-1].endswith("Nothing is asked for.")


@pytest.mark.parametrize("paper", list(PAPERS))
@pytest.mark.parametrize("long", [False, True])
def test_both_sides_fit_and_nothing_lies_on_another(paper, long):
    visit = {key: "word and another " * 40 for key in ("felt", "since", "work", "found", "holes")} if long else STORY
    file = examples.load_example("low-two-seater")
    all_of_it = {
        f"{end}.{f}": 1.2 * float(getattr(getattr(file.setup, end), f)) for end in ENDS for f in ("bar", "spring")
    }
    loads = tuple(Load("a load with a long name", 5, 1.0 + k, -0.3, 0.3) for k in range(4))
    wish = Candidate("a name as long as a name may be, sixty letters and no more", all_of_it, loads, {"front": "track"})
    _, _, page = page_of(candidate=wish if long else None, visit=visit, sure=("sure enough " * 20,))
    for leaf in laid_out(replace(page, warning="A WARNING OF TWO LINES " * 6 if long else page.warning), paper):
        assert leaf.room >= 8
        spots = []
        for t in leaf.texts:
            wide = length(t.words, t.bold) * t.size / 1.02
            start = t.x - {"left": 0, "center": wide / 2, "right": wide}[t.anchor]
            assert MARGIN - 1 <= start <= start + wide <= leaf.paper.width - MARGIN + 2, t.words
            assert t.size >= SMALLEST
            spots.append((start, t.y - 0.72 * t.size, start + wide, t.y, t.words))
        for (a, b, c, d, one), (e, f, g, h, two) in combinations(spots, 2):
            assert min(c, g) - max(a, e) < 1 or min(d, h) - max(b, f) < 1, (one, two)


@pytest.mark.parametrize("sides", [1, pytest.param(2, marks=pytest.mark.slow)])  # every run: test_paper.py, all pages
def test_html_and_pdf_hold_the_same_words_on_the_same_paper(story, sides):
    leaves = laid_out(story[2], "letter")[:sides]
    shown = re.findall(r"<text[^>]*>([^<]*)</text>", html(leaves, "t"))
    assert [unescape(words) for words in shown] == [t.words for leaf in leaves for t in leaf.texts]
    assert "612.00pt 792.00pt" in html(leaves, "t")
    raw = pdf(leaves, "t")
    assert pdf(leaves, "t") == raw
    assert len(re.findall(rb"/MediaBox \[ ?0 0 612 792", raw)) == sides


def test_only_marks_and_grey_tell_what_is_out(story):
    leaf = laid_out(story[2])[0]
    assert {fill for *_, fill in leaf.boxes} <= {"none", "#DDDDDD", "#555555"}
    marked = sum(t.words.endswith(" !") for t in leaf.texts)
    out = sum(cell.out for _, cells in story[2].wheels.rows for cell in cells)
    assert marked == out > 4


def test_what_is_inside_its_tolerance_is_left_and_a_rear_wheel_toed_out_never():
    """Judged where the heights are asked for, with toe and camber as those heights make them."""
    file, base, page = page_of(visit=CALM)
    due = standing(file.car, reference_of(file).setup)
    after = untouched(file)
    for name, field, far in (("toe mm", "toe", 0.08), ("camber °", "camber", 0.25)):
        for cell, then, ref in zip(rows(page)[name], wheels(after, field), wheels(due, field), strict=True):
            if abs(from_si(then - ref, "deg")) > far or (field == "toe" and then < 0 <= ref):
                assert cell.ask == cell.book
            else:
                assert cell.ask in (LEAVE, AS_NOW)
                assert (cell.ask == LEAVE) == (cell.now != cell.book)
    assert [c.ask == LEAVE for c in rows(page)["toe mm"]] == [True, True, True, False]
    tight = {f"{end}.toe": to_si(0.001, "deg") for end in ENDS}
    _, _, page = page_of(visit=CALM, known={"figures": replace(file.known.figures, tolerances=tight)})
    assert LEAVE not in {c.ask for c in rows(page)["toe mm"][2:]}  # the front's follows the heights to its very figure
    assert "toe ±0.00°" in page.within
    assert base.setup != after


def untouched(file):
    """The car at its reference's heights, and nothing else touched: toe and camber have followed their curves."""
    level = reference_of(file).setup
    return standing(file.car, file.setup.with_heights(level.front.height, level.rear.height))


@pytest.mark.usefixtures("promised")
def test_what_is_left_follows_the_heights_in_what_is_promised():
    file, base, page = page_of("hatch", visit=CALM)
    assert [c.ask for c in rows(page)["toe mm"]] == [LEAVE] * 4
    speeds = [forgiven_speed(file.car, setup, Corner(), HOLDS).speed for setup in (base.setup, untouched(file))]
    told = [f"{float(from_si(speed, 'kmh')):.1f} km/h" for speed in speeds]
    assert f"up to {told[0]} now and {told[1]} as asked" in " ".join(dict(page.back)["Why"])
    assert "toe" not in " ".join(dict(page.back)["What each change undoes"]).partition("headlamps")[2]


def test_toe_that_the_heights_take_out_of_tolerance_is_asked_for():
    file = examples.load_example("low-two-seater")
    now, due = standing(file.car, file.setup), standing(file.car, reference_of(file).setup).front.wheels("toe")
    short = [float(toe) - to_si(0.03, "deg") for toe in due]  # inside tolerance, until the heights take more of it
    made = replace(file, setup=replace(now, front=now.front.with_wheels("toe", *short)))
    page = build(made, baseline(made.car, made.setup), Candidate(), when=WHEN)
    for cell, then, ref in zip(rows(page)["toe mm"][:2], untouched(made).front.wheels("toe"), due, strict=True):
        assert from_si(ref - then, "deg") > 0.08
        assert not cell.out
        assert cell.ask == cell.book


def wheels(setup, field):
    return [float(v) for end in ENDS for v in getattr(setup, end).wheels(field)]


def test_after_work_the_heights_are_looked_into_and_no_figure_is_asked():
    _, _, page = page_of(visit=STORY | {"seats": "threaded, all four"})
    assert {c.ask for c in rows(page)["height mm"]} == {"look"}
    assert any("find why they are out" in line and "ring" in line for line in page.do)
    _, _, calm = page_of(visit=CALM | {"seats": "threaded, all four"})
    assert {c.ask for c in rows(calm)["height mm"]} == {"110", "120"}
    assert not any("find why" in line for line in calm.do)


def test_the_front_says_not_to_drive_hard_where_the_rear_sits_on_its_stops(story, tmp_path):
    words = " ".join(t.words for t in laid_out(story[2])[0].texts)
    assert "not to be driven hard until that is looked at" in words
    assert not page_of("coupe")[2].warning
    file = replace(story[0], path=tmp_path / "a.toml", origin={"rear.bump_gap": "typical"})
    guessed = build(file, baseline(file.car, file.setup), Candidate(), when=WHEN)
    assert not guessed.warning  # nobody read it
    assert {c.now for c in rows(guessed)["gap mm"][2:]} == {UNREAD}
    assert not any(c.out for c in rows(guessed)["gap mm"][2:])


def test_a_reading_in_question_stands_on_the_front_and_nothing_is_sure_of_it():
    asked = "rear left height is 76 mm off what it should be (441 mm)"
    page = page_of("coupe", visit=CALM | {"in_question": asked})[2]
    assert page.warning == f"READ AGAIN BEFORE ANYTHING IS SET: {asked}."
    more = page_of("coupe", visit=CALM | {"in_question": f"{asked}; another; a third"})[2]
    assert more.warning.endswith("(441 mm), and 2 more.")


def test_a_tie_at_the_rear_stop_and_the_springs_read_are_on_the_front(tmp_path):
    ties = {"ties": "12 | 14 | 0 | 3"}
    assert "HIT ITS BUMP STOPS IN A SESSION" in page_of("coupe", visit=CALM | ties)[2].warning
    for told in ("0 | 0 | 9 | 3", "– | – | – | –", ""):
        assert not page_of("coupe", visit=CALM | {"ties": told})[2].warning
    file = examples.load_example("coupe")
    file = replace(file, path=tmp_path / "a.toml", origin={"setup.rear.spring": "measured"})
    page = build(file, baseline(file.car, file.setup), Candidate(), when=WHEN)
    assert f"SPRINGS ON IT: rear {from_si(file.setup.rear.spring, 'N_per_mm'):.0f} N/mm" in page.able


def test_what_was_not_measured_is_neither_out_nor_asked_for(tmp_path):
    file = examples.load_example("coupe")
    read = {f"setup.{end}.{field}": "typical" for end in ENDS for field in ("toe", "camber", "pressure")}
    file = replace(file, path=tmp_path / "a.toml", origin=read, known=replace(file.known, figures=None))
    page = build(file, baseline(file.car, file.setup), Candidate(), when=WHEN)
    for name in ("toe mm", "camber °", "cold bar"):
        assert {(c.now, c.book, c.ask, c.out) for c in rows(page)[name]} == {(LOOK_UP, LOOK_UP, AS_NOW, False)}


def test_the_front_holds_tolerances_height_points_clicks_and_cautions_in_short(story):
    words = " ".join(t.words for t in laid_out(story[2])[0].texts)
    for said in ("toe ±0.08°", "height ±5 mm", "HEIGHTS: At the axle lines", "counted from full hard", "axle stands"):
        assert said in words


def test_the_event_is_whole_on_the_front():
    event = "an invented track day with a rather long name, the second of May"
    _, _, page = page_of(visit=STORY | {"event": event})
    assert event in " ".join(t.words for t in laid_out(page)[0].texts)


@pytest.mark.usefixtures("promised")
def test_the_back_asks_about_the_foot_of_the_complaint(monkeypatch):
    told, own = {}, setup_page.promise

    def listen(car, before, after, corner, was):
        told[corner.foot] = own(car, before, after, corner, was)
        return told[corner.foot]

    monkeypatch.setattr(setup_page, "promise", listen)
    left = CALM | {"corner": "a long left"}  # one turn only
    by_foot = {foot: page_of("coupe", visit=left | {"foot": foot})[2] for foot in ("braking", "foot just lifted")}
    why = {foot: " ".join(dict(page.back)["Why"]) for foot, page in by_foot.items()}
    assert "the brake on, 0.3 g together" in why["braking"]
    assert "quick lift" not in why["braking"]
    assert "a quick lift" in why["foot just lifted"]
    assert ["while it is braked so" in words for words in why.values()] == [True, False]
    corner = OwnCorner(foot="brake", turn="left").driven("left")
    assert (float(corner.lift), float(corner.brake)) == (0.10, 0.20)
    braked, lifted = told.values()
    assert next(iter(told)) == "brake"
    assert braked.speed != lifted.speed
    steady = " ".join(dict(page_of("coupe", visit=left | {"foot": "on the throttle"})[2].back)["Why"])
    assert "It happened on the throttle; these figures are for a lift" in steady


def test_what_the_book_does_not_give_is_not_asked_for():
    file = examples.load_example("low-two-seater")
    high = {path: v for path, v in file.known.figures.values.items() if path.endswith(".height")}
    _, base, page = page_of(visit=CALM, known={"figures": replace(file.known.figures, values=high)})
    for name in ("toe mm", "camber °"):
        assert {(c.book, c.ask) for c in rows(page)[name]} == {(LOOK_UP, AS_NOW)}
    assert rows(page)["toe mm"][3].out  # rear toe-out still stands out
    assert {c.ask for c in rows(page)["height mm"]} == {"110", "120"}
    assert float(base.setup.rear.wheels("toe")[1]) < 0


def test_the_references_own_tolerance_decides_what_is_marked():
    file = examples.load_example("low-two-seater")
    wide = {f"{end}.height": to_si(40, "mm") for end in ENDS} | {"rear_right.toe": to_si(2, "deg"), "cross_weight": 0.2}
    figures = replace(file.known.figures, tolerances=wide)
    _, _, page = page_of(known={"figures": figures})
    assert not any(cell.out for cell in rows(page)["height mm"])
    assert rows(page)["toe mm"][3].out  # toe-out at the rear is marked whatever the tolerance
    tight = replace(file.known.figures, tolerances={"front_left.camber": to_si(0.001, "deg")})
    own = file.setup.front.with_wheels("camber", *(v + to_si(0.1, "deg") for v in file.setup.front.wheels("camber")))
    _, _, page = page_of(known={"figures": tight})
    now = rows(page)["camber °"]
    file = replace(file, setup=replace(file.setup, front=own), known=replace(file.known, figures=tight, visit=STORY))
    cells = rows(build(file, baseline(file.car, file.setup), Candidate(), when=WHEN))["camber °"]
    assert cells[0].out  # a tenth of a degree, a hundred times what this reference allows at that wheel
    assert cells[1].out == now[1].out
