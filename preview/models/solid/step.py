"""STEP files (ISO 10303-242 in the text of ISO 10303-21): one named, colored product for each piece, in assemblies.

The kernel writes the geometry and the tree. What it would leave to chance or sign with its own name is settled here, so
that one scene gives one file, bit for bit: the header carries no time; the assemblies' parts are counted anew for each
file; and the colors are written in the solids' order, where the kernel would go by what lies where in memory. Names
are put in as the standard writes them, whatever they hold.
"""

from __future__ import annotations

import re
import tempfile
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from functools import partial
from itertools import count
from pathlib import Path
from typing import Any

from preview.errors import PreviewError
from preview.joinery import Piece
from preview.models.solid.kernel import REPORT, guarded, silent
from preview.models.solid.measures import Vec3, box_of, volume_of

SYSTEM = "molding-preview"
NO_TIME = "1970-01-01T00:00:00"
SCHEMA = "AP242DIS"
"""The kernel's word for AP242, of which it writes the first edition, and dates it by its draft.

Programs that read a later edition read the first as well, and nothing here needs more.
"""
EDITION = "AP242_MANAGED_MODEL_BASED_3D_ENGINEERING_MIM_LF { 1 0 10303 442 1 1 4 }"
PUBLISHED = "'ap242_managed_model_based_3d_engineering',2014"
GREATEST = ALWAYS = 1
"""The kernel's numbers for: state the largest tolerance in a solid as its uncertainty; write what is put together as
an assembly, also when it has one part."""
ABOUT = "Exact solids of molding, one for each piece"
STAND_IN = "name-{}-name"
"""What the kernel writes for a name: it neither escapes a name nor keeps it on one line."""

STYLE = (
    "FILL_AREA_STYLE_COLOUR('',{})",
    "FILL_AREA_STYLE('',({}))",
    "SURFACE_STYLE_FILL_AREA({})",
    "SURFACE_SIDE_STYLE('',({}))",
    "SURFACE_STYLE_USAGE(.BOTH.,{})",
    "PRESENTATION_STYLE_ASSIGNMENT(({}))",
)
"""A color becomes a solid's style through these, from the inside out."""

NOWHERE = (float("nan"), float("nan"), float("nan"))

Color = tuple[float, float, float]
Place = tuple[str, str, str]
"""Where a solid hangs in the tree: the names of its run and of its member there, which are assemblies, and its own."""


def write_step(
    path: Path,
    title: str,
    places: Sequence[Place],
    shapes: Sequence[Any],
    colors: Sequence[Color],
    tracks: bool = False,
    digest: str = "",
) -> None:
    """Write solids (cadquery shapes, mm) with their places in the tree and sRGB colors (0 to 1), all in one order.

    The tree: the title, in it the runs, in these their members, in these the solids. A solid's product, its occurrence
    and the solid itself bear its name, so that it is seen whichever of them a program shows.

    tracks: write every edge in the coordinates of its surfaces as well, which makes the file about three times as
    large. A reader makes them anew where they are missing, exactly on planes, cylinders, cones and tori; on a round
    that climbs, whose section is an ellipse, it may be off by one part in ten thousand of the piece's volume.

    digest: of the model, which the header's description then names.

    The file appears whole or not at all. Raises PreviewError when the kernel cannot write it, OSError when the disk
    cannot hold it.
    """
    with (
        guarded("writing the STEP file"),
        silent(),
        tempfile.TemporaryDirectory(prefix=".molding-", dir=path.parent) as folder,
    ):
        part = Path(folder) / "part.step"
        solids = _in_order(places, shapes, colors)
        above = list(dict.fromkeys(place[:depth] for place, *_ in solids for depth in (1, 2)))
        _transfer(part, solids, above, tracks, ABOUT + (f"; model {digest}" if digest else ""))
        text = _colored(_settled(part.read_text("ascii")), [color for *_, color in solids])
        own = [place[-1] for place, *_ in solids]
        text = _named(text, [path.name, *own, title, *(place[-1] for place in above)])
        part.write_text(text, "ascii", newline="\n")
        part.replace(path)


