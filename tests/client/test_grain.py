"""Textures: the grain's direction, its scale, and its color, against the rules they are made by."""

from __future__ import annotations

import math
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from preview.build import Built, build
from preview.client.stills.grain import (
    ACROSS,
    ALONG,
    BOARDS,
    LENGTH,
    PLANK,
    PLANKS,
    Texture,
    Timber,
    _Tree,
    board_of,
    brushed,
    planks,
    stone,
    timber,
)
from preview.client.stills.studio import linear, stage
from preview.profiles import Outline
from preview.scene import parse_scene

OAK = (0.485, 0.266, 0.102)
TURNED = """
title = "Round a post"
units = "mm"

[profile.base]
foot = 20
face = [{ fillet = 80 }, { ovolo = 20, in = 20 }]

[finish.oak]
color = "#b98d5a"
kind = "clear"

[member.base]
profile = "base"
finish = "oak"

[[run]]
name = "wall"
members = ["base"]
start = [0, 0]
room = "right"
steps = [{ straight = 300 }, { curve_left = 90, radius = 50 }, { straight = 200 }]
"""
Floats = np.ndarray[Any, np.dtype[np.floating[Any]]]


@pytest.fixture(scope="module")
def turned() -> Built:
    return build(parse_scene(TURNED, Path("turned.toml")))


@pytest.fixture(scope="module")
def outline(turned: Built) -> Outline:
    return turned.meshes[0].shape.face.outline


@pytest.fixture(scope="module")
def wood(outline: Outline) -> Timber:
    return timber(outline, OAK)


def likeness(tones: Floats, lag: int, axis: int) -> float:
    """How alike places are that lie so many texels apart: 1 the same, 0 strangers."""
    first = np.moveaxis(tones.astype(float), axis, 0)
    one, other = first[:-lag].ravel(), first[lag:].ravel()
    return float(np.corrcoef(one, other)[0, 1])


def mean_color(texture: Texture, tones: Floats) -> Floats:
    share = tones.mean() / 255
    return np.asarray(np.array(texture.dark) + share * (np.array(texture.light) - np.array(texture.dark)))


def test_grain_runs_along_the_board(wood: Timber) -> None:
    """Places 12 mm apart along the grain are alike, those 12 mm apart across it are not."""
    for board in range(BOARDS):
        face = wood.texture.tones[board * wood.strip : (board + 1) * wood.strip]
        along, across = likeness(face, round(12 / ALONG), 1), likeness(face, round(12 / wood.across), 0)
        assert along > 0.45
        assert along > across + 0.3


def test_years_are_two_to_four_millimeters_wide_and_no_two_boards_are_the_same(wood: Timber) -> None:
    """Counted along a radius of the tree: a year ends where the wood turns light at once."""
    for board in range(BOARDS):
        tree = _Tree.grown(board)
        out = np.arange(0, 240, 0.05, dtype=np.float32)
        center = [tree.heart[i] + float((tree.lean[i] * np.sin(tree.turn[i])).sum()) for i in (0, 1)]
        dark = tree.years(np.zeros(1, np.float32), np.float32(center[0]) + out, np.float32(center[1]), np.float32(0))
        ended = (dark[:-8] - dark[8:]) > 0.25
        years = int((ended[1:] & ~ended[:-1]).sum())
        assert 2 < 240 / years < 4
    faces = [wood.texture.tones[board * wood.strip : (board + 1) * wood.strip] for board in range(BOARDS)]
    assert all(abs(np.corrcoef(faces[0].ravel(), face.ravel())[0, 1]) < 0.3 for face in faces[1:])


def test_wood_is_on_the_whole_the_color_of_its_finish(wood: Timber) -> None:
    faces = wood.texture.tones[: BOARDS * wood.strip]
    np.testing.assert_allclose(mean_color(wood.texture, faces), OAK, rtol=0.03)
    assert faces.std() > 12
    for texture in (stone((0.3, 0.3, 0.28)), brushed((0.5, 0.5, 0.5))):
        assert mean_color(texture, texture.tones)[0] == pytest.approx(0.3 if texture.dark[2] < 0.26 else 0.5, rel=0.03)


def test_the_grain_turns_with_a_curved_piece(turned: Built) -> None:
    """A line of the grain is a circle about the turn's center, and as long as the piece at the middle of its depth."""
    ready = stage(turned)
    body, mesh = ready.molding[1], turned.meshes[1]
    assert body.places is not None
    assert body.texture is not None
    rows = body.texture.tones.shape[0]
    sides = body.places[:, 1] * rows < BOARDS * (rows - 1) / BOARDS
    ends = np.abs(body.normals[:, 2]) < 2  # every point, less the two caps, which are the last ones
    assert ends.all()
    face = mesh.shape.face
    sides = np.arange(len(body.points)) < len(body.points) - 2 * _points_of_caps(body.points, body.normals)
    center, k = mesh.piece.element, mesh.piece.curvature
    # Left of travel by the radius: the wall line turns left about a center that lies behind the wall.
    (x, y), (tx, ty) = center.start, center.tangent
    middle = np.array([x - ty * 50, y + tx * 50])
    away = np.linalg.norm(body.points[sides, :2] - middle, axis=1)
    places = body.places[sides]
    for row in np.unique(np.round(places[:, 1], 6)):
        line = np.abs(places[:, 1] - row) < 1e-6
        assert np.ptp(away[line]) < 1e-6
        assert np.ptp(body.points[sides][line, 2]) < 1e-9
    long = np.ptp(places[:, 0]) * LENGTH
    depth = (face.d.min() + face.d.max()) / 2
    assert k * depth < 0
    assert long == pytest.approx(math.pi / 2 * (50 + depth), rel=1e-3)


