"""OBJ with its MTL, PLY and STL written out by hand, as files for other programs: what they say of themselves, and
their bodies in mm, z up. PLY: as its first description lays it out (Turk, 1994); sRGB: IEC 61966-2-1."""

from __future__ import annotations

import re
import struct
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from hand_gltf import CORNERS, FACES
from preview.checks.exchange import (
    UNIT_MM,
    Part,
    UnreadableError,
    float32_step,
    in_frame,
    light_of,
    read_obj,
    read_ply,
    read_stl_parts,
    said_units,
    srgb,
    turned_up,
)

DIGEST = "0123456789abcdef" * 4
SOLID = CORNERS[FACES]


def stored(text: str | bytes, name: str, folder: Path) -> Path:
    path = folder / name
    path.write_bytes(text if isinstance(text, bytes) else text.encode())
    return path


# Words, frames and colors ---------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("said", "mm"),
    [("micron", 0.001), ("millimeter", 1), ("centimeter", 10), ("inch", 25.4), ("foot", 304.8), ("meter", 1000)],
)
def test_units_in_the_singular_and_the_plural(said: str, mm: float) -> None:
    plural = {"inch": "inches", "foot": "feet"}.get(said, f"{said}s")
    for word in (said, plural):
        found = said_units(re.match(r"(\w+) (\w)", f"{word} y"))
        assert found == (said, "y")
        assert in_frame(np.array([[1.0, 2.0, 3.0]]), found[0], "z").tolist() == [[mm, 2 * mm, 3 * mm]]
    assert UNIT_MM[said] == mm


def test_an_unknown_unit_leaves_numbers_as_they_are() -> None:
    assert said_units(re.match(r"(\w+) (\w)", "cubits y")) == ("", "y")
    assert said_units(None) == ("", "")
    assert in_frame(np.array([[1.0, 2.0, 3.0]]), "", "").tolist() == [[1, 2, 3]]


@pytest.mark.parametrize("up", ["x", "y", "z"])
def test_what_is_up_becomes_z_by_a_turn(up: str) -> None:
    """A turn keeps right hands right: the three axes still multiply to +1, and the axis that is up goes to z."""
    found = turned_up(np.eye(3), up)
    assert found["xyz".index(up)].tolist() == [0, 0, 1]
    assert np.linalg.det(found) == pytest.approx(1)
    kept = {"x": (1, [0, 1, 0]), "y": (0, [1, 0, 0]), "z": (0, [1, 0, 0])}[up]
    assert found[kept[0]].tolist() == kept[1]


def test_light_and_its_steps() -> None:
    """IEC 61966-2-1: a straight line below 0.0031308 (0.04045 of the steps), a power of 2.4 above."""
    light = np.array([0.0, 0.001, 0.0031308, 0.0031309, 0.01, 0.18, 0.5, 1.0, -0.001])
    steps = [12.92 * x if x <= 0.0031308 else 1.055 * x ** (1 / 2.4) - 0.055 for x in light.tolist()]
    assert srgb(light) == pytest.approx(255 * np.array(steps), rel=1e-13)
    assert srgb(light)[:8] == pytest.approx([0, 3.2946, 10.3148, 10.3151, 25.4625, 117.645, 187.516, 255], abs=1e-3)
    back = np.array([0, 1, 10, 10.31475, 10.32, 10.4, 11, 64, 128, 254, 255])
    wanted = [s / 255 / 12.92 if s / 255 <= 0.04045 else ((s / 255 + 0.055) / 1.055) ** 2.4 for s in back.tolist()]
    assert light_of(back) == pytest.approx(wanted, rel=1e-13)
    assert light_of(np.array([128], np.uint8)) == pytest.approx(0.215861, abs=1e-6)
    assert srgb(light_of(np.arange(256))) == pytest.approx(np.arange(256), abs=2e-4)


def test_what_a_part_is_unless_it_is_told_otherwise() -> None:
    plain = Part("cap", SOLID, 0.001)
    assert (plain.normals, plain.uvs, plain.color) == (None, None, None)
    assert (plain.normal_step, plain.uv_step, plain.color_slack) == (2.0**-23, 0.0, 0.0)


def test_how_far_apart_32_bit_numbers_lie() -> None:
    assert float32_step(np.array([[0.5, -3.0, 1.0]])) == 2.0**-22
    assert float32_step(np.array([[0.5, -3.0, 1.0]]), "meter") == 1000 * 2.0**-22
    assert float32_step(np.array([1.0]), "") == 2.0**-23
    assert float32_step(np.empty((0, 3)), "inch") == pytest.approx(25.4 * float(np.spacing(np.float32(0))))


# OBJ ------------------------------------------------------------------------------------------------------------------


