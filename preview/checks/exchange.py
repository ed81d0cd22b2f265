"""Files for other programs as their readers find them: named bodies in the scene's frame, and what a file says of
itself.

OBJ and PLY are read by trimesh, which shares nothing with what writes them, and STL by its layout; `exchange_gltf` has
glTF and GLB, `exchange_packages` 3MF and USDZ. Names and words that trimesh passes over (comments) are read here.
"""

from __future__ import annotations

import json
import re
import unicodedata
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from preview.checks.readers import read_stl
from preview.errors import PreviewError

Floats = NDArray[np.float64]

UNIT_MM = {
    "micron": 0.001,
    "millimeter": 1.0,
    "centimeter": 10.0,
    "inch": 25.4,
    "foot": 304.8,
    "meter": 1000.0,
}
"""The units that 3MF knows (Core Specification, "Model"), which are all that any of the formats here may state."""
PLURALS = {"inches": "inch", "feet": "foot"} | {f"{unit}s": unit for unit in UNIT_MM}
DIGEST = "[0-9a-f]{64}"
SURROUNDINGS = "surroundings"
DECIMALS = 1e-6
"""How far apart the numbers of text formats lie as this project writes them, mm."""
UV_DECIMALS = 1e-3
"""Likewise for texture coordinates (OBJ), mm."""
PLACE, NORMAL, COLOR = ("x", "y", "z"), ("nx", "ny", "nz"), ("red", "green", "blue")
"""What PLY files call them, by habit."""
FLOAT32 = float(np.spacing(np.float32(1)))
"""How far apart 32-bit floats lie where a direction's parts are largest."""


class UnreadableError(Exception):
    """A file that cannot be read to its end; the message says what is wrong, in words."""


class NoReaderError(UnreadableError):
    """A file that may well be whole, but nothing is installed that reads it; fix: what installs it."""

    def __init__(self, problem: str, fix: str) -> None:
        super().__init__(f"{problem}; {fix}")
        self.problem = problem
        self.fix = fix


@dataclass(frozen=True)
class Part:
    """A body as a file holds it. corners (t, 3, 3): each triangle's corners, mm, z up, in the file's order.

    step: how far apart neighboring stored numbers lie at its farthest coordinate, mm.
    normals (t, 3, 3), z up, and uvs (t, 3, 2): those at the corners, as stored; None where the file has none.
    normal_step, uv_step: how far apart stored numbers lie, or what else stands between them and the build's.
    color (3,), or (t, 3, 3) where corners have their own: red, green, blue in sRGB, from 0 to 255, not rounded.
    color_slack: by how much at most, in the same steps, the format's own means leave it darker than it should be.
    """

    name: str
    corners: Floats
    step: float
    normals: Floats | None = None
    normal_step: float = FLOAT32
    uvs: Floats | None = None
    uv_step: float = 0.0
    color: Floats | None = None
    color_slack: float = 0.0


@dataclass(frozen=True)
class Exchange:
    """A whole file: the pieces it holds, surroundings aside, and what it says of itself ("" where it says nothing).

    unit: one of UNIT_MM. up: x, y or z. digest: of the model. faults: what it names and lacks, in words. named: whether
    the parts are the pieces by their names; else all triangles are one part, piece after piece. begins_anywhere:
    whether a triangle may begin at another of its corners than it was written with.
    """

    parts: tuple[Part, ...]
    unit: str
    up: str
    digest: str
    faults: tuple[str, ...] = ()
    named: bool = True
    begins_anywhere: bool = False


def said_units(found: re.Match[str] | None) -> tuple[str, str]:
    """The unit and the axis that a comment states in words; "" for a unit that is not known, or where none is."""
    unit, up = found.groups() if found else ("", "")
    unit = PLURALS.get(unit, unit)
    return (unit if unit in UNIT_MM else ""), up


def in_frame(points: Floats, unit: str, up: str) -> Floats:
    """Points (..., 3) as stored, in mm with z up; taken as they are where the unit or the axis is not known."""
    return turned_up(points, up) * UNIT_MM.get(unit, 1.0)


