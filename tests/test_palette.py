"""The colours of the pictures: contrast on white, and telling them apart with each kind of colour blindness."""

from itertools import combinations

import numpy as np
import pytest

from vdlib.draw.style import ROLES, fill, line, point

WHITE = "#FFFFFF"
# Contrast: W3C, Web Content Accessibility Guidelines 2.2 (2023), success criteria 1.4.3 (text, 4.5 to 1) and 1.4.11
# (parts of a picture, 3 to 1).
TEXT, SHAPE = 4.5, 3.0
TEXT_ROLES = ("front", "reference", "now", "muted")
"""Roles whose colour words may be written in."""
NOT_LINES = ("warning", "toward_oversteer")
"""Roles that are only ever drawn as a shape with a dark edge; the random walks look for faint lines."""
# Machado, Oliveira & Fernandes, "A Physiologically-based Model for Simulation of Color Vision Deficiency", IEEE Trans.
# Visualization and Computer Graphics 15 (2009) 1291, table of matrices, severity 1.0; for linear RGB.
VISION = {
    "usual": np.eye(3),
    "protanopia": [[0.152286, 1.052583, -0.204868], [0.114503, 0.786281, 0.099216], [-0.003882, -0.048116, 1.051998]],
    "deuteranopia": [[0.367322, 0.860646, -0.227968], [0.280085, 0.672501, 0.047413], [-0.011820, 0.042940, 0.968881]],
    "tritanopia": [[1.255528, -0.076749, -0.178779], [-0.078411, 0.930809, 0.147602], [0.004733, 0.691367, 0.303900]],
}
OPPOSED = [("front", "rear"), ("inner", "outer"), ("toward_understeer", "toward_oversteer"), ("reference", "now")]
"""Roles set against each other in one picture."""
APART = 15.0
"""Least colour difference of opposed roles, CIE 1976 [-]: some six times the just noticeable 2.3 (Mahy, Van
Eycken & Oosterlinck, Color Research & Application 19 (1994) 105); six times is a choice of ours."""
# sRGB to CIE XYZ, and the white of D65: IEC 61966-2-1 (1999)
TO_XYZ = np.array([[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]])


def linear(colour: str) -> np.ndarray:
    """Linear RGB of a colour (IEC 61966-2-1)."""
    coded = np.array([int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)])
    return np.where(coded <= 0.04045, coded / 12.92, ((coded + 0.055) / 1.055) ** 2.4)


def contrast(one: str, other: str) -> float:
    """Contrast ratio of two colours (WCAG 2.2, definition of contrast ratio)."""
    light, dark = sorted((float(TO_XYZ[1] @ linear(c)) for c in (one, other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def lab(colour: str, vision: str) -> np.ndarray:
    """CIE 1976 L*a*b* of a colour as one kind of vision has it (CIE 15:2004, 8.2.1)."""
    seen = np.clip(np.asarray(VISION[vision]) @ linear(colour), 0, 1)
    x, y, z = (TO_XYZ @ seen) / (TO_XYZ @ np.ones(3))
    fx, fy, fz = (np.cbrt(t) if t > (6 / 29) ** 3 else t * (29 / 6) ** 2 / 3 + 4 / 29 for t in (x, y, z))
    return np.array([116 * fy - 16, 500 * (fx - fy), 200 * (fy - fz)])


def apart(one: str, other: str, vision: str) -> float:
    """Colour difference of two roles."""
    return float(np.linalg.norm(lab(ROLES[one].colour, vision) - lab(ROLES[other].colour, vision)))


@pytest.mark.published
def test_the_measures_give_known_values():
    assert contrast("#000000", WHITE) == pytest.approx(21, abs=1e-9)  # WCAG 2.2: "from 1 to 21"
    # Lab of sRGB red under D65, from memory: 53.24, 80.09, 67.20
    np.testing.assert_allclose(lab("#FF0000", "usual"), [53.24, 80.09, 67.20], atol=0.03)  # 4-digit matrix
    for vision, matrix in VISION.items():  # white and every grey stay as they are in every kind of vision
        np.testing.assert_allclose(np.asarray(matrix).sum(axis=1), 1, atol=2e-6, err_msg=vision)


@pytest.mark.parametrize("role", TEXT_ROLES)
def test_words_in_a_roles_colour_can_be_read(role):
    assert contrast(ROLES[role].colour, WHITE) >= TEXT


@pytest.mark.parametrize("role", [role for role in ROLES if role not in NOT_LINES])
def test_a_roles_line_stands_out_from_white(role):
    assert contrast(line(role)["color"], WHITE) >= SHAPE


@pytest.mark.parametrize("role", ROLES)
def test_a_roles_shape_has_an_edge_that_stands_out_from_white(role):
    assert contrast(fill(role)["edgecolor"], WHITE) >= SHAPE
    assert point(role)["markeredgecolor"] == "black"


@pytest.mark.parametrize("vision", VISION)
@pytest.mark.parametrize(("one", "other"), OPPOSED)
def test_opposed_roles_are_told_apart_by_colour_in_every_kind_of_vision(one, other, vision):
    assert apart(one, other, vision) >= APART


@pytest.mark.parametrize("vision", VISION)
def test_roles_of_like_colour_are_told_apart_by_marker_line_and_hatch(vision):
    for one, other in combinations(ROLES, 2):
        if apart(one, other, vision) < APART:
            a, b = ROLES[one], ROLES[other]
            assert a.marker != b.marker, (one, other)
            assert str(a.line) != str(b.line), (one, other)
            assert a.hatch != b.hatch, (one, other)
