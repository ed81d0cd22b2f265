"""SVG: paths and basic shapes under their transforms, in user units, with what the file says of their size.

Path data are read by svg.path; what they mean follows SVG 2 (W3C Candidate Recommendation 2018): chapters 8
(coordinate systems), 9 (paths; implementation notes B.2 for arcs) and 10 (basic shapes). Text, images and
scripts are not looked at.
"""

from __future__ import annotations

import math
import re
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field
from itertools import pairwise

from preview.drawings.curves import Affine, Shape, beziers, mapped
from preview.drawings.sheet import MOST_EDGES, Item, Sheet, sheet_of, too_much
from preview.drawings.xml import Node, read_xml
from preview.errors import PreviewError
from preview.profiles import Ellipse, Line, Point

MM_PER = {"mm": 1.0, "cm": 10.0, "in": 25.4, "pt": 25.4 / 72, "pc": 25.4 / 6, "q": 0.25}
"""The physical units of CSS."""
PX = 25.4 / 96
"""Millimeters of a CSS pixel, which is a 96th of an inch where there is a physical unit beside it."""
NUMBER = r"[-+]?(?:\d+\.?\d*|\.\d+)(?:[eE][-+]?\d+)?"
LENGTH = re.compile(rf"\s*({NUMBER})\s*([a-zA-Z%]*)\s*")
TRANSFORM = re.compile(r"\s*,?\s*(matrix|translate|scale|rotate|skewX|skewY)\s*\(([^()]*)\)\s*")
PATH = re.compile(r"[\sMmZzLlHhVvCcSsQqTtAaeE0-9+\-.,]*")
UNDRAWN = {"defs", "clipPath", "mask", "marker", "pattern", "symbol", "linearGradient", "radialGradient", "filter"}
UNDRAWN |= {"style", "script", "metadata", "title", "desc"}
GROUPS = {"g", "a", "switch", "svg"}
DRAWN = {"path", "rect", "circle", "ellipse", "line", "polyline", "polygon"}
MOST_NUMBERS = 7 * MOST_EDGES
"""In the data of a path; an arc takes seven."""
MOST_USES = 2_000
MOST_SEEN = 200_000
"""Elements that are looked at, those that are used again as often as they are."""


def read_svg(data: bytes) -> Sheet:
    """The shapes of an SVG file, y up, in the units of its viewBox.

    Raises PreviewError for what is no SVG, holds no shape, or is damaged, with the element's id.
    """
    root = read_xml(data)
    if root.name != "svg":
        raise PreviewError("", None, f"the file is no SVG drawing: it begins with <{root.name[:40]}>", "save it as SVG")
    unit, asks, by = _size(root)
    reader = _Reader(root)
    reader.read(root.inside, by, "", 0)
    return sheet_of(
        reader.items,
        reader.skipped,
        (unit, asks),
        looked_for="paths or shapes that show",
        fix="draw the outline as a path, and save again",
        y_down=True,
    )


# Size and units.


def _size(root: Node) -> tuple[float | None, str, Affine]:
    """Millimeters of one unit of the drawing, or None and what to say then; and the map that turns y up."""
    sides = [_physical(root.given.get(key, "")) for key in ("width", "height")]
    box = _view_box(root)
    known = [side for side in sides if side]
    if not known:
        given = [root.given[key] for key in ("width", "height") if key in root.given]
        said = f"its size is given as {' by '.join(text[:20] for text in given)}" if given else "it gives no size"
        asks = f"the drawing does not say how large a unit of it is: {said}, with no mm, cm, in or pt"
        return None, asks, Affine(d=-1.0)
    if box is None:
        return PX, "", Affine(d=-1.0)
    scales = [side / size for side, size in zip(sides, box[2:], strict=True) if side]
    if len(scales) == 2 and not math.isclose(scales[0], scales[1], rel_tol=1e-3):
        if root.given.get("preserveAspectRatio", "").strip() == "none":  # stretched, and meant to be
            return 1.0, "", Affine(a=scales[0], d=-scales[1])
        return (max if "slice" in root.given.get("preserveAspectRatio", "") else min)(scales), "", Affine(d=-1.0)
    return scales[0], "", Affine(d=-1.0)


def _physical(text: str) -> float | None:
    """A length with a physical unit, mm; None for any other."""
    found = LENGTH.fullmatch(text)
    size = float(found[1]) * MM_PER.get(found[2].lower(), 0.0) if found else 0.0
    return size if 0.0 < size < math.inf else None


