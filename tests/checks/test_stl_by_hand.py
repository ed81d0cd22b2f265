"""Model files by their first and last bytes, STL in its two layouts (as commonly published), the solids of STEP files
(ISO 10303-21): hand-made, every refusal in words, and every limit at its own figure."""

from __future__ import annotations

import struct
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from hand_gltf import CORNERS, FACES, glb, tetrahedra
from preview.checks import must_end_as_dxf, read_model
from preview.errors import PreviewError

SOLID = CORNERS[FACES]
UNIT = "STL has no unit; its numbers are taken as millimeters"


def binary(corners: np.ndarray, head: bytes = b"by hand") -> bytes:
    facets = np.zeros(len(corners), [("n", "<f4", 3), ("c", "<f4", (3, 3)), ("a", "<u2")])
    facets["c"] = corners
    return head.ljust(80) + struct.pack("<I", len(corners)) + facets.tobytes()


def text(corners: np.ndarray, name: str = "cap", vertex: str = "vertex", end: str | None = None) -> str:
    lines = [f"solid {name}"]
    for triangle in corners:
        lines += ["facet normal 0 0 0", "outer loop"]
        lines += [f"{vertex} {x!r} {y!r} {z!r}" for x, y, z in triangle.tolist()]
        lines += ["endloop", "endfacet"]
    return "\n".join([*lines, f"endsolid {name}" if end is None else end]) + "\n"


def stored(data: bytes | str, name: str, folder: Path) -> Path:
    path = folder / name
    path.write_bytes(data if isinstance(data, bytes) else data.encode())
    return path


def refusal(data: bytes | str, name: str, folder: Path) -> tuple[str, str]:
    path = stored(data, name, folder)
    with pytest.raises(PreviewError) as caught:
        read_model(path)
    (problem,) = caught.value.problems
    assert problem.file == str(path)
    return problem.problem, problem.fix


# STL ------------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("vertex", ["vertex", "VERTEX", "  \tVertex"])
def test_a_text_stl_has_its_solids_by_name(vertex: str, tmp_path: Path) -> None:
    data = (
        text(SOLID, "cap", vertex) + text(SOLID + 100, "") + text(SOLID - 30, " cap ", vertex).replace("solid", "SOLID")
    )
    found = read_model(stored(data, "many.stl", tmp_path))
    assert (found.format, found.remarks) == ("STL", (UNIT,))
    assert [body.name for body in found.bodies] == ["cap", "many", "cap (2)"]
    for body, corners in zip(found.bodies, (SOLID, SOLID + 100, SOLID - 30), strict=True):
        assert body.vertices[body.triangles].tolist() == corners.tolist()
        assert (body.path, body.normals) == ((), None)
    assert [body.step for body in found.bodies] == [2.0**-18, 2.0**-16, 2.0**-19]  # 50, 150 and 30 in 24 binary digits


def test_a_text_stl_of_one_vertex_line_a_word_apart(tmp_path: Path) -> None:
    """Blanks and ends of lines of any kind stand between the words."""
    data = text(SOLID).replace("\n", "\r\n").replace(" ", "\t  ")
    (body,) = read_model(stored(data, "blanks.stl", tmp_path)).bodies
    assert body.vertices[body.triangles].tolist() == SOLID.tolist()


@pytest.mark.parametrize("solids", [1, 2])
def test_a_text_stl_without_its_last_line_is_cut_short(solids: int, tmp_path: Path) -> None:
    data = text(SOLID) * (solids - 1) + text(SOLID, end="")
    problem, fix = refusal(data, "cut.stl", tmp_path)
    assert problem == 'the text STL does not end with "endsolid"'
    assert "cut short" in fix
    assert "endsolid" in refusal(text(SOLID) + "endsolid\n", "more.stl", tmp_path)[0]


def test_facets_of_a_text_stl_have_three_corners_that_are_numbers(tmp_path: Path) -> None:
    for wrong in (text(SOLID).replace("vertex 0.0 0.0 0.0\n", "", 1), text(SOLID).replace("endfacet\n", "", 1)):
        assert "has not three corners" in refusal(wrong, "corners.stl", tmp_path)[0]
    assert "is not a number" in refusal(text(SOLID).replace("30.0", "30,0", 1), "comma.stl", tmp_path)[0]
    assert "coordinate is not a number" in refusal(text(SOLID).replace("30.0", "inf", 1), "far.stl", tmp_path)[0]


