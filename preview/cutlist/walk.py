"""The run put together again from its cut list alone, and held against the run as it was measured.

Nothing but the list's own numbers is used: the order of the pieces, their lengths on one line, the corner at each end,
the hand, the radii and arcs, the pitch, and what a block takes. They are walked round on three lines: the wall line,
the back and the face of the wood. Where the walk starts and which way it heads is taken from the measured run; where
each of its corners comes out is compared with where the measured walls have it.

The measured side is found by another road than the one that cut the pieces: as the point that lies so far out from both
walls beside a corner, by Newton's method on the two distances.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace

from preview.cutlist.making import CutList, RunOrder
from preview.cutlist.piece import Bend, CutEnd, CutPiece, LineName
from preview.runs import Element, Run, Vec2, straight, turned

CLOSES = 0.1
"""mm; a run put together again must come out within this of the measured one."""
AGREE = 1e-6
"""Radians by which the two pieces of one corner may speak of it differently."""
OWN = 1e-3
"""mm by which a piece's own lengths may differ from each other."""
QUARTER = math.pi / 2
LEANING = ("cope", "self-return", "elevation miter")
"""Ends at which the lines of one piece end at different places up its height."""
LINES: tuple[LineName, ...] = ("wall", "back", "face")

Read = Callable[[float], float]
"""What a length (mm) is cut to."""


@dataclass(frozen=True)
class Reassembly:
    """A member of a run, put together again on one line.

    error: how far, mm, the end comes out from where the measured run has it (of a closed run: from its start), climb
    included. worst: the most that any corner is off, mm, and at: the piece that ends there. own: the most, mm, that a
    piece's length over all differs from what its back and its two ends make of it. problems: what does not fit.
    """

    run: str
    member: str
    line: LineName
    error: float
    worst: float
    at: str
    own: float
    problems: tuple[str, ...]

    @property
    def holds(self) -> bool:
        """Whether the list makes the run, within 0.1 mm."""
        return not self.problems and max(self.error, self.worst) <= CLOSES and self.own <= OWN


@dataclass(frozen=True)
class _Pose:
    """Where one stands: in plan, how high, and which way one faces."""

    x: float
    y: float
    z: float
    heading: float

    def ahead(self, by: float, up: float = 0.0) -> _Pose:
        return replace(
            self, x=self.x + by * math.cos(self.heading), y=self.y + by * math.sin(self.heading), z=self.z + up
        )

    def aside(self, by: float) -> _Pose:
        """To the left."""
        return replace(self, x=self.x - by * math.sin(self.heading), y=self.y + by * math.cos(self.heading))

    def turned(self, by: float) -> _Pose:
        return replace(self, heading=self.heading + by)

    def apart(self, at: tuple[float, float, float]) -> float:
        return math.dist((self.x, self.y, self.z), at)


def reassembled(cuts: CutList, runs: Iterable[Run], read: Read | None = None) -> tuple[Reassembly, ...]:
    """Every member of every run put together again on its three lines, against the runs as measured (by name).

    read: what lengths are cut to, to see what rounding them does; exactly as they are when left out. What is made to a
    template, curves and easements, is not read. Pieces that carry
    their section square to a slope do not meet along one line of their backs, so such a run is walked on its wall line.
    """
    measured = {run.name: run for run in runs}
    found: list[Reassembly] = []
    for order in cuts.orders:
        pieces = [cuts.piece(name) for name in order.names]
        square = any(piece.square for piece in pieces)
        for line in LINES[:1] if square else LINES:
            found.append(_reassembled(order, pieces, measured[order.run], line, read or float))
    return tuple(found)