def _points_of_caps(points: Floats, normals: Floats) -> int:
    """How many points an end has: those at the end of the array that share one normal."""
    same = (np.abs(normals[::-1] - normals[-1]).max(axis=1) < 1e-6).cumprod()
    return int(same.sum())


def test_each_piece_is_cut_from_its_own_stretch_of_a_board(wood: Timber) -> None:
    origin = np.zeros((1, 2))
    places = [tuple(wood.sides(origin, index)[0]) for index in range(40)]
    assert all(board_of(i) != board_of(i + 1) for i in range(40))
    assert len({(round(u % 1 * LENGTH / 20), round(v, 6)) for u, v in places}) == 40
    # It is a texel for each mm along the grain, whatever the piece.
    moved = wood.sides(np.array([(0.0, 0.0), (100.0, 0.0)]), 3)
    np.testing.assert_allclose((moved[1] - moved[0]) * [LENGTH, 1], [100, 0], atol=1e-9)


def test_cut_ends_show_years_and_are_darker(turned: Built, outline: Outline, wood: Timber) -> None:
    for index in range(BOARDS):
        places = wood.ends(outline.points, index)
        assert (places > 0).all()
        assert (places < 1).all()
        rows, columns = (places[:, ::-1] * wood.texture.tones.shape).T
        assert (rows > BOARDS * wood.strip).all()
        assert wood.end_size[0] * index < columns.min()
        assert columns.max() < wood.end_size[0] * (index + 1)
    body = stage(turned).molding[0]
    assert body.texture is not None
    assert body.places is not None
    assert body.places.max() < LENGTH
    count = _points_of_caps(body.points, body.normals)
    tones = body.texture.tones
    end = body.places[-count:] * [tones.shape[1], tones.shape[0]]
    column, row = end.astype(int).T
    assert tones[row.min() : row.max(), column.min() : column.max()].mean() < tones[: len(tones) // 2].mean() - 20


def test_the_same_wood_twice(outline: Outline, wood: Timber) -> None:
    np.testing.assert_array_equal(timber(outline, OAK).texture.tones, wood.texture.tones)
    assert wood.across == pytest.approx(ACROSS)


def test_stone_is_the_same_every_way_and_goes_on_at_its_edges() -> None:
    tones = stone((0.3, 0.3, 0.28)).tones
    for lag in (5, 40):
        assert likeness(tones, lag, 0) == pytest.approx(likeness(tones, lag, 1), abs=0.08)
    for axis in (0, 1):
        first = np.moveaxis(tones.astype(float), axis, 0)
        across, inside = np.abs(first[0] - first[-1]).mean(), np.abs(np.diff(first, axis=0)).mean()
        assert across < 1.5 * inside


def test_brushed_metal_has_long_strokes() -> None:
    tones = brushed((0.5, 0.5, 0.5)).tones
    assert likeness(tones, 20, 1) > 0.5 > likeness(tones, 20, 0) + 0.2


def test_a_floor_has_joints_between_its_boards_and_a_panel_has_none() -> None:
    floor, panel = planks(OAK, gaps=True), planks(OAK, gaps=False)
    assert floor.size == (LENGTH, PLANK * PLANKS)
    edges = np.arange(1, PLANKS) * (len(floor.tones) // PLANKS)
    assert floor.tones[edges].max() == 0
    assert panel.tones[edges].mean() > 60


def test_clear_finish_on_what_stands_round_and_plain_paint_without_a_texture() -> None:
    text = TURNED.replace('finish = "oak"', "") + (
        '[finish.slate]\ncolor = "#55534f"\nkind = "stone"\n'
        '[[surrounding]]\nname = "floor"\nkind = "floor"\nat = [-300, -600]\nsize = [2000, 900]\nfinish = "oak"\n'
        '[[surrounding]]\nname = "post"\nkind = "column"\nat = [0, 200]\nradius = 60\ntop = 600\nfinish = "slate"\n'
    )
    ready = stage(build(parse_scene(text, Path("turned.toml"))))
    assert all(body.texture is None for body in ready.molding)
    floor, post = ready.around
    assert floor.places is not None
    assert post.places is not None
    assert post.texture is not None
    # Boards run the longer way, along x: u goes with it, in boards' lengths.
    step = np.ptp(floor.points[:, 0]) / LENGTH
    assert np.ptp(floor.places[:, 0]) == pytest.approx(step)
    # Stone is laid round the post without a stretch: once round is its circumference.
    upright = np.abs(post.normals[:, 2]) < 0.5
    assert np.ptp(post.places[upright, 0]) * post.texture.size[0] == pytest.approx(2 * math.pi * 60, rel=0.01)
    assert np.ptp(post.places[upright, 1]) * post.texture.size[1] == pytest.approx(600)
    assert linear(0.5) == pytest.approx(0.214, abs=5e-4)
