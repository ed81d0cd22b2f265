"""The motion of a swept body found from its faces: a straight's direction, a turned body's axis."""

from __future__ import annotations

import math

import numpy as np
import pytest
import scipy.linalg

from preview.checks.travel import Faces, Motion, crossed, fit

Array = np.ndarray


def unit(vectors: Array) -> Array:
    return vectors / np.linalg.norm(vectors, axis=-1, keepdims=True)


def prism(way: Array, seed: int = 1) -> Faces:
    """Sides all round a direction, and a quarter as much again of ends that lean to either side."""
    random = np.random.default_rng(seed)
    sides = unit(np.cross(random.normal(size=(40, 3)), way))
    ends = unit(np.array([way + 0.3 * sides[0], -way + 0.2 * sides[1]]))
    normals = np.concatenate([sides, ends])
    areas = np.concatenate([random.uniform(0.5, 1.5, 40), (4.0, 6.0)])
    return Faces(random.uniform(-0.5, 0.5, (42, 3)), normals, areas)


@pytest.mark.parametrize("way", [(1.0, 0.0, 0.0), (0.6, 0.0, 0.8), (-0.36, 0.48, 0.8)])
def test_a_straight_slides_along_its_sides(way: tuple[float, float, float]) -> None:
    along = np.array(way)
    faces = prism(along)
    found = fit(faces, faces.areas, turning=False)
    assert not found.turn.any()
    assert abs(found.move @ along) == pytest.approx(1.0, abs=1e-9)
    assert np.linalg.norm(found.move) == pytest.approx(1.0, abs=1e-12)
    # Ends count for less and less: at first they lean the motion aside.
    once = fit(faces, faces.areas, turning=False, rounds=1)
    assert 1e-6 < 1 - abs(once.move @ along) < 0.1
    twice = fit(faces, faces.areas, turning=False, rounds=2)
    assert 1 - abs(twice.move @ along) < 1 - abs(once.move @ along)


def test_what_a_face_counts_for_falls_with_the_fourth_power_of_its_lean() -> None:
    """A second round by hand: the least eigenvector with areas over (1 + (lean / 0.1)²)²."""
    faces = prism(np.array((0.0, 0.6, 0.8)), 3)
    once = fit(faces, faces.areas, turning=False, rounds=1)
    lean = faces.normals @ once.move
    weights = faces.areas / (1 + (lean / 0.1) ** 2) ** 2
    _, vectors = np.linalg.eigh(np.einsum("t,ti,tj->ij", weights, faces.normals, faces.normals))
    twice = fit(faces, weights=faces.areas, turning=False, rounds=2)
    assert abs(twice.move @ vectors[:, 0]) == pytest.approx(1.0, abs=1e-12)
    # Once more from that: three rounds.
    lean = faces.normals @ vectors[:, 0]
    # The weights to begin with stay the areas.
    weights = faces.areas / (1 + (lean / 0.1) ** 2) ** 2
    _, vectors = np.linalg.eigh(np.einsum("t,ti,tj->ij", weights, faces.normals, faces.normals))
    thrice = fit(faces, faces.areas, turning=False, rounds=3)
    assert abs(thrice.move @ vectors[:, 0]) == pytest.approx(1.0, abs=1e-12)


def ring(axis: Array, through: Array, seed: int = 5) -> tuple[Faces, Array]:
    """Faces that are turned about an axis through a point, over a third of a turn, and their centers."""
    random = np.random.default_rng(seed)
    first = unit(np.cross(axis, (0.3, -0.2, 0.9)))
    second = np.cross(axis, first)
    angle = random.uniform(0.0, 2.1, 80)
    out = first * np.cos(angle)[:, None] + second * np.sin(angle)[:, None]
    centers = through + out * random.uniform(0.6, 1.0, (80, 1)) + axis * random.uniform(-0.2, 0.2, (80, 1))
    slant = random.uniform(0, 2 * np.pi, (80, 1))
    normals = out * np.cos(slant) + axis * np.sin(slant)
    return Faces(centers, normals, random.uniform(0.5, 1.5, 80)), out


