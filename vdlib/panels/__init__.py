"""Widgets that drive the pictures; here the controls in plain words: slider, toggle and choice."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal
from math import isclose
from typing import Any

import ipywidgets as widgets

from ..shown import head, retold


def slider(label: str, low: float, high: float, step: float, value: float, unit: str = "", tooltip: str = "") -> Any:
    """Make a slider; arrow keys move it by one step, and its readout can be typed in.

    Parameters:
        label: what it changes, in plain words [-]
        low: smallest value [any]
        high: largest value, a whole number of steps above the smallest [any]
        step: smallest change [any]
        value: starting value [any]
        unit: the unit written after the readout [-]
        tooltip: a sentence about it; made from label and range if empty [-]

    Returns:
        an ipywidgets ``FloatSlider`` with the attribute ``unit`` [-]

    Errors:
        ``ValueError`` if value or step do not fit the range.
    """
    steps = (high - low) / step
    if not low <= value <= high or not isclose(steps, round(steps), abs_tol=1e-6) or round(steps) < 1:
        raise ValueError(f"{label}: {low} to {high} in steps of {step}, starting at {value}, does not fit")
    decimals = _decimals(step)
    made = widgets.FloatSlider(
        value=value,
        min=low,
        max=high,
        step=step,
        description=label,
        tooltip=retold(tooltip or f"{label}, from {low:g} to {high:g} {unit}".rstrip()),
        readout_format=f".{decimals}f",
        continuous_update=True,
    )
    made.unit = unit
    return made


def own_slider(label: str, low: float, high: float, step: float, own: float, unit: str = "", tooltip: str = "") -> Any:
    """Make a slider for a number of the open car: it starts at that, and reaches it whatever it is.

    Parameters:
        label: what it changes, in plain words [-]
        low: smallest value, lower where the car's own number is [any]
        high: largest value, higher where the car's own number is [any]
        step: smallest change [any]
        own: the car's own number; the slider starts at the step nearest to it [any]
        unit: the unit written after the readout [-]
        tooltip: a sentence about it; made from label and range if empty [-]

    Returns:
        a slider [-]

    >>> wide = own_slider("Front anti-roll bar", 0, 1000, 10, 1234, "Nm/deg")
    >>> wide.value, wide.min, wide.max
    (1230.0, 0.0, 1230.0)
    """
    first, start = round(low / step), round(own / step)
    last = max(round(high / step), start, first + 1)
    places = max(_decimals(step), 0)
    ends = (round(place * step, places) for place in (min(first, start), last, start))
    least, most, value = ends
    return slider(label, least, most, step, value, unit, tooltip)


def toggle(label: str, value: bool, tooltip: str = "") -> Any:
    """Make a tick box.

    Parameters:
        label: what is so when it is ticked [-]
        value: starting value [-]
        tooltip: a sentence about it; the label if empty [-]

    Returns:
        an ipywidgets ``Checkbox`` [-]
    """
    return widgets.Checkbox(
        value=value,
        description=retold(label),
        tooltip=retold(tooltip or label),
        indent=False,
        layout=widgets.Layout(width="auto"),
    )


def choice(label: str, options: Sequence[Any], value: Any, tooltip: str = "") -> Any:
    """Make a drop-down list.

    Parameters:
        label: what is chosen [-]
        options: texts, or pairs of text and value [-]
        value: starting value [-]
        tooltip: a sentence about it; the label if empty [-]

    Returns:
        an ipywidgets ``Dropdown`` [-]
    """
    shown = [(head(retold(one[0])), one[1]) if isinstance(one, tuple) else one for one in options]
    return widgets.Dropdown(options=shown, value=value, description=label, tooltip=retold(tooltip or label))


def unit_of(control: Any) -> str:
    """Return the unit a slider was made with, or an empty text.

    Parameters:
        control: any widget [-]

    Returns:
        the unit's label [-]
    """
    return str(getattr(control, "unit", ""))


def on_step(control: Any) -> Any:
    """Return a control's value; a slider's is rounded to its step, for a key press yields 14.999999999999998.

    Parameters:
        control: any widget with a value [-]

    Returns:
        the value [any]
    """
    return to_step(control, control.value)


def to_step(control: Any, value: Any) -> Any:
    """Return a value as ``on_step`` would if the control had it.

    Parameters:
        control: any widget with a value [-]
        value: a value of it [any]

    Returns:
        the value, on a slider's step [any]
    """
    return _value(control, _place(control, value)) if isinstance(control, widgets.FloatSlider) else value


def next_steps(control: Any, before: Any, count: int) -> list[Any]:
    """Return the values that a slider will likely take next: as far again the same way, and those around that.

    Parameters:
        control: any widget with a value [-]
        before: its value before the last move [any]
        count: how many values [-]

    Returns:
        up to ``count`` values as ``on_step`` would give them, the likeliest first; none for what is no slider [any]
    """
    if not isinstance(control, widgets.FloatSlider | widgets.IntSlider):
        return []
    here, last = _place(control, control.value), _place(control, control.max)
    moved = here - _place(control, before)
    likely = min(max(here + (moved if abs(moved) <= count else (moved > 0) - (moved < 0)), 0), last)
    around = range(max(likely - count, 0), min(likely + count, last) + 1)
    places = sorted((place for place in around if place != here), key=lambda place: abs(place - likely))
    return [_value(control, place) for place in places[:count]]


def _place(control: Any, value: Any) -> int:
    """Steps from a slider's least value."""
    place: int = round((value - control.min) / control.step)
    return place


def _value(control: Any, place: int) -> Any:
    """A slider's value so many steps from its least."""
    low, step = control.min, control.step
    if isinstance(control, widgets.IntSlider):
        return low + place * step
    return min(round(low + place * step, max(_decimals(step), _decimals(low))), control.max) + 0.0


def ends_and_middle(control: Any) -> list[Any]:
    """Return the values that a test should drive a control through: both ends and a middle, or every option.

    Parameters:
        control: a slider, tick box or list [-]

    Returns:
        values the control can take [any]

    Errors:
        ``TypeError`` for a control of another kind.
    """
    if isinstance(control, widgets.Checkbox | widgets.ToggleButton):
        return [not control.value, control.value]
    if hasattr(control, "options"):
        return [option[1] if isinstance(option, tuple) else option for option in control.options]
    if isinstance(control, widgets.FloatSlider | widgets.IntSlider):
        return [control.min, control.max, _value(control, _place(control, control.max) // 2)]
    raise TypeError(f"do not know how to drive a {type(control).__name__}")


def _decimals(value: float) -> int:
    """Digits after the point in the shortest way to write a number."""
    exponent = Decimal(repr(float(value))).normalize().as_tuple().exponent
    return max(0, -int(exponent))
