"""Widgets that drive the pictures; here the controls in plain words: slider, toggle and choice."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal
from math import isclose
from typing import Any

import ipywidgets as widgets


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
        tooltip=tooltip or f"{label}, from {low:g} to {high:g} {unit}".rstrip(),
        readout_format=f".{decimals}f",
        continuous_update=True,
    )
    made.unit = unit
    return made


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
        value=value, description=label, tooltip=tooltip or label, indent=False, layout=widgets.Layout(width="auto")
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
    return widgets.Dropdown(options=list(options), value=value, description=label, tooltip=tooltip or label)


def unit_of(control: Any) -> str:
    """Give the unit a slider was made with, or an empty text.

    Parameters:
        control: any widget [-]

    Returns:
        the unit's label [-]
    """
    return str(getattr(control, "unit", ""))


def on_step(control: Any) -> Any:
    """Give a control's value; a slider's is rounded to its step, for a key press yields 14.999999999999998.

    Parameters:
        control: any widget with a value [-]

    Returns:
        the value [any]
    """
    if not isinstance(control, widgets.FloatSlider):
        return control.value
    low, step = control.min, control.step
    near = low + round((control.value - low) / step) * step
    return min(round(near, max(_decimals(step), _decimals(low))), control.max) + 0.0


def ends_and_middle(control: Any) -> list[Any]:
    """Give the values that a test should drive a control through: both ends and a middle, or every option.

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
    if isinstance(control, widgets.IntSlider):
        return [control.min, control.max, (control.min + control.max) // 2]
    if isinstance(control, widgets.FloatSlider):
        half = round((control.max - control.min) / control.step) // 2
        digits = max(_decimals(control.step), _decimals(control.min))
        return [control.min, control.max, round(control.min + half * control.step, digits) + 0.0]
    raise TypeError(f"do not know how to drive a {type(control).__name__}")


def _decimals(value: float) -> int:
    """Digits after the point in the shortest way to write a number."""
    exponent = Decimal(repr(float(value))).normalize().as_tuple().exponent
    return max(0, -int(exponent))
