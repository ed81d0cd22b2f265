"""Meshes of copes and self-returns: closed, on the true surfaces, touching what they are coped to and no more."""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from manifold3d import Manifold, Mesh64

from faced_pieces import (
    NAMES,
    Floats,
    faces,
    hollow_neck,
    lipped,
    near,
    out_from_other,
    outline,
    own,
    pair,
    polygon,
    quirked_round,
    returned,
    shipped,
    turns,
)
from preview.joinery import FacedStraight, face_line, faced_volume, plane_cut
from preview.models.mesh import FacedMesh, FacedSection, faced_section, mesh_faced, mesh_volume
from preview.profiles import Arc, Line, Profile, distance_to, make_profile
from samples import BASE, RIGHT_ANGLE, block, quarter_round
from strategies import share
from true_surface import bodies, open_edges, signed_volume

CHORD = 0.05


def solid(mesh: FacedMesh) -> Manifold:
    triangles = mesh.shape.triangles.astype(np.uint64)
    made = Manifold(Mesh64(vert_properties=mesh.points, tri_verts=triangles))
    assert made.status().name == "NoError"
    return made


def corners(mesh: FacedMesh) -> Floats:
    return np.asarray(mesh.points[mesh.shape.triangles])


def areas(mesh: FacedMesh) -> Floats:
    a, b, c = np.moveaxis(corners(mesh), 1, 0)
    return np.asarray(np.linalg.norm(np.cross(b - a, c - a), axis=1) / 2)


def check(mesh: FacedMesh, straight: FacedStraight, chord: float, within: float = 0.0) -> None:
    """What every closed mesh of a piece owes. within: how far, mm, heights may have been taken together."""
    shape = mesh.shape
    assert open_edges(shape.triangles) == 0
    assert open_edges(shape.corner_point[shape.render_triangles]) == 0
    assert np.array_equal(shape.corner_point[shape.render_triangles], shape.triangles)
    assert bodies(shape.triangles) == 1
    assert len(np.unique(shape.triangles)) == len(mesh.points)
    assert len(np.unique(mesh.points, axis=0)) == len(mesh.points)
    area = areas(mesh)
    assert area.min() > 1e-6
    volume = signed_volume(mesh.points, shape.triangles)
    assert abs(volume - faced_volume(straight)) < 0.5 * chord * area.sum()
    assert mesh_volume(mesh.points, shape.triangles) == pytest.approx(volume, rel=1e-9)
    station, d, h = own(straight, mesh.points).T
    assert distance_to(straight.profile, np.column_stack([d, h])).max() < 1e-9
    for at, cut, end in ((straight.begin, straight.begin_cut, 0), (straight.end, straight.end_cut, 1)):
        ring = (station < straight.end / 4) if not end else (station > straight.end * 3 / 4)
        off = [at + cut.stations(d[ring], h[ring], side) - station[ring] for side in ("below", "above")]
        if not within:
            assert np.abs(off).min(axis=0).max() < 1e-9
    assert np.abs(np.linalg.norm(mesh.normals, axis=1) - 1).max() < 1e-5
    assert np.isfinite(mesh.uvs).all()
    check_normals(mesh)


def check_normals(mesh: FacedMesh) -> None:
    """Each facet's corners look out of the same side as the facet, within half of the steepest step and 2 degrees."""
    a, b, c = np.moveaxis(corners(mesh), 1, 0)
    across = np.cross(b - a, c - a)
    facet = across / np.linalg.norm(across, axis=1, keepdims=True)
    seen = mesh.normals[mesh.shape.render_triangles].astype(np.float64)
    assert np.einsum("tk,tck->tc", facet, seen).min() > math.cos(math.radians(45 + 2))


def at_the_cut(coped: FacedStraight, mesh: FacedMesh, after: bool) -> Floats:
    """The vertices at the coped end."""
    station = own(coped, mesh.points)[:, 0]
    return mesh.points[station < coped.end / 2] if after else mesh.points[station > coped.end / 2]


# Few vertices.


def test_the_cope_of_a_square_board_is_a_box() -> None:
    coped, _ = pair(block(20.0, 40.0), RIGHT_ANGLE)
    mesh = mesh_faced(faced_section(coped.profile, CHORD), coped)
    assert mesh.points.shape == (8, 3)
    assert mesh.shape.triangles.shape == (12, 3)
    assert mesh_volume(mesh.points, mesh.shape.triangles) == pytest.approx(20 * 40 * (coped.end - 20), rel=1e-12)
    assert sorted(set(own(coped, mesh.points)[:, 0].round(9).tolist())) == [20.0, 700.0]


