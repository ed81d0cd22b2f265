"""How much stock a straight takes: by how both its ends are cut and how far out the molding stands, worked by hand."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import replace

import pytest

from preview.errors import PreviewError
from preview.profiles import Profile
from preview.runs import BEVELS, Block, Corner, Curve, Run, Side, Step, Straight, Way, lay_out, scarfed
from samples import RIGHT_ANGLE, block

OUT = [(10.0, 30.0)]
"""One member, whose back stands 10 mm out from the wall line and whose face 30."""
DEGREE = math.pi / 180
RUNNING_ON = {"thin": 1.0, "thick": -0.5}


def lengths(run: Run) -> list[float]:
    return [element.length for element in run.elements]


def takes(run: Run, stock: float, spans: Sequence[tuple[float, float]] = OUT, profiles: Sequence[Profile] = ()) -> None:
    """The longest straight of a run is whole in just as much stock, and not in a hundredth of a mm less."""
    kept = scarfed(run, stock, 1.0, 0.0, spans=spans, profiles=profiles)
    assert (kept.elements, kept.ways, kept.turns) == (run.elements, run.ways, run.turns)
    assert len(scarfed(run, stock - 0.01, 1.0, 0.0, spans=spans, profiles=profiles).elements) > len(run.elements)


@pytest.mark.parametrize(
    ("begin", "end", "stock"),
    [
        ("square", "square", 1000.0),
        ("butt", "self-return", 1000.0),
        ("return", "square", 1030.0),
        ("square", "return", 1030.0),
        ("return", "return", 1060.0),
        # Cut back at 45 degrees, it is longest at its back, 10 mm out.
        ("beveled", "square", 990.0),
        ("square", "beveled", 990.0),
        ("return", "beveled", 1020.0),
    ],
)
def test_the_ends_of_a_wall(begin: str, end: str, stock: float) -> None:
    run = replace(lay_out("wall", [Straight(1000.0)]), begin=begin, end=end)
    takes(run, stock, profiles=[block()])


def test_a_bevel_of_no_profile_takes_nothing() -> None:
    takes(replace(lay_out("wall", [Straight(1000.0)]), begin="beveled", end="beveled"), 1000.0)


@pytest.mark.parametrize(("names", "stock"), [(["thick"], 1015.0), (["thin"], 990.0), (["thin", "thick"], 1015.0)])
@pytest.mark.parametrize("at", ["begin", "end"])
def test_a_bevel_that_runs_on_past_the_end(
    names: list[str], stock: float, at: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Half a mm on for each mm out on one profile, a whole one back on another: the longest of them counts."""

    def running(profile: Profile) -> float:
        return RUNNING_ON[profile.name]

    entered: dict[str, Callable[[Profile], float]] = dict(BEVELS) | {"running on": running}
    monkeypatch.setattr(BEVELS, "_entered", entered)
    run = lay_out("wall", [Straight(1000.0)])
    run = replace(run, begin="running on") if at == "begin" else replace(run, end="running on")
    takes(run, stock, profiles=[replace(block(), name=name) for name in names])


@pytest.mark.parametrize(("room", "hand"), [("left", 1), ("right", -1)])
@pytest.mark.parametrize(
    ("turns", "ways", "stock"),
    [
        ((90, 90), ("", ""), 980.0),  # inside, longest 10 mm out
        ((-90, -90), ("", ""), 1060.0),
        ((90, -90), ("", ""), 1020.0),
        ((-60, 60), ("", ""), 1000.0 + (30 - 10) / math.sqrt(3)),
        # A cope is cut at the other's face; the other goes on to the wall, d / tan of the turn further at d out.
        ((60, 90), ("cope after", "block"), 1000.0),
        ((60, 90), ("cope before", "block"), 1000.0 + 30 / math.sqrt(3)),
        ((90, 60), ("block", "cope after"), 1000.0 + 30 / math.sqrt(3)),
        ((90, 60), ("block", "cope before"), 1000.0),
        ((120, 120), ("cope before", "cope after"), 1000.0 - 20 / math.sqrt(3)),
        ((120, 120), ("cope after", "cope before"), 1000.0),
        ((90, 90), ("cope before", "cope after"), 1000.0),
        # At a corner block it stops square.
        ((-90, -90), ("block", "block"), 1000.0),
        ((-90, -90), ("block", ""), 1030.0),
    ],
)
def test_the_corners_at_both_ends_of_a_wall(
    room: Side, hand: int, turns: tuple[float, float], ways: tuple[str, str], stock: float
) -> None:
    made = {
        "": Way(),
        "block": Way("block", block="stone"),
        "cope after": Way("cope", coped="after"),
        "cope before": Way("cope", coped="before"),
    }
    first, last = (Corner(hand * turn * DEGREE, made[way]) for turn, way in zip(turns, ways, strict=True))
    takes(lay_out("wall", [Straight(300.0), first, Straight(1000.0), last, Straight(300.0)], room=room), stock)


def test_what_goes_straight_on_after_a_curve_or_a_block_takes_nothing_more() -> None:
    steps: list[Step] = [Curve(RIGHT_ANGLE, 300.0), Straight(1000.0), Block("post", 80.0), Straight(50.0)]
    takes(lay_out("wall", steps), 1000.0)


@pytest.mark.parametrize(("slant", "firsts", "seconds"), [(2.0, 1060.0, 980.0), (-2.0, 980.0, 1060.0)])
def test_a_scarf_that_is_there_already(slant: float, firsts: float, seconds: float) -> None:
    """Its first side laps the second by 2 mm for each mm out: 60 at the face; the second starts 20 on at the back."""
    for walls, stock in (((1000.0, 500.0), firsts), ((500.0, 1000.0), seconds)):
        run = lay_out("wall", [Straight(wall) for wall in walls])
        takes(replace(run, ways=(run.ways[0], Way("scarf", slant=slant))), stock)


