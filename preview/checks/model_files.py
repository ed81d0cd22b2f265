"""Model files from anywhere, as bodies: STL (binary and text), GLB and STEP.

STL: the formats as commonly published; it has no unit, and millimeters are taken. GLB: glTF 2.0 (ISO/IEC 12113:2022),
meters and y up (see `model_glb`). STEP: ISO 10303-21, read and cut into facets by the CAD kernel, in its own unit.
"""

from __future__ import annotations

import re
import struct
from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from preview import limits
from preview.checks.model_glb import read_any_glb
from preview.checks.readers import Body, Floats, must_be_file, read_stl
from preview.errors import PreviewError, printable
from preview.models import solid

MODEL_FORMATS = {".stl": "STL", ".glb": "GLB", ".step": "STEP", ".stp": "STEP"}
"""The formats of models that can be inspected, by the ends of their names."""
OTHER_MODELS = {
    ".3ds",
    ".3mf",
    ".amf",
    ".brep",
    ".dae",
    ".dxf",
    ".fbx",
    ".gltf",
    ".iges",
    ".igs",
    ".obj",
    ".off",
    ".ply",
    ".usdz",
}
"""Ends of the names of other models, which are told apart from scenes."""
LONGEST_NAME = 200
"""Characters of a body's name; more is cut out of its middle."""
FARTHEST = 1e7
"""Coordinates past this, mm, are no model of a building's trim: 10 km."""
STEP_ENDS = b"END-ISO-10303-21"
"""What ends a STEP file (ISO 10303-21, exchange structure); only signatures and blanks may follow it."""
DXF_ENDS = b"EOF"
"""What ends a DXF file in its text form."""
MOST_AFTER = 1 << 20
"""How far before the end of a STEP file its last word is looked for, bytes."""
_VERTEX = re.compile(rb"vertex\s+(\S+)\s+(\S+)\s+(\S+)", re.IGNORECASE)
_SOLID = re.compile(rb"^[ \t]*solid\b[ \t]*([^\r\n]*)", re.IGNORECASE | re.MULTILINE)


@dataclass(frozen=True)
class Model:
    """What a model file holds: its format, its bodies, and remarks on how it was read."""

    format: str
    bodies: tuple[Body, ...]
    remarks: tuple[str, ...]


def read_model(path: Path) -> Model:
    """Read the bodies of a model file, in mm, z up.

    Raises PreviewError, naming the file, when it is none that can be read: missing, empty, cut short, over 200 MB, of
    another format than its name says, or with numbers that are no places.
    """
    kind = MODEL_FORMATS.get(path.suffix.lower())
    if kind is None:
        raise _fault(
            path,
            f"models whose bodies are measured are read from {_known()}, by the ends of their names",
            f"export {path.stem}.stl",
        )
    try:
        must_be_file(path)
        size = path.stat().st_size
        if not size:
            raise _fault(path, "the file is empty", "export it again")
        limits.MODEL_BYTES.refuse(size, "the file", "export it with coarser facets, or in parts")
        with path.open("rb") as file:
            _look(path, kind, file.read(1024))
        model = {"STL": _stl, "GLB": _glb, "STEP": _step}[kind](path)
    except OSError as error:
        raise _fault(
            path, f"the file cannot be read: {error.strerror or error}", "check that it may be read"
        ) from error
    except PreviewError as error:
        raise error.in_file(str(path)) from error.__cause__
    model = replace(
        model, bodies=tuple(replace(body, name=printable(body.name, LONGEST_NAME)) for body in model.bodies)
    )
    if not any(len(body.triangles) for body in model.bodies):
        raise _fault(path, "the file holds no triangles", "export the solid parts of the model")
    for body in model.bodies:
        _check(path, body)
    return model


def must_end_as_dxf(path: Path) -> None:
    """Refuse a drawing in DXF's text form whose last line is not the word that ends every one. Raises PreviewError."""
    if _tail(path, 100).split()[-1:] != [DXF_ENDS]:
        raise _cut_short(path, "DXF", DXF_ENDS)


def _tail(path: Path, most: int) -> bytes:
    """The last bytes of a file, so many or all."""
    with path.open("rb") as file:
        file.seek(max(0, path.stat().st_size - most))
        return file.read()


def _cut_short(path: Path, what: str, word: bytes) -> PreviewError:
    return _fault(path, f'the {what} does not end with "{word.decode()}"', "it was cut short: copy or export it again")


def _known() -> str:
    *first, last = MODEL_FORMATS
    return f"{', '.join(first)} or {last} files"


def _fault(path: Path, problem: str, fix: str) -> PreviewError:
    return PreviewError("", None, problem, fix, str(path))


def _look(path: Path, kind: str, head: bytes) -> None:
    """Refuse a file whose first bytes say that it is of another kind than its name."""
    is_ = None
    if head.startswith(b"glTF"):
        is_ = "GLB"
    elif head.lstrip().startswith(b"ISO-10303-21"):
        is_ = "STEP"
    if is_ == kind or (is_ is None and kind == "STL"):
        return
    if is_ is not None:
        suffix = next(end for end, format_ in MODEL_FORMATS.items() if format_ == is_)
        raise _fault(path, f"the file is a {is_} model, not {kind}", f"name it {path.stem}{suffix}")
    raise _fault(path, f"the file is not a {kind} model", "export it again, or give its name the right end")


