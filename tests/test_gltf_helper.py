"""The validator is really run: it passes a sound GLB, and names what is wrong with a spoiled one.

The codes asserted here are those that the Khronos validator lists for the glTF 2.0 specification.
"""

from __future__ import annotations

import json
import struct
from pathlib import Path
from typing import Any

import pytest
import trimesh

import gltf


@pytest.fixture
def box(tmp_path: Path) -> Path:
    path = tmp_path / "box.glb"
    path.write_bytes(trimesh.Scene(trimesh.creation.box((0.1, 0.2, 0.3))).export(file_type="glb"))
    return path


def rewrite(path: Path, change: Any) -> None:
    """Pass the JSON chunk of a GLB through `change` (glTF 2.0, section 4: 12-byte header, then chunks)."""
    data = path.read_bytes()
    size = struct.unpack_from("<I", data, 12)[0]
    document = json.loads(data[20 : 20 + size])
    change(document)
    text = json.dumps(document).encode()
    text += b" " * (-len(text) % 4)
    rest = data[20 + size :]
    head = struct.pack("<4sIIII", b"glTF", 2, 20 + len(text) + len(rest), len(text), 0x4E4F534A)
    path.write_bytes(head + text + rest)


def test_a_sound_file_has_no_errors(box: Path) -> None:
    report = gltf.validate(box)
    assert report.errors == 0, report
    assert report.info["totalTriangleCount"] == 12
    assert report.info["totalVertexCount"] == 8


def test_rewriting_alone_changes_nothing(box: Path) -> None:
    before = gltf.validate(box)
    rewrite(box, lambda _: None)
    assert gltf.validate(box) == before


def test_an_accessor_longer_than_its_data_is_an_error(box: Path) -> None:
    def lengthen(document: dict[str, Any]) -> None:
        document["accessors"][0]["count"] += 3

    rewrite(box, lengthen)
    report = gltf.validate(box)
    assert report.errors >= 1
    assert "ACCESSOR_TOO_LONG" in {m.code for m in report.messages if m.severity == "error"}, report
    assert any(m.pointer.startswith("/accessors/0") for m in report.messages), report


def test_wrong_bounds_are_an_error(box: Path) -> None:
    def shrink(document: dict[str, Any]) -> None:
        accessor = next(a for a in document["accessors"] if a["type"] == "VEC3")
        accessor["max"] = [value / 2 for value in accessor["max"]]

    rewrite(box, shrink)
    report = gltf.validate(box)
    assert "ACCESSOR_MAX_MISMATCH" in {m.code for m in report.messages}, report
    assert report.errors >= 1


def test_a_file_that_is_no_gltf_is_an_error(tmp_path: Path) -> None:
    path = tmp_path / "note.glb"
    path.write_text("not a model")
    assert gltf.validate(path).errors >= 1


def test_a_missing_validator_names_the_way_out(box: Path, tmp_path: Path, monkeypatch: Any) -> None:
    monkeypatch.setattr(gltf, "FOLDER", tmp_path)
    with pytest.raises(RuntimeError, match=r"test command in README\.md"):
        gltf.validate(box)


def test_a_missing_file_is_an_error(tmp_path: Path) -> None:
    with pytest.raises(RuntimeError, match="failed on"):
        gltf.validate(tmp_path / "nothing.glb")
