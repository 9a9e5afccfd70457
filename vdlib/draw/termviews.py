"""A small picture for every setup word: one number of the car moves, everything else stands still."""

from __future__ import annotations

from typing import Any

from ..answers.sentences import attitude_words
from ..car.carfile import CarFile
from ..units import number, to_si
from .carviews import FrontView, SideView, TopView
from .live import LivePicture
from .scenes import SCENES
from .style import start


class TermPicture:
    """Three views of the car on one spot, of which one is seen."""

    def __init__(self, file: CarFile, width: int = 520, height: int = 330) -> None:
        """Draw the car of the file."""
        self.file = file
        picture, axes = start(width, height, "the car from above, from the side or from behind, with one part moving")
        self.picture: LivePicture = picture
        spot = [axes, *(picture.figure.add_axes((0.0, 0.0, 1.0, 1.0)) for _ in range(2))]
        axes.set_position((0.0, 0.0, 1.0, 1.0))
        self.views: dict[str, Any] = {
            "top": TopView(picture, spot[0], file.car),
            "side": SideView(picture, spot[1], file.car),
            "behind": FrontView(picture, spot[2], file.car),
        }
        self.seen = ""

    def draw(self, key: str, value: float) -> None:
        """Show one word's picture at a number.

        Parameters:
            key: the word's key [-]
            value: its number in the word's unit [any]
        """
        scene = SCENES[key]
        if scene.view != self.seen:
            for name, view in self.views.items():
                view.show(name == scene.view)
            self.seen = scene.view
        self.views[scene.view].update(**scene.pose(self.file, value), times=scene.times)


def value_words(key: str, value: float, unit: str) -> str:
    """Write a word's number; the body's slope only as nose-high or nose-low.

    Parameters:
        key: the word's key [-]
        value: its number in that unit [any]
        unit: the unit's label [-]

    Returns:
        such as "141.0 mm" or "nose-high by 34 mm" [-]
    """
    if key == "attitude":
        return attitude_words(to_si(value, "mm"))
    return f"{number(value, SCENES[key].decimals)} {unit}".strip()


def told(file: CarFile, key: str, value: float, unit: str) -> str:
    """Describe what is drawn, with the number drawn and the one the picture starts from.

    Parameters:
        file: the car file [-]
        key: the word's key [-]
        value: the number drawn, in that unit [any]
        unit: the unit's label [-]

    Returns:
        two sentences [-]
    """
    scene = SCENES[key]
    larger = f", exaggerated {scene.times:g} times" if scene.times != 1 else ""
    start, now = (value_words(key, v, unit) for v in (scene.value(file, 0), value))
    moved = f"Now {now}; at the start {start}." if now != start else f"At the start: {start}."
    return f"Drawn: {scene.shows}{larger}. {moved}"
