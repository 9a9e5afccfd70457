"""The one table of names: each quantity's plain name, symbol, units, sign, range and sentence.

Car records, car files, error messages, docstrings and panels all take their words from here.
"""

from __future__ import annotations

from dataclasses import dataclass

from .units import UNITS


@dataclass(frozen=True)
class Quantity:
    """One quantity: how it is called, written, measured and bounded.

    ``unit`` is the user's unit (a name from ``units.UNITS``); ``low`` and ``high`` are in that unit.
    """

    name: str
    symbol: str
    unit: str
    low: float
    high: float
    plain: str

    @property
    def label(self) -> str:
        """The name with the user's unit, as a form or an axis shows it."""
        unit = UNITS[self.unit].label
        return f"{self.name} [{unit}]" if unit else self.name

    @property
    def si(self) -> str:
        """The SI unit used inside the library."""
        return UNITS[self.unit].si


Q = Quantity
# fmt: off
GLOSSARY: dict[str, Quantity] = {
    # the car: what stays
    "mass": Q("mass ready to drive", "m", "kg", 300, 4000,
        "Everything on the scales: car, driver in the seat, fuel as driven."),
    "front_share": Q("front share of weight", "F", "percent", 25, 75,
        "Part of the weight that stands on the two front wheels at the reference heights."),
    "left_share": Q("left share of weight", "Y", "percent", 40, 60,
        "Part of the weight that stands on the two left wheels."),
    "cg_height": Q("centre-of-gravity height", "h", "mm", 200, 1200,
        "Height above the ground of the point where all the weight seems to sit, at the reference heights."),
    "wheelbase": Q("wheelbase", "L", "mm", 1500, 4000, "Distance from the front axle line to the rear axle line."),
    "yaw_inertia": Q("yaw inertia", "I_zz", "kgm2", 100, 12000,
        "How hard it is to start or stop the car turning about its own middle."),
    "drag_area": Q("drag area", "C_D·A", "m2", 0, 3,
        "Drag coefficient times frontal area; the air holds the car back with it."),
    "brake_front": Q("front share of braking", "p", "percent", 0, 100, "Part of the braking done by the front wheels."),
    "drive_front": Q("front share of drive", "e", "percent", 0, 100,
        "Part of the engine's push or drag that goes through the front wheels; 0 is rear-drive, 100 is front-drive."),
    "caster_offset": Q("steering-axis offset at the wheel", "q", "mm", -50, 150,
        "Sideways distance from the steering axis to the wheel's middle plane at wheel-centre height; with caster it"
        " lifts one front corner when steering."),
    # each axle: what stays
    "track": Q("track", "t", "mm", 800, 2200,
        "Distance between the middles of the two tyre contact patches of one axle."),
    "unsprung_mass": Q("unsprung mass of the axle", "m_u", "kg", 10, 500,
        "Wheels, tyres, brakes and hubs of both sides of one axle: what does not ride on the springs."),
    "wheel_radius": Q("wheel-centre height", "r", "mm", 150, 500,
        "Height of the wheel centre above the ground, car standing."),
    "reference_height": Q("reference ride height", "h₀", "mm", 20, 500,
        "Ride height at which the car was meant to stand; the curves of roll centre, toe and camber are counted from"
        " it."),
    "motion_ratio": Q("motion ratio", "MR", "number", 0.2, 1.5,
        "Millimetres the spring moves for one millimetre of wheel movement."),
    "tyre_rate": Q("vertical tyre rate", "k_t", "N_per_mm", 50, 1000,
        "How much more load one tyre carries for each millimetre it is squashed."),
    "roll_centre": Q("roll-centre height", "h_rc", "mm", -150, 450,
        "Height at which the suspension links pass the side force of one axle to the body. The car file "
        "gives it at the reference height."),
    "roll_centre_slope": Q("roll-centre movement", "s_rc", "number", -2, 6,
        "Millimetres the roll centre rises for one millimetre the body rises at that axle."),
    "bump_gap": Q("travel to the bump stop", "g_b", "mm", -60, 250,
        "Wheel travel upward from the reference height until the bump stop touches; negative means the car rests on "
        "it."),
    "bump_stiffening": Q("bump-stop stiffening", "c_b", "N_per_mm2", 0, 100,
        "How fast the bump stop hardens: added wheel rate for each further millimetre; a soft foam stop is about 4, "
        "a hard one about 20."),
    "droop_gap": Q("travel to full droop", "g_d", "mm", 0, 250,
        "Wheel travel downward from the reference height until the damper is at full length."),
    "droop_stiffening": Q("droop-stop stiffening", "c_d", "N_per_mm2", 0, 100,
        "How fast the droop stop hardens: added wheel rate for each further millimetre."),
    "toe_slope": Q("toe change with bump", "τ₁", "deg_per_m", -60, 60,
        "Toe-in gained for each metre of upward wheel travel at the reference height; negative means toe-out in "
        "bump."),
    "toe_bend": Q("bend of the toe curve", "τ₂", "deg_per_m2", -1500, 1500,
        "How fast that toe change itself changes with travel: toe = τ₁·x + τ₂·x²."),
    "camber_slope": Q("camber change with bump", "γ₁", "deg_per_m", -100, 60,
        "Camber gained for each metre of upward wheel travel; negative means the top leans in as the wheel rises."),
    "anti_brake": Q("anti angle under braking", "ψ_b", "deg", -20, 30,
        "Slope of the line along which braking force reaches the body, seen from the side: positive holds the nose "
        "up in front and the tail down behind."),
    "anti_drive": Q("anti angle under drive", "ψ_d", "deg", -20, 30,
        "The same slope for the engine's push or drag: positive holds the tail up behind under power and the nose "
        "down in front."),
    "anti_slope": Q("anti angle's change with height", "s_ψ", "deg_per_m", -300, 300,
        "How much both anti angles grow for each metre the body rises at that axle."),
    "compliance_steer": Q("compliance steer", "E", "deg_per_kN", -1, 1,
        "How far an axle's side force, and the aligning moment that comes with it, bend its steering the understeer "
        "way; 0 stands for not known."),
    "lift_area": Q("lift area", "C_L·A", "m2", -3, 2,
        "Lift coefficient times area at that axle; negative presses the car down."),
    "lift_attitude": Q("lift's change with attitude", "s_L", "m2_per_deg", -0.5, 0.5,
        "How much the lift area at that axle grows for each degree nose-high; 0 stands for not known."),
    # the tyre
    "nominal_load": Q("tyre's nominal load", "N₀", "N", 1000, 12000, "Load at which the tyre's grip is quoted."),
    "stiffness_max": Q("greatest cornering stiffness", "c₁", "kN_per_rad", 10, 300,
        "The most side force per angle one tyre can reach at any load."),
    "stiffness_load": Q("load of greatest stiffness", "c₂", "N", 1500, 30000,
        "The load at which that greatest stiffness is reached."),
    "grip": Q("peak grip", "μ", "number", 0.2, 2.5, "Largest side force over load, at the nominal load on a dry road."),
    "grip_fall": Q("fall of grip with load", "μ₁", "number", 0, 0.6,
        "Part of the grip lost for each further nominal load the tyre carries."),
    "shape": Q("curve shape", "C", "number", 1.01, 1.99, "How clearly the side force peaks: 1 hardly, 2 sharply."),
    "curvature": Q("curve curvature", "E_y", "number", -10, 0.95,
        "How quickly the side force bends over toward its peak."),
    "camber_thrust": Q("camber thrust", "c_γ", "per_rad", 0, 2,
        "Side force over load for each radian the wheel leans into the turn."),
    "camber_loss": Q("grip lost to lean", "p_γ", "per_rad2", 0, 60,
        "Part of the grip lost for each squared radian the wheel leans either way."),
    "long_ratio": Q("longitudinal grip ratio", "μ_x/μ", "number", 0.5, 1.6,
        "Grip for braking and driving over grip for cornering."),
    "pressure_nominal": Q("tyre's nominal pressure", "p₀", "bar", 0.8, 4.5,
        "Hot pressure at which the tyre's numbers are quoted."),
    "stiffness_per_bar": Q("stiffness change with pressure", "s_C", "percent_per_bar", -60, 60,
        "Change of cornering stiffness for each further bar."),
    "grip_per_bar": Q("grip change with pressure", "s_μ", "percent_per_bar", -60, 60,
        "Change of peak grip for each further bar."),
    # the setup: what the workshop can change
    "height": Q("ride height", "h_i", "mm", 20, 500,
        "Height of the body's measuring point at one axle line above level ground."),
    "spring": Q("spring rate", "k", "N_per_mm", 5, 500,
        "Force for each millimetre the spring itself is pressed; one spring, not the wheel."),
    "bar": Q("anti-roll bar's roll stiffness", "K_b", "Nm_per_deg", 0, 3000,
        "Turning moment with which the bar resists one degree of body roll."),
    "toe": Q("toe of each wheel", "τ", "deg", -2, 2,
        "Angle between wheel and car's centre line; toe-in, fronts of the wheels closer, is positive."),
    "camber": Q("camber", "γ", "deg", -8, 4, "Lean of the wheel against the vertical; negative when the top leans in."),
    "pressure": Q("hot tyre pressure", "p", "bar", 0.8, 4.5, "Pressure read straight after driving."),
    "aligned_height": Q("ride height when toe and camber were read", "h_a", "mm", 20, 500,
        "Toe and camber are true at this height; at another one the suspension has already moved them."),
    "height_difference": Q("ride height, left minus right", "Δh", "mm", -200, 200,
        "How much higher the left wheel of an axle is set than the right one."),
    "toe_difference": Q("toe, left minus right", "Δτ", "deg", -4, 4,
        "How much more the left wheel of an axle toes in than the right one; half of it steers the whole axle: behind, "
        "that is the thrust angle."),
    "camber_difference": Q("camber, left minus right", "Δγ", "deg", -12, 12,
        "How much less the left wheel of an axle leans in at the top than the right one."),
    "pressure_difference": Q("hot tyre pressure, left minus right", "Δp", "bar", -3.7, 3.7,
        "How much more pressure the left tyre of an axle has than the right one."),
    "aligned_height_difference": Q("ride height, left minus right, when toe and camber were read", "Δh_a", "mm", -200,
        200, "Toe and camber of each wheel are true at its own height of that day."),
    "weighed_difference": Q("ride height, left minus right, when the car was weighed", "Δh_w", "mm", -200, 200,
        "The corner weights are true at this difference; at another one the springs of the axles are twisted against "
        "each other."),
    "caster": Q("caster", "ν", "deg", 0, 15,
        "Lean of the steering axis seen from the side; positive when its top leans back."),
    "cross_weight": Q("cross weight", "X", "percent", 35, 65,
        "Right front plus left rear over the total; above 50 % usually means more understeer in left turns."),
    # the moment
    "speed": Q("speed", "V", "kmh", 20, 350, "Speed over the ground."),
    "lateral": Q("lateral acceleration", "a_y", "g", -3, 3, "Sideways acceleration; positive in a left-hand turn."),
    "longitudinal": Q("longitudinal acceleration", "a_x", "g", -2, 1.5,
        "Longitudinal acceleration; positive speeding up, negative slowing down."),
    "braking": Q("part of the slowing done by the brakes", "β_b", "percent", 0, 100,
        "100 for the brake pedal, 0 for the engine alone."),
    "coasting": Q("air and rolling on top", "κ_a", "number", 0, 1,
        "1 where the longitudinal acceleration is what engine and brakes do, and air and rolling slow the car besides; "
        "0 where it is the whole."),
    # what comes out
    "load": Q("wheel load", "N", "N", 0, 20000, "Vertical force of the road on one tyre."),
    "travel": Q("suspension travel", "s", "mm", -300, 300,
        "Wheel movement toward the body from where the car stands; bump is positive."),
    "roll": Q("roll angle", "φ", "deg", -15, 15, "Lean of the body; positive when the right side drops."),
    "pitch": Q("pitch angle", "θ", "deg", -10, 10, "Nose-down is positive, counted from where the car stands."),
    "heave": Q("heave", "z", "mm", -300, 300, "Rise of the body at the centre of gravity from where the car stands."),
    "slip": Q("slip angle", "α", "deg", -30, 30, "Angle between where an axle points and where it goes."),
    "steer": Q("steer angle at the front wheels", "δ", "deg", -45, 45,
        "Angle the front wheels are turned, on average; left is positive."),
    "understeer_angle": Q("understeer angle", "δ − L/R", "deg", -20, 20,
        "Steering beyond what the curve alone needs: front slip angle less rear slip angle; negative is oversteer."),
    "gradient": Q("understeer gradient", "K", "deg_per_g", -50, 50,
        "How much the understeer angle grows for each g of lateral acceleration."),
    "attitude": Q("nose-high or nose-low", "Δ", "mm", -300, 300,
        "Front height change less rear height change from the reference heights."),
}
# fmt: on
"""Quantity key → its entry. Keys are also the field names of the car records."""
