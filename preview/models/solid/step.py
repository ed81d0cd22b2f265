"""STEP files (ISO 10303-21, AP214): one named, colored product for each piece, in an assembly named for the scene.

The kernel writes the geometry. What it would leave to chance or sign with its own name is settled here, so that one
scene gives one file, bit for bit: the header carries no time; the assembly's parts are counted anew for each file;
and the colors are written in the pieces' order, where the kernel would go by what lies where in memory. Names are
put in as the standard writes them, whatever they hold.
"""

from __future__ import annotations

import re
import tempfile
from collections.abc import Callable, Iterator, Sequence
from functools import partial
from itertools import count
from pathlib import Path
from typing import Any

from preview.errors import PreviewError
from preview.models.solid.kernel import REPORT, guarded, silent
from preview.models.solid.measures import volume_of

SYSTEM = "molding-preview"
NO_TIME = "1970-01-01T00:00:00"
SCHEMA = "AP214IS"
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

Color = tuple[float, float, float]


def write_step(
    path: Path,
    title: str,
    names: Sequence[str],
    shapes: Sequence[Any],
    colors: Sequence[Color],
    tracks: bool = False,
    digest: str = "",
) -> None:
    """Write solids (cadquery shapes, mm) with their names and sRGB colors (0 to 1), all in one order.

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
        _transfer(part, shapes, tracks, ABOUT + (f"; model {digest}" if digest else ""))
        text = _colored(_settled(part.read_text("ascii")), colors)
        text = _named(text, [path.name, title, *names])
        part.write_text(text, "ascii", newline="\n")
        part.replace(path)


def read_step(path: Path) -> list[tuple[str, float]]:
    """The name and the volume, mm³, of every solid in a STEP file, read back from the disk.

    Raises PreviewError when it is not a STEP file that the kernel can read.
    """
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
        return list(_solids(_labels(tool.GetFreeShapes)))


def _solids(products: Sequence[Any]) -> Iterator[tuple[str, float]]:
    """The name and volume of each solid of some products, or of the products they are assembled from."""
    import cadquery
    from OCP.TDF import TDF_Label
    from OCP.XCAFDoc import XCAFDoc_ShapeTool

    for product in products:
        parts = _labels(partial(XCAFDoc_ShapeTool.GetComponents_s, product))
        for part in parts:
            referred = TDF_Label()
            XCAFDoc_ShapeTool.GetReferredShape_s(part, referred)
            yield from _solids([referred])
        if not parts:
            shape = cadquery.Shape.cast(XCAFDoc_ShapeTool.GetShape_s(product))
            for solid in shape.Solids():
                yield _name(product), volume_of(solid)


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


def _transfer(part: Path, shapes: Sequence[Any], tracks: bool, about: str) -> None:
    """Let the kernel write products, their shapes and the assembly, with stand-ins for the names."""
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
    root = tool.NewShape()
    TDataStd_Name.Set_s(root, TCollection_ExtendedString(STAND_IN.format(1)))
    for i, shape in enumerate(shapes, start=2):
        known = TCollection_ExtendedString(STAND_IN.format(i))
        product = tool.AddShape(shape.wrapped, False)
        TDataStd_Name.Set_s(product, known)
        TDataStd_Name.Set_s(tool.AddComponent(root, product, TopLoc_Location()), known)
    tool.UpdateAssemblies()

    writer = STEPCAFControl_Writer()
    Interface_Static.SetCVal_s("write.step.schema", SCHEMA)
    Interface_Static.SetCVal_s("write.step.unit", "MM")
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
    """The file with each statement on one line, and its assembly's parts counted from 1, not on from the last file."""
    text = ";\n".join("".join(line.lstrip() for line in statement.split("\n")) for statement in text.split(";\n"))
    number = count(1)
    return re.sub(r"(?<== NEXT_ASSEMBLY_USAGE_OCCURRENCE\(')\d+", lambda _: str(next(number)), text)


def _colored(text: str, colors: Sequence[Color]) -> str:
    """The file with each solid's color (ISO 10303-46), in the order of the solids."""
    solids = re.findall(r"= ADVANCED_BREP_SHAPE_REPRESENTATION\('',\(#\d+,(#\d+)\),(#\d+)\);", text)
    if len(solids) != len(colors):
        problem = f"the CAD kernel wrote {len(solids)} solids to the STEP file instead of {len(colors)}"
        raise PreviewError("", None, problem, REPORT)
    body, end, foot = text.rpartition("ENDSEC;")
    number = max(int(n) for n in re.findall(r"^#(\d+) = ", body, re.MULTILINE))
    lines: list[str] = []

    def add(entity: str) -> str:
        nonlocal number
        number += 1
        lines.append(f"#{number} = {entity};\n")
        return f"#{number}"

    styles: dict[Color, str] = {}
    for (solid, context), color in zip(solids, colors, strict=True):
        if color not in styles:
            style = add("COLOUR_RGB('',{:#.6g},{:#.6g},{:#.6g})".format(*color))
            for outer in STYLE:
                style = add(outer.format(style))
            styles[color] = style
        item = add(f"STYLED_ITEM('color',({styles[color]}),{solid})")
        add(f"MECHANICAL_DESIGN_GEOMETRIC_PRESENTATION_REPRESENTATION('',({item}),{context})")
    return body + "".join(lines) + end + foot


def _named(text: str, names: Sequence[str]) -> str:
    """The file with its names in place of the stand-ins, in the standard's alphabet."""
    return re.sub(STAND_IN.format("(\\d+)"), lambda found: _written(names[int(found[1])]), text)


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
