"""A second reader: another library (trimesh) opens the exported files and judges the pieces by its own rules."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np

from preview.checks import findings as table
from preview.checks.findings import Finding
from preview.joinery import Piece


def inspect_with_trimesh(glb: Path, pieces: Sequence[Piece], volumes: Sequence[float]) -> list[Finding]:
    """Read a GLB with trimesh: is every piece there, is it a closed and outward volume, and how large is it?

    volumes: what our own reader found for each piece, mm³.
    """
    import trimesh

    scene = trimesh.load_scene(glb)
    # A piece's node carries its name; where the node's transform puts it is the graph's to say.
    found = {node: scene.graph[node] for node in scene.graph.nodes_geometry}
    findings: list[Finding] = []
    for piece, volume in zip(pieces, volumes, strict=True):
        findings.append(Finding(table.READER_PIECE, piece.name, 0 if piece.name in found else 1, 0))
        if piece.name not in found:
            continue
        # Made here, so that what trimesh works out for one piece is gone with it.
        transform, geometry = found[piece.name]
        mesh = scene.geometry[geometry].copy().apply_transform(transform)
        mesh.merge_vertices(merge_tex=True, merge_norm=True)
        sound = mesh.is_watertight and mesh.is_winding_consistent and mesh.volume > 0
        findings.append(Finding(table.READER_CLOSED, piece.name, 0 if sound else 1, 0))
        cubic_mm = float(mesh.volume) * 1e9
        slack = _rounding(mesh) * float(mesh.area) * 1e6 + 1e-9 * volume
        findings.append(Finding(table.READER_VOLUME, piece.name, abs(cubic_mm - volume), slack))
    return findings


def _rounding(mesh: Any) -> float:
    """How far apart 32-bit numbers lie at the mesh's farthest coordinate, in mm."""
    return float(np.spacing(np.float32(np.abs(mesh.bounds).max()))) * 1000
