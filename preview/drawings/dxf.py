"""DXF: lines, arcs, polylines, ellipses and splines of the model space, out of blocks and layers.

The file is read by ezdxf; what its entities mean follows the DXF reference: the object coordinate system of
arcs and polylines (a mirrored one has its normal along -z), bulge = tan(sweep / 4), and block references.
"""

from __future__ import annotations

import io
import logging
import math
import re
from collections import Counter
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from itertools import pairwise
from typing import TYPE_CHECKING, Any, TextIO

from preview.drawings.curves import Affine, Shape, b_spline, mapped
from preview.drawings.sheet import MOST_CURVES, MOST_EDGES, Item, Sheet, layer_said, sheet_of, too_much
from preview.errors import PreviewError
from preview.profiles import Ellipse, Line, Point, arc_of_sweep

if TYPE_CHECKING:
    from ezdxf.document import Drawing

MM_PER = {1: 25.4, 2: 304.8, 4: 1.0, 5: 10.0, 6: 1000.0, 8: 25.4e-6, 9: 0.0254, 10: 914.4, 13: 0.001, 14: 100.0}
"""Millimeters in the units that $INSUNITS numbers, as far as a molding may be drawn in them."""
MOST_GROUPS = 1_000_000
"""Pairs of lines in an ASCII file; a drawing of 20,000 lines has about a third of this."""
MOST_BINARY = 5_000_000
"""Bytes of a binary file, which holds as much in less."""
MOST_SEEN = 200_000
"""Entities of any kind that are looked at, those in a block as often as it is referred to."""
DEEPEST = 16
"""Blocks in blocks."""
BINARY = b"AutoCAD Binary DXF"
"""What a binary file begins with."""
UNDECODED = "surrogateescape"
"""Bytes that are no text are kept as they are, as the parser keeps them."""
FLAT = 1e-6
"""A height over the plane, in drawing units, that is rounding; the same for a tilt."""
DRAWN = ("LINE", "ARC", "CIRCLE", "LWPOLYLINE", "POLYLINE", "ELLIPSE", "SPLINE")


def read_dxf(data: bytes) -> Sheet:
    """The shapes of a DXF file's model space, in its units.

    Layers that are off or frozen, invisible entities, texts, dimensions and hatches are left out, and told in
    `skipped`. Raises PreviewError for a damaged or overfull file, and for what does not lie flat on z = 0.
    """
    has_units, has_measurement = _refuse_overfull(data)
    document = _document(data)
    unit, asks = _unit(document, has_units, has_measurement)
    reader = _Reader(document)
    reader.read(document.modelspace(), Affine(), None, 0)
    return sheet_of(
        reader.items,
        reader.skipped,
        (unit, asks),
        looked_for="lines, arcs, polylines, ellipses or splines in its model space",
        fix="draw the outline there, on a layer that is on, and explode what is made of other things",
    )


# The file.


def _refuse_overfull(data: bytes) -> tuple[bool, bool]:
    """Count what the parser, which is thorough and slow, would meet; and see which of its units the file gives."""
    if not data.startswith(BINARY):
        if b"\0" in data[:100_000] or not re.search(rb"\bSECTION\b", data[:100_000]):
            raise PreviewError("", None, "the file is no DXF drawing", "save it from the drawing program as DXF")
        lines = data.split(b"\n", 2 * MOST_GROUPS + 1)
        count = Counter(line.strip() for line in lines[::2])
        if len(lines) > 2 * MOST_GROUPS or max(count[b"0"] - 4000, count[b"10"] - 4000) > MOST_EDGES:
            raise too_much()
    elif len(data) > MOST_BINARY:
        raise too_much()
    return b"$INSUNITS" in data, b"$MEASUREMENT" in data


def _document(data: bytes) -> Drawing:
    with _silent():
        try:
            return _parsed(data)
        except Exception as error:  # whatever a damaged file makes of the parser, a person needs one answer
            near = re.search(r"line:? (\d+)", str(error))
            where = f", near line {near[1]}" if near else ""
            raise PreviewError(
                "",
                None,
                f"the DXF file is damaged or breaks off{where}",
                "save it again from the drawing program, as DXF of another version, say",
            ) from error


def _parsed(data: bytes) -> Drawing:
    """What the parser makes of a file's bytes; it opens files by their names alone, and each of them several times."""
    from ezdxf.document import Drawing
    from ezdxf.filemanagement import dxf_stream_info, read
    from ezdxf.lldxf.tagger import binary_tags_loader

    if data.startswith(BINARY):
        return Drawing.load(binary_tags_loader(data, errors=UNDECODED))
    info = dxf_stream_info(_lines(data, "utf-8", "ignore"))
    return read(_lines(data, info.encoding, UNDECODED))


def _lines(data: bytes, encoding: str, errors: str) -> TextIO:
    return io.TextIOWrapper(io.BytesIO(data), encoding=encoding, errors=errors)


