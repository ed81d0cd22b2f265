"""A drawing as DXF (release 2000): strokes and words in mm become entities at true size in the scene's own unit.

A line is a LINE, an arc an ARC, a whole circle a CIRCLE; edges end to end are one polyline, arcs in it as bulges. All
colors and line weights are those of the layers. Every entity of a piece carries the piece's name as extended data.
"""

from __future__ import annotations

import io
import math
import re
import unicodedata
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING, Literal

from preview.profiles import Arc, Edge, Line, Point
from preview.units import Unit

if TYPE_CHECKING:
    from ezdxf.document import Drawing
    from ezdxf.entities.dxfgfx import DXFGraphic
    from ezdxf.layouts.layout import Modelspace

MM = {"in": 25.4, "ft": 25.4, "mm": 1.0, "cm": 10.0, "m": 1000.0}
"""The length, mm, of a drawing unit. What is written in feet and inches is drawn in inches, as houses are."""
INSUNITS = {"in": 1, "ft": 1, "mm": 4, "cm": 5, "m": 6}
"""$INSUNITS (DXF reference, header variables; from memory, and ezdxf has the same)."""
UNIT_WORDS = {1: "inches", 4: "millimeters", 5: "centimeters", 6: "meters"}
ARCHITECTURAL, DECIMAL = 4, 2
"""$LUNITS: how lengths are shown (the same source)."""
OWNER = "MOLDING_PIECE"
"""The application name of the extended data that names an entity's piece."""
LONGEST = 240
"""The most letters of a word; a string of extended data holds 255 bytes (the same source)."""
SHORTEST = 1e-7
"""mm; a shorter edge is none, and a point nearer than that to the line between its neighbors is not needed."""
SAME = 1e-9
Dash = Literal["", "DASHED", "CHAIN"]
Align = Literal["left", "middle", "right"]
DASHES: dict[Dash, tuple[str, tuple[float, ...]]] = {
    "DASHED": ("Hidden or overhead", (40.0, -20.0)),
    "CHAIN": ("Folds", (80.0, -16.0, 10.0, -16.0)),
}
"""What they are for, and mm on (+) and off (-) at true size."""


@dataclass(frozen=True)
class Layer:
    """A layer: its color by number, its line weight in 1/100 mm, and its dashes."""

    name: str
    color: int
    weight: int
    dash: Dash = ""


WALL = Layer("WALL LINE", 1, 50)
BACK = Layer("MOLDING BACK", 8, 25)
FACE = Layer("MOLDING FACE", 7, 35)
ENDS = Layer("MOLDING ENDS", 7, 35)
JOINTS = Layer("JOINTS", 6, 25)
OUTLINE = Layer("MOLDING OUTLINE", 7, 35)
ARRISES = Layer("ARRIS LINES", 8, 13)
HIDDEN = Layer("MOLDING HIDDEN", 9, 13, "DASHED")
BLOCKS = Layer("BLOCKS", 30, 35)
CASING = Layer("CASING SECTION", 5, 35)
OVERHEAD = Layer("CASING OVERHEAD", 5, 18, "DASHED")
FOLDS = Layer("FOLD LINES", 8, 13, "CHAIN")
FLOOR = Layer("FLOOR LINE", 7, 50)
NAMES = Layer("PIECE NAMES", 94, 18)
AROUND = Layer("SURROUNDINGS", 9, 13)
NOTES = Layer("NOTES", 8, 18)
LAYERS = (
    WALL,
    BACK,
    FACE,
    ENDS,
    JOINTS,
    OUTLINE,
    ARRISES,
    HIDDEN,
    BLOCKS,
    CASING,
    OVERHEAD,
    FOLDS,
    FLOOR,
    NAMES,
    AROUND,
    NOTES,
)
"""In the order in which they stand in a file; a file has those that it uses."""


@dataclass(frozen=True)
class Stroke:
    """Edges end to end, mm; `piece`: whose they are."""

    layer: Layer
    edges: tuple[Edge, ...]
    piece: str = ""


