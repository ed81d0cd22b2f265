"""Where one stands to look: before a corner at the height of an eye or a knee, beside an end, inside a closed room."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import cast

import numpy as np
from numpy.typing import NDArray

from preview.build import Built
from preview.joinery import Piece
from preview.models.mesh import SurroundingMesh, mesh_surroundings
from preview.profiles import Profile, flatten
from preview.runs import IN_PLAN, Run
from preview.scene import PictureHeight
from preview.vantage import (
    ACROSS,
    OVERHEAD,
    Camera,
    Corner,
    Job,
    Sight,
    Vec3,
    aimed,
    corners_of,
    end_outline,
    ends_of,
    frame,
    job_of,
    joint_places,
    on_piece,
    ranked_cameras,
    sight_of,
)

Floats = NDArray[np.float64]
Size = tuple[int, int]

HEIGHTS: dict[PictureHeight, float] = {"eye": 1575.0, "knee": 500.0}
"""How high above the floor, mm, the eye is of one who stands, and of one who kneels down to look (common practice)."""
LEAST_ACROSS: dict[PictureHeight, float] = {"eye": math.radians(10), "knee": math.radians(18)}
"""What a picture takes in at the least, so that some of what is beside the corner is seen as well ..."""
LOOSEST = 1.6
"""... unless that is so many times wider than what is to be shown."""
CLOSEST = math.radians(32)
"""One stands no nearer than a corner fills a picture of this angle: nothing near looks blown up."""
SLOPES = tuple(math.radians(each) for each in (30, 38, 24, 46, 55, 65, 74))
"""How steeply one looks down or up where the height is given, the best first: the steeper, the nearer to the wall."""
ASIDE_MITER = (0.35, -0.35, 0.2, -0.2, 0.55, -0.55, 0.8, -0.8)
"""How far aside of square on, radians: at 0 a miter is seen edge-on, and both its sides are in the same light."""
ASIDE_ROUND = (0.2, -0.2, 0.0, 0.45, -0.45, 0.75, -0.75)
SHOWING = ("square end", "beveled end", "self-return")
"""The ends of runs that show a section to one who stands beside them."""
ENOUGH = 0.9
"""A place to stand does if it shows this share of what the best one shows."""
NEAREST = 600.0
"""... and no nearer than this, mm."""
STRAIGHT, MOST_STRAIGHT = 1.15, 2.0
"""So many times its own size of straight is shown on each side of a corner, and of its build-up's at the most."""
LEAST_STRAIGHT = 80.0
"""... and this much, mm, at the least."""
OFF_THE_FACE = 1.0
"""Places on a face lie so far before it, mm, that the steps of a curve do not hide them."""
MOST_STRETCHES = 5
"""Of so many stretches of a profile it is asked whether they are seen, the longest."""
TOWARD_FACE = 0.08
"""A face that is turned less than this to the eye (a cosine) is not seen."""
END_SIDES, END_SLOPES = (0.5, 0.35, 0.7, 0.9), (0.3, 0.15, 0.45, 0.0)
"""How far round to the room and how high one stands to look at an end, radians, the best first."""
END_ACROSS, END_SHARE, OFF_THE_END = math.radians(28), 0.7, 1.0
END_FLOOR = 60.0
"""The eye that looks at an end stays so high above the floor, mm."""
RAIL = (600.0, 1200.0)
"""What is so high above where one stands, mm, is a rail, and read with what it runs over (common practice)."""
WHOLE_ACROSS = (ACROSS, math.radians(48))
"""The angles of view that are tried for the whole: from near by one sees more of what looks at each other."""
MOST_TRIED, WORTH_TRYING = 32, 0.7
"""So many cameras for the whole, the best ones, are asked which corners they show, if worth so much of the best."""
BESIDE_CORNER, MOST_PLACES, WELL_SEEN = 40.0, 12, 0.3
"""A corner is in sight as far as the faces within so many mm of it are, of which so many places are asked. With this
share of them it is well in sight: no eye sees all."""
ROOM_ACROSS, PULLED_IN = math.radians(80), 0.12
"""Inside a room one looks wider than elsewhere; and stands off the wall by this share of the way to its middle."""
AIMED_UP = (0.8, 1.1)
"""... and looks up by such a share of what the molding at the far side is up."""
DIGITS = 2
"""Places are rounded to so many digits of a mm: the same on every machine."""


