"""The trade shapes that a face is made of, as lines and arcs.

The constructions are the Roman ones, lines and circles only, as Nicholson gives them (The Mechanic's
Companion, figs. 7 to 11), and his two quirked ones (1823). To add a shape, write one function and enter it in
`SHAPES`.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

from preview.entries import Entries
from preview.errors import PreviewError, nearest
from preview.profiles.edges import FLATTEST, Arc, Edge, Line, arc_of_sweep
from preview.profiles.pens import Point
from preview.units import Unit, show


@dataclass(frozen=True)
class Shape:
    """One part of a face, from where the part below it ends; lengths in mm.

    kind: a key of `SHAPES`. rise: how far up, never negative. out: how far the face moves out from the wall,
    negative when it moves in. radius: of the arc, for the shapes that take one.
    """

    kind: str
    rise: float = 0.0
    out: float = 0.0
    radius: float | None = None


Drawing = Callable[[Shape, Point, Unit], list[Edge]]
"""Draws a shape from a point of the face, travelling up it with the wood on the left."""


def draw_shape(shape: Shape, start: Point, unit: Unit) -> list[Edge]:
    """The edges of a shape from a point of the face. Raises PreviewError; its place is a key or empty.

    What a function that was entered does wrong is an error too: it raises, gives no edges, or something else.
    """
    drawing = SHAPES.get(shape.kind)
    if drawing is None:
        near = nearest(shape.kind, SHAPES)
        raise PreviewError(
            "",
            None,
            f'no shape is called "{shape.kind}"',
            (f"did you mean {near}? " if near else "") + f"the shapes are {', '.join(sorted(SHAPES))}",
        )
    for key, length in {"rise": shape.rise, _aside(shape): shape.out, "radius": shape.radius or 0.0}.items():
        if not math.isfinite(length):
            raise PreviewError(key, None, f"the {key} is {length}, which is no length", "give it a length")
    if shape.rise < 0:
        raise PreviewError(
            "rise",
            None,
            f"the rise is {show(shape.rise, unit)}, and a face is drawn from the foot up",
            "give a rise of 0 or more",
        )
    if shape.radius is not None and shape.radius <= 0:
        radius = show(shape.radius, unit)
        raise PreviewError("radius", None, f"the radius is {radius}", "give a radius above 0, or leave it out")
    if not shape.rise and not shape.out:
        raise PreviewError("", None, f"the {shape.kind} has no size", "give it a rise, or how far it goes in or out")
    with SHAPES.asking(shape.kind):
        edges = list(drawing(shape, start, unit))
        finite = all(math.isfinite(end) for each in edges for end in _ends(each))
    found: list[object] = [*edges]
    strange = [each for each in found if not isinstance(each, (Line, Arc))]
    if strange:
        raise SHAPES.error(shape.kind, f"gives {type(strange[0]).__name__}, and edges (Line, Arc) are wanted")
    if not edges:
        raise SHAPES.error(shape.kind, "gives no edges")
    if not finite and all(math.isfinite(each) for each in start):
        raise SHAPES.error(shape.kind, "gives an edge that ends nowhere")
    return edges


def _ends(edge: object) -> tuple[float, ...]:
    return (*edge.start, *edge.end) if isinstance(edge, (Line, Arc)) else ()


def _fillet(shape: Shape, start: Point, unit: Unit) -> list[Edge]:
    """A flat band, straight up or level."""
    _refuse_radius(shape)
    if shape.rise and shape.out:
        raise PreviewError(
            "",
            None,
            f"a fillet is a flat band, straight up or level, and this one rises {show(shape.rise, unit)} and "
            f"goes {_sideways(shape, unit)}",
            "leave one of the two out, or use a bevel for a slope",
        )
    return [Line(start, _end(shape, start))]


def _bevel(shape: Shape, start: Point, _unit: Unit) -> list[Edge]:
    """A straight slope."""
    _refuse_radius(shape)
    _refuse_flat(shape)
    return [Line(start, _end(shape, start))]


def _ovolo(shape: Shape, start: Point, unit: Unit) -> list[Edge]:
    """Convex: a quarter round where rise and projection are equal, else one arc; see `_round`."""
    return _round(shape, start, unit, turn=1.0)


def _cove(shape: Shape, start: Point, unit: Unit) -> list[Edge]:
    """Concave: a quarter hollow where rise and projection are equal, else one arc; see `_round`."""
    return _round(shape, start, unit, turn=-1.0)


def _round(shape: Shape, start: Point, unit: Unit, turn: float) -> list[Edge]:
    """One arc through both ends. Its radius is the larger of rise and projection unless one is given.

    So the center is where two arcs of that radius, struck from the ends, cross (Nicholson, figs. 7 and 8).
    Where rise and projection differ, such an arc swells a little past one of its ends; a radius of at least
    (rise² + projection²) / (2 × the smaller of the two) keeps it between them.
    """
    _refuse_flat(shape)
    rise, aside = shape.rise, abs(shape.out)
    end = _end(shape, start)
    if shape.radius is None and rise == aside:
        # A quarter circle: the center is straight above one end and level with the other, exactly.
        leaves_level = (shape.out > 0) == (turn > 0)
        center = (start[0], end[1]) if leaves_level else (end[0], start[1])
        return [Arc(start, end, center, turn * math.pi / 2)]
    chord = math.hypot(rise, aside)
    radius = max(rise, aside) if shape.radius is None else shape.radius
    if radius < chord / 2 * (1 - 1e-12):
        raise PreviewError(
            "radius",
            None,
            f"the ends are {show(chord, unit)} apart, too far for an arc of radius {show(radius, unit)}",
            f"use a radius of at least {_at_least(chord / 2, unit)}, or leave it out",
        )
    _refuse_flattest(radius, unit)
    return [arc_of_sweep(start, end, turn * 2 * math.asin(min(1.0, chord / 2 / radius)))]


def _ogee(shape: Shape, start: Point, unit: Unit) -> list[Edge]:
    """Cyma recta: the ends run level and the projecting part is hollow; see `_cyma`."""
    return _cyma(shape, start, unit, turn=math.copysign(1.0, shape.out))


def _reverse_ogee(shape: Shape, start: Point, unit: Unit) -> list[Edge]:
    """Cyma reversa: the ends run upright and the projecting part is round; see `_cyma`."""
    return _cyma(shape, start, unit, turn=-math.copysign(1.0, shape.out))


def _cyma(shape: Shape, start: Point, unit: Unit, turn: float) -> list[Edge]:
    """Two equal arcs, tangent at the middle of the chord, the first turning by the sign of `turn`.

    With the chord c at the slope β = atan(rise / projection), each arc turns by twice the smaller of β and
    90° - β, so its radius is c² / (4 × the smaller of rise and projection). Where an ogee rises no more than
    it projects this is the published cyma recta, radius (p² + h²) / (4h), its ends level; where a reverse
    ogee projects no more than it rises, the published cyma reversa, radius (p² + h²) / (4p), its ends
    upright; at p = h two quarter circles (Nicholson, fig. 10). Outside that range the tangent at the middle
    is upright (ogee) or level (reverse ogee) instead, so the face never undercuts. A larger radius may be
    given: c / 2 is Nicholson's flat cyma, fig. 11.
    """
    _refuse_flat(shape)
    rise, aside = shape.rise, abs(shape.out)
    middle = (start[0] + shape.out / 2, start[1] + rise / 2)
    square = rise * rise + aside * aside
    least = square / (4 * min(rise, aside))
    radius = least if shape.radius is None else shape.radius
    if radius < least * (1 - 1e-12):
        raise PreviewError(
            "radius",
            None,
            f"with arcs of radius {show(radius, unit)} the {shape.kind} would fold back under itself",
            f"use a radius of at least {_at_least(least, unit)}, or leave it out",
        )
    _refuse_flattest(radius, unit)
    if radius <= least:
        half = math.atan2(min(rise, aside), max(rise, aside))
    else:
        half = math.asin(math.sqrt(square) / (4 * radius))
    return [
        arc_of_sweep(start, middle, turn * 2 * half),
        arc_of_sweep(middle, _end(shape, start), -turn * 2 * half),
    ]


def _bead(shape: Shape, start: Point, unit: Unit) -> list[Edge]:
    """A half round; its rise is its diameter."""
    _refuse_radius(shape)
    if shape.out:
        raise PreviewError(
            _aside(shape),
            None,
            f"{_a(shape)} ends straight above its start, and this one goes {_sideways(shape, unit)}",
            f"drop the {_aside(shape)}, and put a level fillet before or after the {shape.kind}",
        )
    return [Arc(start, _end(shape, start), (start[0], start[1] + shape.rise / 2), math.pi)]


def _scotia(shape: Shape, start: Point, unit: Unit) -> list[Edge]:
    """A hollow of two quadrants, tangent, their centers on one level, the larger by the further lip.

    Their radii are (rise + projection) / 2 and (rise - projection) / 2; with a projection of a third of the
    rise these are two thirds and one third of it (Nicholson, fig. 9).
    """
    _refuse_radius(shape)
    if abs(shape.out) >= shape.rise:
        raise PreviewError(
            _aside(shape),
            None,
            "a scotia moves in or out by less than it rises, and this one rises "
            f"{show(shape.rise, unit)} and goes {_sideways(shape, unit)}",
            "give it a greater rise, or less in or out; a third of the rise is usual",
        )
    lower = (shape.rise - shape.out) / 2
    level = start[1] + lower
    deepest = (start[0] - lower, level)
    return [
        Arc(start, deepest, (start[0], level), -math.pi / 2),
        Arc(deepest, _end(shape, start), (start[0] + shape.out, level), -math.pi / 2),
    ]


def _quirked_ovolo(shape: Shape, start: Point, unit: Unit) -> list[Edge]:
    """Convex, its projecting end turned back in a tight round, for a quirk beyond it.

    The height in four parts (Nicholson, 1823): a circle of one part, which we take as its diameter, at the
    projecting end, and one larger arc to the other end, tangent to it; there, as in a quarter round, it runs level.
    """
    _refuse_radius(shape)
    _refuse_flat(shape)
    rise, aside = shape.rise, abs(shape.out)
    nose = rise / 8
    radius = (aside * aside + rise * rise - 2 * rise * nose) / (2 * (rise - 2 * nose))
    _refuse_flattest(radius, unit)
    return _with_nose(shape, start, nose, (0.0, radius), turn=1.0)


def _quirked_reverse_ogee(shape: Shape, start: Point, unit: Unit) -> list[Edge]:
    """A cyma reversa whose projecting end is turned back in a tight round, for a quirk beyond it.

    The height in seven parts (Nicholson, 1823): two carry a semicircle at the projecting end, and one hollow arc,
    tangent to it, runs to the other end; there, as in every cyma reversa, it runs upright. Where the projection is
    five parts the arc is a quarter circle and takes the semicircle whole; where it is less, the arc meets it sooner.
    """
    _refuse_radius(shape)
    _refuse_flat(shape)
    rise, aside = shape.rise, abs(shape.out)
    if aside > 5 / 7 * rise * (1 + 1e-12):
        raise PreviewError(
            _aside(shape),
            None,
            f"{_a(shape)} moves in or out by at most 5/7 of its rise, and this one rises {show(rise, unit)} and "
            f"goes {_sideways(shape, unit)}",
            "give it a greater rise, or less in or out",
        )
    nose = rise / 7
    radius = (aside * aside + rise * rise - 2 * rise * nose) / (2 * (aside + nose))
    return _with_nose(shape, start, nose, (radius, 0.0), turn=-1.0)


def _with_nose(shape: Shape, start: Point, nose: float, center: Point, turn: float) -> list[Edge]:
    """A larger arc that turns by the sign of `turn`, and a round of radius `nose`, tangent to it.

    All is laid out from the receding end: out, and on toward the projecting end, where the round comes back level.
    The larger arc's center is given so. Where the face moves in, the whole is turned upside down.
    """
    end = _end(shape, start)
    up = math.copysign(1.0, shape.out)
    tail, head = (start, end) if shape.out > 0 else (end, start)
    aside, rise = abs(shape.out), shape.rise

    def placed(point: Point) -> Point:
        return (tail[0] + point[0], tail[1] + up * point[1])

    small = (aside, rise - nose)
    away = math.dist(center, small)
    reach = turn * nose / away
    meets = (small[0] + reach * (small[0] - center[0]), small[1] + reach * (small[1] - center[1]))
    begins = math.atan2(-center[1], -center[0])
    larger = math.atan2(meets[1] - center[1], meets[0] - center[0]) - begins
    larger = math.remainder(larger, 2 * math.pi)
    last = (math.pi / 2 - math.atan2(meets[1] - small[1], meets[0] - small[0])) % (2 * math.pi)
    edges: list[Edge] = [
        Arc(tail, placed(meets), placed(center), up * larger),
        Arc(placed(meets), head, placed(small), up * last),
    ]
    return edges if shape.out > 0 else [edge.reversed() for edge in reversed(edges)]


SHAPES: Entries[Drawing] = Entries(
    "shape",
    "molding.shapes",
    {
        "astragal": _bead,
        "bead": _bead,
        "bevel": _bevel,
        "cavetto": _cove,
        "cove": _cove,
        "fillet": _fillet,
        "ogee": _ogee,
        "ovolo": _ovolo,
        "quirked-ovolo": _quirked_ovolo,
        "quirked-reverse-ogee": _quirked_reverse_ogee,
        "reverse-ogee": _reverse_ogee,
        "scotia": _scotia,
        "torus": _bead,
    },
    taken=("in", "out", "radius"),
)
"""The trade shapes by name. Astragal and torus are a bead by its place; cavetto is a cove's other name."""


