"""What a client wants to see of a job from near by: its joints, and its corners, turned pieces and blocks."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from preview.build import Built
from preview.checks import JointPair
from preview.joinery import Joint, MemberRun, Piece, into_room
from preview.models.mesh import Shape
from preview.runs import IN_PLAN, Run, Stand, Vec2
from preview.scene import Surrounding
from preview.units import degrees_text
from preview.vantage.looks import Look, looks_of
from preview.vantage.paths import Path, joint_station, paths_of
from preview.vantage.places import directed, end_outline, in_scene, on_piece

Floats = NDArray[np.float64]

IN_ELEVATION = ("plumb cut", "elevation miter")
MOST_CORNERS = 40
"""How many corners get a view of their own."""
BESIDE = 30.0
"""A surrounding whose edge is this near to a corner, mm, gives it its name."""
TURNED = 150.0
"""A curve of this radius or less, mm, that wraps a corner is turned from a blank; a wider one is bent or built up."""
SHARPEST = math.radians(120)
"""An inside corner that turns further is so narrow that its own sides may hide it."""
ASIDE_CORNER = (0.0, 0.35, -0.35, 0.7, -0.7)
ASIDE_MITER = (0.3, -0.3, 0.0, 0.65, -0.65)
"""Square on, the outline of a miter is seen edge-on."""
ASIDE_STRAIGHT = (-0.5, 0.5, -0.15, 0.9, -0.9)
SQUARE = math.radians(0.01)
"""A corner that is out of square by more than this has the angle between its walls in its name."""
KIND_WORDS = {"cope": "coped", "miter": "mitered"}


@dataclass(frozen=True)
class Spot:
    """Something to look at: where it is (mm), how the wall runs there, and who stands before it.

    room, travel: unit directions of the scene, square to each other; up: square to both. aside: how far from `room`
    toward `travel`, radians, one may stand, the best first. wide: how much has to be in the picture. pieces: what makes
    it. past: those of them that cannot hide it, or whose wood the target may lie in.
    """

    target: Floats
    room: Floats
    travel: Floats
    up: Floats
    slope: float
    wide: float
    aside: tuple[float, ...]
    pieces: frozenset[int]
    past: frozenset[int] = frozenset()


@dataclass(frozen=True)
class JointPlace:
    """A listed joint of the job: its number there, where it lies, and the outline (n, 3) in which its pieces meet."""

    number: int
    path: int
    station: float
    place: Floats
    spot: Spot
    rim: Floats


@dataclass
class Corner:
    """A corner: the joints, the curved pieces or the block that make it, and what to call it."""

    words: list[str]
    path: int
    station: float
    at: Floats
    spots: list[Spot] = field(default_factory=list)

    @property
    def spot(self) -> Spot:
        """Where to look: the middle of what belongs to it."""
        first = self.spots[0]
        target = np.mean([spot.target for spot in self.spots], axis=0)
        pieces = frozenset(piece for spot in self.spots for piece in spot.pieces)
        wide = max(spot.wide for spot in self.spots)
        return replace(first, target=target, wide=wide, aside=ASIDE_CORNER, pieces=pieces, past=pieces)


class Job:
    """A built scene with what its places are worked out from: looks, paths, and whose line a piece is of."""

    def __init__(self, built: Built, looks: Sequence[Look], paths: dict[str, Path]) -> None:
        self.built = built
        self.looks = looks
        self.paths = paths
        self.line_of = [number for number, line in enumerate(self.built.lines) for _ in line.pieces]
        self.runs: dict[str, Run] = {placed.run.name: placed.run for placed in self.built.scene.runs}

    def line(self, piece: int) -> MemberRun:
        return self.built.lines[self.line_of[piece]]

    def look(self, piece: int) -> Look:
        return self.looks[self.line_of[piece]]

    def run_look(self, run: str) -> Look:
        """How the molding of a run is looked at, whatever block stands in it."""
        for line, look in zip(self.built.lines, self.looks, strict=True):
            if line.run.name == run and line.pieces[0].role != "block":
                return look
        return self.looks[next(i for i, line in enumerate(self.built.lines) if line.run.name == run)]


def job_of(built: Built, chord: float = 1.0) -> Job:
    """A built scene made ready to be asked. chord: how far, mm, its paths may stray from their curves."""
    return Job(built, looks_of(built), paths_of(built, chord))


def corner_side(joint: Joint) -> str:
    """Whether a joint stands in an inside or at an outside corner."""
    return "inside" if joint.turn > 1e-9 else "outside" if joint.turn < -1e-9 else ""


def joint_pieces(pair: JointPair) -> list[int]:
    """The pieces that stand at a joint, by number."""
    return [i for i in (pair.before, pair.after) if i is not None]


def listed_joints(built: Built) -> list[int]:
    """The joints that are listed, by number: where pieces meet, or one meets something else; no free ends."""
    return [
        i
        for i, pair in enumerate(built.joints)
        if pair.joint.kind == "butt end" or (pair.before is not None and pair.after is not None)
    ]


def corner_names(job: Job, corners: Sequence[Corner]) -> list[str]:
    """What each corner is called, numbered along the runs and named after what is there.

    On the face of a wall no corner is inside or outside, and a plinth block is none.
    """
    runs = list(job.paths)
    found = []
    for number, corner in enumerate(corners, start=1):
        run = runs[corner.path]
        of = f" of {run}" if len(runs) > 1 else ""
        words, what, near = corner.words, "Corner", beside(corner.at, job.built.scene.surroundings)
        if job.runs[run].stand != IN_PLAN:
            words = [word for word in words if word not in ("inside", "outside")]
            near = ""
            if any(job.built.pieces[i].role == "block" for i in corner.spot.pieces):
                what = "Block"
        found.append(f"{what} {number}{of}: {', '.join(words)}{f' ({near})' if near else ''}")
    return found


def joint_places(job: Job) -> list[JointPlace]:
    """Every listed joint with where it lies and how to look at it."""
    built = job.built
    found: list[JointPlace] = []
    outlines: dict[tuple[int, bool], Floats] = {}
    for number in listed_joints(job.built):
        pair = built.joints[number]
        joint = pair.joint
        order = {end: _telling(built, end, joint.kind) for end in ends_of(pair)}
        piece, at_end = min(order, key=order.__getitem__)
        if (piece, at_end) not in outlines:
            outlines[piece, at_end] = end_outline(built.meshes[piece], at_end)
        rim = outlines[piece, at_end]
        mine, mesh, look = built.pieces[piece], built.meshes[piece], job.look(piece)
        if isinstance(mesh.shape, Shape):
            target = rim[look.point]
        else:
            d, h = look.place
            target = on_piece(mine, float(mine.stations(np.array([d]), np.array([h]))[int(at_end)][0]), d, h)
        path, station = joint_station(pair, built.pieces, job.paths)
        spot = _spot(
            target,
            mine.stand,
            (joint.before.normal, joint.after.normal),
            (joint.before.tangent, joint.after.tangent),
            look.slope,
            look.size,
            ASIDE_MITER if corner_side(joint) else ASIDE_STRAIGHT,
            frozenset(joint_pieces(pair)),
        )
        spot = replace(spot, past=frozenset(i for i in joint_pieces(pair) if _keeps_clear(built.pieces[i], joint)))
        place, _ = list(job.paths.values())[path].at(station)
        found.append(JointPlace(number, path, station, place, spot, np.concatenate([rim, rim[:1]])))
    return found


def ends_of(pair: JointPair) -> list[tuple[int, bool]]:
    """The pieces at a joint by number, each with whether it is its end that stands there."""
    both = ((pair.before, pair.before_at_end), (pair.after, pair.after_at_end))
    return [(piece, at_end) for piece, at_end in both if piece is not None]


def _telling(built: Built, end: tuple[int, bool], kind: str) -> int:
    """Which of two ends shows the joint's outline: 0 best."""
    number, at_end = end
    piece, mesh = built.pieces[number], built.meshes[number]
    if kind == "cope":
        return 0 if (piece.end if at_end else piece.begin).faced is not None else 1
    if piece.role == "block":
        return 2
    return 0 if isinstance(mesh.shape, Shape) else 1


