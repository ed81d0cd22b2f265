"""The joint between two neighbors along a run, and the cut of the piece on each side of it."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from preview.errors import PreviewError
from preview.joinery.faced import cope, face_line, self_return
from preview.joinery.joint import UPRIGHT, Joint, JointKind, Passage, Vec3, joint_kind
from preview.joinery.parts import Part
from preview.joinery.piece import into_room
from preview.joinery.refusals import place
from preview.profiles import Profile
from preview.runs import ENDS, Element, Run, Vec2, Way, run_back

EVEN = 1e-12


@dataclass(frozen=True)
class Corner:
    """A joint as it is told, and the cut of the piece on each side: the same value where one surface serves both."""

    joint: Joint
    before: Joint
    after: Joint


def _passage(element: Element, tangent: Vec2, hand: int) -> Passage:
    return Passage(tangent, into_room(tangent, hand), hand * element.curvature)


def corner(run: Run, member: str, profile: Profile, one: Part, two: Part, shear: float, shear_after: float) -> Corner:
    """The joint between two neighbors, and each one's cut."""
    before, after = one.element, two.element
    tangent = before.end_tangent if two.turn else after.tangent
    first = _passage(before, tangent, run.hand)
    second = _passage(after, after.tangent, run.hand)
    climbs = abs(before.end_slope - after.slope) > EVEN
    kind: JointKind = joint_kind(two.turn, first.curvature or before.bend, second.curvature or after.bend, climbs)
    if two.way.kind == "scarf":
        kind = "scarf"
    elif two.way.kind == "cope":
        kind = "cope"
    elif climbs and not two.turn and one.square | two.square and not (before.bend or after.bend):
        kind = "elevation miter"
    joint = Joint(
        f"{run.name} / {member} / {_label(one, two)} {kind}",
        kind,
        after.start,
        first,
        second,
        two.turn,
        height=after.height,
        lean=shear - before.end_slope * math.tan(two.turn / 2),
    )
    if kind == "cope":
        if shear:
            raise PreviewError(
                place(run, member, two.index),
                None,
                "the molding is raked to meet a climb round a corner, and a cope follows the profile as it was drawn",
                'write joint = "miter" here',
            )
        return _coped(joint, profile, two.way)
    if kind == "scarf":
        # The angle is measured along the stick, and the saw stands square to its side, plumb section or not.
        slant = two.way.slant / math.hypot(1.0, after.slope)
        return _shared(replace(joint, slant=slant, lean=joint.lean + slant * after.slope, up=_square_up(two)))
    if kind == "elevation miter":
        return _shared(replace(joint, up=_halved(one, two)))
    if not (one.square or two.square):
        return _shared(joint)
    if one.square and two.square and not (climbs or two.turn):
        return _shared(replace(joint, up=_up(two)))
    return Corner(joint, _own_plumb(joint, one, -1.0, shear), _own_plumb(joint, two, 1.0, shear_after))


def _label(one: Part, two: Part) -> str:
    if one.is_return or two.is_return:
        return "begin return" if one.is_return else "end return"
    return f"{one.index + 1}-{two.index + 1}"


def _shared(joint: Joint) -> Corner:
    return Corner(joint, joint, joint)


def _up(part: Part) -> Vec3:
    """Where a point 1 mm up stands on a cut square to a straight's own travel."""
    if not part.square:
        return UPRIGHT
    (tx, ty), cos = part.element.tangent, 1.0 / math.hypot(1.0, part.element.slope)
    sin = part.element.slope * cos
    return (-sin * tx, -sin * ty, cos)


def _square_up(part: Part) -> Vec3:
    """Where a point 1 mm up the section stands on a cut that is square to the side of a climbing stick."""
    if part.square or not part.element.slope:
        return _up(part)
    cos = 1.0 / math.hypot(1.0, part.element.slope)
    sin, (tx, ty) = part.element.slope * cos, part.element.tangent
    return (-sin * cos * tx, -sin * cos * ty, cos * cos)


