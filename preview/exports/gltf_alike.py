"""Runs that are the same but for where they stand: their pieces are stored once, and shown by a node for each run.

A run is moved as a whole. What two of its pieces share stays one stored number, moved by one node. A single piece is
never moved by itself: placed by its own node, its end would be worked out anew by every reader, and would differ in
the last digits from the end that it meets, which belongs to another node.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from preview.models.mesh import PieceMesh

Floats = NDArray[np.float64]

AGREE = 1e-6
"""Meshes are the same where no point, moved, is further than this from its like, mm: below what a file stores."""
LOOK_ALIKE = 1e-5
"""Likewise for normals, which are stored in 32 bits; and for texture coordinates, as a share of them."""
UNTURNED = 1e-12


@dataclass(frozen=True)
class Placed:
    """A run as it is stored: the run whose pieces it shares (itself, where it is the first), and how they are moved.

    A point p (a row, mm) of that run is at p @ turn + shift in this one.
    """

    like: str
    turn: Floats
    shift: Floats

    @property
    def turns(self) -> bool:
        """Whether it is turned at all."""
        return bool(np.abs(self.turn - np.eye(3)).max() > UNTURNED)


def placed_runs(meshes: Sequence[PieceMesh]) -> dict[str, Placed]:
    """How each run is stored, by its name."""
    runs: dict[str, list[PieceMesh]] = {}
    for mesh in meshes:
        runs.setdefault(mesh.piece.run, []).append(mesh)
    found: dict[str, Placed] = {}
    firsts: dict[tuple[object, ...], list[str]] = {}
    for name, mine in runs.items():
        known = firsts.setdefault(tuple(map(_build, mine)), [])
        placed = (_moved(first, runs[first], mine) for first in known)
        found[name] = next(filter(None, placed), None) or Placed(name, np.eye(3), np.zeros(3))
        if found[name].like == name:
            known.append(name)
    return found


def _build(mesh: PieceMesh) -> tuple[object, ...]:
    """What pieces that are the same have in common."""
    element = mesh.piece.element
    sizes = len(mesh.points), len(mesh.normals), len(mesh.triangles)
    return (mesh.piece.member, mesh.piece.kind, *sizes, round(element.length, 3), round(element.sweep, 6))


def _moved(like: str, first: Sequence[PieceMesh], other: Sequence[PieceMesh]) -> Placed | None:
    """How the pieces of one run become those of another; None where they do not."""
    start, axes = _frame(first[0])
    to, onto = _frame(other[0])
    turn = axes.T @ onto
    shift = to - start @ turn
    for one, two in zip(first, other, strict=True):
        if np.abs(one.points @ turn + shift - two.points).max() > AGREE:
            return None
        if np.abs(one.normals @ turn - two.normals).max() > LOOK_ALIKE:
            return None
        if not np.allclose(one.uvs, two.uvs, rtol=LOOK_ALIKE, atol=AGREE):
            return None
        if not np.array_equal(one.shape.render_triangles, two.shape.render_triangles):
            return None
    return Placed(like, turn, shift)


def _frame(mesh: PieceMesh) -> tuple[Floats, Floats]:
    """A point of a piece, and three directions (rows): along its travel, square to that in its plan, and out of it."""
    stand, (x, y) = mesh.piece.stand, mesh.piece.element.tangent
    plan = np.array([stand.x, stand.y, stand.z])
    return mesh.points[0], np.array([[x, y, 0.0], [-y, x, 0.0], [0.0, 0.0, 1.0]]) @ plan
