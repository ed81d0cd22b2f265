"""What one plan shows: the runs drawn together, how they are looked at, and their molding's visible lines as edges."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from preview.build import Built
from preview.drafting.edges import seen_lines
from preview.drafting.hidden import Seen
from preview.drafting.views import FROM_BELOW, View
from preview.paper import SOFT, WHITE, Box, Placing, Trace
from preview.profiles import Arc, Edge, Line, Point, measure
from preview.runs import IN_PLAN, Element, Run
from preview.scene import Surrounding
from preview.vantage import Job

Floats = NDArray[np.float64]
Kind = Literal["plan", "reflected", "wall"]

SAME_LINE = 1.0
"""mm; runs whose lines lie nearer than this for a stretch are drawn one by one."""
ON_CURVE = 0.02
"""mm that points of a line may stray from the circle they are taken for."""
STEP = 50.0
"""mm between the places at which two runs are compared."""
MOST_PLACES = 400
REACHED = 1.0
"""mm that something has to reach into the molding's height to be cut by its plan."""
SHADE = "#eceef0"
AROUND, BELOW = 0.18, 0.13
"""mm, the lines of what stands around: cut, and below."""
NEAR = 50.0
"""mm from a thing within which the molding is beside it."""


@dataclass(frozen=True)
class Ground:
    """The runs of one plan, and how it is looked at: from above, from below, or at the face of a wall.

    right, up, ahead: unit ways of the scene; what lies further ahead is hidden.
    """

    kind: Kind
    runs: tuple[Run, ...]
    right: tuple[float, float, float] = (1.0, 0.0, 0.0)
    up: tuple[float, float, float] = (0.0, 1.0, 0.0)
    ahead: tuple[float, float, float] = (0.0, 0.0, -1.0)

    @property
    def names(self) -> frozenset[str]:
        """The names of its runs."""
        return frozenset(run.name for run in self.runs)

    def flat(self, points: Floats) -> Floats:
        """Points or ways (..., 3) of the scene as they are seen: (..., 2)."""
        found: Floats = points @ np.array([self.right, self.up]).T
        return found

    def placing(self, run: Run) -> Placing:
        """Where a run's own plan lies in it."""
        stand = run.stand
        (a, c), (b, d), (x, y) = (self.flat(np.array(way)).tolist() for way in (stand.x, stand.y, stand.origin))
        return Placing(a, b, c, d, x, y)


def grounds_of(job: Job) -> list[Ground]:
    """The plans that show all runs of a job, in the order of its runs; what lies over each other is drawn apart."""
    found: list[Ground] = []
    for placed in job.built.scene.runs:
        ground = _ground(job, placed.run)
        for i, other in enumerate(found):
            same = replace(other, runs=()) == replace(ground, runs=())
            if same and not any(_over(run, placed.run) for run in other.runs):
                found[i] = replace(other, runs=(*other.runs, placed.run))
                break
        else:
            found.append(ground)
    return sorted(found, key=lambda ground: ground.kind == "wall")


def _ground(job: Job, run: Run) -> Ground:
    if run.stand == IN_PLAN:
        if job.run_look(run.name).slope < 0:  # the eye stands below the back line
            return Ground("reflected", (run,), ahead=(0.0, 0.0, 1.0))
        return Ground("plan", (run,))
    out = np.array(run.stand.z)
    right = np.cross((0.0, 0.0, 1.0), out)
    if np.linalg.norm(right) < 1e-6:  # on a ceiling or a floor
        return Ground("wall", (run,), run.stand.x, run.stand.y, _vector(-out))
    right = right / np.linalg.norm(right)
    return Ground("wall", (run,), _vector(right), _vector(np.cross(out, right)), _vector(-out))


def _vector(way: Floats) -> tuple[float, float, float]:
    x, y, z = (round(value, 12) + 0.0 for value in way.tolist())
    return (x, y, z)


def _over(one: Run, other: Run) -> bool:
    """Whether a stretch of one run lies over a stretch of another."""
    theirs = [side for element in other.elements for side in _sides(element)]
    line = np.array(theirs).reshape(-1, 2, 2)
    near = 0
    for element in one.elements:
        count = min(max(2, round(element.length / STEP)), MOST_PLACES)
        for i in range(count):
            at = np.array(element.point(element.length * (i + 0.5) / count))
            step = line[:, 1] - line[:, 0]
            long = np.maximum((step**2).sum(axis=1), 1e-12)
            share = np.clip(((at - line[:, 0]) * step).sum(axis=1) / long, 0.0, 1.0)
            away = np.linalg.norm(line[:, 0] + share[:, None] * step - at, axis=1)
            near += bool((away < SAME_LINE).any())
            if near > 1:
                return True
    return False


