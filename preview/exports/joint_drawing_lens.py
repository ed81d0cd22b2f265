"""The lens of a joint drawing: the worst place once more, so much larger that the step can be seen."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from preview.exports.joint_drawing_notes import SMALL, Block, span
from preview.exports.joint_drawing_shapes import Floats, Loop, circle, dashes, flat, in_lens, lines_in_lens
from preview.paper import (
    FAINT,
    INK,
    THICK,
    WHITE,
    Mark,
    Trace,
    Words,
    advance,
    moved,
)
from preview.profiles import Arc, Line, Point

MISMATCH = "#d1361f"
AFTER = "#1d5c9e"
BLOCK = "#e6ebf0"
RADIUS = 18.0
"""mm, of the lens."""
WIDEST = 9.0
"""mm that the step may fill in it."""
TIMES = (2, 5, 10, 20, 50, 100, 200, 500, 1000, 2000)
DASH = (3.2, 1.8)
SIZE = 5.0


def lens(
    fills: Sequence[tuple[tuple[Loop, ...], str]],
    loops: tuple[Loop, Loop],
    step: tuple[Point, Point],
    label: tuple[str, str, str],
    at: Point,
    scale: float,
) -> Block:
    """A round window on two outlines (d, h in mm); its leader stops at a ring round what it magnifies.

    fills: what is filled, in order. step: the two points that are apart. label: what that is called, and how far
    it is in two units. at: their place on the drawing, which is to `scale`.
    """
    apart = math.dist(*step)
    times = max((each for each in TIMES if apart * each <= WIDEST), default=TIMES[0])
    center = np.array([(step[0][0] + step[1][0]) / 2, (step[0][1] + step[1][1]) / 2])

    def seen(loop: Loop) -> Floats:
        points: Floats = (flat(loop, 0.02 / times) - center) * times
        return points

    marks: list[Mark] = [_disk(WHITE)]
    for filled, ink in fills:
        marks += _filled([seen(loop) for loop in filled], ink)
    before, after = (seen(loop) for loop in loops)
    marks.append(Trace(lines_in_lens(before, RADIUS), THICK))
    marks.append(Trace(_dashed(lines_in_lens(after, RADIUS)), THICK, AFTER))
    one, other = ((times * (point[0] - float(center[0])), times * (point[1] - float(center[1]))) for point in step)
    marks += span(one, other)
    marks.append(_disk(None))
    under: list[Mark] = []
    head, under_it = f"{label[0]} {label[1]}", f"{label[2]}, drawn {times}:1"
    under.append(Words(head, (-RADIUS, -RADIUS - 7.0), SIZE, INK, bold=True))
    under.append(Words(under_it, (-RADIUS, -RADIUS - 12.4), SMALL, FAINT))
    low = -RADIUS - 12.4
    width = max(2 * RADIUS, advance(head, SIZE, bold=True), advance(under_it, SMALL))
    ring = max(2.0, RADIUS / times * scale)
    return Block(moved([*marks, *under], RADIUS, -low), width, RADIUS - low, at, (0.0, -low), ring)


def _filled(polygons: Sequence[Floats], ink: str) -> list[Mark]:
    """Polygons, less what lies outside the lens, in one fill; those wound opposite ways empty each other."""
    edges: list[Line] = []
    for polygon in polygons:
        points = [(float(x), float(y)) for x, y in in_lens(polygon, RADIUS)]
        if len(points) > 2:
            edges += [Line(p, q) for p, q in zip(points, [*points[1:], points[0]], strict=True)]
    return [Trace(tuple(edges), 0.0, ink, ink)] if edges else []


def _dashed(lines: Sequence[Line]) -> tuple[Arc | Line, ...]:
    """Lines that follow one another, dashed along their whole length."""
    chains: list[list[Line]] = []
    for line in lines:
        if chains and chains[-1][-1].end == line.start:
            chains[-1].append(line)
        else:
            chains.append([line])
    return tuple(edge for chain in chains for edge in dashes(tuple(chain), *DASH))


def _disk(fill: str | None) -> Trace:
    rim = circle((0.0, 0.0), RADIUS)
    return Trace(rim, 0.0, fill, fill) if fill else Trace(rim, 0.5)
