"""Saw settings in words, followed by a blind sawyer: the wood is laid and cut as told, and what is kept is looked at.

Nothing here asks the code how it got its words. The postures and the blade are set up from the words alone, with the
saw as a person sees it (x right, y away to the fence, z up), and the cut is compared with where the piece has to stop.
"""

from __future__ import annotations

import math
import re
from dataclasses import replace

import numpy as np
import pytest

from preview.joinery import Piece, join
from preview.profiles import Profile, back_relief, ease, flatten, sprung
from preview.runs import Corner, Element, Run, Side, Stand, Straight, Way, lay_out
from preview.scene import library_path, load_profile
from preview.shop import SHORT_PIECE, TEST_CUT, EndSettings, Setup, end_settings, flat_on_table, settings, spring_of
from preview.shop.ends import cut_normal
from samples import BASE, CROWN, block, corner, quarter_round, stepped

TURNS = [90, -90, 45, -45, 120, -60, 7]
COVE_CROWN = load_profile(library_path("cove-and-ogee-crown"))

# What the words about laying the piece mean in the section (d out, h up): outward normals of what lies on the table
# and of what stands at the fence.
LAID = {
    "upside down against the fence, the ceiling edge on the table and the wall edge at the fence": ((0, 1), (-1, 0)),
    "standing as it does on the wall, its foot on the table and its back against the fence": ((0, -1), (-1, 0)),
    "face up on the table, the edge on the line of the run against the fence": ((0, -1), (-1, 0)),
    "flat on its back, the foot against the fence": ("back", (0, -1)),
    "flat on its back, the wall edge against the fence": ("back", (0, -1)),
    "flat on its back, the top edge against the fence": ("back", (0, 1)),
    "flat on its back, the ceiling edge against the fence": ("back", (0, 1)),
}


def angle_in(words: str, what: str) -> float:
    """The angle told, degrees, + to the left; 0 when the words say square or upright."""
    found = re.search(what + r" ([\d.]+)° to the (left|right)", words)
    if found is None:
        assert ("table square" if what == "swing the table" else "blade upright") in words
        return 0.0
    return float(found[1]) * (1 if found[2] == "left" else -1)


def unit(vector: np.ndarray) -> np.ndarray:
    return vector / np.linalg.norm(vector)


class Saw:
    """A piece laid on the saw as the words tell, with the blade set as they tell."""

    def __init__(self, piece: Piece, end: str, setup: Setup) -> None:
        words = setup.words
        laid = next(text for text in LAID if text in words)
        table, fence = LAID[laid]
        back = back_of(piece.profile)
        travel, out, up = (np.array(v) for v in (piece.frame.travel, piece.frame.out, piece.frame.up))
        travel = unit(travel)
        down = face(back if table == "back" else table, travel, out, up)
        away = section(fence, out, up)
        away = unit(away - travel * (away @ travel) - down * (away @ down))
        self.turn = np.array([np.cross(away, -down), away, -down])  # the room's directions -> right, away, up
        assert np.linalg.det(self.turn) == pytest.approx(1.0)  # laid, not mirrored
        assert abs(self.turn[0] @ travel) == pytest.approx(1.0)  # along the fence
        M, B = (math.radians(angle_in(words, what)) for what in ("swing the table", "tilt the blade"))
        self.blade = np.array([math.cos(M) * math.cos(B), -math.sin(M) * math.cos(B), math.sin(B)])
        self.kept_left = "keep the wood on the left of the blade" in words
        assert self.kept_left != ("keep the wood on the right of the blade" in words)
        d, h = np.array(flatten(piece.profile, 0.2).points).T
        stations = piece.stations(d, h)[int(end == "end")]
        self.cut = piece.frame.points(stations, d, h) @ self.turn.T
        inward = -80.0 if end == "end" else 80.0
        self.wood = piece.frame.points(stations + inward, d, h) @ self.turn.T

    def offsets(self) -> tuple[np.ndarray, np.ndarray]:
        """How far right of the blade the wanted cut face is (0 everywhere when it is the cut), and the kept wood."""
        cut = self.cut @ self.blade
        return cut - cut.mean(), self.wood @ self.blade - cut.mean()


