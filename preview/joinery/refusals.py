"""What cannot be made is refused, with the numbers: folds, cuts that never meet, pieces consumed by their cuts."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import replace

import numpy as np

from preview.errors import PreviewError, Problem
from preview.joinery.joint import UPRIGHT, Joint, Passage, meet, passages
from preview.joinery.lengths import outline_points
from preview.joinery.piece import Piece, stations
from preview.profiles import Profile, measure
from preview.runs import Run
from preview.units import Unit, degrees_text, show, shown_step

LEAST_PIECE = 0.1
"""A piece must keep at least this length, mm, at every point of its profile."""
FOLD_MARGIN = 0.1
"""How much larger than the projection, mm, a lining curve's back radius must be: a face on less comes to a point."""
MOST_TURN_OUT = math.radians(160)
"""Where two faces turn by more, the cut between them leaves both at less than 10 degrees: a feather edge."""
LEAST_COPE = math.radians(5)
"""A cope at a corner that turns by less runs on along the wall by more than eleven times its depth."""
SAMPLES = 65
MUCH_LARGER = 1e4
"""A radius so many times as large is as good as a straight."""
HALVINGS = 50
AT_WALL = 0.05
"""mm from the wall line that are told as at it: half of what `show` tells in mm."""
ROUNDING = 1e-6
"""mm that a figure may be off before it counts as more than another."""


def place(run: Run, member: str, i: int) -> str:
    """Where a problem stands, in words: run, step and member."""
    return f'run "{run.name}", {run.places[i]}, member "{member}"'


def refuse_folds(run: Run, member: str, d_min: float, d_max: float, unit: Unit) -> None:
    """Refuse curves whose face would fold."""
    problems: list[Problem] = []
    for i, element in enumerate(run.elements):
        k = run.hand * element.curvature
        reach = d_max if k > 0 else -d_min
        if k and element.radius < reach + FOLD_MARGIN:
            side = "projection" if k > 0 else "depth behind the wall line"
            back = f"the curve's back radius {show(element.radius, unit)} is"
            if element.radius <= reach:
                said = f"{back} not larger than the profile's {side} {show(reach, unit)}, so its face would fold"
                fix = f"use a radius over {show(reach, unit)} or a shallower profile"
            else:
                said = f"{back} only a hair larger than the profile's {side} {show(reach, unit)}, so its face would "
                said += "come to a point"
                least = _rounded_up(reach + FOLD_MARGIN, unit)
                fix = f"use a radius of {show(least, unit)} or more, or a shallower profile"
            problems.append(Problem(place(run, member, i), None, said, fix))
    if problems:
        raise PreviewError.several(problems)


def _less_deep(piece: Piece) -> str:
    """What takes less of a piece: a block beside it that is narrower, or a shallower profile."""
    blocks = "block" in (piece.begin.kind, piece.end.kind)
    return "a narrower block or a shallower profile" if blocks else "a shallower profile"


def _rounded_up(length: float, unit: Unit) -> float:
    """The next length, mm, that is shown as it is: a whole millimeter, or 1/32 of an inch."""
    step = shown_step(unit, metric=1.0)
    return math.ceil(length / step) * step


def _standing(d: float, unit: Unit) -> str:
    """A projection in words, from the wall line."""
    if abs(d) < AT_WALL:
        return "at the wall line"
    return f"{show(d, unit)} out from the wall line" if d > 0 else f"{show(-d, unit)} behind the wall line"


def refuse_unmet(
    run: Run, member: str, joints: Sequence[tuple[Joint, int]], d_min: float, d_max: float, unit: Unit
) -> None:
    """Refuse corners at which the two offset curves stop meeting before the profile ends, or all but do.

    joints: each with the number of the element that begins there (or ends, at the end of an open run).
    """
    problems: list[Problem] = []
    for joint, i in joints:
        if joint.kind not in ("miter", "curved miter"):
            continue
        reach, behind = _met(joint)
        if _spans(reach, behind, d_min, d_max):
            problems += _feathered(place(run, member, i), joint, d_min, d_max, unit)
            continue
        if reach <= d_max * (1 + 1e-9):
            said = f"{show(reach, unit)} out, and the profile projects {_further(d_max, reach, unit)}"
        else:
            said = f"{show(-behind, unit)} behind the wall line, and the profile reaches back "
            said += _further(-d_min, -behind, unit)
        problems.append(
            Problem(
                place(run, member, i),
                None,
                f"at this {degrees_text(abs(joint.turn))} corner the two faces stop meeting at {said}",
                _eased(joint, d_min, d_max, unit),
            )
        )
    if problems:
        raise PreviewError.several(problems)


