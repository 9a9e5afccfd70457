"""What stands on the screen of one notebook: its choosers of the car, the car last chosen, the what-ifs being tried.

There is one for a kernel, and ``onscreen`` gives it to whoever makes a part of the page. A part keeps the one that it
was made for, and whatever is closed leaves it: nothing here keeps a panel alive.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, TypeVar
from weakref import WeakSet, WeakValueDictionary

from .later import Later

Part = TypeVar("Part")


class OnScreen:
    """The parts of one notebook that have to know of each other."""

    def __init__(self) -> None:
        """Start with an empty screen."""
        self.choosers: WeakSet[Any] = WeakSet()
        """Every chooser of the car."""
        self._following: WeakValueDictionary[Any, Any] = WeakValueDictionary()
        self._whatifs: WeakValueDictionary[tuple[str, str], Any] = WeakValueDictionary()
        self.last: tuple[str, tuple[str, str]] | None = None
        """Which saved car was open when a car was last chosen here, and that choice."""
        self.form = ""
        """The name of the car whose form is open in this notebook; empty where it shows no form."""
        self.later = Later()
        """What of it is still to be made."""

    @property
    def following(self) -> list[Any]:
        """The choosers that show each other's car, in the order in which they were made."""
        return list(self._following.values())

    def former(self, makers: object) -> Any:
        """Return the chooser that the same cell made before; None where there is none.

        Parameters:
            makers: what the cell shows [-]

        Returns:
            a chooser or None [-]
        """
        return self._following.get(makers)

    def follow(self, makers: object, chooser: object) -> None:
        """Let a chooser follow the others, in the place of the one that the same cell made before.

        Parameters:
            makers: what the cell shows [-]
            chooser: the chooser [-]
        """
        self._following[makers] = chooser

    def whatif(self, key: tuple[str, str], make: Callable[[], Part]) -> Part:
        """Return what all panels of one car share, made for the first of them.

        Parameters:
            key: the car's file and its text [-]
            make: makes it [-]

        Returns:
            the same for every panel that is still there [-]
        """
        found = self._whatifs.get(key)
        if found is None:
            found = self._whatifs[key] = make()
        return found

    @property
    def whatifs(self) -> list[Any]:
        """What the panels share, one for each car that is shown."""
        return list(self._whatifs.values())


_here = [OnScreen()]


def onscreen() -> OnScreen:
    """Return the screen of this kernel.

    Returns:
        an ``OnScreen`` [-]
    """
    return _here[0]


def cleared() -> OnScreen:
    """Begin another, empty screen, as a new kernel does.

    Returns:
        an ``OnScreen`` [-]
    """
    _here[0] = OnScreen()
    return _here[0]
