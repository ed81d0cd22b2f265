"""How to set the saw for the ends of a piece: every usual way to lay it, with the settings and in words."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

import numpy as np

from preview.joinery import Joint, Piece
from preview.profiles import Point
from preview.shop.saw import NOTHING, Hand, Setting, Vec3, cross, dot, scaled, settings, unit
from preview.shop.spring import lies_on_wall, spring_of
from preview.units import degrees_text

Posture = Literal["in position", "flat", "standing", "on its back", "face up"]

FOOT: Point = (0.0, -1.0)
TOP: Point = (0.0, 1.0)
BACK: Point = (-1.0, 0.0)
"""The outward normals, in (d, h), of a profile's sides."""
ON_ITS_BACK: Posture = "on its back"
FLAT: Posture = "flat"

SQUARE_CUT, PLUMB_CUT = "Square cut", "Plumb cut"
_CUTS: dict[str, str] = {
    "scarf": "Scarf",
    "plumb cut": "Plumb cut where the slope changes",
    "elevation miter": "Miter where the slope changes",
    "butt to wall": "End that butts the wall of the corner",
}

TEST_CUT = "Saw scales are coarse: cut a test corner from scrap first, with the blade guard in place."
SHORT = 300.0
"""How far, mm, hands stay from the blade of a crosscut saw on either side (HSE, Crosscut saws)."""
SHORT_PIECE = "This piece is short: cut it off a longer one, or hold it in a jig, never by hand near the blade."


@dataclass(frozen=True)
class Lie:
    """A way to lay a piece on the saw.

    table, fence: the outward normals, in (d, h), of the face on the table and of the side against the fence.
    on_table, at_fence: those two in words; on_top, in_front: the ones across from them.
    """

    posture: Posture
    table: Point
    fence: Point
    words: str
    at_fence: str
    in_front: str
    on_table: str
    on_top: str


@dataclass(frozen=True)
class Setup:
    """One way to make a cut.

    setting: signed, in radians. keep: the side of the blade on which the piece lies, as seen from in front of the saw.
    lies: how it is laid. words: all of it in a sentence.
    """

    posture: Posture
    setting: Setting
    keep: Hand
    lies: str
    words: str


@dataclass(frozen=True)
class EndSettings:
    """How to cut one end of a piece.

    joint: its name. end: which end in the order of travel. at: which end it is to someone who faces the wall.
    corner: the angle between the walls, radians, None where the piece ends square. inside: whether the corner is one.
    setups: the usual ways, the one in most use first. cautions: to be told with them.
    """

    piece: str
    joint: str
    end: Literal["begin", "end"]
    at: Hand
    corner: float | None
    inside: bool | None
    setups: tuple[Setup, ...]
    cautions: tuple[str, ...] = (TEST_CUT,)

    @property
    def words(self) -> tuple[str, ...]:
        """One line for each setup."""
        return tuple(setup.words for setup in self.setups)


def end_settings(piece: Piece, end: Literal["begin", "end"]) -> EndSettings | None:
    """How to set the saw for one end of a piece; None for what no one pass cuts: curves, curved miters, self-returns.

    For a cope it is the inside miter that is cut first, to show the line.
    """
    joint = piece.begin if end == "begin" else piece.end
    coped = joint.kind == "cope"
    turn = _coped(joint) if coped else joint.turn
    if piece.kind not in ("straight", "return") or not (joint.is_plane or coped):
        return None
    on_wall = lies_on_wall(piece)
    normal = cut_normal(joint)
    at: Hand = "left" if (piece.hand > 0) == (end == "end") else "right"
    corner, inside = (math.pi - abs(turn), turn > 0) if turn else (None, None)
    opening = _end_words(piece, joint, turn, at, end, on_wall)
    held = [_setup(piece, end, normal, lie, opening) for lie in _held(piece, on_wall)]
    flat = [_setup(piece, end, normal, lie, opening) for lie in _flat(piece, on_wall)]
    # Most saws that tilt one way tilt to the left; an upright blade cuts the same either way round.
    flat.sort(key=lambda setup: setup.setting.tilt == "right")
    if flat and not flat[0].setting.tilt:
        flat = flat[:1]
    short = piece.element.length * piece.pace < SHORT
    cautions = (TEST_CUT, SHORT_PIECE) if short else (TEST_CUT,)
    return EndSettings(piece.name, joint.name, end, at, corner, inside, (*held, *flat), cautions)


def cut_normal(joint: Joint) -> Vec3:
    """The unit normal of a plane cut, in the run's own axes, whichever way round: square to all that runs in it.

    Of a cope, that of the miter whose line on the face it keeps: s = per_face f + per_out d where d = f.
    """
    out, up = joint.axes()
    if joint.faced is not None:
        slant = joint.faced.per_face + joint.faced.per_out
        out = np.array([*joint.before.normal, 0.0]) + slant * np.array([*joint.before.tangent, 0.0])
    x, y, z = np.cross(out, up).tolist()
    return unit((x, y, z))


def _coped(joint: Joint) -> float:
    """The turn, radians, of the inside corner at which a cope stands."""
    if joint.faced is None:
        return 0.0
    across, along = joint.faced.per_face, joint.faced.per_out
    return math.atan2(1.0 / abs(across), -along / across)


