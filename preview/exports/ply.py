"""Binary PLY of all molding in one mesh: millimeters, z up, in the scene's own coordinates.

    comment  molding-preview 0.1.0, title, digest, units; then for each piece its number and its name
    vertex   x y z (float32)   nx ny nz (float32)   red green blue (a byte each, sRGB, of the piece's finish)
    face     vertex_indices (a byte that is 3, then three: uint16 up to 65,536 vertices, int32 beyond)
    piece    number (in drawings and tables), vertices, faces (how many of each, in the order above; int32)

All little-endian, without a gap. A vertex stands there once for each normal that it has, so an arris has it twice;
where equal positions are made one, every piece is closed. The format cannot move a piece to its place, so positions
are rounded where they stand, by less than 0.0005 mm within 8 m of the scene's origin and 0.03 mm within 1 km; a scene
that reaches farther has 64-bit ones. Points that two pieces share stay the same numbers in both.
"""

from __future__ import annotations

import json
import re

import numpy as np
from numpy.typing import NDArray

from preview import __version__
from preview.build import Built
from preview.drafting import piece_tags

FAR = 2.0**20
"""mm, about 1 km: within it 32-bit floats lie at most 1/16 mm apart, so half of that is rounded at most."""
NARROW = 2**16
"""How many vertices 16-bit indices can tell apart."""
PIECE = np.dtype([("number", "<i4"), ("vertices", "<i4"), ("faces", "<i4")])
WORDS = {"f4": "float", "f8": "double", "u1": "uchar", "u2": "ushort", "i4": "int"}
"""What the format calls each kind of number."""
MEANT = re.compile("(end)(_)(header)|(texture)(f)(ile)", re.IGNORECASE)
"""Words that some readers look for in every line of the header, comments and all."""

Rows = NDArray[np.void]


def ply_bytes(built: Built) -> bytes:
    """The PLY of a build's molding, without its surroundings. The same build gives the same bytes.

    Its text is ASCII: names and title stand in quotes as JSON writes them, other letters as \\uXXXX.
    """
    pieces = np.empty(len(built.pieces), PIECE)
    pieces["number"] = [int(tag) for tag in piece_tags(built)]
    pieces["vertices"] = [len(mesh.normals) for mesh in built.meshes]
    pieces["faces"] = [len(mesh.triangles) for mesh in built.meshes]
    far = max((float(np.abs(mesh.points).max()) for mesh in built.meshes), default=0.0)
    vertex = np.dtype([("at", "<f8" if far > FAR else "<f4", 3), ("normal", "<f4", 3), ("color", "u1", 3)])
    vertices = np.empty(pieces["vertices"].sum(), vertex)
    face = np.dtype([("count", "u1"), ("corners", "<u2" if len(vertices) <= NARROW else "<i4", 3)])
    faces = np.empty(pieces["faces"].sum(), face)
    faces["count"] = 3
    at = row = 0
    for mesh, member in zip(built.meshes, built.members, strict=True):
        some = vertices[at : at + len(mesh.normals)]
        some["at"] = mesh.points[mesh.shape.corner_point]
        some["normal"] = mesh.normals
        some["color"] = [round(255 * part) for part in member.finish.color]
        corners = mesh.shape.render_triangles
        np.add(corners, at, out=faces["corners"][row : row + len(corners)], casting="unsafe")
        at += len(some)
        row += len(corners)
    header = "\n".join(_header(built, vertices, faces, pieces)) + "\n"
    return b"".join([header.encode("ascii"), *(array.view(np.uint8).data for array in (vertices, faces, pieces))])


def _header(built: Built, vertices: Rows, faces: Rows, pieces: Rows) -> list[str]:
    named = zip(pieces["number"].tolist(), built.pieces, strict=True)
    return [
        "ply",
        "format binary_little_endian 1.0",
        f"comment molding-preview {__version__}",
        f"comment title {_quoted(built.scene.title)}",
        f"comment model {built.digest}",
        "comment units: millimeters, z up",
        *(f"comment piece {number} {_quoted(piece.name)}" for number, piece in named),
        f"element vertex {len(vertices)}",
        *(f"property {_word(vertices['at'])} {axis}" for axis in "xyz"),
        *(f"property {_word(vertices['normal'])} n{axis}" for axis in "xyz"),
        *(f"property {_word(vertices['color'])} {color}" for color in ("red", "green", "blue")),
        f"element face {len(faces)}",
        f"property list {_word(faces['count'])} {_word(faces['corners'])} vertex_indices",
        f"element piece {len(pieces)}",
        *(f"property {_word(pieces[name])} {name}" for name in PIECE.names or ()),
        "end_header",
    ]


def _word(column: NDArray[np.generic]) -> str:
    return WORDS[column.dtype.str[1:]]


def _quoted(text: str) -> str:
    """Text as JSON writes it in ASCII, with nothing in it that a reader of headers could mistake.

    >>> print(_quoted('Βάση, end_header'))
    "\\u0392\\u03ac\\u03c3\\u03b7, end\\u005fheader"
    """
    return MEANT.sub(_escaped, json.dumps(text))


def _escaped(found: re.Match[str]) -> str:
    before, letter, after = (group for group in found.groups() if group)
    return f"{before}\\u{ord(letter):04x}{after}"