def test_a_solid_of_a_text_stl_may_be_empty(tmp_path: Path) -> None:
    found = read_model(stored(text(SOLID[:0], "nothing") + text(SOLID), "half.stl", tmp_path))
    assert [len(body.triangles) for body in found.bodies] == [0, 4]
    assert found.remarks == (UNIT,)
    problem, fix = refusal(text(SOLID[:0]), "none.stl", tmp_path)
    assert (problem, fix) == ("the file holds no triangles", "export the solid parts of the model")
    assert "holds no triangles" in refusal(binary(SOLID[:0]), "none.stl", tmp_path)[0]


def test_an_stl_s_bytes_say_which_of_the_two_it_is(tmp_path: Path) -> None:
    (body,) = read_model(stored(binary(SOLID, b"solid as a rock"), "solid.stl", tmp_path)).bodies
    assert body.vertices[body.triangles].tolist() == SOLID.tolist()
    (body,) = read_model(stored("\n  " + text(SOLID), "late.stl", tmp_path)).bodies
    assert body.name == "cap"
    whole = binary(SOLID)
    for data in (whole[:-1], whole + b"\0", whole[:84]):
        problem, fix = refusal(data, "cut.stl", tmp_path)
        assert problem == f"the STL says that it holds 4 triangles, which take 284 bytes; it has {len(data)}"
        assert "cut short" in fix
    one = binary(SOLID[:1])[:-1]
    assert "holds 1 triangles, which take 134 bytes; it has 133" in refusal(one, "cut.stl", tmp_path)[0]
    for data in (whole[:83], b"Dear all, " * 30, b"\0" * 84 + b"more", b"x"):
        assert refusal(data, "letter.stl", tmp_path)[0] == "the file is not an STL model"
    problem, _ = refusal(binary(SOLID, b"solid")[:-1], "both.stl", tmp_path)
    assert problem == "the file is neither a whole binary STL nor a text STL"


def test_a_text_stl_of_eighty_four_bytes_is_a_text(tmp_path: Path) -> None:
    data = "solid a\nendsolid a\n"
    for more in (84 - len(data), 85 - len(data), 60 - len(data)):
        assert "holds no triangles" in refusal(data + " " * more, "short.stl", tmp_path)[0]


@pytest.mark.parametrize(
    ("reach", "said"), [(19.998, "20 mm"), (20.0, ""), (0.0625, "0.0625 mm"), (1.25, "1.25 mm"), (0.0, "")]
)
def test_a_model_that_reaches_less_than_20_mm_may_be_in_another_unit(reach: float, said: str, tmp_path: Path) -> None:
    corners = np.array([[[7, 0, 0], [7 + reach, 0, 0], [7, reach / 2, 0]]])
    remarks = read_model(stored(binary(corners), "tiny.stl", tmp_path)).remarks
    told = (f"the whole model reaches {said}; was it exported in meters or inches?",) if said else ()
    assert remarks == (UNIT, *told)


def test_the_reach_is_that_of_the_largest_solid(tmp_path: Path) -> None:
    assert read_model(stored(text(SOLID / 100) + text(SOLID), "two.stl", tmp_path)).remarks == (UNIT,)
    assert len(read_model(stored(text(SOLID / 100) + text(SOLID / 50), "two.stl", tmp_path)).remarks) == 2


@pytest.mark.parametrize(("far", "fits"), [(1e7, True), (-1e7, True), (10_000_001.0, False), (-10_000_001.0, False)])
@pytest.mark.parametrize("axis", [0, 1, 2])
def test_coordinates_reach_10_km(axis: int, far: float, fits: bool, tmp_path: Path) -> None:
    corners = SOLID.copy()
    corners[1, 2, axis] = far
    if fits:
        assert read_model(stored(binary(corners), "far.stl", tmp_path)).bodies[0].step == 1.0  # from 2^23 on
        return
    problem, fix = refusal(binary(corners), "far.stl", tmp_path)
    assert problem == "far: a coordinate is 1e+07 mm from the origin, more than 10 km"
    assert "move the model to the origin" in fix


