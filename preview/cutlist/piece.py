"""What is cut: one value for each piece, with the lengths a shop marks and what either end is."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from preview.cutlist.stock import Stock
from preview.joinery import JointKind, PieceKind
from preview.profiles import Profile
from preview.runs import Side
from preview.shop import EndSettings

At = Literal["left", "right", "foot", "top"]
LineName = Literal["wall", "back", "face"]
"""A line along a piece: on the run's own line (the wall line), on the back of the wood, and on its face."""

BACK_AND_FACE = ("back", "face")
EDGES = ("inner edge", "outer edge")


@dataclass(frozen=True)
class CutEnd:
    """One end of a piece. Lengths mm along the stick, angles radians.

    end: which in the order of travel. at: where it is to one who faces the wall. kind, joint: of the joint there.
    meets: the piece or block beyond the joint, "" at a free end.
    corner: the angle between the walls, None where the run goes straight or smoothly on. inside: whether it is an
    inside corner. gain: how far the face runs past the back (+ at an outside corner, - at an inside one).
    turn_back, turn_face: by how much the line of the back, and that of the face, turns here, + inside. They differ
    only where a curve is met off tangent. past_back, past_face: how far the wood runs past the point where it would
    meet its neighbor in a miter; - where a cope stops short of it. settings: of the saw; None for what no one pass
    cuts. meets_kind: of what stands beyond, None at a free end.
    """

    end: Literal["begin", "end"]
    at: At
    kind: JointKind
    joint: str
    meets: str
    corner: float | None
    inside: bool | None
    gain: float
    turn_back: float
    turn_face: float
    past_back: float
    past_face: float
    settings: EndSettings | None
    meets_kind: PieceKind | None = None

    @property
    def long_at(self) -> Literal["back", "face", "square"]:
        """On which line the long point is: `square` where neither line is longer."""
        return "square" if abs(self.gain) < 1e-6 else "face" if self.gain > 0 else "back"

    @property
    def by_template(self) -> bool:
        """Whether the cut follows a curve that has to be drawn, so that no saw setting makes it."""
        return self.kind == "curved miter"


@dataclass(frozen=True)
class Bend:
    """What makes a piece a curve in plan. Lengths mm, angles radians.

    wraps: whether the molding goes round the outside of the curve; else it lines the inside. radius: of the wall line;
    radius_back, radius_face: of the wood. sweep: of the wall line, between the two corners.
    arc_back, arc_face: along those lines, from cut to cut. arc: what a bent stick must hold (as the piece's `overall`).
    chord, depth: the sides of the least rectangle in plan, lying along the chord, that holds the whole piece.
    """

    wraps: bool
    radius: float
    radius_back: float
    radius_face: float
    sweep: float
    arc_back: float
    arc_face: float
    arc: float
    chord: float
    depth: float


@dataclass(frozen=True)
class Easing:
    """What makes a piece an easement, a curve in elevation. Lengths mm, angles radians, in the order of travel.

    radius: of every line along it, in elevation. pitch_begin, pitch_end: at which it climbs, - where it falls.
    level: how far it goes in plan. rise: how far up, - down. chord, depth: the sides of the least rectangle in
    elevation, lying along the chord, that holds the whole piece.
    """

    radius: float
    pitch_begin: float
    pitch_end: float
    level: float
    rise: float
    chord: float
    depth: float


@dataclass(frozen=True)
class BlockSize:
    """A block's own sizes, mm: how wide it is along the wall, how far it stands out, how high; all as it stands.

    takes: how much of the run's line it takes; at a corner, of each of the two walls, - where it stands clear of the
    corner and the molding runs on past that. turn: of the corner, radians, + inside; 0 in line.
    """

    wide: float
    out: float
    high: float
    takes: float
    turn: float = 0.0

    @property
    def at_corner(self) -> bool:
        """Whether it stands at a corner."""
        return self.turn != 0.0


@dataclass(frozen=True)
class CutPiece:
    """One piece as it is cut. Lengths in mm, angles in radians.

        |<------------- overall ------------->|
        |      |<------- face ------->|       |       here an outside corner on the left: its long point is on the face,
      wall ____________________________________       and on the right an inside one: its long point is on the back
          \\                                 /
           ...

    name, run, member, kind: as in the model. profile: its section as placed, (d, h). room: the side of travel on which
    the molding stands. on_wall: whether it lies on the face of a wall, as a casing does. out_back, out_face: how far
    out from the run's line the back and the face lie.

    wall: along the run's line. back, face: from cut to cut on the back (d least) and on the face (d most); of a casing
    these are its inner and its outer edge. Where a cut leans in elevation they are taken at the foot of either; where
    an end follows another face they are the most that there is of them.
    long, short: the longest and the shortest line of the whole section. inner: between the two short points.
    overall: between the two long points. stick: what the stick must hold; more than overall where a cope is first cut
    as a miter. On a slope all are along it; of a curve they are arcs, and so of an easement but for overall and stick,
    which are its chord, as it is sawn from a plank. Of a block they are its length along the grain, and wall is what it
    takes of the run's line.

    pitch: at which a straight climbs, - where it falls in the order of travel. shear: how much higher its section
    stands for each mm out, to meet a climbing neighbor. square: whether a climbing piece carries its section square to
    the slope. bend, easing, block: what the kind asks besides. stock: what its section is milled from. grain: which way
    it runs, in words. volume: mm³. finish_area: of what is seen of it, mm² (see `seen_area`).
    """

    name: str
    run: str
    member: str
    kind: PieceKind
    profile: Profile
    room: Side
    on_wall: bool
    begin: CutEnd
    end: CutEnd
    out_back: float
    out_face: float
    wall: float
    back: float
    face: float
    long: float
    short: float
    inner: float
    overall: float
    stick: float
    stock: Stock
    grain: str
    volume: float
    finish_area: float
    pitch: float = 0.0
    shear: float = 0.0
    square: bool = False
    bend: Bend | None = None
    easing: Easing | None = None
    block: BlockSize | None = None

    @property
    def hand(self) -> int:
        """+1 when the room is on the left of travel, -1 on the right."""
        return 1 if self.room == "left" else -1

    @property
    def ends(self) -> tuple[CutEnd, CutEnd]:
        """The two ends as one who faces the wall sees them: left, right; or foot, top; else begin, end."""
        first, last = self.begin, self.end
        swapped = (first.at, last.at) in (("right", "left"), ("top", "foot"))
        return (last, first) if swapped else (first, last)

    @property
    def line_words(self) -> tuple[str, str]:
        """What its two lines are called: the back and the face, or of a casing the inner and the outer edge."""
        return EDGES if self.on_wall and self.kind != "block" else BACK_AND_FACE

    def length_on(self, line: LineName) -> float:
        """The length on one of its lines, mm, from cut to cut."""
        return {"wall": self.wall, "back": self.back, "face": self.face}[line]

    def out_of(self, line: LineName) -> float:
        """How far out, mm, from the run's line that line lies."""
        return {"wall": 0.0, "back": self.out_back, "face": self.out_face}[line]
