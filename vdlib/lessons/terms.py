"""The words of these workbooks: each one plain sentence, what it does to the feel, how it is measured.

Name, symbol, unit and sentence come from the glossary; words that are no quantity of it stand here in full.
What a word does to the feel is common practice, no source; what it does on one car is for the model to say.
"""

from __future__ import annotations

from dataclasses import dataclass
from re import sub

from ..glossary import GLOSSARY
from ..units import UNITS


@dataclass(frozen=True)
class Term:
    """One word: its name, symbol and unit, one sentence, what it does to the feel and how it is measured."""

    key: str
    name: str
    symbol: str
    unit: str
    plain: str
    feel: str
    measured: str

    @property
    def head(self) -> str:
        """The name with its unit, as a heading [-]."""
        return f"{self.name} [{self.unit}]" if self.unit else self.name


def _known(key: str, feel: str, measured: str) -> Term:
    entry = GLOSSARY[key]
    return Term(key, entry.name, entry.symbol, UNITS[entry.unit].label, entry.plain, feel, measured)


_WORDS = (
    # how the car stands
    _known(
        "height",
        "Lower is usually calmer in quick changes of direction, until a bump stop or the road is touched; the two "
        "ends against each other matter more.",
        "Tape or ruler from level ground to the same body point at each corner, tyres at their pressures, "
        "driver's weight in the seat.",
    ),
    _known(
        "attitude",
        "It moves weight, roll centres, stops, toe, camber and caster all at once; which of them wins depends on "
        "the car, so these workbooks add them up.",
        "Front height change less rear height change, both from the heights the car was meant to stand at.",
    ),
    _known(
        "load",
        "A tyre with more load can push harder sideways, but not in proportion: the lightly loaded one of a pair "
        "loses more than its partner gains.",
        "Four scales on level ground, standing still; on the move it is worked out.",
    ),
    Term(
        "corner_weight",
        "corner weight",
        "N_i",
        "kg",
        "What one wheel of the standing car puts on its scale.",
        "When the left and right wheels of one end differ, the car brakes and turns differently to the left and "
        "to the right.",
        "Four scales on level ground, driver's weight in the seat, anti-roll bars unhooked.",
    ),
    _known(
        "cross_weight",
        "Above one half the car usually understeers more in left turns and less in right turns; below one half the "
        "other way round.",
        "From the four corner weights: right front plus left rear, over all four.",
    ),
    _known(
        "front_share",
        "More weight at the rear gives more drive out of a corner, and more mass behind that wants to keep going "
        "when the car turns.",
        "Two front scales over all four.",
    ),
    _known(
        "cg_height",
        "Higher means that more load moves between the wheels each time the car brakes, drives or turns.",
        "Weigh the front wheels level, then with the rear axle lifted by a known height, suspension locked: work "
        "for a workshop.",
    ),
    _known(
        "wheelbase",
        "Longer is calmer and slower to turn; less load moves between front and rear.",
        "Tape on the ground between plumb lines at the wheel centres, both sides.",
    ),
    _known(
        "track",
        "Wider moves less load from the inner wheel to the outer one.",
        "Tape between the middles of the two tyre prints.",
    ),
    _known(
        "unsprung_mass",
        "Heavier wheels follow bumps less well; their share of the load transfer comes at once, without the springs.",
        "Weigh a wheel with its tyre; add hub, brake and about half of each link.",
    ),
    # alignment
    _known(
        "toe",
        "Rear toe-in steadies the rear; rear toe-out makes it nervous. A little front toe-out answers the "
        "steering faster.",
        "Strings parallel to the car's centre line; ruler to the front and back of each rim; the difference over "
        "the rim's diameter is the angle.",
    ),
    _known(
        "camber",
        "The right lean lays the loaded outer tyre flat in the turn and adds grip at that end; too much costs "
        "grip in braking.",
        "Camber gauge or angle finder on the rim, level ground, wheels straight.",
    ),
    _known(
        "caster",
        "More gives more steering weight and self-centring, leans the front wheels into the turn and lifts one "
        "front corner as you steer.",
        "Read camber with the wheel turned out and turned in by the same angle: work for an alignment bench.",
    ),
    Term(
        "thrust_angle",
        "thrust angle",
        "η_t",
        "deg",
        "Angle between the car's centre line and where the two rear wheels point on average.",
        "The car runs a little crabwise and the steering wheel is off centre; it turns more readily to one side.",
        "From the toe of the left and the right rear wheel, each against the strings: half their difference.",
    ),
    _known(
        "toe_slope",
        "The wheel steers itself as the body rises, falls or leans; at the rear that is felt as a tail that moves "
        "on its own.",
        "Springs out, move the hub up and down in steps and read toe at each: work for a workshop.",
    ),
    _known(
        "camber_slope",
        "It lets the outer wheel stay upright on the road although the body leans.",
        "Springs out, move the hub up and down in steps and read camber at each: work for a workshop.",
    ),
    # springs
    _known(
        "spring",
        "A stiffer pair at one end lets the body lean less and takes a larger share of the load transfer there, "
        "which costs grip at that end.",
        "Press it on a scale: extra force over extra millimetres; or read the marking and check it.",
    ),
    _known(
        "motion_ratio",
        "It counts twice: the wheel feels the spring times its square.",
        "Springs out: spring mount movement over wheel movement, for ten millimetres up and down.",
    ),
    Term(
        "wheel_rate",
        "wheel rate",
        "k_w",
        "N/mm",
        "Extra load on one wheel for each millimetre it moves up: spring rate times the motion ratio squared.",
        "This, and not the spring's number, is what the body feels; two cars with the same springs can differ twofold.",
        "From spring rate and motion ratio.",
    ),
    _known(
        "bar",
        "A stiffer bar leans the body less and moves load transfer to its own end: stiffer in front is usually "
        "toward understeer.",
        "From its diameter, length and arms, or by its marking; unhook it to feel what it does.",
    ),
    Term(
        "roll_stiffness",
        "roll stiffness",
        "K_φ",
        "Nm/deg",
        "Turning moment that springs and bars of one axle give for each degree the body leans.",
        "More in all leans the body less; it is felt as a flatter, quicker car.",
        "From wheel rates, track and bars; or by the lean in a steady turn.",
    ),
    Term(
        "roll_split",
        "split of roll stiffness",
        "",
        "%",
        "Part of all roll stiffness that the front axle has.",
        "Stiffening one end moves load transfer to it and costs grip there: the usual way to move the balance. Which "
        "end slides first also depends on weight and tyres.",
        "From the roll stiffness of both axles.",
    ),
    _known(
        "bump_gap",
        "The bump stop is a block of rubber or foam that ends the travel. When it touches in a corner, that end "
        "stiffens at once and loses grip, often suddenly.",
        "The car on its wheels on ramps: a ruler along the damper rod, from the damper's body to the rubber; work for "
        "qualified people. Or push a cable tie down that rod, drive gently, and read what is left.",
    ),
    _known(
        "droop_gap",
        "Droop is travel downward. Too little of it lifts the inner wheel. From then on the car leans further for each "
        "further g, and the other end takes all the load transfer that is still to come.",
        "Jack up the body on stands: how far the wheel drops from where it stood.",
    ),
    Term(
        "damper",
        "damping ratio",
        "ζ",
        "",
        "How strongly the damper stops the body's bouncing: 0 bounces on, 1 comes back without swinging past.",
        "It changes how quickly load comes and goes in the first half second, not where it ends; bought parts and "
        "clicks change it.",
        "On a damper bench; by hand, push a corner down and count the swings.",
    ),
    _known(
        "travel",
        "Every curve of the suspension, toe, camber and stops alike, is a curve against this.",
        "Cable tie on the damper rod, over the motion ratio; or a sensor.",
    ),
    # tyres
    _known(
        "pressure",
        "More pressure answers faster up to a point and leaves less rubber on the road; the two ends against each "
        "other change the balance.",
        "Gauge straight after the lap, all four, same order each time.",
    ),
    _known(
        "tyre_rate",
        "The tyre is a spring too; with stiff suspension springs it is the softer of the two.",
        "From the maker's figures, or by load over squash on a scale.",
    ),
    _known(
        "grip",
        "It sets how fast any corner can be; its difference between the ends sets which end lets go first.",
        "From the largest steady lateral acceleration, or from the maker's figures.",
    ),
    _known(
        "slip",
        "A tyre pushes sideways only when it is dragged at an angle; the end that needs the larger angle is the "
        "end you feel drifting wide.",
        "With optical sensors on both axles; these workbooks work it out.",
    ),
    Term(
        "cornering_stiffness",
        "cornering stiffness of the axle",
        "C_i",
        "kN/rad",
        "Side force that an axle's tyres give for each radian of slip angle while the angle is small.",
        "More at the rear is calmer; more in front is keener.",
        "On a tyre machine; from the maker's figures.",
    ),
    # in the corner
    _known(
        "lateral",
        "It is the push you feel toward the outside; 1 g equals your own weight.",
        "Phone or logger fixed to the floor, x axis straight on.",
    ),
    _known(
        "roll",
        "Lean itself costs little; what it does to camber and toe, and how long it takes, is what you feel.",
        "From a photo from behind in a steady turn, or from travel sensors.",
    ),
    _known(
        "pitch",
        "Nose down while braking uses front travel and shifts camber and toe; the load moves with or without it.",
        "From travel sensors or video from the side.",
    ),
    _known(
        "roll_centre",
        "Higher at one end means that more of its load transfer goes through the links, at once and without lean: "
        "that end takes a larger share.",
        "From the measured places of the links' ends; it moves when the ride height changes.",
    ),
    Term(
        "load_transfer",
        "lateral load transfer",
        "ΔN",
        "kg",
        "Load that leaves the inner wheel of an axle and goes to its outer wheel in a turn.",
        "The pair loses some grip as the two differ. More of it at one end costs grip at that end; which end slides "
        "first also depends on weight and tyres.",
        "Worked out from lateral acceleration, height of the centre of gravity, track and roll stiffness.",
    ),
    Term(
        "longitudinal_transfer",
        "longitudinal load transfer",
        "ΔN_x",
        "kg",
        "Load that leaves one axle for the other while slowing or speeding up.",
        "Slowing takes load off the rear at the moment you turn in: the rear then has less to hold with.",
        "Worked out from acceleration, height of the centre of gravity and wheelbase.",
    ),
    _known(
        "anti_brake",
        "More holds the nose up while braking; the load transfer stays the same, only the travel shrinks.",
        "From the places of the links' ends seen from the side.",
    ),
    Term(
        "lift",
        "lift-off",
        "",
        "g",
        "Closing the throttle in a corner: the engine slows the car and load moves from the rear axle to the front.",
        "The nose tucks in and the rear grows light; on some cars enough to bring the tail round into a spin.",
        "Longitudinal acceleration on a phone or logger.",
    ),
    # the balance
    _known(
        "steer",
        "What the front wheels do for what your hands do: divide by the steering ratio.",
        "Steering-wheel angle over the steering ratio.",
    ),
    Term(
        "understeer",
        "understeer",
        "",
        "deg",
        "The front needs a larger slip angle than the rear, so you turn the wheel further than the curve alone "
        "asks for.",
        "The nose runs wide and pushes on; more steering helps less and less. Unwind a little and ease the throttle: "
        "snapped shut with lock on, the tail may come round.",
        "Front slip angle less rear slip angle, above zero; or from how steering grows with lateral acceleration.",
    ),
    Term(
        "oversteer",
        "oversteer",
        "",
        "deg",
        "The rear needs a larger slip angle than the front, so you turn the wheel less than the curve alone asks for.",
        "The rear steps out: a loose, nervous tail, in the worst case a snap and a spin; past a certain speed the car "
        "will not stay straight on its own.",
        "Rear slip angle less front slip angle, above zero.",
    ),
    _known(
        "gradient",
        "Above zero understeer, below zero oversteer, zero neutral; road cars are built with some understeer.",
        "Drive one circle at rising speeds, plot steering against lateral acceleration, read the slope (ISO 4138).",
    ),
    Term(
        "sideslip",
        "sideslip angle",
        "β",
        "deg",
        "Angle between where the car points and where its middle goes.",
        "It is the tail hanging out; how fast it grows frightens more than its size.",
        "Optical sensor or a good satellite logger; these workbooks work it out.",
    ),
    Term(
        "neutral_point",
        "neutral steer point",
        "x_n",
        "mm",
        "The place where a side push makes the car drift without turning, given here as its distance behind the "
        "centre of gravity.",
        "Behind the centre of gravity the car understeers; ahead of it, it oversteers.",
        "Worked out from both axles' cornering stiffness.",
    ),
)
TERMS: dict[str, Term] = {term.key: term for term in _WORDS}
"""Key → word, in teaching order."""


def find(text: str) -> list[Term]:
    """Search the words: every word of the text must stand in name, symbol, sentence, feel or measuring.

    Parameters:
        text: what is looked for; empty finds all [-]

    Returns:
        terms, those that hold it in their name first [-]

    Example:
        >>> find("toe")[0].name
        'toe of each wheel'
    """
    wanted = text.casefold().split()

    def holds(place: str) -> bool:
        return all(word in place.casefold() for word in wanted)

    found = [t for t in _WORDS if holds(" ".join((t.name, t.symbol, t.plain, t.feel, t.measured)))]
    return sorted(found, key=lambda term: not holds(term.name))


def low(text: str) -> str:
    """Write symbols for the screen: what follows an underscore is set low, ``a_y`` as a with a small y.

    Parameters:
        text: HTML in which an underscore stands in symbols only [-]

    Returns:
        HTML [-]
    """
    return sub(r"_([^\W_]+)", r"<sub>\1</sub>", text)
