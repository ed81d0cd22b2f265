"""USDZ packages put together by hand, by the USDZ File Format Specification (Alliance for OpenUSD); their layers are
written as text, in USD's own language."""

from __future__ import annotations

import zipfile
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from hand_gltf import CORNERS, FACES
from preview.checks import exchange_packages
from preview.checks.exchange import UNIT_MM, UnreadableError, srgb, turned_up
from preview.checks.exchange_packages import digest_of_usdz, read_usdz
from round_trips import pack

DIGEST = "0123456789abcdef" * 4
SOLID = CORNERS[FACES]


def numbers(rows: np.ndarray) -> str:
    return "[" + ", ".join(f"({', '.join(map(repr, row))})" for row in rows.tolist()) + "]"


def body(name: str, more: str = "", about: str = "", points: np.ndarray = CORNERS, faces: np.ndarray = FACES) -> str:
    return f"""
    def Mesh "{name}" (
        {about}
        prepend apiSchemas = ["MaterialBindingAPI"]
    )
    {{
        int[] faceVertexCounts = {[len(each) for each in faces.tolist()]}
        int[] faceVertexIndices = {[i for each in faces.tolist() for i in each]}
        point3f[] points = {numbers(points.astype(float))}
        {more}
    }}"""


OAK = """
    def Material "oak"
    {
        token outputs:surface.connect = </room/oak/look.outputs:surface>
        def Shader "look"
        {
            uniform token info:id = "UsdPreviewSurface"
            color3f inputs:diffuseColor = (0.25, 0.5, 1)
            token outputs:surface
        }
    }"""


def layer(
    *bodies: str, meters: float | None = 0.001, up: str | None = "Z", digest: str = DIGEST, oak: str = OAK
) -> str:
    said = 'defaultPrim = "room"\n' + (f"metersPerUnit = {meters!r}\n" if meters else "")
    said += f'upAxis = "{up}"\n' if up else ""
    room = f'def Xform "room" (customData = {{string digest = "{digest}"}})'
    return f"#usda 1.0\n({said})\n{room}\n{{{''.join(bodies)}{oak}\n}}\n"


def usdz(folder: Path, text: str, name: str = "room.usda", **how: Any) -> Path:
    path = folder / "room.usdz"
    pack(path, name, text.encode(), **how)
    return path


BLUE = "color3f inputs:diffuseColor = (0.25, 0.5, 1)"
OTHER = 'def Shader "other"\n{\nuniform token info:id = "UsdUVTexture"\ncolor3f outputs:rgb\n}'
PLACED = """matrix4d xformOp:transform = ((0, 2, 0, 0), (-2, 0, 0, 0), (0, 0, 2, 0), (10, 20, 30, 1))
        uniform token[] xformOpOrder = ["xformOp:transform"]"""


def test_a_usdz_s_meshes_stand_where_the_stage_puts_them(tmp_path: Path) -> None:
    """A USD matrix is for rows: here twice as large, x laid along y and y against x, and moved."""
    text = layer(body("first", PLACED, 'displayName = "bench / base"'), body("second"))
    found = read_usdz(usdz(tmp_path, text))
    assert (found.unit, found.up, found.digest) == ("millimeter", "z", DIGEST)
    first, second = found.parts
    assert (first.name, second.name) == ("bench / base", "second")
    turned = np.column_stack([10 - 2 * CORNERS[:, 1], 20 + 2 * CORNERS[:, 0], 30 + 2 * CORNERS[:, 2]])
    assert first.corners == pytest.approx(turned[FACES])
    assert second.corners == pytest.approx(SOLID)
    assert second.step == 2.0**-18
    assert (second.normals, second.uvs, second.uv_step, second.color) == (None, None, 0.0, None)


@pytest.mark.parametrize(
    ("meters", "up", "unit"),
    [(1.0, "Y", "meter"), (0.0254, "Z", "inch"), (0.3048, "Y", "foot"), (0.01, "Y", "centimeter"), (0.013, "Z", "")],
)
def test_a_usdz_says_its_unit_and_what_is_up(meters: float, up: str, unit: str, tmp_path: Path) -> None:
    found = read_usdz(usdz(tmp_path, layer(body("first"), meters=meters, up=up)))
    assert (found.unit, found.up) == (unit, up.lower())
    mm = UNIT_MM.get(unit, 1.0)
    assert found.parts[0].corners == pytest.approx(turned_up(CORNERS, up.lower())[FACES] * mm)
    assert found.parts[0].step == pytest.approx(2.0**-18 * mm)


@pytest.mark.parametrize(("off", "unit"), [(0.5e-9, "millimeter"), (2e-9, "")])
def test_a_unit_is_known_by_its_size(off: float, unit: str, tmp_path: Path) -> None:
    for sign in (1, -1):
        found = read_usdz(usdz(tmp_path, layer(body("first"), meters=0.001 * (1 + sign * off))))
        assert found.unit == unit


