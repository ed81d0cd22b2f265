"""Templates of joints: curved miters in plan and laid flat, and the lines that copes and self-returns are sawn to."""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np

from preview.bench.templates.laid import Lay, cope_on_back, cope_on_face, lay_of, on_the_face
from preview.bench.templates.template import (
    OFF_THE_WALL,
    Floats,
    Role,
    Template,
    TemplateKind,
    TemplateLabel,
    TemplateLine,
    box_of,
    chain,
    cross,
    placed,
    polyline,
    told,
    turned_to,
)
from preview.joinery import Faced, Joint, Piece, hidden, into_room
from preview.paper import Placing
from preview.profiles import Arc, Edge, Line, Point, measure
from preview.runs import IN_PLAN
from preview.units import Unit, degrees_text

STUB = 40.0
"""mm of each piece that is drawn beyond its cut."""
APART = 20.0
"""mm between two views side by side."""
LABEL = 3.4
SIGN = 4.2
STRAIGHT = 0.1
"""A curve that leaves its chord by less, mm, is within what a saw and a rule can do."""
CAPTION = 12.0
"""mm, the type of labels and signs, and how far below the foot a view's own name stands."""


def miter_in_plan(joint: Joint, before: Piece, after: Piece) -> Template:
    """A curved miter as both pieces have it, seen as the run's plan is drawn; a straight lies level, face upward."""
    size = measure(before.profile)
    straight = next((piece for piece in (after, before) if not piece.curvature), None)
    one, two = np.array(joint.before.normal), np.array(joint.after.normal)
    way = straight.normal if straight is not None else tuple(((one + two) / np.linalg.norm(one + two)).tolist())
    where = turned_to(joint.at, (way[0], way[1]), (0.0, 1.0))
    curve, strays = polyline(joint.points, size.d_min, size.d_max)
    stubs = [list(placed(_stubs(piece, at_end), where)) for piece, at_end in ((before, True), (after, False))]
    lines = [*placed([TemplateLine("cut", curve, strays)], where), *stubs[0], *stubs[1], cross((0.0, 0.0), 2.5)]
    points = np.array([where.point((x, y)) for x, y in joint.points(np.linspace(size.d_min, size.d_max, 129)).tolist()])
    lines.append(TemplateLine("guide", chain(points[[0, -1]])))
    bow = _bow(points)
    seen, above = (
        ("Seen from above", "room")
        if before.stand == IN_PLAN
        else ("Seen square to the wall, from the room", "molding")
    )
    figures = "; ".join(f"{x + 0.0:.2f}, {y + 0.0:.2f}" for x, y in np.round(points[::32], 2).tolist())
    words = (
        (
            f"{seen}{'; the straight lies level' if straight else ''}, with the {above} above. Both pieces are cut "
            "upright to the thick line. The broken line between its ends is straight, and only a guide."
        ),
        f"The thick line is {_conic(joint)}; it leaves the guide by {bow:.2f} mm at most"
        + (", so little that a straight cut along the guide serves." if bow < STRAIGHT else "."),
        f"From the small cross (the corner of the wall lines), mm to the right and up: {figures}.",
    )
    labels = [
        TemplateLabel(f"{{sign}}, {_own(piece)}", _middle(mine), LABEL, bold=True)
        for piece, mine in ((before, stubs[0]), (after, stubs[1]))
    ]
    return Template("curved miter", (before.name, after.name), words, tuple(lines), tuple(labels))