@dataclass(frozen=True)
class StepSolid:
    """A solid as a STEP file holds it, where its assemblies put it: volume mm³; the corners of its box, mm."""

    name: str
    volume: float
    low: Vec3
    high: Vec3


def read_step(path: Path) -> list[tuple[str, float]]:
    """The name and the volume, mm³, of every solid in a STEP file, read back from the disk.

    Raises PreviewError when it is not a STEP file that the kernel can read.
    """
    with guarded("reading the STEP file"):
        return [(name, volume_of(solid)) for name, solid in _read(path)]


def read_step_solids(path: Path, pieces: Sequence[Piece]) -> list[StepSolid]:
    """Every solid in a STEP file, the boxes of those that bear a piece's name, no number for the others.

    Raises PreviewError as `read_step` does.
    """
    named = {piece.name: piece for piece in pieces}
    with guarded("reading the STEP file"):
        return [
            StepSolid(name, volume_of(solid), *(box_of(named[name], solid) if name in named else (NOWHERE, NOWHERE)))
            for name, solid in _read(path)
        ]


def _read(path: Path) -> list[tuple[str, Any]]:
    """The name and the shape of every solid in a STEP file."""
    import cadquery
    from OCP.IFSelect import IFSelect_RetDone
    from OCP.STEPCAFControl import STEPCAFControl_Reader
    from OCP.XCAFDoc import XCAFDoc_DocumentTool

    with guarded("reading the STEP file"), silent():
        document = _document()
        reader = STEPCAFControl_Reader()
        reader.SetNameMode(True)
        if reader.ReadFile(str(path)) != IFSelect_RetDone or not reader.Transfer(document):
            problem = "this is no STEP file that the CAD kernel can read"
            raise PreviewError("", None, problem, "write it anew", str(path))
        tool = XCAFDoc_DocumentTool.ShapeTool_s(document.Main())
        return list(_solids(_labels(tool.GetFreeShapes), cadquery.Location()))


def _solids(products: Sequence[Any], place: Any) -> Iterator[tuple[str, Any]]:
    """The name and shape of each solid of some products at a place, or of the products they are assembled from."""
    import cadquery
    from OCP.TDF import TDF_Label
    from OCP.XCAFDoc import XCAFDoc_ShapeTool

    for product in products:
        parts = _labels(partial(XCAFDoc_ShapeTool.GetComponents_s, product))
        for part in parts:
            referred = TDF_Label()
            XCAFDoc_ShapeTool.GetReferredShape_s(part, referred)
            there = place * cadquery.Location(XCAFDoc_ShapeTool.GetLocation_s(part))
            yield from _solids([referred], there)
        if not parts:
            shape = cadquery.Shape.cast(XCAFDoc_ShapeTool.GetShape_s(product)).moved(place)
            for solid in shape.Solids():
                yield _name(product), solid


def _labels(ask: Callable[[Any], object]) -> list[Any]:
    """The labels that one of the kernel's questions puts into the sequence it is handed."""
    from OCP.TDF import TDF_LabelSequence

    found = TDF_LabelSequence()
    ask(found)
    return [found.Value(i) for i in range(1, found.Length() + 1)]


def _name(label: Any) -> str:
    from OCP.TDataStd import TDataStd_Name

    found = TDataStd_Name()
    return str(found.Get().ToExtString()) if label.FindAttribute(TDataStd_Name.GetID_s(), found) else ""


def _document() -> Any:
    """A new document of the kernel's, which holds shapes with names."""
    from OCP.TCollection import TCollection_ExtendedString
    from OCP.TDocStd import TDocStd_Document
    from OCP.XCAFApp import XCAFApp_Application

    document = TDocStd_Document(TCollection_ExtendedString("XmlOcaf"))
    XCAFApp_Application.GetApplication_s().InitDocument(document)
    return document


