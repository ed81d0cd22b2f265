"""What a GLB says of its surfaces besides their points: normals, creases and texture coordinates."""

from __future__ import annotations

import math

import numpy as np
import pytest

from export_jobs import CHORD, Raw, jobs, sides
from preview.joinery import Piece
from preview.models.mesh import PieceMesh
from preview.profiles import Arc, Edge

NAMES = ["straight", "miter, outside corner", "tangent curve", "curved miter", "closed", "two members"]
H = 1e-4


def space_normals(raw: Raw, name: str) -> np.ndarray:
    """Normals in plan axes, z up: X, Y up, Z of a GLB are x, z, -y."""
    stored = raw.attribute(name, "NORMAL").astype(float)
    return stored[:, [0, 2, 1]] * (1, -1, 1)


def on_surface(piece: Piece, station: np.ndarray, d: np.ndarray, h: np.ndarray) -> np.ndarray:
    """Points of the swept surface, from the back line alone: (n, 3)."""
    found = []
    for s, out, up in zip(station.tolist(), d.tolist(), h.tolist(), strict=True):
        (x, y), (tx, ty) = piece.element.point(s), piece.element.tangent_at(s)
        found.append((x - piece.hand * ty * out, y + piece.hand * tx * out, up))
    return np.array(found)


def carried_back(piece: Piece, points: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Station, projection and height of points (n, 3), from the element's start, direction and center."""
    element, hand = piece.element, piece.hand
    plan = points[:, :2]
    if not element.curvature:
        away = plan - element.start
        t = np.array(element.tangent)
        return away @ t, hand * (away @ (-t[1], t[0])), points[:, 2]
    center = np.array(element.center)
    spoke, first = plan - center, np.array(element.start) - center
    turn = math.copysign(1, element.curvature)
    angle = np.arctan2(first[0] * spoke[:, 1] - first[1] * spoke[:, 0], spoke @ first) * turn
    angle = np.where(angle < -0.5, angle + 2 * np.pi, angle)
    # To the left of a left-hand curve is toward its center.
    d = hand * turn * (element.radius - np.linalg.norm(spoke, axis=1))
    return angle * element.radius, d, points[:, 2]


def fraction(edge: Edge, d: np.ndarray, h: np.ndarray) -> np.ndarray:
    """The fraction of an edge's length nearest to points in the section."""
    if isinstance(edge, Arc):
        (cx, cy), (sx, sy) = edge.center, edge.start
        ux, uy, vx, vy = sx - cx, sy - cy, d - cx, h - cy
        angle = np.arctan2(ux * vy - uy * vx, ux * vx + uy * vy)
        return np.clip(angle / edge.sweep, 0, 1)
    (d0, h0), (d1, h1) = edge.start, edge.end
    return np.clip(((d - d0) * (d1 - d0) + (h - h0) * (h1 - h0)) / edge.length**2, 0, 1)


def surface_normals(piece: Piece, edge: Edge, station: np.ndarray, t: np.ndarray) -> np.ndarray:
    """Unit normals out of the wood, by central differences on the swept surface."""
    step = H / edge.length
    before, after = edge.point(t - step), edge.point(t + step)
    across = on_surface(piece, station, *after.T) - on_surface(piece, station, *before.T)
    middle = edge.point(t).T
    along = on_surface(piece, station + H, *middle) - on_surface(piece, station - H, *middle)
    # (d, h) runs with the wood on its left: with the room on the left, across x along points out of it.
    normal = np.cross(across, along) * piece.hand
    return normal / np.linalg.norm(normal, axis=1, keepdims=True)


@pytest.mark.parametrize("name", NAMES)
def test_normals_are_the_true_surface_s(name: str) -> None:
    job = jobs()[name]
    raw = Raw.of(job.glb(chord=0.5))
    for mesh in job.meshes(chord=0.5):
        piece, count = mesh.piece, sides(mesh)
        stored = space_normals(raw, piece.name)
        assert np.linalg.norm(stored, axis=1) == pytest.approx(1, abs=2e-7)
        points = mesh.points[mesh.shape.corner_point[:count]]
        station, d, h = carried_back(piece, points)
        # Every vertex must carry the normal of an edge that it lies on; at a smooth point either will do.
        best = np.full(count, np.inf)
        for edge in piece.profile.edges:
            t = fraction(edge, d, h)
            near = np.flatnonzero(np.linalg.norm(edge.point(t) - np.column_stack([d, h]), axis=1) < 1e-6)
            inner = np.clip(t[near], 2 * H / edge.length, 1 - 2 * H / edge.length)
            true = surface_normals(piece, edge, station[near], inner)
            apart = np.linalg.norm(stored[:count][near] - true, axis=1)
            best[near] = np.minimum(best[near], apart)
        assert best.max() < 1e-4, piece.name


@pytest.mark.parametrize("name", NAMES)
def test_normals_agree_with_the_facets(name: str) -> None:
    """A facet and the normals at its corners differ by no more than the steps that the chord allows.

    A circle of radius r within a chord c is walked in steps of 2 acos(1 - c/r), at most 45 degrees here; at a
    facet's corner the true normal is at most a step of the section and a step of the sweep away.
    """
    job = jobs()[name]
    raw = Raw.of(job.glb())
    for mesh in job.meshes():
        piece = mesh.piece
        points = raw.attribute(piece.name, "POSITION").astype(float)
        triangles = raw.triangles(piece.name)
        a, b, c = (points[triangles[:, i]] for i in range(3))
        facet = np.cross(b - a, c - a)
        area = np.linalg.norm(facet, axis=1)
        facet = facet / area[:, None]
        normals = raw.attribute(piece.name, "NORMAL").astype(float)[triangles]
        smallest = min(edge.radius for edge in piece.profile.edges if isinstance(edge, Arc))
        allowed = min(2 * math.acos(1 - CHORD / smallest), math.pi / 4)
        if piece.curvature:
            allowed += 2 * math.acos(1 - CHORD / (piece.element.radius + 40))
        if not (piece.begin.is_plane and piece.end.is_plane):
            allowed += 0.05
        # The corners of slivers were moved by rounding.
        whole = area > 1e-8
        assert whole.mean() > 0.95
        cos = np.einsum("tij,tj->ti", normals, facet)[whole]
        assert math.acos(min(1.0, cos.min())) < allowed, piece.name


def vertices_at(mesh: PieceMesh, raw: Raw) -> dict[bytes, set[bytes]]:
    """The different normals of the side vertices at each stored position."""
    count = sides(mesh)
    positions = raw.attribute(mesh.piece.name, "POSITION")[:count]
    normals = raw.attribute(mesh.piece.name, "NORMAL")[:count]
    found: dict[bytes, set[bytes]] = {}
    for position, normal in zip(positions, normals, strict=True):
        found.setdefault(position.tobytes(), set()).add(normal.tobytes())
    return found


@pytest.mark.parametrize("name", ["straight", "tangent curve", "curved miter"])
def test_an_arris_has_two_normals_and_a_smooth_point_one(name: str) -> None:
    """The base has an arris at each of its corners but one, where the round leaves the face smoothly."""
    job = jobs()[name]
    raw = Raw.of(job.glb())
    for mesh in job.meshes():
        n = len(mesh.shape.face.d)
        rings = len(mesh.points) // n
        counts = [len(normals) for normals in vertices_at(mesh, raw).values()]
        assert len(counts) == rings * n
        assert counts.count(2) == rings * 5
        assert counts.count(1) == rings * (n - 5)
        # Nothing else is doubled: the way round starts and ends at the foot of the back, an arris.
        assert sides(mesh) == rings * (n + 5)


def test_the_grain_runs_along_and_round() -> None:
    """u spans the travel and v the perimeter, in mm, both by hand; the round is a quarter of 14 mm."""
    perimeter = 20 + 68 + 14 * math.pi / 2 + 8 + 6 + 90
    job = jobs()["tangent curve"]
    raw = Raw.of(job.glb())
    lengths = [
        400.0,
        math.pi / 2 * (60.0 + 10.0),
        250.0,
    ]  # round the outside, on the middle of the 20 mm projection
    for mesh, length in zip(job.meshes(), lengths, strict=True):
        uv = raw.attribute(mesh.piece.name, "TEXCOORD_0")[: sides(mesh)]
        assert (uv[:, 0].min(), uv[:, 0].max()) == pytest.approx((0, length), abs=1e-4)
        assert (uv[:, 1].min(), uv[:, 1].max()) == pytest.approx((0, perimeter), abs=1e-4)


def test_the_grain_is_not_stretched() -> None:
    """On the flat sides of a straight piece distances in the picture are distances on the wood."""
    job = jobs()["miter, outside corner"]
    raw = Raw.of(job.glb())
    for mesh in job.meshes():
        name, count = mesh.piece.name, len(mesh.shape.face.d) * 2
        points, uv = raw.attribute(name, "POSITION") * 1000.0, raw.attribute(name, "TEXCOORD_0")
        triangles = raw.triangles(name)[:count]
        for one, other in ((0, 1), (1, 2), (2, 0)):
            a, b = triangles[:, one], triangles[:, other]
            on_wood = np.linalg.norm(points[a] - points[b], axis=1)
            in_picture = np.linalg.norm(uv[a] - uv[b], axis=1)
            # On the round the picture follows the arc and the facet its chord.
            assert in_picture == pytest.approx(on_wood, rel=0.01, abs=2e-3)


def test_the_ends_carry_the_section() -> None:
    raw = Raw.of(jobs()["straight"].glb())
    (mesh,) = jobs()["straight"].meshes()
    uv = raw.attribute(mesh.piece.name, "TEXCOORD_0")[sides(mesh) :]
    assert uv == pytest.approx(np.tile(mesh.shape.face.outline.points, (2, 1)), abs=1e-5)
