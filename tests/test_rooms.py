"""The map in the guide is drawn from today's imports."""

from rooms import END, GUIDE, START, drawing, edges, floors


def test_the_map_is_up_to_date():
    text = GUIDE.read_text("utf-8")
    assert text.count(START) == text.count(END) == 1
    shown = START + text.partition(START)[2].partition(END)[0] + END
    assert shown == drawing(), "run python -m tests.rooms"


def test_every_module_stands_on_lower_floors_only():
    place = {f"vdlib.{name}": floor for floor, names in enumerate(floors()) for name in names}
    graph = edges()
    assert place["vdlib.units"] == 0
    assert "vdlib.trim" in graph["vdlib.balance"]
    assert all(
        place[other] < place[name] for name in graph for other in graph[name] if name in place and other in place
    )
