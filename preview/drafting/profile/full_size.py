"""A profile at full size for other programs: DXF and SVG, in mm, in the profile's own frame.

Both are written from the exact edges: a line stays a line, an arc an arc. The wall is x = 0, the foot line y = 0.
"""

from __future__ import annotations

import math
from html import escape

import numpy as np
from numpy.typing import NDArray

from preview.paper import number, svg_path
from preview.profiles import Arc, Profile, measure

LAYER = "Profile outline"
MARGIN = 5.0
"""mm round the outline in an SVG."""


def profile_svg(profile: Profile, points: NDArray[np.float64] | None = None) -> bytes:
    """The outline as SVG at 1:1: one path of lines and arcs; a unit is a mm, x is out from the wall, y is down.

    A step up is a negative y, so the file's numbers are the profile's own. Arcs over a quarter turn come in parts.
    points (n, 2): what the profile was fitted to, (d, h) in mm, drawn as dots over it.
    """
    size = measure(profile)
    width, height = size.d_max - size.d_min + 2 * MARGIN, size.h_max - size.h_min + 2 * MARGIN
    frame = (size.d_min - MARGIN, -size.h_max - MARGIN, width, height)
    name = escape("".join(letter for letter in profile.name if letter.isprintable()), quote=False)
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{number(width)}mm" height="{number(height)}mm" '
        f'viewBox="{" ".join(number(value) for value in frame)}">\n'
        f"<title>{name}</title>\n"
        "<desc>Full size: one unit is one mm. The wall is x = 0, the foot line y = 0.</desc>\n"
        f'<path id="outline" fill="none" stroke="#000000" stroke-width="0.1" '
        f'd="{svg_path(profile.edges, places=12)}"/>\n'
        f"{_dots(points)}</svg>\n"
    ).encode()


def _dots(points: NDArray[np.float64] | None) -> str:
    """Measured points as one path of dots, a round-ended stroke of no length each; nothing where there are none."""
    if points is None:
        return ""
    drawn = "".join(f"M{number(d)} {number(-h)}h0" for d, h in points.tolist())
    return f'<path id="points" fill="none" stroke="#c0392b" stroke-width="0.2" stroke-linecap="round" d="{drawn}"/>\n'


def profile_dxf(profile: Profile) -> bytes:
    """The outline as DXF at 1:1 (release 2000, ASCII, mm): one closed polyline whose bulges are its arcs.

    The groups are those that the release's published reference requires of a whole file, from memory; the tests
    have another library audit them.
    """
    size = measure(profile)
    handles = iter(range(0x20, 0x60))
    groups: list[tuple[int, object]] = []

    def put(*pairs: tuple[int, object]) -> None:
        groups.extend(pairs)

    put((999, "molding-preview: " + profile.name.encode("ascii", "replace").decode()[:200].replace("\n", " ")))
    put((0, "SECTION"), (2, "HEADER"), (9, "$ACADVER"), (1, "AC1015"), (9, "$DWGCODEPAGE"), (3, "ANSI_1252"))
    put((9, "$INSUNITS"), (70, 4), (9, "$MEASUREMENT"), (70, 1), (9, "$HANDSEED"), (5, "FF"))
    put((9, "$EXTMIN"), (10, size.d_min), (20, size.h_min), (30, 0.0))
    put((9, "$EXTMAX"), (10, size.d_max), (20, size.h_max), (30, 0.0), (0, "ENDSEC"))
    put((0, "SECTION"), (2, "TABLES"))
    for table, entries in _tables().items():
        handle = next(handles)
        put((0, "TABLE"), (2, table), (5, f"{handle:X}"), (330, "0"), (100, "AcDbSymbolTable"), (70, len(entries)))
        if table == "DIMSTYLE":
            put((100, "AcDbDimStyleTable"))
        for code, name, kind, more in entries:
            own = RECORDS.get(name) or f"{next(handles):X}"
            put((0, table), (code, own), (330, f"{handle:X}"), (100, "AcDbSymbolTableRecord"), (100, kind), (2, name))
            put(*more)
        put((0, "ENDTAB"))
    put((0, "ENDSEC"), (0, "SECTION"), (2, "BLOCKS"))
    for name, record in RECORDS.items():
        paper = [(67, 1)] if name.startswith("*P") else []
        put((0, "BLOCK"), (5, f"{next(handles):X}"), (330, record), (100, "AcDbEntity"), *paper, (8, "0"))
        put((100, "AcDbBlockBegin"), (2, name), (70, 0), (10, 0.0), (20, 0.0), (30, 0.0), (3, name), (1, ""))
        put((0, "ENDBLK"), (5, f"{next(handles):X}"), (330, record), (100, "AcDbEntity"), *paper, (8, "0"))
        put((100, "AcDbBlockEnd"))
    put((0, "ENDSEC"), (0, "SECTION"), (2, "ENTITIES"))
    put((0, "LWPOLYLINE"), (5, f"{next(handles):X}"), (330, RECORDS["*Model_Space"]), (100, "AcDbEntity"), (8, LAYER))
    put((100, "AcDbPolyline"), (90, len(profile.edges)), (70, 1))
    for edge in profile.edges:
        put((10, edge.start[0]), (20, edge.start[1]))
        if isinstance(edge, Arc):
            put((42, math.tan(edge.sweep / 4)))
    put((0, "ENDSEC"), (0, "SECTION"), (2, "OBJECTS"))
    put((0, "DICTIONARY"), (5, "C"), (330, "0"), (100, "AcDbDictionary"), (281, 1), (3, "ACAD_GROUP"), (350, "D"))
    put((0, "DICTIONARY"), (5, "D"), (330, "C"), (100, "AcDbDictionary"), (281, 1), (0, "ENDSEC"), (0, "EOF"))
    return "".join(f"{code:3d}\r\n{_value(value)}\r\n" for code, value in groups).encode("ascii")


RECORDS = {"*Model_Space": "1A", "*Paper_Space": "1B"}
"""The block records that every file of the release has, and their handles."""


def _tables() -> dict[str, list[tuple[int, str, str, list[tuple[int, object]]]]]:
    """The symbol tables: for each entry the code of its handle, its name, its class and its own groups."""
    line: list[tuple[int, object]] = [(70, 0), (3, ""), (72, 65), (73, 0), (40, 0.0)]
    layer: list[tuple[int, object]] = [(70, 0), (62, 7), (6, "Continuous")]
    style: list[tuple[int, object]] = [
        (70, 0),
        (40, 0.0),
        (41, 1.0),
        (50, 0.0),
        (71, 0),
        (42, 2.5),
        (3, "txt"),
        (4, ""),
    ]
    return {
        "VPORT": [],
        "LTYPE": [(5, name, "AcDbLinetypeTableRecord", line) for name in ("ByBlock", "ByLayer", "Continuous")],
        "LAYER": [(5, name, "AcDbLayerTableRecord", layer) for name in ("0", LAYER)],
        "STYLE": [(5, "Standard", "AcDbTextStyleTableRecord", style)],
        "VIEW": [],
        "UCS": [],
        "APPID": [(5, "ACAD", "AcDbRegAppTableRecord", [(70, 0)])],
        "DIMSTYLE": [(105, "Standard", "AcDbDimStyleTableRecord", [(70, 0)])],
        "BLOCK_RECORD": [(5, name, "AcDbBlockTableRecord", []) for name in RECORDS],
    }


def _value(value: object) -> str:
    """A group's value; a float with every digit that counts."""
    return repr(float(value)) if isinstance(value, float) else str(value)
