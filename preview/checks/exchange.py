"""Files for other programs as their readers find them: named bodies in the scene's frame, and what a file says of
itself.

glTF, OBJ and PLY are read by trimesh, which shares nothing with what writes them; `exchange_packages` has 3MF and USDZ.
Names and words that trimesh passes over (comments, extras) are read here.
"""

from __future__ import annotations

import json
import re
import unicodedata
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any
from urllib.parse import unquote

import numpy as np
from numpy.typing import NDArray

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
PNG_BEGINS, PNG_ENDS = b"\x89PNG\r\n\x1a\n", b"IEND\xaeB`\x82"


class UnreadableError(Exception):
    """A file that cannot be read to its end; the message says what is wrong, in words."""


@dataclass(frozen=True)
class Part:
    """A body as a file holds it. corners (t, 3, 3): each triangle's corners, mm, z up, in the file's order.

    step: how far apart neighboring stored numbers lie at its farthest coordinate, mm.
    """

    name: str
    corners: Floats
    step: float


@dataclass(frozen=True)
class Exchange:
    """A whole file: the pieces it holds, surroundings aside, and what it says of itself ("" where it says nothing).

    unit: one of UNIT_MM. up: x, y or z. digest: of the model. faults: what it names and lacks, in words.
    """

    parts: tuple[Part, ...]
    unit: str
    up: str
    digest: str
    faults: tuple[str, ...] = ()


def said_units(found: re.Match[str] | None) -> tuple[str, str]:
    """The unit and the axis that a comment states in words; "" for a unit that is not known, or where none is."""
    unit, up = found.groups() if found else ("", "")
    unit = PLURALS.get(unit, unit)
    return (unit if unit in UNIT_MM else ""), up


def in_frame(points: Floats, unit: str, up: str) -> Floats:
    """Points (..., 3) as stored, in mm with z up; taken as they are where the unit or the axis is not known."""
    x, y, z = np.moveaxis(np.asarray(points, np.float64), -1, 0)
    turned = {"y": (x, -z, y), "x": (-z, y, x)}.get(up, (x, y, z))
    return np.stack(turned, axis=-1) * UNIT_MM.get(unit, 1.0)


def float32_step(stored: NDArray[np.floating], unit: str) -> float:
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
    parts = []
    for word in words:
        if word not in around and word in geometry:
            found = geometry[word]
            corners = np.asarray(found["vertices"], np.float64)[found["faces"]]
            name = whole.get(word, word)
            parts.append(Part(name if _is_word_of(word, name) else word, in_frame(corners, unit, up), DECIMALS))
    return Exchange(tuple(parts), unit, up, digest[1] if digest else "", tuple(_materials(path, text)))


def _is_word_of(word: str, name: str) -> bool:
    """Whether an object's word is a piece's name with its blanks and signs left out, or that and a number."""
    letters, wanted = (
        "".join(c for c in unicodedata.normalize("NFC", text) if unicodedata.category(c)[0] in "LMN")
        for text in (word, name)
    )
    rest = letters.removeprefix(wanted) if letters.startswith(wanted) else None
    return not wanted or (rest is not None and (not rest or rest.isdigit()))


def _materials(path: Path, text: str) -> Iterator[str]:
    """What an OBJ names and its MTL lacks."""
    known: set[str] = set()
    for library in re.findall(r"^mtllib (.+)$", text, re.MULTILINE):
        beside = path.with_name(library)
        if not beside.is_file():
            yield f"{library} is not there"
            return
        known |= set(re.findall(r"^newmtl (.+)$", beside.read_text("utf-8"), re.MULTILINE))
    for used in sorted(set(re.findall(r"^usemtl (.+)$", text, re.MULTILINE)) - known):
        yield f"the material {used} is not there"


def read_ply(path: Path) -> Exchange:
    """PLY: the pieces are told apart by the number on each face, and named by the header's comments."""
    from trimesh.exchange.ply import load_ply

    head = path.read_bytes()[: 1 << 24].partition(b"\nend_header\n")[0].decode("ascii")
    with path.open("rb") as file:
        loaded = load_ply(file)
    unit, up = said_units(re.search(r"^comment units: (\w+), ([xyz]) up$", head, re.MULTILINE))
    digest = re.search(f"^comment model ({DIGEST})$", head, re.MULTILINE)
    names = {int(n): json.loads(name) for n, name in re.findall(r'^comment piece (\d+) (".*")$', head, re.MULTILINE)}
    parts = []
    if len(loaded.get("faces", ())):
        points, faces = np.asarray(loaded["vertices"], np.float64), np.asarray(loaded["faces"])
        numbers = np.asarray(loaded["metadata"]["_ply_raw"]["face"]["data"]["piece"]).ravel()
        step = float(np.spacing(np.abs(points).max())) * UNIT_MM.get(unit, 1.0)
        order = np.argsort(numbers, kind="stable")
        found, first = np.unique(numbers[order], return_index=True)
        for number, mine in zip(found.tolist(), np.split(order, first[1:]), strict=True):
            corners = in_frame(points[faces[mine]], unit, up)
            parts.append(Part(names.get(number, f"piece {number}, which has no name"), corners, step))
    return Exchange(tuple(parts), unit, up, digest[1] if digest else "")


def read_gltf(path: Path) -> Exchange:
    """glTF 2.0 as separate files: meters, y up by the specification (3.4, "Coordinate System and Units")."""
    import trimesh

    document = json.loads(path.read_text("utf-8"))
    asset = document.get("asset", {})
    unit, up = ("meter", "y") if asset.get("version") == "2.0" else ("", "")
    loaded = trimesh.load_scene(path, process=False, skip_materials=True)
    parts = []
    for node in loaded.graph.nodes_geometry:
        # Which node is a piece is told by its place in the tree, not by its name alone.
        if SURROUNDINGS in _above(loaded, node) and str(node).startswith(f"{SURROUNDINGS} / "):
            continue
        matrix, name = loaded.graph[node]
        mesh = loaded.geometry[name]
        stored = np.asarray(mesh.vertices, np.float64)
        placed = stored @ matrix[:3, :3].T + matrix[:3, 3]
        corners = in_frame(placed[np.asarray(mesh.faces)], unit, up)
        parts.append(Part(str(node), corners, float32_step(stored, unit)))
    digest = str(asset.get("extras", {}).get("digest", ""))
    return Exchange(tuple(parts), unit, up, digest, tuple(_beside(path, document)))


def _above(scene: Any, node: Any) -> set[str]:
    parents = scene.graph.transforms.parents
    found = set()
    while node in parents:
        node = parents[node]
        found.add(str(node))
    return found


def _beside(path: Path, document: Mapping[str, Any]) -> Iterator[str]:
    """What a glTF document names that is not beside it, or is not whole."""
    for buffer in document.get("buffers", []):
        file = path.with_name(unquote(buffer["uri"]))
        if not file.is_file() or file.stat().st_size != buffer["byteLength"]:
            yield f"{file.name} is not there, or not of the length that is said"
    for image in document.get("images", []):
        file = path.with_name(unquote(image["uri"]))
        picture = file.read_bytes() if file.is_file() else b""
        if not (picture.startswith(PNG_BEGINS) and picture.endswith(PNG_ENDS)):
            yield f"{file.name} is not there, or no whole PNG"


Reader = Callable[[Path], Exchange]