@pytest.mark.parametrize(("room", "stock"), [("right", 1060.0), ("left", 980.0)])
def test_a_closed_run_has_a_corner_at_each_end_of_every_wall(room: Side, stock: float) -> None:
    """The longest wall is the first, and then the last; its ends are no ends."""
    for walls in ((1000.0, 700.0, 1000.0, 700.0), (700.0, 1000.0, 700.0, 1000.0)):
        steps = [step for wall in walls for step in (Straight(wall), Corner(RIGHT_ANGLE))]
        run = replace(lay_out("room", steps, room=room, closed=True), begin="return", end="return")
        takes(run, stock)


def test_the_member_that_takes_most_counts() -> None:
    """Outside corners take the projection twice; of the two members the one that stands out 50 mm."""
    steps = [Straight(300.0), Corner(-RIGHT_ANGLE), Straight(1000.0), Corner(-RIGHT_ANGLE), Straight(300.0)]
    run = lay_out("wall", steps)
    for spans in ([(0.0, 20.0), (10.0, 50.0)], [(10.0, 50.0), (0.0, 20.0)]):
        takes(run, 1100.0, spans)


def test_first_middle_and_last_pieces_have_rooms_of_their_own() -> None:
    """3000 of stock, 10 to 30 out, scarfs at 45 degrees: the first piece may be 2970 on the wall line, a middle one
    2980, the last 3010, for its cut starts 10 mm on. Two middle ones make 11940."""
    run = lay_out("wall", [Straight(11940.0)])
    assert lengths(scarfed(run, 3000.0, 1.0, 0.0, spans=OUT)) == pytest.approx([2970, 2980, 2980, 3010], abs=1e-6)
    shorter = scarfed(lay_out("wall", [Straight(11900.0)]), 3000.0, 1.0, 0.0, spans=OUT)
    assert lengths(shorter) == pytest.approx([2960, 2970, 2970, 3000], abs=1e-9)
    longer = scarfed(lay_out("wall", [Straight(11940.01)]), 3000.0, 1.0, 0.0, spans=OUT)
    assert len(longer.elements) == 5


@pytest.mark.parametrize(
    ("from_corner", "spare"),
    [(0.0, 10.0), (2965.0, (8970 - (11900 - 2965)) / 3), (2970.0, (8970 - (11900 - 2970)) / 3)],
)
def test_what_a_corner_asks_for_is_taken_from_the_others_alike(from_corner: float, spare: float) -> None:
    """Rooms of 2970, 2980, 2980 and 3010 for 11900: the first keeps from the corner what it must, and the others have
    as much stock to spare as each other."""
    made = lengths(scarfed(lay_out("wall", [Straight(11900.0)]), 3000.0, 1.0, from_corner, spans=OUT))
    others = [2980 - spare, 2980 - spare, 3010 - spare]
    assert made == pytest.approx([max(from_corner, 2960), *others], abs=1e-9)


def test_no_first_piece_is_as_long_as_its_joint_must_lie_from_the_corner() -> None:
    run = lay_out("wall", [Straight(11900.0)])
    with pytest.raises(PreviewError, match="no scarf fits"):
        scarfed(run, 3000.0, 1.0, 2970.01, spans=OUT)


@pytest.mark.parametrize("from_corner", [0.0, 2.0])
def test_no_piece_comes_to_less_than_nothing(from_corner: float) -> None:
    """65 of stock, 30 out, between an outside square corner and an inside one: whole it may be 35, in two 5 and 65.

    As much to spare for both would leave the first of 36 less than nothing; kept 2 from the corner, it has 2.
    """
    steps = [Straight(20.0), Corner(-RIGHT_ANGLE), Straight(36.0), Corner(RIGHT_ANGLE), Straight(60.0)]
    try:
        made = lengths(scarfed(lay_out("wall", steps), 65.0, 1.0, from_corner, spans=[(0.0, 30.0)]))
    except PreviewError:
        made = []
    assert all(length > 0.0 for length in made)
    if from_corner:
        assert made[1:-1] == [2.0, 34.0]


def test_the_ways_and_turns_of_corners_are_kept() -> None:
    cope, stone = Way("cope", coped="before"), Way("block", block="stone")
    steps = [Straight(900.0), Corner(RIGHT_ANGLE, cope), Straight(2000.0), Corner(-RIGHT_ANGLE, stone), Straight(700.0)]
    made = scarfed(lay_out("wall", steps), 1500.0, 0.5, 0.0)
    assert made.ways == (Way(), cope, Way("scarf", slant=0.5), stone)
    assert made.turns == (0.0, RIGHT_ANGLE, 0.0, -RIGHT_ANGLE)
    assert lengths(made) == [900.0, 1000.0, 1000.0, 700.0]


@pytest.mark.parametrize(("from_corner", "fix"), [(0.0, ""), (300.0, " or a smaller from_corner")])
@pytest.mark.parametrize(("written", "place"), [(True, "step 3"), (False, "element 2")])
def test_where_no_scarf_fits_and_what_to_do(from_corner: float, fix: str, written: bool, place: str) -> None:
    run = lay_out("wall", [Straight(15.0), Corner(RIGHT_ANGLE), Straight(1000.0)])
    run = run if written else replace(run, places=())
    with pytest.raises(PreviewError) as refused:
        scarfed(run, 20.0, 1.0, from_corner, spans=[(0.0, 30.0)])
    (problem,) = refused.value.problems
    assert (problem.place, problem.fix) == (place, f"use longer stock{fix}")
