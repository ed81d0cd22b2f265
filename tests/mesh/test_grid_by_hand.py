"""The grid of stations and profile points, its index tables, and the columns of a face, on sections drawn by hand.

A point of a curve runs on its own circle: with P the start, n the way into the room and k the bend toward it, the
center is P + n/k, and after s mm the spoke has turned by k s. Written here with complex numbers.
"""

from __future__ import annotations

import cmath
import math
from dataclasses import replace

import numpy as np
import pytest

from faced_pieces import polygon
from preview.joinery import join
from preview.models.mesh import make_face, mesh_member_run, mesh_volume
from preview.models.mesh.face import cut_face, settle
from preview.models.mesh.grid import SQUARE, Grid, one_station
from preview.models.mesh.shape import Shape, pinched
from preview.models.mesh.steps import Cuts
from preview.runs import Side, Straight, lay_out
from samples import block

ROOMS: tuple[Side, Side] = ("left", "right")
SECTION = polygon((0, 0), (9, 0), (11, 5), (6, 12), (0, 12)).moved(-2.0, 0.0)
MIDDLE = (-2.0 + 9.0) / 2


# The grid.


def spot(start: complex, u: complex, hand: int, bend: float, s: float, d: float) -> tuple[complex, complex]:
    """The plan point s mm along and d out, and the way into the room there."""
    n = 1j * hand * u
    if not bend:
        return start + u * s + n * d, n
    turned = n * cmath.exp(1j * hand * bend * s)
    return start + n / bend - turned * (1 / bend - d), turned


@pytest.mark.parametrize("hand", [1, -1])
@pytest.mark.parametrize("spans", [1, 2, 3])
@pytest.mark.parametrize("bends", [(0.0, 0.0), (1 / 50, 1 / 50), (-1 / 30, 0.0), (1 / 50, -1 / 30)])
@pytest.mark.parametrize("slant", [0.0, 0.7])
def test_every_vertex_stands_on_its_own_line(hand: int, spans: int, bends: tuple[float, float], slant: float) -> None:
    """Two pieces of one grid, cut square or slanting: points between the cuts, normals and grain at all of them."""
    face = make_face(SECTION, 1.0)
    n, columns = len(face.d), len(face.column_point)
    places = [(complex(300.0, -70.0), cmath.exp(2.2j)), (complex(-15.0, 8.0), cmath.exp(-0.3j))]
    frames = np.array([[p.real, p.imag, u.real, u.imag, *(hand * np.array([-u.imag, u.real]))] for p, u in places])
    starts = np.array([[4.0], [-6.0]]) + slant * face.d
    stops = np.array([[41.0], [33.0]]) - slant * face.d / 2
    grid = Grid(face, spans, frames, np.array(bends), *one_station(starts, stops))
    ring = np.zeros((2, n, 2))
    points, normals, uvs = grid.vertices(ring + 1.0, ring + 2.0, (ring + 3.0, ring + 4.0))
    assert points.shape == (2, (spans + 1) * n, 3)
    assert normals.shape == (2, (spans + 1) * columns + 2 * n, 3)
    assert uvs.shape == (2, (spans + 1) * columns + 2 * n, 2)
    for g, ((start, u), bend) in enumerate(zip(places, bends, strict=True)):
        rings = points[g].reshape(spans + 1, n, 3)
        # The joints' own rings, and the ways the caps look, as they were handed over.
        assert (rings[0, :, :2] == 1.0).all()
        assert (rings[-1, :, :2] == 2.0).all()
        assert (normals[g, -2 * n : -n] == [3.0, 3.0, 0.0]).all()
        assert (normals[g, -n:] == [4.0, 4.0, 0.0]).all()
        assert np.abs(uvs[g, -n:] - face.outline.points).max() == 0.0
        assert np.abs(uvs[g, -2 * n : -n] - face.outline.points).max() == 0.0
        for j in range(spans + 1):
            for i in range(n):
                s = starts[g, i] + (stops[g, i] - starts[g, i]) * j / spans
                at, into = spot(start, u, hand, bend, s, face.d[i])
                if 0 < j < spans:
                    assert rings[j, i] == pytest.approx([at.real, at.imag, face.h[i]], abs=1e-9)
                assert rings[j, i, 2] == face.h[i]
                for c in np.flatnonzero(face.column_point == i).tolist():
                    out, up = face.column_normal[c]
                    told = normals[g, j * columns + c].astype(np.float64)
                    assert told == pytest.approx([out * into.real, out * into.imag, up], abs=1e-6)
                    grain = (s * (1 - bend * MIDDLE), face.column_around[c])
                    assert uvs[g, j * columns + c] == pytest.approx(grain, rel=1e-6, abs=1e-5)


