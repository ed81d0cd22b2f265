"""The ends of a body from its triangles: slivers, creases, what is flat, and the ways in which a body was swept."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from model_bodies import BASE, curve, lofted, moved, straight
from preview.checks import Body
from preview.checks.ends import _creased, _rim, face, facets, sweeps
from preview.checks.shells import Shell, shells
from test_many_bodies import box

Array = np.ndarray


def shell_of(body: Body) -> Shell:
    (found,), _ = shells(body)
    return found


def looking(f: object, *way: float) -> Array:
    """Which triangles of facets look a way."""
    return np.asarray(f.faces.normals @ np.array(way) > 0.999)  # type: ignore[attr-defined]


def test_the_facets_of_a_box_away_from_the_origin() -> None:
    """Its middle is its center, its size half its diagonal; each half-edge's neighbor walks the same edge back."""
    shell = shell_of(box((100.0, -50.0, 20.0), (8.0, 4.0, 1.0)))
    f = facets(shell)
    corners = shell.points[shell.triangles]
    size = math.sqrt(8**2 + 4**2 + 1) / 2
    assert f.faces.centers == pytest.approx((corners.mean(axis=1) - np.array((104.0, -48.0, 20.5))) / size)
    assert sorted(f.faces.areas.tolist()) == pytest.approx([2, 2, 2, 2, 4, 4, 4, 4, 16, 16, 16, 16])
    square = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    assert f.faces.normals == pytest.approx(square / np.linalg.norm(square, axis=1)[:, None])
    for half, neighbor in enumerate(f.neighbors.tolist()):
        t, c = divmod(half, 3)
        edge = shell.triangles[t, c], shell.triangles[t, (c + 1) % 3]
        theirs = shell.triangles[neighbor]
        assert (edge[1], edge[0]) in {(theirs[i], theirs[(i + 1) % 3]) for i in range(3)}


def ridged(out: float, up: float, step: float) -> Body:
    """A box of 10 mm whose front upper arris has a triangle of its own, to a point `out` behind it and `up` above."""
    points = [(0, 0, 0), (10, 0, 0), (10, 10, 0), (0, 10, 0), (0, 0, 10), (10, 0, 10), (10, 10, 10), (0, 10, 10)]
    quads = [(3, 2, 1, 0), (0, 1, 5, 4), (1, 2, 6, 5), (2, 3, 7, 6), (3, 0, 4, 7)]
    triangles = [half for a, b, c, d in quads for half in ((a, b, c), (a, c, d))]
    triangles += [(4, 5, 8), (4, 8, 7), (8, 5, 6), (8, 6, 7)]
    return Body("box", (), np.array([*points, (5.0, out, 10.0 + up)], float), np.array(triangles), None, step)


@pytest.mark.parametrize(
    ("out", "up", "step", "thin"),
    [(1.0, 0.0, 0.25, False), (1.0, 0.0, 0.2501, True), (0.3, 0.4, 0.126, True), (0.3, 0.4, 0.124, False)],
)
def test_a_sliver_looks_where_the_face_across_its_longest_side_looks(
    out: float, up: float, step: float, thin: bool
) -> None:
    """A triangle lower than four steps of the file's numbers; here the longest side is the front's."""
    f = facets(shell_of(ridged(out, up, step)))
    ridge = (f.shell.points[f.shell.triangles] == np.array((5.0, out, 10.0 + up))).all(axis=2).any(axis=1)
    ridge &= (f.shell.points[f.shell.triangles] == np.array((0.0, 0.0, 10.0))).all(axis=2).any(axis=1)
    ridge &= (f.shell.points[f.shell.triangles] == np.array((10.0, 0.0, 10.0))).all(axis=2).any(axis=1)
    assert ridge.sum() == 1
    own = np.array((0.0, -up, out)) / math.hypot(out, up)
    assert f.faces.normals[ridge][0] == pytest.approx(np.array((0.0, -1.0, 0.0)) if thin else own)


