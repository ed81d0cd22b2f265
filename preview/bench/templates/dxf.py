"""A template as DXF at full size (release 2000, ASCII): in inches or mm as the scene is written, a layer for each use.

A line stays a line and an arc an arc, also in a chain, where it is a bulge. A curve that is neither is a fine polyline,
and the file says how near it is.
"""

from __future__ import annotations

import io
import math
from typing import TYPE_CHECKING

from preview.bench.templates.template import LAYERS, NOTES, Role, Template, TemplateLine, box_of
from preview.profiles import Arc, Line
from preview.units import Unit, counted

if TYPE_CHECKING:
    from ezdxf.document import Drawing
    from ezdxf.layouts.layout import Modelspace

INCHES, MILLIMETERS = 1, 4
"""$INSUNITS (DXF reference, header variables; from memory, and ezdxf has the same)."""
COLORS: dict[Role, int] = {
    "cut": 1,
    "back": 7,
    "face": 7,
    "wall": 5,
    "edge": 7,
    "profile": 7,
    "guide": 8,
    "center": 3,
}
TYPE = 3.0
"""mm, the height of the notes."""


def template_dxf(template: Template, unit: Unit, job: str = "") -> bytes:
    """A template as DXF, its own origin at (0, 0); what is written is on a layer of its own."""
    from ezdxf import options  # type: ignore[attr-defined]
    from ezdxf.filemanagement import new

    before = options.write_fixed_meta_data_for_testing
    options.write_fixed_meta_data_for_testing = True  # no clock in the file: the same job gives the same bytes
    try:
        document = new("R2000", units=INCHES if unit in ("in", "ft") else MILLIMETERS)
        _draw(document, template, unit, job)
        written = io.StringIO()
        document.write(written)
    finally:
        options.write_fixed_meta_data_for_testing = before
    return written.getvalue().encode(document.output_encoding, "dxfreplace")


def _draw(document: Drawing, template: Template, unit: Unit, job: str) -> None:
    from ezdxf.enums import TextEntityAlignment

    inch = unit in ("in", "ft")
    scale = 1 / 25.4 if inch else 1.0
    document.header["$MEASUREMENT"] = int(not inch)
    for role, name in LAYERS.items():
        document.layers.add(name, color=COLORS[role])
    document.layers.add(NOTES, color=8)
    space = document.modelspace()
    lines = (*template.lines, *template.more)
    for line in lines:
        _put(space, line, scale)
    for label in template.labels:
        words = label.text.replace("{sign}", template.sign).replace("≈", "about ")
        text = space.add_text(words, height=label.size * scale, dxfattribs={"layer": NOTES})
        text.set_placement(_at(label.at, scale), align=TextEntityAlignment.CENTER)
    left, low, right, high = (value * scale for value in box_of(lines))
    for i, words in enumerate(notes(template, inch, job)):
        note = space.add_text(words, height=TYPE * scale, dxfattribs={"layer": NOTES})
        note.set_placement((left, low - (20.0 + 5.0 * i) * scale))
    space.reset_extents((left, low, 0.0), (right, high, 0.0))


def notes(template: Template, inch: bool, job: str) -> list[str]:
    """What is written in the file: the heading, the pieces, the words, and how near its curves are."""
    curve = "Every curve is the exact arc."
    if template.strays:
        curve = (
            f"Curves that are no arcs are polylines within {max(template.strays, 0.001):.3f} mm of the true curve; "
            "lines and arcs are exact."
        )
        if template.kind == "raked profile":
            curve = f"Its rounds are tangent arcs within {max(template.strays, 0.0001):.4f} mm of the true ellipses."
    return [
        f"{template.sign} {template.title}" + (f" - {job}" if job else ""),
        f"For {counted(len(template.pieces), 'place')}: {', '.join(template.pieces)}",
        *template.words,
        f"Full size, in {'inches' if inch else 'millimeters'}. {curve}",
    ]


def _put(space: Modelspace, line: TemplateLine, scale: float) -> None:
    """A line in the file: a line or an arc by itself as one, edges end to end as polylines."""
    attributes = {"layer": LAYERS[line.role]}
    chains: list[list[Line | Arc]] = []
    for edge in line.edges:
        if chains and chains[-1][-1].end == edge.start:
            chains[-1].append(edge)
        else:
            chains.append([edge])
    for edges in chains:
        first = edges[0]
        if len(edges) == 1 and isinstance(first, Line):
            space.add_line(_at(first.start, scale), _at(first.end, scale), dxfattribs=attributes)
        elif len(edges) == 1 and isinstance(first, Arc):
            center = first.center
            begin, end = (first.start, first.end) if first.sweep > 0 else (first.end, first.start)
            first_angle, last_angle = (math.degrees(math.atan2(y - center[1], x - center[0])) for x, y in (begin, end))
            space.add_arc(
                _at(first.center, scale), first.radius * scale, first_angle, last_angle, dxfattribs=attributes
            )
        else:
            closed = edges[-1].end == edges[0].start
            points = [
                (*_at(edge.start, scale), math.tan(edge.sweep / 4) if isinstance(edge, Arc) else 0.0) for edge in edges
            ]
            points += [] if closed else [(*_at(edges[-1].end, scale), 0.0)]
            space.add_lwpolyline(points, format="xyb", close=closed, dxfattribs=attributes)


def _at(point: tuple[float, float], scale: float) -> tuple[float, float]:
    return (point[0] * scale, point[1] * scale)