MTL = "# Colors (Kd) are sRGB.\nnewmtl dark oak\nKd 0.2 0.4 1\nnewmtl white\nKd 1.0 0.5 0\n"
SAID = f"# Lengths are meters and y is up.\n# model {DIGEST}\nmtllib room.mtl\n"


def points(corners: np.ndarray, scale: float = 0.001) -> str:
    """Corners as a file with y up has them: x, z, -y."""
    return "".join(f"v {x * scale:.9f} {z * scale:.9f} {-y * scale:.9f}\n" for x, y, z in corners.tolist())


def faces(first: int, both: bool = False) -> str:
    """Faces of a tetrahedron from its first vertex; `both`: with texture coordinates and normals of those numbers."""
    return "".join(
        "f " + " ".join(f"{first + c}/{first + c}/{first + c}" if both else str(first + c) for c in face) + "\n"
        for face in FACES.tolist()
    )


def two_objects(said: str = SAID) -> str:
    uvs = "".join(f"vt {10 * i} {i + 0.5}\n" for i in range(4))
    normals = "vn 0 1 0\nvn 1 0 0\nvn 0 0 -1\nvn 0 0.6 0.8\n"
    first = f'# piece 1 "bench / base"\no bench_base\nusemtl dark oak\n{points(CORNERS)}{uvs}{normals}{faces(1, True)}'
    return f"{said}{first}o other\nusemtl white\n{points(CORNERS + np.array([100, 0, 0]))}{faces(5)}"


def test_an_obj_has_its_pieces_by_their_whole_names(tmp_path: Path) -> None:
    stored(MTL, "room.mtl", tmp_path)
    found = read_obj(stored(two_objects(), "room.obj", tmp_path))
    assert (found.unit, found.up, found.digest, found.faults) == ("meter", "y", DIGEST, ())
    assert (found.named, found.begins_anywhere) == (True, False)
    base, other = found.parts
    assert (base.name, other.name) == ("bench / base", "other")
    assert base.corners == pytest.approx(SOLID, abs=1e-6)
    assert other.corners == pytest.approx(SOLID + np.array([100, 0, 0]), abs=1e-6)
    assert base.color == pytest.approx([51, 102, 255])
    assert other.color == pytest.approx([255, 127.5, 0])
    ways = np.array([[0, 0, 1], [1, 0, 0], [0, 1, 0], [0, -0.8, 0.6]])
    assert base.normals == pytest.approx(ways[FACES], abs=1e-12)
    laid = np.array([[10.0 * i, i + 0.5] for i in range(4)])
    assert base.uvs == pytest.approx(laid[FACES])
    assert (other.normals, other.uvs) == (None, None)
    assert (base.step, base.normal_step, base.uv_step) == (1e-6, 1e-6, 1e-3)


@pytest.mark.parametrize(
    ("line", "unit", "up"),
    [
        ("# Lengths are inches and z is up.", "inch", "z"),
        ("# Lengths are millimeters and x is up.", "millimeter", "x"),
        ("# Lengths are cubits and y is up.", "", "y"),
        ("# All rights reserved.", "", ""),
    ],
)
def test_an_obj_says_its_unit_and_what_is_up(line: str, unit: str, up: str, tmp_path: Path) -> None:
    text = f"{line}\no cap\n{points(CORNERS, 1)}{faces(1)}"
    found = read_obj(stored(text, "room.obj", tmp_path))
    assert (found.unit, found.up, found.digest) == (unit, up, "")
    (part,) = found.parts
    as_written = np.column_stack([CORNERS[:, 0], CORNERS[:, 2], -CORNERS[:, 1]])
    wanted = turned_up(as_written, up) * {"inch": 25.4}.get(unit, 1.0)
    assert part.corners == pytest.approx(wanted[FACES])
    assert part.color is None


@pytest.mark.parametrize(
    ("word", "name", "told"),
    [
        ("bench_base", "bench / base", True),
        ("bench_base_2", "bench / base", True),  # the second of one word
        ("bench_base_x", "bench / base", False),
        ("bench", "bench / base", False),
        ("e\N{COMBINING ACUTE ACCENT}tage", "\N{LATIN SMALL LETTER E WITH ACUTE}tage", True),
        ("run_1½", "run 1½", True),
        ("other", "bench", False),
        ("12", "bench", False),
        ("sign", "/ <&> /", True),  # a name without a letter fits any word
    ],
)
def test_a_whole_name_fits_its_word(word: str, name: str, told: bool, tmp_path: Path) -> None:
    text = f'# piece 1 "{name}"\no {word}\n{points(CORNERS)}{faces(1)}'
    (part,) = read_obj(stored(text, "room.obj", tmp_path)).parts
    assert part.name == (name if told else word)