def _keeps_clear(piece: Piece, joint: Joint) -> bool:
    """Whether a piece cannot stand between its own joint and one who looks at that nearly square on."""
    return piece.role != "block" and piece.curvature <= 0 and joint.turn < SHARPEST


def _spot(
    target: Floats,
    stand: Stand,
    normals: tuple[Vec2, Vec2],
    tangents: tuple[Vec2, Vec2],
    slope: float,
    wide: float,
    aside: tuple[float, ...],
    pieces: frozenset[int],
) -> Spot:
    room = _halved(*normals)
    travel = _halved(*tangents)
    if abs(room @ travel) > 1e-6:  # a return's corner, where travel turns back on itself
        travel = np.array([-room[1], room[0], 0.0])
    ways = directed(stand, np.array([room, travel, [0.0, 0.0, 1.0]]))
    return Spot(target, ways[0], ways[1], ways[2], slope, wide, aside, pieces)


def _halved(one: Vec2, other: Vec2) -> Floats:
    """The unit direction (3,) between two of the plan."""
    both = np.array([one[0] + other[0], one[1] + other[1], 0.0])
    long = float(np.linalg.norm(both))
    return both / long if long > 1e-9 else np.array([*one, 0.0])


def corners_of(job: Job, places: Sequence[JointPlace]) -> list[Corner]:
    """The corners of a job in the order of travel, members of a build-up taken together; at most 40."""
    found: dict[tuple[str, int, int], Corner] = {}
    order = {name: i for i, name in enumerate(job.paths)}
    for place in places:
        joint = job.built.joints[place.number].joint
        if joint.kind == "block" or not (corner_side(joint) or joint.kind in IN_ELEVATION):
            continue
        corner = found.setdefault(
            ("joint", place.path, round(place.station * 10)),
            Corner(_joint_words(job, place), place.path, place.station, place.place),
        )
        wide = max(job.look(piece).large for piece in place.spot.pieces)
        corner.spots.append(replace(place.spot, wide=wide))
    for number, piece in enumerate(job.built.pieces):
        if piece.kind not in ("curve", "block"):
            continue
        path = order[piece.run]
        spot, at = _curve(job, number, piece) if piece.kind == "curve" else _block(job, number, piece)
        station = _middle_station(job, piece)
        corner = found.setdefault((piece.kind, path, piece.index), Corner(_piece_words(piece), path, station, at))
        corner.spots.append(spot)
    ordered = sorted(found.values(), key=lambda corner: (corner.path, corner.station))
    return ordered[:MOST_CORNERS]