def _reassembled(order: RunOrder, pieces: Sequence[CutPiece], run: Run, line: LineName, read: Read) -> Reassembly:
    problems = list(_disagreements(pieces, order.closed))
    molding = [piece for piece in pieces if piece.kind != "block"]
    out = molding[0].out_of(line)
    marks = _marks(run, out)
    returns = [piece for piece in pieces if piece.kind == "return"]
    first_return = bool(returns) and pieces[0] is returns[0]
    start = _start(run, out, first_return)
    if order.closed:
        start = replace(start, x=marks[0][0], y=marks[0][1])
    pose = start
    worst, at, passed = 0.0, "", 0
    for i, piece in enumerate(pieces):
        pose = _along(pose, piece, line, out, read)
        passed += piece.kind != "return" and not (piece.block is not None and piece.block.at_corner)
        if piece.kind == "block":
            continue
        beyond = pieces[i + 1] if i + 1 < len(pieces) else None
        # Where the line goes straight on, or up to a block, what a piece is off shows at the next corner.
        if beyond is not None and beyond.kind != "block" and _bends_at(piece, beyond):
            off = pose.apart(marks[passed])
            worst, at = (off, piece.name) if off > worst else (worst, at)
        turn = {"wall": _wall_turn(piece.end), "back": piece.end.turn_back, "face": piece.end.turn_face}[line]
        pose = pose.turned(piece.hand * turn)
    goal = (start.x, start.y, start.z) if order.closed else _goal(run, out, pieces[-1].kind == "return", marks)
    return Reassembly(
        order.run,
        order.member,
        line,
        pose.apart(goal),
        worst,
        at,
        max((_own(piece) for piece in molding), default=0.0),
        tuple(problems),
    )


def _bends_at(one: CutPiece, two: CutPiece) -> bool:
    return bool(one.end.turn_back or one.bend or two.bend or one.easing or two.easing)


def _wall_turn(end: CutEnd) -> float:
    """The corner between the walls at an end, as a turn, + inside."""
    if end.corner is None:
        return 0.0
    return (math.pi - end.corner) * (1.0 if end.inside else -1.0)


def _along(pose: _Pose, piece: CutPiece, line: LineName, out: float, read: Read) -> _Pose:
    """From where the line of a piece begins, were its ends mitered, to where it ends."""
    if piece.block is not None:
        taken = read(piece.block.takes)
        if not piece.block.at_corner:
            return pose.ahead(taken)
        aside = piece.hand * out
        return pose.ahead(taken).aside(-aside).turned(piece.hand * piece.block.turn).aside(aside).ahead(taken)
    if piece.bend is not None:
        return _round(pose, piece.bend, piece.hand, line)
    if piece.easing is not None:
        ease = piece.easing
        radius = ease.radius
        level = radius * abs(math.sin(ease.pitch_end) - math.sin(ease.pitch_begin))
        up = radius * abs(math.cos(ease.pitch_end) - math.cos(ease.pitch_begin))
        return pose.ahead(level, math.copysign(up, ease.pitch_begin + ease.pitch_end))
    long = read(piece.length_on(line)) - _past(piece.begin, line) - _past(piece.end, line)
    return pose.ahead(long * math.cos(piece.pitch), long * math.sin(piece.pitch))


def _past(end: CutEnd, line: LineName) -> float:
    return {"wall": 0.0, "back": end.past_back, "face": end.past_face}[line]


def _round(pose: _Pose, bend: Bend, hand: int, line: LineName) -> _Pose:
    """Along a curve: by its radius and its arc on the line."""
    radius = {"wall": bend.radius, "back": bend.radius_back, "face": bend.radius_face}[line]
    arc = {"wall": bend.radius * bend.sweep, "back": bend.arc_back, "face": bend.arc_face}[line]
    sweep = arc / radius * hand * (-1.0 if bend.wraps else 1.0)
    aside = math.copysign(radius, sweep)
    return pose.aside(aside).turned(sweep).aside(-aside)


def _own(piece: CutPiece) -> float:
    """How far a level piece's length over all is from what its back and its ends make of it, mm."""
    sawn = all(end.kind not in LEANING and not end.by_template for end in (piece.begin, piece.end))
    if (
        piece.bend
        or piece.easing
        or piece.pitch
        or piece.square
        or not sawn
        or piece.kind not in ("straight", "return")
    ):
        return 0.0
    over = piece.back + max(0.0, piece.begin.gain) + max(0.0, piece.end.gain)
    return max(abs(over - piece.overall), abs(piece.back + piece.begin.gain + piece.end.gain - piece.face))


def _disagreements(pieces: Sequence[CutPiece], closed: bool) -> Iterable[str]:
    """Corners of which the two pieces do not say the same, and curves that turn two ways."""
    for one, two in zip(pieces, [*pieces[1:], *pieces[:1]], strict=True):
        if (two is pieces[0] and not closed) or "block" in (one.kind, two.kind):
            continue
        if one.room != two.room:
            yield f"{one.name} has the room on its {one.room}, and {two.name} on its {two.room}"
        apart = [
            abs(one.end.turn_back - two.begin.turn_back),
            abs(one.end.turn_face - two.begin.turn_face),
            abs(_wall_turn(one.end) - _wall_turn(two.begin)),
        ]
        if max(apart) > AGREE:
            yield f"{one.name} and {two.name} differ by {math.degrees(max(apart)):.3g}° on the corner between them"


