"""glTF 2.0 as separate files: the document, its block of bytes, and its pictures."""

from __future__ import annotations

import json
from urllib.parse import quote

from preview.build import Built
from preview.exports.gltf_document import document_of
from preview.exports.gltf_model import Model, model_of


def gltf_files(built: Built, stem: str) -> tuple[tuple[str, bytes], ...]:
    """The files of a built scene, by their names: STEM.gltf first, then STEM.bin and STEM-NAME.png.

    They hold what `built_glb` holds, and find each other in one folder. stem: a file name without a suffix. Raises
    PreviewError when the model does not fit the 4 GiB that the format allows.
    """
    return _files(model_of(built), stem)


def _files(model: Model, stem: str) -> tuple[tuple[str, bytes], ...]:
    found = document_of(model, pictures_apart=True)
    document = found.document
    others: list[tuple[str, bytes]] = []
    if found.data:
        others.append((f"{stem}.bin", bytes(found.data)))
        document["buffers"][0]["uri"] = quote(f"{stem}.bin", safe="")
    for image, (name, picture) in zip(document.get("images", []), found.pictures, strict=True):
        others.append((f"{stem}-{name}.png", picture))
        image["uri"] = quote(f"{stem}-{name}.png", safe="")
        del image["mimeType"]
    text = json.dumps(document, indent=1, allow_nan=False)
    return ((f"{stem}.gltf", text.encode("ascii")), *others)
