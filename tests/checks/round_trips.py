"""A job of two runs that are alike, written in every format that is read back; and how files are tampered with."""

from __future__ import annotations

import io
import zipfile
from collections.abc import Callable
from functools import cache
from pathlib import Path

from pxr import Sdf

from preview.build import Built, build
from preview.checks import Finding, inspect_exchange
from preview.exports import FORMATS, built_glb, stl_blocks
from preview.scene import parse_scene

ENDS = {name: f".{name}" for name in ("glb", "gltf", "stl", "3mf", "obj", "ply", "usdz")}
ALL = {f"file-{what}" for what in ("whole", "model", "pieces", "points", "volume", "box", "units", "up")}
WORN = {"file-normals", "file-uvs", "file-color"}
CARRIED: dict[str, set[str]] = {
    "glb": WORN,
    "gltf": WORN,
    "stl": set(),
    "3mf": {"file-color"},
    "obj": WORN,
    "ply": {"file-normals", "file-color"},
    "usdz": WORN,
}
"""What each format says of a piece besides its shape."""
JOB = """
title = "Two boards, alike but for their place"
units = "mm"
[profile.board]
foot = 20
face = [{ fillet = 60 }, { cove = 15, in = 10 }, { fillet = 15 }]
[finish.oak]
color = "#804020"
kind = "clear"
[member."Βάση"]
profile = "board"
finish = "oak"
[[run]]
name = "north"
room = "left"
start = [0.1, 0.2]
level = 100
steps = [{ straight = 1000 }, { left = 90 }, { straight = 500 }]
[[run]]
name = 'south "<&> e\u0301 \U0001f6aa 1½ end_header % usemtl x'
room = "left"
start = [7000, 3000]
heading = 120
level = 100
steps = [{ straight = 1000 }, { left = 90 }, { straight = 500 }]
[[surrounding]]
name = "crate"
kind = "box"
at = [300, 300]
size = [200, 200]
top = 400
"""


@cache
def job() -> Built:
    return build(parse_scene(JOB, Path("boards.toml")))


def written(built: Built, name: str, folder: Path) -> Path:
    if name == "glb":
        files: tuple[tuple[str, bytes], ...] = (("boards.glb", built_glb(built)),)
    elif name == "stl":
        files = (("boards.stl", b"".join(stl_blocks(built.meshes, built.scene.title, built.digest))),)
    else:
        files = FORMATS[name](built, "boards")
    for file, data in files:
        (folder / file).write_bytes(data)
    return folder / files[0][0]


def judged(path: Path, built: Built | None = None) -> list[Finding]:
    built = built or job()
    return inspect_exchange(path, built.meshes, colors(built), built.digest)


def colors(built: Built) -> list[tuple[float, float, float]]:
    return [member.finish.color for member in built.members]


def failed(path: Path) -> set[str]:
    return {finding.check.code for finding in judged(path) if not finding.holds}


def subjects(path: Path, code: str) -> list[str]:
    return [finding.subject for finding in judged(path) if not finding.holds and finding.check.code == code]


def replaced(path: Path, old: str, new: str) -> None:
    text = path.read_bytes()
    assert old.encode() in text
    path.write_bytes(text.replace(old.encode(), new.encode(), 1))


def repacked(path: Path, old: str, new: str) -> None:
    with zipfile.ZipFile(path) as package:
        parts = {name: package.read(name) for name in package.namelist()}
    assert old.encode() in parts["3D/3dmodel.model"]
    parts["3D/3dmodel.model"] = parts["3D/3dmodel.model"].replace(old.encode(), new.encode(), 1)
    with zipfile.ZipFile(path, "w") as package:
        for name, data in parts.items():
            package.writestr(name, data)


def relayered(path: Path, change: Callable[[Sdf.Layer], None]) -> None:
    """Change the layer in a package, and pack it again by the rules."""
    with zipfile.ZipFile(path) as package:
        (name,) = package.namelist()
        loose = path.with_name("loose.usdc")
        loose.write_bytes(package.read(name))
    layer = Sdf.Layer.FindOrOpen(str(loose))
    change(layer)
    layer.Save()
    pack(path, name, loose.read_bytes())


def pack(path: Path, name: str, data: bytes, *, gap: int | None = None, how: int = zipfile.ZIP_STORED) -> None:
    about = zipfile.ZipInfo(name, (1980, 1, 1, 0, 0, 0))
    gap = -(34 + len(name)) % 64 if gap is None else gap
    about.extra = (0x1986).to_bytes(2, "little") + gap.to_bytes(2, "little") + bytes(gap)
    about.compress_type = how
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w") as package:
        package.writestr(about, data)
    path.write_bytes(packed.getvalue())