# The measured side.


def _start(run: Run, out: float, is_return: bool) -> _Pose:
    """Where the first line begins, and which way it heads."""
    element = run.elements[0]
    tangent = element.tangent
    if is_return:
        tangent = turned(tangent, run.hand * QUARTER)
    nx, ny = turned(tangent, run.hand * QUARTER)
    x, y = element.start
    return _Pose(x + out * nx, y + out * ny, element.height, math.atan2(tangent[1], tangent[0]))


def _goal(
    run: Run, out: float, is_return: bool, marks: dict[int, tuple[float, float, float]]
) -> tuple[float, float, float]:
    """Where the last line ends: d out from the run's end, or of a return on the wall beside it."""
    (x, y), tangent = run.elements[-1].end, run.elements[-1].end_tangent
    nx, ny = tangent if is_return else turned(tangent, run.hand * QUARTER)
    return (x + out * nx, y + out * ny, marks[len(run.elements)][2])


def _marks(run: Run, out: float) -> dict[int, tuple[float, float, float]]:
    """Where the line that lies `out` mm out from the measured walls has its corners, by the element after each."""
    elements, count = run.elements, len(run.elements)
    points: list[Vec2] = []
    for i in range(count + 1):
        if (i == 0 or i == count) and not run.closed:
            points.append(_end_point(run, i, out))
        else:
            before, after = elements[(i - 1) % count], elements[i % count]
            points.append(_corner(before, after, run.turns[i % count], run.hand, out))
    heights = [elements[0].height]
    for i, element in enumerate(elements):
        if element.bend or element.curvature:
            heights.append(heights[-1] + element.rise(element.length))
        else:
            heights.append(heights[-1] + element.slope * math.dist(points[i], points[i + 1]))
    return {i: (x, y, z) for i, ((x, y), z) in enumerate(zip(points, heights, strict=True))}


def _end_point(run: Run, i: int, out: float) -> Vec2:
    """A free end; where the molding is returned, its outer corner with the return."""
    element = run.elements[0] if i == 0 else run.elements[-1]
    (x, y), (tx, ty) = (element.start, element.tangent) if i == 0 else (element.end, element.end_tangent)
    nx, ny = turned((tx, ty), run.hand * QUARTER)
    if (run.begin if i == 0 else run.end) != "return":
        return (x + out * nx, y + out * ny)
    if i == 0:
        return _corner(straight((x, y), (nx, ny), 0.0), element, -QUARTER, run.hand, out)
    return _corner(element, straight((x, y), (-nx, -ny), 0.0), -QUARTER, run.hand, out)


def _corner(before: Element, after: Element, turn: float, hand: int, out: float) -> Vec2:
    """The point that lies `out` mm out from the walls on both sides of a corner, near it."""
    x, y = after.start
    if not turn or not out:
        nx, ny = turned(after.tangent, hand * QUARTER)
        return (x + out * nx, y + out * ny)
    tangents = before.end_tangent, after.tangent
    normals = [turned(tangent, hand * QUARTER) for tangent in tangents]
    # A start on the line that halves the corner.
    mx, my = normals[0][0] + normals[1][0], normals[0][1] + normals[1][1]
    scale = 2 * out / (mx * mx + my * my)
    x, y = x + scale * mx, y + scale * my
    for _ in range(50):
        (f, fx, fy), (g, gx, gy) = (_off(each, hand, x, y) for each in (before, after))
        f, g = f - out, g - out
        det = fx * gy - fy * gx
        dx, dy = (g * fy - f * gy) / det, (f * gx - g * fx) / det
        x, y = x + dx, y + dy
        if math.hypot(dx, dy) < 1e-12 * max(1.0, math.hypot(x, y)):
            break
    return (x, y)


def _off(element: Element, hand: int, x: float, y: float) -> tuple[float, float, float]:
    """How far into the room a plan point lies from a wall, mm, and which way that grows."""
    if not element.curvature:
        nx, ny = turned(element.tangent, hand * QUARTER)
        return ((x - element.start[0]) * nx + (y - element.start[1]) * ny, nx, ny)
    cx, cy = element.center
    away = math.hypot(x - cx, y - cy)
    side = -1.0 if hand * element.curvature > 0 else 1.0
    return (side * (away - element.radius), side * (x - cx) / away, side * (y - cy) / away)
