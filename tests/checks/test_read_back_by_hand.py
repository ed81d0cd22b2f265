"""What is asked of a file that is read back, on a tetrahedron whose figures are known: V = 30 x 40 x 50 / 6 mm³; and
what a file that cannot be read is told, kind by kind."""

from __future__ import annotations

import json
import math
import struct
import zipfile
import zlib
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace
from typing import Any, cast
from xml.etree import ElementTree

import numpy as np
import pytest

from hand_gltf import CORNERS, FACES, VOLUME, glb, tetrahedra
from preview.checks import Finding, inspect_exchange
from preview.checks.exchange import Exchange, NoReaderError, Part, UnreadableError
from preview.checks.round_trip import BROKEN, READERS, read_exchange
from preview.errors import PreviewError
from preview.models.mesh import PieceMesh

SOLID = CORNERS[FACES]
AREA = (30 * 40 + 40 * 50 + 30 * 50) / 2 + math.sqrt((30 * 40) ** 2 + (40 * 50) ** 2 + (30 * 50) ** 2) / 2
WHITE = (1.0, 1.0, 1.0)
DIGEST = "0123456789abcdef" * 4


def mesh(name: str = "cap", points: np.ndarray = CORNERS) -> PieceMesh:
    shape = SimpleNamespace(triangles=FACES, render_triangles=FACES)
    worn = np.zeros((4, 2))
    return PieceMesh(cast("Any", SimpleNamespace(name=name)), cast("Any", shape), points, worn, worn)


def part(name: str = "cap", corners: np.ndarray = SOLID, step: float = 0.001) -> Part:
    return Part(name, corners, step)


def whole(*parts: Part, **said: Any) -> Exchange:
    return replace(Exchange(parts or (part(),), "millimeter", "z", DIGEST), **said)


@pytest.fixture
def judged(monkeypatch: pytest.MonkeyPatch) -> Callable[..., list[Finding]]:
    """What is found where a reader gives this (an STL's: none of what pieces wear)."""

    def judge(found: Exchange | Exception, *meshes: PieceMesh, digest: str | None = DIGEST) -> list[Finding]:
        def read(_: Path) -> Exchange:
            if isinstance(found, Exception):
                raise found
            return found

        monkeypatch.setitem(cast("dict[str, Any]", READERS), ".stl", read)
        shown = meshes or (mesh(),)
        return inspect_exchange(Path("folder/room.stl"), shown, [WHITE] * len(shown), digest)

    return judge


def told(findings: list[Finding], code: str) -> list[tuple[str, float, str]]:
    return [(each.subject, each.figure, each.detail) for each in findings if each.check.code == code]


# Findings -------------------------------------------------------------------------------------------------------------


def test_a_sound_file_has_these_findings(judged: Callable[..., list[Finding]]) -> None:
    found = judged(whole())
    rows = [(each.check.code, each.subject, each.figure, each.limit, each.detail) for each in found]
    size = math.hypot(30, 40, 50)
    assert rows == [
        ("file-whole", "room.stl", 0, 0, ""),
        ("file-model", "room.stl", 0, 0, ""),
        ("file-pieces", "room.stl: cap", 0, 0, ""),
        ("file-points", "room.stl: cap", 0, pytest.approx(0.001002, rel=1e-12), ""),
        ("file-volume", "room.stl: cap", pytest.approx(0, abs=1e-9), pytest.approx(0.001 * AREA), ""),
        ("file-box", "room.stl: cap", 0, pytest.approx(0.001002, rel=1e-12), ""),
        ("file-units", "room.stl", pytest.approx(0, abs=1e-15), pytest.approx(1e-6 + 2 * 0.001002 / size), ""),
        ("file-up", "room.stl", 0, pytest.approx(0.001002, rel=1e-12), ""),
    ]
    assert all(each.holds for each in found)


def test_the_volume_s_limit_is_the_larger_of_two(judged: Callable[..., list[Finding]]) -> None:
    for step, limit in ((1e-9, 1e-6 * VOLUME), (1e-3, 1e-3 * AREA)):
        (volume,) = [each for each in judged(whole(part(step=step))) if each.check.code == "file-volume"]
        assert volume.limit == pytest.approx(limit, rel=1e-9)
    turned = replace(mesh(), shape=cast("Any", SimpleNamespace(triangles=FACES[:, ::-1])))
    (volume,) = [each for each in judged(whole(part(step=1e-9)), turned) if each.check.code == "file-volume"]
    assert volume.limit == pytest.approx(1e-6 * VOLUME, rel=1e-9)
    assert volume.figure == pytest.approx(2 * VOLUME)