def _view_box(node: Node) -> tuple[float, float, float, float] | None:
    text = node.given.get("viewBox")
    if text is None:
        return None
    numbers = _numbers(text)
    if numbers is None or len(numbers) != 4 or not all(math.isfinite(n) for n in numbers) or min(numbers[2:]) <= 0:
        raise _damaged(node, "viewBox", text, "give it four numbers: left, top, width and height")
    return (numbers[0], numbers[1], numbers[2], numbers[3])


def _length(node: Node, key: str, default: float = 0.0) -> float:
    """An attribute that is a length, in user units."""
    text = node.given.get(key)
    if text is None or text.strip() == "auto":
        return default
    found = LENGTH.fullmatch(text)
    unit = found[2].lower() if found else ""
    if found is None or (unit not in MM_PER and unit not in ("", "px")):
        raise _damaged(node, key, text, "give it as a number, or with mm, cm, in, pt or px")
    return float(found[1]) * (MM_PER[unit] / PX if unit in MM_PER else 1.0)


def _numbers(text: str) -> list[float] | None:
    """The numbers of a list; None where there is anything else."""
    found = re.findall(rf"\s*,?\s*({NUMBER})", text)
    rest = re.sub(rf"\s*,?\s*{NUMBER}", "", text).strip()
    return None if rest else [float(number) for number in found]


def _transform(node: Node) -> Affine:
    """The map of a transform attribute: the last of its list is done first."""
    text = node.given.get("transform", "").strip()
    by, at = Affine(), 0
    while at < len(text):
        found = TRANSFORM.match(text, at)
        numbers = _numbers(found[2]) if found else None
        sound = numbers and all(map(math.isfinite, numbers))
        one = _one_map(found[1], numbers) if found and numbers and sound else None
        if found is None or one is None:
            raise _damaged(node, "transform", text, "apply the transform in the drawing program")
        by, at = by @ one, found.end()
    return by


def _one_map(kind: str, n: list[float]) -> Affine | None:
    """One map of a transform list, or None where the count of its numbers is wrong."""
    count = len(n)
    if kind == "matrix" and count == 6:
        return Affine(*n)
    if kind == "translate" and count in (1, 2):
        return Affine(e=n[0], f=n[1] if count == 2 else 0.0)
    if kind == "scale" and count in (1, 2):
        return Affine(a=n[0], d=n[-1])
    if kind == "rotate" and count in (1, 3):
        quarter = n[0] % 360 / 90
        angle = math.radians(n[0])
        cos, sin = math.cos(angle), math.sin(angle)
        if quarter == int(quarter):
            cos, sin = ((1.0, 0.0), (0.0, 1.0), (-1.0, 0.0), (0.0, -1.0))[int(quarter)]
        turn = Affine(cos, sin, -sin, cos)
        return Affine(e=n[1], f=n[2]) @ turn @ Affine(e=-n[1], f=-n[2]) if count == 3 else turn
    if kind in ("skewX", "skewY") and count == 1:
        slope = math.tan(math.radians(n[0]))
        return Affine(c=slope) if kind == "skewX" else Affine(b=slope)
    return None


# Elements.


@dataclass
class _Reader:
    """Walks the tree; elements that are referred to are found by their id."""

    root: Node
    items: list[Item] = field(default_factory=list)
    skipped: Counter[str] = field(default_factory=Counter)
    uses: int = 0
    seen: int = 0
    drawn: dict[int, list[Shape]] = field(default_factory=dict)
    by_id: dict[str, Node] = field(default_factory=dict)

    def read(self, nodes: list[Node], by: Affine, layer: str, depth: int) -> None:
        """Note the shapes of elements under a map; `layer` is the innermost group with a label or an id."""
        self.seen += len(nodes)
        if self.seen > MOST_SEEN:
            raise too_much(f"{MOST_SEEN:,} elements, those used again counted again")
        for node in nodes:
            if node.name in UNDRAWN:
                continue
            if _hidden(node):
                self.skipped["hidden"] += 1
            elif node.name in GROUPS:
                inner = by @ _transform(node)
                if node.name == "svg":
                    inner = inner @ _nested(node)
                self.read(node.inside, inner, node.given.get("label") or node.given.get("id") or layer, depth)
            elif node.name == "use":
                self._use(node, by, layer, depth)
            elif node.name in DRAWN:
                whole = by @ _transform(node)
                name = node.given.get("label") or node.given.get("id") or ""
                if id(node) not in self.drawn:  # an element that is used again is not read again
                    self.drawn[id(node)] = _shapes(node)
                for shape in self.drawn[id(node)]:
                    self.items += [Item(found, layer or name) for found in mapped(shape, whole)]
                if len(self.items) > MOST_EDGES:
                    raise too_much()
            else:
                self.skipped[node.name[:40]] += 1

    def _use(self, node: Node, by: Affine, layer: str, depth: int) -> None:
        if not self.by_id:
            self._note_ids(self.root)
        self.uses += 1
        if self.uses > MOST_USES:
            raise too_much(f"{MOST_USES:,} elements used again")
        link = node.given.get("href", "")
        target = self.by_id.get(link[1:]) if link.startswith("#") else None
        if target is None or depth > 16:
            raise _damaged(node, "href", link, "let it name a shape of this file that does not use itself")
        moved = by @ _transform(node) @ Affine(e=_length(node, "x"), f=_length(node, "y"))
        inside = target.inside if target.name == "symbol" else [target]
        self.read(inside, moved, node.given.get("id") or layer, depth + 1)

    def _note_ids(self, root: Node) -> None:
        waiting = [root]
        while waiting:
            node = waiting.pop()
            if "id" in node.given:
                self.by_id.setdefault(node.given["id"], node)
            waiting += node.inside


