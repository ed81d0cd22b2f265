"""Which model a file says that it is: its digest, found where each format has room for it.

    GLB, glTF   asset.extras.digest                 3MF    metadata NAMESPACE:digest
    STEP        the header's description            USDZ   customData of the root prim
    STL         the 80 bytes before the triangles   OBJ, PLY, DXF   a comment at the beginning

Only as much of a file is read as it takes. What the file holds besides is not looked at: it is as true as its word.
"""

from __future__ import annotations

import json
import re
import struct
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

from preview.checks.exchange import DIGEST
from preview.checks.exchange_packages import digest_of_3mf, digest_of_usdz
from preview.checks.round_trip import BROKEN

MOST_TEXT = 1 << 16
"""How far into a text the digest is looked for: past a title of any sensible length."""
MOST_DOCUMENT = 200_000_000


def digest_in(path: Path) -> str:
    """The digest (64 hexadecimal digits) of the model that a file says it is, "" where it says none.

    Never raises for what the file holds: a file that cannot be read says nothing.
    """
    find = FINDERS.get(path.suffix.lower())
    try:
        found = find(path) if find is not None else ""
    except BROKEN:
        return ""
    return found if re.fullmatch(DIGEST, found) else ""


def _in_text(pattern: str, within: int = MOST_TEXT) -> Callable[[Path], str]:
    """A finder of a digest after a pattern, in the first bytes of a file."""
    wanted = re.compile(pattern.encode() + f"({DIGEST})".encode() + rb"(?![0-9a-f])", re.MULTILINE)

    def find(path: Path) -> str:
        with path.open("rb") as file:
            found = wanted.search(file.read(within))
        return found[1].decode() if found else ""

    return find


def _glb(path: Path) -> str:
    with path.open("rb") as file:
        magic, _, _, size, kind = struct.unpack("<4sIII4s", file.read(20))
        if magic != b"glTF" or kind != b"JSON" or size > MOST_DOCUMENT:
            return ""
        return _of_document(json.loads(file.read(size)))


def _gltf(path: Path) -> str:
    return _of_document(json.loads(path.read_bytes())) if path.stat().st_size <= MOST_DOCUMENT else ""


def _of_document(document: Any) -> str:
    return str(document["asset"]["extras"]["digest"])


def level_of(path: Path) -> int:
    """Which level of detail a GLB says that it is, 0 where it says none. Never raises for what the file holds."""
    try:
        with path.open("rb") as file:
            _, _, _, size, _ = struct.unpack("<4sIII4s", file.read(20))
            found = json.loads(file.read(min(size, MOST_DOCUMENT)))["asset"]["extras"]["level"]
    except BROKEN:
        return 0
    return found if isinstance(found, int) and found > 0 else 0


_step = _in_text(r"FILE_DESCRIPTION\s*\(\s*\(\s*'[^']*\bmodel ")
FINDERS: Mapping[str, Callable[[Path], str]] = {
    ".3mf": digest_of_3mf,
    ".dxf": _in_text("^model "),
    ".glb": _glb,
    ".gltf": _gltf,
    ".obj": _in_text("^# model "),
    ".ply": _in_text("^comment model "),
    ".step": _step,
    ".stl": _in_text(r"\bmodel ", 80),
    ".stp": _step,
    ".usdz": digest_of_usdz,
}
"""What finds the digest in each format, by the end of a file's name."""
