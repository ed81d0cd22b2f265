"""Templates of curved pieces and of the walls that they follow: plans of arcs, sides of easements, curve rods."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

import numpy as np

from preview.bench.templates.template import (
    OFF_THE_WALL,
    Floats,
    Template,
    TemplateLabel,
    TemplateLine,
    cross,
    polyline,
    short,
    told,
)
from preview.joinery import Joint, Piece
from preview.paper import advance
from preview.profiles import Arc, Edge, Line, Point, arc_of_sweep, measure
from preview.runs import IN_PLAN, Element, Run
from preview.units import Unit, degrees_text

HALF_ROUND = math.pi + 1e-9
STANDING = ("Back", "Face", "Wall line")
ON_WALL = ("Near edge", "Far edge", "Line of the run")
"""What a piece's lines in plan are called, and those of a casing, which lies on the wall beside its run's line."""
LABEL = 3.4
NAME = 4.2
"""mm, the type beside lines, and of a piece's name on its own wood."""
GAP = 1.6


def plan_of(piece: Piece, unit: Unit) -> Template:
    """The plan of a curved piece, its center at (0, 0) and its middle upward, seen as its run's plan is drawn."""
    element, size = piece.element, measure(piece.profile)
    turn = math.pi / 2 - _direction(element, element.length / 2)

    def at(station: Floats, d: Floats) -> Floats:
        angle = _direction(element, 0.0) + turn + element.curvature * station
        found: Floats = _radius(piece, d)[:, None] * np.column_stack([np.cos(angle), np.sin(angle)])
        return found

    def arc(d: float) -> Arc:
        out = np.array([d])
        begin, end = piece.stations(out)
        start, stop = (at(station, out)[0].tolist() for station in (begin, end))
        sweep = element.curvature * float(end[0] - begin[0])
        return Arc((start[0], start[1]), (stop[0], stop[1]), (0.0, 0.0), sweep)

    ends = (lambda d: at(piece.stations(d)[0], d), lambda d: at(piece.stations(d)[1], d))
    back, face = arc(size.d_min), arc(size.d_max)
    flat = piece.stand != IN_PLAN
    lines = [TemplateLine("edge" if flat else "back", (back,)), TemplateLine("edge" if flat else "face", (face,))]
    names = ON_WALL if flat else STANDING
    named: list[tuple[float, str]] = [(back.radius, names[0]), (face.radius, names[1])]
    if abs(size.d_min) > OFF_THE_WALL:
        wall = arc(0.0)
        lines.append(TemplateLine("wall", (wall,)))
        named.append((wall.radius, names[2]))
    for which, joint in enumerate((piece.begin, piece.end)):
        cut: tuple[Edge, ...] = (Line((back.start, back.end)[which], (face.start, face.end)[which]),)
        strays = 0.0
        if joint.kind == "curved miter":
            cut, strays = polyline(ends[which], size.d_min, size.d_max)
        lines.append(TemplateLine("cut", cut, strays))
    outer, inner = max(back.radius, face.radius), min(back.radius, face.radius)
    reach = min(4.0, (outer - inner) / 3)
    for y, sign in ((outer, -1.0), (inner, 1.0)):
        lines.append(TemplateLine("guide", (Line((0.0, y), (0.0, y + sign * reach)),)))
    spokes = tuple(Line((0.0, 0.0), (back, face)[inner == face.radius].point(t).tolist()) for t in (0.0, 1.0))
    more = (cross((0.0, 0.0)), TemplateLine("guide", tuple(Line(s.start, (s.end[0], s.end[1])) for s in spokes)))
    labels = [*_radius_labels(named, element.sweep, unit), *_name_label(inner, outer, element.sweep)]
    chord = max(math.dist(arc.start, arc.end) for arc in (back, face))
    return Template(
        "curve",
        (piece.name,),
        _plan_words(piece, back, face, unit),
        tuple(lines),
        tuple(labels),
        more,
        f"the longest chord, {told(chord, unit)},",
    )


