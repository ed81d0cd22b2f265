"""A blank glued up of staves, turned, and sawn into corner pieces.

The staves stand round an axis like those of a straight-sided barrel, their edges cut at 180° / N. In plan:

         ______________          flat: the rough round has to clear the finished outside, so the middle of each
        |\\    face    /|         stave stands `clean` over it
        | \\__________/ |
        |  |  opening |  |        opening: the finished inside has to clear the corners of the opening, which are its
        |  |__________|  |        furthest points; so its flats stand at (inside radius - clean) cos(180° / N)
        | /            \\ |
        |/______________\\|        thickness = flat - opening
"""

from __future__ import annotations

from dataclasses import dataclass

from preview.blanks.parting import Parting, part
from preview.blanks.polygon import edge_angle, flat_of, point_of, side_of
from preview.blanks.refusals import need
from preview.blanks.stock import LARGEST_SWING, NOMINAL, WIDEST_BOARD, Nominal, board_feet, stock_for
from preview.errors import PreviewError
from preview.units import Unit, counted, degrees_text, listed, show

LEAST_STAVES, MOST_STAVES = 3, 16
LEAST_BORE = 12.7
"""The least inside radius, mm, that is bored: an arbor or a boring bar has to enter (common practice: 1 in across)."""
LEAST_HOLLOW = 25.4
"""The least inside radius, mm, on whose inside a profile is turned (common practice: 2 in across)."""
DEEPEST_HOLLOW = 2.0
"""How deep a hollow is worked at most, in parts of its opening's diameter (common practice: what a tool reaches
safely)."""


@dataclass(frozen=True)
class StavedBlank:
    """A blank of staves, mm and radians.

    outer, inner, height: the finished radii and the profile's height. wraps: the profile is turned on the outside.
    flat: the radius of the rough round, which is how far the middle of each stave's face is from the axis. opening: how
    far the middle of its inner face is. thickness, face_width, inner_width, length: of a stave. diagonal: over the
    points, what the lathe has to swing. stock: the rough stock that holds the thickness. wood: board feet for the
    blank.
    """

    outer: float
    inner: float
    height: float
    sweep: float
    wraps: bool
    staves: int
    edge_angle: float
    flat: float
    opening: float
    thickness: float
    face_width: float
    inner_width: float
    length: float
    diagonal: float
    stock: Nominal
    wood: float
    clean: float
    parting: Parting

    @property
    def outside_diameter(self) -> float:
        """Finished."""
        return 2 * self.outer

    @property
    def inside_diameter(self) -> float:
        """Finished."""
        return 2 * self.inner

    @property
    def rough_diameter(self) -> float:
        """The largest round that the rough blank clears: across its flats."""
        return 2 * self.flat


def staved(
    outer_radius: float,
    inner_radius: float,
    height: float,
    sweep: float,
    *,
    staves: int = 4,
    kerf: float = 3.175,
    chucking: float = 25.4,
    clean: float = 1.5875,
    wraps: bool = True,
    least_face: float | None = None,
    meets_straights: bool = False,
    board_width: float = WIDEST_BOARD,
    swing: float = LARGEST_SWING,
    wanted: int | None = None,
    unit: Unit = "in",
) -> StavedBlank:
    """The blank from which pieces of `sweep` radians are turned and sawn; lengths in mm.

    outer_radius, inner_radius: finished. clean: how far rough wood stands over the finished round, on the radius.
    chucking: spare length at each end. least_face: the least radius of the face. meets_straights: whether straights
    meet both ends of a piece squarely. board_width, swing: the widest board and the largest lathe there is. wanted: as
    `part` has it. Raises PreviewError, with the numbers, when such a blank cannot be made.
    """
    need(outer_radius, inner_radius, height, sweep, kerf=kerf, clean=clean, chucking=chucking, unit=unit)
    if not LEAST_STAVES <= staves <= MOST_STAVES:
        raise PreviewError(
            "blank, staves",
            str(staves),
            f"a round is glued up of {LEAST_STAVES} to {MOST_STAVES} staves",
            f"give a number from {LEAST_STAVES} to {MOST_STAVES}",
        )
    _refuse_tight(inner_radius, height + chucking, wraps, unit)
    flat, opening = outer_radius + clean, flat_of(inner_radius - clean, staves)
    thickness, width, diagonal = flat - opening, side_of(flat, staves), 2 * point_of(flat, staves)
    stock = stock_for(thickness)
    if stock is None or width > board_width or diagonal > swing:
        raise _cannot(outer_radius, inner_radius, clean, staves, board_width, swing, unit)
    parting = part(
        sweep,
        outer_radius,
        inner_radius,
        kerf=kerf,
        staves=staves,
        face=least_face or (outer_radius if wraps else inner_radius),
        meets_straights=meets_straights,
        wanted=wanted,
        unit=unit,
    )
    length = height + 2 * chucking
    return StavedBlank(
        outer=outer_radius,
        inner=inner_radius,
        height=height,
        sweep=sweep,
        wraps=wraps,
        staves=staves,
        edge_angle=edge_angle(staves),
        flat=flat,
        opening=opening,
        thickness=thickness,
        face_width=width,
        inner_width=side_of(opening, staves),
        length=length,
        diagonal=diagonal,
        stock=stock,
        wood=board_feet(staves * stock.rough * (width + kerf) * (length + kerf)),
        clean=clean,
        parting=parting,
    )