def _nested(node: Node) -> Affine:
    """The map of a drawing inside the drawing: its place, and its viewBox fitted into its size."""
    place = Affine(e=_length(node, "x"), f=_length(node, "y"))
    box = _view_box(node)
    if box is None:
        return place
    wide, high = _length(node, "width", box[2]), _length(node, "height", box[3])
    scale = min(wide / box[2], high / box[3])
    middle = Affine(e=(wide - scale * box[2]) / 2, f=(high - scale * box[3]) / 2)
    return place @ middle @ Affine(a=scale, d=scale) @ Affine(e=-box[0], f=-box[1])


def _hidden(node: Node) -> bool:
    style = dict(part.split(":", 1) for part in node.given.get("style", "").replace(" ", "").split(";") if ":" in part)
    said = {key: style.get(key, node.given.get(key, "")) for key in ("display", "visibility")}
    return said["display"] == "none" or said["visibility"] in ("hidden", "collapse")


def _shapes(node: Node) -> list[Shape]:
    """The lines and curves of one element, in its own coordinates."""
    if node.name == "path":
        return list(_path(node))
    if node.name == "line":
        ends = [(_length(node, f"x{i}"), _length(node, f"y{i}")) for i in (1, 2)]
        return [Line(ends[0], ends[1])]
    if node.name in ("polyline", "polygon"):
        text = node.given.get("points", "")
        numbers = _numbers(text)
        if numbers is None or len(numbers) % 2:
            raise _damaged(node, "points", text, "give it pairs of numbers")
        points = list(zip(numbers[::2], numbers[1::2], strict=True))
        points += points[:1] if node.name == "polygon" else []
        return [Line(a, b) for a, b in pairwise(points) if a != b]
    if node.name == "rect":
        return _rect(node)
    rx = _length(node, "r" if node.name == "circle" else "rx")
    ry = rx if node.name == "circle" else _length(node, "ry", rx)
    if rx <= 0 or ry <= 0:
        return []
    return [Ellipse((_length(node, "cx"), _length(node, "cy")), (rx, 0.0), (0.0, ry), 0.0, 2 * math.pi)]


def _rect(node: Node) -> list[Shape]:
    """A rectangle, its corners rounded by rx and ry; one of the two stands for both."""
    x, y, wide, high = (_length(node, key) for key in ("x", "y", "width", "height"))
    if wide <= 0 or high <= 0:
        return []
    rx = _length(node, "rx", _length(node, "ry"))
    ry = min(_length(node, "ry", rx), high / 2)
    rx = min(rx, wide / 2)
    if rx <= 0 or ry <= 0:
        rx = ry = 0.0
    found: list[Shape] = []
    corners = (((x + wide, y), 3), ((x + wide, y + high), 0), ((x, y + high), 1), ((x, y), 2))
    at: Point = (x + rx, y)
    for (cx, cy), quarter in corners:
        inx, iny = (-rx if cx > x else rx), (-ry if cy > y else ry)
        before = (cx + inx, cy) if quarter % 2 else (cx, cy + iny)
        after = (cx, cy + iny) if quarter % 2 else (cx + inx, cy)
        if at != before:
            found.append(Line(at, before))
        if rx:
            center = (cx + inx, cy + iny)
            found.append(Ellipse(center, (rx, 0.0), (0.0, ry), quarter * math.pi / 2, math.pi / 2))
        at = after
    return found


