"""DXF drawings for whoever draws the house: the plan of a job, and the elevation of each run, at true size.

    STEM-plan.dxf             wall lines, the pieces' backs, faces, cuts and joints, blocks, casings' sections, names,
                              and what stands around; in the scene's own plan coordinates
    STEM-elevation-RUN.dxf    a run along walls unrolled: x along the wall line from its start, y the scene's z;
                              on the face of a wall: seen from the front, x from the run's origin, y the scene's z

Coordinates are in the scene's own unit (inches for feet). Lines and arcs are exact, curved miters polylines within
0.01 mm.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

import numpy as np

from preview import __version__
from preview.build import Built
from preview.exports.dxf_flat import (
    Facing,
    flat_piece,
    line_of,
    middle_of,
    oblong_of,
    section_in,
    wall_edges,
)
from preview.exports.dxf_fronts import fronts_of
from preview.exports.dxf_page import (
    AROUND,
    ARRISES,
    BACK,
    BLOCKS,
    CASING,
    ENDS,
    FACE,
    FLOOR,
    HIDDEN,
    INSUNITS,
    JOINTS,
    OUTLINE,
    OVERHEAD,
    UNIT_WORDS,
    WALL,
    DxfPage,
    Stroke,
    box_of,
    page_dxf,
)
from preview.exports.dxf_unrolled import Front, meeting_pieces, told_once, unrolled_front
from preview.exports.dxf_words import Spot, height_for, name_words, notes
from preview.exports.names import file_names
from preview.joinery import Piece
from preview.paper import Placing
from preview.profiles import Arc, Edge, Line, Point, lying, measure
from preview.runs import IN_PLAN, Run
from preview.scene import Surrounding

PAST = 150.0
"""mm that the floor's line runs past the molding."""
LEVEL = 1.0
CAUTION = "Check every length on site before anything is cut; local codes and licensed practice come first."
EXACT = "Lines and arcs are exact; curved miters and profiled ends are polylines within 0.01 mm."


def dxf_files(built: Built, stem: str) -> tuple[tuple[str, bytes], ...]:
    """The drawings (name, bytes) of a build: the plan first, then one for each run, in the scene's order."""
    unit = built.scene.units
    runs = [placed.run for placed in built.scene.runs if any(line.run is placed.run for line in built.lines)]
    names = file_names([run.name for run in runs], ".dxf")
    found = [(f"{stem}-plan.dxf", page_dxf(_plan(built), unit))]
    for run, name in zip(runs, names, strict=True):
        found.append((f"{stem}-elevation-{name}", page_dxf(_elevation(built, run), unit)))
    return tuple(found)


def _page(built: Built, title: str, told: Sequence[str], front: Front) -> DxfPage:
    """A drawing with its names and notes."""
    box = box_of(front.strokes)
    height = height_for(box_of([stroke for stroke in front.strokes if stroke.layer is not AROUND]))
    unit = UNIT_WORDS[INSUNITS[built.scene.units]]
    names = tuple(name_words(front.spots, height, [e for s in front.strokes if s.layer is not AROUND for e in s.edges]))
    low = min([box[1], *(word.at[1] - _down(word.angle, word.height, word.text, word.align) for word in names)])
    words = [f"{built.scene.title} - {title}", *told, f"True size, in {unit}. {EXACT}", CAUTION]
    words.append(f"Model {built.digest[:12]}")
    remarks = (f"molding-preview {__version__}", f"model {built.digest}", f"{built.scene.title} - {title}")
    return DxfPage(front.strokes, (*names, *notes(words, (box[0], low - 2 * height), height)), remarks)


def _down(angle: float, height: float, text: str, align: str) -> float:
    """How far below its place a word reaches at most, mm."""
    share = {"left": 0.0, "middle": 0.5, "right": 1.0}[align]
    return height + share * 0.85 * height * len(text) * abs(math.sin(angle))


def _plan(built: Built) -> DxfPage:
    """The plan of a whole job, in the scene's own coordinates."""
    facing = Facing()
    strokes: list[Stroke] = [Stroke(AROUND, _footprint(thing)) for thing in _around(built)]
    for placed in built.scene.runs:
        run = placed.run
        if facing.sees_square(run.stand.z):
            strokes.append(Stroke(WALL, facing.of_stand(run.stand).edges(wall_edges(run.elements))))
    spots: list[Spot] = []
    meets = meeting_pieces(built)
    for number, piece in enumerate(built.pieces):
        drawn, spot = _piece_in_plan(built, facing, number, piece, meets)
        strokes += drawn
        spots.append(spot)
    front = Front(told_once(strokes), tuple(spots))
    told = ["Plan, seen from above. The wall line is the back of the molding."]
    if any(stroke.layer is OVERHEAD for stroke in strokes):
        told.append("Dashed: casing overhead, as the oblong that it fills.")
    return _page(built, "plan", told, front)