def _halved(one: Part, two: Part) -> Vec3:
    """Where a point 1 mm up both profiles stands on the plane that halves a change of slope."""
    first, second = math.atan(one.element.end_slope), math.atan(two.element.slope)
    middle, half = (first + second) / 2, (second - first) / 2
    tx, ty = two.element.tangent
    along, rise = -math.sin(middle) / math.cos(half), math.cos(middle) / math.cos(half)
    return (along * tx, along * ty, rise)


def _own_plumb(joint: Joint, part: Part, side: float, shear: float) -> Joint:
    """A piece's own plumb cut on the plane that halves a corner, where its neighbor's section is not the same.

    side: +1 for the piece after the joint, -1 for the one before.
    """
    slope = part.element.slope if side > 0 else part.element.end_slope
    lean = shear + side * slope * math.tan(joint.turn / 2)
    rise = math.hypot(1.0, slope) if part.square else 1.0
    return replace(joint, lean=lean, up=(0.0, 0.0, rise))


def _coped(joint: Joint, profile: Profile, way: Way) -> Corner:
    """A cope: one piece runs on to the other's wall, the other is cut to its face."""
    sin, cos = math.sin(joint.turn), math.cos(joint.turn)
    cot = 0.0 if abs(cos) < EVEN else cos / sin
    coped_after = way.coped == "after"
    side = 1.0 if coped_after else -1.0
    through = joint.before if coped_after else joint.after
    wall = replace(joint, kind="butt to wall", before=through, after=through, turn=0.0, slant=side * cot)
    follows = joint.after if coped_after else joint.before
    faced = cope(face_line(profile), joint.turn, begins=coped_after)
    cut = replace(joint, before=follows, after=follows, turn=0.0, faced=faced)
    return Corner(joint, wall, cut) if coped_after else Corner(joint, cut, wall)


def beside_block(run: Run, member: str, part: Part, shear: float, label: str, *, begins: bool) -> Corner:
    """A piece's end against a block, square in plan and plumb as the block is; `begins`: the block stands before it."""
    element = part.element
    passage = _passage(element, element.tangent if begins else element.end_tangent, run.hand)
    joint = Joint(
        f"{run.name} / {member} / {label}",
        "block",
        element.start if begins else element.end,
        passage,
        passage,
        height=element.height if begins else element.end_height,
    )
    return _shared(_own_plumb(joint, part, 1.0 if begins else -1.0, shear))


def end_of(run: Run, member: str, profile: Profile, part: Part, shear: float, *, begins: bool) -> Corner:
    """The end of an open run."""
    element = part.element
    tangent = element.tangent if begins else element.end_tangent
    passage = _passage(element, tangent, run.hand)
    way = run.begin if begins else run.end
    name = "begin" if begins else "end"
    kind: JointKind = "square end"
    if way == "butt":
        kind = "butt end"
    elif way == "self-return":
        kind = "self-return"
    joint = Joint(
        f"{run.name} / {member} / {name}",
        kind,
        element.start if begins else element.end,
        passage,
        passage,
        height=element.height if begins else element.end_height,
        lean=shear,
        up=_up(part),
    )
    if kind == "self-return":
        if element.curvature or element.slope or element.bend or shear:
            raise PreviewError(
                place(run, member, part.index),
                None,
                "an end is returned on itself on a level straight only"
                + (", and not where the molding is raked to meet a climb round a corner" if shear else ""),
                f'write {name} = "return", or end the run with a level straight',
            )
        joint = replace(joint, faced=self_return(face_line(profile), begins=begins))
    return _shared(_beveled(joint, run, member, profile, part, begins) if way not in ENDS else joint)


def _beveled(joint: Joint, run: Run, member: str, profile: Profile, part: Part, begins: bool) -> Joint:
    """An end that is not square to the wall, and stands as a square one would: plumb, or square to the stick's foot."""
    way, key = (run.begin, "begin") if begins else (run.end, "end")
    element = part.element
    if element.curvature or element.bend:
        problem = "an end is beveled on a straight only"
        raise PreviewError(place(run, member, part.index), None, problem, f"leave {key} out, or end with a straight")
    try:
        back = run_back(way, profile)
    except PreviewError as error:
        raise error.at(place(run, member, part.index)) from error.__cause__
    slant = (back if begins else -back) / math.hypot(1.0, element.slope)
    return replace(joint, kind="beveled end", slant=slant, lean=joint.lean + slant * element.slope)
