"""Every way to make a curved piece, side by side, with what it takes and what speaks against it; and the favored
one."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Literal

from preview.blanks.cautions import (
    BENDING,
    BETWEEN_CENTERS,
    DUST,
    FIRST,
    HOLLOW,
    LATHE,
    PARTING,
    SAWING,
    SHAPING,
    Caution,
)
from preview.blanks.curved import Curved, curved, described
from preview.blanks.laminated import SPARE, Lamination, laminated, lamination_words
from preview.blanks.order import thin_words
from preview.blanks.polygon import chord
from preview.blanks.rings import RingStack, ring_words, rings
from preview.blanks.sawn import Sawn, sawn, sawn_words
from preview.blanks.staved import LEAST_STAVES, MOST_STAVES, StavedBlank, blank_words, fewest_staves, staved
from preview.blanks.stock import LARGEST_SWING, WIDEST_BOARD, board_feet
from preview.errors import PreviewError
from preview.joinery import Piece
from preview.units import Unit, counted, show

Method = Literal["turned", "rings", "lamination", "sawn"]
METHODS: tuple[Method, ...] = ("turned", "rings", "lamination", "sawn")
NAMES: dict[Method, str] = {
    "turned": "turned from a staved blank",
    "rings": "stacked rings of segments",
    "lamination": "bent lamination",
    "sawn": "sawn from solid",
}
SHORTEST_SHAPED = 304.8
"""A blank shorter than this, mm, is not shaped singly: hands would come too near the cutter (common practice: 12
in)."""

Plan = StavedBlank | RingStack | Lamination | Sawn


@dataclass(frozen=True)
class Way:
    """One way to make a curved piece, as many times as it is wanted.

    plan: its figures, None where it cannot be done; refusal: then why not, with the numbers, and what would help.
    pieces: that one blank yields. blanks: for all that are wanted. wood: board feet for all of them; finished: board
    feet that remain in them. parts: to cut and glue for all of them. joints: end joints and glue lines that cross the
    face of a piece. short: whether its profile has to be worked on a blank too short to be fed by hand.
    words: the figures in sentences; limits: what speaks against it; cautions: to be told with it.
    """

    method: Method
    plan: Plan | None
    refusal: str
    wanted: int
    pieces: int = 0
    blanks: int = 0
    wood: float = 0.0
    finished: float = 0.0
    parts: int = 0
    joints: int = 0
    short: bool = False
    words: tuple[str, ...] = ()
    limits: tuple[str, ...] = ()
    cautions: tuple[Caution, ...] = ()

    @property
    def possible(self) -> bool:
        """Whether it can be made so."""
        return self.plan is not None

    @property
    def used(self) -> float:
        """The share, 0 to 1, of the wood that is left in the finished pieces."""
        return self.finished / self.wood if self.wood else 0.0

    @property
    def name(self) -> str:
        """The way in words."""
        return NAMES[self.method]


@dataclass(frozen=True)
class _Shop:
    staves: int
    kerf: float
    chucking: float
    clean: float
    wanted: int
    board_width: float
    swing: float
    unit: Unit


def ways(
    piece: Piece,
    *,
    staves: int = 4,
    kerf: float = 3.175,
    chucking: float = 25.4,
    clean: float = 1.5875,
    wanted: int = 1,
    board_width: float = WIDEST_BOARD,
    swing: float = LARGEST_SWING,
    unit: Unit = "in",
) -> tuple[Way, ...]:
    """The four ways to make a curved piece, in the order of METHODS, possible or not; lengths in mm.

    staves: asked for; where a blank cannot be made of so many it is reckoned with the fewest, above that, of which it
    can, and says so. kerf: of the saw that parts the blank. chucking: spare length at each end of it. clean: how far
    rough wood stands over the finished round. wanted: how many such pieces. board_width, swing: the widest board, the
    largest diameter the lathe takes. Raises PreviewError for a piece that is no level curve, and for sizes that are
    none.
    """
    if wanted < 1:
        raise PreviewError("blank, wanted", str(wanted), "no piece is wanted", "give 1 or more")
    shape = curved(piece)
    shop = _Shop(staves, kerf, chucking, clean, wanted, board_width, swing, unit)
    return (
        _try("turned", shape, shop, _turned),
        _try("rings", shape, shop, _rings),
        _try("lamination", shape, shop, _laminated),
        _try("sawn", shape, shop, _sawn),
    )


def _try(method: Method, shape: Curved, shop: _Shop, make: Callable[[Curved, _Shop], Way]) -> Way:
    try:
        return make(shape, shop)
    except PreviewError as error:
        told = " ".join(f"{_sentence(problem.problem)} {_sentence(problem.fix)}" for problem in error.problems)
        return Way(method, None, told, shop.wanted)


def _sentence(text: str) -> str:
    return f"{text[0].upper()}{text[1:]}."


def _turned(shape: Curved, shop: _Shop) -> Way:
    count, limits = shop.staves, []
    fewest = fewest_staves(
        shape.outer, shape.inner, clean=shop.clean, board_width=shop.board_width, swing=shop.swing, least=count
    )
    if fewest is not None and fewest > count:
        try:
            _staved(shape, shop, count)
        except PreviewError as error:
            limits.append(_sentence(f"{error.problems[0].problem}: reckoned with {fewest}"))
        count = fewest
    blank = _staved(shape, shop, count)
    if not shape.wraps:
        limits.append(
            f"Hollow work: the face is inside, {show(blank.height, shop.unit)} deep in an opening of "
            f"{show(blank.inside_diameter, shop.unit)}, and no tailstock can hold the blank."
        )
    lines = max(len(each) for each in blank.parting.lines)
    better = _without_lines(shape, shop) if lines else None
    limits += [f"Of {better} staves no glue line would show in a face."] if better else []
    limits += [words for words in (thin_words(shape.profile, shop.unit),) if words]
    held = BETWEEN_CENTERS if shape.wraps else HOLLOW
    return _way(
        "turned",
        shape,
        shop,
        blank,
        pieces=blank.parting.pieces,
        wood=blank.wood,
        parts=blank.staves,
        joints=lines,
        words=blank_words(blank, shop.unit),
        limits=limits,
        cautions=(FIRST, *LATHE, held, PARTING, DUST),
    )


def _without_lines(shape: Curved, shop: _Shop) -> int | None:
    """The fewest staves of which no piece would have a glue line in its face; None where there is no such number."""
    for staves in range(LEAST_STAVES, MOST_STAVES + 1):
        try:
            if _staved(shape, shop, staves).parting.one_stave:
                return staves
        except PreviewError:
            continue
    return None


def _staved(shape: Curved, shop: _Shop, staves: int) -> StavedBlank:
    return staved(
        shape.outer,
        shape.inner,
        shape.height,
        shape.wedge,
        staves=staves,
        kerf=shop.kerf,
        chucking=shop.chucking,
        clean=shop.clean,
        wraps=shape.wraps,
        least_face=shape.least_face,
        meets_straights=shape.meets_straights,
        board_width=shop.board_width,
        swing=shop.swing,
        wanted=shop.wanted,
        unit=shop.unit,
    )


def _rings(shape: Curved, shop: _Shop) -> Way:
    stack = rings(
        shape.outer,
        shape.inner,
        shape.height,
        shape.wedge,
        kerf=shop.kerf,
        clean=shop.clean,
        least_face=shape.least_face,
        meets_straights=shape.meets_straights,
        swing=shop.swing,
        unit=shop.unit,
    )
    limits = ["The lines between the layers run along the face."]
    if stack.joints:
        limits = [f"End joints cross the face: {stack.joints} in each piece, and end grain meets in every one of them."]
    if stack.whole and not shape.wraps:
        limits.append("Hollow work: the face is inside, and no tailstock can hold the blank.")
    turned = (*LATHE, HOLLOW if not shape.wraps else BETWEEN_CENTERS, PARTING)
    return _way(
        "rings",
        shape,
        shop,
        stack,
        pieces=stack.pieces,
        wood=stack.wood,
        parts=stack.parts,
        joints=stack.joints,
        shaped=math.inf if stack.whole else chord(shape.outer, shape.wedge),
        words=ring_words(stack, shop.unit),
        limits=limits,
        cautions=(FIRST, *(turned if stack.whole else (SAWING, SHAPING)), DUST),
    )


def _laminated(shape: Curved, shop: _Shop) -> Way:
    bend = laminated(
        shape.outer,
        shape.inner,
        shape.height,
        shape.wedge,
        kerf=shop.kerf,
        clean=shop.clean,
        wraps=shape.wraps,
        unit=shop.unit,
    )
    limits = ["The profile has to be worked on the bent blank, and its cuts lay the glue lines open along the face."]
    return _way(
        "lamination",
        shape,
        shop,
        bend,
        pieces=1,
        wood=bend.wood,
        parts=bend.strips,
        joints=0,
        shaped=chord(shape.outer, shape.wedge) + 2 * SPARE,
        words=lamination_words(bend, shop.unit),
        limits=limits,
        cautions=(FIRST, BENDING, SHAPING, DUST),
    )


def _sawn(shape: Curved, shop: _Shop) -> Way:
    arc = sawn(
        shape.outer,
        shape.inner,
        shape.height,
        shape.wedge,
        kerf=shop.kerf,
        clean=shop.clean,
        board_width=shop.board_width,
        unit=shop.unit,
    )
    limits = ["The grain is short at the ends, and the profile has to be worked on the sawn blank."]
    if arc.joints:
        limits.append(
            f"{counted(arc.joints, 'end joint')} in the face of each piece, to hold the grain within 30° of the curve."
        )
    return _way(
        "sawn",
        shape,
        shop,
        arc,
        pieces=1,
        wood=arc.wood,
        parts=arc.segments,
        joints=arc.joints,
        shaped=chord(shape.outer, shape.wedge),
        words=sawn_words(arc, shop.unit),
        limits=limits,
        cautions=(FIRST, SAWING, SHAPING, DUST),
    )


def _way(
    method: Method,
    shape: Curved,
    shop: _Shop,
    plan: Plan,
    *,
    pieces: int,
    wood: float,
    parts: int,
    joints: int,
    words: tuple[str, ...],
    limits: list[str],
    cautions: tuple[Caution, ...],
    shaped: float = math.inf,
) -> Way:
    """A way with what is common to all. shaped: how long, mm, what is put to the cutter is."""
    blanks = math.ceil(shop.wanted / pieces)
    if shaped < SHORTEST_SHAPED:
        limits = [
            *limits,
            (
                f"At {show(shaped, shop.unit)} the blank is too short to be shaped singly "
                f"({show(SHORTEST_SHAPED, shop.unit)}): work several on one blank, or by hand."
            ),
        ]
    ends = tuple(dict.fromkeys(_sentence(end.words) for end in shape.ends))
    return Way(
        method,
        plan,
        "",
        shop.wanted,
        pieces=pieces,
        blanks=blanks,
        wood=wood * blanks,
        finished=board_feet(shape.volume) * shop.wanted,
        parts=parts * blanks,
        joints=joints,
        short=shaped < SHORTEST_SHAPED,
        words=(described(shape), *words, *ends),
        limits=tuple(limits),
        cautions=cautions,
    )


def favored(found: Sequence[Way], method: Method | None = None) -> tuple[Way, str]:
    """The way to take, and why, with the figures.

    Before all else the blank must not be too short to be shaped safely, then the fewest joints cross the face, then the
    fewest parts are cut and glued, then the least wood is used. method: taken in any case where the shop asks for one.
    Raises PreviewError when no way can be had, or not the one asked for.
    """
    possible = [way for way in found if way.possible]
    if method is not None:
        asked = next((way for way in found if way.method == method), None)
        if asked is None or not asked.possible:
            raise PreviewError(
                "blank, method",
                f'"{method}"',
                asked.refusal if asked else "this way was not reckoned",
                "leave the method out, and the numbers choose" if possible else "change the curve or the profile",
            )
        return asked, f"Asked for: {asked.name}, {_figures(asked)}."
    if not possible:
        raise PreviewError(
            "blank",
            None,
            "this curve can be made in none of the ways that are reckoned:\n"
            + "\n".join(f"{way.name}: {way.refusal}" for way in found),
            "use a larger radius, a shallower profile, or mitered straights",
        )
    ranked = sorted(possible, key=_rank)
    best, *others = ranked
    if not others:
        return best, f"{_sentence(best.name)[:-1]}: the only way that can be had; {_figures(best)}."
    beside = "; ".join(f"{way.name}: {_figures(way)}" for way in others)
    return best, f"{_sentence(best.name)[:-1]}: {_figures(best)}. {_sentence(beside)}"


def _rank(way: Way) -> tuple[bool, int, int, float]:
    return way.short, way.joints, way.parts, way.wood


def _figures(way: Way) -> str:
    across = counted(way.joints, "joint") if way.joints else "no joint"
    each = way.wood / way.wanted
    short = ", too short to be shaped singly" if way.short else ""
    return (
        f"{across} across the face, {counted(way.parts, 'part')} to cut and glue for {counted(way.wanted, 'piece')}, "
        f"{each:.2g} board feet each, {100 * way.used:.0f} % yield{short}"
    )
