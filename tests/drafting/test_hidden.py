"""Hidden parts of lines: hand-made cases with known break points, and a point-by-point depth test as the judge."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from preview.drafting import hidden
from preview.drafting.hidden import Box2, Seen, Skin, Stroke3, visible
from preview.drafting.intervals import Intervals
from preview.drafting.views import FROM_BELOW, PLAN, View, elevation, from_eye, isometric

Floats = NDArray[np.float64]
FRONT = elevation(math.pi / 2)
"""Looks along y: x to the right, z up."""
SIDES = [(0, 1, 3, 2), (4, 6, 7, 5), (0, 4, 5, 1), (2, 3, 7, 6), (0, 2, 6, 4), (1, 5, 7, 3)]


def skin_of(*bodies: tuple[Floats, list[tuple[int, int, int]]]) -> Skin:
    """A skin of flat-sided bodies, each its own thing."""
    points, triangles, number = [], [], []
    first = 0
    for body, (corners, faces) in enumerate(bodies):
        points.append(corners)
        triangles.append(np.array(faces, dtype=np.int64).reshape(-1, 3) + first)
        number += [body] * len(faces)
        first += len(corners)
    every, tris = np.concatenate(points), np.concatenate(triangles)
    a, b, c = (every[tris[:, i]] for i in range(3))
    square = np.cross(b - a, c - a)
    square /= np.linalg.norm(square, axis=1, keepdims=True)
    normals = np.repeat(square[:, None, :], 3, axis=1)
    count = len(bodies)
    return Skin(every, tris, normals, np.array(number), np.zeros(count), np.zeros(count), np.eye(count) > 0)


def box(low: tuple[float, float, float], high: tuple[float, float, float]) -> tuple[Floats, list[tuple[int, int, int]]]:
    """A closed box, outward."""
    ends = (low, high)
    corners = np.array([[float(ends[i >> 2 - axis & 1][axis]) for axis in range(3)] for i in range(8)])
    return corners, [tri for a, b, c, d in SIDES for tri in ((a, b, c), (a, c, d))]


def column(radius: float, low: float, high: float, count: int) -> tuple[Floats, list[tuple[int, int, int]]]:
    """A closed upright column round the origin, of `count` facets."""
    angle = 2 * np.pi * np.arange(count) / count
    ring = np.column_stack([radius * np.cos(angle), radius * np.sin(angle)])
    corners = np.vstack([np.column_stack([ring, np.full(count, z)]) for z in (low, high)])
    faces = []
    for i in range(count):
        j = (i + 1) % count
        faces += [(i, j, count + j), (i, count + j, count + i)]
    faces += [(0, i + 1, i) for i in range(1, count - 1)]
    faces += [(count, count + i, count + i + 1) for i in range(1, count - 1)]
    return corners, faces


def line(*points: tuple[float, float, float], body: int = 99) -> Stroke3:
    return Stroke3(np.array(points, dtype=float), "arris", min(body, 0) if body == 99 else body)


def spans(seen: list[Seen], axis: int = 0) -> list[float]:
    """Where the seen parts start and stop along an axis of the picture, in order."""
    return sorted(float(v) for part in seen for v in part.points[[0, -1], axis])


def test_the_boxes_of_this_test_are_closed_and_outward() -> None:
    skin = skin_of(box((0, 0, 0), (2, 3, 4)))
    edges, beside = skin.mates
    assert len(edges) == 18
    assert (beside >= 0).all()
    away = skin.points[skin.triangles].mean(axis=1) - np.array([1.0, 1.5, 2.0])
    assert (np.einsum("ij,ij->i", away, skin.planes) > 0).all()


def test_a_line_behind_a_box_is_hidden_between_its_sides() -> None:
    skin = skin_of(box((10, 0, 0), (20, 5, 10)), box((-50, 50, -50), (50, 51, 50)))
    seen = visible(FRONT, skin, [line((-5, 20, 4), (33, 20, 7), body=1)])
    assert spans(seen) == pytest.approx([-5, 10, 20, 33], abs=1e-5)


def test_two_boxes_hide_the_union_and_nothing_shows_through_their_seam() -> None:
    skin = skin_of(box((0, 0, 0), (10, 5, 10)), box((8, 7, 0), (20, 9, 10)), box((-90, 50, -90), (90, 51, 90)))
    assert spans(visible(FRONT, skin, [line((-5, 20, 5), (25, 20, 5), body=2)])) == pytest.approx(
        [-5, 0, 20, 25], abs=1e-5
    )
    # exactly behind the diagonal of a box's face, which is an edge of two triangles
    diagonal = line((0, 20, 0), (10, 20, 10), body=2)
    assert visible(FRONT, skin_of(box((0, 0, 0), (10, 5, 10))), [replace(diagonal, body=0)]) == []
    other = line((0, 20, 10), (10, 20, 0), body=2)
    assert visible(FRONT, skin_of(box((0, 0, 0), (10, 5, 10))), [replace(other, body=0)]) == []


def test_a_slanting_line_comes_out_where_it_pierces_a_face() -> None:
    skin = skin_of(box((0, 10, 0), (100, 20, 100)), box((0, 90, 0), (1, 91, 1)))
    # from y = 0 to y = 40 over x = 10 .. 90: it enters the face y = 10 at x = 30 and stays behind it.
    assert spans(visible(FRONT, skin, [line((10, 0, 50), (90, 40, 50), body=1)])) == pytest.approx([10, 30], abs=0.01)


def test_lines_on_a_face_and_on_its_edges_are_seen() -> None:
    skin = skin_of(box((0, 0, 0), (10, 5, 10)))
    for a, b in (((2, 0, 2), (8, 0, 7)), ((0, 0, 0), (10, 0, 0)), ((0, 0, 10), (0, 0, 0))):
        seen = visible(FRONT, skin, [line(a, b, body=0)])
        assert sum(float(np.linalg.norm(np.diff(s.points, axis=0))) for s in seen) == pytest.approx(math.dist(a, b))


def test_a_box_before_a_column_cuts_its_rim_where_the_box_ends() -> None:
    """The rim of a column of radius 50, behind a box from x = -20 to x = 30: known break points on the circle."""
    count = 720
    skin = skin_of(column(50, 0, 100, count), box((-20, -80, 40), (30, -70, 140)))
    angle = 2 * np.pi * np.arange(count + 1) / count
    rim = np.column_stack([50 * np.cos(angle), 50 * np.sin(angle), np.full(count + 1, 100.0)])
    near = Stroke3(rim[count // 2 :], "rim", 0)  # the half toward the looker
    seen = visible(FRONT, skin, [near])
    print(spans(seen))
    assert spans(seen) == pytest.approx([-50, -20, 30, 50], abs=1e-5)
    # From above at an angle: a box that is 117 high hides the rim up to its far top edge, y = -70, wherever that is.
    view = isometric(math.pi / 2)
    skin = skin_of(column(50, 0, 100, count), box((-20, -80, 40), (30, -70, 117)))
    seen = visible(view, skin, [near])
    top = float(np.array([0, -70, 117]) @ np.array(view.up))
    cut = [point for s in seen for point in s.points[[0, -1]].tolist() if -19.9 < point[0] < 29.9]
    assert [y for _, y in cut] == pytest.approx([top, top], abs=1e-5)
    # There the rim is as high in the picture: y sin + 100 cos = top, and x follows from the circle, within its chord.
    y = (top - 100 * view.up[2]) / view.up[1]
    assert sorted(x for x, _ in cut) == pytest.approx([-math.sqrt(2500 - y * y), math.sqrt(2500 - y * y)], abs=2e-3)


def test_seen_from_an_eye_a_square_hides_twice_its_size_at_twice_its_distance() -> None:
    eye = from_eye((0.0, 0.0, 0.0), (0.0, 1.0, 0.0))
    skin = skin_of(box((-10, 100, -10), (10, 110, 10)), box((0, 900, 0), (1, 901, 1)))
    seen = visible(eye, skin, [line((-50, 200, 3), (70, 200, 3), body=1)])
    assert spans(seen) == pytest.approx([-0.25, -0.1, 0.1, 0.35], abs=1e-7)
    # what runs past the eye is cut off before it, and what lies behind it is not there
    past = visible(eye, skin, [line((30, -500, 0), (30, 500, 0), body=1)])
    assert [s.points.shape for s in past] == [(2, 2)]
    assert spans(past) == pytest.approx([0.1, 30.0])  # hidden by the square from y = 300 on
    assert visible(eye, skin, [line((30, -500, 0), (30, -5, 0), body=1)]) == []


def test_a_triangle_that_reaches_behind_the_eye_still_hides() -> None:
    """A floor under the eye, from far behind it to 300 before it, hides what lies below it up to its edge."""
    eye = from_eye((0.0, 0.0, 100.0), (0.0, 1.0, 100.0))
    skin = skin_of(box((-500, -500, -10), (500, 300, 0)), box((0, 900, 0), (1, 901, 1)))
    # The floor's far edge is at (y, z) = (300, 0); a point at z = -100 is hidden until y = 600.
    seen = visible(eye, skin, [line((0, 100, -100), (0, 1000, -100), body=1)])
    assert spans(seen, axis=1) == pytest.approx([-200 / 600, -0.2], abs=1e-6)


def test_clipping_cuts_at_the_box() -> None:
    skin = skin_of(box((10, 0, 0), (20, 5, 10)), box((0, 900, 0), (1, 901, 1)))
    lines = [line((-5, 20, 4), (33, 20, 4), body=1), line((-5, 20, 40), (33, 20, 40), body=1)]
    seen = visible(FRONT, skin, lines, clip=(0.0, 0.0, 25.0, 30.0))
    assert spans(seen) == pytest.approx([0, 10, 20, 25], abs=1e-5)
    eye = from_eye((0.0, 0.0, 0.0), (0.0, 1.0, 0.0))
    seen = visible(eye, skin, [line((-50, 100, 0), (50, 100, 0), body=1)], clip=(-0.2, -0.1, 0.1, 0.1))
    assert spans(seen) == pytest.approx([-0.2, 0.1])


def test_a_line_of_another_body_on_a_face_is_seen_and_one_within_is_not() -> None:
    """Pieces lie against boxes: rounding must not hide a line that lies on a face, and wood does not show within it."""
    skin = skin_of(box((0, 0, 0), (10, 5, 10)), box((0, 900, 0), (1, 901, 1)))
    assert len(visible(FRONT, skin, [line((1, 1e-9, 1), (9, 1e-9, 9), body=1)])) == 1
    assert visible(FRONT, skin, [line((1, 0.01, 1), (9, 0.01, 9), body=1)]) == []


BESIDE = Stroke3(np.array([[10.0, 0, 0], [10, 0, 10]]), "arris", 0, beyond=np.array([[1.0, 0, 0]]))


@pytest.mark.parametrize(
    ("behind", "outlined"),
    [
        (None, [(0, 10)]),  # nothing behind
        ((-90.0, 50.0), [(0, 10)]),  # a wall far behind it
        ((-90.0, 0.02), []),  # a wall that it touches
        ((4.0, 50.0), [(0, 10)]),  # half of it before a wall, half before nothing
        ((-90.0, -5.0), []),  # a wall that stands before what lies beyond it
    ],
)
def test_an_outline_is_a_border_with_nothing_close_behind(
    behind: tuple[float, float] | None, outlined: list[tuple[float, float]]
) -> None:
    bodies = [box((0, 0, 0), (10, 5, 10))]
    if behind is not None:
        low = 10.0005 if behind[1] < 0 else -90.0  # nearer than the line, and a hair beside it
        bodies.append(box((low, behind[1], behind[0]), (90, 60, 90)))
    seen = visible(FRONT, skin_of(*bodies), [BESIDE])
    heavy = [tuple(sorted(s.points[[0, -1], 1].tolist())) for s in seen if s.outline]
    assert heavy == [pytest.approx(part) for part in outlined]
    assert sum(float(np.ptp(s.points[:, 1])) for s in seen) == pytest.approx(10)


def test_an_outline_ends_where_its_own_body_begins_close_behind() -> None:
    """A wall of the same body 8 mm behind counts as the same thing if the body reaches that far, and not otherwise."""
    skin = skin_of(box((0, 0, 0), (10, 5, 10)), box((-90, 8, 4), (90, 60, 90)))
    family = replace(skin, joined=np.ones((2, 2), dtype=bool), reach=np.array([10.0, 10.0]))
    heavy = [s.points[:, 1] for s in visible(FRONT, family, [BESIDE]) if s.outline]
    assert len(heavy) == 1
    assert sorted(heavy[0].tolist()) == pytest.approx([0, 4], abs=0.01)
    apart = [s.points[:, 1] for s in visible(FRONT, replace(family, reach=np.array([7.0, 7.0])), [BESIDE]) if s.outline]
    assert sorted(apart[0].tolist()) == pytest.approx([0, 10])


# A judge of another kind: ask point by point whether a triangle stands before it.

Case = tuple[Floats, Floats]


@st.composite
def scenes(draw: st.DrawFn) -> Case:
    """Loose triangles (n, 3, 3) and segments (m, 2, 3) in a cube of 100 mm."""
    seed = draw(st.integers(0, 2**32 - 1))
    rng = np.random.default_rng(seed)
    middle = rng.uniform(-40, 40, (draw(st.integers(1, 12)), 1, 3))
    return middle + rng.uniform(-30, 30, (len(middle), 3, 3)), rng.uniform(-50, 50, (draw(st.integers(1, 6)), 2, 3))


VIEWS: dict[str, View] = {
    "front": FRONT,
    "isometric": isometric(0.7),
    "from below": FROM_BELOW,
    "eye": from_eye((130.0, -170.0, 60.0), (0.0, 0.0, 0.0)),
    "eye within": from_eye((0.0, -20.0, 0.0), (5.0, 30.0, 4.0)),
}


def hidden_at(view: View, triangles: Floats, point: Floats) -> bool | None:
    """Whether a triangle that faces the looker stands between him and a point; None where it is too close to say."""
    eye = point - 1e5 * np.array(view.ahead) if view.eye is None else np.array(view.eye)
    verdict: bool | None = False
    for a, b, c in triangles:
        square = np.cross(b - a, c - a)
        if square @ (eye - a) <= 0:
            continue
        # Where the sight line meets the plane, by determinants: in the triangle's own terms, and on the line.
        sight = point - eye
        det = -(sight @ square)
        u, v = ((c - a) @ np.cross(sight, eye - a)) / -det, ((b - a) @ np.cross(sight, eye - a)) / det
        t = (square @ (eye - a)) / det
        margin = min(u, v, 1 - u - v, t, (1 - t) * float(np.linalg.norm(sight)) / 50)
        if margin > 1e-3:
            return True
        if margin > -1e-3:
            verdict = None
    return verdict


def disagreements(view: View, case: Case, count: int = 15) -> int:
    """At how many of some points on the segments the depth test and `visible` differ."""
    triangles, segments = case
    eye = np.array(view.eye) if view.eye is not None else None
    faces = np.arange(3 * len(triangles)).reshape(-1, 3)
    skin = skin_of((triangles.reshape(-1, 3), [tuple(face) for face in faces.tolist()]), box((0, 0, 900), (1, 1, 901)))
    wrong = 0
    for segment in segments:
        seen = visible(view, skin, [Stroke3(segment, "arris", 1)])
        flat = [view.project(segment)[:, :2]] if eye is None else None
        for t in (np.arange(count) + 0.5) / count:
            point = segment[0] + t * (segment[1] - segment[0])
            if eye is not None and float((point - eye) @ np.array(view.ahead)) < 2.0:
                continue
            truth = hidden_at(view, triangles, point)
            if truth is None:
                continue
            at = view.project(point[None])[0, :2]
            on = any(_on(part.points, at) for part in seen)
            wrong += on == truth
        assert flat is None or all(np.isfinite(part.points).all() for part in seen)
    return wrong


def _on(points: Floats, at: Floats) -> bool:
    a, b = points[0], points[-1]
    long = float((b - a) @ (b - a)) or 1.0
    t = float((at - a) @ (b - a)) / long
    return -1e-9 <= t <= 1 + 1e-9 and float(np.linalg.norm(a + t * (b - a) - at)) < 1e-6


@settings(max_examples=30)
@given(scenes(), st.sampled_from(sorted(VIEWS)))
def test_visible_agrees_with_a_depth_test_at_points(case: Case, view: str) -> None:
    assert disagreements(VIEWS[view], case) == 0


def _known_case() -> Case:
    rng = np.random.default_rng(7)
    return rng.uniform(-40, 40, (20, 3, 3)), rng.uniform(-50, 50, (10, 2, 3))


FAULTS: dict[str, Callable[[pytest.MonkeyPatch], None]] = {}


def fault(name: str) -> Callable[[Callable[[pytest.MonkeyPatch], None]], Callable[[pytest.MonkeyPatch], None]]:
    def keep(plant: Callable[[pytest.MonkeyPatch], None]) -> Callable[[pytest.MonkeyPatch], None]:
        FAULTS[name] = plant
        return plant

    return keep


@fault("depth is not looked at")
def _no_depth(patch: pytest.MonkeyPatch) -> None:
    real = hidden._shadows

    def planted(view: View, skin: Skin, clip: Box2 | None) -> hidden._Shadows:
        found = real(view, skin, clip)
        found.planes[:, 3] = (0.0, 0.0, 0.0, 1.0)
        return found

    patch.setattr(hidden, "_shadows", planted)


@fault("one side of each triangle is forgotten")
def _two_sides(patch: pytest.MonkeyPatch) -> None:
    real = hidden._shadows

    def planted(view: View, skin: Skin, clip: Box2 | None) -> hidden._Shadows:
        found = real(view, skin, clip)
        found.planes[:, 1] = found.planes[:, 0]
        return found

    patch.setattr(hidden, "_shadows", planted)


@fault("pairs are lost")
def _lost_pairs(patch: pytest.MonkeyPatch) -> None:
    real = hidden.overlapping
    patch.setattr(hidden, "overlapping", lambda *args: ((a[::2], b[::2]) for a, b in real(*args)))


@fault("intervals are not united")
def _one_interval(patch: pytest.MonkeyPatch) -> None:
    def planted(self: Intervals, near: Floats) -> Intervals:
        first = np.unique(self.line, return_index=True)[1]
        return Intervals(self.line[first], self.start[first], self.stop[first])

    patch.setattr(Intervals, "united", planted)


@fault("what is turned away hides")
def _both_sides(patch: pytest.MonkeyPatch) -> None:
    real = Skin.facing
    patch.setattr(Skin, "facing", lambda self, view: ~real(self, view))


@pytest.mark.parametrize("view", ["isometric", "eye"])
def test_the_known_case_has_no_disagreement(view: str) -> None:
    assert disagreements(VIEWS[view], _known_case(), 25) == 0


@pytest.mark.parametrize("name", FAULTS)
def test_planted_faults_are_caught(name: str, monkeypatch: pytest.MonkeyPatch) -> None:
    FAULTS[name](monkeypatch)
    assert disagreements(VIEWS["isometric"], _known_case(), 25) > 0


@pytest.mark.parametrize("turn", [0.3, 2.0, -1.1])
@pytest.mark.parametrize("name", ["isometric", "eye", "front"])
def test_turning_view_and_model_together_changes_nothing(name: str, turn: float) -> None:
    triangles, segments = _known_case()
    cos, sin = math.cos(turn), math.sin(turn)
    about_z = np.array([[cos, sin, 0], [-sin, cos, 0], [0, 0, 1]])
    about_x = np.array([[1, 0, 0], [0, cos, sin], [0, -sin, cos]])
    axes = about_z @ about_x
    moved = np.array([12.0, -7.0, 3.0])
    view = VIEWS[name]

    def carried(vector: tuple[float, float, float], by: Floats) -> tuple[float, float, float]:
        x, y, z = np.array(vector) @ axes + by
        return (float(x), float(y), float(z))

    zero = np.zeros(3)
    turned = View(
        *(carried(way, zero) for way in (view.right, view.up, view.ahead)),
        eye=None if view.eye is None else carried(view.eye, moved),
    )
    found = []
    for looked, by in ((view, None), (turned, axes)):
        tris = triangles if by is None else triangles @ by + moved
        lines = segments if by is None else segments @ by + moved
        faces = [tuple(face) for face in np.arange(3 * len(tris)).reshape(-1, 3).tolist()]
        seen = visible(looked, skin_of((tris.reshape(-1, 3), faces)), [Stroke3(s, "arris", 0) for s in lines])
        found.append(np.concatenate([part.points for part in seen]))
    shift = np.zeros(2) if view.eye is not None else turned.project(moved[None])[0, :2]
    assert found[0].shape == found[1].shape
    np.testing.assert_allclose(found[0] + shift, found[1], atol=2e-5)


@given(st.lists(st.tuples(st.integers(0, 3), st.integers(0, 20), st.integers(0, 20)), max_size=30))
def test_unions_and_rests_of_intervals_as_sets_of_steps(parts: list[tuple[int, int, int]]) -> None:
    """Against sets of twentieths, which need no order and no sweep."""
    known: dict[int, set[int]] = {}
    for number, a, b in parts:
        known.setdefault(number, set()).update(range(min(a, b), max(a, b)))
    real = [(n, min(a, b) / 20, max(a, b) / 20) for n, a, b in parts if a != b]
    taken = Intervals(
        np.array([n for n, _, _ in real], dtype=np.int64), *(np.array([p[i] for p in real]) for i in (1, 2))
    )
    whole = Intervals(np.arange(4), np.zeros(4), np.ones(4))
    united = taken.united(np.zeros(4))
    for found, wanted in (
        (united, known),
        (whole.rest(united), {n: set(range(20)) - known.get(n, set()) for n in range(4)}),
    ):
        covered: dict[int, set[int]] = {}
        for n, start, stop in zip(found.line.tolist(), found.start.tolist(), found.stop.tolist(), strict=True):
            steps = set(range(round(start * 20), round(stop * 20)))
            assert not covered.get(n, set()) & steps
            covered.setdefault(n, set()).update(steps)
        assert {n: s for n, s in covered.items() if s} == {n: s for n, s in wanted.items() if s}


def test_plan_looks_down_with_y_up() -> None:
    points = PLAN.project(np.array([[1.0, 2.0, 3.0], [1.0, 2.0, 4.0]]))
    assert points[:, :2].tolist() == [[1, 2], [1, 2]]
    assert points[1, 2] < points[0, 2]  # what stands higher is nearer


@pytest.mark.parametrize("view", [PLAN, FROM_BELOW, FRONT, isometric(1.0), isometric(2.0, -0.4), VIEWS["eye"]])
def test_views_have_square_axes_and_right_times_up_looks_back(view: View) -> None:
    np.testing.assert_allclose(view.axes @ view.axes.T, np.eye(3), atol=1e-12)
    np.testing.assert_allclose(np.cross(view.right, view.up), -np.array(view.ahead), atol=1e-12)


def test_an_isometric_shows_the_three_edges_of_a_box_equally_long() -> None:
    """ISO 5456-3, 5.1: the three axes are foreshortened alike, 120 degrees apart."""
    flat = isometric(math.radians(45)).project(np.diag([-1.0, -1.0, 1.0]))[:, :2]
    assert np.linalg.norm(flat, axis=1) == pytest.approx([math.sqrt(2 / 3)] * 3)
    angles = np.sort(np.degrees(np.arctan2(flat[:, 1], flat[:, 0])) % 360)
    assert np.diff(angles) == pytest.approx([120, 120])