def _end(shape: Shape, start: Point) -> Point:
    return (start[0] + shape.out, start[1] + shape.rise)


def _a(shape: Shape) -> str:
    """The shape's name with its article."""
    return f"{'an' if shape.kind[0] in 'aeiou' else 'a'} {shape.kind}"


def _aside(shape: Shape) -> str:
    """What a person calls the shape's movement sideways."""
    return "in" if shape.out < 0 else "out"


def _sideways(shape: Shape, unit: Unit) -> str:
    return f"{show(abs(shape.out), unit)} {_aside(shape)}"


def _at_least(length: float, unit: Unit) -> str:
    """A least length, rounded up to what a person can write, so that writing it is enough."""
    step = 25.4 / 16 if unit in ("in", "ft") else 0.1
    return show(math.ceil(length / step - 1e-9) * step, unit)


def _refuse_radius(shape: Shape) -> None:
    if shape.radius is not None:
        raise PreviewError("radius", None, f"{_a(shape)} takes no radius: its size sets it", "leave it out")


def _refuse_flat(shape: Shape) -> None:
    """A slope or a curve needs both a rise and a movement in or out."""
    if not shape.rise or not shape.out:
        lacking = "in or out" if shape.rise else "rise"
        raise PreviewError(
            "",
            None,
            f"{_a(shape)} needs a rise and an in or out, and this one has no {lacking}",
            f"give the {lacking} too, or use a fillet for a flat band",
        )


def _refuse_flattest(radius: float, unit: Unit) -> None:
    if radius > FLATTEST:
        raise PreviewError(
            "radius",
            None,
            f"an arc of radius {show(radius, unit)} cannot be told from a straight slope",
            "use a bevel, or a smaller radius",
        )
