"""One line for every word of the trade that a page may use: shown where a reader points at it."""

from __future__ import annotations

from .terms import TERMS

WRITTEN: dict[str, tuple[str, ...]] = {
    "height": ("ride height", "ride heights"),
    "attitude": ("nose-high", "nose-low"),
    "load": ("wheel load", "wheel loads"),
    "corner_weight": ("corner weight", "corner weights"),
    "cross_weight": ("cross weight",),
    "cg_height": ("height of the centre of gravity",),
    "wheelbase": ("wheelbase",),
    "track": ("track width",),
    "unsprung_mass": ("unsprung mass",),
    "toe": ("toe", "toe-in", "toe-out", "toed out"),
    "camber": ("camber",),
    "caster": ("caster",),
    "thrust_angle": ("thrust angle",),
    "toe_slope": ("toe curve",),
    "motion_ratio": ("motion ratio",),
    "wheel_rate": ("wheel rate",),
    "bump_gap": ("bump stop", "bump stops", "travel left"),
    "droop_gap": ("full droop", "droop stop", "droop stops"),
    "roll_stiffness": ("roll stiffness",),
    "roll_split": ("front share",),
    "travel": ("suspension travel",),
    "slip": ("slip angle", "slip angles"),
    "cornering_stiffness": ("cornering stiffness", "cornering stiffnesses"),
    "lateral": ("lateral acceleration", "lateral g"),
    "roll_centre": ("roll centre", "roll centres"),
    "load_transfer": ("load transfer",),
    "anti_brake": ("anti angle", "anti angles"),
    "understeer": ("understeer",),
    "oversteer": ("oversteer",),
    "gradient": ("understeer gradient",),
    "neutral_point": ("neutral steer point",),
}
"""Term of the words' page → how these pages write it."""
OTHERS: dict[str, str] = {
    "forgiven": "Up to this speed the tail stays within 10° of where the corner itself needs it, for 4 s after the "
    "lift, hands still. Where the grip ends first, it counts up to there.",
    "anti-roll bar": "A bar that joins the two wheels of an axle: it resists body roll and nothing else.",
    "hands-still limit": "The lateral g up to which a car steadies itself while the steering wheel is held still.",
    "limit gap": "The rear's limit less the front's, in g: below zero the rear slides first.",
    "extra steering": "How far the wheels are turned beyond what the corner alone needs: more is understeer, less is "
    "oversteer.",
    "reference": "The figures the car is compared with: the maker's or the workshop's, else as it was before.",
    "what-if": "Your car with some settings changed, on paper only.",
    "yaw rate": "How fast the car turns about its own middle, in degrees a second.",
    "engine drag": "What the engine holds the car back with when the throttle is closed, over the car's weight.",
    "counter-steer": "Turning the front wheels toward the way the tail slides, to stop the car turning.",
    "plausible cars": "Many cars that all fit what you measured: the spread of their answers shows how sure yours is.",
    "centre of gravity": "The point where all the weight seems to sit.",
    "free lap": "A lap that no traffic, pit lane or cut corner spoiled.",
}
"""Words of these pages that are no setup words, each in one line."""
PLURALS = {"anti-roll bars": "anti-roll bar", "what-ifs": "what-if"}


def meanings() -> dict[str, str]:
    """Return what every word of the trade on these pages means.

    Returns:
        phrase in small letters → one line [-]

    Example:
        >>> meanings()["camber"]
        'Lean of the wheel against the vertical; negative when the top leans in.'
    """
    terms = {phrase: TERMS[key].plain for key, phrases in WRITTEN.items() for phrase in phrases}
    return terms | OTHERS | {many: OTHERS[one] for many, one in PLURALS.items()}