@pytest.mark.parametrize("away", [0.0, 5000.0])
def test_a_corner_out_of_its_place(away: float, judged: Callable[..., list[Finding]]) -> None:
    """The top by 0.3 mm up: the points, the box and the height by as much, the volume by 30 x 40 x 0.3 / 6 mm³."""
    place = np.array([away, -away, away / 2])
    points = CORNERS.copy()
    points[3, 2] += 0.3
    found = judged(whole(part(corners=points[FACES] + place)), mesh(points=CORNERS + place))
    for code, figure in {"points": 0.3, "box": 0.3, "volume": 60, "up": 0.3}.items():
        (each,) = [each for each in found if each.check.code == f"file-{code}"]
        assert each.figure == pytest.approx(figure, rel=1e-6)
        assert not each.holds
    (units,) = [each for each in found if each.check.code == "file-units"]
    assert units.figure == pytest.approx(math.hypot(30, 40, 50.3) / math.hypot(30, 40, 50) - 1, rel=1e-6)
    assert not units.holds


@pytest.mark.parametrize("axis", [0, 1])
def test_a_corner_to_the_side_is_no_higher(axis: int, judged: Callable[..., list[Finding]]) -> None:
    points = CORNERS.copy()
    points[axis + 1, axis] -= 0.25
    found = judged(whole(part(corners=points[FACES])))
    assert told(found, "file-up") == [("room.stl", 0, "")]
    assert told(found, "file-box") == [("room.stl: cap", pytest.approx(0.25), "")]
    assert told(found, "file-points") == [("room.stl: cap", pytest.approx(0.25), "")]


def test_the_whole_is_all_pieces_together(judged: Callable[..., list[Finding]]) -> None:
    far = CORNERS + np.array([1000, 0, 200])
    found = judged(whole(part(), part("far", far[FACES] * 1.001, step=0.01)), mesh(), mesh("far", far))
    (units,) = [each for each in found if each.check.code == "file-units"]
    size = math.hypot(1030, 40, 250)
    assert units.figure == pytest.approx(math.hypot(1030 * 1.001, 40.04, 250.25) / size - 1)
    assert units.limit == pytest.approx(1e-6 + 2 * 0.010002 / size)
    (up,) = [each for each in found if each.check.code == "file-up"]
    assert (up.figure, up.limit) == (pytest.approx(0.25), pytest.approx(0.010002))


def test_another_number_of_triangles(judged: Callable[..., list[Finding]]) -> None:
    found = judged(whole(part(corners=SOLID[:3])))
    assert told(found, "file-points") == [("room.stl: cap", pytest.approx(math.nan, nan_ok=True), "3 triangles, not 4")]
    found = judged(whole(part(corners=SOLID[:0]), part("other")), mesh(), mesh("other"))
    assert told(found, "file-volume")[0][1] == pytest.approx(VOLUME, abs=1e-6)
    assert math.isnan(told(found, "file-box")[0][1])
    assert told(found, "file-up") == [("room.stl", 0, "")]


def test_a_file_of_nothing_but_empty_bodies_fails_in_figures(judged: Callable[..., list[Finding]]) -> None:
    found = judged(whole(part(corners=SOLID[:0])))
    codes = [each.check.code for each in found]
    assert codes == ["file-whole", "file-model", "file-pieces", "file-points", "file-volume", "file-box"]
    assert [each.holds for each in found] == [True] * 3 + [False] * 3


def test_a_volume_is_taken_from_a_corner_of_its_own(judged: Callable[..., list[Finding]]) -> None:
    """An open body has a volume only as seen from a point: here the first corner of its first triangle."""
    (volume,) = [each for each in judged(whole(part(corners=SOLID[1:]))) if each.check.code == "file-volume"]
    first = SOLID[1, 0]
    seen = sum(float(np.dot(a - first, np.cross(b - first, c - first))) for a, b, c in SOLID[1:]) / 6
    assert volume.figure == pytest.approx(abs(seen - VOLUME), abs=1e-9)
    away = part(corners=SOLID[[3, 0, 1]] + 1e4)
    (volume,) = [each for each in judged(whole(away)) if each.check.code == "file-volume"]
    first = SOLID[3, 0]
    seen = sum(float(np.dot(a - first, np.cross(b - first, c - first))) for a, b, c in SOLID[[3, 0, 1]]) / 6
    assert volume.figure == pytest.approx(abs(seen - VOLUME), abs=1e-4)


