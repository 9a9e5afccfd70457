"""A request answered, and the page for the workshop written, sure of what it may be sure of."""

import re
from dataclasses import replace
from functools import partial

import numpy as np
import pytest
from cars import BRIEF_OR_SLOW, FIRST, FIRST_OR_SLOW, promise_of_the_story
from driving import drive, look

from vdlib.answers.doubts import doubts_of
from vdlib.answers.spread import spread
from vdlib.car import examples, shelf
from vdlib.car.records import Moment
from vdlib.draw.png import encode
from vdlib.garage import car_from, invented
from vdlib.garage import kept as kept_forms
from vdlib.panels import helps, how_sure, request, whatif, whatif_words
from vdlib.panels import page as workshop_page
from vdlib.panels.onscreen import cleared
from vdlib.setup import page as setup_page
from vdlib.setup import saved as saved_whatifs
from vdlib.setup.advice import KINDS, Ask
from vdlib.setup.candidate import Candidate, baseline, put
from vdlib.setup.request import share_better
from vdlib.units import G, number

pytestmark = pytest.mark.unpainted


@pytest.fixture(autouse=True)
def shelf_of_its_own(tmp_path, monkeypatch):
    monkeypatch.setenv(shelf.VARIABLE, str(tmp_path / "cars"))
    cleared()


@pytest.fixture
def unprinted(monkeypatch):
    """The page is laid out, but neither drawn nor printed, hundreds of cars are asked, and its promise is the story's;
    where it is written and says where, it is both, thousands are, and its promise is its own."""
    monkeypatch.setattr(setup_page, "promise", lambda *_: promise_of_the_story())
    monkeypatch.setattr(workshop_page, "decide", partial(workshop_page.decide, count=300))
    monkeypatch.setattr(workshop_page, "picture", lambda leaf, title: encode(np.zeros((1, 1, 3), np.uint8)))
    monkeypatch.setattr(workshop_page, "pdf", lambda leaves, title: b"%PDF")


FEW = (
    {"lateral": 1.5},
    {"goal": "steering", "request": "amount", "amount": 20.0, "start": "reference"},
)
"""One that cannot be answered, and one that asks for more than there is; walks move the controls further."""


@pytest.mark.parametrize(("name", "brief"), BRIEF_OR_SLOW)
def test_request_panel_at_every_end(name, brief):
    desk = request.panel(examples.load_example(name))
    if brief:
        first = desk.panel.controls.first
        visits = [look(desk.panel)]
        for change in FEW:
            desk.panel.set_all(first | change)
            visits.append(look(desk.panel))
    else:
        visits = drive(desk.panel, again=False)
    assert not [visit.message for visit in visits if visit.message]
    for visit in visits:
        answer = visit.result.answer
        assert visit.state["request"] != "even" or answer.ask.goal == "gap"
        if not np.isfinite(answer.start):
            assert "cannot be answered here" in visit.words
        elif answer.already:
            past = visit.state["request"] == "even" and abs(answer.start) > 5e-4
            assert ("that is past" if past else "Nothing to do") in visit.words
        elif answer.reached:
            assert re.search(r"<b>Change .*: .* now, .* then; .* is asked for", visit.words)
            assert f"your corner forgives {visit.result.promised.gain}" in visit.words.partition("</b>")[0]
        elif visit.result.wanted:
            assert "No allowed change was found" in visit.words


def test_ends_that_do_not_let_go_together_are_not_said_to():
    desk = request.panel(examples.load_example("low-two-seater"))
    desk.panel.set_all({"request": "even", "way": -1})
    answer = desk.panel.result.answer
    assert answer.already
    assert answer.start < -0.01  # in g: the rear lets go first
    told = re.search("<b>(.*?)</b>", desk.panel.words_html.value)[1]
    assert "Nothing to do" not in told
    assert f"is {number(answer.start, 3)} g now" in told
    assert "For both ends to let go together choose “a calmer rear”" in told


def test_an_answer_becomes_the_whatif_and_its_sureness_is_told(monkeypatch):
    monkeypatch.setattr(request, "sure_words", partial(request.sure_words, count=500))
    file = examples.load_example("two-seater")
    first, desk = whatif.panel(file), request.panel(file)
    desk.panel.set_all({"request": "amount", "goal": "steering", "amount": 2.0})
    answer = desk.panel.result.answer
    assert answer.steps
    desk.sure_button.click()
    assert "of 500 plausible cars" in desk.message.value
    desk.take_button.click()
    taken = first.candidate(first.panel.state)
    assert first.name.value == "a calmer rear throttle closed"
    assert "To keep it, press Save it" in desk.message.value
    for path, step in answer.steps.items():
        now = dict(vars(getattr(first.bench.base.setup, path.split(".")[0])))[path.split(".")[1]]
        assert taken.settings[path] == pytest.approx(now + step)
    assert first.panel.result.found.angle[1, 1] == pytest.approx(answer.found.angle[1, 1], abs=1e-7)
    tried = desk.panel.rough(desk.panel.state | {"start": "what-if"})
    assert tried.answer.start == pytest.approx(answer.end, abs=1e-4)
    desk.panel.set_all({"start": "stands", **dict.fromkeys(KINDS, False)})
    assert "tick at least one kind" in desk.panel.words_html.value
    desk.sure_button.click()
    assert "nothing to be sure of" in desk.message.value