def test_surroundings_of_an_obj_are_no_pieces(tmp_path: Path) -> None:
    """Where a file has the group, every object without a whole name is around it; without the group each is a body."""
    base = f'# piece 1 "base"\no base\n{points(CORNERS)}{faces(1)}'
    around = f"o surroundings\ng surroundings floor\n{points(CORNERS)}{faces(5)}"
    assert [part.name for part in read_obj(stored(base + around, "a.obj", tmp_path)).parts] == ["base"]
    plain = around.replace("g surroundings floor", "g floor")
    assert [part.name for part in read_obj(stored(base + plain, "a.obj", tmp_path)).parts] == ["base", "surroundings"]


def test_materials_that_an_obj_names_are_there(tmp_path: Path) -> None:
    path = stored(two_objects(), "room.obj", tmp_path)
    found = read_obj(path)
    assert found.faults == ("room.mtl is not there",)
    assert [part.color for part in found.parts] == [None, None]
    stored(MTL.replace("white", "red"), "room.mtl", tmp_path)
    found = read_obj(path)
    assert found.faults == ("the material white is not there",)
    assert found.parts[1].color is None
    assert found.parts[0].color == pytest.approx([51, 102, 255])
    stored(MTL.replace("are sRGB.", "are what they are."), "room.mtl", tmp_path)
    found = read_obj(path)
    assert found.faults == ()
    assert [part.color for part in found.parts] == [None, None]
    stored(two_objects(SAID + "mtllib more.mtl\n"), "room.obj", tmp_path)
    stored(MTL.replace("white", "red"), "room.mtl", tmp_path)
    stored(MTL.replace("dark oak", "ash"), "more.mtl", tmp_path)
    assert read_obj(path).faults == ()
    assert read_obj(path).parts[1].color == pytest.approx([255, 127.5, 0])


def test_the_last_line_of_an_obj_ends(tmp_path: Path) -> None:
    with pytest.raises(UnreadableError, match="its last line does not end"):
        read_obj(stored(two_objects()[:-1], "room.obj", tmp_path))


# PLY ------------------------------------------------------------------------------------------------------------------