def test_what_a_file_does_not_say_is_no_number(judged: Callable[..., list[Finding]]) -> None:
    found = judged(whole(unit="", up=""))
    for code, said in (("file-units", "it states none that is known"), ("file-up", "it states none")):
        ((_, figure, detail),) = told(found, code)
        assert math.isnan(figure)
        assert detail == said


def test_the_model_is_named(judged: Callable[..., list[Finding]]) -> None:
    other = "f" * 64
    assert told(judged(whole(), digest=None), "file-model") == []
    said = "it says 0123456789ab..., not ffffffffffff..."
    assert told(judged(whole(), digest=other), "file-model") == [("room.stl", 1, said)]
    assert told(judged(whole(digest=""), digest=other), "file-model") == [("room.stl", 1, "it names none")]


def test_faults_are_counted_and_told(judged: Callable[..., list[Finding]]) -> None:
    assert told(judged(whole(faults=("one", "two"))), "file-whole") == [("room.stl", 2, "one; two")]
    assert len(judged(whole(faults=("one",)))) == 8


def test_pieces_are_there_once_by_their_names(judged: Callable[..., list[Finding]]) -> None:
    extra = [part(name) for name in ("a", "b", "c", "d")]
    found = judged(whole(part(), part("twice"), *extra, part("twice")), mesh(), mesh("none"), mesh("twice"))
    assert told(found, "file-pieces") == [
        ("room.stl: cap", 0, ""),
        ("room.stl: none", 1, "the file holds 0 bodies of this name"),
        ("room.stl: twice", 1, "the file holds 2 bodies of this name"),
        ("room.stl", 4, "bodies that are no piece's: a, b, c"),
    ]
    assert [subject for subject, *_ in told(found, "file-points")] == ["room.stl: cap"]
    found = judged(whole(part("other")))
    assert [each.check.code for each in found] == ["file-whole", "file-model", "file-pieces", "file-pieces"]
    assert [(each.figure, each.limit) for each in found[2:]] == [(1, 0), (1, 0)]
    thrice = judged(whole(part(), part(), part()))
    assert told(thrice, "file-pieces") == [("room.stl: cap", 2, "the file holds 3 bodies of this name")]


@pytest.mark.parametrize(
    ("letter", "stands"),
    [("\t", " "), ("\n", " "), ("\r", " "), ("\x1f", "\ufffd"), ("\ud800", "\ufffd"), ("\udfff", "\ufffd")]
    + [("\ufffe", "\ufffd"), ("\uffff", "\ufffd"), ("\x0b", "\ufffd")]
    + [(same, same) for same in (" ", "!", "\ud7ff", "\ue000", "\ufffd", "\x7f", "e\u0301", "\U0001f6aa")],
)
def test_letters_that_no_format_holds(letter: str, stands: str, judged: Callable[..., list[Finding]]) -> None:
    """XML 1.0, 2.2, has neither most control characters, nor halves of pairs, nor U+FFFE and U+FFFF."""
    found = judged(whole(part(f"cap{stands}a")), mesh(f"cap{letter}a"))
    assert [figure for _, figure, _ in told(found, "file-pieces")] == [0]
    other = judged(whole(part("cap\ufffda" if stands != "\ufffd" else "cap a")), mesh(f"cap{letter}a"))
    assert [figure for _, figure, _ in told(other, "file-pieces")] == [1, 1]