def back_of(profile: Profile) -> tuple[float, float]:
    spring = spring_of(profile)
    return (-1.0, 0.0) if spring is None else (-math.cos(spring), math.sin(spring))


def section(direction: tuple[float, float], out: np.ndarray, up: np.ndarray) -> np.ndarray:
    return unit(direction[0] * out + direction[1] * up)


def face(normal: tuple[float, float], travel: np.ndarray, out: np.ndarray, up: np.ndarray) -> np.ndarray:
    """The outward normal of a face that runs along the piece, also where the section is not square to it or sheared:
    square to the travel and to the line that the face makes in the section."""
    line = section((-normal[1], normal[0]), out, up)
    found = unit(np.cross(travel, line))
    return found if found @ section(normal, out, up) > 0 else -found


def ends(run: Run, profile: Profile) -> list[tuple[Piece, str, EndSettings]]:
    found = []
    for piece in join(run, "m", profile).pieces:
        for end in ("begin", "end"):
            told = end_settings(piece, end)  # type: ignore[arg-type]
            if told is not None:
                found.append((piece, end, told))
    return found


@pytest.mark.parametrize("room", ["left", "right"])
@pytest.mark.parametrize("turn", TURNS)
@pytest.mark.parametrize("profile", [BASE, CROWN, COVE_CROWN], ids=["base", "crown", "library crown"])
def test_the_words_cut_the_piece(profile: Profile, turn: float, room: Side) -> None:
    mitered = 0
    for piece, end, told in ends(corner(math.radians(turn), room), profile):
        for setup in told.setups:
            saw = Saw(piece, end, setup)
            off, kept = saw.offsets()
            assert np.abs(off).max() < 0.02, setup.words  # the words round to a hundredth of a degree
            assert (kept < 0 if saw.kept_left else kept > 0).all(), setup.words
            mitered += "corner" in setup.words
    assert mitered == 6  # two pieces, each held one way and laid flat two ways


@pytest.mark.parametrize("room", ["left", "right"])
@pytest.mark.parametrize("turn", [90, -60])
@pytest.mark.parametrize("profile", [BASE, CROWN], ids=["base", "crown"])
def test_the_wood_lies_on_the_table_and_at_the_fence(profile: Profile, turn: float, room: Side) -> None:
    """Nothing of the section is below the face on the table, and that face has a line of it on the table."""
    for piece, end, told in ends(corner(math.radians(turn), room), profile):
        for setup in told.setups:
            saw = Saw(piece, end, setup)
            height = saw.wood[:, 2] - saw.wood[:, 2].min()
            assert np.ptp(saw.wood[height < 1e-6][:, 1]) > 5.0, setup.words


@pytest.mark.parametrize("room", ["left", "right"])
@pytest.mark.parametrize("turn", [90, -90, 30])
@pytest.mark.parametrize("profile", [BASE, CROWN], ids=["base", "crown"])
def test_the_long_point_is_where_it_is_said(profile: Profile, turn: float, room: Side) -> None:
    for piece, end, told in ends(corner(math.radians(turn), room), profile):
        for setup in told.setups:
            found = re.search("its long point is (.*)[.]", setup.words)
            if found is None:
                assert setup.words.startswith("Square cut")
                continue
            saw = Saw(piece, end, setup)
            reach = saw.cut[:, 0] if saw.kept_left else -saw.cut[:, 0]
            slope, *_ = np.linalg.lstsq(np.column_stack([saw.cut[:, 1:], np.ones(len(reach))]), reach, rcond=None)
            said = {"at the fence": (0, 1), "in front": (0, -1), "on top": (1, 1), "on the table": (1, -1)}
            for phrase in re.findall("at the fence|in front|on top|on the table", found[1]):
                axis, sign = said[phrase]
                assert slope[axis] * sign > 0.01, setup.words


