"""3MF and USDZ, which are zip packages, read by their own specifications.

3MF (3MF Consortium, Core Specification 1.3; Open Packaging Conventions, ISO/IEC 29500-2): by a small strict reader over
zipfile and ElementTree. A document type declaration, which could make a few bytes into gigabytes, is refused before
anything is parsed; the specification allows none.

USDZ (Alliance for OpenUSD, "USDZ File Format Specification"): the package's rules are checked with zipfile; its stage
is composed by usd-core, the library that wrote the layer too. That proves the package and what was written into it, not
usd-core itself; the tests ask another reader, tinyusdz.
"""

from __future__ import annotations

import re
import struct
import zipfile
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

import numpy as np
from numpy.typing import NDArray

from preview.checks.exchange import (
    DECIMALS,
    DIGEST,
    UNIT_MM,
    Exchange,
    Floats,
    NoReaderError,
    Part,
    UnreadableError,
    float32_step,
    in_frame,
    srgb,
    turned_up,
)

CORE = "{http://schemas.microsoft.com/3dmanufacturing/core/2015/02}"
MODEL_PART = "http://schemas.microsoft.com/3dmanufacturing/2013/01/3dmodel"
RELATION = "{http://schemas.openxmlformats.org/package/2006/relationships}Relationship"
MOST_UNPACKED = 2_000_000_000
MOST_METADATA = 1 << 20
ALIGNED = 64
"""Where the bytes of each file in a USDZ begin: at a multiple of this."""
LAYERS = (".usdc", ".usda", ".usd")


def read_3mf(path: Path) -> Exchange:
    """The build items of a 3MF package, each an object moved to its place; z is up (Core Specification, 3.3)."""
    root = _parsed(_model_part(path))
    if root.tag != f"{CORE}model":
        raise UnreadableError("its model part holds no 3MF model")
    unit = root.get("unit", "millimeter")  # what the specification says of a model without one
    objects = {found.get("id"): found for found in root.iterfind(f"{CORE}resources/{CORE}object")}
    bases = {found.get("id"): _displayed(found) for found in root.iterfind(f"{CORE}resources/{CORE}basematerials")}
    parts = []
    for item in root.iterfind(f"{CORE}build/{CORE}item"):
        found = objects.get(item.get("objectid"))
        if found is None:
            raise UnreadableError(f"it builds object {item.get('objectid')}, which is not there")
        corners = _placed(_mesh(found), item.get("transform"))
        step = DECIMALS * UNIT_MM.get(unit, 1.0)
        worn = bases.get(found.get("pid"), [])[int(found.get("pindex", 0)) :][:1]
        color = worn[0] if worn else None
        parts.append(Part(found.get("name", ""), in_frame(corners, unit, "z"), step, color=color))
    return Exchange(tuple(parts), unit if unit in UNIT_MM else "", "z", _digest(root))


def digest_of_3mf(path: Path) -> str:
    """The digest in a 3MF's metadata, "" where it has none; no more is read of it than its beginning."""
    head = _model_part(path, MOST_METADATA)
    found = re.search(rf'<metadata name="\w+:digest">({DIGEST})</metadata>'.encode(), head)
    return found[1].decode() if found else ""


def _model_part(path: Path, most: int | None = None) -> bytes:
    """The bytes of the part that the package says is its model, or the first `most` of them."""
    with zipfile.ZipFile(path) as package:
        names = package.namelist()
        if len(set(names)) != len(names):
            raise UnreadableError("it holds two parts of one name")
        if sum(info.file_size for info in package.infolist()) > MOST_UNPACKED:
            raise UnreadableError(f"it unpacks to more than {MOST_UNPACKED / 1e9:g} GB")
        for needed in ("[Content_Types].xml", "_rels/.rels"):
            if needed not in names:
                raise UnreadableError(f"it has no {needed}")
            if package.getinfo(needed).file_size > MOST_METADATA:
                raise UnreadableError(f"its {needed} is too large to be one")
        _parsed(package.read("[Content_Types].xml"))
        relations = _parsed(package.read("_rels/.rels"))
        targets = [each.get("Target", "") for each in relations.iterfind(RELATION) if each.get("Type") == MODEL_PART]
        if len(targets) != 1 or targets[0].lstrip("/") not in names:
            raise UnreadableError("it does not say which of its parts is the model")
        with package.open(targets[0].lstrip("/")) as part:
            return part.read() if most is None else part.read(most)


