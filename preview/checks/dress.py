"""What a renderer needs besides the shape: the normals, texture coordinates and colors of a file read back."""

from __future__ import annotations

import math
from collections.abc import Mapping

import numpy as np

from preview.checks import findings as table
from preview.checks.exchange import Floats, Part
from preview.checks.findings import Check, Finding
from preview.models.mesh import PieceMesh

Color = tuple[float, float, float]
"""sRGB, 0 to 1."""
ALL = (table.FILE_NORMALS, table.FILE_UVS, table.FILE_COLOR)
CARRIES: Mapping[str, tuple[Check, ...]] = {
    ".3mf": (table.FILE_COLOR,),
    ".glb": ALL,
    ".gltf": ALL,
    ".obj": ALL,
    ".ply": (table.FILE_NORMALS, table.FILE_COLOR),
    ".usdz": ALL,
}
"""What each format carries, by the end of a file's name; the others carry none of it."""
HALF_A_STEP = 0.5
ROUNDING = 1e-3
"""What 32-bit floats and powers add to a color, in steps."""
AS_LONG = 1e-3
"""How far a normal's length may be from 1: as validators of glTF allow, about."""


def inspect_dress(suffix: str, subject: str, mesh: PieceMesh, color: Color, part: Part) -> list[Finding]:
    """Compare what a piece wears in a file with its mesh, corner by corner, and its finish's color.

    Where a format carries it and the file has none, or has another number of corners, the figure is not a number.
    """
    carried = CARRIES.get(suffix, ())
    asked = {table.FILE_NORMALS: _normals, table.FILE_UVS: _uvs}
    findings = []
    for check, measure in asked.items():
        if check in carried:
            figure, limit, detail = measure(mesh, part)
            findings.append(Finding(check, subject, figure, limit, detail=detail))
    if table.FILE_COLOR in carried:
        findings.append(_color(subject, color, part))
    return findings


def _normals(mesh: PieceMesh, part: Part) -> tuple[float, float, str]:
    """The largest angle between a corner's normal and the build's, degrees."""
    limit = math.degrees(math.sqrt(3) * part.normal_step)
    found, wanted = part.normals, mesh.normals[mesh.shape.render_triangles].astype(np.float64)
    if found is None or found.shape != wanted.shape:
        return math.nan, limit, _lacks(found, "normals")
    lengths = np.linalg.norm(found, axis=-1)
    if not (np.abs(lengths - 1) <= AS_LONG).all():
        return math.nan, limit, f"a normal is {lengths.ravel()[np.argmax(np.abs(lengths - 1))]:.6g} long, not 1"
    across = np.linalg.norm(np.cross(found, wanted), axis=-1)
    turned = np.degrees(np.arctan2(across, np.einsum("tcx,tcx->tc", found, wanted)))
    return float(turned.max(initial=0.0)), limit, ""


def _uvs(mesh: PieceMesh, part: Part) -> tuple[float, float, str]:
    """How far, mm, a corner's texture coordinates are from the build's at most."""
    found, wanted = part.uvs, mesh.uvs[mesh.shape.render_triangles].astype(np.float64)
    if found is None or found.shape != wanted.shape:
        return math.nan, part.uv_step, _lacks(found, "texture coordinates")
    return float(np.abs(found - wanted).max(initial=0.0)), part.uv_step, ""


def _color(subject: str, color: Color, part: Part) -> Finding:
    limit = HALF_A_STEP + ROUNDING + part.color_slack
    if part.color is None:
        return Finding(table.FILE_COLOR, subject, math.nan, limit, detail=_lacks(None, "color"))
    wanted = 255 * np.array(color)
    off = float(np.abs(part.color - wanted).max(initial=0.0))
    detail = ""
    if not off <= limit:
        shown = part.color.reshape(-1, 3)[0]
        detail = f"it is {_steps(shown)}, not {_steps(wanted)} (red, green, blue)"
    return Finding(table.FILE_COLOR, subject, off, limit, detail=detail)


def _steps(color: Floats) -> str:
    return " ".join(f"{part:.1f}" for part in color)


def _lacks(found: Floats | None, what: str) -> str:
    return f"it has no {what}" if found is None else f"it has {what} for {len(found)} triangles"