@pytest.mark.parametrize("room", ["left", "right"])
@pytest.mark.parametrize("turn", [90, -90])
def test_left_piece_and_right_piece(turn: float, room: Side) -> None:
    """Stand in the room, look at the corner: the piece called left is on the left."""
    run = corner(math.radians(turn), room)
    first, second = join(run, "m", BASE).pieces
    at = np.array(first.end.at)
    mid = [np.array(piece.element.point(piece.element.length / 2)) for piece in (first, second)]
    into = np.array(first.normal) + np.array(second.normal)  # from the corner into the room
    look = -into
    left = np.array([-look[1], look[0]])
    for piece, end, middle in ((first, "end", mid[0]), (second, "begin", mid[1])):
        told = end_settings(piece, end)  # type: ignore[arg-type]
        assert told is not None
        said = "left" if (middle - at) @ left > 0 else "right"
        assert f"{said} piece" in told.words[0]
        assert told.at == {"left": "right", "right": "left"}[said]


def test_the_trades_own_table() -> None:
    """Crown flat on the table with the blade tilted left, and crown upside down in position: the table printed in many
    saw manuals, here from memory, as (edge at the fence, swing, side kept)."""
    flat = {
        ("Inside", "left"): ("ceiling edge", "right", "left"),
        ("Inside", "right"): ("wall edge", "left", "left"),
        ("Outside", "left"): ("wall edge", "left", "right"),
        ("Outside", "right"): ("ceiling edge", "right", "right"),
    }
    held = {("Inside", "left"): ("right", "right"), ("Inside", "right"): ("left", "left")}
    held |= {("Outside", "left"): ("left", "right"), ("Outside", "right"): ("right", "left")}
    seen = set()
    for turn in (math.pi / 2, -math.pi / 2):
        for _, _, told in ends(corner(turn), COVE_CROWN):
            if told.corner is None:
                continue
            key = ("Inside" if told.inside else "Outside", "left" if told.at == "right" else "right")
            position, first, _ = told.setups
            assert (first.posture, first.setting.tilt) == ("flat", "left")
            assert (first.setting.swing, first.keep) == flat[key][1:]
            assert f"the {flat[key][0]} against the fence" in first.lies
            assert (position.posture, position.setting.swing, position.keep) == ("in position", *held[key])
            assert position.setting.tilt is None
            expected = flat_on_table(spring_of(COVE_CROWN) or 0.0, math.pi / 2)
            assert abs(first.setting.miter) == pytest.approx(expected.miter, abs=1e-12)
            assert abs(first.setting.bevel) == pytest.approx(expected.bevel, abs=1e-12)
            seen.add(key)
    assert seen == flat.keys()


def test_only_plane_cuts_of_straights() -> None:
    pieces = join(stepped(), "m", BASE).pieces
    kinds = {(piece.kind, end_settings(piece, "begin") is None) for piece in pieces}
    assert ("curve", True) in kinds
    assert ("curve", False) not in kinds
    curved_miter = pieces[-1]
    assert curved_miter.begin.kind == "curved miter"
    assert end_settings(curved_miter, "begin") is None
    assert end_settings(curved_miter, "end") is not None


def test_short_pieces_are_cautioned() -> None:
    """Hands stay 300 mm from a crosscut saw's blade on either side; short pieces go in a jig (HSE, Crosscut saws)."""
    for long, cautions in ((299.0, (TEST_CUT, SHORT_PIECE)), (301.0, (TEST_CUT,))):
        for _, _, told in ends(corner(math.pi / 2, long=long), BASE):
            assert told.cautions == cautions


def raked(profile: Profile, pitch: float, *, same: bool) -> tuple[Piece, ...]:
    """A level straight and one that climbs, in one wall."""
    first = Element((0.0, 0.0), (1.0, 0.0), 500.0)
    second = Element((500.0, 0.0), (1.0, 0.0), 400.0, slope=math.tan(pitch))
    run = Run("stair", (first, second), (0.0, 0.0), places=("step 1", "step 2"), raked="same" if same else "derived")
    return join(run, "m", profile).pieces


