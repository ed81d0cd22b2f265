"""3MF packages put together by hand: Core Specification 1.3 (3MF Consortium), Open Packaging Conventions (ISO/IEC
29500-2)."""

from __future__ import annotations

import zipfile
from pathlib import Path

import numpy as np
import pytest

from hand_gltf import CORNERS, FACES
from preview.checks import exchange_packages
from preview.checks.exchange import UNIT_MM, UnreadableError
from preview.checks.exchange_packages import digest_of_3mf, read_3mf

DIGEST = "0123456789abcdef" * 4
SOLID = CORNERS[FACES]
XML = '<?xml version="1.0" encoding="UTF-8"?>\n'
TYPES = f'{XML}<Types xmlns="http://schemas.openxmlformats.org/package/2006/content-types"/>'
KIND = "http://schemas.microsoft.com/3dmanufacturing/2013/01/3dmodel"
CORE = "http://schemas.microsoft.com/3dmanufacturing/core/2015/02"


def relations(*targets: str, kind: str = KIND) -> str:
    each = "".join(f'<Relationship Target="{target}" Id="r{i}" Type="{kind}"/>' for i, target in enumerate(targets))
    picture = '<Relationship Target="/cover.png" Id="p" Type="picture"/>'
    space = "http://schemas.openxmlformats.org/package/2006/relationships"
    return f'{XML}<Relationships xmlns="{space}">{picture}{each}</Relationships>'


def mesh(points: np.ndarray = CORNERS, triangles: np.ndarray = FACES) -> str:
    vertices = "".join(f'<vertex x="{x!r}" y="{y!r}" z="{z!r}"/>' for x, y, z in points.tolist())
    faces = "".join(f'<triangle v1="{a}" v2="{b}" v3="{c}"/>' for a, b, c in triangles.tolist())
    return f"<mesh><vertices>{vertices}</vertices><triangles>{faces}</triangles></mesh>"


BASES = (
    '<basematerials id="1"><base name="oak" displaycolor="#804020"/><base name="white" displaycolor="#FFFEFD80"/>'
    "</basematerials>"
)
MODEL = (
    f'{XML}<model xmlns="{CORE}" xmlns:m="ours" unit="inch"><metadata name="Title">a room</metadata>'
    f'<metadata name="m:digest">{DIGEST}</metadata><resources>{BASES}'
    f'<object id="2" name="base" pid="1" pindex="1">{mesh()}</object>'
    f'<object id="3" name="cap" pid="1">{mesh()}</object><object id="4">{mesh()}</object></resources>'
    '<build><item objectid="3" transform="0 1 0 -1 0 0 0 0 1 10 20 30"/><item objectid="2"/><item objectid="4"/>'
    "</build></model>"
)


def threemf(folder: Path, model: str = MODEL, **parts: str) -> Path:
    """A package of its three parts, of which any is given anew or, "", left out."""
    path = folder / "room.3mf"
    whole = {"types": ("[Content_Types].xml", TYPES), "relations": ("_rels/.rels", relations("/3D/room.model"))}
    whole["model"] = ("3D/room.model", model)
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as package:
        for key, (name, text) in whole.items():
            if parts.get(key, text):
                package.writestr(name, parts.get(key, text).encode())
    return path


def test_a_3mf_s_items_stand_where_the_build_puts_them(tmp_path: Path) -> None:
    """A transform is four rows of three; points are rows before it (3.3): x is laid along y, and y against x."""
    found = read_3mf(threemf(tmp_path))
    assert (found.unit, found.up, found.digest, found.faults) == ("inch", "z", DIGEST, ())
    assert (found.named, found.begins_anywhere) == (True, False)
    assert [part.name for part in found.parts] == ["cap", "base", ""]
    cap, base, plain = found.parts
    turned = np.column_stack([10 - CORNERS[:, 1], 20 + CORNERS[:, 0], 30 + CORNERS[:, 2]])
    assert cap.corners == pytest.approx(turned[FACES] * 25.4)
    assert base.corners == pytest.approx(SOLID * 25.4)
    assert cap.step == pytest.approx(25.4e-6)
    assert (cap.color, base.color) == (pytest.approx([128, 64, 32]), pytest.approx([255, 254, 253]))
    assert (plain.color, plain.normals, plain.uvs) == (None, None, None)