def side_of(piece: Piece, unit: Unit) -> Template:
    """An easement seen square to the wall from the room: its foot and its top, one arc and the same arc moved up."""
    element, size = piece.element, measure(piece.profile)
    mirror = -float(piece.hand)
    first, last = math.atan(element.slope), math.atan(element.end_slope)
    sweep = mirror * (last - first)

    def arc(up: float) -> Arc:
        ends = [(mirror * s, float(element.rise(s)) + up) for s in (0.0, element.length)]
        return arc_of_sweep(ends[0], ends[1], sweep)

    foot, top = arc(0.0), arc(size.h_max - size.h_min)
    lines = [TemplateLine("edge", (foot,)), TemplateLine("edge", (top,))]
    lines += [TemplateLine("cut", (Line(low, high),)) for low, high in ((foot.start, top.start), (foot.end, top.end))]
    words = [
        "Seen from the room, square to the wall. The foot is below; the ends are plumb.",
        (
            f"Foot and top are the same arc, radius {told(foot.radius, unit)}, one "
            f"{told(size.h_max - size.h_min, unit)} "
            "above the other: the section is plumb, so they are not parallel curves."
        ),
        (
            f"Along the level {told(element.length, unit)}, rise {told(abs(element.rise(element.length)), unit)}; "
            f"pitch from {degrees_text(abs(first))} to {degrees_text(abs(last))}."
        ),
    ]
    if piece.begin.turn or piece.end.turn:
        words.append("At the corner the foot and top are drawn to the wall line; the miter goes on from there.")
    labels = [
        _beside(foot, "Foot", above=False),
        _beside(top, "Top", above=True),
        TemplateLabel("{sign}", _between(foot, top), NAME, bold=True),
    ]
    more = (cross(foot.center), cross(top.center))
    chord = f"the foot from end to end, {told(math.dist(foot.start, foot.end), unit)},"
    return Template("easement", (piece.name,), tuple(words), tuple(lines), tuple(labels), more, chord)


def rods_of(run: Run, unit: Unit) -> Iterator[Template]:
    """A rod for each arc of a run's own line, with the chord and the rises that it is checked by on site."""
    for i, element in enumerate(run.elements):
        if element.curvature and not (run.blocks and run.blocks[i]):
            yield _rod(run, i, element, unit)


def _rod(run: Run, index: int, element: Element, unit: Unit) -> Template:
    parts = 1 if abs(element.sweep) <= HALF_ROUND else 2
    sweep, radius = abs(element.sweep) / parts, element.radius
    half, across = sweep / 2, math.sin(sweep / 2)
    hollow = run.hand * element.curvature > 0
    chord, low = 2 * radius * across, radius * math.cos(half)
    ends = ((radius * across, low), (-radius * across, low))
    arc = Arc(ends[0], ends[1], (0.0, 0.0), sweep)
    quarters = [-chord / 4, 0.0, chord / 4]
    heights = [math.sqrt(radius**2 - x**2) for x in quarters]
    lines = [TemplateLine("cut", (arc,)), TemplateLine("guide", (Line(ends[1], ends[0]),))]
    lines += [TemplateLine("guide", (Line((x, low), (x, y)),)) for x, y in zip(quarters, heights, strict=True)]
    rise, quarter = radius - low, heights[0] - low
    line = "wall" if run.stand == IN_PLAN else "line of the run"
    shape = (
        "hollow, as one stands before it: the rod is what lies between arc and chord"
        if hollow
        else "round, as one stands before it: the rod is what lies beyond the arc"
    )
    whole = f" This is half of the arc, which turns {degrees_text(abs(element.sweep))} in all." if parts == 2 else ""
    words = [
        f"The {line} is {shape}.{whole}",
        (
            f"Radius {told(radius, unit)}, turn {degrees_text(sweep)}, chord {told(chord, unit)}, "
            f"along the arc {told(radius * sweep, unit)}."
        ),
        f"Rise over the chord: {told(rise, unit)} at the middle, {told(quarter, unit)} at both quarter points.",
        (
            "On site hold the rod to the wall, or stretch a line between the ends of the arc and measure the three "
            "rises. Where they differ, tell the shop before anything is cut."
        ),
    ]
    labels = [
        TemplateLabel(f"Radius {short(radius, unit)}", (0.0, radius + GAP), LABEL),
        TemplateLabel(f"Chord {short(chord, unit)}", (0.0, low - GAP - LABEL), LABEL),
    ]
    if rise > 14.0 and chord > 200.0:
        for x, y in zip(quarters, heights, strict=True):
            text = f"Rise {short(y - low, unit)}"
            at = (x + GAP + advance(text, LABEL) / 2, low + (y - low) * 0.35)
            labels.append(TemplateLabel(text, at, LABEL))
    if not hollow:
        labels.append(TemplateLabel("{sign} rod", (0.0, radius + 8.0), NAME, bold=True))
    elif rise > 12.0:
        middle = (low + math.sqrt(radius**2 - (chord / 8) ** 2)) / 2
        labels.append(TemplateLabel("{sign} rod", (chord / 8, middle), NAME, bold=True))
    name = f"{run.name} ({run.places[index] if run.places else f'step {index + 1}'})"
    return Template(
        "curve rod",
        (name,),
        tuple(words),
        tuple(lines),
        tuple(labels),
        (cross((0.0, 0.0)),),
        f"the chord, {told(chord, unit)},",
    )