def _path(node: Node) -> Iterator[Shape]:
    """The segments of a path's data."""
    from svg.path import Arc as PathArc
    from svg.path import Close, CubicBezier, Move, QuadraticBezier, parse_path
    from svg.path import Line as PathLine

    data = node.given.get("d", "").strip()
    if not data or data == "none":
        return
    fix = "draw it again, or save it as plain SVG"
    if not PATH.fullmatch(data) or data[0] not in "Mm":
        raise _damaged(node, "d", data, fix)
    if any(count > MOST_NUMBERS for count, _ in enumerate(re.finditer(NUMBER, data))):
        raise too_much()
    try:
        segments = parse_path(data)
    except Exception as error:  # the parser's own errors, and what a malformed arc makes of it
        raise _damaged(node, "d", data, fix) from error
    smooth: list[tuple[Point, ...]] = []  # Bézier curves end to end, which may be parts of one arc
    for segment in [*segments, None]:
        if isinstance(segment, CubicBezier):
            smooth.append((_at(segment.start), _at(segment.control1), _at(segment.control2), _at(segment.end)))
            continue
        if isinstance(segment, QuadraticBezier):
            smooth.append(_raised(_at(segment.start), _at(segment.control), _at(segment.end)))
            continue
        if smooth:
            yield beziers(smooth)
            smooth = []
        if segment is None or isinstance(segment, Move):
            continue
        start, end = _at(segment.start), _at(segment.end)
        if isinstance(segment, PathArc):
            yield from _arc(start, end, _at(segment.radius), segment.rotation, segment.arc, segment.sweep)
        elif isinstance(segment, PathLine | Close):
            if start != end:
                yield Line(start, end)
        else:
            raise _damaged(node, "d", data, fix)


def _raised(start: Point, control: Point, end: Point) -> tuple[Point, ...]:
    """A quadratic Bézier curve as a cubic one: the same curve."""
    (cx, cy) = control
    near, far = [((x + 2 * cx) / 3, (y + 2 * cy) / 3) for x, y in (start, end)]
    return (start, near, far, end)


def _arc(start: Point, end: Point, radii: Point, rotation: float, large: bool, sweep: bool) -> Iterator[Shape]:
    """An arc from its ends to its center (SVG 2, B.2.4), its radii scaled up where they do not reach (B.2.5)."""
    rx, ry = abs(radii[0]), abs(radii[1])
    if start == end:
        return
    if rx == 0 or ry == 0:
        yield Line(start, end)
        return
    turn = math.radians(rotation)
    cos, sin = math.cos(turn), math.sin(turn)
    hx, hy = (start[0] - end[0]) / 2, (start[1] - end[1]) / 2
    x, y = (cos * hx + sin * hy) / rx, (cos * hy - sin * hx) / ry  # half the chord, where the ellipse is a unit circle
    reach = math.hypot(x, y)
    if x * x + y * y == 0.0:  # so large a radius, for this chord, that nothing is left of its bow
        yield Line(start, end)
        return
    if reach > 1:
        rx, ry, x, y = rx * reach, ry * reach, x / reach, y / reach
    aside = math.sqrt(max(0.0, 1 / (x * x + y * y) - 1)) * (-1 if large == sweep else 1)
    cx, cy = aside * y, -aside * x
    first = math.atan2(y - cy, x - cx)
    turned = (math.atan2(-y - cy, -x - cx) - first) % (2 * math.pi)
    turned -= 0.0 if sweep else 2 * math.pi
    u, v = (rx * cos, rx * sin), (-ry * sin, ry * cos)
    middle = ((start[0] + end[0]) / 2, (start[1] + end[1]) / 2)
    center = (middle[0] + u[0] * cx + v[0] * cy, middle[1] + u[1] * cx + v[1] * cy)
    yield Ellipse(center, u, v, first, turned)


def _at(number: complex) -> Point:
    return (float(number.real), float(number.imag))


def _damaged(node: Node, key: str, text: str, fix: str) -> PreviewError:
    name = f' "{node.given["id"][:40]}"' if "id" in node.given else ""
    what = {"d": "path data", "points": "points", "href": "a reference"}.get(key, f"a {key}")
    shown = text if len(text) <= 40 else text[:36] + " ..."
    return PreviewError("", None, f'the {node.name}{name} has {what} that cannot be read: "{shown}"', fix)
