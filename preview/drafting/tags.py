"""Tags: a short number for each piece, the same in every drawing and in the table of pieces."""

from __future__ import annotations

import math
from collections.abc import Sequence

from preview.build import Built
from preview.drafting.labels import lettered, text_size
from preview.joinery import Piece
from preview.paper import INK, SOFT, WHITE, Mark, Trace
from preview.profiles import Arc, Line, Point

TAG_TYPE = 2.5
"""mm, the type in tags."""
LEAST_ROUND = 2.3
"""mm, the radius of the circle round a tag of one or two figures."""
RING = 0.25
AWAY = {"begin return": -0.5, "end return": 0.5}


def piece_tags(built: Built) -> list[str]:
    """A tag for each piece, in the order of the pieces: "1", "2" and so on in the order of travel, run by run.

    Members of a build-up that lie at one place follow each other in the order in which the run names them.
    """
    runs = [placed.run.name for placed in built.scene.runs]
    lines = [number for number, line in enumerate(built.lines) for _ in line.pieces]

    def place(number: int) -> tuple[int, float, int, int]:
        piece = built.pieces[number]
        return (runs.index(piece.run), travel_order(piece), lines[number], number)

    found = [""] * len(built.pieces)
    for tag, number in enumerate(sorted(range(len(built.pieces)), key=place), start=1):
        found[number] = str(tag)
    return found


def travel_order(piece: Piece) -> float:
    """Where a piece comes along its run: by its element's number, returns and corner blocks before or after it."""
    part = piece.name.rsplit(" / ", 1)[1]
    if part.endswith("corner block"):
        return piece.index - 0.25
    return piece.index + AWAY.get(part, 0.0)


def tag_radius(tags: Sequence[str]) -> float:
    """The radius, mm, of circles that hold all of these tags."""
    return max([LEAST_ROUND, *(text_size(tag, TAG_TYPE, bold=True)[0] / 2 + 0.9 for tag in tags)])


def circle(middle: Point, radius: float) -> tuple[Arc, Arc]:
    """A whole circle, as two half turns."""
    (x, y) = middle
    right, left = (x + radius, y), (x - radius, y)
    return (Arc(right, left, middle, math.pi), Arc(left, right, middle, math.pi))


def tag_marks(tags: Sequence[str], middle: Point, radius: float) -> list[Mark]:
    """Tags in circles, side by side, about a middle."""
    x = middle[0] - radius * (len(tags) - 1)
    marks: list[Mark] = []
    for tag in tags:
        marks.append(Trace(circle((x, middle[1]), radius), RING, INK, WHITE))
        marks.append(lettered(tag, TAG_TYPE, (x, middle[1]), bold=True))
        x += 2 * radius
    return marks


def number_marks(number: str, middle: Point) -> list[Mark]:
    """A corner's number in a box."""
    half_wide, half_high = number_size(number)
    (x, y) = middle
    corners = [
        (x - half_wide, y - half_high),
        (x + half_wide, y - half_high),
        (x + half_wide, y + half_high),
        (x - half_wide, y + half_high),
    ]
    edges = tuple(Line(a, b) for a, b in zip(corners, [*corners[1:], corners[0]], strict=True))
    return [Trace(edges, RING, SOFT, WHITE), lettered(number, TAG_TYPE, middle, ink=SOFT)]


def number_size(number: str) -> tuple[float, float]:
    """Half the sides, mm, of the box round a corner's number."""
    return max(1.9, text_size(number, TAG_TYPE)[0] / 2 + 0.8), 1.9
