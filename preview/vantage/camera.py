"""Where a picture is taken from: chosen from the geometry alone, so that the same scene gives the same picture."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import cast

import numpy as np
from numpy.typing import NDArray

from preview.joinery import MemberRun, Piece
from preview.profiles import flatten
from preview.units import cos_sin

Floats = NDArray[np.float64]
Vec3 = tuple[float, float, float]

ACROSS = math.radians(34)
"""The angle of view from the left edge to the right: what is near is larger, and nothing looks bent."""
MARGIN = 0.07
"""The share of the picture's half width and half height that is left free around the molding."""
RISE = 0.5
"""Where there is room above and below the molding, how much of it goes to the wall and away from the floor: 0 shares
it evenly, 1 gives all of it."""
TURNS = tuple(math.radians(7.5) * i for i in range(48))
"""The directions tried, all round."""
SLOPE, CLOSED_SLOPE = math.radians(16), math.radians(30)
"""How far above the level it is seen from (below it, where the face looks down); a run that closes round something
is looked down on, so that its corners show."""
FLATTER = (1.0, 0.8, 0.6, 0.4)
"""What is looked up at is seen from so much of that, where the floor leaves no more room."""
POWER = 0.3
"""A piece counts by the size of its face in the picture to this power: it is worse to lose one than to make all
smaller."""
ASIDE, OBLIQUE, LEAST_WORTH = math.radians(30), 2.5, 0.1
"""How far aside one likes to stand of the way in which the walls look on the whole, how much less a view is worth that
is square to that, and what is left of it at the least."""
WIDER = 0.65
"""How much less a view is worth the wider it is: what is near looks larger, and counts as larger, than it should."""
GRAZING = 0.25
"""A face turned less than this to the eye (the cosine, in plan, of how far from square on) counts for much less."""
BACK = 0.5
"""How much it takes from a view that the back of a piece is seen, against what its face would give."""
OVERHEAD = 1550.0
"""What is all higher above the floor than this, mm, the eye of one who stands (common practice), is not looked down
on."""
THROUGH = 0.02
"""What is seen through the back of a wall, which pictures leave out, counts so much of its size."""
HEADROOM = 150.0
"""A camera that looks up stays at least this far, mm, above the floor."""
STEP = 120.0
"""How far apart, mm, the sections are at which a view is judged; every piece has at least two."""
MOST = 600
"""About how many sections a view is judged at, however long the job: then not every piece is asked."""
AIMED = 12
"""How many times a camera is turned to what it aims at: each time it is off by a small part of what it was."""
BLOCK = 1_000_000
"""How many pairs of a point and a triangle are worked out at a time."""


@dataclass(frozen=True)
class Camera:
    """An upright camera without distortion: a drawing in true perspective.

    eye, target (mm): where it stands, and what is at the picture's center. across (radians): the angle of view
    from the left edge to the right.
    """

    eye: Vec3
    target: Vec3
    across: float = ACROSS

    def project(self, points: Floats, size: tuple[int, int]) -> Floats:
        """Where points (n, 3) fall in a picture of `size` pixels, from its top left: (n, 2); nan when behind it."""
        axes = _axes(np.subtract(self.target, self.eye))
        right, up, ahead = ((points - np.array(self.eye)) @ axes.T).T
        away = np.where(ahead > 0, ahead, np.nan)
        scale = size[0] / 2 / math.tan(self.across / 2)
        return np.column_stack([size[0] / 2 + scale * right / away, size[1] / 2 - scale * up / away])

    def may_show(self, rim: Floats, size: tuple[int, int]) -> bool:
        """Whether a convex body with these corners (n, 3) may be in a picture of `size` pixels: not where all of it is
        behind the eye, or beyond the same edge."""
        offset = (rim - np.array(self.eye)) @ _axes(np.subtract(self.target, self.eye)).T
        half = math.tan(self.across / 2) * np.array([1.0, size[1] / size[0]])
        beyond = [offset[:, 2] <= 0, *(way * offset[:, :2] > offset[:, 2:] * half for way in (1, -1))]
        return not any(each.all(axis=0).any() for each in beyond)


