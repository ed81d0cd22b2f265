"""Round trips: a file for other programs is read back from the disk and held against the build it was made from.

What is read is `exchange`; what is asked of it is here, one finding for each piece and each question. What a renderer
needs besides the shape is `dress`.
"""

from __future__ import annotations

import json
import re
import struct
import zipfile
import zlib
from collections.abc import Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from xml.etree import ElementTree

import numpy as np

from preview import limits
from preview.checks import findings as table
from preview.checks.dress import Color, inspect_dress
from preview.checks.exchange import (
    Exchange,
    Floats,
    NoReaderError,
    Part,
    Reader,
    UnreadableError,
    read_obj,
    read_ply,
    read_stl_parts,
)
from preview.checks.exchange_compact import begun_alike, read_any_gltf
from preview.checks.exchange_gltf import read_gltf
from preview.checks.exchange_packages import read_3mf, read_usdz
from preview.checks.findings import Finding
from preview.checks.readers import must_be_file
from preview.errors import PreviewError, printable
from preview.models.mesh import PieceMesh

READERS: Mapping[str, Reader] = {
    ".3mf": read_3mf,
    ".glb": read_any_gltf,
    ".gltf": read_gltf,
    ".obj": read_obj,
    ".ply": read_ply,
    ".stl": read_stl_parts,
    ".usdz": read_usdz,
}
"""What reads each format back, by the end of a file's name."""
BROKEN = (
    ArithmeticError,
    AssertionError,
    AttributeError,
    EOFError,
    ElementTree.ParseError,
    IndexError,
    KeyError,
    MemoryError,
    NotImplementedError,
    OSError,
    RuntimeError,
    TypeError,
    UnreadableError,
    ValueError,
    struct.error,
    zipfile.BadZipFile,
    zlib.error,
)
"""What readers of other libraries and our own raise for files that are not whole."""
BEGINNINGS = {
    "GLB": rb"glTF",
    "PLY": rb"ply\s",
    "STEP file": rb"\s*ISO-10303-21",
    "ZIP package": rb"PK\x03\x04",
    "JSON text": rb"(\xef\xbb\xbf)?\s*\{",
}
"""What files of these kinds begin with. ZIP: ISO/IEC 21320-1; JSON: RFC 8259, an object."""
KINDS = {
    ".3mf": ("3MF", "ZIP package"),
    ".glb": ("GLB", "GLB"),
    ".gltf": ("glTF", "JSON text"),
    ".obj": ("OBJ", ""),
    ".ply": ("PLY", "PLY"),
    ".stl": ("STL", ""),
    ".usdz": ("USDZ", "ZIP package"),
}
"""What the formats of READERS are called, and what their files begin like; "" for those that have no such sign."""
AGREES = 1e-6
"""How far, relative, a volume or the size of the whole may lie from the build's."""
CARRIED = 2e-6
"""What moving pieces to their places may add, mm: runs that share their meshes agree within half of it, and 64-bit
numbers do far better."""


def read_exchange(path: Path) -> Exchange:
    """What a file of a format of READERS holds, read whole, whichever its model.

    Raises PreviewError, naming the file, where it is not there, is too large, is of another kind than its name says or
    cannot be read to its end.
    """
    suffix = path.suffix.lower()
    must_be_file(path)
    try:
        limits.MODEL_BYTES.refuse(path.stat().st_size, "the file", "export it with coarser facets, or in parts")
        _look(path, suffix)
        found = READERS[suffix](path)
        if suffix != ".obj" and not any(len(part.corners) for part in found.parts):  # an OBJ's faces need no name
            raise UnreadableError("it holds no body with triangles")
        return found
    except PreviewError as error:
        raise error.in_file(str(path)) from error.__cause__
    except NoReaderError as error:
        raise PreviewError("", None, error.problem, error.fix, str(path)) from error
    except BROKEN as error:
        problem = f"this is no {KINDS[suffix][0]} that can be read: {_in_words(error, path)}"
        raise PreviewError("", None, problem, "copy or export it again", str(path)) from error


