"""Between bodies: which ends are told as a near miss, what touches with a small end, and a plane that must be clear."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from preview.checks import Body
from preview.checks.ends import Sweep, face, facets, sweeps
from preview.checks.faces import EndFace
from preview.checks.joints import find_joints
from preview.checks.overlap import parted
from preview.checks.shells import Shell, shells
from preview.checks.touching import touching
from test_faces_pinned import end
from test_many_bodies import box
from test_parted import Box

Array = np.ndarray


def shell_of(body: Body) -> Shell:
    (found,), _ = shells(body)
    return found


FAR = [shell_of(box((1000.0 * i, 0.0, 500.0), (10.0, 10.0, 10.0))) for i in range(1, 3)]
"""Two bodies that touch nothing; what is asked of are ends of their own."""


def of(body: int, one: EndFace) -> EndFace:
    return replace(one, body=body)


@pytest.mark.parametrize(("tilt", "own"), [(0.0, True), (9.0, True), (11.0, False), (90.0, False)])
def test_a_body_misses_itself_only_with_ends_that_look_at_each_other(tilt: float, own: bool) -> None:
    """Ends of two bodies are told up to 100 degrees, those of one up to 10."""
    one, other = end(20, 30), end(20, 30, (0.0, 0.0, 7.0), tilt, looks=-1)
    alone = find_joints(FAR[:1], [[Sweep((one, other), 1.0)]])
    assert alone.ends == (2,)
    assert bool(alone.misses) is own
    two = find_joints(FAR, [[Sweep((one,), 1.0)], [Sweep((of(1, other),), 1.0)]])
    assert two.ends == (1, 1)
    (miss,) = two.misses
    assert (miss.first, miss.second, miss.facing) == (0, 1, pytest.approx(tilt))


def test_ends_that_form_a_joint_are_no_near_miss_and_each_end_forms_one() -> None:
    """Of three ends in a row the two that lie best on each other meet; the third is told."""
    one = end(20, 30)
    near, aside = of(1, end(20, 30, (0.0, 0.0, 0.25), looks=-1)), of(1, end(20, 30, (6.0, 0.0, 0.5), looks=-1))
    for order in ((near, aside), (aside, near)):
        found = find_joints(FAR, [[Sweep((one,), 1.0)], [Sweep(order, 1.0)]])
        (joint,) = found.joints
        assert (joint.first, joint.second) == (0, 1)
        assert joint.place == pytest.approx((0.0, 0.0, 0.125))
        assert joint.facing == pytest.approx(0.0)
        assert joint.contact.opens == pytest.approx(0.25)
        assert found.misses == ()


def test_a_long_bar_touches_with_an_end_that_is_little_of_its_surface() -> None:
    """400 mm² of 800,800: too little for a side that is looked at, but it is an end."""
    several = [
        shell_of(box((0.0, 0.0, 0.0), (200.0, 100.0, 10.0))),
        shell_of(box((90.0, 40.0, 10.0), (20.0, 20.0, 1e4))),
    ]
    ends = [found for sweep in sweeps(several[1], 1) for found in sweep.ends]
    assert len(ends) == 2
    assert [each.area for each in touching(several, ends, [])] == [pytest.approx(400.0)]
    assert touching(several, [], []) == []


@pytest.mark.parametrize(("thick", "clear"), [(4.0, False), (7.0, True)])
@pytest.mark.parametrize("which", [0, 1])
def test_all_else_of_a_body_lies_ten_times_as_far_off_as_its_face_is_uneven(
    thick: float, clear: bool, which: int
) -> None:
    """A face with one corner lifted by e is e / 2 uneven: a body thinner than 5 e may come through it."""
    e = 1e-3
    plane = [(0.0, 0.0, 0.0), (10.0, 0.0, 0.0), (10.0, 10.0, e), (0.0, 10.0, 0.0)]

    def plate(z: float) -> Box:
        quads = [(3, 2, 1, 0), (4, 5, 6, 7), *((i, (i + 1) % 4, 4 + (i + 1) % 4, 4 + i) for i in range(4))]
        triangles = [half for a, b, c, d in quads for half in ((a, b, c), (a, c, d))]
        triangles[:2] = [(2, 1, 0), (3, 2, 0)]
        wanted = triangles if z > 0 else [corners[::-1] for corners in triangles]
        return Box(np.array([*plane, *((x, y, z) for x, y, _ in plane)], float), np.array(wanted))

    heights = [-1000.0, 1000.0]
    heights[which] = np.sign(heights[which]) * thick * e
    assert np.isfinite(parted(plate(heights[0]), plate(heights[1]))) == clear


def test_edges_of_two_triangles_are_not_crowded(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("MOLDING_LIMIT_CROWDED", "1")
    assert shell_of(box((0.0, 0.0, 0.0), (1.0, 2.0, 3.0))).volume == pytest.approx(6.0)


def test_a_body_smaller_than_a_millimeter_has_ends() -> None:
    (*found,) = (
        each for each in sweeps(shell_of(replace(box((1.0, 1.0, 1.0), (0.4, 0.3, 0.2)), step=0.0)), 0) if each.ends
    )
    assert [each.travel for each in found] == pytest.approx([0.4, 0.3, 0.2])


def test_a_face_looks_where_most_of_it_looks() -> None:
    """Two sides of a box of 8 x 4 x 1 mm taken as one: 32 mm² up, 4 mm² along x."""
    f = facets(shell_of(box((0.0, 0.0, 0.0), (8.0, 4.0, 1.0))))
    chosen = (f.faces.normals[:, 2] > 0.5) | (f.faces.normals[:, 0] > 0.5)
    found = face(f, chosen, 0)
    assert found.normal == pytest.approx(np.array((4.0, 0.0, 32.0)) / np.hypot(4.0, 32.0))
    assert found.center == pytest.approx((32 * np.array((4.0, 2.0, 1.0)) + 4 * np.array((8.0, 2.0, 0.5))) / 36)
    assert not found.flat


def test_where_all_of_a_wedge_is_slivers_each_looks_where_it_looks() -> None:
    points = np.array([(0.0, 0.0, 0.0), (9.0, 0.0, 0.0), (0.0, 7.0, 0.0), (0.0, 0.0, 5.0)])
    body = Body("wedge", (), points, np.array([(0, 2, 1), (0, 1, 3), (1, 2, 3), (2, 0, 3)]), None, 0.0)
    shell = shell_of(body)
    assert (facets(replace(shell, step=50.0)).faces.normals == facets(shell).faces.normals).all()