@pytest.mark.usefixtures("unprinted")
def test_the_page_is_sure_only_of_what_can_be_set():
    file = examples.load_example("two-seater")
    first = whatif.panel(file)
    desk = workshop_page.panel(file)
    desk.source.value = workshop_page.ABOVE
    first.panel.set("rear_toe", round(first.panel.state["rear_toe"] + 0.03, 2))
    back = dict(desk.make().back)
    assert "rear toe" in back["Left as now, being less than can be set"][0]
    assert "Nothing is asked for" in back["How sure"][0]
    first.panel.set("rear_bar", first.panel.state["rear_bar"] - 50)
    both = desk.make()
    first.panel.set("rear_toe", first.panel.controls.first["rear_toe"])
    alone = desk.make()
    assert dict(both.back)["How sure"] == dict(alone.back)["How sure"]
    assert both.wheels == alone.wheels


def test_how_sure_takes_kinds_and_errors_from_the_measuring_form():
    day = invented.invented_day(examples.load_example("coupe")).with_choice("start.rear", "trailing arm")
    readings = replace(day, invented=False)
    kept_forms.save_form(readings)
    file = car_from.save_measured_car(readings)
    kinds, errors = how_sure.known_of(file)
    assert (kinds.rear, len(errors) > 10) == ("trailing arm", True)
    base = baseline(file.car, file.setup)
    softer = replace(base, setup=put(base.setup, "rear.toe", base.setup.rear.toe + 2e-3))
    share = share_better(file, kinds, base, softer, Ask(), 2000, errors=errors)
    assert f" {100 * share:.0f} % of 2,000" in request.sure_words(file, base, softer, Ask(), 2000)
    assert share != share_better(file, kinds, base, softer, Ask(), 2000)


@pytest.mark.parametrize("name", FIRST_OR_SLOW)
def test_the_page_is_written_and_says_where(name, monkeypatch):
    if name == FIRST:  # every run: its promise is the story's, and hundreds of cars are asked
        monkeypatch.setattr(setup_page, "promise", lambda *_: promise_of_the_story())
        monkeypatch.setattr(workshop_page, "decide", partial(workshop_page.decide, count=300))
    file = examples.load_example(name)
    first = whatif.panel(file)
    first.panel.set_all({"rear_bar": first.panel.state["rear_bar"] - 20, "load_mass": -40.0})
    desk = workshop_page.panel(file)
    desk.source.value = workshop_page.ABOVE
    desk.felt.value = "The rear came round.\n" + "again and " * 200
    assert "Kept in" in desk.note.value
    assert "are cut there" in desk.note.value
    assert saved_whatifs.kept_felt(file) == desk.felt.value
    desk.write_button.click()
    folder = saved_whatifs.whatif_folder(file)
    assert str(folder) in desk.message.value
    pdf, html = folder / "page what-if.pdf", folder / "page what-if.html"
    assert pdf.read_bytes().startswith(b"%PDF")
    text = html.read_text(encoding="utf-8")
    for words in ("The rear came round.", "plausible cars", "rear anti-roll bar −", "bolted to the"):
        assert words in text
    assert "Nm/deg" not in text
    assert all(bytes(image.value).startswith(b"\x89PNG") for image in desk.images)
    again = workshop_page.panel(file)
    assert again.felt.value == desk.felt.value


@pytest.mark.usefixtures("unprinted")
def test_an_untouched_page_asks_to_go_back_to_the_reference():
    file = examples.load_example("low-two-seater")
    desk = workshop_page.panel(file)
    desk.write_button.click()
    assert desk.page.asked == "back to the reference"
    assert saved_whatifs.whatif_names(file) == ("back to the reference",)  # for workbook 10


@pytest.mark.usefixtures("unprinted")
def test_while_the_page_is_made_the_old_one_is_gone_and_work_is_said(monkeypatch):
    desk = workshop_page.panel(examples.load_example("low-two-seater"))
    desk.look_button.click()
    assert all(bytes(image.value) and image.layout.display == "" for image in desk.images)
    seen, make = [], desk.make

    def slow():
        seen.append(([(bytes(i.value), i.layout.display) for i in desk.images], desk.message.value))
        return make()

    monkeypatch.setattr(desk, "make", slow)
    desk.look_button.click()
    ((shown, told),) = seen
    assert shown == [(b"", "none")] * 2
    assert workshop_page.WORKING in told
    assert workshop_page.WORKING not in desk.message.value
    assert all(image.layout.display == "" for image in desk.images)