def _piece_in_plan(
    built: Built, facing: Facing, number: int, piece: Piece, meets: set[tuple[int, bool]]
) -> tuple[list[Stroke], Spot]:
    stand = piece.stand
    if facing.sees_square(stand.z):
        place = facing.of_stand(stand)
        flat = flat_piece(piece)
        block = piece.role == "block"
        strokes = [
            Stroke(BLOCKS if block else BACK, (place.edge(flat.back),), piece.name),
            Stroke(BLOCKS if block else FACE, (place.edge(flat.face),), piece.name),
        ]
        for at_end, cut in ((False, flat.begin), (True, flat.end)):
            layer = BLOCKS if block else JOINTS if (number, at_end) in meets else ENDS
            strokes.append(Stroke(layer, place.edges(cut.edges), piece.name))
        at, along, out = middle_of(piece)
        reach = _reach(built, piece)
        spot = Spot(piece.name, place.point(at), _way(place, along), _way(place, out), reach, flat.face.length)
        return strokes, spot
    travel = np.array(piece.element.tangent) @ np.array([stand.x, stand.y])
    if facing.sees_square(travel):
        edges = section_in(facing, piece)
        layer = BLOCKS if piece.role == "block" else CASING
    else:
        edges = oblong_of(facing, piece, built.meshes[number].points)
        layer = BLOCKS if piece.role == "block" else OVERHEAD
    return [Stroke(layer, edges, piece.name)], _spot_of(facing, piece, edges)


def _spot_of(facing: Facing, piece: Piece, edges: Sequence[Edge]) -> Spot:
    """Where a piece on a wall is named in plan: before the middle of what is seen of it."""
    out = facing.flat(np.array(piece.stand.z))
    long = float(np.hypot(*out))
    way: Point = (float(out[0]) / long, float(out[1]) / long) if long > 1e-6 else (0.0, 1.0)
    along = (way[1], -way[0])
    ends = np.array([point for edge in edges for point in (edge.start, edge.end)])
    across, deep = ends @ np.array(along), ends @ np.array(way)
    middle, far = (float(across.min()) + float(across.max())) / 2, float(deep.max())
    at = (middle * along[0] + far * way[0], middle * along[1] + far * way[1])
    return Spot(piece.name, at, along, way, 0.0, float(np.ptp(across)))


def _way(place: Placing, way: Point) -> Point:
    return (place.a * way[0] + place.b * way[1], place.c * way[0] + place.d * way[1])


def _elevation(built: Built, run: Run) -> DxfPage:
    """The elevation of a run: unrolled along walls, from the front on the face of one."""
    if run.stand == IN_PLAN:
        front = unrolled_front(built, run)
        turns = any(run.turns) or any(element.sweep for element in run.elements)
        how = "unrolled along the wall line, each piece seen square on" if turns else "seen square to the wall"
        told = [f"Elevation of {run.name}, {how}. Returns are behind the ends that they turn."]
        if any(run.hand * turn < -1e-9 for turn in run.turns):
            told.append("At outside corners the molding reaches past the fold, by its projection.")
    else:
        front = _wall_front(built, run)
        told = [f"Elevation of {run.name}, seen square to the wall."]
    left, low, right, _ = box_of(front.strokes)
    level = _floor_level(built, low)
    if run.stand == IN_PLAN or abs(run.stand.z[2]) < 1e-6:
        floor = Stroke(FLOOR, (Line((left - PAST, level), (right + PAST, level)),))
        front = Front((*front.strokes, floor), front.spots)
    return _page(built, f"elevation of {run.name}", told, front)


def _floor_level(built: Built, low: float) -> float:
    """The highest floor that is not above the molding's lowest point; 0 where there is none."""
    tops = [thing.top for thing in built.scene.surroundings if thing.kind == "floor" and thing.top < low + LEVEL]
    return max(tops, default=0.0)