@pytest.mark.parametrize("unit", ["micron", "millimeter", "centimeter", "inch", "foot", "meter", "cubit", None])
def test_a_3mf_s_unit_is_millimeters_where_it_says_none(unit: str | None, tmp_path: Path) -> None:
    said = f' unit="{unit}"' if unit else ""
    found = read_3mf(threemf(tmp_path, MODEL.replace(' unit="inch"', said)))
    mm = UNIT_MM.get(unit or "millimeter", 1.0)
    assert found.unit == ("" if unit == "cubit" else unit or "millimeter")
    assert found.parts[1].corners == pytest.approx(SOLID * mm)
    assert found.parts[1].step == pytest.approx(1e-6 * mm)


def test_a_material_that_is_not_there_colors_nothing(tmp_path: Path) -> None:
    for old, new in (('pindex="1"', 'pindex="2"'), ('pid="1" pindex="1"', 'pid="9"')):
        assert read_3mf(threemf(tmp_path, MODEL.replace(old, new))).parts[1].color is None


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ("<model ", "<!DOCTYPE model><model ", "has a document type"),
        ("<model ", '<!ENTITY a "b"><model ', "has a document type"),
        ("UTF-8", "UTF-16", "not in UTF-8"),
        (XML, "", "not in UTF-8"),
        ('item objectid="2"', 'item objectid="7"', "builds object 7, which is not there"),
        (mesh(), "<components/>", "object cap has no mesh"),
        ("<vertices>", "<points>", None),
        ("vertices>", "points>", "object cap lacks its vertices or its triangles"),
        ("triangles>", "faces>", "object cap lacks its vertices or its triangles"),
        ('v3="1"', 'v3="1" pid="1"', "object cap: a triangle has a material of its own"),
        ('v3="3"', 'v3="4"', "object cap: a triangle names a vertex that is not there"),
        ('v1="0"', 'v1="-1"', "object cap: a triangle names a vertex that is not there"),
        ("#804020", "#80402", None),
        ("#804020", "#8040", "not written as #RRGGBB"),
        ("#804020", "#8040200000", "not written as #RRGGBB"),
        ("#804020", "", "not written as #RRGGBB"),
        ("0 1 0 -1 0 0 0 0 1 10 20 30", "1 0 0", None),
        (f'"{CORE}"', '"urn:other"', "holds no 3MF model"),
    ],
)
def test_a_3mf_s_model_at_fault_is_refused_in_words(old: str, new: str, said: str | None, tmp_path: Path) -> None:
    with pytest.raises(UnreadableError if said else (UnreadableError, ValueError, SyntaxError)) as caught:
        read_3mf(threemf(tmp_path, MODEL.replace(old, new)))
    assert (said or "") in str(caught.value)


def test_the_same_vertex_three_times_is_there(tmp_path: Path) -> None:
    model = MODEL.replace(mesh(), mesh(CORNERS, np.array([[0, 0, 0], [3, 3, 3]])))
    assert len(read_3mf(threemf(tmp_path, model)).parts[0].corners) == 2
    model = MODEL.replace(mesh(), mesh(CORNERS[:1], np.array([[0, 0, 0]])))
    assert read_3mf(threemf(tmp_path, model)).parts[1].corners.tolist() == np.zeros((1, 3, 3)).tolist()
    model = MODEL.replace(mesh(), mesh(CORNERS, np.empty((0, 3), int)))
    assert [part.corners.shape for part in read_3mf(threemf(tmp_path, model)).parts] == [(0, 3, 3)] * 3


