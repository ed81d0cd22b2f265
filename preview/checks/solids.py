"""The solid kernel against the mesh and the closed form; the STEP file against the solids."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from preview.checks import findings as table
from preview.checks.alone import LEANING, sharpest
from preview.checks.digests import digest_in
from preview.checks.exchange import UNIT_MM
from preview.checks.findings import Finding
from preview.joinery import Piece
from preview.models.mesh import PieceMesh
from preview.models.solid import SolidFigures, StepSolid
from preview.profiles import Arc, measure

AGREES = 1e-6
"""How far, relative, the CAD kernel's volumes may lie from the closed form."""
ON_SURFACE = 0.002
SAME_BOX = 1e-5
"""How far, mm, the box of a solid read back may lie from the one that was written: twice what either may be too wide,
and the file's digits."""
SI_LENGTH = re.compile(r"LENGTH_UNIT\s*\(\s*\)[^;]*?SI_UNIT\s*\(\s*(\$|\.\w+\.)\s*,\s*\.METRE\.\s*\)")
"""A STEP file's unit of length, where it is one of SI (ISO 10303-41): in a complex entity, with its prefix."""
SI_PREFIXES = {"$": "meter", ".MILLI.": "millimeter", ".CENTI.": "centimeter", ".MICRO.": "micron"}


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
            Finding(table.SOLID_AREA, piece.name, abs(mesh.area / fact.area - 1), area_slack(piece, chord, fact.area)),
            Finding(table.SOLID_BOX, piece.name, float(box), chord * sharpest(piece)),
            Finding(table.SOLID_DISTANCE, piece.name, fact.farthest, ON_SURFACE),
        ]
    return found


def area_slack(piece: Piece, chord: float, area: float) -> float:
    """How much of its area (mm²), relative, a surface can lose or gain by facets within the chord.

    A facet on an arc of radius r whose sagitta is c spans an angle of sqrt(8 c / r) and is shorter than its arc by
    c / (3 r) of its length. The tightest arc of the section and of the bend decide; each counts once. Beside a curved
    edge, drawn as chords of it, a face is narrower or wider by up to c all along.
    """
    size = measure(piece.profile)
    bend = piece.curvature
    reach = min(abs(1 / bend - size.d_min), abs(1 / bend - size.d_max)) if bend else np.inf
    tightest = min((edge.radius for edge in piece.profile.edges if isinstance(edge, Arc)), default=np.inf)
    return float(chord / (3 * tightest) + chord / (3 * reach)) + chord * _curved_edges(piece) / area + 1e-6


def _curved_edges(piece: Piece) -> float:
    """How long, mm, the edges of a piece are that facets can only follow within the chord, at most."""
    profile = piece.profile
    arcs = math.fsum(edge.length for edge in profile.edges if isinstance(edge, Arc))
    around = 0.0
    for end in (piece.begin, piece.end):
        if end.is_plane:
            around += arcs * math.hypot(*(float(np.linalg.norm(axis)) for axis in end.axes()))
        else:
            around += LEANING * measure(profile).perimeter
    if not (piece.curvature or piece.element.bend):
        return around
    corners = np.array([edge.start for edge in profile.edges])
    starts, stops = piece.stations(corners[:, 0], corners[:, 1])
    level = float(((stops - starts) * (1 - piece.curvature * corners[:, 0])).sum())
    return around + level * math.hypot(1.0, piece.element.slope, piece.element.end_slope)


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


def inspect_step_file(
    path: Path, found: Sequence[StepSolid], pieces: Sequence[Piece], figures: Sequence[SolidFigures], digest: str
) -> list[Finding]:
    """What any file for others is asked, of a STEP file read back: its digest and unit, where each solid stands, and
    how high the whole does. Names and volumes are `inspect_step`'s. The format has no axis that is up: z is, by habit.
    """
    text = path.read_text("ascii", "replace")
    units = {SI_PREFIXES.get(prefix, "") for prefix in SI_LENGTH.findall(text)}
    unit = units.pop() if len(units) == 1 else ""
    findings = [Finding(table.FILE_MODEL, path.name, int(digest_in(path) != digest), 0)]
    named = {each.name: each for each in found}
    held, wanted = [], []
    for piece, fact in zip(pieces, figures, strict=True):
        if piece.name in named:
            each = named[piece.name]
            held.append((each.low, each.high))
            wanted.append((fact.low, fact.high))
            off = float(np.abs(np.array(held[-1]) - np.array(wanted[-1])).max())
            findings.append(Finding(table.FILE_BOX, f"{path.name}: {piece.name}", off, SAME_BOX))
    if held:
        (low, high), (low_wanted, high_wanted) = _around(held), _around(wanted)
        size = float(np.linalg.norm(high_wanted - low_wanted))
        ratio = float(np.linalg.norm(high - low)) / size
        stands = max(abs(float(low[2] - low_wanted[2])), abs(float(high[2] - high_wanted[2])))
        known = unit in UNIT_MM
        detail = "" if known else "it states none that is known"
        off = abs(ratio - 1) if known else math.nan
        findings.append(Finding(table.FILE_UNITS, path.name, off, AGREES, detail=detail))
        findings.append(Finding(table.FILE_UP, path.name, stands, SAME_BOX))
    return findings


def _around(
    boxes: Sequence[tuple[tuple[float, float, float], tuple[float, float, float]]],
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """The low and the high corner of what boxes, by their corners, fill together."""
    corners = np.array(boxes)
    return corners[:, 0].min(axis=0), corners[:, 1].max(axis=0)
