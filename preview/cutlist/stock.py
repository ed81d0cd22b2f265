"""The flat stock that a section is milled from, and the rough lumber that it is sold as.

standing on its back: the box of the section        sprung: the box that lies along its back

 |________                                           width along the spring, thickness square to it
 |       |
 |   .__/| width                                     where neither a flat back nor a spring says how it lies:
 |  /    |                                           the rectangle of least area round the section
 |_|_____|
 thickness
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from preview.blanks import NOMINAL, WIDEST_BOARD, Nominal, board_feet, stock_for
from preview.joinery import Piece
from preview.profiles import Line, Profile, flatten, measure
from preview.runs import Stand
from preview.shop import spring_of

Floats = NDArray[np.float64]
Lies = Literal["on its back", "along its spring", "in the least rectangle"]
Lumber = Literal["hardwood", "softwood"]

INCH = 25.4
FINE = 0.001
"""How finely, mm, an outline is followed."""
ON_A_LINE = 1e-6
FLAT_BACK = 0.5
"""A section stands on its back when at least this share of its height does."""
NO_BETTER = 0.99
"""A turned rectangle is taken only when its area is less than this share of the upright one's."""
EDGING = 0.25
"""What jointing the two edges of a board takes off its width, inches: an eighth from each edge (common practice)."""
WIDTH_STEP = 0.5
"""Rough widths are reckoned in steps of this many inches (common practice)."""
FITS = 1e-6

HARDWOOD_SOURCE = "hardwood thicknesses, rough and surfaced on two sides (Engineering ToolBox, page 1462)"
_SOFT_THICK = (("1", 1.0, 0.75), ("2", 2.0, 1.5), ("2 1/2", 2.5, 2.0), ("3", 3.0, 2.5), ("3 1/2", 3.5, 3.0))
_SOFT_THICKNESS = (*_SOFT_THICK, ("4", 4.0, 3.5))
_SOFT_WIDTH = (
    ("2", 2.0, 1.5),
    ("3", 3.0, 2.5),
    ("4", 4.0, 3.5),
    ("5", 5.0, 4.5),
    ("6", 6.0, 5.5),
    ("8", 8.0, 7.25),
    ("10", 10.0, 9.25),
    ("12", 12.0, 11.25),
)
SOFTWOOD_SOURCE = "dry sizes of softwood lumber (Tenn. Comp. R. & Regs. 0080-07-07-.06 table 4, as in PS 20)"


@dataclass(frozen=True)
class Rough:
    """The rough or nominal lumber for a section.

    name: as it is asked for. thickness, width: nominal, mm, which board feet are reckoned on. source: of the sizes.
    glued: whether it has to be glued up, thicker or wider than any board.
    """

    name: str
    thickness: float
    width: float
    source: str
    glued: bool = False

    def board_feet(self, length: float) -> float:
        """Board feet of a length (mm): thickness x width x length / 144 in inches, on the rough size (trade rule)."""
        return board_feet(self.thickness * self.width * length)


@dataclass(frozen=True)
class Stock:
    """What a section is milled from: thickness and width, mm, of the least flat stock that holds it.

    lies: how the section lies in it. tilt: the angle, radians, between its width and the wall; 0 on its back, the
    spring angle of a sprung molding. rough: the lumber that it is sold as.
    """

    thickness: float
    width: float
    lies: Lies
    tilt: float
    rough: Rough


def rough_for(thickness: float, width: float, lumber: Lumber = "hardwood") -> Rough:
    """The rough lumber that yields a finished thickness and width (mm).

    Hardwood comes in thicknesses by the quarter inch and in random widths: the least thickness that still holds the
    finished one when surfaced on two sides, and the width with its edges jointed. Softwood comes in both by name.
    """
    thick, wide = thickness / INCH, width / INCH
    if lumber == "softwood":
        return _softwood(thick, wide)
    found = stock_for(thickness)
    rough = math.ceil((wide + EDGING) / WIDTH_STEP - FITS) * WIDTH_STEP
    if found is None:
        # Glued up of two or more of one thickness, which loses as much at the seams as at a face.
        layers, each = _layers(thickness)
        name = f"{layers} of {each.name}, glued"
        return Rough(f"{name} × {_inches(rough)}", layers * each.rough, rough * INCH, HARDWOOD_SOURCE, True)
    glued = rough * INCH > WIDEST_BOARD + FITS
    return Rough(f"{found.name} × {_inches(rough)}", found.rough, rough * INCH, HARDWOOD_SOURCE, glued)


def _layers(thickness: float) -> tuple[int, Nominal]:
    """The fewest layers of one stock thickness, and of those the thinnest, that hold a thickness, mm."""
    for count in range(2, 1000):
        for each in NOMINAL:
            if count * each.surfaced + FITS >= thickness:
                return count, each
    raise ValueError("no molding is this thick")


def _softwood(thick: float, wide: float) -> Rough:
    first = next((each for each in _SOFT_THICKNESS if thick <= each[2] + FITS), None)
    second = next((each for each in _SOFT_WIDTH if wide <= each[2] + FITS), None)
    by = math.ceil(wide + EDGING - FITS) if second is None else second[1]
    high = math.ceil(thick + EDGING - FITS) if first is None else first[1]
    names = (first[0] if first else f"{high:g} glued", second[0] if second else f"{by:g} glued")
    return Rough(" × ".join(names), high * INCH, by * INCH, SOFTWOOD_SOURCE, first is None or second is None)


