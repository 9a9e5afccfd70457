"""The one table of typical values: what a suspension, tyre or body of a kind usually has, and how far that ranges.

Low and high are meant as 5th and 95th percentile: of ten cars of the kind, nine lie between. Units are the glossary's.
"""

from __future__ import annotations

from typing import NamedTuple

TRADE = "common practice, no source"
NHTSA = "our own sums over NHTSA's rollover test data of passenger cars: 5th, 50th and 95th percentile"
PACEJKA = "Pacejka, Tire and Vehicle Dynamics (2006), table A3.1, spread: common practice, no source"
HEAVE_ONLY = (
    "common practice, no source; the car record cannot hold a live axle's two truths, 0 in bump and −2/track in roll"
)
BUDGETS = (
    "between two budgets of side force and aligning moment together: an encyclopedia's imaginary one in the form of "
    "Bundorf & Leffert (SAE 760713), 1.0 and 0.5 deg/g, over axles of 800 and 650 kg front 0.13, rear -0.08; a public "
    "calculation sheet for a car under development, 1.41 and 0.86 deg/kNm on 30 mm of trail with -0.03 and 0.03 "
    "deg/kN of one wheel, front 0.04, rear 0.00"
)
"""Where the bending of bushes and steering is from: an axle's deg/kN, the understeer way positive."""
SOFT_MOUNTS = "common practice, no source for the size: an axle on soft mounts ahead of it turns out of the corner"

SUSPENSIONS = ("double wishbone", "strut", "multi-link", "trailing arm", "twist beam", "live axle")
"""Kinds of suspension, as a workshop calls them; "trailing arm" takes in semi-trailing ones."""
BODIES = ("saloon or hatch", "low two-seater")
"""Kinds of body, for the centre-of-gravity height."""
HEIGHTS = ("standard height", "lowered")
"""Whether the springs are those it was made with, or shorter ones on dampers of the standard length."""


class Row(NamedTuple):
    """One line of the table: field, end ("" for either), kind ("" for any), low, central, high, source."""

    field: str
    end: str
    kind: str
    low: float
    central: float
    high: float
    source: str = TRADE


