"""What a saw and a stick take: kerfs, trims, defects; neighbors from one stick; and what is refused."""

from __future__ import annotations

import pytest

from preview.errors import PreviewError
from preview.sticks import Laid, Part, Stick, lay_out


def cut(*parts: Part, sticks: list[Stick] | None = None, kerf: float = 3.0, **more: float) -> tuple[Laid, ...]:
    return lay_out(parts, sticks or [Stick(1000.0)], kerf=kerf, **more).used  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("lengths", "trim", "defects", "sticks", "offcut"),
    [
        ((400.0, 300.0), 0.0, 0.0, 1, 294.0),  # 1000 - 400 - 3 - 300 - 3
        ((497.0, 500.0), 0.0, 0.0, 1, 0.0),  # one kerf, and the last part ends with the stick
        ((497.0, 498.0), 0.0, 0.0, 1, 0.0),  # what is left is less than a kerf
        ((497.0, 500.1), 0.0, 0.0, 2, None),
        ((477.0, 480.0), 20.0, 0.0, 1, 0.0),  # 20 off both ends
        ((477.0, 480.1), 20.0, 0.0, 2, None),
        ((400.0, 300.0), 0.0, 0.1, 1, 194.0),  # a tenth of the stick is reckoned as lost
        ((400.0, 300.0), 25.0, 0.1, 1, 144.0),
    ],
)
def test_what_a_stick_holds(
    lengths: tuple[float, ...], trim: float, defects: float, sticks: int, offcut: float | None
) -> None:
    used = cut(*(Part(str(i), length) for i, length in enumerate(lengths)), trim=trim, defects=defects)
    assert len(used) == sticks
    if offcut is not None:
        assert used[0].offcut == pytest.approx(offcut, abs=1e-9)


def test_exact_fits_in_fractions_of_an_inch() -> None:
    """Binary fractions of an inch are no round numbers of mm: 12 ft hold 11 parts and 10 kerfs of 1/8 in to a hair."""
    parts = [Part(str(i), (144 * 25.4 - 10 * 3.175) / 11) for i in range(11)]
    assert len(cut(*parts, sticks=[Stick(144 * 25.4)], kerf=3.175)) == 1


def test_nothing_to_cut() -> None:
    made = lay_out([], [Stick(1000.0, None, 5.0)], kerf=3.0)
    assert (made.used, made.total, made.bound, made.gap, made.price) == ((), 0.0, 0.0, 0.0, 0.0)


def test_the_price_decides_where_every_stick_has_one() -> None:
    parts = [Part("a", 900.0), Part("b", 900.0)]
    dear, cheap = Stick(1000.0, None, 30.0), Stick(2000.0, None, 50.0)
    assert [laid.stick for laid in cut(*parts, sticks=[dear, cheap])] == [cheap]
    assert [laid.stick for laid in cut(*parts, sticks=[Stick(1000.0, None, 24.9), cheap])] == [
        Stick(1000.0, None, 24.9)
    ] * 2
    made = lay_out(parts, [Stick(1000.0), cheap], kerf=3.0)
    assert (made.price, made.total, made.bound) == (None, 2000.0, 2000.0)


def test_sticks_in_hand_are_used_up_first() -> None:
    rest, bought = Stick(1000.0, 1, 0.0), Stick(1000.0, None, 20.0)
    used = cut(Part("a", 600.0), Part("b", 600.0), sticks=[bought, rest])
    assert sorted(laid.stick.price or 0.0 for laid in used) == [0.0, 20.0]


# Neighbors.


def test_neighbors_come_from_one_stick() -> None:
    """Two sticks hold a 600 and a 300 each, whichever: those that meet on the wall are kept together."""
    parts = [Part("a", 600.0), Part("c", 300.0, "b"), Part("b", 600.0, "a"), Part("d", 300.0, "a")]
    made = lay_out(parts, [Stick(1000.0)], kerf=3.0)
    assert (made.total, made.pairs, made.together) == (2000.0, 3, 2)
    assert {laid.parts for laid in made.used} == {("a", "d"), ("b", "c")}


def test_neighbors_cost_no_further_stick() -> None:
    """Kept together, the pairs would need three sticks."""
    parts = [Part("a", 600.0), Part("b", 600.0, "a"), Part("c", 350.0), Part("d", 350.0, "c")]
    made = lay_out(parts, [Stick(1000.0)], kerf=3.0)
    assert (made.total, made.pairs, made.together) == (2000.0, 2, 0)


def test_a_run_is_cut_in_its_order() -> None:
    """Twelve pieces along a wall, three to a stick, given in any order."""
    names = [f"{i:02}" for i in range(12)]
    run = [Part(name, 300.0 + i * 7 % 12, names[i - 1] if i else None) for i, name in enumerate(names)]
    mixed = [run[i * 5 % 12] for i in range(12)]
    made = lay_out(mixed, [Stick(1000.0)], kerf=3.0)
    assert sorted(laid.parts for laid in made.used) == [tuple(names[i : i + 3]) for i in range(0, 12, 3)]
    assert (made.pairs, made.together) == (11, 8)
    loose = lay_out(mixed, [Stick(1000.0)], kerf=3.0, match=False)
    assert loose.total == made.total
    assert loose.together < made.together
    lengths = {part.name: part.length for part in run}
    for laid in loose.used:
        assert list(laid.parts) == sorted(laid.parts, key=lambda name: -lengths[name])


