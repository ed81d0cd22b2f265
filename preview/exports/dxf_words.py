"""The names of pieces in a DXF drawing, and how large its words are."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from preview.exports.dxf_page import NAMES, NOTES, Align, Word
from preview.profiles import Arc, Edge, Point

WIDE = 0.7
"""How wide a letter is on the average, for its height."""
SIZES = (4.0, 5.0, 6.0, 8.0, 10.0, 12.0, 15.0, 20.0, 25.0, 30.0, 40.0, 50.0, 60.0)
"""mm, the heights of words at true size."""
LINE, ROW = 1.3, 1.6
"""How high a line of words is, and how far apart lines are, for the height of their capitals."""
TRIES, SIDEWAYS = 45, 9
MARGIN = 1e-6
"""mm, by which a box round something is larger, so that rounding decides nothing."""
SHARE = 180.0
"""Words are this part of the drawing's longer side: about 2 mm high where that fills a sheet."""


Floats = NDArray[np.float64]
Corners = list[Point]


@dataclass(frozen=True)
class Spot:
    """Where a piece is named: a place, mm, unit ways along the piece and away from it, and how far away it is clear.

    length: how long the piece is there, mm.
    """

    name: str
    at: Point
    along: Point
    out: Point
    reach: float
    length: float


def height_for(box: tuple[float, float, float, float]) -> float:
    """How high words are in a drawing of that size, mm: one of SIZES."""
    wanted = min(max(max(box[2] - box[0], box[3] - box[1]) / SHARE, SIZES[0]), SIZES[-1])
    return max(each for each in SIZES if each <= wanted)


def name_words(spots: Sequence[Spot], height: float, lines: Sequence[Edge] = ()) -> list[Word]:
    """The names: along a piece where it is long enough for them, else away from it.

    No name lies over another, nor, where there is room, over `lines`.
    """
    segments = _segments(lines)
    low, high = np.minimum(segments[:, :2], segments[:, 2:]), np.maximum(segments[:, :2], segments[:, 2:])
    found: list[Word] = []
    taken: list[Corners] = []
    boxes = np.empty((len(spots), 2, 2))
    for spot in spots:
        fits = WIDE * height * len(spot.name) <= spot.length
        clear: list[tuple[Word, Corners]] = []
        for step in range(TRIES):
            word = _placed(spot, height, fits, step)
            corners = _corners(word)
            box = _box(corners)
            beside = np.flatnonzero(_near(boxes[: len(taken), 0], boxes[: len(taken), 1], box))
            if not any(_overlap(corners, taken[other]) for other in beside):
                clear.append((word, corners))
                if not _crossed(word, segments[_near(low, high, box)]):
                    break
        else:
            word = _placed(spot, height, fits, 0)
            word, corners = clear[0] if clear else (word, _corners(word))
        boxes[len(taken)] = _box(corners)
        found.append(word)
        taken.append(corners)
    return found


def _box(corners: Corners) -> Floats:
    """The upright box (2, 2) round an oblong, a little larger: its lowest and its highest corner."""
    x, y = zip(*corners, strict=True)
    return np.array([(min(x) - MARGIN, min(y) - MARGIN), (max(x) + MARGIN, max(y) + MARGIN)])


def _near(low: Floats, high: Floats, box: Floats) -> NDArray[np.bool_]:
    """Which of upright boxes, by their corners (n, 2) and (n, 2), have something in common with a box (2, 2)."""
    (left, bottom), (right, top) = box.tolist()
    found: NDArray[np.bool_] = (low[:, 0] < right) & (high[:, 0] > left) & (low[:, 1] < top) & (high[:, 1] > bottom)
    return found


def _segments(lines: Sequence[Edge]) -> Floats:
    """Edges as straight segments (n, 4), mm; arcs by chords."""
    rows = [np.empty((0, 4))]
    for edge in lines:
        points = edge.point(np.linspace(0.0, 1.0, 9 if isinstance(edge, Arc) else 2))
        rows.append(np.column_stack([points[:-1], points[1:]]))
    return np.concatenate(rows)