def _sides(element: Element) -> Iterator[tuple[tuple[float, float], tuple[float, float]]]:
    count = max(1, math.ceil(abs(element.sweep) / math.radians(2)))
    points = [element.point(element.length * i / count) for i in range(count + 1)]
    yield from pairwise(points)


def element_edge(element: Element) -> Edge:
    """An element's back line in its run's plan, exactly."""
    if element.sweep:
        return Arc(element.start, element.end, element.center, element.sweep)
    return Line(element.start, element.end)


@dataclass(frozen=True)
class Drawn:
    """A visible line of the molding in the plan, mm: what it is, whose, and how far from the wall line it runs.

    out: mm, where it keeps its distance all along; None elsewhere.
    """

    edges: tuple[Edge, ...]
    kind: str
    piece: int | None
    outline: bool
    out: float | None = None


def molding_lines(built: Built, ground: Ground, pieces: set[int] | None = None, scale: float = 0.25) -> list[Drawn]:
    """What is seen of the molding of a ground, in the view's own mm: straight lines as lines, circles as arcs.

    scale: mm on paper for one mm, at most; what cannot be told apart at it is not.
    """
    if pieces is None:
        pieces = {i for i, piece in enumerate(built.pieces) if piece.run in ground.names}
    below = ground.kind == "reflected"
    view = FROM_BELOW if below else View(ground.right, ground.up, ground.ahead)
    seen = seen_lines(built, view, pieces=pieces, around=False, scale=scale)
    if below:  # as in a mirror: what is seen from below, turned over
        seen = [replace(line, points=line.points * (-1.0, 1.0)) for line in seen]
    runs = {run.name: ground.placing(run) for run in ground.runs}
    return [_drawn(built, line, runs) for line in seen if len(line.points) > 1]


def _drawn(built: Built, line: Seen, runs: dict[str, Placing]) -> Drawn:
    points = line.points
    piece = built.pieces[line.piece] if line.piece is not None else None
    out: float | None = None
    edges: tuple[Edge, ...] | None = None
    if piece is not None and piece.run in runs:
        place = runs[piece.run]
        edge = place.edge(element_edge(piece.element)) if piece.element.length > 1e-9 else None
        if isinstance(edge, Line):
            long = edge.length
            way = ((edge.end[0] - edge.start[0]) / long, (edge.end[1] - edge.start[1]) / long)
            away = (points[:, 1] - edge.start[1]) * way[0] - (points[:, 0] - edge.start[0]) * way[1]
            if float(np.ptp(away)) < ON_CURVE and float(np.ptp(points @ way)) > ON_CURVE:
                out = abs(float(away.mean()))
        elif isinstance(edge, Arc):
            away = np.linalg.norm(points - np.array(edge.center), axis=1)
            if float(np.ptp(away)) < ON_CURVE and len(points) > 2:
                out = abs(float(away.mean()) - edge.radius)
                edges = (_arc(points, edge.center, float(away.mean())),)
    if edges is None:
        edges = tuple(_lines(points))
    return Drawn(edges, line.kind, line.piece, line.outline, out)


def _arc(points: Floats, center: Point, radius: float) -> Arc:
    """The arc about a center on which points lie in order."""
    angles = np.unwrap(np.arctan2(points[:, 1] - center[1], points[:, 0] - center[0]))
    begin, end = float(angles[0]), float(angles[-1])
    first, last = (
        (center[0] + radius * math.cos(angle), center[1] + radius * math.sin(angle)) for angle in (begin, end)
    )
    return Arc(first, last, center, end - begin)


def _lines(points: Floats) -> Iterator[Line]:
    """A polyline as lines, those of one direction in one."""
    kept = [points[0]]
    for i in range(1, len(points) - 1):
        a, b, c = kept[-1], points[i], points[i + 1]
        one, two = b - a, c - b
        if abs(one[0] * two[1] - one[1] * two[0]) > 1e-6 * (np.hypot(*one) * np.hypot(*two) + 1e-12) or one @ two < 0:
            kept.append(b)
    kept.append(points[-1])
    row = [(float(x), float(y)) for x, y in kept]
    for begin, end in pairwise(row):
        if begin != end:
            yield Line(begin, end)


def around_marks(built: Built, ground: Ground, page: Placing, window: Box) -> list[Trace]:
    """What stands around, for a window: what reaches the molding's height, cut; in a plan from above what lies below.

    Of what lies below, such as steps, the higher hides the lower. The lowest floor, and what covers the whole window,
    such as a ceiling, are left out.
    """
    levels = _levels(built, ground)
    ground_floor = min((thing.top for thing in built.scene.surroundings if thing.kind == "floor"), default=-math.inf)
    below: list[tuple[float, Trace]] = []
    cut: list[Trace] = []
    for thing in built.scene.surroundings:
        if (thing.kind == "floor" and thing.top < ground_floor + REACHED) or _covers(thing, page, window):
            continue
        outline = footprint(thing)
        low, high = _beside(levels, outline)
        if thing.top < low + REACHED:
            if ground.kind == "plan":
                below.append((thing.top, Trace(page.edges(outline), BELOW, SOFT, WHITE)))
        elif thing.kind != "floor" and thing.bottom < high - REACHED:
            cut.append(Trace(page.edges(outline), AROUND, SOFT, SHADE))
    return [*(trace for _, trace in sorted(below, key=lambda pair: pair[0])), *cut]