def test_a_ring_is_cut_in_its_order() -> None:
    """In a closed run the first piece stands after the last; a stick begins where its row does."""
    parts = [Part(name, 400.0, before) for name, before in (("a", "d"), ("b", "a"), ("c", "b"), ("d", "c"))]
    made = lay_out(parts, [Stick(1000.0)], kerf=3.0)
    assert (made.pairs, made.together) == (4, 2)
    assert {laid.parts for laid in made.used} in ({("a", "b"), ("c", "d")}, {("b", "c"), ("d", "a")})


def test_who_stands_after_a_part_that_is_not_there_has_no_neighbor() -> None:
    made = lay_out([Part("a", 300.0, "a block"), Part("b", 300.0, "b")], [Stick(1000.0)], kerf=3.0)
    assert (made.pairs, made.together) == (0, 0)


# Refusals.


@pytest.mark.parametrize(
    ("parts", "sticks", "more", "said"),
    [
        ([("a", 100.0)], [], {}, "sticks\n  there is no stick to cut from\n  fix: say which lengths can be had"),
        (
            [("seat / base / 1 straight", 2000.0)],
            [Stick(1000.0), Stick(1500.0)],
            {"trim": 10.0},
            (
                'part "seat / base / 1 straight" = 2000 mm\n'
                "  it is longer than every stick: the longest, 1500 mm, holds 1480 mm of good wood\n"
                "  fix: scarf it from pieces of at most 1480 mm, or use sticks that hold 2000 mm"
            ),
        ),
        (
            [("a", 900.0), ("b", 900.0), ("c", 900.0)],
            [Stick(1000.0, 2)],
            {},
            (
                "sticks\n  2 sticks in hand cannot give all the parts: 1 more stick of 1000 mm would do\n"
                "  fix: get 1 more of 1000 mm, or say which other lengths can be had"
            ),
        ),
        (
            [("a", 100.0)],
            [Stick(1000.0, 0)],
            {},
            "sticks\n  of every stick there are none in hand\n  fix: say which lengths can be had",
        ),
        (
            [("a", 100.0)],
            [Stick(0.0), Stick(-5.0), Stick(19.0)],
            {"trim": 9.5},
            (
                "stick 1 = 0 mm\n  a stick has a length above 0\n  fix: write the length that is bought\n\n"
                "stick 2 = -5 mm\n  a stick has a length above 0\n  fix: write the length that is bought\n\n"
                "stick 3 = 19 mm\n  nothing is left of it after 9.5 mm at each end\n"
                "  fix: use longer sticks, or a shorter trim"
            ),
        ),
        (
            [("a", 0.0), ("b", float("nan"))],
            [Stick(1000.0)],
            {},
            (
                'part "a" = 0 mm\n  a part has a length above 0\n  fix: leave it out\n\n'
                'part "b" = nan mm\n  a part has a length above 0\n  fix: leave it out'
            ),
        ),
        (
            [("a", 100.0)],
            [Stick(1000.0, -1, -2.0), Stick(900.0, None, 0.0)],
            {},
            (
                "stick 1 = -1\n  there are fewer than none of it\n  fix: write how many there are\n\n"
                "stick 1 = -2\n  a price is not below 0\n  fix: write the price of one stick\n\n"
                "stick 2 = 0\n  any number of sticks for nothing: every part would have one of its own\n"
                "  fix: write how many there are, or what one costs"
            ),
        ),
        (
            [("a", 100.0)],
            [Stick(1000.0)],
            {"kerf": -1.0},
            "kerf = -1 mm\n  a saw blade does not add wood\n  fix: write it as a length without a minus sign, or 0",
        ),
        (
            [("a", 100.0)],
            [Stick(1000.0)],
            {"defects": 1.0},
            "defects = 100 %\n  a share of a stick is from 0 % to under 100 %\n  fix: write 10",
        ),
    ],
)
def test_refusals(parts: list[tuple[str, float]], sticks: list[Stick], more: dict[str, float], said: str) -> None:
    with pytest.raises(PreviewError) as caught:
        lay_out([Part(*each) for each in parts], sticks, **{"kerf": 3.0, **more})  # type: ignore[arg-type]
    assert str(caught.value) == said


def test_two_parts_of_one_name_are_a_mistake_of_the_caller() -> None:
    with pytest.raises(ValueError, match="one name"):
        lay_out([Part("a", 1.0), Part("a", 2.0)], [Stick(10.0)], kerf=0.0)


def test_nothing_is_printed(capfd: pytest.CaptureFixture[str]) -> None:
    """The solver has a line of its own to print, and what is printed is data."""
    lengths = (4.0, 4.0, 4.0, 3.3, 3.0, 3.0, 3.0, 2.1, 2.0)
    lay_out([Part(str(i), x) for i, x in enumerate(lengths)], [Stick(10.0), Stick(8.7)], kerf=0.1)
    assert capfd.readouterr() == ("", "")
