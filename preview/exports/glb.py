"""GLB, the binary form of glTF 2.0: one file with a model's document and its block of bytes."""

from __future__ import annotations

import json
import struct
from collections.abc import Sequence
from typing import Any

from preview.build import Built
from preview.exports.gltf_arrays import refuse_too_large
from preview.exports.gltf_cameras import NamedCamera
from preview.exports.gltf_document import Document, document_of
from preview.exports.gltf_materials import linear
from preview.exports.gltf_model import Model, Part, model_of
from preview.models.mesh import SurroundingMesh
from preview.scene import Finish

__all__ = ["Part", "built_glb", "glb_bytes", "linear"]

Record = dict[str, Any]


def glb_bytes(
    title: str,
    parts: Sequence[Part],
    surroundings: Sequence[SurroundingMesh] = (),
    digest: str = "",
    offered: Sequence[Finish] = (),
    cameras: Sequence[NamedCamera] = (),
) -> bytes:
    """A whole GLB file. The same values give the same bytes.

    digest: what the model is known by, kept in extras. offered: the finishes that the molding may be shown in instead
    of its own. cameras: ready views. Raises PreviewError when the model does not fit the 4 GiB that the format allows.
    """
    return glb_of(document_of(Model(title, parts, surroundings, digest, offered, cameras)))


def built_glb(built: Built, *, views: bool = True) -> bytes:
    """The GLB of a built scene with its ready views, and the finishes that it leaves to choose from.

    Raises PreviewError as `glb_bytes` does.
    """
    return glb_of(document_of(model_of(built, views=views)))


def glb_of(found: Document) -> bytes:
    """A document and its block as the two chunks of a GLB, each padded to a multiple of 4 bytes."""
    text = json.dumps(found.document, separators=(",", ":"), allow_nan=False).encode("ascii")
    text += b" " * (-len(text) % 4)
    chunks: list[bytes | bytearray] = [struct.pack("<I4s", len(text), b"JSON"), text]
    if found.data:
        chunks += [struct.pack("<I4s", len(found.data), b"BIN\0"), found.data]
    size = 12 + sum(len(chunk) for chunk in chunks)
    refuse_too_large(size)
    return b"".join([struct.pack("<4sII", b"glTF", 2, size), *chunks])
