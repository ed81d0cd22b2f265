"""What a piece wears in a file, by corners and colors of known error; and which model a file says that it is."""

from __future__ import annotations

import json
import math
import struct
from pathlib import Path

import numpy as np
import pytest

from preview.checks import Finding, digest_in, digests
from preview.checks.dress import inspect_dress
from preview.checks.exchange import Part
from preview.joinery import join
from preview.models.mesh import mesh_runs
from preview.runs import Straight, lay_out
from test_joint_faults import STRIP

(MESH,) = mesh_runs([join(lay_out("wall", [Straight(300.0)]), "base", STRIP)])
CORNERS = MESH.points[MESH.shape.corner_point][MESH.shape.render_triangles]
NORMALS = MESH.normals[MESH.shape.render_triangles].astype(np.float64)
UVS = MESH.uvs[MESH.shape.render_triangles].astype(np.float64)
COLOR = (0.2, 0.4, 0.6)
SHOWN = np.array((51.0, 102.0, 153.0))


def asked(part: Part, suffix: str = ".glb") -> dict[str, Finding]:
    found = inspect_dress(suffix, "wall", MESH, COLOR, part)
    assert {each.subject for each in found} <= {"wall"}
    return {each.check.code: each for each in found}


def worn(**other: object) -> Part:
    given = {"normals": NORMALS, "uvs": UVS, "color": SHOWN} | other
    return Part("wall", CORNERS, 1e-6, **given)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("suffix", "codes"),
    [
        (".glb", ["file-normals", "file-uvs", "file-color"]),
        (".gltf", ["file-normals", "file-uvs", "file-color"]),
        (".obj", ["file-normals", "file-uvs", "file-color"]),
        (".usdz", ["file-normals", "file-uvs", "file-color"]),
        (".ply", ["file-normals", "file-color"]),
        (".3mf", ["file-color"]),
        (".stl", []),
        (".step", []),
    ],
)
def test_what_each_format_carries_is_asked(suffix: str, codes: list[str]) -> None:
    found = asked(worn(), suffix)
    assert list(found) == codes
    assert all(each.holds for each in found.values())
    assert [each.figure for each in found.values()] == pytest.approx([0.0] * len(codes), abs=1e-5)


def test_what_is_not_there_is_told() -> None:
    found = asked(worn(normals=None, uvs=None, color=None))
    assert {code: each.detail for code, each in found.items()} == {
        "file-normals": "it has no normals",
        "file-uvs": "it has no texture coordinates",
        "file-color": "it has no color",
    }
    few = asked(worn(normals=NORMALS[:5], uvs=UVS[:4]))
    assert few["file-normals"].detail == "it has normals for 5 triangles"
    assert few["file-uvs"].detail == "it has texture coordinates for 4 triangles"
    for each in (*found.values(), few["file-normals"], few["file-uvs"]):
        assert math.isnan(each.figure)
        assert not each.holds


@pytest.mark.parametrize("step", [0.0078125, 1e-6])
def test_a_normal_may_lean_by_the_step_of_its_three_numbers(step: float) -> None:
    turned = NORMALS.copy()
    turned[7, 1] = np.cross(NORMALS[7, 1], (0.0, 0.6, 0.8))
    turned[7, 1] /= np.linalg.norm(turned[7, 1])
    found = asked(worn(normals=turned, normal_step=step))["file-normals"]
    assert found.figure == pytest.approx(90.0)
    assert found.limit == pytest.approx(math.degrees(math.sqrt(3) * step))
    assert found.detail == ""
    against = asked(worn(normals=np.where(np.arange(len(NORMALS))[:, None, None] == 3, -NORMALS, NORMALS)))
    assert against["file-normals"].figure == pytest.approx(180.0)


@pytest.mark.parametrize(("long", "holds"), [(1.00099, True), (0.99901, True), (1.00101, False), (0.99899, False)])
def test_a_normal_is_1_long_to_a_thousandth(long: float, holds: bool) -> None:
    stretched = NORMALS.copy()
    stretched[4, 2] *= long
    found = asked(worn(normals=stretched))["file-normals"]
    assert found.holds is holds
    assert found.detail == ("" if holds else f"a normal is {long:.6g} long, not 1")


def test_texture_coordinates_are_off_by_the_farthest() -> None:
    off = UVS.copy()
    off[3, 1, 0] += 0.25
    off[5, 0, 1] -= 0.75
    found = asked(worn(uvs=off, uv_step=0.5))["file-uvs"]
    assert (found.figure, found.limit, found.holds) == (pytest.approx(0.75, rel=1e-5), 0.5, False)