def _parsed(data: bytes) -> ElementTree.Element:
    """XML in UTF-8 without a document type. Raises UnreadableError for any other."""
    if data.startswith((b"\xff\xfe", b"\xfe\xff")) or not re.match(rb'(\xef\xbb\xbf)?<\?xml [^>]*"UTF-8"', data, re.I):
        raise UnreadableError("its XML is not in UTF-8")
    if b"<!DOCTYPE" in data or b"<!ENTITY" in data:
        raise UnreadableError("its XML has a document type, which the specification forbids")
    return ElementTree.fromstring(data)


def _mesh(found: ElementTree.Element) -> tuple[Floats, NDArray[np.int64]]:
    mesh = found.find(f"{CORE}mesh")
    if mesh is None:
        raise UnreadableError(f"object {found.get('name')} has no mesh")
    vertices, triangles = mesh.find(f"{CORE}vertices"), mesh.find(f"{CORE}triangles")
    if vertices is None or triangles is None:
        raise UnreadableError(f"object {found.get('name')} lacks its vertices or its triangles")
    if any("pid" in triangle.attrib for triangle in triangles):
        raise UnreadableError(f"object {found.get('name')}: a triangle has a material of its own")
    points = np.array([float(v.attrib[axis]) for v in vertices for axis in "xyz"], np.float64).reshape(-1, 3)
    named = [int(t.attrib[corner]) for t in triangles for corner in ("v1", "v2", "v3")]
    corners = np.array(named, np.int64).reshape(-1, 3)
    if len(corners) and not 0 <= corners.min() <= corners.max() < len(points):
        raise UnreadableError(f"object {found.get('name')}: a triangle names a vertex that is not there")
    return points, corners


def _displayed(bases: ElementTree.Element) -> list[Floats]:
    """The colors of a group of materials: #RRGGBB, or with its opacity behind, in sRGB (Core Specification, 5.1)."""
    found = [bytes.fromhex(base.get("displaycolor", "").removeprefix("#")) for base in bases.iterfind(f"{CORE}base")]
    if any(len(color) not in (3, 4) for color in found):
        raise UnreadableError("a material's color is not written as #RRGGBB")
    return [np.array(list(color[:3]), np.float64) for color in found]


def _placed(mesh: tuple[Floats, NDArray[np.int64]], transform: str | None) -> Floats:
    """Corners (t, 3, 3) where an item puts them: a point is a row, before its matrix of four rows of three."""
    points, corners = mesh
    if transform is not None:
        matrix = np.array([float(number) for number in transform.split()]).reshape(4, 3)
        points = points @ matrix[:3] + matrix[3]
    return points[corners]


def _digest(root: ElementTree.Element) -> str:
    said = [(each.get("name", ""), each.text or "") for each in root.iterfind(f"{CORE}metadata")]
    return next((text for name, text in said if name.endswith(":digest") and re.fullmatch(DIGEST, text)), "")


