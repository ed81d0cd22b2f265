"""A plan drawn in place of a still: the wall lines, the molding along them, its pieces' names and its corners."""

from __future__ import annotations

from html import escape

import numpy as np
from numpy.typing import NDArray

from preview.build import Built
from preview.client.page.fallback import described
from preview.client.page.shown import Shown
from preview.models.mesh import PieceMesh, Shape
from preview.runs import IN_PLAN
from preview.vantage import Job, corners_of, joint_places, looks_of, paths_of

Floats = NDArray[np.float64]

WIDE, MOST_HIGH, EDGE = 1000.0, 750.0, 60.0
"""The drawing's width, its greatest height, and its free edge, in its own units."""
LETTER = 7.4
"""About how wide a letter is in a name."""
MOST_NAMES = 60
PIECE = 'fill="currentColor" fill-opacity="0.22" stroke="currentColor" stroke-width="1"'
WALL = 'stroke="currentColor" stroke-width="2.5"'
RING = 'stroke="currentColor" stroke-width="1.2"'
LETTERS = 'fill="currentColor" text-anchor="middle"'
"""How things look where no style sheet says otherwise."""
ROUND, OFF = 13.0, 26.0
"""The radius of a corner's number, and how far it stands off the wall."""


def plan_svg(shown: Shown) -> str:
    """The job seen from above, or from the front where all of it lies on the face of a wall; classes, no styles."""
    built = shown.built
    axes = _axes(built)
    outlines = [_outline(mesh, axes) for mesh in built.meshes]
    paths = paths_of(built, 1.0)
    walls = [_flat(path.samples[:, 1:4], axes) for path in paths.values()]
    every = np.concatenate([*outlines, *walls])
    low, high = every.min(axis=0), every.max(axis=0)
    size = np.maximum(high - low, 1.0)
    scale = min((WIDE - 2 * EDGE) / size[0], (MOST_HIGH - 2 * EDGE) / size[1])
    high_in_all = size[1] * scale + 2 * EDGE
    shift = np.array([WIDE / 2, high_in_all / 2])

    def placed(points: Floats) -> Floats:
        moved: Floats = (points - (low + high) / 2) * scale * np.array([1.0, -1.0]) + shift
        return moved

    parts = [f'<path class="plan-piece" {PIECE} d="{_path(placed(outline))}"/>' for outline in outlines]
    parts += [
        f'<path class="plan-wall" {WALL} d="{_path(placed(wall), closed=path.run.closed)}"/>'
        for wall, path in zip(walls, paths.values(), strict=True)
    ]
    job = Job(built, looks_of(built), paths)
    parts += _names(built, [placed(outline) for outline in outlines])
    taken: list[Floats] = []
    for number, corner in enumerate(corners_of(job, joint_places(job)), start=1):
        away = -_flat(corner.spot.room[None], axes)[0] * np.array([1.0, -1.0])
        long = float(np.linalg.norm(away))
        away = away / long if long > 0.3 else np.array([0.0, -1.0])
        at = placed(_flat(corner.at[None], axes))[0] + OFF * away
        while any(float(np.linalg.norm(at - other)) < 2 * ROUND for other in taken):
            at = at + ROUND * away
        taken.append(at)
        x, y = (f"{value:.1f}" for value in at)
        parts.append(f'<circle class="plan-corner" {RING} cx="{x}" cy="{y}" r="{ROUND:g}"/>')
        parts.append(f'<text class="plan-number" {LETTERS} x="{x}" y="{at[1] + 5:.1f}">{number}</text>')
    return (
        f'<svg class="plan" role="img" viewBox="0 0 {WIDE:g} {high_in_all:.1f}" '
        f'font-size="14" fill="none" stroke="none">\n<title>{escape(described(shown))}</title>\n'
        + "\n".join(parts)
        + "\n</svg>"
    )


def _axes(built: Built) -> Floats:
    """The picture's right and up in the scene."""
    stands = [placed.run.stand for placed in built.scene.runs if placed.run.stand != IN_PLAN]
    if not stands:
        return np.array([[1.0, 0.0, 0.0], [0.0, 1.0, 0.0]])
    up = np.array([0.0, 0.0, 1.0])
    right = np.cross(up, np.array(stands[0].z))
    return np.array([right / np.linalg.norm(right), up])


def _flat(points: Floats, axes: Floats) -> Floats:
    flat: Floats = points @ axes.T
    return flat


def _outline(mesh: PieceMesh, axes: Floats) -> Floats:
    """A piece's outline as it is seen: of a curve its foremost and its rearmost line, from end to end."""
    d = mesh.shape.face.d
    if mesh.piece.curvature and isinstance(mesh.shape, Shape):
        rings = mesh.points.reshape(-1, len(d), 3)
        return _flat(np.concatenate([rings[:, int(np.argmin(d))], rings[::-1, int(np.argmax(d))]]), axes)
    return _hull(_flat(mesh.points, axes))


def _hull(points: Floats) -> Floats:
    """The corners of the convex outline of points (n, 2), counter-clockwise (Andrew's monotone chain, 1979)."""
    ordered = sorted({(round(x, 3), round(y, 3)) for x, y in points.tolist()})
    found: list[tuple[float, float]] = []
    for row in (ordered, ordered[::-1]):
        half: list[tuple[float, float]] = []
        for x, y in row:
            while len(half) > 1:
                (ax, ay), (bx, by) = half[-2:]
                if (bx - ax) * (y - ay) - (by - ay) * (x - ax) > 0:
                    break
                half.pop()
            half.append((x, y))
        found += half[:-1]
    return np.array(found or ordered)


def _path(points: Floats, closed: bool = True) -> str:
    steps = [f"{'L' if i else 'M'}{x:.1f} {y:.1f}" for i, (x, y) in enumerate(points.tolist())]
    return "".join(steps) + ("Z" if closed else "")


def _names(built: Built, outlines: list[Floats]) -> list[str]:
    """The names of elements that are long enough in the drawing for them: below all members, each once."""
    groups: dict[tuple[str, str], list[Floats]] = {}
    for piece, outline in zip(built.pieces, outlines, strict=True):
        if not piece.curvature:
            groups.setdefault((piece.run, piece.name.rsplit(" / ", 1)[1]), []).append(outline)
    found: list[str] = []
    taken: list[tuple[float, float, float]] = []
    for (run, part), mine in groups.items():
        name = part if len(built.scene.runs) == 1 else f"{run}: {part}"
        points = np.concatenate(mine)
        low, high = points.min(axis=0), points.max(axis=0)
        wide, x, y = LETTER * len(name), float(low[0] + high[0]) / 2, float(high[1]) + 18
        if high[0] - low[0] < wide or len(found) >= MOST_NAMES:
            continue
        if any(abs(x - at) < (wide + other) / 2 and abs(y - line) < 16 for at, line, other in taken):
            continue
        taken.append((x, y, wide))
        found.append(f'<text class="plan-name" {LETTERS} x="{x:.1f}" y="{y:.1f}">{escape(name)}</text>')
    return found
