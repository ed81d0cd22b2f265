"""The solid kernel against the mesh and the closed form; the STEP file against the solids."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from preview.checks import findings as table
from preview.checks.findings import Finding
from preview.joinery import Piece
from preview.models.mesh import PieceMesh
from preview.models.solid import SolidFigures
from preview.profiles import Arc, measure

AGREES = 1e-6
"""How far, relative, the CAD kernel's volumes may lie from the closed form."""
ON_SURFACE = 0.002


def inspect_solids(
    figures: Sequence[SolidFigures],
    pieces: Sequence[Piece],
    meshes: Sequence[PieceMesh],
    volumes: Sequence[float],
    chord: float,
) -> list[Finding]:
    """Compare each piece's solid with its closed-form volume (mm³) and its mesh; all in the pieces' order."""
    found: list[Finding] = []
    for fact, piece, mesh, volume in zip(figures, pieces, meshes, volumes, strict=True):
        low, high = mesh.points.min(axis=0), mesh.points.max(axis=0)
        box = max(np.abs(low - np.array(fact.low)).max(), np.abs(high - np.array(fact.high)).max())
        found += [
            Finding(table.SOLID_VALID, piece.name, 0 if fact.valid else 1, 0),
            Finding(table.SOLID_VOLUME, piece.name, abs(fact.volume / volume - 1), AGREES),
            Finding(table.SOLID_AREA, piece.name, abs(mesh.area / fact.area - 1), area_slack(piece, chord)),
            Finding(table.SOLID_BOX, piece.name, float(box), chord * _reach(piece)),
            Finding(table.SOLID_DISTANCE, piece.name, fact.farthest, ON_SURFACE),
        ]
    return found


def _reach(piece: Piece) -> float:
    """How much further a chord missing from a round moves the tip of a sharp miter: its slant's secant."""
    return max(1 / math.cos(end.turn / 2) for end in (piece.begin, piece.end))


def area_slack(piece: Piece, chord: float) -> float:
    """How much of its area, relative, a surface can lose to facets within the chord.

    A facet on an arc of radius r whose sagitta is c spans an angle of sqrt(8 c / r) and is shorter than its arc by
    c / (3 r) of its length. The tightest arc of the section and of the bend decide; each counts once.
    """
    size = measure(piece.profile)
    bend = piece.curvature
    reach = min(abs(1 / bend - size.d_min), abs(1 / bend - size.d_max)) if bend else np.inf
    tightest = min((edge.radius for edge in piece.profile.edges if isinstance(edge, Arc)), default=np.inf)
    return float(chord / (3 * tightest) + chord / (3 * reach)) + 1e-6


def inspect_step(
    found: Sequence[tuple[str, float]], pieces: Sequence[Piece], volumes: Sequence[float]
) -> list[Finding]:
    """Compare a STEP file read back, as (name, volume in mm³) of its solids, with the solids that were written."""
    named: dict[str, list[float]] = {}
    for name, volume in found:
        named.setdefault(name, []).append(volume)
    findings: list[Finding] = []
    for piece, volume in zip(pieces, volumes, strict=True):
        mine = named.get(piece.name, [])
        detail = "" if len(mine) == 1 else f"the file holds {len(mine)} solids of this name"
        findings.append(Finding(table.STEP_SOLIDS, piece.name, abs(1 - len(mine)), 0, detail=detail))
        if len(mine) == 1:
            findings.append(Finding(table.STEP_VOLUME, piece.name, abs(mine[0] / volume - 1), AGREES))
    extra = len(found) - len(pieces)
    if extra > 0:
        findings.append(Finding(table.STEP_SOLIDS, "the STEP file", extra, 0, detail="solids that are no piece's"))
    return findings