def miter_laid_flat(piece: Piece, at_end: bool, unit: Unit) -> Template:
    """The line of a curved miter on a straight that lies on its back, face up."""
    joint, lay = (piece.end if at_end else piece.begin), lay_of(piece)
    length = piece.element.length if at_end else 0.0

    def stations(d: Floats) -> Floats:
        found: Floats = piece.stations(d)[int(at_end)] - length
        return found

    size = measure(piece.profile)
    lines = _view(lay, on_the_face(lay, piece, stations), at_end)
    behind = ""
    if not lay.spring:
        back = lay.side * float(stations(np.array([size.d_min]))[0])
        behind = " On the back the cut is straight"
        if abs(back) > OFF_THE_WALL:
            lines.append(TemplateLine("back", (Line((back, 0.0), (back, lay.height)),)))
            behind += f", {told(abs(back), unit)} from there"
        behind += "."
    nearly = _bow(joint.points(np.linspace(size.d_min, size.d_max, 129))) < STRAIGHT
    words = (
        f"{_which(piece, at_end)} Laid on its back, face up, foot toward you; the sign stands on the wood to keep.",
        (
            "The thick line is where the cut meets the face. The broken line is the corner of the wall lines: measure "
            f"the piece to it.{behind}"
        ),
        f"In plan the cut is {_conic(joint)}"
        + (
            ", and nearly straight: the plan's template says how nearly."
            if nearly
            else ": a blade that is set once does not follow it. Saw wide of it and trim to the plan's template."
        ),
    )
    labels = _names(lay, lines, _wood(lay, at_end), "Corner")
    return Template("curved miter laid flat", (_end_of(piece, at_end),), words, tuple(lines), tuple(labels))


def faced_line(piece: Piece, at_end: bool, faced: Faced, cope: bool, unit: Unit) -> Template:
    """The line of a cope or a self-return: with the back up (not on a sprung molding), and with the face up."""
    lay, size = lay_of(piece), measure(piece.profile)
    wood, mark = _wood(lay, at_end), "Corner" if cope else "End"
    lines = _view(lay, cope_on_face(lay, piece, faced), at_end)
    labels = list(_names(lay, lines, wood, mark))
    if not lay.spring:
        left, _, right, _ = box_of(lines)
        labels.append(TemplateLabel("Face up", ((left + right) / 2, -CAPTION), SIGN, bold=True))
        behind = placed(_view(lay, cope_on_back(lay, piece, faced, size.d_min), at_end), Placing(a=-1.0))
        back = list(placed(behind, Placing(across=left - APART - box_of(behind)[2])))
        low, _, high, _ = box_of(back)
        labels += [*_names(lay, back, -wood, mark), TemplateLabel("Back up", ((low + high) / 2, -CAPTION), SIGN, True)]
        lines = [*back, *lines]
    words = [_which(piece, at_end), *_how(lay, faced, cope)]
    words += [
        f"The face has a hollow {told(each.depth, unit)} deep under a lip, from {told(each.low - size.h_min, unit)} to "
        f"{told(each.high - size.h_min, unit)} up, that no straight cut can follow."
        for each in hidden(piece.profile)
    ]
    kind: TemplateKind = "cope" if cope else "self-return"
    return Template(kind, (_end_of(piece, at_end),), tuple(words), tuple(lines), tuple(labels))


def _middle(lines: list[TemplateLine]) -> Point:
    """The middle of a piece's lines, a little low, as a line of text stands there."""
    left, low, right, high = box_of(lines)
    return ((left + right) / 2, (low + high) / 2 - LABEL * 0.35)


def _how(lay: Lay, faced: Faced, cope: bool) -> Iterator[str]:
    """How the line is sawn, in words."""
    views = "Face up" if lay.spring else "On the left the back is up, on the right the face"
    yield (
        f"{views}; the foot is toward you, and the sign stands on the wood to keep. The broken line is the "
        f"{'corner of the walls' if cope else 'end of the wall line'}: measure the piece to it."
    )
    if lay.spring:
        yield (
            f"The blade is level as the molding hangs: on its back, tilted {degrees_text(lay.spring)} from square, "
            "its upper end toward the top edge."
        )
    if not cope:
        square = "" if lay.spring else "Saw square through to the back. "
        yield f"{square}Outside, the end then looks like a mitered return."
        return
    sign = math.copysign(1.0, faced.per_face)
    turn = math.atan2(1.0 / abs(faced.per_face), -sign * faced.per_out / abs(faced.per_face))
    lean = math.atan(faced.per_out)
    yield f"The walls stand at {degrees_text(math.pi - turn)} to one another."
    if abs(lean) > 1e-9:
        longer = "the back" if sign * lean > 0 else "the face"
        yield f"The blade leans {degrees_text(abs(lean))} along the piece: {longer} stays longer."
    elif not lay.spring:
        yield "The blade stands square to the back: the line is the same on the face and on the back."
    yield "Common practice: cut back a few degrees behind the face line, so that only the face touches."