ROWS: tuple[Row, ...] = (
    # roll-centre height [mm] and its movement [mm/mm]
    Row("roll_centre", "front", "double wishbone", 5, 50, 100),
    Row("roll_centre", "front", "strut", 20, 70, 120),
    Row("roll_centre", "front", "multi-link", 10, 60, 110),
    Row("roll_centre", "front", "live axle", 150, 250, 380),
    Row("roll_centre", "rear", "double wishbone", 40, 90, 150),
    Row("roll_centre", "rear", "strut", 40, 90, 150),
    Row("roll_centre", "rear", "multi-link", 50, 110, 180),
    Row("roll_centre", "rear", "trailing arm", -10, 40, 120),
    Row("roll_centre", "rear", "twist beam", 60, 140, 220),
    Row("roll_centre", "rear", "live axle", 150, 250, 380),
    Row("roll_centre_slope", "", "double wishbone", 0.7, 1.5, 2.4),
    Row("roll_centre_slope", "", "strut", 1.6, 2.5, 3.4),
    Row("roll_centre_slope", "", "multi-link", 0.6, 1.3, 2.2),
    Row("roll_centre_slope", "", "trailing arm", -0.2, 0.4, 1.2),
    Row("roll_centre_slope", "", "twist beam", 0.0, 0.5, 1.0),
    Row("roll_centre_slope", "", "live axle", 0.0, 0.5, 1.0),
    # toe change with bump [deg/m], its bend [deg/m²], camber change with bump [deg/m]
    Row("toe_slope", "front", "double wishbone", -8, -2, 3),
    Row("toe_slope", "front", "strut", -11, -4, 3),
    Row("toe_slope", "front", "multi-link", -8, -2, 3),
    Row("toe_slope", "front", "live axle", -1, 0, 1),
    Row("toe_slope", "rear", "double wishbone", -3, 3, 8),
    Row("toe_slope", "rear", "strut", -4, 3, 9),
    Row("toe_slope", "rear", "multi-link", -3, 3, 8),
    Row("toe_slope", "rear", "trailing arm", -3, 1, 6),
    Row("toe_slope", "rear", "twist beam", -2, 1, 4),
    Row("toe_slope", "rear", "live axle", -1, 0, 1),
    Row("toe_bend", "", "double wishbone", -60, 0, 60),
    Row("toe_bend", "", "strut", -60, 0, 60),
    Row("toe_bend", "", "multi-link", -60, 0, 60),
    Row("toe_bend", "", "trailing arm", -40, 0, 40),
    Row("toe_bend", "", "twist beam", -20, 0, 20),
    Row("toe_bend", "", "live axle", -5, 0, 5),
    Row("camber_slope", "", "double wishbone", -30, -20, -10),
    Row("camber_slope", "", "strut", -18, -9, 0),
    Row("camber_slope", "", "multi-link", -28, -18, -8),
    Row("camber_slope", "", "trailing arm", -25, -8, 0),
    Row("camber_slope", "", "twist beam", -20, -8, 0),
    Row("camber_slope", "", "live axle", -80, -40, 0, HEAVE_ONLY),
    # motion ratio [mm/mm], unsprung mass of the axle [kg]
    Row("motion_ratio", "", "double wishbone", 0.52, 0.70, 0.92),
    Row("motion_ratio", "", "strut", 0.88, 0.94, 0.99),
    Row("motion_ratio", "", "multi-link", 0.50, 0.68, 0.95),
    Row("motion_ratio", "", "trailing arm", 0.50, 0.72, 0.95),
    Row("motion_ratio", "", "twist beam", 0.60, 0.80, 1.0),
    Row("motion_ratio", "", "live axle", 0.80, 0.95, 1.0),
    Row("unsprung_mass", "", "double wishbone", 58, 78, 108),
    Row("unsprung_mass", "", "strut", 58, 80, 108),
    Row("unsprung_mass", "", "multi-link", 65, 90, 120),
    Row("unsprung_mass", "", "trailing arm", 50, 70, 95),
    Row("unsprung_mass", "", "twist beam", 50, 70, 95),
    Row("unsprung_mass", "", "live axle", 90, 130, 185),
    # anti angles [deg] and their change with height [deg/m]; a pivot near the wheel swings it fast, 57/length
    Row("anti_brake", "front", "", -1, 2.5, 7),
    Row("anti_brake", "rear", "double wishbone", 1, 6, 12),
    Row("anti_brake", "rear", "strut", 1, 5, 11),
    Row("anti_brake", "rear", "multi-link", 1, 6, 13),
    Row("anti_brake", "rear", "trailing arm", 8, 18, 28),
    Row("anti_brake", "rear", "twist beam", 8, 18, 28),
    Row("anti_brake", "rear", "live axle", 3, 10, 20),
    Row("anti_drive", "front", "", -2, 1, 4),
    Row("anti_drive", "rear", "double wishbone", 0, 4, 9),
    Row("anti_drive", "rear", "strut", 0, 4, 9),
    Row("anti_drive", "rear", "multi-link", 0, 4, 9),
    Row("anti_drive", "rear", "trailing arm", -4, 2, 9),
    Row("anti_drive", "rear", "twist beam", -4, 2, 9),
    Row("anti_drive", "rear", "live axle", 2, 8, 18),
    Row("anti_slope", "", "double wishbone", -40, 10, 60),
    Row("anti_slope", "", "strut", -40, 10, 60),
    Row("anti_slope", "", "multi-link", -40, 10, 60),
    Row("anti_slope", "", "trailing arm", 50, 105, 160),
    Row("anti_slope", "", "twist beam", 50, 105, 160),
    Row("anti_slope", "", "live axle", -20, 40, 120),
    # stops: gaps [mm] from the reference height, hardening [N/mm²]
    # lowered by 30 to 40 mm on dampers of the standard length: that much of the bump travel is spent, droop gains it
    Row("bump_gap", "front", "lowered", -5, 12, 35),
    Row("bump_gap", "rear", "lowered", -5, 14, 40),
    Row("bump_stiffening", "", "lowered", 4, 12, 30),
    Row("droop_gap", "", "lowered", 55, 95, 135),
    Row("bump_gap", "front", "", 15, 38, 62),
    Row("bump_gap", "rear", "", 15, 42, 70),
    Row("bump_stiffening", "", "", 3, 6, 20),
    Row("droop_gap", "", "", 40, 70, 105),
    Row("droop_stiffening", "", "", 8, 20, 60),
    # what bends and what the air does [deg/kN], [m²]
    Row("compliance_steer", "front", "", 0.02, 0.06, 0.13, BUDGETS),
    Row("compliance_steer", "rear", "trailing arm", -0.10, -0.06, -0.01, SOFT_MOUNTS),
    Row("compliance_steer", "rear", "twist beam", -0.10, -0.06, -0.01, SOFT_MOUNTS),
    Row("compliance_steer", "rear", "live axle", -0.03, 0.0, 0.03),
    Row("compliance_steer", "rear", "", -0.08, -0.03, 0.02, BUDGETS),
    Row("lift_area", "front", "", -0.05, 0.05, 0.2),
    Row("lift_area", "rear", "", -0.1, 0.1, 0.3),
    # vertical tyre rate [N/mm]
    Row("tyre_rate", "", "road", 165, 205, 250),
    Row("tyre_rate", "", "fast road", 180, 220, 275),
    Row("tyre_rate", "", "track", 190, 240, 320),
    # the whole car [mm], [m²], [%]
    Row("cg_height", "", "saloon or hatch", 506, 544, 598, NHTSA),
    # four low cars of the NHTSA list stand at 450, 463, 471 and 477 mm; the spread is common practice
    Row("cg_height", "", "low two-seater", 440, 470, 510, TRADE),
    Row("drag_area", "", "", 0.55, 0.66, 0.80),
    Row("brake_front", "", "", 57, 68, 78),
    Row("caster_offset", "", "", 25, 52, 80),
    Row("caster", "", "", 2.5, 5, 8),
)
"""Every typical value of suspension and body."""