def _check(path: Path, body: Body) -> None:
    if len(body.triangles) and (body.triangles.min() < 0 or body.triangles.max() >= len(body.vertices)):
        raise _fault(path, f"{body.name}: a triangle names a vertex that is not there", "export it again")
    used = body.vertices[body.triangles.ravel()]
    if not np.isfinite(used).all():
        raise _fault(path, f"{body.name}: a coordinate is not a number", "export it again")
    far = float(np.abs(used).max(initial=0.0))
    if far > FARTHEST:
        problem = f"{body.name}: a coordinate is {far:.3g} mm from the origin, more than {FARTHEST / 1e6:g} km"
        raise _fault(path, problem, "move the model to the origin, and check the unit it is exported in")


# STL ------------------------------------------------------------------------------------------------------------------


def _stl(path: Path) -> Model:
    remarks = ["STL has no unit; its numbers are taken as millimeters"]
    size = path.stat().st_size
    with path.open("rb") as file:
        head = file.read(84)
    count = struct.unpack_from("<I", head, 80)[0] if len(head) == 84 else -1
    if count >= 0 and size == 84 + 50 * count:
        bodies = [read_stl(path)]
    elif head.lstrip()[:5].lower() == b"solid":
        bodies = list(_text_stl(path))
    elif len(head) == 84 and count > 0 and b"\0" in head:
        problem = f"the STL says that it holds {count} triangles, which take {84 + 50 * count} bytes; it has {size}"
        raise _fault(path, problem, "it was cut short or changed on the way: copy or export it again")
    else:
        raise _fault(path, "the file is not an STL model", "export it again, or give its name the right end")
    reach = max((float(np.ptp(body.vertices, axis=0).max()) for body in bodies if len(body.vertices)), default=0.0)
    if 0 < reach < 20:
        remarks.append(f"the whole model reaches {reach:.3g} mm; was it exported in meters or inches?")
    return Model("STL", tuple(bodies), tuple(remarks))


def _text_stl(path: Path) -> Iterator[Body]:
    data = path.read_bytes()
    begins = list(_SOLID.finditer(data))
    if b"\0" in data[:1024]:
        raise _fault(path, "the file is neither a whole binary STL nor a text STL", "copy or export it again")
    if len(re.findall(rb"^[ \t]*endsolid\b", data, re.IGNORECASE | re.MULTILINE)) != len(begins):
        problem = 'the text STL does not end with "endsolid"'
        raise _fault(path, problem, "it was cut short: copy or export it again")
    names: dict[str, int] = {}
    for i, begin in enumerate(begins):
        stop = begins[i + 1].start() if i + 1 < len(begins) else len(data)
        part = data[begin.end() : stop]
        rows = _VERTEX.findall(part)
        if len(re.findall(rb"\bendfacet\b", part, re.IGNORECASE)) * 3 != len(rows):
            raise _fault(path, "a facet of the text STL has not three corners", "export it again")
        try:
            vertices = np.array(rows, dtype="S").astype(np.float64).reshape(-1, 3)
        except ValueError as error:
            raise _fault(path, "a coordinate of the text STL is not a number", "export it again") from error
        name = begin[1].decode("utf-8", "replace").strip() or path.stem
        names[name] = names.get(name, 0) + 1
        told = name if names[name] == 1 else f"{name} ({names[name]})"
        yield Body(told, (), vertices, np.arange(len(vertices)).reshape(-1, 3), None, _spacing(vertices))


def _spacing(vertices: Floats) -> float:
    """How far apart 32-bit numbers lie at the farthest finite coordinate."""
    far = np.abs(vertices[np.isfinite(vertices)]).max(initial=0.0)
    return float(np.spacing(np.float32(min(far, 1e30))))


# GLB and STEP --------------------------------------------------------------------------------------------------------


def _glb(path: Path) -> Model:
    return Model("GLB", *read_any_glb(path))


def _must_end(path: Path) -> None:
    """Refuse a STEP file that was cut short, before the CAD kernel is loaded, which takes its time."""
    if STEP_ENDS not in _tail(path, MOST_AFTER):
        raise _cut_short(path, "STEP file", STEP_ENDS)


def _step(path: Path) -> Model:
    _must_end(path)
    missing = solid.available()
    if missing:
        raise _fault(path, f"a STEP file needs the CAD kernel: {missing}", "install it, or export STL or GLB")
    bodies = []
    names: dict[str, int] = {}
    for name, vertices, triangles in solid.read_solids(path):
        name = name or path.stem
        names[name] = names.get(name, 0) + 1
        told = name if names[name] == 1 else f"{name} ({names[name]})"
        bodies.append(Body(told, (), vertices, triangles, None, solid.WELDED))
    if not bodies:
        raise _fault(path, "the STEP file holds no solids", "export the solid parts of the model")
    return Model(
        "STEP", tuple(bodies), (f"its solids were cut into facets within {solid.FACETS:g} mm of their surfaces",)
    )
