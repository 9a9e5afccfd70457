"""The rooms: drawn in the guide from today's imports, no import upward, and only the open modules used from outside."""

import ast

import pytest
from rooms import CORE, END, GUIDE, PATHS, ROOMS, START, TREES, drawing, edges, floors, open_modules, room, room_edges


def test_the_map_is_up_to_date():
    text = GUIDE.read_text("utf-8")
    assert text.count(START) == text.count(END) == 1
    shown = START + text.partition(START)[2].partition(END)[0] + END
    assert shown == drawing(), "run python -m tests.rooms"


def test_no_room_imports_upward():
    place = {name: floor for floor, names in enumerate(floors()) for name in names}
    assert place["vdlib.units"] == 0
    assert {"vdlib.trim", "vdlib.car"} <= room_edges()["vdlib.answers"]
    assert all(place[other] < place[name] for name, others in room_edges().items() for other in others)


def test_only_open_modules_are_used_from_other_rooms():
    used: dict[str, set[str]] = {name: set() for name in ROOMS}
    for name, targets in edges().items():
        for target in targets:
            if room(target) in used and room(target) != room(name) and target != room(target):
                used[room(target)].add(target.split(".")[2])
    closed = {name: sorted(used[name] - set(open_modules(name))) for name in ROOMS if open_modules(name)}
    assert not any(closed.values()), closed
    idle = {name: sorted(set(open_modules(name)) - used[name]) for name in ROOMS}
    assert not any(idle.values()), f"open, yet no other room uses it: {idle}"
    assert sum(map(len, used.values())) > 30


@pytest.mark.parametrize("name", [n for n in ROOMS if not n.endswith((".draw", ".panels"))])
def test_a_room_says_what_lives_in_it_and_costs_nothing_to_import(name):
    text = ast.get_docstring(TREES[name]) or ""
    assert text.count(".") >= 3
    assert open_modules(name)
    assert not [n for n in TREES[name].body if isinstance(n, ast.Import | ast.ImportFrom)]


def test_names_say_what_they_are():
    known = ("__init__", "__main__")
    assert not [str(path) for path in PATHS.values() if path.stem.startswith("_") and path.stem not in known]
    assert len([n for n in CORE if n.count(".") == 1 and n not in ROOMS]) <= 8