def _met(joint: Joint) -> tuple[float, float]:
    """The largest and the least projection, mm, at which the two offset curves of a corner meet."""
    flipped = replace(joint, before=_flipped(joint.before), after=_flipped(joint.after), turn=-joint.turn)
    return joint.reach(), -flipped.reach()


def _spans(reach: float, behind: float, d_min: float, d_max: float) -> bool:
    """Whether curves that meet from one projection to another do so all over a profile."""
    return reach > d_max * (1 + 1e-9) and behind < d_min * (1 + 1e-9) + 1e-12


def _eased(joint: Joint, d_min: float, d_max: float, unit: Unit) -> str:
    """What helps where curves do not meet to the end: the least radius that would do, found by halving."""
    sides = (joint.before, joint.after)

    def serves(times: float) -> bool:
        before, after = (replace(side, curvature=side.curvature / times) for side in sides)
        eased = replace(joint, before=before, after=after)
        return _spans(*_met(eased), d_min, d_max) and _sharpest(eased, d_min, d_max)[0] <= MOST_TURN_OUT

    little, much = 1.0, MUCH_LARGER
    for _ in range(HALVINGS):
        middle = math.sqrt(little * much)
        little, much = (little, middle) if serves(middle) else (middle, much)
    bends = [side.curvature for side in sides if side.curvature]
    least = show(_rounded_up(much / abs(bends[0]), unit), unit)
    larger = (
        f"a radius of {least} or more" if len(bends) == 1 else f"radii {math.ceil(much * 10) / 10:g} times as large"
    )
    return f"use {larger}, a smaller corner, a shallower profile, or let the curve meet the straight smoothly"


def _further(length: float, than: float, unit: Unit) -> str:
    """A length in words beside one that it passes."""
    return (
        show(length, unit) if length > than * (1 + 1e-6) and show(length, unit) != show(than, unit) else "a hair more"
    )


def _feathered(where: str, joint: Joint, d_min: float, d_max: float, unit: Unit) -> Iterator[Problem]:
    """A corner of curves that meet to the end of the profile, but nearly back to back there."""
    if joint.is_plane:
        return
    turn, at = _sharpest(joint, d_min, d_max)
    if turn > MOST_TURN_OUT:
        yield Problem(
            where,
            None,
            f"this corner, {degrees_text(abs(joint.turn))} at the wall, is one of {degrees_text(turn)} "
            f"at {_standing(at, unit)}: the cut leaves both faces there as a feather edge",
            _eased(joint, d_min, d_max, unit),
        )


def _sharpest(joint: Joint, d_min: float, d_max: float) -> tuple[float, float]:
    """By how much the faces turn, radians, where they turn most: at the wall's end of the profile or the other, mm."""
    before, after = passages([joint])
    ends = np.array([d_min, d_max])
    points = meet(before, after, ends)
    cosines = np.einsum("ij,ij->i", before.normals_at(points)[0], after.normals_at(points)[0])
    turns = np.arccos(np.clip(cosines, -1.0, 1.0))
    at = int(turns.argmax())
    return float(turns[at]), float(ends[at])


def _flipped(passage: Passage) -> Passage:
    """The same back line seen from the other side of the wall."""
    (nx, ny), k = passage.normal, passage.curvature
    return Passage(passage.tangent, (-nx, -ny), -k)