@contextmanager
def _silent() -> Iterator[None]:
    """The parser writes its remarks into a log; ours are errors and notes."""
    log = logging.getLogger("ezdxf")
    before = log.disabled
    log.disabled = True
    try:
        yield
    finally:
        log.disabled = before


def _unit(document: Drawing, has_units: bool, has_measurement: bool) -> tuple[float | None, str]:
    """Millimeters of one drawing unit, or None; and what to say then."""
    code = _whole(document.header.get("$INSUNITS", 0)) if has_units else 0
    if code in MM_PER:
        return MM_PER[code], ""
    if code:
        return None, f"the drawing gives its unit by number {code} of $INSUNITS, in which no molding is drawn"
    asks = "the drawing does not say what its units are ($INSUNITS)"
    if has_measurement:
        metric = _whole(document.header.get("$MEASUREMENT", 0)) == 1
        asks += f"; $MEASUREMENT speaks for {'metric ones, mm' if metric else 'inches'}"
    return None, asks


def _whole(value: Any) -> int:
    """A number of the header; 0, which says nothing, for what is none."""
    try:
        return int(value)
    except (ArithmeticError, TypeError, ValueError):
        return 0


# Its entities.


@dataclass
class _Reader:
    """Walks the entities of a layout and of the blocks that it refers to."""

    document: Drawing
    items: list[Item] = field(default_factory=list)
    skipped: Counter[str] = field(default_factory=Counter)
    references: int = 0
    pieces: int = 0
    seen: int = 0
    hidden: dict[str, bool] = field(default_factory=dict)

    def read(self, entities: Iterable[Any], by: Affine, above: str | None, depth: int) -> None:
        """Note the shapes of entities under a map; `above` is the layer of the block reference they stand in."""
        for entity in entities:
            self.seen += 1
            if self.seen > MOST_SEEN:
                raise too_much(f"{MOST_SEEN:,} entities")
            kind = entity.dxftype()
            if kind != "INSERT" and kind not in DRAWN:  # of a kind the parser does not know it has no layer either
                self.skipped[kind[:40]] += 1
                continue
            own = str(entity.dxf.get("layer", "0"))
            layer = above if above is not None and own == "0" else own
            if entity.dxf.get("invisible", 0) or self._is_hidden(layer):
                self.skipped["hidden"] += 1
            elif kind == "INSERT":
                self._insert(entity, by, layer, depth)
            else:
                with _damaged(kind, layer):
                    shapes = self._shapes(entity, kind, layer)
                self.items += [Item(found, layer) for shape in shapes for found in mapped(shape, by)]
                if len(self.items) > MOST_EDGES:
                    raise too_much()

    def _is_hidden(self, layer: str) -> bool:
        if layer not in self.hidden:
            table = self.document.layers
            found = table.get(layer) if layer in table else None
            self.hidden[layer] = found is not None and (found.is_off() or found.is_frozen())
        return self.hidden[layer]

    def _insert(self, insert: Any, by: Affine, layer: str, depth: int) -> None:
        with _damaged("INSERT", layer):
            block = insert.block()
        name = str(insert.dxf.get("name", ""))
        if block is None:
            raise PreviewError("", None, f'the block "{name[:60]}" is not in the file', "save the drawing again, whole")
        if depth >= DEEPEST:
            raise PreviewError(
                "",
                None,
                f'the block "{name[:60]}" stands in blocks more than {DEEPEST} deep, or in itself',
                "explode the blocks, and save the outline alone",
            )
        with _damaged("INSERT", layer):
            self.references += insert.mcount
            if self.references > MOST_EDGES:
                raise too_much(f"{MOST_EDGES:,} block references")
            places = [_flat_map(one.matrix44(), layer) for one in _each_of(insert)]
        for place in places:
            self.read(block, by @ place, layer, depth + 1)

    def _shapes(self, entity: Any, kind: str, layer: str) -> list[Shape]:
        dxf = entity.dxf
        if kind == "LINE":
            return [Line(_flat(dxf.start, layer), _flat(dxf.end, layer))]
        if kind == "SPLINE":
            return self._spline(entity, layer)
        turned = _mirrored(dxf.get("extrusion", (0, 0, 1)), layer)
        if kind == "ELLIPSE":
            center, (ux, uy) = _flat(dxf.center, layer), _flat(dxf.major_axis, layer)
            ratio = float(dxf.ratio) * turned.turn
            start, end = float(dxf.start_param), float(dxf.end_param)
            return [Ellipse(center, (ux, uy), (-uy * ratio, ux * ratio), start, _turn(start, end))]
        if kind in ("ARC", "CIRCLE"):
            center, radius = _flat(dxf.center, layer), float(dxf.radius)
            start, sweep = 0.0, 2 * math.pi
            if kind == "ARC":
                start = math.radians(dxf.start_angle)
                sweep = _turn(start, math.radians(dxf.end_angle))
            found = Ellipse(center, (radius, 0.0), (0.0, radius), start, sweep)
            return list(mapped(found, turned))
        return [shape for edge in _polyline(entity, kind, layer) for shape in mapped(edge, turned)]

    def _spline(self, entity: Any, layer: str) -> list[Shape]:
        tool = entity.construction_tool()
        points = [_flat(p, layer) for p in tool.control_points]
        knots, degree = [float(k) for k in tool.knots()], int(tool.degree)
        weights = [float(w) for w in tool.weights()] or [1.0] * len(points)
        self.pieces += len(points)
        if self.pieces > 8 * MOST_CURVES:
            raise too_much(f"{8 * MOST_CURVES:,} control points of splines")
        sound = 1 <= degree <= 25 and len(knots) == len(points) + degree + 1 and len(weights) == len(points)
        if not sound or any(b < a or not math.isfinite(b) for a, b in pairwise(knots)):
            raise ValueError("knots")
        return [b_spline(degree, knots, points, weights)]