def _look(path: Path, suffix: str) -> None:
    """Raise UnreadableError for a file that is empty, or by how it begins is of another kind than its name says."""
    with path.open("rb") as file:
        head = file.read(1024)
    if not head:
        raise UnreadableError("the file is empty")
    wanted = KINDS[suffix][1]
    kind = next((name for name, begins in BEGINNINGS.items() if re.match(begins, head)), "")
    if kind != wanted:
        raise UnreadableError(f"it is a {kind}" if kind else "by its first bytes it is of another kind, or damaged")
    if suffix == ".obj":  # which has no sign of its own
        data = path.read_bytes()
        if b"\0" in data:
            raise UnreadableError("it is not a text: it is of another kind, or damaged")
        lines = [re.search(rb"^[ \t]*%b[ \t]+[-+.\d]" % word, data, re.MULTILINE) for word in (b"v", b"f")]
        if not all(lines):
            raise UnreadableError("it has no vertices with faces: it is cut short or of another kind")


def _in_words(error: BaseException, path: Path) -> str:
    """What a reader's error means to whoever has the file; a library's own words would not tell them."""
    if isinstance(error, UnreadableError):
        return " ".join(str(error).split())[:200]
    if isinstance(error, OSError):
        if isinstance(error, FileNotFoundError) and error.filename and Path(error.filename).name != path.name:
            return f"{printable(Path(error.filename).name)}, which it needs beside it, is not there"
        return f"it cannot be read to its end ({error.strerror})" if error.strerror else "it cannot be read to its end"
    if isinstance(error, json.JSONDecodeError):
        return "its JSON is cut short or damaged"
    if isinstance(error, UnicodeDecodeError):
        return "its text is damaged, or not in UTF-8"
    if isinstance(error, ElementTree.ParseError):
        return "its XML is cut short or damaged"
    if isinstance(error, MemoryError):
        return "it takes more memory than there is"
    if isinstance(error, EOFError | struct.error | zipfile.BadZipFile | zlib.error):
        return "it is cut short or damaged"
    return "it is cut short, damaged, or laid out in a way that is not read"


def inspect_exchange(
    path: Path, meshes: Sequence[PieceMesh], colors: Sequence[Color], digest: str | None
) -> list[Finding]:
    """Read a file back and compare it with the meshes that it was written from, and with the model's digest.

    Pieces by their names, each one's points, volume (mm³) and box; its normals, texture coordinates and color, of what
    the format carries; the file's unit, its axis that is up, its digest. colors: of the pieces' finishes, sRGB, 0 to 1.
    digest: None where the file need not say it. A file that cannot be read is a finding that fails. A format without a
    reader here (a drawing's) has no findings.
    """
    read = READERS.get(path.suffix)
    if read is None:
        return []
    try:
        found = read(path)
    except BROKEN as error:
        return [Finding(table.FILE_WHOLE, path.name, 1, 0, detail=_in_words(error, path))]
    findings = [Finding(table.FILE_WHOLE, path.name, len(found.faults), 0, detail="; ".join(found.faults))]
    if digest is not None:
        wrong = int(found.digest != digest)
        findings.append(Finding(table.FILE_MODEL, path.name, wrong, 0, detail=_said(found.digest, digest)))
    parts = found.parts if found.named else _in_order(found.parts, meshes)
    named: dict[str, list[Part]] = {}
    for part in parts:
        named.setdefault(_plain(part.name), []).append(part)
    pairs: list[tuple[PieceMesh, Part]] = []
    for mesh, color in zip(meshes, colors, strict=True):
        mine = named.pop(_plain(mesh.piece.name), [])
        detail = "" if len(mine) == 1 else f"the file holds {len(mine)} bodies of this name"
        subject = f"{path.name}: {mesh.piece.name}"
        findings.append(Finding(table.FILE_PIECES, subject, abs(1 - len(mine)), 0, detail=detail))
        if len(mine) == 1:
            pairs.append((mesh, mine[0]))
            with np.errstate(all="ignore"):  # what a fault makes of a number is a figure over the limit, or none
                if found.begins_anywhere:
                    mine[0] = begun_alike(mine[0], mesh)
                findings += _piece(subject, mesh, mine[0])
                findings += inspect_dress(path.suffix, subject, mesh, color, mine[0])
    others = [part.name for parts in named.values() for part in parts]
    if others:
        detail = "bodies that are no piece's: " + ", ".join(others[:3])
        findings.append(Finding(table.FILE_PIECES, path.name, len(others), 0, detail=detail))
    with np.errstate(all="ignore"):
        return findings + (_whole(path.name, found, pairs) if any(len(part.corners) for _, part in pairs) else [])