def _joint_words(job: Job, place: JointPlace) -> list[str]:
    pair = job.built.joints[place.number]
    if any(job.built.pieces[i].role == "return" for i in joint_pieces(pair)):
        return ["return"]
    kind = pair.joint.kind
    turn = abs(pair.joint.turn)
    walls = degrees_text(math.pi - turn) if corner_side(pair.joint) and abs(turn - math.pi / 2) > SQUARE else ""
    return [word for word in (KIND_WORDS.get(kind, kind), corner_side(pair.joint), walls) if word]


def _piece_words(piece: Piece) -> list[str]:
    if piece.role == "block":
        return ["corner block" if piece.name.endswith("corner block") else f"{piece.member} block"]
    wraps = piece.curvature < 0
    return ["turned" if wraps and piece.element.radius <= TURNED else "curved", "outside" if wraps else "inside"]


def _middle_station(job: Job, piece: Piece) -> float:
    """How far along its path the middle of an element is; where a corner block stands, its corner."""
    path = job.paths[piece.run]
    i = piece.index - 1
    if piece.role == "block" and piece.stand != job.runs[piece.run].stand:
        return path.starts[i]
    element = path.run.elements[i]
    return path.starts[i] + element.walked(element.length / 2)


def _curve(job: Job, number: int, piece: Piece) -> tuple[Spot, Floats]:
    """The middle of a curved piece, square on; and the place on the wall line there."""
    look = job.look(number)
    element = piece.element
    middle = element.length / 2
    target = on_piece(piece, middle, *look.place)
    tangent = element.tangent_at(middle)
    normal = into_room(tangent, piece.hand)
    radius = abs(1.0 - piece.curvature * look.place[0]) * element.radius
    chord = 2 * radius * math.sin(min(abs(element.sweep), math.pi) / 2)
    wide = max(look.large, chord / 2.2)
    spot = _spot(
        target, piece.stand, (normal, normal), (tangent, tangent), look.slope, wide, ASIDE_CORNER, frozenset([number])
    )
    return spot, on_piece(piece, middle, 0.0, 0.0)


