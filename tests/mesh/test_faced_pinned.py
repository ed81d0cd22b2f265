"""Copes and worked returns: steps of their sides, one look for each strip, and heights that are one to a mesh."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from faced_pieces import lipped, near, own, pair, polygon, quirked_round, returned
from preview.joinery import faced_volume
from preview.joinery.bands import Cell
from preview.models.mesh import FacedSection, faced_section, mesh_faced, mesh_volume
from preview.models.mesh.faced import _strip
from preview.profiles import Arc, Line, Profile, make_profile
from samples import BASE, RIGHT_ANGLE, block
from true_surface import open_edges

CHORD = 0.05
FLOAT32 = 1e-5


# Sides.


@pytest.mark.parametrize("hand", [1, -1])
@pytest.mark.parametrize("after", [True, False])
@pytest.mark.parametrize("spans", [1, 2, 4])
@pytest.mark.parametrize("profile", [block(20.0, 40.0), BASE, lipped()], ids=["block", "base", "lip"])
def test_a_coped_piece_in_even_steps(profile: Profile, spans: int, after: bool, hand: int) -> None:
    """Every line of the sides is cut evenly from where it first meets both of its sides to where it last does."""
    coped, _ = pair(profile, 1.2, hand=hand, after=after)
    section = faced_section(profile, CHORD)
    mesh = mesh_faced(section, coped, spans)
    assert open_edges(mesh.shape.triangles) == 0
    places = own(coped, mesh.points)
    cut = coped.begin_cut if after else coped.end_cut
    section_points = section.face.outline.points
    for i, at in enumerate(section_points):
        here = np.sort(places[np.abs(places[:, 1:] - at).max(axis=1) < 1e-9, 0])
        ends = [float(cut.stations(at[:1], at[1:], side)[0]) for side in ("below", "above")]
        if ends[0] == pytest.approx(ends[1], abs=1e-9):
            first, last = (ends[0], 700.0) if after else (0.0, 700.0 + ends[0])
            assert here == pytest.approx(np.linspace(first, last, spans + 1), abs=1e-9), i
        else:  # at a jump the two sides of a point have one place or the other, and the steps are inside
            between = here[(here > 60.0) & (here < 640.0)]
            assert len(between) == spans - 1
            known = np.diff(between)
            assert known == pytest.approx(np.full(len(known), known.mean() if len(known) else 0.0))


@pytest.mark.parametrize("after", [True, False])
@pytest.mark.parametrize("spans", [3, 7])
@pytest.mark.parametrize("profile", [block(20.0, 40.0), BASE, lipped(), quirked_round()], ids=lambda p: p.name)
def test_no_triangle_of_a_side_is_longer_than_a_step_and_a_cut(profile: Profile, spans: int, after: bool) -> None:
    """The shorter diagonal is taken: none runs across two steps."""
    coped, _ = pair(profile, 1.2, after=after)
    mesh = mesh_faced(faced_section(profile, CHORD), coped, spans)
    along = own(coped, mesh.points)[:, 0][mesh.shape.triangles]
    assert np.ptp(along, axis=1).max() < 700.0 / spans + 45.0
    back = mesh_faced(faced_section(profile, CHORD), returned(profile), spans)
    along = own(returned(profile), back.points)[:, 0][back.shape.triangles]
    assert np.ptp(along, axis=1).max() < 700.0 / spans + 45.0


@pytest.mark.parametrize("spans", [1, 3])
@pytest.mark.parametrize("profile", [block(20.0, 40.0), BASE, lipped()], ids=["block", "base", "lip"])
def test_the_grain_goes_round_a_coped_piece_as_its_outline_does(profile: Profile, spans: int) -> None:
    """Corner by corner of every triangle of a side: along it the station, across it the outline's own length.

    All its edges are as long in the grain's measure as in space.
    """
    coped, _ = pair(profile, 1.2)
    section = faced_section(profile, CHORD)
    mesh = mesh_faced(section, coped, spans)
    places = own(coped, mesh.points)[mesh.shape.triangles]
    sides = (np.ptp(places[:, :, 0], axis=1) > 100.0 / spans) | (np.abs(places[:, :, 0] - 350.0) < 200.0).any(axis=1)
    assert sides.sum() >= 2 * len(section.face.d)
    uvs = mesh.uvs[mesh.shape.render_triangles][sides].astype(np.float64)
    assert uvs[:, :, 0] == pytest.approx(places[sides][:, :, 0], abs=1e-3)
    told = mesh.normals[mesh.shape.render_triangles][sides].astype(np.float64)
    corners = mesh.points[mesh.shape.triangles][sides]
    for i, j in ((0, 1), (1, 2), (2, 0)):
        flat = np.linalg.norm(uvs[:, j] - uvs[:, i], axis=1)
        solid = np.linalg.norm(corners[:, j] - corners[:, i], axis=1)
        assert flat == pytest.approx(solid, abs=0.02)
    facets = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    facets /= np.linalg.norm(facets, axis=1)[:, None]
    assert np.einsum("tk,tck->tc", facets, told).min() > math.cos(math.radians(30))
    told_around = np.unique(np.round(uvs[:, :, 1], 3))
    assert told_around == pytest.approx(np.unique(np.round(section.face.column_around, 3)), abs=2e-3)


@pytest.mark.parametrize(("foot", "head"), [(2, 5), (5, 2), (2, 2), (3, 9)])
def test_a_strip_between_few_points_and_many(foot: int, head: int) -> None:
    """40 mm wide on both heights: the triangles fan out from the nearer of the few, not all from the first."""
    feet, heads = np.linspace(0.0, 40.0, foot), np.linspace(0.0, 40.0, head)
    points = np.concatenate([np.column_stack([feet, 0 * feet]), np.column_stack([heads, 0 * heads + 5.0])])
    cell = Cell(0, 0, 0, tuple(range(foot)), tuple(range(foot, foot + head)))
    strip = _strip(cell, points)
    triangles = points[np.array([corners for corners, _ in strip])]
    a, b, c = triangles[:, 0], triangles[:, 1], triangles[:, 2]
    areas = ((b - a)[:, 0] * (c - a)[:, 1] - (b - a)[:, 1] * (c - a)[:, 0]) / 2
    assert areas.min() > 0
    assert areas.sum() == pytest.approx(200.0)
    assert len(strip) == foot + head - 2
    assert len({tuple(sorted(corners)) for corners, _ in strip}) == foot + head - 2
    few, many = sorted([foot, head])
    for (corners, feet_), triangle in zip(strip, triangles, strict=True):
        assert list(feet_) == [corner < foot for corner in corners]
        mine = sum(feet_) == (1 if few == foot else 2)
        if mine and many > few:
            assert np.ptp(triangle[:, 0]) <= 40.0 / (few - 1) / 2 + 40.0 / (many - 1)


# How a cope's strips look.


@pytest.mark.parametrize("degrees", [1.95, 2.05])
@pytest.mark.parametrize("side", [1, -1])
def test_strips_that_turn_by_two_degrees_look_like_one_round(degrees: float, side: int) -> None:
    """In a square corner a cope turns as the other face does: with one normal between two strips, or with two."""
    lean = side * math.radians(degrees)
    profile = polygon((0, 0), (20, 0), (20, 20), (20 - 20 * math.tan(lean), 40), (0, 40))
    coped, _ = pair(profile, RIGHT_ANGLE)
    mesh = mesh_faced(faced_section(profile, CHORD), coped)
    # In the piece's own axes the cut at its beginning looks back along it: (-1, 0, 0) below the bend.
    normals = mesh.normals.astype(np.float64) @ coped.frame.axes.T
    places = own(coped, mesh.points)[mesh.shape.corner_point]
    bend = (np.abs(places[:, 2] - 20.0) < 1e-9) & (places[:, 0] < 100.0) & (normals[:, 0] < -0.5)
    looks = np.unique(np.round(normals[bend], 5), axis=0)
    below, above = (np.array([-math.cos(a), 0.0, math.sin(a)]) for a in (0.0, -lean))
    # The face leans back by `lean`: what is coped to it leans over, and looks down.
    if degrees < 2.0:
        blend = (below + above) / np.linalg.norm(below + above)
        assert looks == pytest.approx(blend[None, :], abs=FLOAT32)
    else:
        wanted = np.array(sorted([below.tolist(), above.tolist()]))
        assert np.array(sorted(looks.tolist())) == pytest.approx(wanted, abs=2 * FLOAT32)


# Heights that are one to a mesh.


def two_towers(under: float) -> Profile:
    """A rail 40 out with a trench in its top; the outer side of the trench ends a little lower than the inner."""
    low = 30.0 - under
    return polygon((0, 0), (40, 0), (40, low), (30, low), (30, 10), (20, 10), (20, 30), (0, 30))


@pytest.mark.parametrize(("share", "together"), [(0.02 * (1 + 4e-4), False), (0.02 * (1 - 4e-4), True), (0.5, False)])
def test_heights_within_a_fiftieth_of_a_fine_chord_are_one(share: float, together: bool) -> None:
    """On a section without rounds; a coarser one keeps to what a round of the chord's size could stray by."""
    chord = 1e-3
    profile = two_towers(share * chord)
    section = faced_section(profile, chord)
    assert (near(section) > 1e-9) is together
    coped, _ = pair(profile, 1.2)
    mesh = mesh_faced(section, coped)
    assert open_edges(mesh.shape.triangles) == 0
    assert mesh_volume(mesh.points, mesh.shape.triangles) == pytest.approx(faced_volume(coped), rel=1e-5)
    # Every line of the wood stops on the outer side or at the wall: no line of it between.
    stations = own(coped, mesh.points)[:, 0]
    d = own(coped, mesh.points)[:, 1]
    out = (stations * math.sin(1.2) + d * math.cos(1.2))[stations < 300.0]
    far = np.abs(out[:, None] - np.array([0.0, 40.0, 20.0])).min(axis=1)
    assert far.max() < 1e-9
    assert (np.abs(out - 20.0) < 1e-9).any() != together