@dataclass(frozen=True)
class Word:
    """A line of text: where, mm; how high its capitals are, mm; its direction, radians; which part of it is there."""

    layer: Layer
    text: str
    at: Point
    height: float
    angle: float = 0.0
    align: Align = "left"
    piece: str = ""


@dataclass(frozen=True)
class DxfPage:
    """Everything in a file. remarks: what its comments say, a line each."""

    strokes: tuple[Stroke, ...]
    words: tuple[Word, ...]
    remarks: tuple[str, ...] = ()


def lines_through(points: Iterable[Point]) -> tuple[Edge, ...]:
    """Points as lines end to end; a point within 1e-7 mm of the one before is left out."""
    found: list[Edge] = []
    last: Point | None = None
    for point in points:
        if last is None:
            last = point
        elif math.dist(last, point) > SHORTEST:
            found.append(Line(last, point))
            last = point
    return tuple(found)


def straightened(points: Iterable[Sequence[float]]) -> tuple[Edge, ...]:
    """Points as lines end to end, those in one line as one."""
    kept: list[Point] = []
    for x, y in points:
        if kept and math.dist(kept[-1], (x, y)) < SAME:
            continue
        while len(kept) > 1:
            (ax, ay), (bx, by) = kept[-2], kept[-1]
            off = (bx - ax) * (y - ay) - (by - ay) * (x - ax)
            ahead = (bx - ax) * (x - bx) + (by - ay) * (y - by)
            if abs(off) > SHORTEST * math.dist((ax, ay), (x, y)) or ahead < 0:
                break
            kept.pop()
        kept.append((x, y))
    return tuple(Line(a, b) for a, b in pairwise(kept))


def plain(text: str, most: int = LONGEST) -> str:
    """A text as one line that no reader takes for codes: no control letters, carets, doubled % signs or \\U+ in it.

    >>> plain("50%%d 2^3" + chr(10) + "next"), plain("a" * 300)[-3:]
    ('50% %d 2^ 3 next', 'aa…')
    """
    kept = "".join(
        " " if unicodedata.category(sign)[0] in "CZ" else sign if ord(sign) < 0x10000 else "\u25a1" for sign in text
    )
    kept = " ".join(kept.split())
    if len(kept) > most:
        kept = kept[: most - 1].rstrip() + "…"
    while "%%" in kept:
        kept = kept.replace("%%", "% %")
    return re.sub(r"\\(?=[A-Za-z])", "/", kept).replace("^", "^ ")


def page_dxf(page: DxfPage, unit: Unit) -> bytes:
    """The file of a drawing, in `unit`; no clock in it, so the same drawing gives the same bytes."""
    from ezdxf import options  # type: ignore[attr-defined]
    from ezdxf.filemanagement import new

    before = options.write_fixed_meta_data_for_testing
    options.write_fixed_meta_data_for_testing = True
    try:
        document = new("R2000", units=INSUNITS[unit])
        _draw(document, page, unit)
        written = io.StringIO()
        document.write(written)
    finally:
        options.write_fixed_meta_data_for_testing = before
    comments = "".join(f"999\n{plain(remark)}\n" for remark in page.remarks)
    return (comments + written.getvalue()).encode(document.output_encoding, "dxfreplace")