def _in_order(parts: Sequence[Part], meshes: Sequence[PieceMesh]) -> list[Part]:
    """The parts of a file without names, which are told apart by their order: as many triangles as each piece has.

    What is left over is a body that is no piece's; a piece for which too few are left has none.
    """
    found: list[Part] = []
    for part in parts:
        first = 0
        for mesh in meshes:
            mine = part.corners[first : first + len(mesh.triangles)]
            first += len(mesh.triangles)
            if len(mine) == len(mesh.triangles):
                found.append(replace(part, name=mesh.piece.name, corners=mine))
        left = part.corners[first:]
        if len(left):
            found.append(replace(part, name=f"{len(left)} triangles more", corners=left))
    return found


def _plain(name: str) -> str:
    """A name as every format can hold it: blanks for what ends a line, and U+FFFD for what XML cannot say."""
    return "".join(_letter(letter) for letter in name)


def _letter(letter: str) -> str:
    if letter in "\t\n\r":
        return " "
    return "\ufffd" if letter < " " or "\ud800" <= letter <= "\udfff" or letter in "\ufffe\uffff" else letter


def _said(digest: str, wanted: str) -> str:
    if digest == wanted:
        return ""
    return f"it says {digest[:12]}..., not {wanted[:12]}..." if digest else "it names none"


def _piece(subject: str, mesh: PieceMesh, part: Part) -> list[Finding]:
    corners = mesh.points[mesh.triangles]
    slack = part.step + CARRIED
    volume, box = mesh.volume, _box(mesh.points)
    off, detail = float("nan"), f"{len(part.corners)} triangles, not {len(corners)}"
    if part.corners.shape == corners.shape:
        off, detail = float(np.abs(part.corners - corners).max(initial=0.0)), ""
    stands = float(np.abs(_box(part.corners.reshape(-1, 3)) - box).max()) if part.corners.size else float("nan")
    allowed = max(AGREES * abs(volume), part.step * mesh.area)
    return [
        Finding(table.FILE_POINTS, subject, off, slack, detail=detail),
        Finding(table.FILE_VOLUME, subject, abs(_volume(part.corners) - volume), allowed),
        Finding(table.FILE_BOX, subject, stands, slack),
    ]


def _whole(name: str, found: Exchange, pairs: Sequence[tuple[PieceMesh, Part]]) -> list[Finding]:
    """What shows on the whole: the unit by its size, and what is up by its lowest and highest points."""
    box = _box(np.concatenate([_box(mesh.points) for mesh, _ in pairs]))
    held = _box(np.concatenate([part.corners.reshape(-1, 3) for _, part in pairs]))
    size, slack = float(np.linalg.norm(box[1] - box[0])), max(part.step for _, part in pairs) + CARRIED
    ratio = float(np.linalg.norm(held[1] - held[0])) / size
    off = float(np.abs(held[:, 2] - box[:, 2]).max())
    return [
        Finding(
            table.FILE_UNITS,
            name,
            abs(ratio - 1) if found.unit else float("nan"),
            AGREES + 2 * slack / size,
            detail="" if found.unit else "it states none that is known",
        ),
        Finding(
            table.FILE_UP,
            name,
            off if found.up else float("nan"),
            slack,
            detail="" if found.up else "it states none",
        ),
    ]


def _box(points: Floats) -> Floats:
    """The lowest and the highest corner (2, 3) of points (n, 3)."""
    return np.array([points.min(axis=0), points.max(axis=0)])


def _volume(corners: Floats) -> float:
    """What triangles (t, 3, 3) enclose, mm³: tetrahedra from a corner of theirs, by their determinants."""
    return float(np.linalg.det(corners - corners[0, 0]).sum() / 6) if len(corners) else 0.0