def _crossed(word: Word, segments: Floats) -> bool:
    """Whether any of the segments runs through the oblong that a word fills."""
    cos, sin = math.cos(word.angle), math.sin(word.angle)
    turn = np.array([[cos, -sin], [sin, cos]])
    first, last = ((segments[:, i : i + 2] - np.array(word.at)) @ turn for i in (0, 2))
    left, right, half = _extent(word)
    low, high = np.minimum(first, last), np.maximum(first, last)
    near = (low[:, 0] < right) & (high[:, 0] > left) & (low[:, 1] < half) & (high[:, 1] > -half)
    a, b = first[near], last[near]
    corners = np.array([(left, -half), (right, -half), (right, half), (left, half)])
    side = (b - a)[:, None, 0] * (corners[:, 1] - a[:, None, 1]) - (b - a)[:, None, 1] * (corners[:, 0] - a[:, None, 0])
    return bool(((side.min(axis=1) < 0) & (side.max(axis=1) > 0)).any())


def _placed(spot: Spot, height: float, along: bool, step: int) -> Word:
    """A name at its best place, or by steps further away or aside."""
    way = spot.along if along else spot.out
    angle = read_from(math.atan2(way[1], way[0]))
    away, aside = spot.reach + height, 0.0
    if along:
        away += height * (0.3 + ROW * step)
    else:
        further, step = divmod(step, SIDEWAYS)
        away += height * 4 * further
        aside = height * ROW * ((step + 1) // 2) * (1 if step % 2 else -1)
    at = (
        spot.at[0] + away * spot.out[0] + aside * spot.along[0],
        spot.at[1] + away * spot.out[1] + aside * spot.along[1],
    )
    ahead = math.cos(angle) * spot.out[0] + math.sin(angle) * spot.out[1] > 0
    align: Align = "middle" if along else "left" if ahead else "right"
    return Word(NAMES, spot.name, at, height, angle, align, spot.name)


def _corners(word: Word) -> Corners:
    """The corners of the oblong that a word fills, mm."""
    left, right, half = _extent(word)
    cos, sin = math.cos(word.angle), math.sin(word.angle)
    places = ((left, -half), (right, -half), (right, half), (left, half))
    return [(word.at[0] + x * cos - y * sin, word.at[1] + x * sin + y * cos) for x, y in places]


def _extent(word: Word) -> tuple[float, float, float]:
    """From where to where a word reaches along its line, and how far to either side, mm from its place."""
    long = WIDE * word.height * len(word.text)
    left = {"left": 0.0, "middle": -long / 2, "right": -long}[word.align]
    return left, left + long, LINE * word.height / 2


def _overlap(one: Corners, other: Corners) -> bool:
    """Whether two oblongs overlap: no side of either parts them."""
    for corners in (one, other):
        for (ax, ay), (bx, by) in ((corners[0], corners[1]), (corners[1], corners[2])):
            first, second = ([x * (bx - ax) + y * (by - ay) for x, y in each] for each in (one, other))
            if max(first) <= min(second) or max(second) <= min(first):
                return False
    return True


def notes(words: Sequence[str], at: Point, height: float) -> Iterator[Word]:
    """Lines of notes from a place down, the first of them larger."""
    y = at[1]
    for i, text in enumerate(words):
        size = height * (1.5 if i == 0 else 1.0)
        y -= size + height
        yield Word(NOTES, text, (at[0], y), size)


def read_from(angle: float) -> float:
    """A line's direction, radians, as words on it are read: from the front or from the right side of the sheet."""
    turned = math.remainder(angle, 2 * math.pi)
    if turned > math.pi / 2 + 1e-9:
        return turned - math.pi
    return turned + math.pi if turned <= -math.pi / 2 + 1e-9 else turned