@pytest.mark.usefixtures("unprinted")
def test_what_a_written_page_asks_for_is_kept_as_a_whatif():
    file = examples.load_example("two-seater")
    first, desk = whatif.panel(file), workshop_page.panel(file)
    desk.source.value = workshop_page.ABOVE
    first.panel.set("rear_bar", first.panel.state["rear_bar"] - 20)
    first.name.value = "softer"
    first.panel.refresh()
    desk.write_button.click()
    assert "is saved as the what-if &#x27;softer&#x27;" in desk.message.value
    assert saved_whatifs.load_whatif(file, "softer").settings == first.bench.candidate.settings
    assert first.list.options == ("softer",)
    first.panel.set("rear_bar", first.panel.state["rear_bar"] - 20)
    desk.write_button.click()
    assert "is not saved as a what-if" in desk.message.value
    assert "is taken by a what-if with other settings" in desk.message.value
    assert saved_whatifs.load_whatif(file, "softer").settings != first.bench.candidate.settings


def test_balance_and_gap_that_part_ways_are_said_to_do_so():
    file = examples.load_example("coupe")
    desk = whatif.panel(file)
    kinds = set()
    for front, rear in ((0.3, -0.3), (0.3, 0.0), (0.0, -0.3), (-0.3, 0.3)):
        start = desk.panel.controls.first
        desk.panel.set_all(
            {"front_pressure": start["front_pressure"] + front, "rear_pressure": start["rear_pressure"] + rear}
        )
        shown = desk.panel.result
        at = shown.found.phases.index(shown.phase)
        gap = float(shown.found.gap[1, at] - shown.found.gap[0, at])
        turned = float(shown.ledger.total)
        told = abs(np.degrees(turned)) >= 0.005 and abs(gap) >= 5e-4 * G  # less is no change to speak of
        felt = abs(np.degrees(turned)) >= helps.FELT["steering"] or abs(gap) >= helps.FELT["gap"] * G
        apart = told and felt and turned * gap < 0
        assert ("too small to feel" in desk.panel.words_html.value) != felt
        assert (whatif_words.APART in desk.panel.words_html.value) == apart
        kinds.add(apart)
    desk.panel.set_all({"front_pressure": start["front_pressure"], "rear_pressure": start["rear_pressure"]})
    desk.panel.set("rear_bar", desk.panel.state["rear_bar"] - 60)
    assert whatif_words.APART not in desk.panel.words_html.value
    assert True in kinds


@pytest.mark.usefixtures("unprinted")
def test_a_page_that_cannot_be_written_says_so():
    file = examples.load_example("hatch")
    whatif.panel(file)
    desk = workshop_page.panel(file)
    folder = saved_whatifs.whatif_folder(file)
    folder.parent.mkdir(parents=True, exist_ok=True)
    folder.write_text("in the way")
    desk.write_button.click()
    assert "File exists" in desk.message.value
    desk.felt.value = "words"
    assert "File exists" in desk.note.value
    assert desk.felt.value == "words"


@pytest.fixture(scope="module")
def form_car(tmp_path_factory):
    """A car saved by the form with its bars not measured: typical ones stand in the file."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv(shelf.VARIABLE, str(tmp_path_factory.mktemp("form-car")))
        return _form_car()


def _form_car():
    day = invented.invented_day(examples.load_example("coupe"))
    bars = {f"springs.{end}_bar": "not measured" for end in ("front", "rear")}
    typed = {key: text for key, text in day.typed.items() if not key.startswith("springs.")}
    made = replace(day, name="bars not measured", typed=typed, chosen=day.chosen | bars, invented=False)
    kept_forms.save_form(made)
    return car_from.save_measured_car(made)


@pytest.mark.usefixtures("unprinted")
@pytest.mark.parametrize(
    ("path", "part"),
    [
        ("front.bar", 0.0),
        ("rear.spring", 0.2),
        *(pytest.param("front.bar", p, marks=pytest.mark.slow) for p in (0.5, 1.5, 0.75, 0.2)),
        pytest.param("rear.spring", 0.5, marks=pytest.mark.slow),
    ],
)
def test_a_part_of_a_bar_or_spring_nobody_measured_still_has_its_page_and_its_sureness(form_car, path, part):
    desk = workshop_page.panel(form_car)
    desk.source.value = workshop_page.ABOVE
    bench = desk.bench
    end, _, field = path.partition(".")
    now = float(getattr(getattr(bench.base.setup, end), field))
    bench.take(Candidate("less of it", {path: part * now}))
    sure = request.sure_words(bench.file, bench.base, bench.version, Ask(), 500)
    assert "plausible cars" in sure
    desk.write_button.click()
    assert "Written" in desk.message.value, desk.message.value


def test_an_unmeasured_bar_errs_by_the_same_part_whatever_is_left_of_it(form_car):
    base = baseline(form_car.car, form_car.setup)
    found = {}
    for part in (1.0, 0.5, 0.0):
        after = put(base.setup, "front.bar", part * float(base.setup.front.bar))
        kinds, errors = how_sure.known_of(form_car)
        doubts = [d for d in doubts_of(form_car, kinds, errors) if d.path == "setup.front.bar"]
        one = spread(base.car, base.setup, after, Moment(30.0, 6.0), doubts, 400)
        found[part] = one
    assert np.std(found[0.0].after) == pytest.approx(0, abs=1e-12)  # no bar is no bar in every one of them
    assert 0 < np.std(found[0.5].after) < np.std(found[1.0].after)
    np.testing.assert_allclose(found[0.0].before, found[1.0].before)