def _block(job: Job, number: int, piece: Piece) -> tuple[Spot, Floats]:
    """The middle of a block's face, square on; and where it stands."""
    run, look = job.runs[piece.run], job.run_look(piece.run)
    at = run.elements[piece.index - 1]
    points = job.built.meshes[number].points
    target = on_face(points, block_facing(job, piece))
    wide = max(float(np.ptp(points, axis=0).max()), look.large)
    normals, tangents = _beside_block(piece, run)
    spot = _spot(target, run.stand, normals, tangents, look.slope, wide, ASIDE_CORNER, frozenset([number]))
    return spot, in_scene(run.stand, np.array([*at.start, run.level + at.height]))


def block_facing(job: Job, piece: Piece) -> Floats:
    """The way (3,) in which a block looks at the room: out from the walls beside it, or out of the wall it lies on."""
    run = job.runs[piece.run]
    if run.stand != IN_PLAN:
        return np.array(run.stand.z)
    normals, _ = _beside_block(piece, run)
    return _halved(*normals)


def _beside_block(piece: Piece, run: Run) -> tuple[tuple[Vec2, Vec2], tuple[Vec2, Vec2]]:
    """The normals into the room, and the directions of travel, of the walls on both sides of a block."""
    i = piece.index - 1
    after = run.elements[i].tangent
    before = run.elements[i - 1].end_tangent if piece.stand != run.stand else after
    return (into_room(before, run.hand), into_room(after, run.hand)), (before, after)


def on_face(points: Floats, toward: Floats) -> Floats:
    """The point of a block's face, on the side that looks `toward` (3,), over its middle."""
    middle = (points.min(axis=0) + points.max(axis=0)) / 2
    found: Floats = middle + toward * float(((points - middle) @ toward).max())
    return found


def beside(corner: Floats, surroundings: Sequence[Surrounding]) -> str:
    """The name of the one box or column whose edge lies at a corner (3,); "" where there is none, or more than one."""
    names = [
        thing.name
        for thing in surroundings
        if thing.kind != "floor"
        and thing.bottom - BESIDE <= corner[2] <= thing.top + BESIDE
        and abs(_outside(thing, corner.tolist())) <= BESIDE
    ]
    return names[0] if len(names) == 1 else ""


def _outside(thing: Surrounding, corner: Sequence[float]) -> float:
    """How far, mm, a point lies outside a thing's footprint; - inside."""
    x, y = corner[0] - thing.at[0], corner[1] - thing.at[1]
    if thing.kind == "column":
        return math.hypot(x, y) - thing.radius
    cos, sin = math.cos(thing.turn), math.sin(thing.turn)
    wide, deep = thing.size
    across = abs(x * cos + y * sin - wide / 2) - wide / 2 + thing.radius
    along = abs(y * cos - x * sin - deep / 2) - deep / 2 + thing.radius
    past = math.hypot(max(across, 0.0), max(along, 0.0))
    return past + min(max(across, along), 0.0) - thing.radius