def test_pieces_without_names_are_told_apart_by_their_order(judged: Callable[..., list[Finding]]) -> None:
    """An STL: four triangles each, in the order of the pieces; what is left over is no piece's, what lacks is none."""
    far = CORNERS + np.array([100, 0, 0])
    meshes = mesh(), mesh("far", far)
    both = np.concatenate([SOLID, far[FACES]])
    found = judged(whole(part("room.stl", both), named=False), *meshes)
    assert [figure for _, figure, _ in told(found, "file-pieces")] == [0, 0]
    assert [figure for _, figure, _ in told(found, "file-points")] == [0, 0]
    found = judged(whole(part("room.stl", both[:7]), named=False), *meshes)
    assert told(found, "file-pieces") == [
        ("room.stl: cap", 0, ""),
        ("room.stl: far", 1, "the file holds 0 bodies of this name"),
    ]
    found = judged(whole(part("room.stl", np.concatenate([both, both[:3]])), named=False), *meshes)
    assert told(found, "file-pieces")[-1] == ("room.stl", 1, "bodies that are no piece's: 3 triangles more")


def test_triangles_may_begin_anywhere_where_the_format_says_so(judged: Callable[..., list[Finding]]) -> None:
    turned = np.stack([np.roll(each, i, axis=0) for i, each in enumerate(SOLID)])
    for may, points in ((True, 0.0), (False, 50.0)):
        found = judged(whole(part(corners=turned), begins_anywhere=may))
        assert told(found, "file-points")[0][1] == pytest.approx(points)


def test_a_format_without_a_reader_has_no_findings() -> None:
    assert inspect_exchange(Path("plan.dxf"), [mesh()], [WHITE], DIGEST) == []


# What cannot be read --------------------------------------------------------------------------------------------------


class NamelessError(OSError):
    """As the system gives them where it has no words."""


ERRORS: list[tuple[Exception, str]] = [
    (UnreadableError("it is\n  odd " + "and long " * 40), ("it is odd " + "and long " * 40)[:200]),
    (FileNotFoundError(2, "No such file", "folder/oak.png"), "oak.png, which it needs beside it, is not there"),
    (FileNotFoundError(2, "No such file", "folder/room.stl"), "it cannot be read to its end (No such file)"),
    (FileNotFoundError(2, "No such file"), "it cannot be read to its end (No such file)"),
    (PermissionError(13, "Permission denied", "folder/oak.png"), "it cannot be read to its end (Permission denied)"),
    (NamelessError("odd"), "it cannot be read to its end"),
    (json.JSONDecodeError("odd", "{", 1), "its JSON is cut short or damaged"),
    (UnicodeDecodeError("utf-8", b"\xff", 0, 1, "odd"), "its text is damaged, or not in UTF-8"),
    (ElementTree.ParseError("odd"), "its XML is cut short or damaged"),
    (MemoryError(), "it takes more memory than there is"),
    (EOFError(), "it is cut short or damaged"),
    (struct.error(), "it is cut short or damaged"),
    (zipfile.BadZipFile(), "it is cut short or damaged"),
    (zlib.error(), "it is cut short or damaged"),
    *((kind(), "it is cut short, damaged, or laid out in a way that is not read") for kind in (ZeroDivisionError,)),
    *((kind("odd"), "it is cut short, damaged, or laid out in a way that is not read") for kind in BROKEN[:3]),
    (KeyError("odd"), "it is cut short, damaged, or laid out in a way that is not read"),
    (ValueError("odd"), "it is cut short, damaged, or laid out in a way that is not read"),
]


@pytest.mark.parametrize(("error", "said"), ERRORS, ids=lambda value: type(value).__name__)
def test_what_cannot_be_read_is_told_in_words(
    error: Exception, said: str, judged: Callable[..., list[Finding]], tmp_path: Path
) -> None:
    (found,) = judged(error)
    assert (found.check.code, found.subject, found.figure, found.limit) == ("file-whole", "room.stl", 1, 0)
    assert found.detail == said.strip()
    path = tmp_path / "room.stl"
    path.write_bytes(b"anything")
    with pytest.raises(PreviewError) as caught:
        read_exchange(path)
    (problem,) = caught.value.problems
    if said.endswith("folder/room.stl"):
        return
    assert problem.problem == f"this is no STL that can be read: {said.strip()}"
    assert (problem.fix, problem.file) == ("copy or export it again", str(path))


def test_a_missing_reader_says_what_installs_it(judged: Callable[..., list[Finding]], tmp_path: Path) -> None:
    error = NoReaderError("reading it needs a library", "install it")
    assert judged(error)[0].detail == "reading it needs a library; install it"
    path = tmp_path / "room.stl"
    path.write_bytes(b"anything")
    with pytest.raises(PreviewError) as caught:
        read_exchange(path)
    (problem,) = caught.value.problems
    assert (problem.problem, problem.fix, problem.file) == ("reading it needs a library", "install it", str(path))