def _refuse_tight(inner: float, deep: float, wraps: bool, unit: Unit) -> None:
    """Refuse an inside that no tool enters, or that is deeper than a tool reaches."""
    least = LEAST_BORE if wraps else LEAST_HOLLOW
    if inner < least - 1e-9:
        what = "an arbor or a boring tool needs" if wraps else "turning a profile inside a hollow needs"
        raise PreviewError(
            "blank, inside radius",
            show(inner, unit),
            f"the finished inside is {show(2 * inner, unit)} across, and {what} {show(2 * least, unit)}",
            "carve the piece, or use a larger radius" if wraps else "carve the piece, or make it of mitered straights",
        )
    if not wraps and deep > DEEPEST_HOLLOW * 2 * inner:
        raise PreviewError(
            "blank, height",
            show(deep, unit),
            f"the profile is on the inside, {show(deep, unit)} deep with its chucking, and a tool reaches safely about "
            f"{DEEPEST_HOLLOW:g} times the opening of {show(2 * inner, unit)}",
            "turn it in two heights, or use a larger radius",
        )


def _cannot(
    outer: float, inner: float, clean: float, staves: int, board: float, swing: float, unit: Unit
) -> PreviewError:
    """Why so many staves will not do, and how many would."""
    flat = outer + clean
    thickness = flat - flat_of(inner - clean, staves)
    width, diagonal = side_of(flat, staves), 2 * point_of(flat, staves)
    thickest = NOMINAL[-1]
    problems = []
    if thickness > thickest.surfaced + 1e-9:
        problems.append(
            f"one would be {show(thickness, unit)} thick, and {thickest.name} stock gives "
            f"{show(thickest.surfaced, unit)}"
        )
    if width > board:
        problems.append(f"one would be {show(width, unit)} wide, and a board {show(board, unit)}")
    if diagonal > swing:
        problems.append(
            f"the blank is {show(diagonal, unit)} over its points, and the lathe swings {show(swing, unit)}"
        )
    enough = fewest_staves(outer, inner, clean=clean, board_width=board, swing=swing)
    return PreviewError(
        "blank, staves",
        str(staves),
        f"of {counted(staves, 'stave')}: " + "; ".join(problems),
        f"use {enough} staves" if enough else "make the piece another way: no number of staves from 3 to 16 will do",
    )


def fewest_staves(
    outer: float,
    inner: float,
    *,
    clean: float,
    board_width: float = WIDEST_BOARD,
    swing: float = LARGEST_SWING,
    least: int = LEAST_STAVES,
) -> int | None:
    """The fewest staves, from `least` up, of which a blank for these finished radii (mm) can be made; None where
    none."""
    flat = outer + clean
    for staves in range(max(LEAST_STAVES, least), MOST_STAVES + 1):
        thickness = flat - flat_of(inner - clean, staves)
        if (
            stock_for(thickness) is not None
            and side_of(flat, staves) <= board_width
            and 2 * point_of(flat, staves) <= swing
        ):
            return staves
    return None


def blank_words(blank: StavedBlank, unit: Unit) -> tuple[str, ...]:
    """The blank in sentences: the staves, the stock, the lathe, the sawing, the glue lines."""
    staves = (
        f"{counted(blank.staves, 'stave')}, {show(blank.thickness, unit)} thick, {show(blank.face_width, unit)} wide "
        f"on the face and {show(blank.inner_width, unit)} inside, {show(blank.length, unit)} long; each edge at "
        f"{degrees_text(blank.edge_angle)}; from {blank.stock.name} stock."
    )
    lathe = (
        f"It clears a round of {show(blank.rough_diameter, unit)} and needs a swing of {show(blank.diagonal, unit)} "
        f"over the bed."
    )
    inside = "The profile is on the outside of the round."
    if not blank.wraps:
        inside = (
            f"The profile is on the inside of the round: hollow work, {show(blank.height, unit)} deep in an opening of "
            f"{show(blank.inside_diameter, unit)}, held at one end."
        )
    parting = blank.parting
    told = [f"{parting.chosen.words} {parting.why}"]
    if parting.remedies[1:]:
        others = " ".join(f"{each.words}" for each in parting.remedies if each is not parting.chosen)
        told.append(f"Otherwise: {others}")
    return (staves, lathe, inside, *told, glue_words(parting, blank.staves), GRAIN)


GRAIN = (
    "The grain stands upright, square to the run. Where the work is under ANSI/AWI 0622, clause 3.3.2 e (grain at the "
    "face within 30° of the curve), or is to be clear finished beside straights, ask before it is made so."
)


def glue_words(parting: Parting, staves: int) -> str:
    """Where the glue lines fall, in a blank of so many staves."""
    if parting.one_stave and parting.pieces == staves and parting.pieces > parting.true:
        return "The glue lines fall in the saw cuts, so each piece is one stave wide: no glue line shows in its face."
    if parting.one_stave:
        return "Each piece lies within one stave: no glue line shows in its face."
    told = []
    for i, lines in enumerate(parting.lines, 1):
        if lines:
            told.append(f"piece {i} at {listed(degrees_text(line) for line in lines)}")
    clear = f"; {counted(parting.clear, 'piece has', 'pieces have')} none" if parting.clear else ""
    return f"Glue lines in the face, from where the piece begins: {'; '.join(told)}{clear}."