def _inches(value: float) -> str:
    whole, half = divmod(round(value * 2), 2)
    return f'{whole} 1/2"' if half and whole else '1/2"' if half else f'{whole}"'


def stock_of(piece: Piece, lumber: Lumber = "hardwood") -> Stock:
    """The least flat stock for the section of a piece, as it is cut square to its length."""
    points = true_points(piece)
    direction, lies = _lying(piece, points)
    thickness, width = box_along(points, direction)
    angle = math.atan2(direction[0], direction[1])
    if thickness > width:
        thickness, width = width, thickness
        angle = 0.0 if lies == "on its back" else angle
    return Stock(thickness, width, lies, angle, rough_for(thickness, width, lumber))


def on_wall_face(stand: Stand) -> bool:
    """Whether a plan is the face of a wall, as that of a casing is, whose boards lie flat on it."""
    return abs(stand.z[2]) < 0.5


def true_points(piece: Piece) -> Floats:
    """The outline (n, 2) of the section square to a piece's length, in (d, h), mm: a plumb section is foreshortened."""
    points: Floats = flatten(piece.profile, FINE).points
    size = measure(piece.profile)
    extremes = np.array([(size.d_min, size.h_min), (size.d_max, size.h_max)])
    if piece.square or not (piece.element.slope or piece.shear or piece.element.bend):
        # The rounds' own outermost points, exactly.
        whole: Floats = np.concatenate([points, *(_on_outline(points, axis, at) for axis, at in _limits(extremes))])
        return whole
    cos = 1.0 / piece.pace if not piece.element.bend else 1.0
    placed: Floats = np.column_stack([points[:, 0], (points[:, 1] + piece.shear * points[:, 0]) * cos])
    return placed


def _limits(extremes: Floats) -> list[tuple[int, float]]:
    return [(axis, float(extremes[row, axis])) for row in (0, 1) for axis in (0, 1)]


def _on_outline(points: Floats, axis: int, at: float) -> Floats:
    """The point nearest to a limit, put on it."""
    i = int(np.argmin(np.abs(points[:, axis] - at)))
    nearest: Floats = points[i : i + 1].copy()
    nearest[0, axis] = at
    return nearest


def _lying(piece: Piece, points: Floats) -> tuple[tuple[float, float], Lies]:
    """The direction in (d, h) in which the width of the stock runs."""
    section = piece.profile
    if on_wall_face(piece.stand):
        return (0.0, 1.0), "on its back"
    spring = spring_of(section)
    if spring is not None:
        return _turned_up(piece, math.sin(spring), math.cos(spring)), "along its spring"
    upright = (0.0, 1.0)
    if _back_height(section) >= FLAT_BACK * (measure(section).h_max - measure(section).h_min):
        return upright, "on its back"
    best = min(_hull_directions(points), key=lambda each: math.prod(box_along(points, each)), default=upright)
    least = math.prod(box_along(points, best))
    if least >= NO_BETTER * math.prod(box_along(points, upright)):
        return upright, "on its back"
    return best, "in the least rectangle"


def _turned_up(piece: Piece, d: float, h: float) -> tuple[float, float]:
    """A direction of the section as placed, in the section square to the piece's length."""
    if not piece.square:
        h = (h + piece.shear * d) / (1.0 if piece.element.bend else piece.pace)
    size = math.hypot(d, h)
    return d / size, h / size


def _back_height(profile: Profile) -> float:
    """How much of the height the back covers, from the foot of its lowest line to the top of its highest, mm."""
    least = measure(profile).d_min
    heights = [
        end[1]
        for edge in profile.edges
        if isinstance(edge, Line) and max(edge.start[0], edge.end[0]) <= least + ON_A_LINE
        for end in (edge.start, edge.end)
    ]
    return max(heights, default=0.0) - min(heights, default=0.0)


def box_along(points: Floats, direction: tuple[float, float]) -> tuple[float, float]:
    """The sides, mm, of the rectangle round points (n, 2): across a unit direction, and along it."""
    along = points @ np.array(direction)
    across = points @ np.array((direction[1], -direction[0]))
    return float(np.ptp(across)), float(np.ptp(along))


def _hull_directions(points: Floats) -> list[tuple[float, float]]:
    """The directions of the sides of the convex hull: the least rectangle lies along one of them."""
    hull = _hull(points)
    sides = np.roll(hull, -1, axis=0) - hull
    long = np.hypot(sides[:, 0], sides[:, 1])
    return [(float(x), float(y)) for x, y in sides[long > 0] / long[long > 0][:, None]]


def _hull(points: Floats) -> Floats:
    """The convex hull, counter-clockwise (Andrew's monotone chain)."""
    ordered = [tuple(point) for point in np.unique(points, axis=0)]

    def chain(row: list[tuple[float, ...]]) -> list[tuple[float, ...]]:
        kept: list[tuple[float, ...]] = []
        for p in row:
            while len(kept) > 1 and _left(kept[-2], kept[-1], p) <= 0.0:
                kept.pop()
            kept.append(p)
        return kept[:-1]

    return np.array(chain(ordered) + chain(ordered[::-1]))


def _left(a: tuple[float, ...], b: tuple[float, ...], c: tuple[float, ...]) -> float:
    return (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])