def _draw(document: Drawing, page: DxfPage, unit: Unit) -> None:
    inch = INSUNITS[unit] == 1
    scale = 1.0 / MM[unit]
    header = document.header
    header["$MEASUREMENT"] = int(not inch)
    header["$LUNITS"] = ARCHITECTURAL if inch else DECIMAL
    header["$LUPREC"] = 5 if inch else 2
    header["$LWDISPLAY"] = 1
    document.appids.add(OWNER)
    used = {stroke.layer for stroke in page.strokes} | {word.layer for word in page.words}
    for dash, (words, pattern) in DASHES.items():
        if any(layer.dash == dash for layer in used):
            steps = [scale * step for step in pattern]
            document.linetypes.add(dash, [sum(map(abs, steps)), *steps], description=words)
    for layer in LAYERS:
        if layer in used:
            line = layer.dash or "Continuous"
            document.layers.add(layer.name, color=layer.color, lineweight=layer.weight, linetype=line)
    space = document.modelspace()
    for stroke in page.strokes:
        for entity in _entities(space, stroke, scale):
            _own(entity, stroke.piece)
    for word in page.words:
        _own(_text(space, word, scale), word.piece)
    left, low, right, high = (scale * value for value in box_of(page.strokes))
    space.reset_extents((left, low, 0.0), (right, high, 0.0))
    document.set_modelspace_vport(
        height=1.2 * max(high - low, 0.6 * (right - left)), center=((left + right) / 2, (low + high) / 2)
    )


def box_of(strokes: Sequence[Stroke]) -> tuple[float, float, float, float]:
    """The exact box round strokes, mm; all 0 round none."""
    boxes = [edge.bounds for stroke in strokes for edge in stroke.edges] or [(0.0, 0.0, 0.0, 0.0)]
    lows, highs = ([f(box[i] for box in boxes) for i in two] for f, two in ((min, (0, 1)), (max, (2, 3))))
    return (lows[0], lows[1], highs[0], highs[1])


def _own(entity: DXFGraphic, piece: str) -> None:
    if piece:
        entity.set_xdata(OWNER, [(1000, plain(piece))])


def _entities(space: Modelspace, stroke: Stroke, scale: float) -> list[DXFGraphic]:
    edges = [half for edge in stroke.edges if edge.length > SHORTEST for half in _halves(edge, len(stroke.edges) > 1)]
    attributes = {"layer": stroke.layer.name}
    if not edges:
        return []
    first = edges[0]
    if len(edges) > 1:
        closed = math.dist(edges[-1].end, first.start) <= SHORTEST
        points = [(*_at(e.start, scale), math.tan(e.sweep / 4) if isinstance(e, Arc) else 0.0) for e in edges]
        points += [] if closed else [(*_at(edges[-1].end, scale), 0.0)]
        return [space.add_lwpolyline(points, format="xyb", close=closed, dxfattribs=attributes)]
    if isinstance(first, Line):
        return [space.add_line(_at(first.start, scale), _at(first.end, scale), dxfattribs=attributes)]
    center, radius = _at(first.center, scale), first.radius * scale
    if abs(first.sweep) > 2 * math.pi - 1e-9:
        return [space.add_circle(center, radius, dxfattribs=attributes)]
    start, end = (first.start, first.end) if first.sweep > 0 else (first.end, first.start)
    begin, stop = (math.degrees(math.atan2(y - first.center[1], x - first.center[0])) for x, y in (start, end))
    return [space.add_arc(center, radius, begin, stop, dxfattribs=attributes)]


def _halves(edge: Edge, in_chain: bool) -> tuple[Edge, ...]:
    """An edge as a polyline can hold it: an arc of more than half a turn in two."""
    if in_chain and isinstance(edge, Arc) and abs(edge.sweep) > math.pi:
        half = edge.sweep / 2
        return (Arc(edge.start, edge.via, edge.center, half), Arc(edge.via, edge.end, edge.center, half))
    return (edge,)


def _text(space: Modelspace, word: Word, scale: float) -> DXFGraphic:
    from ezdxf.enums import TextEntityAlignment as Place

    text = space.add_text(
        plain(word.text),
        height=word.height * scale,
        rotation=math.degrees(word.angle),
        dxfattribs={"layer": word.layer.name},
    )
    align = {"left": Place.MIDDLE_LEFT, "middle": Place.MIDDLE_CENTER, "right": Place.MIDDLE_RIGHT}[word.align]
    return text.set_placement(_at(word.at, scale), align=align)


def _at(point: Point, scale: float) -> Point:
    return (point[0] * scale, point[1] * scale)