def choose_camera(
    lines: Sequence[MemberRun],
    points: Floats,
    blocks: Floats,
    size: tuple[int, int],
    floor: float = -math.inf,
    across: Sequence[float] = (ACROSS,),
) -> Camera:
    """The camera that shows the molding best: all of it in the picture, and most of its face turned to the eye.

    points (n, 3): the molding's own. blocks (t, 3, 3): triangles that hide what is behind them, seen from their
    outside. floor: the height of the ground, mm. across: the angles of view that are tried, the one liked best first.
    """
    return ranked_cameras(lines, points, blocks, size, floor, across)[0][1]


def ranked_cameras(
    lines: Sequence[MemberRun],
    points: Floats,
    blocks: Floats,
    size: tuple[int, int],
    floor: float = -math.inf,
    across: Sequence[float] = (ACROSS,),
) -> list[tuple[float, Camera]]:
    """The cameras that `choose_camera` chooses from, each with what it is worth; the best first."""
    sections = _sections(lines)
    slope = CLOSED_SLOPE if all(line.run.closed for line in lines) else SLOPE
    found = []
    if sections.look_down:
        for part in FLATTER:
            found += _all_round(sections, points, blocks, size, -slope * part, floor + HEADROOM, across)
            if found:
                break
    if not found or points[:, 2].min() < floor + OVERHEAD:
        found += _all_round(sections, points, blocks, size, slope, -math.inf, across)
    best = max(worth for worth, _ in found)
    # Those as good in the order in which they were tried, whatever the last digits.
    return sorted(found, key=lambda each: -round(each[0] / max(abs(best), 1e-300), 9))


def _all_round(
    sections: _Sections,
    points: Floats,
    blocks: Floats,
    size: tuple[int, int],
    slope: float,
    lowest: float,
    across: Sequence[float],
) -> list[tuple[float, Camera]]:
    """Cameras all round, at one slope, and what each is worth; none that would stand below the height `lowest`."""
    flat, rise = cos_sin(slope)
    ways = [np.array([-cos * flat, -sin * flat, -rise]) for cos, sin in map(cos_sin, TURNS)]
    off = np.linalg.norm(sections.front) * (1 - np.cos(sections.aside(ways) - ASIDE))
    liked = np.maximum(1 - OBLIQUE * off, LEAST_WORTH).tolist()
    solids = solid_part(blocks)
    found = []
    for angle in across:
        for way, like in zip(ways, liked, strict=True):
            camera = frame(points, way, size, angle)
            eye = np.array(camera.eye)
            if camera.eye[2] >= lowest:
                seen = 0.0 if inside(eye, solids) else max(sections.seen_from(eye, blocks), 0.0)
                found.append((like * seen * (angle / across[0]) ** -WIDER, camera))
    return found


def frame(points: Floats, ahead: Floats, size: tuple[int, int], across: float = ACROSS) -> Camera:
    """The nearest camera that looks along `ahead` and has all of points (n, 3) in the picture, less the margin.

    Each edge of the picture is a plane through the eye, which the points bound from one side; the eye is as near as
    the tighter pair of opposite planes allows, and between those of the looser one.
    """
    axes = _axes(ahead)
    right, up, depth = (points @ axes.T).T
    wide = math.tan(across / 2) * (1 - MARGIN)
    high = wide * size[1] / size[0]
    # The eye's offset from the view's axis may lie from `low + depth * t` to `top - depth * t`, for each pair.
    pairs = [
        (float((offset - depth * t).max()), float((offset + depth * t).min()), t)
        for offset, t in ((right, wide), (up, high))
    ]
    back = min((top - low) / (2 * t) for low, top, t in pairs)
    slack = [(top - low) / 2 - back * t for low, top, t in pairs]
    rise = RISE * slack[1] * math.copysign(1, -ahead[2])
    eye = np.array([sum(pairs[0][:2]) / 2, sum(pairs[1][:2]) / 2 + rise, back]) @ axes
    target = eye + axes[2] * (float(depth.mean()) - back)
    return Camera(cast(Vec3, tuple(eye.tolist())), cast(Vec3, tuple(target.tolist())), across)


def aimed(eye: Floats, points: Floats, size: tuple[int, int], least: float = 0.0) -> Camera:
    """The camera in an eye (3,) that has points (n, 3), all before it, at its picture's middle and just inside it.

    least: the angle of view that it has at the least, radians.
    """
    ahead = points.mean(axis=0) - eye
    for _ in range(AIMED):
        axes = _axes(ahead)
        right, up, depth = ((points - eye) @ axes.T).T
        seen = np.array([right / depth, up / depth])
        low, high = seen.min(axis=1), seen.max(axis=1)
        ahead = axes[2] + (low + high) / 2 @ axes[:2]
    half = (high - low) / 2 / (1 - MARGIN)
    across = 2 * math.atan(max(half[0], half[1] * size[0] / size[1]))
    target = eye + axes[2] * float(depth.mean())
    return Camera(cast(Vec3, tuple(eye.tolist())), cast(Vec3, tuple(target.tolist())), max(across, least))