@pytest.mark.parametrize("number", [np.nan, np.inf, -np.inf])
def test_coordinates_are_numbers(number: float, tmp_path: Path) -> None:
    corners = SOLID.copy()
    corners[3, 0, 1] = number
    assert refusal(binary(corners), "odd.stl", tmp_path)[0] == "odd: a coordinate is not a number"
    assert "a coordinate is not a number" in refusal(text(corners), "odd.stl", tmp_path)[0]


def test_an_enormous_number_of_a_text_stl_is_told(tmp_path: Path) -> None:
    corners = SOLID.copy()
    corners[0, 0, 0] = 1e200
    assert "a coordinate is 1e+200 mm from the origin" in refusal(text(corners), "far.stl", tmp_path)[0]


@pytest.mark.parametrize(("letters", "cut"), [(200, False), (201, True)])
def test_long_names_are_cut_in_their_middle(letters: int, cut: bool, tmp_path: Path) -> None:
    name = "".join(chr(97 + i % 26) for i in range(letters))
    (body,) = read_model(stored(text(SOLID, name), "long.stl", tmp_path)).bodies
    assert body.name == (f"{name[:100]} ... {name[-50:]}" if cut else name)


# First and last bytes -------------------------------------------------------------------------------------------------


GLB = glb(*tetrahedra())
STEP = b"ISO-10303-21;\nHEADER;\nENDSEC;\nEND-ISO-10303-21;\n"
LETTER = b"Dear all, the molding is ready."


@pytest.mark.parametrize(
    ("data", "name", "problem", "fix"),
    [
        (GLB, "a.stl", "the file is a GLB model, not STL", "name it a.glb"),
        (GLB, "a.step", "the file is a GLB model, not STEP", "name it a.glb"),
        (STEP, "a.stl", "the file is a STEP model, not STL", "name it a.step"),
        (b"\r\n " + STEP, "a.GLB", "the file is a STEP model, not GLB", "name it a.step"),
        (binary(SOLID), "a.glb", "the file is not a GLB model", "export it again, or give its name the right end"),
        (LETTER, "a.stp", "the file is not a STEP model", "export it again, or give its name the right end"),
        (b" glTF" + GLB, "a.glb", "the file is not a GLB model", "export it again, or give its name the right end"),
        (b"", "a.stl", "the file is empty", "export it again"),
    ],
)
def test_a_file_is_of_the_kind_that_its_name_says(
    data: bytes, name: str, problem: str, fix: str, tmp_path: Path
) -> None:
    assert refusal(data, name, tmp_path) == (problem, fix)


def test_other_ends_of_names_are_told_which_are_read(tmp_path: Path) -> None:
    problem, fix = refusal(binary(SOLID), "room.obj", tmp_path)
    assert (
        problem == "models whose bodies are measured are read from .stl, .glb, .step or .stp files, by the ends of "
        "their names"
    )
    assert fix == "export room.stl"


def test_ends_of_names_may_be_in_capitals(tmp_path: Path) -> None:
    assert read_model(stored(binary(SOLID), "ROOM.STL", tmp_path)).format == "STL"
    found = read_model(stored(GLB, "ROOM.Glb", tmp_path))
    assert (found.format, [body.name for body in found.bodies]) == ("GLB", ["piece 0"])
    assert found.remarks == ("everything in the file is judged, surroundings too",)