def refuse_lengths(run: Run, member: str, profile: Profile, pieces: Sequence[Piece], unit: Unit) -> None:
    """Refuse pieces that their two cuts consume, and curves that meet themselves."""
    size = measure(profile)
    d = np.linspace(size.d_min, size.d_max, SAMPLES)
    h = np.zeros_like(d)
    whole = list(pieces)
    leaning = any(cut.up != UPRIGHT for piece in pieces for cut in (piece.begin, piece.end))
    if leaning or any(piece.is_faced or piece.square for piece in pieces):
        # Such cuts depend on the height as well: the outline's own points say where they come closest.
        d, h = outline_points(profile, any(piece.is_faced for piece in pieces))
    starts, stops = stations(whole, d, h)
    left = stops - starts
    if any(piece.is_faced for piece in pieces):
        starts, stops = stations(whole, d, h, "above")
        left = np.hstack([left, stops - starts])
        d = np.tile(d, 2)
    problems: list[Problem] = []
    walked = left * np.abs([piece.curvature for piece in whole])[:, None]
    for i in np.flatnonzero(walked.max(axis=1) >= 2 * np.pi).tolist():
        at = int(np.argmax(walked[i]))
        problems.append(
            Problem(
                place(run, member, whole[i].index - 1),
                None,
                f"the curve comes round and meets itself: {_standing(float(d[at]), unit)} it turns by "
                f"{degrees_text(float(walked[i, at]))}",
                "end the curve sooner, or use a shallower profile",
            )
        )
    least = np.array([0.0 if piece.role == "return" else LEAST_PIECE for piece in whole])
    for i in np.flatnonzero(~(left.min(axis=1) >= least)).tolist():
        at = int(np.argmin(left[i]))
        gone = -float(left[i, at])
        if whole[i].role == "return":
            problems.append(
                Problem(
                    place(run, member, whole[i].index - 1),
                    None,
                    f"a return runs back to the wall line, and the profile reaches {show(gone, unit)} behind it",
                    "move the member out, or end it square",
                )
            )
            continue
        said = f"they overlap by {show(gone, unit)}" if gone > 0 else f"they leave only {show(-gone, unit)}"
        more = math.ceil(max(gone, 0.0) + 1.0 - ROUNDING)
        problems.append(
            Problem(
                place(run, member, whole[i].index - 1),
                None,
                f"the {whole[i].kind} piece is consumed by its two cuts: {_standing(float(d[at]), unit)} {said}",
                f"make it at least {show(float(more), unit)} longer, use {_less_deep(whole[i])}, or change its corners",
            )
        )
    if problems:
        raise PreviewError.several(problems)


def refuse_faced(run: Run, member: str, pieces: Sequence[Piece]) -> None:
    """Refuse a piece that follows a face at one end and a curve at an angle at the other."""
    for piece in pieces:
        ends = (piece.begin, piece.end)
        if piece.is_faced and any(end.is_bent for end in ends):
            raise PreviewError(
                place(run, member, piece.index - 1),
                None,
                "a piece that is coped or returned on itself at one end cannot meet a curve at an angle at the other",
                "miter that end, or let the curve follow smoothly",
            )


def refuse_copes(run: Run, member: str, d_min: float, unit: Unit) -> None:
    """Refuse a cope at a corner that hardly turns, and on a member that reaches behind the wall line: the face it
    follows runs on to the wall only."""
    problems = [
        Problem(
            place(run, member, i),
            None,
            f"the walls turn by {degrees_text(abs(turn))} only here, and a cope needs {degrees_text(LEAST_COPE)}",
            "miter the corner: leave joint out, and coped where it is given",
        )
        for i, (way, turn) in enumerate(zip(run.ways, run.turns, strict=False))
        if way.kind == "cope" and abs(turn) < LEAST_COPE
    ]
    if d_min < -1e-9:
        problems += _copes_behind(run, member, d_min, unit)
    if problems:
        raise PreviewError.several(problems)


def _copes_behind(run: Run, member: str, d_min: float, unit: Unit) -> list[Problem]:
    return [
        Problem(
            place(run, member, i),
            None,
            f"a coped corner ends at the wall line, and the profile reaches {show(-d_min, unit)} behind it",
            "move the member out, or miter the corner",
        )
        for i, way in enumerate(run.ways)
        if way.kind == "cope"
    ]
