"""Where an end should stand, measured apart: the face it follows in its own section, a curved cut by its parabola, and
the nearest point of a body by a library of meshes."""

from __future__ import annotations

import math
from typing import Literal

import numpy as np
import pytest
import shapely
import trimesh

from preview.checks.alone import _off_cut
from preview.checks.contact import nearest, off_face
from preview.checks.surface import Surface
from preview.joinery import Piece, join
from preview.profiles import Line, make_profile
from preview.runs import Corner, Curve, Straight, Way, lay_out
from samples import block, meeting

OUTLINE = [(0, 0), (20, 0), (20, 45), (35, 30), (35, 60), (25, 60), (12, 80), (0, 80)]
"""A nose at 30 mm whose underside slopes up to 45: behind it no saw follows, so the end has a ledge there."""
LIPPED = make_profile("lipped", [Line(a, b) for a, b in zip(OUTLINE, [*OUTLINE[1:], OUTLINE[0]], strict=True)])


def coped(degrees: float, coped_piece: Literal["before", "after"]) -> Piece:
    """The coped one of two straights; the first runs 400 mm along x, the room on its left."""
    way = Way("cope", coped=coped_piece)
    steps = [Straight(400.0), Corner(math.radians(degrees), way), Straight(300.0)]
    return join(lay_out("hall", steps), "base", LIPPED).pieces[int(coped_piece == "after")]


@pytest.mark.parametrize("degrees", [90.0, 65.0, 120.0])
@pytest.mark.parametrize("which", ["before", "after"])
def test_how_far_a_point_is_from_the_face_that_its_end_follows(
    which: Literal["before", "after"], degrees: float
) -> None:
    """Its distance out from the other wall, by plane geometry, and its height: a place in the other's section.

    There the end's surface is the outline, the level ledge under the nose, and the bare wall above and below.
    """
    piece = coped(degrees, which)
    phi = math.radians(degrees)
    ways = np.array([(1.0, 0.0), (math.cos(phi), math.sin(phi))])
    normals = np.column_stack([-ways[:, 1], ways[:, 0]])
    mine, other = (1, 0) if which == "after" else (0, 1)
    random = np.random.default_rng(7)
    d, h = random.uniform(0.0, 40.0, 400), random.uniform(-15.0, 95.0, 400)
    past = random.uniform(-60.0, 90.0, 400) * (1 if which == "after" else -1)
    stand = past[:, None] * ways[mine] + d[:, None] * normals[mine]
    section = shapely.points(np.column_stack([stand @ normals[other], h]))
    ends = shapely.union_all(
        [
            shapely.LinearRing(OUTLINE),
            shapely.LineString([(20, 30), (35, 30)]),
        ]
    )
    wanted = shapely.distance(section, ends)
    wall = np.abs(stand @ normals[other])
    wanted = np.where((h < 0) | (h > 80), np.minimum(wanted, wall), wanted)
    station = past + (0.0 if which == "after" else 400.0)
    found = off_face(piece, which == "before", d, h, station)
    assert found == pytest.approx(wanted, abs=1e-9)
    assert (found < 3.0).sum() > 20


def test_the_nearest_point_of_a_body_is_that_of_another_library() -> None:
    """trimesh, triangles.closest_point, of every triangle; some have no area, some are needles."""
    random = np.random.default_rng(11)
    corners = random.uniform(-3.0, 3.0, (60, 3, 3))
    corners[:10, 2] = corners[:10, 0] + (corners[:10, 1] - corners[:10, 0]) * random.uniform(0, 1, (10, 1))
    corners[10:20, 2] = corners[10:20, 1] + 1e-3
    points = random.uniform(-4.0, 4.0, (300, 3))
    numbers = np.arange(180)
    skin = Surface(corners.reshape(-1, 3), numbers.reshape(-1, 3), numbers, 0, 0, 60, 0.0, 0.0)
    found = nearest(points, skin)
    apart = np.linalg.norm(found - points, axis=1)
    each = [
        np.linalg.norm(trimesh.triangles.closest_point(corners[10:], np.tile(point, (50, 1))) - point, axis=1).min()
        for point in points
    ]
    flat = without_area(points, corners[:10])
    assert apart == pytest.approx(np.minimum(each, flat), abs=1e-9)


def without_area(points: np.ndarray, flat: np.ndarray) -> np.ndarray:
    """The distance to triangles without an area, whose third corner lies between the first two."""
    a, side = flat[:, 0], flat[:, 1] - flat[:, 0]
    t = np.clip(np.einsum("ptj,tj->pt", points[:, None] - a, side) / np.einsum("tj,tj->t", side, side), 0, 1)
    return np.linalg.norm(a + t[..., None] * side - points[:, None], axis=2).min(axis=1)


@pytest.mark.parametrize("off", [0.0, 0.004, -0.01])
@pytest.mark.parametrize("turn", [50.0, -50.0])
def test_how_far_a_point_is_from_a_curved_cut(turn: float, off: float) -> None:
    """Points put `off` square to the parabola between a straight and a curve that wraps: so far off for both pieces."""
    line = join(meeting(Straight(400.0), math.radians(turn), Curve(-1.2, 90.0)), "m", block(30.0))
    straight, curve = line.pieces
    d = np.linspace(2.0, 28.0, 14)
    nudge = 1e-5
    points = line.joints[1].points(d)
    way = line.joints[1].points(d + nudge) - line.joints[1].points(d - nudge)
    way /= np.linalg.norm(way, axis=1)[:, None]
    moved = points + off * np.column_stack([-way[:, 1], way[:, 0]])
    # On the straight: along x from the origin, the room on its left.
    assert _off_cut(straight, True, moved[:, 1], moved[:, 0]) == pytest.approx(abs(off), rel=2e-3, abs=1e-9)
    # On the curve: by its center, which stands a radius to the right of its start.
    start, tangent = np.array(curve.element.start), np.array(curve.element.tangent)
    center = start - 90.0 * np.array([-tangent[1], tangent[0]])
    from_center = moved - center
    out = np.linalg.norm(from_center, axis=1) - 90.0
    first = start - center
    turned = np.arctan2(first[0] * from_center[:, 1] - first[1] * from_center[:, 0], from_center @ first)
    assert _off_cut(curve, False, out, -turned * 90.0) == pytest.approx(abs(off), rel=2e-3, abs=1e-9)