@pytest.mark.parametrize("same", [False, True])
@pytest.mark.parametrize("profile", [BASE, CROWN], ids=["base", "crown"])
def test_raked_cuts(profile: Profile, same: bool) -> None:
    """The plumb cut of a climbing piece, and the miter in elevation, cut blind as well."""
    level, climbing = raked(profile, math.radians(34), same=same)
    for piece, end in ((level, "end"), (climbing, "begin"), (climbing, "end")):
        told = end_settings(piece, end)  # type: ignore[arg-type]
        assert told is not None
        for setup in told.setups:
            saw = Saw(piece, end, setup)
            off, kept = saw.offsets()
            assert np.abs(off).max() < 0.05, setup.words
            assert (kept < 0 if saw.kept_left else kept > 0).all(), setup.words


@pytest.mark.parametrize("turn", [90, -90])
@pytest.mark.parametrize("profile", [BASE, CROWN], ids=["base", "crown"])
def test_raked_round_a_corner(profile: Profile, turn: float) -> None:
    """A molding that begins to climb at a corner has its section sheared: its foot is no longer square to its back, so
    it is cut lying on its back only."""
    first = Element((0.0, 0.0), (1.0, 0.0), 500.0)
    second = Element((500.0, 0.0), (0.0, math.copysign(1.0, turn)), 400.0, slope=0.6)
    run = Run("stair", (first, second), (0.0, math.radians(turn)), places=("step 1", "step 2"))
    level, climbing = join(run, "m", profile).pieces
    assert climbing.shear != 0.0
    for piece, end, postures in ((level, "end", 2), (climbing, "begin", 1)):
        told = end_settings(piece, end)  # type: ignore[arg-type]
        assert told is not None
        assert len({setup.posture for setup in told.setups}) == postures
        for setup in told.setups:
            saw = Saw(piece, end, setup)
            off, kept = saw.offsets()
            assert np.abs(off).max() < 0.05, setup.words
            assert (kept < 0 if saw.kept_left else kept > 0).all(), setup.words


def test_a_plumb_cut_flat_on_the_table_swings_by_the_pitch() -> None:
    """A board on its back, cut plumb where it climbs: the table swings by the pitch and the blade stays upright. The
    level neighbor is cut square; mitered in elevation both swing by half the pitch (common practice)."""
    pitch = math.radians(34)
    level, climbing = raked(BASE, pitch, same=False)
    for piece, end, swing in ((climbing, "begin", pitch), (level, "end", 0.0)):
        told = end_settings(piece, end)  # type: ignore[arg-type]
        assert told is not None
        flat = told.setups[-1].setting
        assert (abs(flat.miter), flat.bevel) == pytest.approx((swing, 0.0), abs=1e-12)
    for piece, end in zip(raked(BASE, pitch, same=True), ("end", "begin"), strict=True):
        told = end_settings(piece, end)  # type: ignore[arg-type]
        assert told is not None
        flat = told.setups[-1].setting
        assert (abs(flat.miter), flat.bevel) == pytest.approx((pitch / 2, 0.0), abs=1e-12)
        assert told.words[0].startswith("Miter where the slope changes")


def test_a_raked_crown_is_cut_to_its_own_back() -> None:
    """A climbing crown's plumb section gives its back by two directions: travel and the section's slanted line."""
    piece = raked(CROWN, math.radians(34), same=False)[1]
    spring = spring_of(CROWN)
    assert spring is not None
    travel, up = np.array(piece.frame.travel), np.array(piece.frame.up)
    slanted = math.sin(spring) * np.array(piece.frame.out) + math.cos(spring) * up
    back = np.cross(travel, slanted)
    back = back if back @ up > 0 else -back
    expected = settings(tuple(travel.tolist()), tuple(back.tolist()), cut_normal(piece.begin))
    told = end_settings(piece, "begin")
    assert told is not None
    found = [each.setting for each in told.setups if each.posture == "flat"]
    assert found
    for each in found:
        assert abs(each.miter) == pytest.approx(abs(expected.miter), abs=1e-12)
        assert abs(each.bevel) == pytest.approx(abs(expected.bevel), abs=1e-12)