def _setup(piece: Piece, end: str, normal: Vec3, lie: Lie, opening: str) -> Setup:
    frame = piece.frame
    travel, out, up = frame.travel, frame.out, frame.up
    table = _outward(travel, out, up, lie.table)
    side = unit(cross(table, travel))
    fence = side if dot(side, _in_space(out, up, lie.fence)) > 0 else scaled(side, -1.0)
    right = cross(table, fence)
    setting = settings(right, table, normal)
    # The wood lies behind the end cut and before the begin cut, and travel may point either way at the saw.
    ahead = dot(right, travel) > 0
    keep: Hand = "left" if ahead == (end == "end") else "right"
    words = f"{opening}: {lie.words}; {_saw_words(setting)}; keep the wood on the {keep} of the blade"
    long = _long_point(setting, keep, lie)
    return Setup(lie.posture, setting, keep, lie.words, words + (f"; its long point is {long}." if long else "."))


def _in_space(out: Vec3, up: Vec3, point: Point) -> Vec3:
    d, h = point
    return (d * out[0] + h * up[0], d * out[1] + h * up[1], d * out[2] + h * up[2])


def _outward(travel: Vec3, out: Vec3, up: Vec3, normal: Point) -> Vec3:
    """The outward normal in space of a face of a straight, from its normal in the section as the section stands."""
    along = _in_space(out, up, (-normal[1], normal[0]))
    found = unit(cross(travel, along))
    return found if dot(found, _in_space(out, up, normal)) > 0 else scaled(found, -1.0)


def _held(piece: Piece, on_wall: bool) -> Iterator[Lie]:
    """How a piece is held much as it sits in the room, so that the blade stays upright at a plan miter."""
    if on_wall:
        edge = "the edge on the line of the run"
        words = f"face up on the table, {edge} against the fence"
        yield Lie("face up", FOOT, BACK, words, edge, "its outer edge", "the back", "the face")
    elif piece.shear:
        return  # raked to meet its neighbors, its foot and top are out of square to its back
    elif spring_of(piece.profile) is None:
        words = "standing as it does on the wall, its foot on the table and its back against the fence"
        yield Lie("standing", FOOT, BACK, words, "the back", "the face", "the foot", "the top")
    else:
        words = "upside down against the fence, the ceiling edge on the table and the wall edge at the fence"
        yield Lie("in position", TOP, BACK, words, "the wall edge", "the face", "the ceiling edge", "the foot")


def _flat(piece: Piece, on_wall: bool) -> Iterator[Lie]:
    """A piece flat on its back, both ways round."""
    if on_wall:
        return
    spring = spring_of(piece.profile)
    if spring is None:
        back, posture = BACK, ON_ITS_BACK
        edges = ((FOOT, "the foot"), (TOP, "the top edge"))
    else:
        sin, cos = math.sin(spring), math.cos(spring)
        back, posture = (-cos, sin), FLAT
        edges = (((-sin, -cos), "the wall edge"), ((sin, cos), "the ceiling edge"))
    for (fence, name), (_, other) in (edges, edges[::-1]):
        words = f"flat on its back, {name} against the fence"
        yield Lie(posture, back, fence, words, name, other, "the back", "the face")


def _end_words(piece: Piece, joint: Joint, turn: float, at: Hand, end: str, on_wall: bool) -> str:
    """Which cut this is, as one sees it who faces the wall."""
    plumb = piece.element.slope and (not piece.square or joint.kind == "block")
    plain = PLUMB_CUT if plumb else SQUARE_CUT
    if on_wall:
        which = "begins" if end == "begin" else "ends"
        cut = f"Corner of {degrees_text(math.pi - abs(turn))}" if turn else _CUTS.get(joint.kind, plain)
        return f"{cut}, where the piece {which} along the run"
    if not turn:
        return f"{_CUTS.get(joint.kind, plain)}, {at} end"
    # Its right end is at the corner: so it is the piece to the left of it.
    beside = "left" if at == "right" else "right"
    inside = "Inside" if turn > 0 else "Outside"
    if joint.kind == "cope":
        inside = "Cope: first miter it, to show the line, and then saw along that line, leaning back. Inside"
    return f"{inside} corner of {degrees_text(math.pi - abs(turn))}, {beside} piece (its {at} end)"


def _saw_words(setting: Setting) -> str:
    swing = f"swing the table {degrees_text(abs(setting.miter))} to the {setting.swing}"
    tilt = f"tilt the blade {degrees_text(abs(setting.bevel))} to the {setting.tilt}"
    swing = swing if setting.swing else "table square"
    return f"{swing}, {tilt if setting.tilt else 'blade upright'}"


def _long_point(setting: Setting, keep: Hand, lie: Lie) -> str:
    """Where the kept piece is longest."""
    places: list[str] = []
    if abs(setting.miter) >= NOTHING:
        far = setting.swing == keep
        places.append(f"at the fence ({lie.at_fence})" if far else f"in front ({lie.in_front})")
    if abs(setting.bevel) >= NOTHING:
        top = setting.tilt != keep
        places.append(f"on top ({lie.on_top})" if top else f"on the table ({lie.on_table})")
    return ", ".join(places)
