"""The formats that are written from a build alone and asked for by name. A new one is one function here.

GLB, STL and STEP are not among them: the checks read those back, so they are always made with them.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Iterable, Iterator, Mapping
from pathlib import PurePath, PurePosixPath

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
Writer = Callable[[Built, str], Iterable[tuple[str, bytes]]]
"""Writes a format: from a build and the stem of its files, pairs of a name and bytes."""
OWN_FOLDERS = ("options", "pieces")
"""Folders below that of models which no format writes into."""


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
    """The formats of these names, in capitals or not, each once. place: where they were asked for.

    Raises PreviewError for others, and for one that a package brings and that cannot be loaded.
    """
    asked, known = {name.strip().casefold(): name for name in names}, (*USUAL, *FORMATS)
    problems: list[Problem] = []
    for name, written in asked.items():
        if name not in known:
            near = nearest(name, known)
            fix = f"did you mean {near}?" if near else f"the formats are {', '.join(sorted(known))}"
            problems.append(Problem(place, f'"{written}"', "there is no format of this name", fix))
        elif name not in USUAL:
            try:
                FORMATS[name]
            except PreviewError as error:
                problems += error.at(place).problems
    if problems:
        raise PreviewError.several(problems)
    return tuple(asked)


def files_of(name: str, built: Built, stem: str, taken: Mapping[str, str]) -> Files:
    """The files of a format. taken: the names that other formats write, in small letters, and which format does.

    Raises PreviewError, naming the format, where a function that was entered fails, or gives anything but one or more
    pairs of a name below the folder of models and bytes.
    """
    with FORMATS.asking(name):
        given: object = FORMATS[name](built, stem)
        if isinstance(given, (Mapping, str, bytes)) or not isinstance(given, Iterable):
            raise FORMATS.error(name, f"gives {type(given).__name__}, and pairs of a name and bytes are wanted")
        pairs = list(given)
    files: list[tuple[str, bytes]] = []
    mine: dict[str, str] = {}
    for pair in pairs:
        if not (isinstance(pair, (tuple, list)) and len(pair) == 2 and isinstance(pair[0], str)):
            raise FORMATS.error(name, f"gives {type(pair).__name__}, where a name and bytes are wanted")
        file, content = pair
        if not isinstance(content, (bytes, bytearray, memoryview)):
            raise FORMATS.error(name, f'gives {type(content).__name__} for the file "{file}", and bytes are wanted')
        _refuse_name(name, file, {**taken, **mine})
        mine[file.casefold()] = name
        files.append((file, bytes(content)))
    if not files:
        raise FORMATS.error(name, "gives no files")
    return tuple(files)


def _refuse_name(name: str, file: str, taken: Mapping[str, str]) -> None:
    """Raise PreviewError where a format may not write a file of this name."""
    parts = file.replace(os.sep, "/").split("/")
    if any(part in ("", ".", "..") for part in parts) or PurePath(file).drive or not _can_be_written(file):
        raise FORMATS.error(name, f'gives a file the name "{file}", which is none below the folder of models')
    if parts[0].casefold().startswith(OWN_FOLDERS) and len(parts) > 1:
        raise FORMATS.error(name, f'writes "{file}", and the folder {parts[0]} is the program\'s own')
    whole = PurePosixPath(file.casefold())
    for other, by in taken.items():
        if (
            whole == PurePosixPath(other)
            or whole in PurePosixPath(other).parents
            or PurePosixPath(other) in whole.parents
        ):
            who = "it has written" if by == name else f"the format {by} writes"
            raise FORMATS.error(name, f'writes "{file}", where {who} "{other}" already')


def _can_be_written(file: str) -> bool:
    try:
        return b"\0" not in os.fsencode(file)
    except UnicodeEncodeError:
        return False