def test_a_ring_cut_square_has_one_station() -> None:
    """Within a millionth of a micrometer; beside a miter each point of the profile has its own."""
    square = np.array([[5.0, 5.0, 5.0], [7.0, 7.0, 7.0]])
    nearly, off = square.copy(), square.copy()
    nearly[1, 2] += SQUARE / 2
    off[1, 2] += 2e-9
    for starts, stops, count in ((square, square, 1), (nearly, square, 1), (square, off, 3), (off, square, 3)):
        one = one_station(starts, stops)
        assert [part.shape for part in one] == [(2, count)] * 2
        assert [part[:, 0].tolist() for part in one] == [[5.0, 7.0]] * 2
    at_most = np.array([[0.0, SQUARE, 0.0]])
    assert one_station(at_most, at_most)[0].shape == (1, 3)


# Columns and triangles of a face.


def test_a_square_strip_has_two_columns_at_each_of_its_arrises() -> None:
    """20 out and 40 high: each side from one arris to the next, with its own normal, 120 mm round."""
    face = make_face(block(20.0, 40.0), 1.0)
    assert face.outline.points.tolist() == [[0, 0], [20, 0], [20, 40], [0, 40]]
    assert len(face.column_point) == 8
    assert face.column_point[face.left].tolist() == [0, 1, 2, 3]
    assert face.column_point[face.right].tolist() == [1, 2, 3, 0]
    assert face.column_around[face.left].tolist() == [0.0, 20.0, 60.0, 80.0]
    assert face.column_around[face.right].tolist() == [20.0, 60.0, 80.0, 120.0]
    for side in (face.left, face.right):
        assert face.column_normal[side].tolist() == [[0, -1], [1, 0], [0, 1], [-1, 0]]


def test_a_level_takes_the_place_of_a_corner_within_a_tenth_of_the_narrower_slab() -> None:
    """A tenth of it is near enough."""
    levels = np.array([10.0, 20.0, 50.0])
    assert settle(0.0, 100.0, levels, [0.0, 11.0, 100.0]) == (11.0, 20.0, 50.0)
    assert settle(0.0, 100.0, levels, [0.0, 11.0625, 100.0]) == levels_of(levels)
    assert settle(0.0, 100.0, levels, [0.0, 21.0, 100.0]) == (10.0, 21.0, 50.0)  # 10 below it, 30 above
    assert settle(0.0, 100.0, levels, [0.0, 18.0, 100.0]) == levels_of(levels)
    assert settle(0.0, 100.0, levels, [0.0, 53.0, 100.0]) == (10.0, 20.0, 53.0)  # 30 below it, 50 above
    assert settle(0.0, 100.0, levels, [0.0, 53.5, 100.0]) == levels_of(levels)


def levels_of(levels: np.ndarray) -> tuple[float, ...]:
    return tuple(levels.tolist())


def test_no_level_runs_along_the_back_or_the_outermost_line() -> None:
    assert settle(0.0, 10.0, np.array([0.0, 5.0, 10.0]), [0.0, 10.0]) == (5.0,)
    assert settle(-4.0, 10.0, np.array([-4.0, -1.0]), [-4.0, 10.0]) == (-1.0,)


@pytest.mark.parametrize("turned", [False, True])
@pytest.mark.parametrize("first", range(6))
def test_a_level_cuts_off_a_point_to_either_side(turned: bool, first: int) -> None:
    """A blunt point that stands out 1 mm past a level, or back from it: one triangle of its own, whichever comes first.

    The outline's corners are two along from each other there, the one way round or the other.
    """
    outline = np.array([(0, 0), (9, 0), (10, 20), (9, 40), (0, 40), (0, 20)], dtype=float)
    if turned:
        outline = np.array([10.0, 40.0]) - outline
    level = 1.0 if turned else 9.0
    points = np.roll(outline, first, axis=0)
    corners = points[cut_face(points, (level,))]
    assert (corners[:, :, 0] == (0.0 if turned else 10.0)).any(axis=1).sum() == 1
    low, high = corners[:, :, 0].min(axis=1), corners[:, :, 0].max(axis=1)
    assert not ((low < level) & (level < high)).any()