def test_a_3mf_may_begin_with_the_mark_of_utf_8(tmp_path: Path) -> None:
    assert len(read_3mf(threemf(tmp_path, "\ufeff" + MODEL)).parts) == 3
    assert len(read_3mf(threemf(tmp_path, MODEL.replace("UTF-8", "utf-8"))).parts) == 3
    for mark in (b"\xff\xfe", b"\xfe\xff"):
        with pytest.raises(UnreadableError, match="not in UTF-8"):
            exchange_packages._parsed(mark + MODEL.encode())


@pytest.mark.parametrize(
    ("parts", "said"),
    [
        ({"types": ""}, r"it has no \[Content_Types\].xml"),
        ({"relations": ""}, r"it has no _rels/.rels"),
        ({"model": ""}, "does not say which of its parts is the model"),
        ({"relations": relations()}, "does not say which"),
        ({"relations": relations("/3D/room.model", "/3D/room.model")}, "does not say which"),
        ({"relations": relations("/3D/room.model", kind="other")}, "does not say which"),
        ({"types": TYPES.replace("<Types", "<!DOCTYPE Types><Types")}, "has a document type"),
        ({"relations": relations("/3D/room.model").replace("UTF-8", "ASCII")}, "not in UTF-8"),
        ({"types": TYPES + " " * (1 << 20)}, r"its \[Content_Types\].xml is too large to be one"),
        ({"relations": relations("/3D/room.model") + " " * (1 << 20)}, r"its _rels/.rels is too large to be one"),
    ],
)
def test_a_3mf_package_at_fault_is_refused(parts: dict[str, str], said: str, tmp_path: Path) -> None:
    path = threemf(tmp_path, **parts)
    for read in (read_3mf, digest_of_3mf):
        with pytest.raises(UnreadableError, match=said):
            read(path)


def test_a_3mf_part_as_large_as_it_may_be(tmp_path: Path) -> None:
    types = TYPES.ljust(1 << 20)
    links = relations("3D/room.model").ljust(1 << 20)  # a path may be told from where the package is
    assert len(read_3mf(threemf(tmp_path, types=types, relations=links)).parts) == 3


def test_a_3mf_unpacks_to_no_more_than_its_limit(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = threemf(tmp_path)
    with zipfile.ZipFile(path) as package:
        size = sum(info.file_size for info in package.infolist())
    monkeypatch.setattr(exchange_packages, "MOST_UNPACKED", size)
    assert len(read_3mf(path).parts) == 3
    monkeypatch.setattr(exchange_packages, "MOST_UNPACKED", size - 1)
    with pytest.raises(UnreadableError, match="it unpacks to more than"):
        read_3mf(path)
    monkeypatch.undo()
    assert exchange_packages.MOST_UNPACKED == 2_000_000_000


@pytest.mark.filterwarnings("ignore:Duplicate name")
def test_a_package_with_two_parts_of_one_name_is_refused(tmp_path: Path) -> None:
    path = threemf(tmp_path)
    with zipfile.ZipFile(path, "a") as package:
        package.writestr("3D/room.model", MODEL)
    with pytest.raises(UnreadableError, match="two parts of one name"):
        read_3mf(path)


def test_a_3mf_s_digest_stands_at_its_beginning(tmp_path: Path) -> None:
    assert digest_of_3mf(threemf(tmp_path)) == DIGEST
    for other in (DIGEST[:-1], DIGEST + "0", DIGEST.upper(), ""):
        path = threemf(tmp_path, MODEL.replace(DIGEST, other))
        assert (digest_of_3mf(path), read_3mf(path).digest) == ("", "")
    line = f'<metadata name="m:digest">{DIGEST}</metadata>'
    head = MODEL.index(line)
    for begin, told in (((1 << 20) - len(line), DIGEST), ((1 << 20) - len(line) + 1, "")):
        path = threemf(tmp_path, MODEL.replace(line, " " * (begin - head) + line))
        assert digest_of_3mf(path) == told
        assert read_3mf(path).digest == DIGEST
    named = MODEL.replace(
        '<metadata name="Title">a room', f'<metadata name="a:digest">no</metadata><metadata name="b">{DIGEST}'
    )
    assert read_3mf(threemf(tmp_path, named)).digest == DIGEST
