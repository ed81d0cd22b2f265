"""What changed, in sentences: every kind of change is told with its numbers, and nothing that did not change."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from preview.build import build
from preview.changes import changed
from preview.errors import PreviewError
from preview.scene import load_scene
from versions import CURVE, MITERED, SCENES, SEAT, built, seat, small

STEPS = "{ straight = 500 }, { left = 90 }, { straight = 300 }, { right = 90 }, { straight = 700 }"


def test_turned_corners_become_mitered() -> None:
    """The walls stay: each of the four straights beside the curves gains the radius (a quarter turn's tangent)."""
    assert changed(seat(), seat(*MITERED)) == (
        'Both turned corners of seat (radius 2") are now mitered',
        '4 straights of seat are 2" longer each (14" to 16", 6" to 8")',
        "9 pieces in all (before: 11)",
    )


def test_and_back() -> None:
    assert changed(seat(*MITERED), seat()) == (
        'Of the 8 mitered corners of seat, the 1st and 8th from the left are now turned to a radius of 2"',
        '4 straights of seat are 2" shorter each (16" to 14", 8" to 6")',
        "11 pieces in all (before: 9)",
    )


INSIDE = "{ right = 90 },                 # inside corner, onto"
LAST_CURVE = " { curve_left = 90, radius = 2 },\n  { straight = 14 },\n]"
MIDDLE = '{ straight = "3\' 6" }'
BAY = (
    "{ straight = 10 }, { left = 90 }, { straight = 2 }, { right = 90 }, { straight = 22 }, { right = 90 }, "
    "{ straight = 2 }, { left = 90 }, { straight = 10 }"
)

CASES: dict[str, tuple[list[tuple[str, str]], tuple[str, ...]]] = {
    "radius": (
        [("{ straight = 14 }", "{ straight = 13 }"), ("radius = 2 }", "radius = 3 }"), ("= 6 }", "= 5 }")],
        (
            'Both turned corners of seat have a radius of 3" (were 2")',
            '4 straights of seat are 1" shorter each (14" to 13", 6" to 5")',
        ),
    ),
    "one of two": (
        [(LAST_CURVE, " { left = 90 },\n  { straight = 16 },\n]")],
        (
            'Of the 2 turned corners of seat, the 2nd from the left (radius 2") is now mitered',
            'Of the 9 straights of seat, the 9th from the left is 2" longer (14" to 16")',
            "10 pieces in all (before: 11)",
        ),
    ),
    "splayed": (
        [("= 14 }", "= 16 }"), (CURVE, "{ left = 90, turns = 3, facet = 1.5 }"), ("= 6 }", "= 8 }")],
        (
            'Both turned corners of seat (radius 2") are now made with 3 miters, 1 1/2" apart',
            '4 straights of seat are about 1/16" shorter each (14" to about 13 15/16", 6" to about 5 15/16")',
            "13 pieces in all (before: 11)",
        ),
    ),
    "cope": (
        [(INSIDE, INSIDE.replace("90", '90, joint = "cope"'))],
        ("Of the 6 mitered corners of seat, the 1st from the left is now coped",),
    ),
    "profile": (
        [("cove-and-bead-base", "ogee-base")],
        (
            (
                'base: profile Ogee base (was Cove and bead base), 5 1/4" high (was 4") and 3/4" deep (was 1 1/4"); '
                'the outline moves by up to 1 1/4"'
            ),
        ),
    ),
    "finish": ([('finish = "white"', 'finish = "oak"')], ("base is finished in oak (was white)",)),
    "color": (
        [("#f1eee6", "#dddddd")],
        ("On base the finish white has another color, #dddddd (was #f1eee6)",),
    ),
    "gloss": ([("roughness = 0.4\n", "roughness = 0.2\n")], ("On base the finish white has more gloss",)),
    "finish renamed": (
        [("finish.white", "finish.ivory"), ('finish = "white"', 'finish = "ivory"')],
        ("On base the finish white is now called ivory; it looks the same",),
    ),
    "steps put in": (
        [(MIDDLE, BAY)],
        (
            'Of the 9 straights of seat, the 5th from the left is 20" shorter (42" to 22")',
            'New along seat: 4 straights (10", 2") and 4 mitered corners',
            "15 pieces in all (before: 11)",
        ),
    ),
    "steps taken out": (
        [(LAST_CURVE, "]")],
        ('Gone from seat: 1 turned corner (radius 2") and 1 straight (14")', "9 pieces in all (before: 11)"),
    ),
    "lengths": (
        [("= 14 }", "= 14.5 }"), ("= 6 }", "= 6.25 }"), ("= 18 }", "= 17 }")],
        ('6 straights of seat change by up to 1" (4 longer and 2 shorter)',),
    ),
    "angle": (
        [(INSIDE, INSIDE.replace("90", "88"))],
        ("Of the 6 mitered corners of seat, the 1st from the left has 92° between the walls (was 90°)",),
    ),
    "higher": ([("heading = 0", "level = 2\nheading = 0")], ('seat is 2" higher (0" to 2")',)),
    "moved": ([("start = [0, 0]", "start = [0, 1]")], ('seat begins 1" from where it began',)),
    "turned": ([("heading = 0", "heading = 5")], ("seat sets out 5° further to the left",)),
    "further out": (
        [('[member.base]\nprofile = "base"', '[member.base]\nprofile = "base"\nout = 0.25\nup = 0.5')],
        ('base stands 1/4" further out from the wall', 'base sits 1/2" higher on the wall'),
    ),
    "ends": (
        [("heading = 0", 'begin = "return"\nend = "self-return"\nheading = 0')],
        (
            "The beginning of seat is returned to the wall by a piece of its own (was cut square)",
            "The end of seat is returned in its own wood (was cut square)",
            "12 pieces in all (before: 11)",
        ),
    ),
    "run renamed": ([('name = "seat"', 'name = "bench"')], ("seat is now called bench",)),
    "member renamed": (
        [("[member.base]", "[member.skirt]"), ('members = ["base"]', 'members = ["skirt"]')],
        ("base is now called skirt",),
    ),
    "stock": (
        [("heading = 0", "stock = 30\nheading = 0")],
        ("A straight of seat is in 2 lengths of stock (was in 1)", "12 pieces in all (before: 11)"),
    ),
    "tiny": (
        [("{ straight = 14 }", "{ straight = 14.0001 }")],
        ("Measures along the runs differ by less than 0.01 mm; nothing to be seen or cut otherwise",),
    ),
}


@pytest.mark.parametrize("name", CASES)
def test_each_change_is_told(name: str) -> None:
    changes, sentences = CASES[name]
    assert changed(seat(), seat(*changes)) == sentences


@pytest.mark.parametrize("name", CASES)
def test_each_change_is_told_the_other_way_round(name: str) -> None:
    """Something is told, and a length that was longer is shorter."""
    there, back = changed(seat(), seat(*CASES[name][0])), changed(seat(*CASES[name][0]), seat())
    assert back
    assert len(back) == len(there)
    assert sum("longer" in said for said in there) == sum("shorter" in said for said in back)


SHOE = '[member.shoe]\nprofile = "base"\nout = 1.25\n\n[[run]]'


def test_members_come_and_go() -> None:
    more = seat(("[[run]]", SHOE), ('members = ["base"]', 'members = ["base", "shoe"]'))
    assert changed(seat(), more) == ("shoe is added along seat", "22 pieces in all (before: 11)")
    assert changed(more, seat()) == ("shoe is left out along seat", "11 pieces in all (before: 22)")
    other = seat(
        ("[[run]]", SHOE),
        ('members = ["base", "shoe"]', 'members = ["shoe", "base"]'),
        text=SEAT.replace('members = ["base"]', 'members = ["base", "shoe"]'),
    )
    assert changed(more, other) == ("The members of seat are listed in another order",)


def test_a_change_for_both_members_is_told_once() -> None:
    both = SEAT.replace("[[run]]", SHOE).replace('members = ["base"]', 'members = ["base", "shoe"]')
    assert changed(built(both), built(both.replace("{ straight = 18 }", "{ straight = 20 }"))) == (
        'Of the 9 straights of seat, the 3rd and 7th from the left are 2" longer each (18" to 20")',
    )


def test_runs_come_and_go() -> None:
    more = SEAT + '\n[[run]]\nname = "shelf"\nstart = [0, 99]\nsteps = [{ straight = 40 }]\n'
    assert changed(seat(), built(more)) == ("New: shelf, 1 piece", "12 pieces in all (before: 11)")
    assert changed(built(more), seat()) == ("Left out: shelf, 1 piece", "11 pieces in all (before: 12)")


def test_runs_that_move_together_are_told_together() -> None:
    two = SEAT + '\n[[run]]\nname = "shelf"\nstart = [0, 99]\nsteps = [{ straight = 40 }]\n'
    moved = two.replace("start = [0, 0]", "start = [3, 4]").replace("start = [0, 99]", "start = [3, 103]")
    assert changed(built(two), built(moved)) == ('Everything stands 5" from where it stood',)


def test_runs_in_another_order() -> None:
    shelf = '[[run]]\nname = "shelf"\nstart = [0, 99]\nsteps = [{ straight = 40 }]\n\n'
    first, last = SEAT.replace("[[run]]", shelf + "[[run]]"), SEAT + "\n" + shelf
    assert changed(built(first), built(last)) == ("The runs are listed in another order; nothing else changed",)


def test_blocks_are_told() -> None:
    text = (SCENES / "door-casing.toml").read_text("utf-8")
    width = re.search(r"\[block\.plinth\][^\[]*?width = (\S+)", text)
    assert width is not None
    wider = text.replace(f"width = {width[1]}", "width = 5", 1)
    told = changed(built(text), built(wider))
    assert any(re.match(r'Block plinth: 5" wide \(was ', said) for said in told), told


def test_slopes_and_easements_are_told() -> None:
    text = (SCENES / "stair-wall.toml").read_text("utf-8")
    steeper = text.replace("{ straight = 84, rise = 56 }", "{ straight = 84, rise = 60 }")
    assert "1 straight of rail climbs at 35.54° (before: 33.69°)" in changed(built(text), built(steeper))
    wider = text.replace("{ easement = 18 },              # up", "{ easement = 20 },              # up")
    assert 'An easement of rail has a radius of 20" (was 18")' in changed(built(text), built(wider))


def test_lengths_are_in_the_unit_of_the_later_version() -> None:
    metric = built(re.sub(r'"3\' 6"', "42", SEAT).replace('units = "in"', 'units = "cm"').replace("= 2 }", "= 5.08 }"))
    assert metric.scene.units == "cm"
    told = changed(seat(), metric)
    assert any(" cm" in said for said in told)
    assert not any('"' in said for said in told)


def test_the_title_and_what_stands_around_change_nothing() -> None:
    assert changed(seat(), seat(("reading room", "library"), ("top = 60", "top = 70"))) == ()


def test_a_long_list_is_cut_short() -> None:
    runs = [f'[[run]]\nname = "shelf {k}"\nstart = [0, {50 + k}]\nsteps = [{{ straight = 40 }}]\n' for k in range(20)]
    told = changed(seat(), built(SEAT + "\n" + "\n".join(runs)))
    assert len(told) == 12
    assert told[0] == "New: shelf 0, 1 piece"
    assert told[-1] == "And 10 changes more"


def test_a_step_put_into_a_long_run_is_all_that_is_told() -> None:
    """Of 800 straights, all alike; the digest and the sentences see one more."""
    many = ", ".join("{ straight = 100 }, { left = 15 }, { straight = 100 }, { right = 15 }" for _ in range(400))
    more = many.replace("{ right = 15 }", "{ right = 15 }, { straight = 30 }", 200).replace(
        "{ right = 15 }, { straight = 30 }", "{ right = 15 }", 199
    )
    assert changed(built(small(many + ", { straight = 100 }")), built(small(more + ", { straight = 100 }"))) == (
        "New along wall: 1 straight (30 mm)",
        "802 pieces in all (before: 801)",
    )


def test_a_long_run_whose_lengths_all_change_is_told_so() -> None:
    """400 straights, each a length of its own before and after: nothing came or went."""

    def lengths_of(seed: int) -> list[int]:
        return [100 + k * seed % 97 for k in range(400)]

    def text(seed: int) -> str:
        each = "{{ straight = {} }}, {{ left = 15 }}, {{ straight = 90 }}, {{ right = 15 }}, "
        return small("".join(each.format(mm) for mm in lengths_of(seed)) + "{ straight = 50 }")

    by = [after - before for before, after in zip(lengths_of(31), lengths_of(59), strict=True)]
    longer, shorter = sum(mm > 0 for mm in by), sum(mm < 0 for mm in by)
    most = max(map(abs, by))
    assert changed(built(text(31)), built(text(59))) == (
        f"{longer + shorter} straights of wall change by up to {most} mm ({longer} longer and {shorter} shorter)",
    )


lengths = st.sampled_from([200, 300, 450])
parts = st.one_of(
    lengths.map(lambda mm: f"{{ straight = {mm} }}"),
    st.sampled_from(["{ curve_left = 90, radius = 60 }", "{ curve_right = 45, radius = 80 }"]),
)
corners = st.sampled_from(["", "{ left = 90 }, ", "{ right = 30 }, ", "{ right = 90, turns = 2, facet = 40 }, "])


@st.composite
def versions(draw: st.DrawFn) -> str:
    """The text of a small scene, sound or not."""
    steps = draw(parts)
    for _ in range(draw(st.integers(0, 3))):
        steps += ", " + draw(corners) + draw(parts)
    return small(
        steps,
        draw(st.sampled_from(["strip", "bead"])),
        draw(st.sampled_from(["white", "oak"])),
        draw(st.sampled_from(["left", "right"])),
        draw(st.sampled_from(["0", "15"])),
        draw(st.sampled_from(["[0, 0]", "[10, 0]"])),
    )


@given(versions(), versions())
def test_something_is_told_just_where_the_digests_differ(one: str, other: str) -> None:
    try:
        before, after = built(one), built(other)
    except PreviewError:
        return
    told = changed(before, after)
    assert bool(told) == (before.digest != after.digest)
    assert len(told) <= 12
    assert len(set(told)) == len(told)
    assert changed(before, after) == told
    assert changed(before, before) == ()
    assert not any(re.search(r"None|Feature|\{|_|nan|  ", said) for said in told), told


@pytest.mark.parametrize("scene", sorted(SCENES.glob("*.toml")), ids=lambda path: path.stem)
def test_every_shipped_scene_is_itself_and_no_other(scene: object) -> None:
    path = SCENES / str(scene).rpartition("/")[2]
    one = build(load_scene(path))
    assert changed(one, replace(one, remarks=())) == ()
    assert changed(one, seat()) or one.digest == seat().digest