@pytest.mark.parametrize(("off", "slack", "holds"), [(0.5, 0.0, True), (0.502, 0.0, False), (2.5, 2.0, True)])
def test_a_color_is_right_to_half_a_step(off: float, slack: float, holds: bool) -> None:
    """Of 255, and a thousandth for what powers leave; and what the format's own means make darker."""
    found = asked(worn(color=SHOWN - np.array((0.0, off, 0.0)), color_slack=slack))["file-color"]
    assert found.figure == pytest.approx(off)
    assert found.limit == pytest.approx(0.501 + slack)
    assert found.holds is holds
    told = f"it is 51.0 {102.0 - off:.1f} 153.0, not 51.0 102.0 153.0 (red, green, blue)"
    assert found.detail == ("" if holds else told)
    corners = np.tile(SHOWN, (len(CORNERS), 3, 1))
    corners[9, 1, 2] += 4.0
    assert asked(worn(color=corners))["file-color"].figure == pytest.approx(4.0)


# Which model a file says that it is.

DIGEST = "0123456789abcdef" * 4


def glb(folder: Path, magic: bytes = b"glTF", kind: bytes = b"JSON", digest: str = DIGEST) -> Path:
    text = json.dumps({"asset": {"version": "2.0", "extras": {"digest": digest}}}).encode()
    path = folder / "a.GLB"
    path.write_bytes(struct.pack("<4sIII4s", magic, 2, 20 + len(text), len(text), kind) + text)
    return path


def test_the_digest_of_a_glb(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    assert digest_in(glb(tmp_path)) == DIGEST
    assert digest_in(glb(tmp_path, magic=b"glTG")) == ""
    assert digest_in(glb(tmp_path, kind=b"BIN\0")) == ""
    for wrong in (DIGEST[1:], DIGEST + "0", DIGEST.upper(), ""):
        assert digest_in(glb(tmp_path, digest=wrong)) == ""
    long = glb(tmp_path).stat().st_size - 20
    monkeypatch.setattr(digests, "MOST_DOCUMENT", long)
    assert digest_in(glb(tmp_path)) == DIGEST
    monkeypatch.setattr(digests, "MOST_DOCUMENT", long - 1)
    assert digest_in(glb(tmp_path)) == ""
    monkeypatch.setattr(digests, "MOST_DOCUMENT", 200_000_000)
    path = tmp_path / "a.gltf"
    path.write_text(json.dumps({"asset": {"extras": {"digest": DIGEST}}}))
    assert digest_in(path) == DIGEST
    monkeypatch.setattr(digests, "MOST_DOCUMENT", path.stat().st_size - 1)
    assert digest_in(path) == ""


@pytest.mark.parametrize(
    ("name", "text"),
    [
        ("a.obj", "# made by\n# model {}\nv 0 0 0\n"),
        ("a.ply", "ply\ncomment model {}\nend_header\n"),
        ("a.dxf", "999\nmodel {}\n0\n"),
        ("a.step", "ISO-10303-21;\nFILE_DESCRIPTION ( ( 'a wall, model {}' ), '2;1');"),
        ("a.stp", "FILE_DESCRIPTION(('model {}'),'2;1');"),
    ],
)
def test_the_digest_near_the_head_of_a_text(name: str, text: str, tmp_path: Path) -> None:
    path = tmp_path / name
    path.write_text(text.format(DIGEST))
    assert digest_in(path) == DIGEST
    path.write_text(text.format(DIGEST + "0"))
    assert digest_in(path) == ""
    # In its first 65,536 bytes, to the last digit and not beyond.
    before = text.index("{}") + 64
    for more, found in ((65536 - before, DIGEST), (65536 - before + 1, "")):
        path.write_text("\n" * more + text.format(DIGEST))
        assert digest_in(path) == found


@pytest.mark.parametrize(("before", "found"), [(0, DIGEST), (10, DIGEST), (11, "")])
def test_the_digest_in_the_head_of_an_stl(before: int, found: str, tmp_path: Path) -> None:
    """Within its 80 bytes: 6 for the word, 64 for the digits, and what stands before."""
    path = tmp_path / "a.stl"
    path.write_bytes((b"-" * before + b" model " + DIGEST.encode()).ljust(80)[1:] + b" " * 9 + struct.pack("<I", 0))
    assert digest_in(path) == found
    assert digest_in(tmp_path / "none.stl") == ""
    assert digest_in(tmp_path / "none.txt") == ""