def _wall_front(built: Built, run: Run) -> Front:
    """A run on the face of a wall, seen from the front."""
    facing = _before(run)
    meets = meeting_pieces(built)
    lines = [line for line in built.lines if line.run is run and line.pieces[0].role != "block"]
    fronts = dict(zip((x.member for x in lines), fronts_of([lying(x.profile) for x in lines]), strict=True))
    strokes: list[Stroke] = []
    spots: list[Spot] = []
    for number, piece in enumerate(built.pieces):
        if piece.run != run.name:
            continue
        if not facing.sees_square(piece.stand.z):
            travel = np.array(piece.element.tangent) @ np.array([piece.stand.x, piece.stand.y])
            edges = section_in(facing, piece) if facing.sees_square(travel) else ()
            drawn = [Stroke(BLOCKS, edges, piece.name)]
        elif piece.role == "block":
            drawn = [Stroke(BLOCKS, _chained(facing, piece), piece.name)]
        else:
            place = facing.of_stand(piece.stand)
            flat = flat_piece(piece)
            drawn = []
            for arris in fronts[piece.member].arrises:
                layer = HIDDEN if arris.hidden else OUTLINE if arris.outline else ARRISES
                drawn.append(Stroke(layer, (place.edge(line_of(piece, arris.at.h)),), piece.name))
            for at_end, cut in ((False, flat.begin), (True, flat.end)):
                layer = JOINTS if (number, at_end) in meets else ENDS
                drawn.append(Stroke(layer, place.edges(cut.edges), piece.name))
        strokes += drawn
        spots.append(_front_spot(built, facing, piece, drawn))
    return Front(told_once(strokes), tuple(spots))


def _chained(facing: Facing, piece: Piece) -> tuple[Edge, ...]:
    """The outline of a piece that lies in the plane, end to end."""
    flat = flat_piece(piece)
    back = [edge.reversed() for edge in reversed(flat.begin.edges)]
    return facing.of_stand(piece.stand).edges((flat.back, *flat.end.edges, flat.face.reversed(), *back))


def _front_spot(built: Built, facing: Facing, piece: Piece, drawn: Sequence[Stroke]) -> Spot:
    """Where a piece is named on the face of a wall: beside the middle of its face, away from the opening."""
    if not facing.sees_square(piece.stand.z) or piece.role == "block":
        left, _, right, high = box_of(drawn)
        return Spot(piece.name, ((left + right) / 2, high), (1.0, 0.0), (0.0, 1.0), 0.0, right - left)
    place = facing.of_stand(piece.stand)
    at, along, out = middle_of(piece)
    reach = _reach(built, piece)
    return Spot(piece.name, place.point(at), _way(place, along), _way(place, out), reach, piece.element.length)


def _reach(built: Built, piece: Piece) -> float:
    """How far out, mm, a piece and the molding of its run reach in its plan."""
    lines = [line for line in built.lines if line.run.name == piece.run and line.pieces[0].role != "block"]
    return max(measure(profile).d_max for profile in (piece.profile, *(line.profile for line in lines)))


def _before(run: Run) -> Facing:
    """How a looker before a wall sees a run on it; on a ceiling as the run's own plan lies."""
    out = np.array(run.stand.z)
    right = np.cross((0.0, 0.0, 1.0), out)
    if float(np.linalg.norm(right)) < 1e-6:
        return Facing(run.stand.x, run.stand.y, run.stand.origin)
    right = right / np.linalg.norm(right)
    start = right * float(right @ np.array(run.stand.origin))
    return Facing(_vector(right), _vector(np.cross(out, right)), _vector(start))


def _vector(way: np.ndarray[tuple[int], np.dtype[np.float64]]) -> tuple[float, float, float]:
    x, y, z = way.tolist()
    return (x, y, z)


def _around(built: Built) -> list[Surrounding]:
    """What stands around, but for the lowest floor: that is the ground everything stands on, and ends anywhere."""
    things = built.scene.surroundings
    ground = min((thing.top for thing in things if thing.kind == "floor"), default=0.0)
    return [thing for thing in things if thing.kind != "floor" or (thing.top > ground and min(thing.size) > 0)]


def _footprint(thing: Surrounding) -> tuple[Edge, ...]:
    """The outline in plan of something that stands around, mm, exactly."""
    x, y = thing.at
    if thing.kind == "column":
        right = (x + thing.radius, y)
        return (Arc(right, right, thing.at, 2 * math.pi),)
    cos, sin = math.cos(thing.turn), math.sin(thing.turn)
    return Placing(cos, -sin, sin, cos, x, y).edges(_rounded(*thing.size, thing.radius))


def _rounded(wide: float, deep: float, radius: float) -> Iterator[Edge]:
    """An oblong with its first corner at (0, 0) and its corners rounded."""
    corners = ((wide, 0.0, 1, 0), (wide, deep, 0, 1), (0.0, deep, -1, 0), (0.0, 0.0, 0, -1))
    rows: list[tuple[Point, Point, Point]] = []
    for x, y, ux, uy in corners:  # the way of travel to each; the way from it is that turned left
        vx, vy = -uy, ux
        first, last = (x - radius * ux, y - radius * uy), (x + radius * vx, y + radius * vy)
        rows.append((first, last, (first[0] + radius * vx, first[1] + radius * vy)))
    for (first, last, center), (following, _, _) in zip(rows, [*rows[1:], rows[0]], strict=True):
        if radius > 1e-9:
            yield Arc(first, last, center, math.pi / 2)
        yield Line(last, following)