@dataclass(frozen=True)
class Setting:
    """A built scene ready to be walked through. floor: its height where one stands, mm."""

    job: Job
    around: tuple[SurroundingMesh, ...]
    sight: Sight
    floor: float

    @property
    def built(self) -> Built:
        return self.job.built


def setting_of(built: Built, rough: float = 2.0) -> Setting:
    """What is needed to choose cameras. rough: the chord, mm, of what may stand in the way."""
    scene = built.scene
    around = tuple(mesh_surroundings(scene.surroundings, scene.runs, rough))
    floor = min((float(mesh.points[0, 2]) for mesh in around if mesh.kind == "floor"), default=0.0)
    return Setting(job_of(built), around, sight_of(built, around), floor)


@dataclass(frozen=True)
class Subject:
    """What a picture of a corner is to show: points (n, 3) that lie inside it, and places (m, 3) on the faces there
    with the ways (m, 3) in which they look."""

    points: Floats
    places: Floats
    facing: Floats


def whole_camera(setting: Setting, size: Size) -> tuple[Camera, bool]:
    """The camera for all of the molding; or in a closed room with crowns alone one inside, and True."""
    lines = setting.built.lines
    points = np.concatenate([mesh.points for mesh in setting.built.meshes])
    if points[:, 2].min() >= setting.floor + OVERHEAD and (inside := _in_room(setting, points, size)):
        return inside, True
    blocks = np.concatenate([np.zeros((0, 3, 3)), *(mesh.points[mesh.triangles] for mesh in setting.around)])
    shown = np.concatenate([points, _beneath(setting, points)])
    ranked = ranked_cameras(lines, shown, blocks, size, setting.floor, WHOLE_ACROSS)
    tried = [(worth, camera) for worth, camera in ranked[:MOST_TRIED] if worth >= WORTH_TRYING * ranked[0][0]]
    corners = _corner_faces(setting)
    if not corners or len(tried) == 1:
        return tried[0][1], False
    seen = np.array([[shown_from(setting, each, np.array(camera.eye)) for each in corners] for _, camera in tried])
    worth = np.array([worth for worth, _ in tried]) * np.minimum(1, seen / WELL_SEEN).mean(axis=1)
    return tried[int(np.argmax(worth > worth.max() * (1 - 1e-9)))][1], False