def _axes(ahead: Floats) -> Floats:
    """Unit vectors to the right, up and ahead, as rows, of an upright camera that looks along `ahead`."""
    ahead = ahead / np.linalg.norm(ahead)
    right = np.array([ahead[1], -ahead[0], 0.0]) / math.hypot(ahead[0], ahead[1])
    return np.array([right, np.cross(right, ahead), ahead])


@dataclass(frozen=True)
class _Sections:
    """Sections through the molding: n of them, each with the k stretches of its profile's face.

    piece (n,): whose they are. at (n, 3): the outermost point at half height. facing (n, 2): into the room.
    span (n,): the mm of run each stands for. normal (n, k, 2), length (n, k): the stretches', in (d, h); one that
    looks to the wall or is a foot has length 0.
    """

    piece: NDArray[np.int64]
    at: Floats
    facing: Floats
    span: Floats
    normal: Floats
    length: Floats

    @property
    def look_down(self) -> bool:
        """Whether most of the face, its flat top and bottom aside, looks down, as a crown's does."""
        slanted = np.abs(self.normal[..., 1]) < 0.99
        return float((self.normal[..., 1] * self.length * slanted).sum()) < -1e-6

    @property
    def front(self) -> Floats:
        """The way (2,) in which the walls look on the whole; the shorter, the less they agree."""
        return np.asarray(self.span @ self.facing / self.span.sum())

    def aside(self, ways: Sequence[Floats]) -> Floats:
        """How far from square on one looks at the walls on the whole, along each of `ways` (3,): radians, no sign."""
        x, y = np.array(ways)[:, :2].T
        (a, b) = self.front
        return np.asarray(np.arctan2(np.abs(x * b - y * a), -(x * a + y * b)))

    def seen_from(self, eye: Floats, blocks: Floats) -> float:
        """How well the molding is seen from an eye (3,), mm; - where its back is more in sight."""
        away = eye - self.at
        distance = np.linalg.norm(away, axis=1)
        toward = away / distance[:, None]
        out = np.einsum("ij,ij->i", toward[:, :2], self.facing)
        turned = self.normal[..., 0] * out[:, None] + self.normal[..., 1] * toward[:, 2:]
        clear = _clear(self.at, eye, blocks)
        shown = (np.maximum(turned, 0) * self.length).sum(axis=1) * clear
        shown *= np.clip(out / GRAZING, 0, 1) ** 4
        behind = self.length.sum(axis=1) * np.maximum(-out, 0) * (clear > 0)
        size, back = (np.bincount(self.piece, each * self.span / distance**2) for each in (shown, behind))
        return float((size**POWER).sum() - BACK * (back**POWER).sum())