@pytest.mark.parametrize("how", ["vertex", "varying", "faceVarying"])
def test_what_a_mesh_wears_may_be_given_for_points_or_for_corners(how: str, tmp_path: Path) -> None:
    count = 12 if how == "faceVarying" else 4
    ways = np.tile([[0, 0, 1], [0.6, 0.8, 0], [1, 0, 0], [0, 1, 0]], (3, 1))[:count].astype(float)
    laid = np.arange(2.0 * count).reshape(count, 2)
    worn = f"""normal3f[] normals = {numbers(ways)} (interpolation = "{how}")
        texCoord2f[] primvars:st = {numbers(laid)} (interpolation = "{how}")
        rel material:binding = </room/oak>
        {PLACED.replace("2, 0", "1, 0").replace("2,", "1,")}"""
    (part,) = read_usdz(usdz(tmp_path, layer(body("first", worn)))).parts
    corner = np.arange(12).reshape(4, 3) if count == 12 else FACES
    assert part.uvs is not None
    assert part.uvs.tolist() == laid[corner].tolist()
    assert part.uv_step == float(np.spacing(np.float32(laid.max())))
    turned = np.column_stack([-ways[:, 1], ways[:, 0], ways[:, 2]])
    assert part.normals == pytest.approx(turned[corner], abs=1e-7)
    assert part.color == pytest.approx(srgb(np.array([0.25, 0.5, 1.0])))


@pytest.mark.parametrize("how", ["constant", "uniform"])
def test_normals_for_whole_faces_are_not_read(how: str, tmp_path: Path) -> None:
    worn = f'normal3f[] normals = {numbers(np.eye(4)[:, :3])} (interpolation = "{how}")'
    with pytest.raises(UnreadableError, match=f"a mesh has values for each {how}, not for each vertex"):
        read_usdz(usdz(tmp_path, layer(body("first", worn))))


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ('"UsdPreviewSurface"', '"OtherSurface"'),
        (BLUE, ""),
        (BLUE, "color3f inputs:diffuseColor"),
        (
            BLUE,
            f"{BLUE}\ncolor3f inputs:diffuseColor.connect = </room/oak/other.outputs:rgb>",
        ),
        ("token outputs:surface.connect = </room/oak/look.outputs:surface>", ""),
    ],
)
def test_a_color_is_a_preview_surface_s_own(old: str, new: str, tmp_path: Path) -> None:
    worn = "rel material:binding = </room/oak>"
    oak = OAK.replace(old, new).replace(
        '    def Shader "look"',
        f'    {OTHER}\n    def Shader "look"',
    )
    (part,) = read_usdz(usdz(tmp_path, layer(body("first", worn), oak=oak))).parts
    assert part.color is None


def test_surroundings_of_a_usdz_are_no_pieces(tmp_path: Path) -> None:
    around = body("floor", about="customData = {bool surrounding = true}")
    plain = '\n    def Xform "empty"\n    {\n    }'
    found = read_usdz(usdz(tmp_path, layer(around, body("first"), plain)))
    assert [part.name for part in found.parts] == ["first"]


@pytest.mark.parametrize(
    ("faces", "said"),
    [
        ([[0, 1, 4]], "first: a triangle names a point that is not there"),
        ([[0, 1, -1]], "first: a triangle names a point that is not there"),
        ([[0, 1, 2, 3]], "first is not made of triangles"),
        ([[0, 1, 3], [2, 2, 2]], ""),
        ([[1, 1, 1]], ""),
    ],
)
def test_a_usdz_s_meshes_are_triangles_of_points_that_are_there(
    faces: list[list[int]], said: str, tmp_path: Path
) -> None:
    path = usdz(tmp_path, layer(body("first", faces=np.array(faces))))
    if said:
        with pytest.raises(UnreadableError, match=said):
            read_usdz(path)
    else:
        assert read_usdz(path).parts[0].corners.tolist() == CORNERS[np.array(faces)].tolist()


def test_a_usdz_s_counts_fit_its_indices(tmp_path: Path) -> None:
    text = layer(body("first"))
    for old, new in (
        ("[3, 3, 3, 3]", "[3, 3, 3]"),
        ("[3, 3, 3, 3]", "[3, 3, 4, 2]"),
        ("[3, 3, 3, 3]", "[3, 3, 3, 3, 3]"),
    ):
        with pytest.raises(UnreadableError, match="first is not made of triangles"):
            read_usdz(usdz(tmp_path, text.replace(old, new)))
    empty = layer(body("first", faces=np.empty((0, 3), int)), body("second", points=np.empty((0, 3)), faces=FACES[:0]))
    assert [part.corners.shape for part in read_usdz(usdz(tmp_path, empty)).parts] == [(0, 3, 3)] * 2


