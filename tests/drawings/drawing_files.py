"""Small writers of DXF and SVG, apart from the project's own, and one profile with known measures to write."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from pathlib import Path

from preview.profiles import Arc, Edge, Line, Profile, make_profile

AREA = 20 * 40 - (1 - math.pi / 4) * 100 - math.pi * 9 / 2
"""The area of `EDGES`, mm²: a board less a spandrel and half a circle."""
EDGES: list[Edge] = [
    Line((0.0, 0.0), (20.0, 0.0)),
    Line((20.0, 0.0), (20.0, 8.0)),
    Arc((20.0, 8.0), (20.0, 14.0), (20.0, 11.0), -math.pi),
    Line((20.0, 14.0), (20.0, 30.0)),
    Arc((20.0, 30.0), (10.0, 40.0), (10.0, 30.0), math.pi / 2),
    Line((10.0, 40.0), (0.0, 40.0)),
    Line((0.0, 40.0), (0.0, 0.0)),
]
"""A board 20 x 40 with a quarter round of radius 10 on its upper arris and a flute of radius 3 in its face."""
KNOWN = make_profile("known", EDGES)


def bulges(edges: Iterable[Edge]) -> list[tuple[float, float, float]]:
    """A closed polyline: x, y and bulge = tan(sweep / 4) of each corner."""
    return [(*edge.start, math.tan(edge.sweep / 4) if isinstance(edge, Arc) else 0.0) for edge in edges]


def dxf_text(edges: Iterable[Edge], units: int | None = 4, layer: str = "0") -> str:
    """A minimal ASCII DXF of lines and arcs with every digit; `units` as $INSUNITS numbers them."""
    rows: list[object] = (
        [0, "SECTION", 2, "HEADER", 9, "$INSUNITS", 70, units, 0, "ENDSEC"] if units is not None else []
    )
    rows += [0, "SECTION", 2, "ENTITIES"]
    for edge in edges:
        if isinstance(edge, Line):
            rows += [0, "LINE", 8, layer, 10, edge.start[0], 20, edge.start[1], 11, edge.end[0], 21, edge.end[1]]
        else:
            first, last = (edge.start, edge.end) if edge.sweep > 0 else (edge.end, edge.start)
            cx, cy = edge.center
            angles = [math.degrees(math.atan2(y - cy, x - cx)) for x, y in (first, last)]
            rows += [0, "ARC", 8, layer, 10, cx, 20, cy, 40, edge.radius, 50, angles[0], 51, angles[1]]
    rows += [0, "ENDSEC", 0, "EOF"]
    return "".join(f"{row!r}\n" if isinstance(row, float) else f"{row}\n" for row in rows)


def path_data(edges: Sequence[Edge]) -> str:
    """SVG path data with y down and arcs as arcs."""
    data = [f"M{edges[0].start[0]!r} {-edges[0].start[1]!r}"]
    for edge in edges:
        x, y = edge.end[0], -edge.end[1]
        if isinstance(edge, Arc):
            flags = f"{int(abs(edge.sweep) > math.pi)} {int(edge.sweep < 0)}"
            data.append(f"A{edge.radius!r} {edge.radius!r} 0 {flags} {x!r} {y!r}")
        else:
            data.append(f"L{x!r} {y!r}")
    return " ".join([*data, "Z"])


def svg_text(inside: str, head: str = 'width="100mm" height="100mm" viewBox="0 -100 100 100"') -> str:
    """An SVG file round some elements; a unit is 1 mm unless the head says otherwise."""
    return f'<svg xmlns="http://www.w3.org/2000/svg" {head}>{inside}</svg>'


def written(folder: Path, name: str, text: str) -> Path:
    path = folder / name
    path.write_text(text, "utf-8")
    return path


def apart(a: Profile, b: Profile) -> float:
    """The largest difference, mm or radians, between the edges of two profiles, which must be alike one by one."""
    assert [type(edge) for edge in a.edges] == [type(edge) for edge in b.edges]
    worst = 0.0
    for p, q in zip(a.edges, b.edges, strict=True):
        worst = max(worst, math.dist(p.start, q.start), math.dist(p.end, q.end))
        if isinstance(p, Arc) and isinstance(q, Arc):
            worst = max(worst, math.dist(p.center, q.center), abs(p.sweep - q.sweep))
    return worst