def test_where_all_are_slivers_each_looks_where_it_looks() -> None:
    f = facets(shell_of(box((0.0, 0.0, 0.0), (8.0, 4.0, 1.0))))
    coarse = facets(replace(f.shell, step=100.0))
    assert (coarse.faces.normals == f.faces.normals).all()


@pytest.mark.parametrize(
    ("degrees", "wide", "creased"),
    [(11.0, 5.0, True), (9.0, 5.0, False), (9.0, 8.9, False), (9.0, 9.1, True), (9.0, 30.0, True)],
)
def test_a_face_is_parted_from_its_neighbors_but_for_a_twentieth_of_its_rim(
    degrees: float, wide: float, creased: bool
) -> None:
    """A strip 1 mm long and so wide, whose neighbor along 1 mm leans by so much: that is 1 of 2 + 2 wide."""
    up = wide * math.tan(math.radians(degrees))
    loop = [(0.0, 0.0), (2 * wide, 0.0), (2 * wide, 5.0), (wide, 5.0), (0.0, 5.0 - up)]
    f = facets(shell_of(straight("strip", 0.0, 1.0, loop)))
    top = looking(f, 0.0, 0.0, 1.0)
    assert f.faces.areas[top].sum() == pytest.approx(wide)
    assert _creased(f, top) is creased
    # Whichever triangle is the first of the file.
    body = straight("strip", 0.0, 1.0, loop)
    for first in range(len(body.triangles)):
        f = facets(shell_of(replace(body, triangles=np.roll(body.triangles, first, axis=0))))
        assert _creased(f, looking(f, 0.0, 0.0, 1.0)) is creased