def _corner_faces(setting: Setting) -> list[Subject]:
    """For each corner, places on the faces right beside it."""
    job = setting.job
    found = []
    for corner in corners_of(job, joint_places(job)):
        subject = _faces(list(_around(job, corner, _half(setting, corner) + BESIDE_CORNER)))
        some = slice(None, None, len(subject.places) // MOST_PLACES + 1)
        if len(subject.places):
            found.append(Subject(subject.points, subject.places[some], subject.facing[some]))
    return found


def _beneath(setting: Setting, points: Floats) -> Floats:
    """Where one would stand below points (n, 3) at the height of a rail: the stairs or the floor that it follows."""
    under = np.full(len(points), setting.floor)
    for mesh in setting.around:
        low, high = mesh.points.min(axis=0), mesh.points.max(axis=0)
        if mesh.kind != "wall":
            over = ((points >= low) & (points <= high))[:, :2].all(axis=1) & (points[:, 2] >= high[2])
            under = np.where(over, np.maximum(under, high[2]), under)
    above = points[:, 2] - under
    rails = (above >= RAIL[0]) & (above <= RAIL[1])
    return np.column_stack([points[rails, :2], under[rails]])


def _in_room(setting: Setting, points: Floats, size: Size) -> Camera | None:
    """The camera before one wall of a closed room that shows most of the others; None where there is no such room."""
    runs = [placed.run for placed in setting.built.scene.runs]
    if not all(run.closed and run.stand == IN_PLAN and run.hand * _turned(run) > 0 for run in runs):
        return None
    corners = [np.array([*element.start, 0.0]) for run in runs for element in run.elements]
    middle = np.mean(corners, axis=0)
    stands = [*corners, *((a + b) / 2 for a, b in itertools.pairwise([*corners, corners[0]]))]
    subject = _faces([(piece, 0.0, piece.element.length) for piece in setting.built.pieces])
    best: tuple[float, Camera] | None = None
    for height, aimed_up, stand in itertools.product(HEIGHTS.values(), AIMED_UP, stands):
        z = setting.floor + height
        eye = _rounded(stand + PULLED_IN * (middle - stand) + [0.0, 0.0, z])
        ahead = middle - stand
        flat = ahead / np.linalg.norm(ahead)
        rise = float((points[:, 2].mean() - z) / max(((points - eye) @ flat).max(), 1.0))
        target = eye + float(np.linalg.norm(ahead)) * (flat + np.array([0.0, 0.0, aimed_up * rise]))
        camera = Camera(_vec(eye), _vec(_rounded(target)), ROOM_ACROSS)
        seen = camera.project(subject.places, size)
        within = (seen >= 0).all(axis=1) & (seen <= size).all(axis=1)
        shown = float((within & _toward(subject, eye) & _clear(setting, subject, eye)).mean())
        if best is None or shown > best[0] + 0.01:
            best = shown, camera
    return best[1] if best else None


def _turned(run: Run) -> float:
    """How far a run turns on the whole, radians, + to the left."""
    return sum(run.turns) + sum(element.sweep for element in run.elements)


def subject_of(setting: Setting, corner: Corner) -> Subject:
    """What belongs to a corner, and about as much of what runs on beside it."""
    job = setting.job
    spot = corner.spot
    own, large = _half(setting, corner), max(job.run_look(_run(job, corner)).large, LEAST_STRAIGHT / STRAIGHT)
    straight = min(max(2 * own, large) * STRAIGHT, MOST_STRAIGHT * large)
    found = list(_around(job, corner, own + straight))
    subject = _faces(found)
    mine = [setting.built.meshes[number].points for number in sorted(spot.pieces)]
    near = np.concatenate([subject.points, *mine])
    reach = max(straight, spot.wide) + 2 * own
    near = near[np.linalg.norm(near - spot.target, axis=1) <= reach * 1.5]
    return Subject(near, subject.places, subject.facing)


def _run(job: Job, corner: Corner) -> str:
    return list(job.paths)[corner.path]


def _half(setting: Setting, corner: Corner) -> float:
    """Half of how far a corner reaches along its run, mm: 0 where two straights meet."""
    pieces = [setting.built.pieces[number] for number in corner.spots[0].pieces]
    if len(pieces) != 1 or pieces[0].kind not in ("curve", "block"):
        return 0.0
    return pieces[0].element.length / 2


def _around(job: Job, corner: Corner, reach: float) -> Iterator[tuple[Piece, float, float]]:
    """The pieces of a run within `reach` mm along it of a corner, each with the stations between which they are."""
    path = job.paths[_run(job, corner)]
    for piece in job.built.pieces:
        if piece.run != path.run.name or piece.role != "molding":
            continue
        element, start = piece.element, path.starts[piece.index - 1]
        spans = [corner.station + shift for shift in ((-path.length, 0.0, path.length) if path.run.closed else (0.0,))]
        for at in spans:
            low, high = at - reach - start, at + reach - start
            if high > 1e-6 and low < element.walked(element.length) - 1e-6:
                yield piece, _unwalked(piece, low), _unwalked(piece, high)


def _unwalked(piece: Piece, walked: float) -> float:
    """The station at which one has walked so far along a piece, within it."""
    element = piece.element
    low, high = 0.0, element.length
    if walked <= 0 or walked >= element.walked(high):
        return low if walked <= 0 else high
    for _ in range(50):
        middle = (low + high) / 2
        low, high = (middle, high) if element.walked(middle) < walked else (low, middle)
    return (low + high) / 2


def _faces(found: Sequence[tuple[Piece, float, float]]) -> Subject:
    """Places on the faces of pieces between two stations each, less what their ends cut off."""
    points: list[Floats] = []
    places: list[Floats] = []
    facing: list[Floats] = []
    for piece, low, high in found:
        middles, ways = _stretches(piece.profile)
        d, h = np.array([piece.profile.edges[i].start for i in range(len(piece.profile.edges))]).T
        begin, end = piece.stations(d, h)
        for a, b, begin_at, end_at in zip(d.tolist(), h.tolist(), begin.tolist(), end.tolist(), strict=True):
            for part in (0.0, 0.5, 1.0):
                first, last = max(low, begin_at), min(high, end_at)
                if first <= last:
                    points.append(on_piece(piece, first + part * (last - first), a, b))
        begin, end = piece.stations(middles[:, 0], middles[:, 1])
        for (a, b), (u, v), begin_at, end_at in zip(
            middles.tolist(), ways.tolist(), begin.tolist(), end.tolist(), strict=True
        ):
            for part in (0.2, 0.8):
                first, last = max(low, begin_at), min(high, end_at)
                if first < last:
                    station = first + part * (last - first)
                    place = on_piece(piece, station, a, b)
                    way = on_piece(piece, station, a + u, b + v) - place
                    places.append(place + OFF_THE_FACE * way)
                    facing.append(way / np.linalg.norm(way))
    none = np.zeros((0, 3))
    return Subject(np.array(points) if points else none, np.array(places or none), np.array(facing or none))


def _stretches(profile: Profile) -> tuple[Floats, Floats]:
    """The middles (k, 2) of the longer stretches of a profile's face, and the unit ways in which they look."""
    outline = flatten(profile, OFF_THE_FACE / 2).points
    step = np.roll(outline, -1, axis=0) - outline
    length = np.linalg.norm(step, axis=1)
    ways = np.column_stack([step[:, 1], -step[:, 0]]) / length[:, None]
    face = np.flatnonzero((ways[:, 0] > -0.1) & (ways[:, 1] > -0.99))
    longest = np.sort(face[np.argsort(-length[face], kind="stable")][:MOST_STRETCHES])
    return (outline + step / 2)[longest], ways[longest]


def _toward(subject: Subject, eye: Floats) -> NDArray[np.bool_]:
    away = eye - subject.places
    return np.asarray((away * subject.facing).sum(axis=1) > TOWARD_FACE * np.linalg.norm(away, axis=1))


def _clear(setting: Setting, subject: Subject, eye: Floats) -> NDArray[np.bool_]:
    eyes = np.repeat(eye[None], len(subject.places), axis=0)
    return setting.sight.clear(eyes, subject.places, [()] * len(eyes))


def shown_from(setting: Setting, subject: Subject, eye: Floats) -> float:
    """The share of the faces of a subject that an eye (3,) sees."""
    turned = _toward(subject, eye)
    if not turned.any():
        return 0.0
    mine = Subject(subject.points, subject.places[turned], subject.facing[turned])
    return float(_clear(setting, mine, eye).sum()) / len(turned)


def corner_camera(
    setting: Setting, corner: Corner, height: PictureHeight, size: Size, also: Sequence[Floats] = ()
) -> tuple[Camera, float]:
    """The camera before a corner at a height above the floor, and the share of the faces there that it shows.

    also: further points (n, 3) to have in the picture.
    """
    subject = subject_of(setting, corner)
    points = np.concatenate([subject.points, *also])
    target = (points.min(axis=0) + points.max(axis=0)) / 2
    out, along = _ways(corner)
    z = setting.floor + HEIGHTS[height]
    wide, deep, high = np.ptp(points, axis=0).tolist()
    closest_high = math.atan(math.tan(CLOSEST / 2) * size[1] / size[0])
    near = max(math.hypot(wide, deep) / 2 / math.sin(CLOSEST / 2), high / 2 / math.sin(closest_high), NEAREST)
    asides = ASIDE_ROUND if _half(setting, corner) else ASIDE_MITER
    tried: list[tuple[float, Floats]] = []
    for slope in SLOPES:
        drop = abs(z - float(target[2]))
        away = max(drop / math.tan(slope), math.sqrt(max(near**2 - drop**2, 0.0)), 0.3 * near)
        for aside in asides:
            way = math.cos(aside) * out + math.sin(aside) * along
            eye = _rounded(np.array([*(target + away * way)[:2], z]))
            tried.append((shown_from(setting, subject, eye), eye))
        if max(share for share, _ in tried) > 0.5 * ENOUGH:
            break
    best = max(share for share, _ in tried)
    share, eye = next((share, eye) for share, eye in tried if share >= ENOUGH * best)
    camera = aimed(eye, points, size)
    across = max(camera.across, min(LEAST_ACROSS[height], LOOSEST * camera.across))
    return _settled(replace(camera, across=across)), share


def _ways(corner: Corner) -> tuple[Floats, Floats]:
    """Level unit directions: out from a corner into the room, and along."""
    spot = corner.spot
    out = spot.room if abs(spot.up[2]) > 0.5 else spot.up
    out = np.array([out[0], out[1], 0.0])
    out = out / np.linalg.norm(out)
    along = np.array([-out[1], out[0], 0.0])
    return out, along if along @ spot.travel >= 0 else -along


def end_camera(setting: Setting, run: str, size: Size) -> Camera | None:
    """The camera beside an end of a run, where its section shows; None where none does."""
    built, job = setting.built, setting.job
    numbers = {number for number, piece in enumerate(built.pieces) if piece.run == run and piece.role == "molding"}
    free = [
        end
        for pair in built.joints
        if pair.joint.kind in SHOWING and (pair.before is None or pair.after is None)
        for end in ends_of(pair)
        if end[0] in numbers
    ]
    found: list[tuple[float, Camera]] = []
    for at_end in (False, True):
        mine = [number for number, end in free if end == at_end]
        if not mine:
            continue
        pieces = [built.pieces[number] for number in mine]
        outline = np.concatenate([end_outline(built.meshes[number], at_end) for number in mine])
        station = pieces[0].element.length if at_end else 0.0
        travel = on_piece(pieces[0], station + 1.0, 0.0, 0.0) - on_piece(pieces[0], station, 0.0, 0.0)
        beyond = travel if at_end else -travel
        room = on_piece(pieces[0], station, 1.0, 0.0) - on_piece(pieces[0], station, 0.0, 0.0)
        if abs(beyond[2]) > 0.5 or abs(room[2]) > 0.5:
            continue  # an end that stands up, as a casing's: nobody looks at it from there
        look = job.run_look(run)
        back = min(1.3 * look.large, pieces[0].element.length)
        spans = [(piece, station - back, station) if at_end else (piece, 0.0, back) for piece in pieces]
        points = np.concatenate([outline, _faces(spans).points])
        for slope, side in itertools.product(END_SLOPES, END_SIDES):
            rise = math.copysign(slope, look.slope)
            way = math.cos(rise) * (math.cos(side) * beyond + math.sin(side) * room) + [0.0, 0.0, math.sin(rise)]
            camera = frame(points, -way, size, END_ACROSS)
            eye = np.array(camera.eye)
            if (short := NEAREST - math.dist(camera.eye, camera.target)) > 0:
                eye = eye + short * way
                camera = aimed(eye, points, size)
            if eye[2] < setting.floor + END_FLOOR:
                continue
            targets = outline + OFF_THE_END * beyond
            clear = setting.sight.clear(np.repeat(eye[None], len(targets), axis=0), targets, [()] * len(targets))
            found.append((float(clear.mean()), _settled(camera)))
    best = max((share for share, _ in found), default=0.0)
    return next(camera for share, camera in found if share >= ENOUGH * best) if best >= END_SHARE else None


def _settled(camera: Camera) -> Camera:
    return replace(camera, eye=_vec(_rounded(np.array(camera.eye))), target=_vec(_rounded(np.array(camera.target))))


def _rounded(place: Floats) -> Floats:
    return np.asarray(np.round(place, DIGITS) + 0.0)


def _vec(place: Floats) -> Vec3:
    return cast(Vec3, tuple(place.tolist()))