def ply(
    corners: np.ndarray,
    counts: list[int],
    order: str = "<",
    kind: str = "f4",
    said: str = f"comment units: centimeters, y up\ncomment model {DIGEST}\n",
    worn: bool = True,
    table: list[int] | None = None,
) -> bytes:
    """Two tables as usual, and a third of how many faces each piece has. order: of the bytes."""
    word = {"<": "binary_little_endian", ">": "binary_big_endian"}[order]
    columns = [(name, kind) for name in "xyz"]
    columns += [(name, "f4") for name in ("nx", "ny", "nz")] + [(name, "u1") for name in ("red", "green", "blue")]
    columns = columns if worn else columns[:3]
    rows = np.zeros(len(corners), [(name, order + k) for name, k in columns])
    for i, name in enumerate("xyz"):
        rows[name] = corners[:, i]
    if worn:
        rows["ny"], rows["nx"] = 0.8, -0.6
        rows["red"], rows["green"], rows["blue"] = 10 * np.arange(len(rows)), 7, 250
    pieces = np.zeros(len(counts), [("number", order + "u4"), ("faces", order + "u4")])
    pieces["number"], pieces["faces"] = table or np.arange(len(counts)) + 1, counts
    facets = np.zeros(len(FACES) * (len(corners) // 4), [("n", "u1"), ("c", order + "i4", 3)])
    facets["n"] = 3
    facets["c"] = np.concatenate([FACES[:0], *(FACES + 4 * i for i in range(len(corners) // 4))])
    types = {"f4": "float", "f8": "double", "u1": "uchar"}
    head = f"ply\nformat {word} 1.0\n{said}"
    head += 'comment piece 1 "bench / base"\ncomment piece 3 "cap"\n'
    head += f"element vertex {len(rows)}\n" + "".join(f"property {types[k]} {name}\n" for name, k in columns)
    head += f"element face {len(facets)}\nproperty list uchar int vertex_indices\n"
    head += f"element piece {len(pieces)}\nproperty uint number\nproperty uint faces\nend_header\n"
    return head.encode() + rows.tobytes() + facets.tobytes() + pieces.tobytes()


TWO = np.concatenate([CORNERS, CORNERS + np.array([100, 0, 0])])
Y_UP = np.column_stack([TWO[:, 0], TWO[:, 2], -TWO[:, 1]]) / 10


@pytest.mark.parametrize("order", ["<", ">"])
@pytest.mark.parametrize("kind", ["f4", "f8"])
def test_a_ply_of_each_order_and_size_of_numbers(order: str, kind: str, tmp_path: Path) -> None:
    found = read_ply(stored(ply(Y_UP, [4, 4], order, kind, table=[3, 1]), "room.ply", tmp_path))
    assert (found.unit, found.up, found.digest, found.faults) == ("centimeter", "y", DIGEST, ())
    cap, base = found.parts
    assert (cap.name, base.name) == ("cap", "bench / base")
    assert cap.corners == pytest.approx(SOLID, abs=1e-5)
    assert base.corners == pytest.approx(SOLID + np.array([100, 0, 0]), abs=1e-5)
    assert cap.step == pytest.approx(10 * 2.0 ** (-20 if kind == "f4" else -49))  # 13 cm lies between 2^3 and 2^4
    assert cap.normals == pytest.approx(np.full((4, 3, 3), [-0.6, 0, 0.8]), abs=1e-7)
    assert base.color is not None
    assert base.color[..., 0].tolist() == (40 + 10 * FACES).tolist()
    assert base.color[..., 1:].tolist() == np.full((4, 3, 2), [7, 250]).tolist()


def test_a_ply_without_faces_has_no_parts(tmp_path: Path) -> None:
    found = read_ply(stored(ply(Y_UP[:0], []), "room.ply", tmp_path))
    assert (found.parts, found.unit, found.digest) == ((), "centimeter", DIGEST)


def test_a_ply_of_three_pieces(tmp_path: Path) -> None:
    found = read_ply(stored(ply(Y_UP, [1, 4, 3]), "room.ply", tmp_path))
    assert [part.name for part in found.parts] == ["bench / base", "piece 2, which has no name", "cap"]
    assert [len(part.corners) for part in found.parts] == [1, 4, 3]


def test_a_ply_s_pieces_follow_one_another(tmp_path: Path) -> None:
    found = read_ply(stored(ply(Y_UP, [5, 3], table=[1, 2]), "room.ply", tmp_path))
    assert [part.name for part in found.parts] == ["bench / base", "piece 2, which has no name"]
    assert [len(part.corners) for part in found.parts] == [5, 3]
    both = np.concatenate([SOLID, SOLID + np.array([100, 0, 0])])
    assert np.concatenate([part.corners for part in found.parts]) == pytest.approx(both, abs=1e-5)


def test_a_ply_may_lack_what_pieces_wear_and_what_it_is(tmp_path: Path) -> None:
    found = read_ply(stored(ply(TWO, [4, 4], worn=False, said=""), "room.ply", tmp_path))
    assert (found.unit, found.up, found.digest) == ("", "", "")
    assert found.parts[0].corners.tolist() == SOLID.tolist()
    assert found.parts[0].step == 2.0**-16  # 130
    assert all(part.normals is None and part.color is None for part in found.parts)


@pytest.mark.parametrize("counts", [[4, 3], [4, 5], [0, 0]])
def test_a_ply_counts_its_faces(counts: list[int], tmp_path: Path) -> None:
    with pytest.raises(UnreadableError, match=f"its pieces have {sum(counts)} faces, and it has 8"):
        read_ply(stored(ply(Y_UP, counts), "room.ply", tmp_path))


def test_a_ply_without_places_is_not_read(tmp_path: Path) -> None:
    data = ply(Y_UP, [4, 4]).replace(b"property float z\n", b"property float w\n")
    with pytest.raises((UnreadableError, LookupError, ValueError)):
        read_ply(stored(data, "room.ply", tmp_path))


# STL ------------------------------------------------------------------------------------------------------------------


def stl(header: str) -> bytes:
    facets = np.zeros(4, [("n", "<f4", 3), ("c", "<f4", (3, 3)), ("a", "<u2")])
    facets["c"] = SOLID
    return header.encode().ljust(80) + struct.pack("<I", 4) + facets.tobytes()


@pytest.mark.parametrize(
    ("header", "unit", "up", "digest"),
    [
        (f"mm, z up, model {DIGEST}", "millimeter", "z", DIGEST),
        ("a room in millimeters, z up", "millimeter", "z", ""),
        ("a room in cmm, z up", "", "", ""),
        (f"model {DIGEST[:-1]}", "", "", ""),
        ("", "", "", ""),
    ],
)
def test_an_stl_says_in_its_header_what_it_is(header: str, unit: str, up: str, digest: str, tmp_path: Path) -> None:
    found = read_stl_parts(stored(stl(header), "room.stl", tmp_path))
    assert (found.unit, found.up, found.digest) == (unit, up, digest)
    assert (found.named, found.begins_anywhere, found.faults) == (False, True, ())
    (part,) = found.parts
    assert part.name == "room.stl"
    assert part.corners.tolist() == SOLID.tolist()
    assert part.step == 2.0**-18


def test_an_stl_cut_short_is_told_in_words(tmp_path: Path) -> None:
    with pytest.raises(UnreadableError, match="not a whole binary STL"):
        read_stl_parts(stored(stl("")[:-1], "room.stl", tmp_path))


def test_headers_of_an_stl_are_plain_letters(tmp_path: Path) -> None:
    data: Any = b"\xff" + stl("")[1:]
    with pytest.raises(UnicodeDecodeError):
        read_stl_parts(stored(data, "room.stl", tmp_path))
