"""The formats that are written from a build alone and asked for by name. A new one is one function here.

GLB, STL and STEP are not among them: the checks read those back, so they are always made with them.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping

from preview.build import Built
from preview.exports.gltf_files import gltf_files
from preview.exports.obj import obj_files
from preview.exports.plan_dxf import dxf_files
from preview.exports.ply import ply_bytes
from preview.exports.threemf import threemf_bytes
from preview.exports.usd import usdz_bytes

Files = tuple[tuple[str, bytes], ...]
"""Names below the folder of models, and bytes."""


def one_file(suffix: str, write: Callable[[Built], bytes]) -> Callable[[Built, str], Files]:
    """A format of one file, which has the scene's name."""
    return lambda built, stem: ((f"{stem}{suffix}", write(built)),)


FORMATS: Mapping[str, Callable[[Built, str], Files]] = {
    "dxf": dxf_files,
    "gltf": gltf_files,
    "3mf": one_file(".3mf", threemf_bytes),
    "obj": obj_files,
    "ply": one_file(".ply", ply_bytes),
    "usdz": one_file(".usdz", usdz_bytes),
}
"""What writes each format: from a build and the stem of its files."""