def _sections(lines: Sequence[MemberRun]) -> _Sections:
    places: list[tuple[int, list[float], list[float], float]] = []
    faces: list[tuple[Floats, Floats]] = []
    pieces = sum(len(line.pieces) for line in lines)
    stride, most = max(1, 2 * pieces // MOST), max(2, min(12, MOST // pieces))
    for line in lines:
        outline = flatten(line.profile, 1.0)
        step = np.roll(outline.points, -1, axis=0) - outline.points
        length = np.linalg.norm(step, axis=1)
        normal = np.column_stack([step[:, 1], -step[:, 0]]) / length[:, None]
        face = (normal, length * ((normal[:, 0] > -0.1) & (normal[:, 1] > -0.99)))
        d, h = outline.points[:, 0].max(), outline.points[:, 1].mean()
        for piece in line.pieces[::stride]:
            number = places[-1][0] + 1 if places else 0
            found = [(number, *place) for place in _places(piece, float(d), float(h), most)]
            places += found
            faces += [face] * len(found)
    widest = max(len(length) for _, length in faces)
    normals, lengths = np.zeros((len(faces), widest, 2)), np.zeros((len(faces), widest))
    for i, (normal, length) in enumerate(faces):
        normals[i, : len(length)], lengths[i, : len(length)] = normal, length
    numbers, at, facing, span = (np.array(values) for values in zip(*places, strict=True))
    return _Sections(numbers, at, facing, span, normals, lengths)


def _places(piece: Piece, d: float, h: float, most: int) -> Iterable[tuple[list[float], list[float], float]]:
    """Sections along a piece: the point at (d, h), the direction into the room, the length each stands for."""
    element = piece.element
    count = max(2, min(most, math.ceil(element.length / STEP)))
    for i in range(count):
        station = element.length * (i + 0.5) / count
        (x, y), (tx, ty) = element.point(station), element.tangent_at(station)
        nx, ny = -piece.hand * ty, piece.hand * tx
        yield [x + d * nx, y + d * ny, h], [nx, ny], element.length / count


def _clear(points: Floats, eye: Floats, blocks: Floats) -> Floats:
    """How clearly each of points (n, 3) is seen: 0 where a triangle of `blocks` (t, 3, 3) stands before it, seen from
    its outside; THROUGH where one does that turns its back to the eye; else 1.

    The volumes that the eye's ray makes with the triangle's edges have one sign where it passes through.
    """
    found = np.ones(len(points))
    ray = points - eye
    for part in np.array_split(blocks, 1 + len(points) * len(blocks) // BLOCK):
        a, b, c = (part[:, i] - eye for i in range(3))
        sides = [ray @ _cross(q, p).T for p, q in ((a, b), (b, c), (c, a))]
        normal = _cross(b - a, c - a)
        plane = np.einsum("ij,ij->i", normal, a)  # negative where the eye is outside
        before = np.abs(plane) - np.abs(ray @ normal.T) < -1e-3 * np.linalg.norm(normal, axis=1)
        front = (sides[0] >= 0) & (sides[1] >= 0) & (sides[2] >= 0) & before & (plane < 0)
        back = (sides[0] <= 0) & (sides[1] <= 0) & (sides[2] <= 0) & before & (plane > 0)
        found[back.any(axis=1)] = np.minimum(found[back.any(axis=1)], THROUGH)
        found[front.any(axis=1)] = 0.0
    return found


def solid_part(blocks: Floats) -> Floats:
    """Those of triangles (t, 3, 3) that belong to closed bodies: no edge of such a body is without its other side."""
    if not len(blocks):
        return blocks
    corners = np.unique(np.round(blocks.reshape(-1, 3), 3), axis=0, return_inverse=True)[1].reshape(-1, 3)
    edges = np.stack([corners, np.roll(corners, -1, axis=1)], axis=2).reshape(-1, 2)
    edge = np.unique(np.sort(edges, axis=1), axis=0, return_inverse=True)[1].reshape(-1, 3)
    way = np.where(edges[:, 0] < edges[:, 1], 1, -1)
    ragged = np.bincount(edge.ravel(), way) != 0
    while True:  # what hangs on a ragged edge is a sheet, and so is what hangs on that
        open_ = ragged[edge].any(axis=1)
        wider = ragged.copy()
        wider[edge[open_]] = True
        if (wider == ragged).all():
            return np.asarray(blocks[~open_])
        ragged = wider


def inside(eye: Floats, solids: Floats) -> bool:
    """Whether an eye (3,) is inside a closed body of `solids` (t, 3, 3): they are all round it.

    The solid angle of a triangle is that of A. van Oosterom and J. Strackee, IEEE Trans. Biomed. Eng. 30 (1983) 125.
    """
    away = solids - eye
    long = np.linalg.norm(away, axis=2)
    a, b, c = (away[:, i] for i in range(3))
    p, q, r = long.T
    volume = np.einsum("ij,ij->i", a, _cross(b, c))
    dots = [np.einsum("ij,ij->i", u, v) for u, v in ((a, b), (b, c), (c, a))]
    angle = 2 * np.arctan2(volume, p * q * r + dots[0] * r + dots[1] * p + dots[2] * q)
    return float(angle.sum()) > 2 * math.pi


def _cross(a: Floats, b: Floats) -> Floats:
    """The cross products of rows (n, 3): numpy's own spends most of its time on sorting out axes."""
    found = np.empty_like(a)
    for i, j, k in ((0, 1, 2), (1, 2, 0), (2, 0, 1)):
        found[:, i] = a[:, j] * b[:, k] - a[:, k] * b[:, j]
    return found