def _levels(built: Built, ground: Ground) -> Floats:
    """Along all pieces of a ground: x, y of the back line, and from which to which height the molding reaches there."""
    rows: list[tuple[float, float, float, float]] = []
    for number, piece in enumerate(built.pieces):
        if piece.run not in ground.names:
            continue
        low, high = piece_range(built, number)
        element = piece.element
        count = min(max(2, round(element.length / STEP)), MOST_PLACES)
        ends = (element.height, element.end_height)
        for i in range(count + 1):
            station = element.length * i / count
            up = element.height + float(element.rise(station))
            rows.append((*element.point(station), low + up - min(ends), high + up - max(ends)))
    return np.array(rows)


def _beside(levels: Floats, outline: Sequence[Edge]) -> tuple[float, float]:
    """From which to which height the molding reaches beside a thing; anywhere, where none is beside it."""
    boxes = np.array([edge.bounds for edge in outline])
    left, low = boxes[:, :2].min(axis=0) - NEAR
    right, high = boxes[:, 2:].max(axis=0) + NEAR
    x, y = levels[:, 0], levels[:, 1]
    near = levels[(x >= left) & (x <= right) & (y >= low) & (y <= high)]
    mine = near if len(near) else levels
    return float(mine[:, 2].min()), float(mine[:, 3].max())


def piece_range(built: Built, number: int) -> tuple[float, float]:
    """From which to which height a piece reaches, mm."""
    z = built.meshes[number].points[:, 2]
    return float(z.min()), float(z.max())


def footprint(thing: Surrounding) -> tuple[Edge, ...]:
    """The outline in plan of a box or a column, mm, exactly."""
    (x, y) = thing.at
    if thing.kind == "column":
        right, left = (x + thing.radius, y), (x - thing.radius, y)
        return (Arc(right, left, thing.at, math.pi), Arc(left, right, thing.at, math.pi))
    (wide, deep), r = thing.size, thing.radius
    corners = ((wide - r, r, -math.pi / 2), (wide - r, deep - r, 0.0), (r, deep - r, math.pi / 2), (r, r, math.pi))
    edges: list[Edge] = []
    rounds: list[tuple[Point, Point, Point]] = []
    for cx, cy, begin in corners:
        first, last = ((cx + r * math.cos(a), cy + r * math.sin(a)) for a in (begin, begin + math.pi / 2))
        rounds.append((first, last, (cx, cy)))
    for (first, last, center), (following, _, _) in zip(rounds, [*rounds[1:], rounds[0]], strict=True):
        if r > 1e-9:
            edges.append(Arc(first, last, center, math.pi / 2))
        edges.append(Line(last, following))
    cos, sin = math.cos(thing.turn), math.sin(thing.turn)
    return Placing(cos, -sin, sin, cos, x, y).edges(edges)


def _covers(thing: Surrounding, page: Placing, window: Box) -> bool:
    if thing.kind != "box":
        return False
    (wide, deep) = thing.size
    cos, sin = math.cos(thing.turn), math.sin(thing.turn)
    for x, y in ((window[0], window[1]), (window[2], window[1]), (window[2], window[3]), (window[0], window[3])):
        px, py = (x - page.across) / page.a, (y - page.up) / page.d
        dx, dy = px - thing.at[0], py - thing.at[1]
        if not (0 < dx * cos + dy * sin < wide and 0 < dy * cos - dx * sin < deep):
            return False
    return True


def size_of(built: Built, ground: Ground) -> tuple[float, float]:
    """How wide and how high what a ground shows is, mm."""
    meshes = zip(built.pieces, built.meshes, strict=True)
    points = np.concatenate([ground.flat(mesh.points) for piece, mesh in meshes if piece.run in ground.names])
    wide, high = np.ptp(points, axis=0).tolist()
    return wide, high


def reach(built: Built, names: frozenset[str]) -> float:
    """How far, mm, the molding of runs stands out from its line."""
    lines = [line for line in built.lines if line.run.name in names and line.pieces[0].role != "block"]
    return max((measure(line.profile).d_max for line in lines), default=0.0)


def numbers_of(built: Built, names: Sequence[str] | frozenset[str]) -> list[int]:
    """The pieces of runs, by number."""
    return [i for i, piece in enumerate(built.pieces) if piece.run in names]
