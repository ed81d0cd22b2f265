"""Where pieces go when they are moved apart along their runs."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from preview.joinery import Piece
from preview.runs import Element, Run
from preview.vantage import Job, directed

Floats = NDArray[np.float64]

GAP = 0.35
"""How far a joint opens when pieces are wholly apart, by the size of the build-up."""


def apart_of(job: Job) -> list[Floats]:
    """How far, mm in the scene, each piece moves; members of a build-up move together.

    Each joint of a run opens by the same gap in the direction of travel. The middle of the run stays where it is in
    plan, and its lowest piece at its height: nothing goes through the floor.
    """
    ranks = [_rank(piece, job.runs[piece.run]) for piece in job.built.pieces]
    standing: dict[str, dict[int, Piece]] = {}
    for rank, piece in zip(ranks, job.built.pieces, strict=True):
        standing.setdefault(piece.run, {}).setdefault(rank, piece)
    moves: dict[str, dict[int, Floats]] = {}
    for name, found in standing.items():
        moves[name] = _moved(job.runs[name], dict(sorted(found.items())), GAP * job.run_look(name).large)
    return [moves[piece.run][rank] for rank, piece in zip(ranks, job.built.pieces, strict=True)]


def _rank(piece: Piece, run: Run) -> int:
    """A piece's place in its run: even for elements; a corner block and a return stand between or beside them."""
    if piece.role == "return":
        return -1 if piece.name.endswith("begin return") else 2 * len(run.elements) - 1
    return 2 * (piece.index - 1) - (1 if _is_corner_block(piece, run) else 0)


def _is_corner_block(piece: Piece, run: Run) -> bool:
    return piece.role == "block" and piece.stand != run.stand


def _moved(run: Run, standing: dict[int, Piece], gap: float) -> dict[int, Floats]:
    """How far each place of a run moves, in the scene."""
    at = np.zeros(3)
    found: dict[int, Floats] = {}
    before: Piece | None = None
    for rank, piece in standing.items():
        if before is not None:
            way = _way(before, run, leaves=True) + _way(piece, run, leaves=False)
            long = float(np.linalg.norm(way))
            at = at + (gap / long * way if long > 1e-9 else 0.0)
        found[rank] = at
        before = piece
    vectors = directed(run.stand, np.array(list(found.values())))
    vectors -= vectors.mean(axis=0)
    vectors[:, 2] -= vectors[:, 2].min()
    return dict(zip(found, vectors, strict=True))


def _way(piece: Piece, run: Run, *, leaves: bool) -> Floats:
    """The direction of travel (3,) where one leaves a piece, or comes to it; none at a corner block, which has none."""
    if _is_corner_block(piece, run):
        return np.zeros(3)
    element: Element = piece.element
    x, y = element.end_tangent if leaves else element.tangent
    slope = element.end_slope if leaves else element.slope
    pace = math.hypot(1.0, slope)
    return np.array([x / pace, y / pace, slope / pace])