def test_a_casing_lies_face_up() -> None:
    """A run on the face of a wall: mitered lying on its real back, which is the profile's foot."""
    on_wall = Stand(x=(1.0, 0.0, 0.0), y=(0.0, 0.0, 1.0), z=(0.0, -1.0, 0.0))
    run = replace(corner(-math.pi / 2), stand=on_wall)
    for piece, end, told in ends(run, block(60.0, 18.0)):
        (setup,) = told.setups
        assert setup.posture == "face up"
        saw = Saw(piece, end, setup)
        off, kept = saw.offsets()
        assert np.abs(off).max() < 0.02
        assert (kept < 0 if saw.kept_left else kept > 0).all()
        assert setup.setting.tilt is None
        assert ("Corner of 90°" in setup.words) == (told.corner is not None)


# The library's crowns say in their files at which angle they spring.
@pytest.mark.parametrize(
    ("name", "degrees"),
    [("cove-and-ogee-crown", 38), ("flat-ogee-crown", 45), ("sprung-cove", 45), ("ovolo-bed-molding", 45)],
)
def test_spring_angle(name: str, degrees: float) -> None:
    found = spring_of(load_profile(library_path(name)))
    assert found is not None
    assert math.degrees(found) == pytest.approx(degrees, abs=0.5)


def test_spring_angle_by_hand() -> None:
    """CROWN: 36 out and 40 up, flats of 12 on the wall and 9 on the ceiling: the back runs 27 out in 28 up."""
    assert spring_of(CROWN) == pytest.approx(math.atan2(27, 28))
    assert spring_of(CROWN.moved(5.0, 300.0)) == pytest.approx(math.atan2(27, 28))


@pytest.mark.parametrize("degrees", [30, 38, 45, 52])
@pytest.mark.parametrize("hollow", [False, True])
def test_a_profile_laid_at_a_spring_angle(degrees: float, hollow: bool) -> None:
    """What was laid at an angle is found at it, eased arrises and a hollowed back notwithstanding."""
    flat = ease(load_profile(library_path("ogee-casing")), 1.0)
    laid = sprung(back_relief(flat, 3.0, 12.0) if hollow else flat, math.radians(degrees), 9.0)
    assert spring_of(laid.profile) == pytest.approx(math.radians(degrees), abs=1e-9)


@pytest.mark.parametrize("profile", [BASE, block(), quarter_round()], ids=["base", "block", "quarter round"])
def test_not_sprung(profile: Profile) -> None:
    assert spring_of(profile) is None


@pytest.mark.parametrize("room", ["left", "right"])
@pytest.mark.parametrize("degrees", [30, 90, 105, 150])
@pytest.mark.parametrize("coped", ["before", "after"])
def test_a_cope_is_first_cut_as_the_inside_miter_of_its_corner(room: Side, degrees: int, coped: str) -> None:
    """The line to saw along is the miter's, so the first cut is the miter's too (common practice)."""
    turn = math.radians(degrees if room == "left" else -degrees)
    ends = []
    for way in (Way("miter"), Way("cope", coped=coped)):  # type: ignore[arg-type]
        line = join(lay_out("wall", [Straight(900.0), Corner(turn, way), Straight(900.0)], room=room), "base", BASE)
        ends.append(end_settings(line.pieces[0], "end") if coped == "before" else end_settings(line.pieces[1], "begin"))
    miter, cope = ends
    assert miter
    assert cope
    assert cope.inside
    assert cope.corner == pytest.approx(math.pi - math.radians(degrees))
    for one, other in zip(miter.setups, cope.setups, strict=True):
        assert (other.posture, other.keep) == (one.posture, one.keep)
        assert other.setting.miter == pytest.approx(one.setting.miter, abs=1e-12)
        assert other.setting.bevel == pytest.approx(one.setting.bevel, abs=1e-12)
        assert other.words.startswith("Cope: first miter it")
    through = line.pieces[1] if coped == "before" else line.pieces[0]
    assert end_settings(through, "begin" if coped == "before" else "end") is not None