@pytest.mark.parametrize("axis", [(0.0, 0.0, 1.0), (0.48, 0.6, -0.64)])
def test_a_turned_body_turns_about_its_axis(axis: tuple[float, float, float]) -> None:
    """Velocity at p is w x (p - c): along the axis, and still where the axis is."""
    about, through = np.array(axis), np.array((-0.7, 0.3, 0.1))
    faces, out = ring(about, through)
    found = fit(faces, faces.areas, turning=True)
    turn = found.turn / np.linalg.norm(found.turn)
    assert abs(turn @ about) == pytest.approx(1.0, abs=1e-9)
    assert np.cross(found.turn, through) + found.move == pytest.approx(np.zeros(3), abs=1e-9)
    assert np.abs(found.lean(faces)).max() < 1e-6
    # A motion's mean square velocity over the body, by area, is 1.
    velocity = np.cross(found.turn, faces.centers) + found.move
    assert (faces.areas @ (velocity**2).sum(axis=1)) / faces.areas.sum() == pytest.approx(1.0, rel=1e-6)
    # A face square to the motion leans by 1, one halfway by the sine of 45 degrees.
    round_ = np.cross(about, out) * math.copysign(1.0, turn @ about)
    square = Faces(faces.centers, round_, faces.areas)
    assert found.lean(square) == pytest.approx(np.ones(80), abs=1e-6)
    halfway = Faces(faces.centers, unit(about * 3 - 3 * round_), faces.areas)
    assert found.lean(halfway) == pytest.approx(np.full(80, -math.sqrt(0.5)), abs=1e-6)


@pytest.mark.parametrize("seed", range(3))
def test_of_all_motions_the_one_that_leans_least(seed: int) -> None:
    """scipy's generalized eigenvectors: of the motions of one mean square velocity, the least mean square lean."""
    random = np.random.default_rng(seed)
    centers, normals = random.uniform(-0.4, 0.8, (30, 3)), unit(random.normal(size=(30, 3)))
    faces, weights = Faces(centers, normals, random.uniform(0.5, 1.5, 30)), random.uniform(0.1, 2.0, 30)

    def best(weights: Array) -> Array:
        rows = np.hstack([np.cross(centers, normals), normals])
        moves = np.array([np.hstack([np.cross(each, centers), np.zeros((30, 3))]) for each in np.eye(3)])
        velocities = np.concatenate([moves[:, :, :3], np.tile(np.eye(3)[:, None], (1, 30, 1))])
        speed = np.einsum("t,itx,jtx->ij", faces.areas / faces.areas.sum(), velocities, velocities)
        return scipy.linalg.eigh((rows * weights[:, None]).T @ rows, speed)[1][:, 0]

    def figures(motion: Motion) -> Array:
        return np.concatenate([motion.turn, motion.move])

    wanted = best(weights)
    found = figures(fit(faces, weights, turning=True, rounds=1))
    assert found * np.sign(found @ wanted) == pytest.approx(wanted, abs=1e-8)
    velocity = np.cross(wanted[:3], centers) + wanted[3:]
    lean = np.einsum("ij,ij->i", velocity, normals) / np.linalg.norm(velocity, axis=1)
    wanted = best(weights / (1 + (lean / 0.1) ** 2) ** 2)
    found = figures(fit(faces, weights, turning=True, rounds=2))
    assert found * np.sign(found @ wanted) == pytest.approx(wanted, abs=1e-6)


def test_how_far_faces_lean_out_of_a_slide() -> None:
    slide = Motion(np.zeros(3), np.array((0.0, 0.0, 1.0)))
    faces = Faces(np.zeros((4, 3)), np.array([(0, 0, 1.0), (0, 0, -1.0), (1.0, 0, 0), (0, 0.6, 0.8)]), np.ones(4))
    assert slide.lean(faces) == pytest.approx(np.array((1.0, -1.0, 0.0, 0.8)))
    # A turn about a point that a face's middle lies on does not move it.
    turn = Motion(np.array((0.0, 0.0, 2.0)), np.array((0.0, -2.0, 0.0)))
    there = Faces(np.array([(1.0, 0.0, 0.0), (4.0, 0.0, 0.0)]), np.array([(0, 1.0, 0), (0, 0.6, 0.8)]), np.ones(2))
    assert turn.lean(there) == pytest.approx(np.array((0.0, 0.6)))


def test_the_cross_product_of_rows() -> None:
    random = np.random.default_rng(8)
    a, b = random.normal(size=(30, 3)), random.normal(size=(30, 3))
    assert crossed(a, b) == pytest.approx(np.cross(a, b), abs=1e-15)
    assert crossed(a[:1], b) == pytest.approx(np.cross(a[0], b), abs=1e-15)
