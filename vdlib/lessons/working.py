"""The closed forms worked out step by step from balances of force and moment, with sympy.

Each function gives the steps in words and equations, the result, what its symbols mean, and a numeric function.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import sympy as sp


@dataclass(frozen=True)
class Working:
    """One derivation: title, steps as (sentence, equation), result, symbols as name → (meaning, unit), numeric.

    ``numeric`` takes the symbols' names as keywords, SI numbers or arrays, and gives the result's right-hand side;
    a symbol that an earlier step defines through the others is not asked for.
    """

    title: str
    steps: tuple[tuple[str, Any], ...]
    result: Any
    symbols: dict[str, tuple[str, str]]
    numeric: Callable[..., Any]


MEANINGS: dict[str, tuple[str, str]] = {
    "m": ("mass of the car", "kg"),
    "m_s": ("sprung mass", "kg"),
    "m_uf": ("unsprung mass of the front axle", "kg"),
    "m_ur": ("unsprung mass of the rear axle", "kg"),
    "g": ("gravity", "m/s²"),
    "a_x": ("longitudinal acceleration", "m/s²"),
    "a_y": ("lateral acceleration", "m/s²"),
    "h": ("height of the centre of gravity", "m"),
    "h_f": ("roll-centre height at the front", "m"),
    "h_r": ("roll-centre height at the rear", "m"),
    "h_uf": ("height of the front unsprung mass", "m"),
    "h_ur": ("height of the rear unsprung mass", "m"),
    "d": ("height of the centre of gravity above the roll axis", "m"),
    "q": ("front share of the sprung weight", "-"),
    "L": ("wheelbase", "m"),
    "a": ("distance from the centre of gravity to the front axle", "m"),
    "b": ("distance from the centre of gravity to the rear axle", "m"),
    "t_f": ("front track", "m"),
    "t_r": ("rear track", "m"),
    "K_f": ("roll stiffness of the front axle", "N·m/rad"),
    "K_r": ("roll stiffness of the rear axle", "N·m/rad"),
    "C_f": ("cornering stiffness of the front axle", "N/rad"),
    "C_r": ("cornering stiffness of the rear axle", "N/rad"),
    "K": ("understeer gradient", "rad/(m/s²)"),
    "V": ("speed", "m/s"),
}
"""Plain meaning and unit of every symbol a result may hold."""

POSITIVE = {"m", "m_s", "g", "L", "a", "b", "t_f", "t_r", "K_f", "K_r", "C_f", "C_r", "V", "R"}


def _symbols(names: str) -> Any:
    return tuple(sp.Symbol(n, real=True, positive=True if n in POSITIVE else None) for n in names.split())


def _solve(equations: list[Any], unknowns: list[Any]) -> dict[Any, Any]:
    """Solve a linear system that has exactly one solution."""
    (values,) = sp.linsolve(equations, unknowns)
    return dict(zip(unknowns, values, strict=True))


def _working(title: str, steps: list[tuple[str, Any]], result: Any, order: str, defined: Any = None) -> Working:
    names = order.split()
    shown = {s.name for s in result.rhs.free_symbols}
    value = result.rhs if defined is None else result.rhs.subs(defined.lhs, defined.rhs)
    symbols = {s.name: s for s in value.free_symbols}
    if set(symbols) != set(names):
        raise ValueError(f"{title}: the result holds {sorted(symbols)}, not {sorted(names)}")
    numeric = sp.lambdify([symbols[n] for n in names], value, modules="numpy")
    return Working(
        title, tuple(steps), result, {n: MEANINGS[n] for n in [*names, *sorted(shown - set(names))]}, numeric
    )


def _positive_below(fraction: Any) -> Any:
    """Write a fraction with the signs of its top and bottom both turned."""
    top, bottom = sp.fraction(sp.together(fraction))
    return sp.expand(-top) / sp.expand(-bottom)


def longitudinal_transfer() -> Working:
    """Derive the load that moves between the axles: ``ΔN = m·a_x·h/L``.

    Returns:
        the derivation [-]

    Validity: as ``loads.longitudinal_transfer``.
    """
    m, g, a_x, h, L, b = _symbols("m g a_x h L b")
    front, rear, shift = sp.symbols("N_f N_r ΔN")
    upright = sp.Eq(front + rear, m * g)
    moments = sp.Eq(front * L + m * a_x * h, m * g * b)
    loads = _solve([upright, moments], [front, rear])
    result = sp.Eq(shift, sp.factor(loads[rear] - loads[rear].subs(a_x, 0)))
    return _working(
        "Load that moves between the axles",
        [
            ("The two axles carry the whole weight.", upright),
            ("About the rear contact the weight turns one way, the front axle and the push the other.", moments),
            ("Solving both gives the front axle's load.", sp.Eq(front, sp.expand(loads[front]))),
            ("And the rear axle's load.", sp.Eq(rear, sp.expand(loads[rear]))),
            ("What the rear axle gains over standing still has moved there from the front.", result),
        ],
        result,
        "m a_x h L",
    )


def _body_roll() -> tuple[list[tuple[str, Any]], Any, Any]:
    """Moment balance of the leaning body: steps, roll angle solved, its symbol."""
    m_s, g, a_y, d, k_f, k_r = _symbols("m_s g a_y d K_f K_r")
    phi = sp.Symbol("φ", real=True)
    exact = sp.Eq((k_f + k_r) * phi, m_s * a_y * d * sp.cos(phi) + m_s * g * d * sp.sin(phi))
    small = sp.Eq(exact.lhs, sp.series(exact.rhs, phi, 0, 2).removeO())
    solved = _positive_below(_solve([small], [phi])[phi])
    steps = [
        ("About the roll axis the springs and bars hold the side push on the body and its own leaning weight.", exact),
        ("For a small angle the cosine is one and the sine is the angle itself.", small),
    ]
    return steps, solved, phi


def roll_angle() -> Working:
    """Derive the roll angle of a steady turn: ``φ = m_s·a_y·d/(K_f + K_r − m_s·g·d)``.

    Returns:
        the derivation [-]

    Validity: as ``rolling.roll``.
    """
    steps, solved, phi = _body_roll()
    result = sp.Eq(phi, solved)
    return _working("Roll angle", [*steps, ("Solved for the angle.", result)], result, "a_y m_s d K_f K_r g")


def lateral_transfer(axle: str = "front") -> Working:
    """Derive one axle's lateral load transfer in three parts: ``ΔN = links + unsprung + springs and bars``.

    Parameters:
        axle: "front" or "rear" [-]

    Returns:
        the derivation, its result the sum of the three parts [-]

    Errors:
        ``ValueError`` for another word.

    Validity: as ``rolling.lateral_transfer``.
    """
    if axle not in ("front", "rear"):
        raise ValueError(f"axle must be front or rear, got {axle!r}")
    i = axle[0]
    m_s, a_y, h, h_f, h_r, q, d, L = _symbols("m_s a_y h h_f h_r q d L")
    mass, height, track, centre, stiff = _symbols(f"m_u{i} h_u{i} t_{i} h_{i} K_{i}")
    side_f, side_r, shift = sp.symbols("F_f F_r ΔN")
    push = sp.Eq(side_f + side_r, m_s * a_y)
    yaw = sp.Eq(side_f * (1 - q) * L, side_r * q * L)
    sides = _solve([push, yaw], [side_f, side_r])
    side = side_f if i == "f" else side_r
    axis = sp.Eq(d, h - (h_f + (h_r - h_f) * (1 - q)))
    roll_steps, angle, phi = _body_roll()
    balance = sp.Eq(shift * track, side * centre + mass * a_y * height + stiff * phi)
    moved = sp.expand(_solve([balance], [shift])[shift])
    parts = {
        "The part through the links.": moved.coeff(side) * sp.factor(sides[side]),
        "The part of the unsprung mass.": moved.coeff(mass) * mass,
        "The part through springs and bars.": moved.coeff(phi) * angle,
    }
    result = sp.Eq(shift, sp.Add(*parts.values()))
    return _working(
        f"Lateral load transfer of the {axle} axle",
        [
            ("The links of both axles push the body round the turn.", push),
            ("The body does not spin up, so their moments about its centre of gravity cancel.", yaw),
            (f"The {axle} links' side force follows.", sp.Eq(side, sides[side])),
            ("The roll axis joins the two roll centres; the centre of gravity stands this far above it.", axis),
            *roll_steps,
            ("Solved for the angle.", sp.Eq(phi, angle)),
            ("About the middle of the axle on the ground three moments make the load move.", balance),
            *((sentence, sp.Eq(shift, part)) for sentence, part in parts.items()),
            ("All three together.", result),
        ],
        result,
        f"a_y m_s q h h_f h_r t_{i} K_f K_r m_u{i} h_u{i} g",
        defined=axis,
    )


def _cornering() -> tuple[list[tuple[str, Any]], Any, Any]:
    """Balance of the two-wheel car in a steady turn: steps, steer angle solved, symbols used later."""
    m, a, b, c_f, c_r, a_y, R = _symbols("m a b C_f C_r a_y R")
    front, rear, beta, delta = sp.symbols("F_f F_r β δ")
    equations = [
        ("Both axles' side forces carry the car round the turn.", sp.Eq(front + rear, m * a_y)),
        ("Their moments about the centre of gravity cancel in a steady turn.", sp.Eq(a * front, b * rear)),
        (
            "The front axle's force grows with its slip angle: steer, less sideslip, less the turning.",
            sp.Eq(front, c_f * (delta - beta - a / R)),
        ),
        ("The rear axle has no steer; there the turning adds.", sp.Eq(rear, c_r * (-beta + b / R))),
    ]
    solved = _solve([e for _, e in equations], [front, rear, beta, delta])
    return equations, sp.expand(solved[delta]), delta


def understeer_gradient() -> Working:
    """Derive the understeer gradient: ``K = ∂δ/∂a_y = m·(b·C_r − a·C_f)/(L·C_f·C_r)``.

    Returns:
        the derivation [-]

    Validity: as ``bicycle.understeer_gradient``, its weight part.
    """
    steps, steer, delta = _cornering()
    a_y, K, L, a, b = _symbols("a_y K L a b")
    crawl = sp.simplify(steer.subs(a_y, 0))
    added = sp.diff(steer, a_y)
    result = sp.Eq(K, sp.factor(added))
    return _working(
        "Understeer gradient",
        [
            *steps,
            ("Solved for the steer angle.", sp.Eq(delta, crawl + sp.factor(added) * a_y)),
            ("At a crawl a turn needs the wheelbase over the radius.", sp.Eq(delta, crawl)),
            ("The wheelbase is the sum of the distances.", sp.Eq(L, a + b)),
            ("What each unit of lateral acceleration adds is the understeer gradient.", result),
        ],
        result,
        "m a b C_f C_r",
    )


def characteristic_speed() -> Working:
    """Derive the speed at which an understeering car needs twice the crawling steer: ``V = √(L/K)``.

    Returns:
        the derivation [-]

    Validity: as ``bicycle.characteristic_speed``; K above zero.
    """
    L, R, V = _symbols("L R V")
    K = sp.Symbol("K", positive=True)
    delta, a_y = sp.symbols("δ a_y")
    steer = sp.Eq(delta, L / R + K * a_y)
    turn = sp.Eq(a_y, V**2 / R)
    twice = sp.Eq(steer.rhs.subs(a_y, turn.rhs), 2 * L / R)
    (speed,) = sp.solve(twice, V)
    result = sp.Eq(V, speed)
    return _working(
        "Characteristic speed",
        [
            ("A steady turn needs this steer angle.", steer),
            ("The lateral acceleration of the turn.", turn),
            ("At the characteristic speed the steer angle is twice what a crawl needs.", twice),
            ("Solved for the speed.", result),
        ],
        result,
        "L K",
    )


def _motion() -> tuple[list[tuple[str, Any]], Any, Any]:
    """Equations of motion of the two-wheel car as A·x + B·δ: steps, A, B."""
    m, a, b, c_f, c_r, V = _symbols("m a b C_f C_r V")
    inertia = sp.Symbol("I", positive=True)
    beta, r, delta, dbeta, dr = sp.symbols("β r δ β' r'")
    front, rear = c_f * (delta - beta - a * r / V), c_r * (-beta + b * r / V)
    side = sp.Eq(m * V * (dbeta + r), front + rear)
    yaw = sp.Eq(inertia * dr, a * front - b * rear)
    rates = _solve([side, yaw], [dbeta, dr])
    change = sp.Matrix([rates[dbeta], rates[dr]])
    steps = [
        ("Mass times sideways acceleration is the sum of both side forces.", side),
        ("Yaw inertia times yaw acceleration is the difference of their moments.", yaw),
    ]
    return steps, change.jacobian([beta, r]), change.jacobian([delta])


def critical_speed() -> Working:
    """Derive the speed at which a pole of the motion reaches zero: ``V = L·√(C_f·C_r/(m·(a·C_f − b·C_r)))``.

    Returns:
        the derivation; the result exists where ``a·C_f > b·C_r`` [-]

    Validity: as ``bicycle.critical_speed``.
    """
    steps, matrix, _ = _motion()
    a, b, V, L = _symbols("a b V L")
    square = sp.Symbol("S", positive=True)
    edge = sp.Eq(sp.factor(matrix.det()), 0)
    (value,) = sp.solve(sp.numer(sp.together(edge.lhs)).subs(V, sp.sqrt(square)), square)
    result = sp.Eq(V, sp.sqrt(sp.factor(value)))
    return _working(
        "Critical speed",
        [
            *steps,
            ("A small swerve neither grows nor fades when a pole is zero: the determinant vanishes.", edge),
            ("Solved for the speed.", result),
            ("The distances to both axles make up the wheelbase.", sp.Eq(a + b, L)),
        ],
        result,
        "m a b C_f C_r",
    )


def yaw_rate_gain() -> Working:
    """Derive yaw rate over steer angle and where it is greatest: ``r/δ = V/(L + K·V²)``, ``V = √(L/K)``.

    Returns:
        the derivation; its last step is the greatest gain, half that of a neutral car [-]

    Validity: as ``bicycle.yaw_rate_gain``; the greatest gain for K above zero.
    """
    steps, matrix, entry = _motion()
    a, b, V, L, K = _symbols("a b V L K")
    gain = sp.Symbol("G_r")
    steady = sp.simplify(-(matrix.inv() * entry)[1])
    inverse = sp.expand(sp.simplify(V / steady))
    base = sp.simplify(inverse.subs(V, 0))
    gradient = sp.simplify(inverse.coeff(V, 2) * (a + b) / base)
    known = understeer_gradient().result.rhs
    if sp.simplify(gradient - known.subs(L, a + b)) != 0 or sp.simplify(base - a - b) != 0:
        raise ValueError("the steady yaw rate does not hold the understeer gradient")
    result = sp.Eq(gain, V / (L + K * V**2))
    slope = sp.factor(sp.diff(result.rhs, V))
    positive = sp.Symbol("K", positive=True)
    (top,) = sp.solve(sp.numer(sp.together(slope)).subs(K, positive), V)
    most = sp.simplify(result.rhs.subs(K, positive).subs(V, top))
    neutral = sp.simplify(most / (top / L))
    return _working(
        "Yaw rate for each steer angle",
        [
            *steps,
            ("In a steady turn nothing changes; solved for yaw rate over steer angle.", sp.Eq(gain, steady)),
            ("The wheelbase is the sum of the distances.", sp.Eq(L, base)),
            ("And this is the understeer gradient.", sp.Eq(K, sp.factor(gradient))),
            ("In those two the gain is short.", result),
            ("It is greatest where its slope is zero.", sp.Eq(slope, 0)),
            ("That is the characteristic speed.", sp.Eq(V, top)),
            ("There it is this much of a neutral car's gain at the same speed.", sp.Eq(gain / (V / L), neutral)),
        ],
        result,
        "V L K",
    )