def _each_of(insert: Any) -> Iterable[Any]:
    return insert.multi_insert() if insert.mcount > 1 else (insert,)


@contextmanager
def _damaged(kind: str, layer: str) -> Iterator[None]:
    """Tells an entity that lacks what its kind must have, or has it wrong, for whatever the parser makes of it."""
    try:
        yield
    except PreviewError:
        raise
    except Exception as error:  # the parser's own errors are of many kinds
        raise PreviewError(
            "",
            None,
            f"a{'n' if kind[0] in 'AEI' else ''} {kind} on {layer_said(layer)} is damaged",
            "draw it again, or explode it, and save the drawing again",
        ) from error


def _polyline(entity: Any, kind: str, layer: str) -> list[Shape]:
    """The lines and arcs of a polyline, in its own plane."""
    if kind == "LWPOLYLINE":
        height = float(entity.dxf.get("elevation", 0.0))
        rows = [(float(x), float(y), height, float(b)) for x, y, b in entity.get_points("xyb")]
    else:
        if not (entity.is_2d_polyline or entity.is_3d_polyline):
            raise PreviewError(
                "", None, f"a POLYLINE on {layer_said(layer)} is a mesh", "draw the outline with lines and arcs"
            )
        shown = [v.dxf for v in entity.vertices if not int(v.dxf.get("flags", 0)) & 16]  # 16: the frame of a fit
        rows = [
            (float(v.location.x), float(v.location.y), float(v.location.z), float(v.get("bulge", 0))) for v in shown
        ]
    if any(abs(z) > FLAT for _, _, z, _ in rows):
        raise _not_flat(layer)
    if entity.is_closed:
        rows = [*rows, rows[0]] if rows else rows
    found: list[Shape] = []
    for (x0, y0, _, bulge), (x1, y1, _, _) in pairwise(rows):
        start, end = (x0, y0), (x1, y1)
        if bulge and start != end:
            found.append(arc_of_sweep(start, end, 4 * math.atan(bulge)))
        elif math.isfinite(bulge):
            found.append(Line(start, end))
    return found


def _turn(start: float, end: float) -> float:
    """The angle from `start` on counter-clockwise to `end`, radians: over 0, and a whole turn for none."""
    sweep = (end - start) % (2 * math.pi)
    return 2 * math.pi if sweep < 1e-12 or sweep > 2 * math.pi - 1e-12 else sweep


def _flat(at: Any, layer: str) -> Point:
    """A point as (x, y), refused off the plane."""
    if len(at) > 2 and abs(at[2]) > FLAT:
        raise _not_flat(layer)
    return (float(at[0]), float(at[1]))


def _mirrored(normal: Any, layer: str) -> Affine:
    """The map out of the coordinate system that a normal sets up: none along z, x the other way along -z."""
    x, y, z = (float(part) for part in normal)
    if not math.hypot(x, y) <= FLAT * abs(z):
        raise _not_flat(layer)
    return Affine() if z > 0 else Affine(a=-1.0)


def _flat_map(matrix: Any, layer: str) -> Affine:
    """The map of a block reference, refused where it tilts or lifts."""
    rows = [tuple(float(part) for part in matrix.get_row(i)) for i in range(4)]
    (a, b, out0, _), (c, d, out1, _), (_, _, _, _), (e, f, lift, _) = rows
    if max(abs(out0), abs(out1)) > FLAT * max(abs(a), abs(b), abs(c), abs(d)) or abs(lift) > FLAT:
        raise _not_flat(layer)
    return Affine(a, b, c, d, e, f)


def _not_flat(layer: str) -> PreviewError:
    return PreviewError(
        "",
        None,
        f"an edge on {layer_said(layer)} is tilted, or does not lie at z = 0",
        "draw the outline flat, at z = 0 of the plan view",
    )