TYRE_SPREAD: dict[str, tuple[float, float]] = {
    "nominal_load": (1.0, 1.0),
    "pressure_nominal": (1.0, 1.0),
    "stiffness_max": (0.78, 1.25),
    "stiffness_load": (0.8, 1.25),
    "grip": (0.91, 1.09),
    "grip_fall": (0.5, 1.7),
    "shape": (0.92, 1.12),
    "curvature": (2.0, 0.2),
    "camber_thrust": (0.5, 1.3),
    "camber_loss": (0.3, 2.0),
    "long_ratio": (0.9, 1.1),
    "stiffness_per_bar": (0.0, 2.0),
    "grip_per_bar": (3.0, -1.0),
}
"""Field of a tyre → its low and high as parts of the kind's own number (``tyre.KINDS``); common practice, no source.

The load and pressure at which a kind's numbers are quoted have no spread.
"""

MEASURED_ERROR: dict[str, tuple[float, float]] = {
    "mass": (1.2, 0),
    "front_share": (0.1, 0),
    "left_share": (0.1, 0),
    "cross_weight": (0.2, 0),
    "cg_height": (11, 0),
    "wheelbase": (1.5, 0),
    "track": (1.5, 0),
    "wheel_radius": (1, 0),
    "reference_height": (1, 0),
    "height": (1, 0),
    "aligned_height": (1, 0),
    "motion_ratio": (0.015, 0),
    "spring": (0, 0.03),
    "bar": (0, 0.1),
    "toe": (0.04, 0),
    "camber": (0.1, 0),
    "caster": (0.3, 0),
    "pressure": (0.03, 0),
    "toe_slope": (1.0, 0),
    "toe_bend": (25, 0),
    "camber_slope": (2.5, 0),
    "bump_gap": (3, 0),
    "droop_gap": (3, 0),
    "unsprung_mass": (2, 0),
    "brake_front": (2, 0),
}
"""Field → one standard deviation of a careful measurement, in the glossary's unit and as part of the value.

Common practice with the tools of this package, no source; give a measurement's own error where there is one.
"""

UNKNOWN: dict[str, str] = {
    "lift_attitude": "no published figure found; left as it is, and counted as not known",
    "yaw_inertia": "left to the car record, which takes it from the mass (K. Tse, 2020)",
}
"""Field → why the table has nothing for it."""