def test_the_rim_of_some_triangles() -> None:
    """Round one face of a box: its four sides. Where a triangle is missing, its sides are rim as well."""
    body = box((0.0, 0.0, 0.0), (8.0, 4.0, 1.0))
    f = facets(shell_of(body))
    top = looking(f, 0.0, 0.0, 1.0)

    def lengths(f: object, chosen: Array) -> list[float]:
        halves = _rim(f, chosen)  # type: ignore[arg-type]
        t, points = f.shell.triangles, f.shell.points  # type: ignore[attr-defined]
        return sorted(
            np.linalg.norm(points[t[halves // 3, (halves + 1) % 3]] - points[t[halves // 3, halves % 3]], axis=1)
        )

    assert lengths(f, top) == pytest.approx([4, 4, 8, 8])
    less = facets(shell_of(replace(body, triangles=body.triangles[1:])))
    whole = looking(less, 1.0, 0.0, 0.0)
    assert lengths(less, whole) == pytest.approx([1, 1, 4, 4])
    assert len(_rim(less, np.ones(11, dtype=bool))) == 3


# A face.


def test_a_face_of_triangles_of_unlike_size() -> None:
    """Its area, where it looks, and its center by area, away from the origin; the wood on the left of its rim."""
    body = moved(straight("bar", 0.0, 400.0, BASE), 70.0, -30.0, 900.0)
    f = facets(shell_of(body))
    end = looking(f, 1.0, 0.0, 0.0)
    found = face(f, end, 3)
    loop = np.array(BASE, dtype=float)
    x, y = loop.T
    cross = x * np.roll(y, -1) - np.roll(x, -1) * y
    area = cross.sum() / 2
    out = ((x + np.roll(x, -1)) * cross).sum() / (6 * area)
    up = ((y + np.roll(y, -1)) * cross).sum() / (6 * area)
    assert (found.body, found.flat, len(found.starts)) == (3, True, len(BASE))
    assert found.area == pytest.approx(area)
    assert found.normal == pytest.approx(np.array((1.0, 0.0, 0.0)))
    assert found.normals == pytest.approx(np.tile((1.0, 0.0, 0.0), (len(BASE), 1)))
    assert found.center == pytest.approx(np.array((470.0, out - 30.0, up + 900.0)))
    assert (found.starts[found.following] == found.stops).all()
    assert np.cross(found.starts - found.center, found.stops - found.center).sum(axis=0)[0] / 2 == pytest.approx(area)
    assert found.step == f.shell.step


@pytest.mark.parametrize(("off", "flat"), [(0.99, True), (1.01, False)])
@pytest.mark.parametrize("step", [0.0, 0.01])
def test_a_face_is_flat_within_the_digits_of_its_file(step: float, off: float, flat: bool) -> None:
    """Four steps and a hundred-thousandth of the root of its area: here a square of 10 mm with one corner lifted.

    By z, that corner stands 3 / 4 z off the mean plane through the middle, which lies z / 3 up one of two halves.
    """
    allowed = 4 * step + 1e-5 * 10
    body = box((0.0, 0.0, 0.0), (10.0, 10.0, 10.0))
    lifted = body.vertices.copy()
    # The far corner of the top, not on its diagonal: of the two halves one is tilted.
    tops = [i for i in range(8) if lifted[i, 2] == 10.0]
    halves = [set(t.tolist()) for t in body.triangles if all(i in tops for i in t)]
    (alone,) = halves[0] - halves[1]
    lift = 1e-6
    lifted[alone, 2] += lift
    f = facets(shell_of(replace(body, vertices=lifted)))
    chosen = looking(f, 0.0, 0.0, 1.0)
    corners = f.shell.points[f.shell.triangles[chosen]].reshape(-1, 3)
    # Both halves weigh the same: the plane's slope is half the lifted one's, its middle a sixth of the lift up.
    here = f.shell.points[np.abs(f.shell.points[:, 2] - 10.0 - lift).argmin()]
    sign = np.sign(here[:2] - 5.0)
    slope = sign * lift / 10 / 2
    plane = 10.0 + lift / 6 + (corners[:, :2] - 5.0) @ slope
    reach = float(np.abs(corners[:, 2] - plane).max()) / lift
    scaled = allowed * off / reach
    lifted[alone, 2] = 10.0 + scaled
    found = facets(shell_of(replace(body, vertices=lifted, step=step)))
    assert face(found, looking(found, 0.0, 0.0, 1.0), 0).flat is flat


def test_where_a_curved_face_looks_along_its_rim() -> None:
    """The back of a curve: at each segment between its outermost facets, the mean of what meets at its two points."""
    f = facets(shell_of(curve("bend", 100.0, 0.6, 6, [(0.0, 0.0), (20.0, 0.0), (20.0, 30.0), (0.0, 30.0)])))
    centers = f.shell.points[f.shell.triangles].mean(axis=1)
    back = np.hypot(centers[:, 0], centers[:, 1] + 100.0) < 100.1
    found = face(f, back & (np.abs(f.faces.normals[:, 2]) < 0.5), 0)
    assert not found.flat
    middle = (found.starts + found.stops) / 2
    angle = np.arctan2(middle[:, 0], middle[:, 1] + 100.0)
    along = np.abs(found.starts[:, 2] - found.stops[:, 2]) < 1.0
    inner = along & (angle > 0.11) & (angle < 0.49)
    assert inner.sum() == 8
    wanted = np.column_stack([-np.sin(angle), -np.cos(angle), np.zeros(len(angle))])
    assert found.normals[inner] == pytest.approx(wanted[inner], abs=0.02)
    assert np.linalg.norm(found.normals, axis=1) == pytest.approx(np.ones(len(angle)))
    # The ends of the face look as their own facets do, halfway along them.
    outer = ~along
    turn = np.where(angle[outer] < 0.3, 0.05, 0.55)
    assert found.normals[outer] == pytest.approx(np.column_stack([-np.sin(turn), -np.cos(turn), np.zeros(2)]), abs=1e-9)


# The ways in which a body was swept.


def ways(body: Body) -> list[tuple[int, float]]:
    return [(len(sweep.ends), sweep.travel) for sweep in sweeps(shell_of(body), 0)]


def test_a_bar_travels_its_length() -> None:
    (sweep,) = sweeps(shell_of(moved(straight("bar", 0.0, 1200.0), 40.0, 50.0, 60.0)), 7)
    assert sweep.travel == pytest.approx(1200.0)
    assert sorted((float(end.center[0]), float(end.normal[0]), end.body) for end in sweep.ends) == [
        (pytest.approx(40.0), pytest.approx(-1.0), 7),
        (pytest.approx(1240.0), pytest.approx(1.0), 7),
    ]


@pytest.mark.parametrize(("long", "several"), [(39.9, True), (40.1, False)])
def test_a_plain_strip_eight_times_as_long_as_its_end_is_wide_runs_lengthwise(long: float, several: bool) -> None:
    """An end of 3 x 4 mm is 5 mm wide."""
    found = ways(box((10.0, 20.0, 30.0), (long, 3.0, 4.0)))
    wanted = [(2, pytest.approx(long)), (2, pytest.approx(4.0)), (2, pytest.approx(3.0))]
    assert [each for each in found if each[0]] == (wanted if several else wanted[:1])


def test_a_mitered_bar_travels_as_far_as_its_wood_over_its_section() -> None:
    """Ends at 45 degrees either way: a bar of 20 x 30, 600 mm at its back and 560 at its face."""
    loop = [(0.0, 0.0), (20.0, 0.0), (20.0, 30.0), (0.0, 30.0)]
    (sweep,) = sweeps(shell_of(straight("bar", 0.0, 600.0, loop, (1.0, -1.0))), 0)
    assert sweep.travel == pytest.approx(580.0)
    assert sorted(abs(float(end.normal[0])) for end in sweep.ends) == pytest.approx([math.sqrt(0.5)] * 2)


@pytest.mark.parametrize("turn", [0.8, 2.5])
def test_a_curve_ends_where_it_stops(turn: float) -> None:
    (sweep,) = sweeps(shell_of(curve("bend", 150.0, turn, 40)), 0)
    looks = np.array([end.normal for end in sweep.ends])
    wanted = np.array([(-1.0, 0.0, 0.0), (math.cos(turn), -math.sin(turn), 0.0)])
    assert looks == pytest.approx(wanted, abs=1e-9) or looks[::-1] == pytest.approx(wanted, abs=1e-9)
    # The way of the section's middle, but for what facets cut off.
    loop = np.array(BASE, dtype=float)
    x, y = loop.T
    cross = x * np.roll(y, -1) - np.roll(x, -1) * y
    middle = 150.0 + ((x + np.roll(x, -1)) * cross).sum() / (3 * cross.sum())
    assert sweep.travel == pytest.approx(middle * turn, rel=2e-3)


def test_a_run_in_one_piece_round_a_corner_has_an_end_at_either_end() -> None:
    """No motion has all its sides: two flat faces whose neighbors run straight away, with deep wood behind."""
    out, up = np.array(BASE, dtype=float).T
    rings = [
        np.column_stack([np.zeros(len(out)), out, up]),
        np.column_stack([300.0 + out, out, up]),
        np.column_stack([300.0 + out, np.full(len(out), -400.0), up]),
    ]
    corner = lofted("corner", BASE, rings)
    (sweep,) = sweeps(shell_of(corner), 0)
    assert sweep.travel == 0.0
    assert sorted(tuple(np.round(end.normal, 9).tolist()) for end in sweep.ends) == [(-1.0, 0.0, 0.0), (0.0, -1.0, 0.0)]
    assert {len(end.starts) for end in sweep.ends} == {len(BASE)}


@pytest.mark.parametrize(("long", "turn"), [(6.0, 0.0), (30.0, 0.0), (2.0, 0.0), (0.0, 0.05), (0.0, 0.2)])
def test_the_ends_of_a_slice_outweigh_its_sides(long: float, turn: float) -> None:
    """A slice of a base 18 x 90 mm, or of a curve: it still travels from one of them to the other."""
    body = curve("slice", 100.0, turn, 2, BASE) if turn else straight("slice", 0.0, long, BASE)
    (sweep, *_) = sweeps(shell_of(moved(body, 60.0, -20.0, 10.0)), 0)
    loop = np.array(BASE, dtype=float)
    x, y = loop.T
    cross = x * np.roll(y, -1) - np.roll(x, -1) * y
    middle = 100.0 + ((x + np.roll(x, -1)) * cross).sum() / (3 * cross.sum())
    assert sweep.travel == pytest.approx(middle * turn if turn else long, rel=5e-3)
    assert sorted(end.area for end in sweep.ends) == pytest.approx([cross.sum() / 2] * 2)


@pytest.mark.parametrize("size", [(50.0, 40.0, 30.0), (30.0, 50.0, 40.0), (20.0, 20.0, 20.0), (60.0, 40.0, 4.0)])
def test_a_plain_block_may_have_been_swept_three_ways(size: tuple[float, float, float]) -> None:
    """The longest first; each end is one face whichever way it belongs to."""
    found = [each for each in sweeps(shell_of(box((9.0, 8.0, 7.0), size)), 0) if each.ends]
    assert [each.travel for each in found] == pytest.approx(sorted(size, reverse=True))
    assert [len(each.ends) for each in found] == [2, 2, 2]
    wood = size[0] * size[1] * size[2]
    for each in found:
        assert [end.area for end in each.ends] == pytest.approx([wood / each.travel] * 2)
    assert len({id(end) for each in found for end in each.ends}) == 6


@pytest.mark.parametrize("first", range(0, 60, 7))
def test_a_corner_in_one_piece_in_any_order_of_its_triangles(first: int) -> None:
    out, up = np.array(BASE, dtype=float).T
    rings = [
        np.column_stack([np.zeros(len(out)), out, up]),
        np.column_stack([300.0 + out, out, up]),
        np.column_stack([300.0 + out, np.full(len(out), -400.0), up]),
    ]
    corner = moved(lofted("corner", BASE, rings), 5000.0, 300.0, 20.0)
    (sweep,) = sweeps(shell_of(replace(corner, triangles=np.roll(corner.triangles, first, axis=0))), 0)
    assert sorted(tuple(np.round(end.normal, 9).tolist()) for end in sweep.ends) == [(-1.0, 0.0, 0.0), (0.0, -1.0, 0.0)]


def test_a_run_in_one_piece_round_two_corners_has_no_end_where_the_wood_is_thin() -> None:
    """Two legs and a web of a base 18 x 90. The legs end where the wood is deeper than the 91.8 mm that it is wide."""
    out, up = np.array(BASE, dtype=float).T
    for long, ends in ((200.0, 2), (60.0, 0)):
        rings = [
            np.column_stack([out, np.full(len(out), -long), up]),
            np.column_stack([out, -out, up]),
            np.column_stack([400.0 - out, -out, up]),
            np.column_stack([400.0 - out, np.full(len(out), -long), up]),
        ]
        sweep = sweeps(shell_of(lofted("channel", BASE, rings)), 0)[0]
        feet = [end for end in sweep.ends if end.normal[1] < -0.999 and len(end.starts) == len(BASE)]
        assert len(feet) == ends


def test_what_has_no_volume_has_no_ends() -> None:
    shell = shell_of(box((0.0, 0.0, 0.0), (8.0, 4.0, 1.0)))
    tetrahedron = Body("t", (), np.eye(4, 3), np.array([(0, 1, 2), (0, 3, 1), (1, 3, 2), (0, 2, 3)]), None, 0.0)
    assert len(sweeps(shell_of(tetrahedron), 0)) >= 1
    open_ = shell_of(replace(tetrahedron, triangles=tetrahedron.triangles[1:]))
    assert sweeps(open_, 0) == []
    assert sweeps(replace(shell, area=0.0), 0) == []
