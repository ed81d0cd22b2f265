"""The solids of any STEP file, cut into facets by the CAD kernel, finely."""

from __future__ import annotations

import math
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from preview.errors import PreviewError
from preview.models.solid.kernel import silent

FACETS = 0.01
"""How far, mm, a facet may stray from its surface."""
TURN = math.radians(3)
"""How far, radians, neighboring facets may turn."""
WELDED = 1e-6
"""Vertices are placed on a grid of this, mm, so that faces share those of their common edges."""

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


def solids_in(path: Path) -> list[tuple[str, Floats, Ints]]:
    """Every solid of a STEP file where its assembly puts it: its name, vertices (v, 3) in mm, triangles (t, 3).

    A damaged file can end the process: see `apart`. Raises PreviewError, naming the file, when it is not a STEP file
    that the kernel can read.
    """
    from OCP.IFSelect import IFSelect_RetDone
    from OCP.STEPCAFControl import STEPCAFControl_Reader
    from OCP.TCollection import TCollection_ExtendedString
    from OCP.TDocStd import TDocStd_Document
    from OCP.TopLoc import TopLoc_Location
    from OCP.XCAFApp import XCAFApp_Application
    from OCP.XCAFDoc import XCAFDoc_DocumentTool

    problem = "this is no STEP file that the CAD kernel can read"
    with silent():
        try:
            document = TDocStd_Document(TCollection_ExtendedString("XmlOcaf"))
            XCAFApp_Application.GetApplication_s().InitDocument(document)
            reader = STEPCAFControl_Reader()
            reader.SetNameMode(True)
            if reader.ReadFile(str(path)) != IFSelect_RetDone or not reader.Transfer(document):
                raise PreviewError("", None, problem, "export it again", str(path))
            tool = XCAFDoc_DocumentTool.ShapeTool_s(document.Main())
            free = _labels(tool.GetFreeShapes)
            return [(name, *_facets(solid)) for label in free for name, solid in _solids(label, TopLoc_Location(), "")]
        except (PreviewError, OSError):
            raise
        except Exception as error:
            said = str(error).strip() or type(error).__name__
            raise PreviewError("", None, f"{problem} ({said[:200]})", "export it again", str(path)) from error


def _solids(label: Any, place: Any, above: str) -> Iterator[tuple[str, Any]]:
    """The solids below a label of the document, placed, each with the name of its product."""
    from OCP.TDF import TDF_Label
    from OCP.TopAbs import TopAbs_SOLID
    from OCP.TopExp import TopExp_Explorer
    from OCP.XCAFDoc import XCAFDoc_ShapeTool

    referred = TDF_Label()
    if XCAFDoc_ShapeTool.GetReferredShape_s(label, referred):
        placed = place.Multiplied(XCAFDoc_ShapeTool.GetLocation_s(label))
        yield from _solids(referred, placed, _name(label) or above)
        return
    name = _name(label) or above
    parts = _labels(lambda found: XCAFDoc_ShapeTool.GetComponents_s(label, found))
    for part in parts:
        yield from _solids(part, place, name)
    if not parts:
        explorer = TopExp_Explorer(XCAFDoc_ShapeTool.GetShape_s(label).Moved(place), TopAbs_SOLID)
        while explorer.More():
            yield name, explorer.Current()
            explorer.Next()


def _facets(solid: Any) -> tuple[Floats, Ints]:
    from OCP.BRep import BRep_Tool
    from OCP.BRepMesh import BRepMesh_IncrementalMesh
    from OCP.TopAbs import TopAbs_FACE, TopAbs_REVERSED
    from OCP.TopExp import TopExp_Explorer
    from OCP.TopLoc import TopLoc_Location
    from OCP.TopoDS import TopoDS

    BRepMesh_IncrementalMesh(solid, FACETS, False, TURN, True)
    vertices: list[Floats] = []
    triangles: list[Ints] = []
    count = 0
    explorer = TopExp_Explorer(solid, TopAbs_FACE)
    while explorer.More():
        face = explorer.Current()
        explorer.Next()
        location = TopLoc_Location()
        mesh = BRep_Tool.Triangulation_s(TopoDS.Face_s(face), location)
        if mesh is None:
            continue
        move = location.Transformation()
        nodes = (mesh.Node(i).Transformed(move) for i in range(1, mesh.NbNodes() + 1))
        points = np.array([(node.X(), node.Y(), node.Z()) for node in nodes], dtype=np.float64)
        corners = np.array([mesh.Triangle(i).Get() for i in range(1, mesh.NbTriangles() + 1)], dtype=np.int64)
        corners = corners.reshape(-1, 3) - 1 + count
        vertices.append(points.reshape(-1, 3))
        triangles.append(corners[:, ::-1] if face.Orientation() == TopAbs_REVERSED else corners)
        count += len(points)
    if not triangles:
        return np.empty((0, 3)), np.empty((0, 3), dtype=np.int64)
    return np.round(np.concatenate(vertices) / WELDED) * WELDED, np.concatenate(triangles)


def _labels(ask: Any) -> list[Any]:
    from OCP.TDF import TDF_LabelSequence

    found = TDF_LabelSequence()
    ask(found)
    return [found.Value(i) for i in range(1, found.Length() + 1)]


def _name(label: Any) -> str:
    from OCP.TDataStd import TDataStd_Name

    found = TDataStd_Name()
    return str(found.Get().ToExtString()) if label.FindAttribute(TDataStd_Name.GetID_s(), found) else ""