def test_a_usdz_s_digest_is_its_root_s(tmp_path: Path) -> None:
    text = layer(body("first"))
    assert digest_of_usdz(usdz(tmp_path, text)) == DIGEST
    for other in (
        text.replace(DIGEST, DIGEST[:-1]),
        text.replace("digest =", "model ="),
        text.replace('defaultPrim = "room"', ""),
    ):
        path = usdz(tmp_path, other)
        assert (digest_of_usdz(path), read_usdz(path).digest) == ("", "")


def test_a_damaged_layer_is_told_in_words(tmp_path: Path) -> None:
    for read in (read_usdz, digest_of_usdz):
        with pytest.raises(UnreadableError, match="its layer of USD is damaged or of another kind"):
            read(usdz(tmp_path, "#usda 1.0\n(nonsense"))


def test_usd_files_need_their_reader(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = usdz(tmp_path, layer(body("first")))
    monkeypatch.setitem(__import__("sys").modules, "pxr", None)
    for read in (read_usdz, digest_of_usdz):
        with pytest.raises(exchange_packages.NoReaderError, match="usd-core") as caught:
            read(path)
        assert "pip install" in caught.value.fix


# The package's own rules ----------------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", ["room.usdc", "room.usda", "room.usd"])
@pytest.mark.parametrize("off", [0, 1, 16, 32, 63])
def test_files_in_a_usdz_begin_at_multiples_of_64(off: int, name: str, tmp_path: Path) -> None:
    gap = -(34 + len(name)) % 64 + off
    path = usdz(tmp_path, layer(body("first")), name, gap=gap)
    if off:
        with pytest.raises(UnreadableError, match=f"{name} does not begin at a multiple of 64 bytes"):
            exchange_packages._check_package(path)
    else:
        exchange_packages._check_package(path)


def several(path: Path, files: list[tuple[str, bytes, int, int]]) -> Path:
    """A package of files, each by name, bytes, kind of packing and how far off the right place it begins."""
    at = 0
    with path.open("wb") as out, zipfile.ZipFile(out, "w") as package:
        for name, data, how, off in files:
            about = zipfile.ZipInfo(name, (1980, 1, 1, 0, 0, 0))
            gap = -(at + 34 + len(name)) % 64 + off
            about.extra = (0x1986).to_bytes(2, "little") + gap.to_bytes(2, "little") + bytes(gap)
            about.compress_type = how
            package.writestr(about, data)
            at = out.tell()
    return path


TEXT = layer(body("first")).encode()
PLAIN, PACKED = zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED


@pytest.mark.parametrize(
    ("files", "said"),
    [
        ([("room.usda", TEXT, PLAIN, 0), ("a.png", b"picture", PLAIN, 0)], ""),
        ([("room.usda", TEXT, PLAIN, 0), ("a.png", b"picture" * 9, PLAIN, 4)], "a.png does not begin at a multiple"),
        ([("room.usda", TEXT, PACKED, 0)], "room.usda is packed or locked"),
        ([("room.usda", TEXT, PLAIN, 0), ("a.png", b"picture" * 9, PACKED, 0)], "a.png is packed or locked"),
        ([("a.png", b"picture", PLAIN, 0), ("room.usda", TEXT, PLAIN, 0)], "its first file is no layer of USD"),
        ([], "its first file is no layer of USD"),
    ],
)
def test_every_file_in_a_usdz_keeps_its_rules(
    files: list[tuple[str, bytes, int, int]], said: str, tmp_path: Path
) -> None:
    path = several(tmp_path / "room.usdz", files)
    if said:
        with pytest.raises(UnreadableError, match=said):
            exchange_packages._check_package(path)
    else:
        exchange_packages._check_package(path)
        assert len(read_usdz(path).parts) == 1


def test_a_locked_file_in_a_usdz_is_refused(tmp_path: Path) -> None:
    """Bit 0 of the flags says that a file is encrypted (ISO/IEC 21320-1 and the ZIP format's section 4.4.4)."""
    path = usdz(tmp_path, layer(body("first")))
    data = bytearray(path.read_bytes())
    data[data.index(b"PK\x01\x02") + 8] |= 1
    path.write_bytes(data)
    with pytest.raises(UnreadableError, match=r"room.usda is packed or locked"):
        exchange_packages._check_package(path)


def test_a_changed_byte_of_a_usdz_is_told(tmp_path: Path) -> None:
    path = usdz(tmp_path, layer(body("first")))
    data = path.read_bytes()
    path.write_bytes(data.replace(b"faceVertexCounts", b"faceVertexCountz"))
    with pytest.raises(UnreadableError, match=r"room.usda is not what was packed"):
        exchange_packages._check_package(path)