def _in_order(
    places: Sequence[Place], shapes: Sequence[Any], colors: Sequence[Color]
) -> list[tuple[Place, Any, Color]]:
    """Each solid with its place and color, as one meets them who walks the tree: those of a member together.

    >>> [place[-1] for place, *_ in _in_order([("a", "a/x", "1"), ("b", "b/x", "2"), ("a", "a/x", "3")], "   ", "   ")]
    ['1', '3', '2']
    """
    first: dict[tuple[str, ...], int] = {}
    for i, (run, member, _) in enumerate(places):
        first.setdefault((run,), i)
        first.setdefault((run, member), i)
    return sorted(zip(places, shapes, colors, strict=True), key=lambda each: (first[each[0][:1]], first[each[0][:2]]))


def _transfer(
    part: Path, solids: Sequence[tuple[Place, Any, Color]], above: Sequence[tuple[str, ...]], tracks: bool, about: str
) -> None:
    """Let the kernel write products, their shapes and the assemblies `above` them, with stand-ins for the names.

    These count from 1: the solids, the whole, and then the assemblies.
    """
    from OCP.APIHeaderSection import APIHeaderSection_MakeHeader
    from OCP.IFSelect import IFSelect_RetDone
    from OCP.Interface import Interface_Static
    from OCP.STEPCAFControl import STEPCAFControl_Writer
    from OCP.STEPControl import STEPControl_AsIs
    from OCP.TCollection import TCollection_ExtendedString, TCollection_HAsciiString
    from OCP.TDataStd import TDataStd_Name
    from OCP.TopLoc import TopLoc_Location
    from OCP.XCAFDoc import XCAFDoc_DocumentTool

    document = _document()
    tool = XCAFDoc_DocumentTool.ShapeTool_s(document.Main())

    def named(label: Any, number: int) -> Any:
        TDataStd_Name.Set_s(label, TCollection_ExtendedString(STAND_IN.format(number)))
        return label

    def add(product: Any, place: tuple[str, ...], number: int) -> None:
        named(product, number)
        named(tool.AddComponent(assemblies[place[:-1]], product, TopLoc_Location()), number)

    assemblies: dict[tuple[str, ...], Any] = {(): named(tool.NewShape(), len(solids) + 1)}
    for i, place in enumerate(above, start=len(solids) + 2):
        assemblies[place] = tool.NewShape()
        add(assemblies[place], place, i)
    for i, (place, shape, _) in enumerate(solids, start=1):
        add(tool.AddShape(shape.wrapped, False), place, i)
    tool.UpdateAssemblies()

    writer = STEPCAFControl_Writer()
    Interface_Static.SetCVal_s("write.step.schema", SCHEMA)
    writer.ChangeWriter().Model(True)  # a model takes the schema that is set when it is made
    Interface_Static.SetCVal_s("write.step.unit", "MM")
    Interface_Static.SetIVal_s("write.precision.mode", GREATEST)
    Interface_Static.SetIVal_s("write.step.assembly", ALWAYS)
    # These two are never ours, but the kernel keeps what any other code in this process has set.
    Interface_Static.SetCVal_s("xstep.cascade.unit", "MM")
    Interface_Static.SetIVal_s("write.stepcaf.subshapes.name", 0)
    # Curves in the surfaces' own coordinates follow from those in space, and are more than half of the file.
    Interface_Static.SetIVal_s("write.surfacecurve.mode", int(tracks))
    writer.SetNameMode(True)
    writer.SetColorMode(False)
    done = writer.Transfer(document, STEPControl_AsIs)
    header = APIHeaderSection_MakeHeader(writer.ChangeWriter().Model())
    header.SetDescriptionValue(1, TCollection_HAsciiString(about))
    header.SetName(TCollection_HAsciiString(STAND_IN.format(0)))
    header.SetTimeStamp(TCollection_HAsciiString(NO_TIME))
    for say in (header.SetAuthorValue, header.SetOrganizationValue):
        say(1, TCollection_HAsciiString(""))
    for tell in (header.SetPreprocessorVersion, header.SetOriginatingSystem):
        tell(TCollection_HAsciiString(SYSTEM))
    header.SetAuthorisation(TCollection_HAsciiString(""))
    if not done or writer.Write(str(part)) != IFSelect_RetDone:
        raise PreviewError("", None, "the CAD kernel could not write the STEP file", REPORT)