def read_usdz(path: Path) -> Exchange:
    """The meshes of a USDZ's stage, by their display names, where they stand.

    Raises UnreadableError without usd-core.
    """
    _check_package(path)
    stage, geom, shade = _stage(path)
    meters = geom.GetStageMetersPerUnit(stage)
    unit = next((name for name, size in UNIT_MM.items() if abs(meters * 1000 / size - 1) < 1e-9), "")
    up = str(geom.GetStageUpAxis(stage)).lower()
    places = geom.XformCache()
    parts = []
    for prim in stage.Traverse():
        if not prim.IsA(geom.Mesh) or "surrounding" in prim.GetCustomData():
            continue
        mesh = geom.Mesh(prim)
        stored = np.array(mesh.GetPointsAttr().Get(), np.float32).reshape(-1, 3)
        counts = np.array(mesh.GetFaceVertexCountsAttr().Get(), np.int64)
        index = np.array(mesh.GetFaceVertexIndicesAttr().Get(), np.int64)
        name = prim.GetDisplayName() or prim.GetName()
        if (counts != 3).any() or len(index) != 3 * len(counts):
            raise UnreadableError(f"{name} is not made of triangles")
        if len(index) and not 0 <= index.min() <= index.max() < len(stored):
            raise UnreadableError(f"{name}: a triangle names a point that is not there")
        matrix = np.array(places.GetLocalToWorldTransform(prim), np.float64)
        placed = stored.astype(np.float64) @ matrix[:3, :3] + matrix[3, :3]
        corners = index.reshape(-1, 3)
        normals = _at_corners(mesh.GetNormalsAttr().Get(), mesh.GetNormalsInterpolation(), corners)
        laid = geom.PrimvarsAPI(prim).GetPrimvar("st")
        uvs = _at_corners(laid.ComputeFlattened(), laid.GetInterpolation(), corners) if laid else None
        part = Part(
            name,
            in_frame(placed[corners], unit, up),
            float32_step(stored, unit),
            normals=None if normals is None else turned_up(normals @ matrix[:3, :3], up),
            uvs=uvs,
            uv_step=0.0 if uvs is None else float32_step(uvs),
            color=_bound_color(shade, prim),
        )
        parts.append(part)
    return Exchange(tuple(parts), unit, up, _root_digest(stage))


def _at_corners(values: Any, how: str, corners: NDArray[np.int64]) -> Floats | None:
    """A mesh's values at the corners of its triangles (t, 3, parts), however they are given; None where it has none."""
    if values is None:
        return None
    found = np.array(values, np.float64)
    if how in ("vertex", "varying"):
        return found[corners]
    if how == "faceVarying":
        return found.reshape(*corners.shape, -1)
    raise UnreadableError(f"a mesh has values for each {how}, not for each vertex")


def _bound_color(shade: Any, prim: Any) -> Floats | None:
    """The color of the material a prim is bound to, a UsdPreviewSurface in linear light; None where it has none."""
    material, _ = shade.MaterialBindingAPI(prim).ComputeBoundMaterial()
    if not material:
        return None
    surface, _, _ = material.ComputeSurfaceSource()
    color = surface.GetInput("diffuseColor") if surface and surface.GetShaderId() == "UsdPreviewSurface" else None
    if not color or color.HasConnectedSource() or color.Get() is None:
        return None
    return srgb(np.array(color.Get(), np.float64))


def digest_of_usdz(path: Path) -> str:
    """The digest in a USDZ's root prim, "" where it has none. Raises UnreadableError without usd-core."""
    _check_package(path)
    return _root_digest(_stage(path)[0])


def _root_digest(stage: Any) -> str:
    root = stage.GetDefaultPrim()
    said = str(root.GetCustomData().get("digest", "")) if root else ""
    return said if re.fullmatch(DIGEST, said) else ""


def _stage(path: Path) -> tuple[Any, Any, Any]:
    """A package's stage, and the parts of usd-core that know its geometry and its materials."""
    try:
        from pxr import Tf, Usd, UsdGeom, UsdShade
    except ImportError as error:
        fix = 'install it with: pip install "molding-preview[usd]"'
        raise NoReaderError("reading USD needs usd-core, which is not installed", fix) from error
    try:
        stage = Usd.Stage.Open(str(path))
    except Tf.ErrorException as error:
        raise UnreadableError("its layer of USD is damaged or of another kind") from error
    return stage, UsdGeom, UsdShade


def _check_package(path: Path) -> None:
    """The rules of a USDZ package: files as they are, neither packed nor locked, each begun at a multiple of 64."""
    with path.open("rb") as file, zipfile.ZipFile(file) as package:
        infos = package.infolist()
        if not infos or not infos[0].filename.endswith(LAYERS):
            raise UnreadableError("its first file is no layer of USD")
        for info in infos:
            if info.compress_type != zipfile.ZIP_STORED or info.flag_bits & 1:
                raise UnreadableError(f"{info.filename} is packed or locked")
            file.seek(info.header_offset)
            name, extra = struct.unpack_from("<HH", file.read(30), 26)
            if (info.header_offset + 30 + name + extra) % ALIGNED:
                raise UnreadableError(f"{info.filename} does not begin at a multiple of {ALIGNED} bytes")
        broken = package.testzip()
        if broken:
            raise UnreadableError(f"{broken} is not what was packed")