def _view(lay: Lay, cut: TemplateLine, at_end: bool) -> list[TemplateLine]:
    """A cut with the edges of the piece and the line to measure to."""
    lines = [cut, *_outline(lay, [cut], at_end)]
    return [*lines, TemplateLine("guide", (Line((0.0, -3.0), (0.0, lay.height + 3.0)),))]


def _outline(lay: Lay, lines: list[TemplateLine], at_end: bool) -> list[TemplateLine]:
    """The foot and the top edge of the wood that stays, from the cut on."""
    left, _, right, _ = box_of(lines)
    far = left - STUB if _wood(lay, at_end) < 0 else right + STUB
    foot, top = lines[0].edges[0].start, lines[0].edges[-1].end
    return [TemplateLine("edge", chain([at, (far, at[1])])) for at in (foot, top)]


def _wood(lay: Lay, at_end: bool) -> float:
    """The side of the joint, in x, on which the wood lies."""
    return -lay.side if at_end else lay.side


def _names(lay: Lay, lines: list[TemplateLine], wood: float, line: str) -> Iterator[TemplateLabel]:
    """What is the top, the foot, the wood that stays, and the line to measure to."""
    left, foot, right, top = box_of([each for each in lines if each.role == "edge"])
    middle = left + STUB / 2 if wood < 0 else right - STUB / 2
    yield TemplateLabel("Top edge", (middle, top + 1.6), LABEL)
    yield TemplateLabel("Foot", (middle, foot - 1.6 - LABEL), LABEL)
    yield TemplateLabel("{sign}", (middle, (foot + top - SIGN) / 2), SIGN, bold=True)
    at = next(each.edges[0].start[0] for each in lines if each.role == "guide")
    yield TemplateLabel(line, (at, lay.height + 4.6), LABEL)


def _which(piece: Piece, at_end: bool) -> str:
    return f"For the {_hand(piece, at_end)} end, as one faces the wall."


def _hand(piece: Piece, at_end: bool) -> str:
    return "left" if (piece.hand > 0) == at_end else "right"


def _end_of(piece: Piece, at_end: bool) -> str:
    return f"{piece.name}, {_hand(piece, at_end)} end"


def _own(piece: Piece) -> str:
    return piece.name.rsplit(" / ", 1)[1]


def _stubs(piece: Piece, at_end: bool) -> list[TemplateLine]:
    """A piece's lines in plan, from a joint on for a little way."""
    size = measure(piece.profile)
    outs: list[tuple[Role, float]] = [("back", size.d_min), ("face", size.d_max)]
    if abs(size.d_min) > OFF_THE_WALL:
        outs.append(("wall", 0.0))
    d = np.array([out for _, out in outs])
    starts, stops = piece.stations(d)
    if at_end:
        cuts, far = stops, max(float(stops.min()) - STUB, float(starts.max()))
    else:
        cuts, far = starts, min(float(starts.max()) + STUB, float(stops.min()))
    return [
        TemplateLine(role, (_along(piece, out, cut, far),))
        for (role, out), cut in zip(outs, cuts.tolist(), strict=True)
    ]


def _along(piece: Piece, d: float, first: float, last: float) -> Edge:
    """The way of a point d out along a piece in plan, from one station to another."""
    element = piece.element

    def at(station: float) -> Point:
        (x, y), (nx, ny) = element.point(station), into_room(element.tangent_at(station), piece.hand)
        return (x + d * nx, y + d * ny)

    if not piece.curvature:
        return Line(at(first), at(last))
    return Arc(at(first), at(last), element.center, element.curvature * (last - first))


def _conic(joint: Joint) -> str:
    """What curve the points equally far from both back lines make in plan."""
    one, two = joint.before.curvature, joint.after.curvature
    if not (one and two):
        return "part of a parabola"
    return "part of a hyperbola" if one * two > 0 else "part of an ellipse"


def _bow(points: Floats) -> float:
    """How far points (n, 2) leave the straight from the first to the last at most, mm."""
    along, away = points[-1] - points[0], points - points[0]
    return float(np.abs(along[0] * away[:, 1] - along[1] * away[:, 0]).max() / np.hypot(*along))