GLB = glb(*tetrahedra())
OBJ = "v 0 0 0\nv 1 0 0\nv 0 1 0\nf 1 2 3\n"


@pytest.mark.parametrize(
    ("name", "data", "said"),
    [
        ("room.stl", b"", "no STL that can be read: the file is empty"),
        ("room.glb", b"", "no GLB that can be read: the file is empty"),
        ("room.obj", GLB, "no OBJ that can be read: it is a GLB"),
        ("room.stl", GLB, "no STL that can be read: it is a GLB"),
        ("room.glb", b"ply\nformat", "no GLB that can be read: it is a PLY"),
        ("room.ply", b" \r\nISO-10303-21;", "no PLY that can be read: it is a STEP file"),
        ("room.ply", b"plywood", "no PLY that can be read: by its first bytes it is of another kind, or damaged"),
        ("room.gltf", b"PK\x03\x04", "no glTF that can be read: it is a ZIP package"),
        ("room.3mf", b'\xef\xbb\xbf {"asset"', "no 3MF that can be read: it is a JSON text"),
        ("room.usdz", b' \n{"asset"', "no USDZ that can be read: it is a JSON text"),
        ("room.3mf", b"Dear all", "no 3MF that can be read: by its first bytes"),
        ("room.obj", OBJ.encode() + b"\0", "no OBJ that can be read: it is not a text"),
        ("room.obj", OBJ[:-8].encode(), "no OBJ that can be read: it has no vertices with faces"),
        ("room.obj", b"f 1 2 3\nvn 0 0 1\n", "no OBJ that can be read: it has no vertices with faces"),
        ("room.obj", b"# v 0 0 0\n# f 1 2 3\n", "no OBJ that can be read: it has no vertices with faces"),
        ("room.obj", OBJ[:-1].encode(), "no OBJ that can be read: its last line does not end"),
    ],
)
def test_a_file_of_another_kind_is_told(name: str, data: bytes, said: str, tmp_path: Path) -> None:
    path = tmp_path / name
    path.write_bytes(data)
    with pytest.raises(PreviewError) as caught:
        read_exchange(path)
    assert said in caught.value.problems[0].problem


def test_sound_files_are_read_whatever_the_case_of_their_names(tmp_path: Path) -> None:
    for name, data in (
        ("a.GLB", GLB),
        ("a.obj", OBJ.encode()),
        ("b.Obj", b" \tv\t.5 0 0\nv 1 0 0\nv 0 1 0\n\tf -3 2 1\n"),
    ):
        path = tmp_path / name
        path.write_bytes(data)
        assert isinstance(read_exchange(path), Exchange)


def test_a_file_without_triangles_holds_no_body(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "room.stl"
    path.write_bytes(b"anything")
    empty = part(corners=SOLID[:0])
    for found, holds in ((whole(empty), False), (whole(empty, part()), True), (whole(empty, empty), False)):
        monkeypatch.setitem(cast("dict[str, Any]", READERS), ".stl", lambda _, found=found: found)
        if holds:
            assert read_exchange(path) is found
        else:
            with pytest.raises(PreviewError, match="it holds no body with triangles"):
                read_exchange(path)


def test_faces_of_an_obj_need_no_object(tmp_path: Path) -> None:
    path = tmp_path / "room.obj"
    path.write_text(OBJ)
    assert read_exchange(path).parts == ()


def test_a_file_as_large_as_the_limit_is_read(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "a.glb"
    path.write_bytes(GLB)
    monkeypatch.setenv("MOLDING_LIMIT_MODEL_BYTES", str(len(GLB)))
    assert len(read_exchange(path).parts) == 1
    monkeypatch.setenv("MOLDING_LIMIT_MODEL_BYTES", str(len(GLB) - 1))
    with pytest.raises(PreviewError, match="the file has") as caught:
        read_exchange(path)
    assert caught.value.problems[0].file == str(path)
    with pytest.raises(PreviewError, match="there is no file of this name"):
        read_exchange(tmp_path / "none.glb")