def test_the_widest_round_says_which_heights_are_one() -> None:
    """u below its top a round of r is (2 r u)^1/2 out: 0.001 mm for u = 1e-8 on a round of 50, 1e-7 on one of 5.

    A section with both keeps to the wider one's.
    """
    small = Arc((55.0, 5.0), (50.0, 10.0), (50.0, 5.0), RIGHT_ANGLE)

    def section(under: float, *, wide: bool) -> FacedSection:
        top = 60.0 if wide else 10.0
        ledge = top - under
        edges: list[Line | Arc] = [
            Line((0.0, 0.0), (90.0, 0.0)),
            Line((90.0, 0.0), (90.0, ledge)),
            Line((90.0, ledge), (70.0, ledge)),
            Line((70.0, ledge), (70.0, 5.0)),
            Line((70.0, 5.0), (55.0, 5.0)),
            small,
        ]
        if wide:
            edges.append(Arc((50.0, 10.0), (0.0, 60.0), (0.0, 10.0), RIGHT_ANGLE))
        else:
            edges.append(Line((50.0, 10.0), (0.0, 10.0)))
        return faced_section(make_profile("rounds", [*edges, Line((0.0, top), (0.0, 0.0))]), CHORD)

    for under, wide, together in (
        (5e-8, False, True),
        (1.0004e-7, False, False),
        (0.9996e-7, False, True),
        (5e-8, True, False),
        (1.0004e-8, True, False),
        (0.9996e-8, True, True),
    ):
        assert (near(section(under, wide=wide)) > 1e-9) is together


def test_a_piece_coped_here_and_returned_there() -> None:
    """One end worked to the profile and one to the other piece's: the volume is the closed form's."""
    coped, _ = pair(block(20.0, 40.0), RIGHT_ANGLE)
    both = replace(coped, end_cut=returned(block(20.0, 40.0)).end_cut)
    mesh = mesh_faced(faced_section(block(20.0, 40.0), CHORD), both)
    assert mesh.shape.spans == 1  # unless more are asked for
    assert mesh_volume(mesh.points, mesh.shape.triangles) == pytest.approx(20 * 40 * (700 - 20 + 20), rel=1e-12)
    assert own(both, mesh.points)[:, 0].max() == pytest.approx(720.0)