def test_a_level_fillet_leaves_a_ledge() -> None:
    """One step: two plane strips, a level ledge between them, and a corner more on each of the two sides beside it."""
    stepped = polygon((0, 0), (20, 0), (20, 30), (12, 30), (12, 50), (0, 50))
    coped, _ = pair(stepped, RIGHT_ANGLE)
    mesh = mesh_faced(faced_section(coped.profile, CHORD), coped)
    places = own(coped, mesh.points)
    level = np.abs(places[:, 2] - 30.0) < 1e-12
    assert sorted(map(tuple, places[level & (places[:, 0] < 100)].round(9).tolist())) == [
        (12.0, 0.0, 30.0),
        (12.0, 12.0, 30.0),
        (20.0, 0.0, 30.0),
        (20.0, 12.0, 30.0),
        (20.0, 20.0, 30.0),
    ]
    shown = mesh.shape.triangles[np.isin(mesh.shape.triangles, np.flatnonzero(level)).all(axis=1)]
    a, b, c = np.moveaxis(mesh.points[shown], 1, 0)
    across = np.cross(b - a, c - a)[:, 2] / 2
    # Seen from below, the ledge of the wood above, 8 by 12; seen from above, the fillet of the wood below.
    assert across[across < 0].sum() == pytest.approx(-8.0 * 12.0)
    assert across[across > 0].sum() == pytest.approx(8.0 * (700.0 - 20.0))
    check(mesh, coped, CHORD)


def test_both_ends_and_more_spans() -> None:
    """Spans cut the sides and nothing else; a face on the right of travel is the mirror image."""
    section = faced_section(BASE, CHORD)
    piece = returned(BASE)
    one, three = mesh_faced(section, piece), mesh_faced(section, piece, 3)
    assert (one.shape.spans, three.shape.spans) == (1, 3)
    assert len(three.points) == len(one.points) + 2 * len(section.face.d)
    assert mesh_volume(three.points, three.shape.triangles) == pytest.approx(
        mesh_volume(one.points, one.shape.triangles), rel=1e-12
    )
    check(three, piece, CHORD)
    mirrored = returned(BASE, hand=-1)
    other = mesh_faced(section, mirrored)
    assert other.shape.mirrored
    assert np.allclose(own(mirrored, other.points), own(piece, one.points), atol=1e-9)
    assert np.array_equal(other.shape.triangles[:, ::-1], one.shape.triangles)


def test_the_face_is_cut_where_a_curved_miter_elsewhere_in_the_run_asks() -> None:
    coped, _ = pair(BASE, 1.3)
    section = faced_section(BASE, CHORD, levels=(9.0, 17.5))
    slanted = replace(coped, end_cut=plane_cut(0.4))
    check(mesh_faced(section, slanted), slanted, CHORD)
    assert (section.face.d == 9.0).sum() >= 2  # bit for bit


def test_ledges_are_drawn_level_and_rounds_smooth() -> None:
    mesh = mesh_faced(faced_section(quarter_round(10.0), CHORD), pair(quarter_round(10.0), 1.0)[0])
    coped = pair(quarter_round(10.0), 1.0)[0]
    places = own(coped, mesh.points)[mesh.shape.corner_point]
    # The wood stops on the other piece's cylinder: its radius, from the axis, is the normal, and it looks inward.
    hollow = (places[:, 0] < 100) & (places[:, 1] < 1e-9) & (mesh.uvs[:, 1] == places[:, 2].astype(np.float32))
    normals = mesh.normals.astype(np.float64) @ coped.frame.axes.T
    drawn = hollow & (normals[:, 0] < -1e-6)
    assert drawn.sum() > 5
    h = places[drawn, 2]
    level = np.sqrt(np.maximum(100.0 - h**2, 0.0)) / 10.0
    expected = np.column_stack([-level * math.sin(1.0), -level * math.cos(1.0), -h / 10.0])
    assert np.abs(normals[drawn] - expected).max() < 1e-6


# All profiles and corners.


@pytest.mark.parametrize("name", NAMES)
def test_shipped_profiles(name: str) -> None:
    profile = shipped(name)
    section = faced_section(profile, CHORD)
    for hand, after, degrees in ((1, True, 90), (-1, False, 52)):
        check_a_corner(section, profile, math.radians(degrees), hand, after)
    for piece in (returned(profile), returned(profile, hand=-1, both=False)):
        check(mesh_faced(section, piece), piece, CHORD)


@pytest.mark.parametrize("profile", [lipped(), quirked_round(), hollow_neck()], ids=["lip", "round", "hollow"])
@pytest.mark.parametrize("after", [True, False])
def test_undercut_profiles(profile: Profile, after: bool) -> None:
    section = faced_section(profile, CHORD)
    check_a_corner(section, profile, 1.9, 1, after)
    check(mesh_faced(section, returned(profile)), returned(profile), CHORD)


