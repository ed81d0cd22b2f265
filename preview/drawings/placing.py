"""Standing an outline on its foot with its back to the wall: (x, y) of a drawing becomes (d, h)."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from preview.drawings.curves import Affine, mapped
from preview.drawings.joints import with_ends
from preview.drawings.wanted import Wanted
from preview.errors import PreviewError
from preview.profiles import Arc, Edge, Line
from preview.units import Unit, show

UPRIGHT = 1e-5
"""A line whose ends are no further aside than this, mm, is upright; one this near the extreme lies on it."""
CLEARLY = 1.25
"""One side is the back without asking where its upright lines reach this many times as far as the other's."""


@dataclass(frozen=True)
class _Side:
    """One extreme of an outline: where it is, its longest upright line, and how far its lines reach, mm."""

    name: str
    x: float
    longest: float
    reach: float


def placed(edges: Sequence[Edge], wanted: Wanted, unit: Unit) -> tuple[list[Edge], list[str]]:
    """The outline moved and mirrored into (d, h), d = 0 on its back and h = 0 at its lowest; and what was found.

    The back is the side with an upright line over the whole height, or whose upright lines reach clearly
    further than the other's. Raises PreviewError when neither side, or each, could be the back.
    """
    boxes = [edge.bounds for edge in edges]
    low = (min(box[0] for box in boxes), min(box[1] for box in boxes))
    high = (max(box[2] for box in boxes), max(box[3] for box in boxes))
    left, right = _side("left", low[0], edges), _side("right", high[0], edges)
    side = _back(left, right, high[1] - low[1], wanted, unit)
    foot = wanted.foot or "bottom"
    out, up = (1.0 if side is left else -1.0), (1.0 if foot == "bottom" else -1.0)
    level = low[1] if foot == "bottom" else high[1]
    by = Affine(a=out, d=up, e=-out * side.x, f=-up * level)
    turned: list[Edge] = []
    for edge in edges:
        (found,) = mapped(edge, by)
        assert isinstance(found, Line | Arc)
        turned.append(found)
    how = "" if wanted.back else ", found"
    told = f"the back is the {side.name} side of the drawing{how}: {show(side.longest, unit)} of straight line"
    note = f"{told}; the foot is the {foot}{'' if wanted.foot else ', taken as drawn'}"
    return _on_the_wall(turned), [note]


def _side(name: str, x: float, edges: Sequence[Edge]) -> _Side:
    on_it = [edge for edge in edges if isinstance(edge, Line) and _lies_on(edge, x)]
    heights = [end[1] for edge in on_it for end in (edge.start, edge.end)]
    reach = max(heights) - min(heights) if heights else 0.0
    return _Side(name, x, max((edge.length for edge in on_it), default=0.0), reach)


def _lies_on(edge: Line, x: float) -> bool:
    return abs(edge.start[0] - x) <= UPRIGHT and abs(edge.end[0] - x) <= UPRIGHT


def _back(left: _Side, right: _Side, height: float, wanted: Wanted, unit: Unit) -> _Side:
    if wanted.back is not None:
        side, other = (left, right) if wanted.back == "left" else (right, left)
        if not side.longest:
            has = f", and along the {other.name} there is one" if other.longest else ""
            raise PreviewError(
                "back",
                None,
                f"along the {side.name} side of the outline no upright straight line lies that could be the back{has}",
                f'write back = "{other.name}"' if has else "turn the drawing so that the back stands upright",
            )
        return side
    if not left.longest and not right.longest:
        raise PreviewError(
            "",
            None,
            "neither along the left nor along the right side of the outline lies an upright straight line, so it has "
            "no back to go on the wall",
            "turn the drawing so that the back stands upright",
        )
    whole = [side for side in (left, right) if side.reach >= height - UPRIGHT]
    if len(whole) == 1:
        return whole[0]
    longer, shorter = (left, right) if left.reach >= right.reach else (right, left)
    if whole or longer.reach < CLEARLY * shorter.reach:
        raise PreviewError(
            "back",
            None,
            f"either side could be the back: upright lines reach over {show(left.reach, unit)} along the left and over "
            f"{show(right.reach, unit)} along the right",
            'say which side goes on the wall: back = "left" or back = "right"',
        )
    return longer


def _on_the_wall(edges: list[Edge]) -> list[Edge]:
    """The edges with the back's own ends, which may be off by rounding, put on d = 0."""
    ends = {end for edge in edges if isinstance(edge, Line) and _lies_on(edge, 0.0) for end in (edge.start, edge.end)}
    off = {end for end in ends if end[0] != 0.0}
    if not off:
        return edges

    def on(at: tuple[float, float]) -> tuple[float, float]:
        near = any(math.dist(at, end) <= 1e-9 for end in off)
        return (0.0, at[1]) if near else at

    return [with_ends(edge, on(edge.start), on(edge.end)) for edge in edges]