# Index tables.


def around_once(triangles: np.ndarray) -> set[tuple[int, ...]]:
    """Triangles by their corners, in order, the smallest first."""
    return {tuple(np.roll(t, -int(np.argmin(t))).tolist()) for t in triangles}


@pytest.mark.parametrize("mirrored", [False, True])
def test_a_wedge_s_ends_share_the_wall_line(mirrored: bool) -> None:
    """A strip's corners are 0 to 3 at its beginning and 4 to 7 at its end; 4 and 7 on the wall are 0 and 3."""
    face = make_face(block(20.0, 40.0), 1.0)
    shape = Shape(face, 1, mirrored, (0, 3))
    sides = [(0, 1, 5), (1, 6, 5), (1, 2, 6), (2, 3, 6)]
    end = np.array([0, 5, 6, 3])
    caps = [tuple(t[::-1]) for t in face.triangles.tolist()] + [tuple(end[t].tolist()) for t in face.triangles]
    wanted = np.array([*sides, *caps])
    assert around_once(shape.triangles) == around_once(wanted[:, ::-1] if mirrored else wanted)
    assert len(shape.triangles) == 8
    whole = Shape(face, 1, mirrored)
    assert whole.triangles.shape == (12, 3)
    assert len(np.unique(whole.triangles)) == 8
    # What is drawn has the same corners in the same order.
    drawn = shape.corner_point[shape.render_triangles]
    assert (np.where(drawn == 4, 0, np.where(drawn == 7, 3, drawn)) == shape.triangles).all()
    assert (whole.corner_point[whole.render_triangles] == whole.triangles).all()


def test_a_wedge_in_two_steps_has_one_wall_line() -> None:
    """12 corners less the 4 that the later rings have on the wall."""
    shape = Shape(make_face(block(), 1.0), 2, False, (0, 3))
    assert np.unique(shape.triangles).tolist() == [0, 1, 2, 3, 5, 6, 9, 10]
    assert len(shape.triangles) == 2 * 8 - 4


@pytest.mark.parametrize("room", ROOMS)
def test_only_a_return_has_no_length_on_the_wall(room: Side) -> None:
    run = replace(lay_out("shelf", [Straight(300.0)], room=room), begin="return", end="return")
    line = join(run, "rail", block())
    face = make_face(line.profile, 1.0)
    assert [pinched(piece, face) for piece in line.pieces] == [(0, 3), (), (0, 3)]
    forward = make_face(block().moved(0.001, 0.0), 1.0)
    assert [pinched(piece, forward) for piece in line.pieces] == [(), (), ()]
    assert [len(mesh.triangles) for mesh in mesh_member_run(line)] == [8, 12, 8]


def test_a_volume_far_from_0_keeps_its_digits() -> None:
    """A strip a kilometer off."""
    mesh = mesh_member_run(join(lay_out("wall", [Straight(300.0)]), "rail", block(20.0, 40.0)))[0]
    away = mesh.points + np.array([1e6, -1e6, 1e6]) / 3
    assert mesh_volume(away, mesh.triangles) == pytest.approx(20.0 * 40.0 * 300.0, rel=1e-9)
    assert mesh_volume(away, mesh.triangles[:, ::-1]) == pytest.approx(-20.0 * 40.0 * 300.0, rel=1e-9)
    assert mesh.volume == pytest.approx(20.0 * 40.0 * 300.0, rel=1e-14)
    assert mesh.area == pytest.approx(2 * 20.0 * 40.0 + 120.0 * 300.0, rel=1e-14)


@pytest.mark.parametrize("room", ROOMS)
def test_a_run_in_arrays(room: Side) -> None:
    """Start, travel and the way into the room of each piece, its length and its bend toward the room."""
    hand = 1 if room == "left" else -1
    run = lay_out("wall", [Straight(30.0), Straight(40.0)], room=room, start=(5.0, 6.0), heading=math.pi / 2)
    cuts = Cuts.of(join(run, "rail", block()))
    assert cuts.frames == pytest.approx(np.array([[5, 6, 0, 1, -hand, 0], [5, 36, 0, 1, -hand, 0]]))
    assert cuts.lengths.tolist() == [30.0, 40.0]
    assert cuts.bends.tolist() == [0.0, 0.0]