def test_a_file_that_may_not_be_read_says_so(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = stored(binary(SOLID), "locked.stl", tmp_path)
    for error, said in ((PermissionError(13, "Permission denied"), "Permission denied"), (OSError("odd"), "odd")):

        def refuse(*_: object, error: OSError = error, **__: object) -> None:
            raise error

        with monkeypatch.context() as patch:
            patch.setattr(Path, "open", refuse)
            with pytest.raises(PreviewError, match=f"the file cannot be read: {said}"):
                read_model(path)


@pytest.mark.parametrize(("size", "fits"), [(284, True), (283, False)])
def test_a_file_as_large_as_the_limit_is_read(
    size: int, fits: bool, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("MOLDING_LIMIT_MODEL_BYTES", str(size))
    if fits:
        assert read_model(stored(binary(SOLID), "limit.stl", tmp_path)).bodies
    else:
        assert "the file has 0.000284 MB" in refusal(binary(SOLID), "limit.stl", tmp_path)[0]


@pytest.mark.parametrize("end", ["0\nEOF\n", "0\nEOF", "  0\r\nEOF\r\n\r\n", "EOF" + " " * 97])
def test_a_drawing_ends_with_its_last_word(end: str, tmp_path: Path) -> None:
    must_end_as_dxf(stored("0\nSECTION\n" * 30 + end, "plan.dxf", tmp_path))


@pytest.mark.parametrize("end", ["0\nEO", "0\nEOF\n0\n", "0\neof\n", "EOF" + " " * 98, ""])
def test_a_drawing_without_its_last_word_is_cut_short(end: str, tmp_path: Path) -> None:
    path = stored("0\nSECTION\n" * 30 + end, "plan.dxf", tmp_path)
    with pytest.raises(PreviewError, match='the DXF does not end with "EOF"'):
        must_end_as_dxf(path)


def test_a_drawing_may_be_short(tmp_path: Path) -> None:
    must_end_as_dxf(stored("EOF", "plan.dxf", tmp_path))
    with pytest.raises(PreviewError, match="cut short"):
        must_end_as_dxf(stored("", "plan.dxf", tmp_path))


# STEP, whose solids the CAD kernel would hand over --------------------------------------------------------------------


def solids(*names: str) -> list[tuple[str, np.ndarray, np.ndarray]]:
    return [(name, CORNERS + 100 * i, FACES) for i, name in enumerate(names)]


def kernel(monkeypatch: pytest.MonkeyPatch, found: list[Any], missing: str = "") -> None:
    monkeypatch.setattr("preview.models.solid.available", lambda: missing)
    monkeypatch.setattr("preview.models.solid.read_solids", lambda _: found)


def test_solids_of_a_step_file_are_numbered(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    kernel(monkeypatch, solids("cap", "", "cap", "base", "", "cap"))
    found = read_model(stored(STEP, "room.step", tmp_path))
    assert [body.name for body in found.bodies] == ["cap", "room", "cap (2)", "base", "room (2)", "cap (3)"]
    assert found.format == "STEP"
    assert found.remarks == ("its solids were cut into facets within 0.01 mm of their surfaces",)
    for i, body in enumerate(found.bodies):
        assert body.vertices.tolist() == (CORNERS + 100 * i).tolist()
        assert body.step > 0


def test_a_step_file_without_solids_or_a_kernel_is_told(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    kernel(monkeypatch, [])
    assert refusal(STEP, "none.stp", tmp_path)[0] == "the STEP file holds no solids"
    kernel(monkeypatch, solids("cap"), "it is missing")
    assert refusal(STEP, "none.stp", tmp_path)[0] == "a STEP file needs the CAD kernel: it is missing"


def test_a_step_file_ends_as_one(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Signatures may follow its last word: up to 1 MiB are looked through."""
    kernel(monkeypatch, solids("cap"))
    word = b"END-ISO-10303-21"
    whole = STEP.replace(word + b";\n", b"")
    for after, fits in ((0, True), ((1 << 20) - len(word), True), ((1 << 20) - len(word) + 1, False)):
        data = whole + word + b" " * after
        if fits:
            assert read_model(stored(data, "signed.step", tmp_path)).bodies
        else:
            assert refusal(data, "signed.step", tmp_path)[0] == f'the STEP file does not end with "{word.decode()}"'
    assert "does not end" in refusal(whole, "cut.step", tmp_path)[0]


@pytest.mark.parametrize(("lowest", "highest", "fits"), [(0, 3, True), (0, 4, False), (-1, 3, False), (-1, 4, False)])
def test_triangles_name_vertices_that_are_there(
    lowest: int, highest: int, fits: bool, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    kernel(monkeypatch, [("cap", CORNERS, np.array([[lowest, 1, 2], [0, highest, 1]]))])
    if fits:
        assert read_model(stored(STEP, "room.step", tmp_path)).bodies
    else:
        said = refusal(STEP, "room.step", tmp_path)
        assert said == ("cap: a triangle names a vertex that is not there", "export it again")


def test_vertices_that_no_triangle_uses_are_not_judged(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    points = np.vstack([CORNERS, [[np.nan, 1e9, 0]]])
    kernel(monkeypatch, [("cap", points, FACES), ("empty", points, np.empty((0, 3), np.int64))])
    assert len(read_model(stored(STEP, "room.step", tmp_path)).bodies) == 2
