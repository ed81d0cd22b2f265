"""The formats that are written from a build alone and asked for by name. A new one is one function here.

GLB, STL and STEP are not among them: the checks read those back, so they are always made with them.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator

from preview.build import Built
from preview.entries import Entries
from preview.errors import PreviewError, Problem, nearest
from preview.exports.glb_compact import compact_glb
from preview.exports.glb_levels import level_files, levels_of
from preview.exports.gltf_files import gltf_files
from preview.exports.obj import obj_files
from preview.exports.plan_dxf import dxf_files
from preview.exports.ply import ply_bytes
from preview.exports.threemf import threemf_bytes
from preview.exports.usd import usdz_bytes

Files = tuple[tuple[str, bytes], ...]
"""Names below the folder of models, and bytes."""
Writer = Callable[[Built, str], Files]
"""Writes a format: from a build and the stem of its files."""


def one_file(suffix: str, write: Callable[[Built], bytes]) -> Writer:
    """A format of one file, which has the scene's name."""
    return lambda built, stem: ((f"{stem}{suffix}", write(built)),)


USUAL = ("glb", "stl", "step")
"""The formats that a build makes, and that the checks read back."""
_OWN: dict[str, Writer] = {
    "compact": one_file("-compact.glb", compact_glb),
    "dxf": dxf_files,
    "gltf": gltf_files,
    "levels": level_files,
    "3mf": one_file(".3mf", threemf_bytes),
    "obj": obj_files,
    "ply": one_file(".ply", ply_bytes),
    "usdz": one_file(".usdz", usdz_bytes),
}
FORMATS: Entries[Writer] = Entries("format", "molding.formats", _OWN, taken=USUAL)
"""The formats that are asked for by name."""


def read_back(name: str, built: Built, files: Files) -> Iterator[tuple[str, Built]]:
    """Which files of a format are read back, by their names, and the build that each of them holds."""
    if name == "levels":
        yield from zip((file for file, _ in files), levels_of(built), strict=True)
    else:
        yield files[0][0], built


def formats_named(names: Iterable[str], place: str) -> tuple[str, ...]:
    """The formats of these names, each once. place: where they were asked for. Raises PreviewError for others."""
    asked, known = tuple(dict.fromkeys(names)), (*USUAL, *FORMATS)
    problems = []
    for name in (each for each in asked if each not in known):
        near = nearest(name, known)
        fix = f"did you mean {near}?" if near else f"the formats are {', '.join(sorted(known))}"
        problems.append(Problem(place, f'"{name}"', "there is no format of this name", fix))
    if problems:
        raise PreviewError.several(problems)
    return asked
