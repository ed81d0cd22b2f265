"""Binary PLY of all molding in one mesh: millimeters, z up, in the scene's own coordinates.

    comment  molding-preview 0.1.0, title, digest, units; then for each piece its number and its name
    vertex   x y z (float64)   nx ny nz (float32)   red green blue (a byte each, sRGB, of the piece's finish)
    face     vertex_indices (a byte that is 3, three int32)   piece (int32: its number in drawings and tables)

All little-endian, without a gap. A vertex stands there once for each normal that it has, so an arris has it twice;
where equal positions are made one, every piece is closed. Positions are as exact as the mesh itself.
"""

from __future__ import annotations

import json
import re

import numpy as np

from preview import __version__
from preview.build import Built
from preview.drafting import piece_tags

VERTEX = np.dtype([("at", "<f8", 3), ("normal", "<f4", 3), ("color", "u1", 3)])
FACE = np.dtype([("count", "u1"), ("corners", "<i4", 3), ("piece", "<i4")])
MEANT = re.compile("(end)(_)(header)|(texture)(f)(ile)", re.IGNORECASE)
"""Words that some readers look for in every line of the header, comments and all."""


def ply_bytes(built: Built) -> bytes:
    """The PLY of a build's molding, without its surroundings. The same build gives the same bytes.

    Its text is ASCII: names and title stand in quotes as JSON writes them, other letters as \\uXXXX.
    """
    numbers = [int(tag) for tag in piece_tags(built)]
    vertices = np.empty(sum(len(mesh.normals) for mesh in built.meshes), VERTEX)
    faces = np.empty(sum(len(mesh.triangles) for mesh in built.meshes), FACE)
    faces["count"] = 3
    at = row = 0
    for mesh, member, number in zip(built.meshes, built.members, numbers, strict=True):
        some = vertices[at : at + len(mesh.normals)]
        some["at"] = mesh.points[mesh.shape.corner_point]
        some["normal"] = mesh.normals
        some["color"] = [round(255 * part) for part in member.finish.color]
        corners = mesh.shape.render_triangles
        faces["corners"][row : row + len(corners)] = corners + at
        faces["piece"][row : row + len(corners)] = number
        at += len(some)
        row += len(corners)
    header = "\n".join(_header(built, numbers, len(vertices), len(faces))) + "\n"
    return b"".join([header.encode("ascii"), vertices.view(np.uint8).data, faces.view(np.uint8).data])


def _header(built: Built, numbers: list[int], vertices: int, faces: int) -> list[str]:
    pieces = zip(numbers, built.pieces, strict=True)
    return [
        "ply",
        "format binary_little_endian 1.0",
        f"comment molding-preview {__version__}",
        f"comment title {_quoted(built.scene.title)}",
        f"comment model {built.digest}",
        "comment units: millimeters, z up",
        *(f"comment piece {number} {_quoted(piece.name)}" for number, piece in pieces),
        f"element vertex {vertices}",
        *(f"property double {axis}" for axis in "xyz"),
        *(f"property float n{axis}" for axis in "xyz"),
        *(f"property uchar {color}" for color in ("red", "green", "blue")),
        f"element face {faces}",
        "property list uchar int vertex_indices",
        "property int piece",
        "end_header",
    ]


def _quoted(text: str) -> str:
    """Text as JSON writes it in ASCII, with nothing in it that a reader of headers could mistake.

    >>> print(_quoted('Βάση, end_header'))
    "\\u0392\\u03ac\\u03c3\\u03b7, end\\u005fheader"
    """
    return MEANT.sub(_escaped, json.dumps(text))


def _escaped(found: re.Match[str]) -> str:
    before, letter, after = (group for group in found.groups() if group)
    return f"{before}\\u{ord(letter):04x}{after}"