def turned_up(directions: Floats, up: str) -> Floats:
    """Directions (..., 3) with the axis that is up as z."""
    x, y, z = np.moveaxis(np.asarray(directions, np.float64), -1, 0)
    return np.stack({"y": (x, -z, y), "x": (-z, y, x)}.get(up, (x, y, z)), axis=-1)


def srgb(light: Floats) -> Floats:
    """Shares of light (0 to 1) as sRGB (IEC 61966-2-1), from 0 to 255, not rounded.

    >>> [round(float(part), 1) for part in srgb(np.array([0.0, 0.0031308, 0.21404114, 1.0]))]
    [0.0, 10.3, 127.5, 255.0]
    """
    light = np.asarray(light, np.float64)
    return 255 * np.where(light <= 0.0031308, 12.92 * light, 1.055 * np.maximum(light, 0.0) ** (1 / 2.4) - 0.055)


def light_of(steps: NDArray[np.floating | np.integer]) -> Floats:
    """sRGB (0 to 255) as shares of light (IEC 61966-2-1): the other way round."""
    part = np.asarray(steps, np.float64) / 255
    return np.where(part <= 0.04045, part / 12.92, ((part + 0.055) / 1.055) ** 2.4)


def float32_step(stored: NDArray[np.floating], unit: str = "millimeter") -> float:
    """How far apart 32-bit floats lie at the farthest of the stored numbers, mm."""
    far = np.abs(stored).max(initial=0.0)
    return float(np.spacing(np.float32(far))) * UNIT_MM.get(unit, 1.0)


def read_obj(path: Path) -> Exchange:
    """OBJ with its MTL. A piece's whole name stands in the comment before its object; the word must fit it."""
    from trimesh.exchange.obj import load_obj

    data = path.read_bytes()
    if not data.endswith(b"\n"):
        raise UnreadableError("its last line does not end")
    text = data.decode("utf-8")
    with path.open("rb") as file:
        loaded = load_obj(file, group_material=False, skip_materials=True, split_objects=True)
    words = re.findall(r"^o (\S+)$", text, re.MULTILINE)
    whole = {word: json.loads(name) for name, word in re.findall(r'^# piece \S+ (".*")\no (\S+)$', text, re.MULTILINE)}
    around = set(words) - whole.keys() if re.search(f"^g {SURROUNDINGS} ", text, re.MULTILINE) else set()
    unit, up = said_units(re.search(r"^# Lengths are (\w+) and ([xyz]) is up", text, re.MULTILINE))
    digest = re.search(f"^# model ({DIGEST})$", text, re.MULTILINE)
    geometry = loaded.get("geometry", {})
    colors, faults = _materials(path, text)
    wears = dict(re.findall(r"^o (\S+)\nusemtl (.+)$", text, re.MULTILINE))
    parts = []
    for word in words:
        if word not in around and word in geometry:
            found = geometry[word]
            faces = found["faces"]
            corners = in_frame(np.asarray(found["vertices"], np.float64)[faces], unit, up)
            name = whole.get(word, word)
            normals, laid = found.get("vertex_normals"), getattr(found.get("visual"), "uv", None)
            part = Part(
                name if _is_word_of(word, name) else word,
                corners,
                DECIMALS,
                normals=None if normals is None else turned_up(normals[faces], up),
                normal_step=DECIMALS,
                uvs=None if laid is None else np.asarray(laid, np.float64)[faces],
                uv_step=UV_DECIMALS,
                color=colors.get(wears.get(word, "")),
            )
            parts.append(part)
    return Exchange(tuple(parts), unit, up, digest[1] if digest else "", tuple(faults))


def _is_word_of(word: str, name: str) -> bool:
    """Whether an object's word is a piece's name with its blanks and signs left out, or that and a number."""
    letters, wanted = (
        "".join(c for c in unicodedata.normalize("NFC", text) if unicodedata.category(c)[0] in "LMN")
        for text in (word, name)
    )
    rest = letters.removeprefix(wanted) if letters.startswith(wanted) else None
    return not wanted or (rest is not None and (not rest or rest.isdigit()))