def end_words(joint: Joint) -> str:
    """How a curve's end is cut."""
    if joint.kind == "curved miter":
        return "curved miter, sawn to the line"
    if joint.kind == "miter":
        return f"straight miter, {degrees_text(abs(joint.turn) / 2)} off square"
    return "square to the curve"


def _plan_words(piece: Piece, back: Arc, face: Arc, unit: Unit) -> tuple[str, ...]:
    lining = piece.curvature > 0
    flat = piece.stand != IN_PLAN
    # The plan is drawn with the middle upward, so an arc that turns left begins on the right.
    left, right = (piece.end, piece.begin) if piece.element.sweep > 0 else (piece.begin, piece.end)
    size = measure(piece.profile)
    where = "below, toward the center" if lining else "above, away from the center"
    near, far, _ = ON_WALL if flat else STANDING
    words = [
        f"Seen square to the wall, from the room. The far edge of the piece is {where}."
        if flat
        else f"Seen from above. The molding {'lines the inside' if lining else 'wraps the outside'} of the curve: "
        f"its face is {where}.",
        (
            f"{near} radius {told(back.radius, unit)}, {far.lower()} radius {told(face.radius, unit)}, "
            f"{'width' if flat else 'thickness in plan'} {told(size.d_max - size.d_min, unit)}."
        ),
        (
            f"Turn {degrees_text(abs(piece.element.sweep))}; arc at the {near.lower()} {told(back.length, unit)}, "
            f"at the {far.lower()} {told(face.length, unit)}."
        ),
        f"Left end: {end_words(left)}. Right end: {end_words(right)}.",
    ]
    return tuple(words)


def _radius(piece: Piece, d: Floats) -> Floats:
    """The radii, mm, on which projections d (n,) run."""
    found: Floats = piece.element.radius - math.copysign(1.0, piece.curvature) * d
    return found


def _direction(element: Element, station: float) -> float:
    """The angle, radians, at which the arc's point at a station lies as seen from its center."""
    (cx, cy), (x, y) = element.center, element.start
    return math.atan2(y - cy, x - cx) + element.curvature * station


def _radius_labels(named: Sequence[tuple[float, str]], sweep: float, unit: Unit) -> Iterator[TemplateLabel]:
    """What each arc is: above the outermost, and below the innermost as far as its own curve asks."""
    order = sorted(named)
    yield TemplateLabel(f"{order[-1][1]}, radius {short(order[-1][0], unit)}", (0.0, order[-1][0] + GAP), LABEL)
    inner, name = order[0]
    for text in (f"{name}, radius {short(inner, unit)}", name):
        half = advance(text, LABEL) / 2
        base = math.sqrt(max(inner**2 - half**2, 0.0)) - GAP - LABEL
        # Below it the lines to the center come together.
        if abs(sweep) >= math.pi or half + GAP < base * math.tan(abs(sweep) / 2):
            yield TemplateLabel(text, (0.0, base), LABEL)
            break
    if len(order) == 3:
        low, middle, high = (radius for radius, _ in order)
        room, base = max((high - middle, middle), (middle - low, low))
        if room > 2 * LABEL + 2 * GAP:
            yield TemplateLabel(order[1][1], (0.0, base + (GAP if base == middle else room - GAP - LABEL)), LABEL)


def _name_label(inner: float, outer: float, sweep: float) -> Iterator[TemplateLabel]:
    """The template's sign on the wood itself, so that it stays there when the paper is cut out."""
    if outer - inner > NAME + 2 * GAP:
        angle = math.pi / 2 + min(abs(sweep) / 4, math.radians(40))
        middle = (inner + outer) / 2
        at = (middle * math.cos(angle), middle * math.sin(angle) - NAME * 0.35)
        yield TemplateLabel("{sign}", at, NAME, bold=True)


def _beside(arc: Arc, text: str, above: bool) -> TemplateLabel:
    """Words over or under the middle of an arc, clear of it as far as they reach."""
    x, _ = arc.via
    points = arc.point(np.linspace(0.0, 1.0, 257))
    near = points[np.abs(points[:, 0] - x) <= advance(text, LABEL) / 2 + GAP, 1]
    up = float(near.max()) + GAP if above else float(near.min()) - GAP - LABEL
    return TemplateLabel(text, (x, up), LABEL)


def _between(foot: Arc, top: Arc) -> Point:
    return (foot.via[0], (foot.via[1] + top.via[1]) / 2 - NAME * 0.35)
