"""Pictures of versions side by side, of what each setting can do, and the marks that tell the versions apart."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
from matplotlib.axes import Axes

from ..answers.ledger import Ledger
from ..answers.sentences import PHASE_WORDS
from ..setup.whatif import MOST, Comparison
from ..units import Array, G, from_si, number
from .frame import SCALES, fixed, scale_for, span
from .style import FONT, ROLES, fill, line, start, tidy

VERSION_ROLES = ("reference", "now", "inner", "outer", "muted")
"""Roles of the versions in their order: the car as it stands, the what-if, then saved ones."""
MARKS = ("◆", "★", "◀", "▶", "•")
"""Their marks, in the same order."""
ROWS = 8
"""Rows of the ledger: its largest causes, the rest together, and the total."""
WHEELS = ("front left", "front right", "rear left", "rear right")
_WIDTH = 0.15  # of one version's mark within a phase or wheel

NOTE = {"fontsize": FONT["note"], "va": "bottom"}


class WhatIf:
    """Four drawings of one ``Comparison`` and the ledger of its second version, in one live picture."""

    def __init__(self, first: str = "as it stands", second: str = "this what-if") -> None:
        """Build the picture; its first two versions are told apart by their marks and named so."""
        alt = (
            "Versions of a car side by side: extra steering through the corner, where each end lets go, wheel loads, "
            "and what each changed setting does to the balance."
        )
        self.picture, axes = start(660, 440, alt, 2, 2, height_ratios=[1, 1], width_ratios=[1, 1])
        fixed(self.picture, left=0.065, right=0.985, top=0.945, bottom=0.065, wspace=0.17, hspace=0.5)
        (self.balance, self.limits), (self.loads, self.bars) = axes
        self._phases(self.balance, "Extra steering [deg]")
        self._phases(self.limits, "Limit [g] (filled front, hollow rear)")
        self.loads.set_xticks(range(4), WHEELS)
        self._title(self.loads, "Wheel loads [kg]")
        self.loads.set_xlim(-0.5, 3.5)
        keep = self.picture.moving
        self.own = (first, second)
        self.names = keep(self.balance.text(0.98, 0.06, "", ha="right", transform=self.balance.transAxes, **NOTE))
        self.balance.axhline(0, color="black", linewidth=1)
        self.curves, self.ends, self.columns = [], [], []
        for role in VERSION_ROLES:
            marks = {"marker": ROLES[role].marker, "markersize": 9 if role != "now" else 13, "markeredgecolor": "black"}
            (curve,) = self.balance.plot([], [], **line(role, linewidth=1.6, **marks))
            pair = []
            hollow = {"markerfacecolor": "white", "markeredgecolor": ROLES[role].colour, "markeredgewidth": 1.6}
            for look in ({}, hollow):
                (mark,) = self.limits.plot([], [], **line(role, **(marks | look | {"linestyle": "none"})))
                pair.append(keep(mark))
            self.curves.append(keep(curve))
            self.ends.append(pair)
            bars = self.loads.bar(np.arange(4), 0.0, width=_WIDTH, **fill(role))
            self.columns.append([keep(bar) for bar in bars])
        self._ledger()

    def _title(self, axes: Axes, text: str) -> None:
        axes.set_title(text, fontsize=FONT["label"], loc="left")

    def _phases(self, axes: Axes, title: str) -> None:
        axes.set_xticks(range(len(PHASE_WORDS)), [words.replace(" ", "\n", 1) for words in PHASE_WORDS.values()])
        self._title(axes, title)
        axes.set(xlim=(-0.5, len(PHASE_WORDS) - 0.5))

    def _ledger(self) -> None:
        tidy(self.bars, "", "")
        self.bars.set_title("Change [deg]: ← oversteer, understeer →", fontsize=FONT["label"], loc="left")
        rows = np.arange(ROWS, dtype=float)
        rows[-1] += 0.3
        self.bars.set(ylim=(rows[-1] + 0.6, -0.6), xlim=(-1, 1), yticks=[])
        self.bars.axvline(0, color="black", linewidth=1)
        keep = self.picture.moving
        self.parts = [keep(patch) for patch in self.bars.barh(rows, 0.0, height=0.7, linewidth=0.8)]
        own = {"va": "center", "fontsize": FONT["note"]}
        self.labels = [keep(self.bars.text(0, y, "", ha="left", **own)) for y in rows]
        self.values = [keep(self.bars.text(0, y, "", ha="right", **own)) for y in rows]

    def draw(self, found: Comparison, ledger: Ledger | None, phase: str) -> None:
        """Move everything to one comparison.

        Parameters:
            found: the versions, the car as it stands first, in all phases [-]
            ledger: of the second version against the first; None where it has no steady corner [-]
            phase: the phase whose loads are shown [-]
        """
        angle, limit = from_si(found.angle, "deg"), np.where(np.isfinite(found.limit), found.limit / G, np.nan)
        at = found.phases.index(phase)
        count, x = len(found.names), np.arange(len(found.phases))
        names = [*self.own, *(f"{name[:24]}…" if len(name) > 25 else name for name in found.names[2:])]
        self.names.set_text("\n".join(f"{mark} {name}" for mark, name in zip(MARKS, names, strict=False)))
        self.picture.frame(self.balance, self.balance.get_xlim(), span(angle, 0.5, 1.0))
        self.picture.frame(self.limits, self.limits.get_xlim(), span(limit, 0.05, 0.1))
        kilograms = found.load[..., at] / G
        self.picture.frame(self.loads, self.loads.get_xlim(), (0.0, span(kilograms, 100.0, 200.0)[1]))
        for i in range(MOST):
            shown, offset = i < count, (i - 0.5 * (count - 1)) * _WIDTH
            self.curves[i].set_data(*((x + 0.5 * offset, angle[i]) if shown else ([], [])))
            for end in (0, 1):
                self.ends[i][end].set_data(*((x + offset, limit[end, i]) if shown else ([], [])))
            for wheel, bar in enumerate(self.columns[i]):
                bar.set_height(float(kilograms[wheel // 2, wheel % 2, i]) if shown else 0.0)
                bar.set_visible(shown)
                bar.set_x(wheel + offset - 0.5 * _WIDTH)
        self._draw_ledger(ledger)

    def _draw_ledger(self, ledger: Ledger | None) -> None:
        rows: list[tuple[str, float]] = []
        if ledger is not None:
            parts = from_si(ledger.parts, "deg")
            order = sorted(range(len(parts)), key=lambda i: -abs(parts[i]))
            rows = [(ledger.causes[i], float(parts[i])) for i in order[: ROWS - 2]]
            if len(order) > ROWS - 2:
                rows.append(("the others together", float(sum(parts[i] for i in order[ROWS - 2 :]))))
        total = float(from_si(ledger.total, "deg")) if ledger is not None else np.nan
        wide = scale_for(np.array([total, *(v for _, v in rows)]), SCALES)
        self.bars.set_xticks([-wide, 0, wide])
        self.picture.frame(self.bars, (-2.6 * wide, 1.6 * wide), self.bars.get_ylim())
        rows += [("", 0.0)] * (ROWS - 1 - len(rows)) + [("all together", total)]
        for patch, label, text, (name, size) in zip(self.parts, self.labels, self.values, rows, strict=True):
            known = bool(np.isfinite(size))
            patch.set_width(size if known else 0.0)
            patch.set(**fill("toward_understeer" if size >= 0 else "toward_oversteer"))
            patch.set_visible(bool(name))
            label.set_text(name)
            label.set_x(-2.58 * wide)
            text.set_text(
                "" if not name else number(size, 3 if wide < 0.5 else 2, sign=True) if known else "past the limit"
            )
            text.set_x(1.58 * wide)


class Helps:
    """Ranked bars: how far each setting alone can move a goal within its bounds."""

    def __init__(self, count: int) -> None:
        """Build the picture for at most so many settings; the rows left over stay empty."""
        alt = "How far each setting alone can move the chosen goal within its bounds, the best first."
        self.picture, axes = start(660, 60 + 26 * count, alt)
        fixed(self.picture, left=0.01, right=0.99, top=0.99, bottom=50 / (60 + 26 * count))
        self.axes: Any = tidy(axes)
        self.axes.set(ylim=(count - 0.4, -0.6), yticks=[], xlim=(-1, 1))
        self.axes.axvline(0, color="black", linewidth=1)
        keep = self.picture.moving
        below: dict[str, Any] = {"transform": self.axes.transAxes, "ha": "center", "fontsize": FONT["label"]}
        self.unit = keep(self.axes.text(0.5, -40 / (10 + 26 * count), "", **below))
        self.bars = [keep(bar) for bar in self.axes.barh(range(count), 0.0, height=0.7, **fill("now"))]
        own: dict[str, Any] = {"va": "center", "fontsize": FONT["tick"]}
        self.labels = [keep(self.axes.text(0, y, "", ha="left", **own)) for y in range(count)]
        self.values = [keep(self.axes.text(0, y, "", ha="left", **own)) for y in range(count)]

    def draw(self, names: Sequence[str], reach: Array, told: Sequence[str], unit: str) -> None:
        """Show one ranking.

        Parameters:
            names: plain names, the best first [-]
            reach: gain at the end of each one's room [any]
            told: what is written beside each bar [-]
            unit: unit of the gain [-]
        """
        self.unit.set_text(f"how far the allowed change helps, this setting alone [{unit}]")
        wide = scale_for(reach, [a * b for a in (0.001, 0.01, 0.1, 1.0, 10.0) for b in (1, 2, 5)])
        self.axes.set_xticks([0, 0.5 * wide, wide])
        self.picture.frame(self.axes, (-1.45 * wide, 1.9 * wide), self.axes.get_ylim())
        spare = len(self.bars) - len(names)
        rows = zip((*names, *[""] * spare), (*reach, *[np.nan] * spare), (*told, *[""] * spare), strict=True)
        for bar, label, value, (name, size, words) in zip(self.bars, self.labels, self.values, rows, strict=True):
            known = bool(np.isfinite(size))
            bar.set_width(float(size) if known else 0.0)
            bar.set(**fill("front" if name.startswith("front") else "rear"))
            label.set(text=name, x=-1.42 * wide)
            value.set(text=words, x=max(float(size) if known else 0.0, 0.0) + 0.03 * wide)