def _materials(path: Path, text: str) -> tuple[dict[str, Floats], list[str]]:
    """The colors of an OBJ's materials, which its MTL says are sRGB; and what the OBJ names and the MTL lacks."""
    colors: dict[str, Floats] = {}
    faults: list[str] = []
    known: set[str] = set()
    for library in re.findall(r"^mtllib (.+)$", text, re.MULTILINE):
        beside = path.with_name(library)
        if not beside.is_file():
            return {}, [f"{library} is not there"]
        said = beside.read_text("utf-8")
        known |= set(re.findall(r"^newmtl (.+)$", said, re.MULTILINE))
        if re.search(r"^# Colors \(Kd\) are sRGB\.$", said, re.MULTILINE):
            found = re.findall(r"^newmtl (.+)\nKd (\S+) (\S+) (\S+)$", said, re.MULTILINE)
            colors |= {name: 255 * np.array(parts, np.float64) for name, *parts in found}
    for used in sorted(set(re.findall(r"^usemtl (.+)$", text, re.MULTILINE)) - known):
        faults.append(f"the material {used} is not there")
    return colors, faults


def read_ply(path: Path) -> Exchange:
    """PLY: pieces lie one after another as its table of them counts, and are named by the header's comments."""
    from trimesh.exchange.ply import load_ply

    head = path.read_bytes()[: 1 << 24].partition(b"\nend_header\n")[0].decode("ascii")
    with path.open("rb") as file:
        loaded = load_ply(file)
    unit, up = said_units(re.search(r"^comment units: (\w+), ([xyz]) up$", head, re.MULTILINE))
    digest = re.search(f"^comment model ({DIGEST})$", head, re.MULTILINE)
    names = {int(n): json.loads(name) for n, name in re.findall(r'^comment piece (\d+) (".*")$', head, re.MULTILINE)}
    parts = []
    if len(loaded.get("faces", ())):
        faces, raw = np.asarray(loaded["faces"]), loaded["metadata"]["_ply_raw"]
        stored, counts = raw["vertex"]["data"], np.asarray(raw["piece"]["data"]["faces"]).ravel()
        points, normals, colors = (_columns(stored, columns) for columns in (PLACE, NORMAL, COLOR))
        if points is None or counts.sum() != len(faces):
            raise UnreadableError(f"its pieces have {counts.sum()} faces, and it has {len(faces)}")
        step = float(np.spacing(np.abs(points).max().astype(stored["x"].dtype))) * UNIT_MM.get(unit, 1.0)
        numbers = np.asarray(raw["piece"]["data"]["number"]).ravel().tolist()
        for number, mine in zip(numbers, np.split(faces, np.cumsum(counts)[:-1]), strict=True):
            part = Part(
                names.get(number, f"piece {number}, which has no name"),
                in_frame(points[mine], unit, up),
                step,
                normals=None if normals is None else turned_up(normals[mine], up),
                color=None if colors is None else colors[mine],
            )
            parts.append(part)
    return Exchange(tuple(parts), unit, up, digest[1] if digest else "")


def _columns(vertices: NDArray[np.void], names: tuple[str, ...]) -> Floats | None:
    """Some of a PLY's properties (v, n) of its vertices; None where it lacks one."""
    if not set(names) <= set(vertices.dtype.names or ()):
        return None
    return np.stack([np.asarray(vertices[name], np.float64).ravel() for name in names], axis=-1)


def read_stl_parts(path: Path) -> Exchange:
    """Binary STL: all triangles as one part, since the format has no names; unit, axis and digest by its header."""
    try:
        body = read_stl(path)
    except PreviewError as error:
        raise UnreadableError(str(error.problems[0].problem)) from error
    with path.open("rb") as file:
        header = file.read(80).decode("ascii")
    digest = re.search(f"model ({DIGEST})$", header)
    unit, up = ("millimeter", "z") if re.search(r"\b(mm|millimeters), z up\b", header) else ("", "")
    parts = (Part(path.name, body.vertices[body.triangles], body.step),)
    return Exchange(parts, unit, up, digest[1] if digest else "", named=False, begins_anywhere=True)


Reader = Callable[[Path], Exchange]