@share(0.3)
@given(faces(), turns, st.sampled_from([1, -1]), st.booleans(), st.sampled_from([0.02, 0.1, 0.5]))
def test_any_corner(profile: Profile, turn: float, hand: int, after: bool, chord: float) -> None:
    check_a_corner(faced_section(profile, chord), profile, turn, hand, after, chord)


@share(0.3)
@given(faces(), st.sampled_from([1, -1]), st.booleans(), st.integers(1, 3))
def test_any_self_return(profile: Profile, hand: int, both: bool, spans: int) -> None:
    piece, section = returned(profile, hand=hand, both=both), faced_section(profile, 0.1)
    check(mesh_faced(section, piece, spans), piece, 0.1, near(section) if near(section) > 1e-9 else 0.0)


def check_a_corner(
    section: FacedSection, profile: Profile, turn: float, hand: int, after: bool, chord: float = CHORD
) -> None:
    coped, other = pair(profile, turn, hand=hand, after=after)
    mesh, wall = mesh_faced(section, coped), mesh_faced(section, other)
    together = near(section)
    within = together if together > 1e-9 else 0.0
    check(mesh, coped, chord, within)
    check(wall, other, chord, within)
    ends = at_the_cut(coped, mesh, after)
    # On the other piece's true face, out from its wall and at its height.
    assert distance_to(profile, out_from_other(other, ends)).max() < 1e-9 + 2 * within
    # No overlap with its mesh; and 0.01 mm further in there would be one.
    assert (solid(mesh) ^ solid(wall)).volume() <= 1e-6 + 100 * within
    pushed = replace(mesh, points=mesh.points - np.array(other.frame.out) * 0.01)
    assert (solid(pushed) ^ solid(wall)).volume() > 1e-2
    # The line that is seen, where the two faces meet, is the miter's: d = f, s = d tan(turn/2).
    line = face_line(profile)
    station, d, h = own(coped, ends).T
    seen = np.min([np.abs(line.at(h, side) - d) for side in ("below", "above")], axis=0) < 1e-9
    at = station if after else coped.end - station
    visible = seen & (np.abs(at - d * math.tan(turn / 2)) < 1e-9 + 2 * within)
    places = np.column_stack([d, h])[visible]
    # A round that turns back by less than `within` is cut there, across what it hangs over: 100 mm is a large radius.
    for place in outline(profile, line, 2):
        assert np.abs(places - place).max(axis=1).min() < 1e-9 + math.sqrt(2 * 100 * within)


@pytest.mark.parametrize("profile", [BASE, quirked_round()], ids=["base", "round"])
def test_volumes_converge_with_the_square_of_the_step(profile: Profile) -> None:
    """A chord a quarter as deep: a quarter of the error, as a circle's segments have it."""
    coped, _ = pair(profile, 1.2)
    exact = faced_volume(coped)
    off = []
    for chord in (0.4, 0.1, 0.025, 0.00625):
        mesh = mesh_faced(faced_section(profile, chord), coped)
        off.append(abs(mesh_volume(mesh.points, mesh.shape.triangles) - exact))
    assert off[-1] < off[0] / 20
    assert off[-1] < 2e-4 * exact


@pytest.mark.parametrize(
    ("under", "together"), [(5e-4, False), (7e-6, False), (1.0004e-8, False), (0.9996e-8, True), (5e-9, True)]
)
def test_heights_are_taken_together_only_where_a_round_stays_within_a_micrometer(under: float, together: bool) -> None:
    """A round of 50 that turns back at its top, behind a ledge a little lower.

    u below its top a round is (2 r u)^1/2 further out, which is 0.001 mm for u = 0.001² / 100.
    """
    ledge = 55.0 - under
    foot = [(0.0, 0.0), (90.0, 0.0), (90.0, ledge), (70.0, ledge), (70.0, 5.0), (55.0, 5.0)]
    round_ = Arc((55.0, 5.0), (5.0, 55.0), (5.0, 5.0), RIGHT_ANGLE)
    top = [Line((5.0, 55.0), (0.0, 55.0)), Line((0.0, 55.0), (0.0, 0.0))]
    profile = make_profile("round", [*(Line(a, b) for a, b in pairwise(foot)), round_, *top])
    section = faced_section(profile, CHORD)
    assert (near(section) > 1e-9) is together
    assert near(section) <= 1e-8
    if not together:
        check(mesh_faced(section, returned(profile)), returned(profile), CHORD)