def _settled(text: str) -> str:
    """The file with each statement on one line, its edition as published, and its assemblies' parts counted from 1.

    The kernel counts on from the last file.
    """
    text = "".join(map(str.lstrip, text.replace(";\n", ";\0").split("\n"))).replace("\0", "\n")
    text = re.sub(r"(FILE_SCHEMA\(\(')[^']*", rf"\g<1>{EDITION}", text, count=1)
    text = re.sub(r"('international standard',)'[^']*',\d+", rf"\g<1>{PUBLISHED}", text, count=1)
    number = count(1)
    return re.sub(r"(= NEXT_ASSEMBLY_USAGE_OCCURRENCE\(')\d+", lambda found: found[1] + str(next(number)), text)


def _colored(text: str, colors: Sequence[Color]) -> str:
    """The file with each solid's color (ISO 10303-46) and its stand-in, in the order of the solids."""
    solids = re.findall(r"= ADVANCED_BREP_SHAPE_REPRESENTATION\('',\(#\d+,(#\d+)\),(#\d+)\);", text)
    if len(solids) != len(colors):
        problem = f"the CAD kernel wrote {len(solids)} solids to the STEP file instead of {len(colors)}"
        raise PreviewError("", None, problem, REPORT)
    known = count(1)
    text = re.sub(r"= MANIFOLD_SOLID_BREP\('(?=')", lambda found: found[0] + STAND_IN.format(next(known)), text)
    body, end, foot = text.rpartition("ENDSEC;")
    number = max(map(int, re.findall(r"^#(\d+) = ", body, re.MULTILINE)))
    lines: list[str] = []

    def add(entity: str) -> str:
        nonlocal number
        number += 1
        lines.append(f"#{number} = {entity};\n")
        return f"#{number}"

    styles: dict[Color, str] = {}
    for (solid, context), color in zip(solids, colors, strict=True):
        if color not in styles:
            style = add("COLOUR_RGB('',{:.6f},{:.6f},{:.6f})".format(*color))
            for outer in STYLE:
                style = add(outer.format(style))
            styles[color] = style
        item = add(f"STYLED_ITEM('color',({styles[color]}),{solid})")
        add(f"MECHANICAL_DESIGN_GEOMETRIC_PRESENTATION_REPRESENTATION('',({item}),{context})")
    return body + "".join(lines) + end + foot


def _named(text: str, names: Sequence[str]) -> str:
    """The file with its names in place of the stand-ins, in the standard's alphabet.

    A product's id, which stands before its name, is its name as well, with a number where another has that already.
    """
    written = [_written(name) for name in names]
    ids = [*written[:1], *_distinct(written[1:])]

    def put(found: re.Match[str]) -> str:
        return (ids if text.endswith("= PRODUCT('", 0, found.start()) else written)[int(found[1])]

    return re.sub(STAND_IN.format(r"(\d+)"), put, text)


def _distinct(names: Sequence[str]) -> list[str]:
    """
    >>> _distinct(["hall", "stair", "hall", "hall (2)"])
    ['hall', 'stair', 'hall (2)', 'hall (2) (2)']
    """
    taken: dict[str, None] = {}
    for name in names:
        tries = (f"{name} ({n})" if n > 1 else name for n in count(1))
        taken[next(each for each in tries if each not in taken)] = None
    return list(taken)


def _written(name: str) -> str:
    r"""A name as ISO 10303-21 writes it: ' and \ doubled, other characters than ASCII's by their code points.

    >>> print(_written("Länge 'A'"))
    L\X2\00E4\X0\nge ''A''
    """
    shown = "".join(c if c.isprintable() else " " for c in name)
    shown = shown.replace("\\", "\\\\").replace("'", "''")
    shown = re.sub("[\x80-\uffff]+", lambda found: _code_points("X2", found[0], 4), shown)
    return re.sub("[\U00010000-\U0010ffff]+", lambda found: _code_points("X4", found[0], 8), shown)


def _code_points(how: str, text: str, digits: int) -> str:
    return f"\\{how}\\" + "".join(f"{ord(c):0{digits}X}" for c in text) + "\\X0\\"
