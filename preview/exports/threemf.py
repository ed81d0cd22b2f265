"""3MF (3MF Consortium, Core Specification 1.3): millimeters, z up, an object for each piece by its name.

    [Content_Types].xml     what kinds of parts there are
    _rels/.rels             which part is the model
    3D/3dmodel.model        metadata; base materials, one for each finish; objects; where they stand

A piece's number in drawings and tables is its part number. The pieces of one run are measured from a whole
millimeter near by, to which the build moves them: readers that keep 32-bit floats lose no digits so, and points that
two pieces share are the same numbers in both. They are written to 0.000001 mm.
"""

from __future__ import annotations

import io
import re
import zipfile
from collections.abc import Iterable, Iterator, Sequence
from html import escape

import numpy as np
from numpy.typing import NDArray

from preview import __version__
from preview.build import Built
from preview.drafting import piece_tags
from preview.exports.plain_text import blocks, fixed, rows, whole
from preview.models.mesh import PieceMesh
from preview.scene import Finish

BLOCK = 20_000
"""How many points are worked out at a time: few enough to stay in the processor's cache."""
EFFORT = 4
"""How hard zlib tries, of 9: three times as fast as its usual 6, for a twentieth more bytes."""
POINT_BYTES, TRIANGLE_BYTES = 80, 64
"""No line of a vertex or a triangle is longer."""
ZIP32 = 2**31
"""What a part may hold, in bytes, without the wider headers that not every reader knows."""
BREAKS = re.compile("[\t\n\r]")
"""What in an attribute would have to be written by its number, which the consortium's own reader refuses."""
UNWRITABLE = re.compile("[^\u0020-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")
"""What else XML 1.0 cannot hold, whichever way it is written."""

XML = '<?xml version="1.0" encoding="UTF-8"?>\n'
CORE = "http://schemas.microsoft.com/3dmanufacturing/core/2015/02"
OURS = "urn:uuid:6a1f0f3c-3b0e-4c55-9d0a-6c9b1c6f2e57"
"""The namespace of the metadata that is not the specification's own."""
TYPES = (
    f'{XML}<Types xmlns="http://schemas.openxmlformats.org/package/2006/content-types">\n'
    '<Default Extension="rels" ContentType="application/vnd.openxmlformats-package.relationships+xml"/>\n'
    '<Default Extension="model" ContentType="application/vnd.ms-package.3dmanufacturing-3dmodel+xml"/>\n'
    "</Types>\n"
)
RELATIONS = (
    f'{XML}<Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships">\n'
    '<Relationship Id="rel0" Target="/3D/3dmodel.model" '
    'Type="http://schemas.microsoft.com/3dmanufacturing/2013/01/3dmodel"/>\n'
    "</Relationships>\n"
)
VERTEX = [b'<vertex x="', b'" y="', b'" z="']
TRIANGLE = [b'<triangle v1="', b'" v2="', b'" v3="']
END = b'"/>\n'

Floats = NDArray[np.float64]


def threemf_bytes(built: Built) -> bytes:
    """The 3MF package of a build's molding, without its surroundings.

    The same build gives the same bytes wherever zlib is the same. In names and title tabs and ends of lines become
    blanks, and what XML cannot hold becomes U+FFFD.
    """
    package = io.BytesIO()
    size = sum(POINT_BYTES * len(mesh.points) + TRIANGLE_BYTES * len(mesh.triangles) for mesh in built.meshes)
    parts: dict[str, Iterable[bytes]] = {
        "[Content_Types].xml": [TYPES.encode()],
        "_rels/.rels": [RELATIONS.encode()],
        "3D/3dmodel.model": _model(built),
    }
    with zipfile.ZipFile(package, "w", zipfile.ZIP_DEFLATED, compresslevel=EFFORT) as archive:
        for name, content in parts.items():
            # A part opened by its name is dated 1980, not now.
            with archive.open(name, "w", force_zip64=size > ZIP32) as part:
                part.writelines(content)
    return package.getvalue()


def _model(built: Built) -> Iterator[bytes]:
    yield (
        f'{XML}<model xmlns="{CORE}" xmlns:molding="{OURS}" unit="millimeter" xml:lang="en-US">\n'
        f'<metadata name="Title">{escape(_written(built.scene.title), quote=False)}</metadata>\n'
        f'<metadata name="Application">molding-preview {__version__}</metadata>\n'
        f'<metadata name="molding:digest">{built.digest}</metadata>\n'
        "<resources>\n"
    ).encode()
    looks = {look: i for i, look in enumerate(dict.fromkeys(member.finish for member in built.members))}
    if looks:
        yield "".join(['<basematerials id="1">\n', *map(_base, looks), "</basematerials>\n"]).encode()
    origins = _origins(built)
    yield from _objects(built, origins, looks)
    yield b"</resources>\n<build>\n"
    for number, piece in enumerate(built.pieces, start=2):
        x, y, z = origins[piece.run].tolist()
        yield f'<item objectid="{number}" transform="1 0 0 0 1 0 0 0 1 {x:.0f} {y:.0f} {z:.0f}"/>\n'.encode()
    yield b"</build>\n</model>\n"


def _base(look: Finish) -> str:
    color = "#" + "".join(f"{round(255 * part):02X}" for part in look.color)
    return f'<base name="{_attribute(look.name)}" displaycolor="{color}"/>\n'


def _objects(built: Built, origins: dict[str, Floats], looks: dict[Finish, int]) -> Iterator[bytes]:
    heads = (
        f'<object id="{number}" type="model" name="{_attribute(piece.name)}" partnumber="{tag}" '
        f'pid="1" pindex="{looks[member.finish]}">\n<mesh>\n<vertices>\n'.encode()
        for number, (piece, tag, member) in enumerate(
            zip(built.pieces, piece_tags(built), built.members, strict=True), start=2
        )
    )
    triangles: dict[int, bytes] = {}  # pieces of one shape share one array
    for block in blocks(built.meshes, lambda mesh: len(mesh.points), BLOCK):
        for mesh, vertices in zip(block, _vertices(block, origins), strict=True):
            shared = mesh.shape.triangles
            if id(shared) not in triangles:
                triangles[id(shared)] = b"".join(rows(TRIANGLE, whole(shared), END, [len(shared)]))
            yield next(heads)
            yield vertices
            yield b"</vertices>\n<triangles>\n"
            yield triangles[id(shared)]
            yield b"</triangles>\n</mesh>\n</object>\n"


def _vertices(meshes: Sequence[PieceMesh], origins: dict[str, Floats]) -> Iterator[bytes]:
    points = np.concatenate([mesh.points - origins[mesh.piece.run] for mesh in meshes])
    return rows(VERTEX, fixed(points, 6), END, [len(mesh.points) for mesh in meshes])


def _origins(built: Built) -> dict[str, Floats]:
    """For each run the whole millimeters next to the lowest coordinates of its pieces."""
    low: dict[str, Floats] = {}
    for mesh in built.meshes:
        lowest = mesh.points.min(axis=0)
        low[mesh.piece.run] = np.minimum(low.get(mesh.piece.run, lowest), lowest)
    return {run: np.rint(lowest) + 0.0 for run, lowest in low.items()}


def _attribute(text: str) -> str:
    """A name between double quotes; single ones stay as they are, as not every reader knows their numbers."""
    return escape(_written(text), quote=False).replace('"', "&quot;")


def _written(text: str) -> str:
    return UNWRITABLE.sub("\ufffd", BREAKS.sub(" ", text))
