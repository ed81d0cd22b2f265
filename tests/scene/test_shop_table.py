"""The [shop] of a scene: what is read, what is usual, what is refused, and that nothing built comes from it."""

from __future__ import annotations

from dataclasses import fields

import pytest

from preview.build import build, refinished
from preview.errors import PreviewError
from preview.scene import Prices, ShopDetails, Turning, shop
from preview.sticks import Stick
from scene_sample import TOP, scene

METRIC = TOP.replace('"in"', '"mm"')
METRIC_RUN = "steps = [{ straight = 1500 }]"
METRIC_PROFILE = "[profile.base]\nfoot = 20\nface = [{ fillet = 90 }]\n"
WHOLE = """
[shop]
kerf = "3/32"
trim = 1
defects = 10
rounding = "1/32"
sticks = ["16'", { length = "12'", have = 6 }, { length = "3 m" }]
match = false
[shop.turning]
staves = 6
kerf = "1/16"
chucking = "1 1/2"
clean = "1/8"
method = "rings"
[shop.prices]
currency = "EUR"
board_foot = { base = 4.2 }
running_foot = 1.1
setup = 60
corner = 35
square_foot = 1.5
"""


def read(text: str) -> ShopDetails:
    return scene(more=text).shop


def test_a_whole_shop() -> None:
    made = read(WHOLE)
    assert made == ShopDetails(
        kerf=2.38125,
        trim=25.4,
        defects=0.1,
        rounding=0.79375,
        sticks=(Stick(4876.8), Stick(3657.6, 6), Stick(3000.0)),
        match=False,
        turning=Turning(6, 1.5875, 38.1, 3.175, "rings"),
        prices=Prices("EUR", (("base", 4.2),), 1.1, 60.0, 35.0, 1.5),
        sticks_given=True,
    )
    assert made.prices is not None
    assert (made.prices.wood("base"), made.prices.wood("cap")) == (4.2, None)
    assert Prices(board_foot=5.0).wood("cap") == 5.0
    assert {field.name for field in fields(ShopDetails)} == {*shop.KEYS, "sticks_given"}
    assert {field.name for field in fields(Turning)} == set(shop.TURNING)
    assert tuple(field.name for field in fields(Prices)) == shop.PRICES
    assert all(f"\n{key} = " in WHOLE for key in (*shop.KEYS[:-2], *shop.TURNING, *shop.PRICES))


def test_usual_values() -> None:
    """Common practice: 1/8 in saws, stock by the even foot."""
    usual = scene().shop
    assert usual == read("[shop]\n") == ShopDetails()
    assert (usual.kerf, usual.trim, usual.rounding) == (25.4 / 8, 25.4 / 2, 25.4 / 16)
    assert [stick.length / 304.8 for stick in usual.sticks] == pytest.approx([16, 14, 12, 10, 8])
    assert (usual.defects, usual.match, usual.prices, usual.sticks_given) == (0.0, True, None, False)
    assert usual.turning == Turning(4, 3.175, 25.4, 1.5875, None)
    metric = scene(METRIC_RUN, top=METRIC, profile=METRIC_PROFILE).shop
    assert (metric.kerf, metric.trim, metric.rounding, metric.turning.kerf) == (3.2, 12.0, 0.5, 3.2)
    assert [stick.length for stick in metric.sticks] == [4800, 4200, 3600, 3000, 2400]


def test_the_kerf_of_the_shop_parts_the_corners_too() -> None:
    assert read('[shop]\nkerf = "1/4"\n').turning.kerf == 6.35
    assert read('[shop]\nkerf = "1/4"\n[shop.turning]\nstaves = 8\n').turning == Turning(8, 6.35, 25.4, 1.5875)


def test_some_in_hand_and_more_to_buy() -> None:
    made = read("""[shop]\nsticks = [{ length = "16'", have = 6, price = 0 }, { length = "16'", price = 41.5 }]\n""")
    assert made.sticks == (Stick(4876.8, 6, 0.0), Stick(4876.8, None, 41.5))


def test_the_limits_themselves_are_allowed() -> None:
    text = '[shop]\nkerf = "{0} mm"\ntrim = "{1} mm"\ndefects = {2}\nrounding = "{3} mm"\nsticks = ["{4} mm"]\n'
    least = read(text.format(0.2, 0, 0, 0.01, 600))
    most = read(text.format(13, 300, 50, 25.4, 20_000))
    assert (least.kerf, least.trim, least.sticks) == (0.2, 0.0, (Stick(600.0),))
    assert (most.kerf, most.defects, most.sticks) == (13.0, 0.5, (Stick(20_000.0),))
    many = ", ".join(f'"{feet}\'"' for feet in range(2, 26))
    assert len(read(f"[shop]\ntrim = 0\nsticks = [{many}]\n").sticks) == shop.MOST_STICKS


KERF_FIX = 'write the width of its cut: kerf = "1/8"'


@pytest.mark.parametrize(
    ("text", "place", "said", "fix"),
    [
        ("kerf = 0", "kerf = 0", "a saw blade takes 0.2 mm to 13 mm, and this is 0 mm", KERF_FIX),
        ("kerf = -3", "kerf = -3", "a saw blade takes 0.2 mm to 13 mm, and this is -76.2 mm", KERF_FIX),
        ("kerf = 3.2", "kerf = 3.2", "a saw blade takes 0.2 mm to 13 mm, and this is 81.3 mm", KERF_FIX),
        ("kerv = 3", "kerv = 3", 'there is no key "kerv" in a shop', "did you mean kerf?"),
        ("trim = 20", "trim = 20", "0 mm to 300 mm are cut off each end of a stick, and this is 508 mm", None),
        ("defects = -1", "defects = -1", "0 to 50 percent of a stick are reckoned as lost to knots and checks", None),
        ("defects = nan", "defects = nan", "0 to 50 percent of a stick are reckoned as lost to knots and checks", None),
        ('defects = "10 %"', 'defects = "10 %"', "0 to 50 percent of a stick are reckoned as lost", None),
        ("rounding = 0", "rounding = 0", "25.4 mm, and this is 0 mm", None),
        ('rounding = "1/33"', 'rounding = "1/33"', "no rule is divided so", 'write rounding = "1/32", or "0.5 mm"'),
        ('rounding = "2/6 in"', 'rounding = "2/6 in"', "no rule is divided so", None),
        ('rounding = "1/128"', 'rounding = "1/128"', "a fraction has halves, quarters, eighths, 16ths", None),
        ("match = 1", "match = 1", "it must be true or false", None),
        ("sticks = []", "sticks = []", "it must be a list of lengths, and it is empty", None),
        ("""sticks = "16'" """, """sticks = "16'\"""", "it must be a list of lengths, not text", None),
        ("sticks = [16]", "stick 1, length = 16", "about two feet, to 20 m long, and this is 406.4 mm", None),
        ("sticks = [0]", "stick 1, length = 0", "about two feet, to 20 m long, and this is 0 mm", None),
        ("sticks = [10000]", "stick 1, length = 10000", "to 20 m long, and this is 254000 mm", None),
        (
            "trim = 11\ndefects = 10\nsticks = [\"8'\", 24]",
            "stick 2, length = 24",
            'nothing is left of it after 11" at each end and 10 % for defects',
            "use longer sticks, or a shorter trim",
        ),
        (
            "trim = 10\ndefects = 50\nsticks = [40]",
            "stick 1, length = 40",
            'nothing is left of it after 10" at each end and 50 % for defects',
            None,
        ),
        ("sticks = [{ have = 6 }]", "stick 1, length", "this key is missing", None),
        ("sticks = [{ length = 96, have = -1 }]", "stick 1, have = -1", "there are 0 to 10,000 of it", None),
        ("sticks = [{ length = 96, have = 0 }]", "sticks = ", "there are none of any of them", None),
        ("sticks = [{ length = 96, cost = 3 }]", "stick 1, cost = 3", 'there is no key "cost" in a stick', None),
        ("sticks = [{ length = 96, price = -3 }]", "stick 1, price = -3", "a price is a number from 0 to", None),
        ("sticks = [{ length = 96, price = 0 }]", "stick 1, price = 0", "any number of sticks that cost nothing", None),
        ("sticks = [96, \"8'\"]", """stick 2, length = "8'\"""", "this length is in the list before", "write it once"),
        (
            "sticks = [{ length = 96, price = 3 }, 120]",
            "sticks",
            "1 of 2 sticks have a price, so the prices cannot be compared",
            "write a price for every stick, or for none",
        ),
        (f"sticks = {list(range(20, 45))}", "sticks = ", "it has 25 entries, and 24 is the most", None),
        ("turning = 4", "turning = 4", "its keys stand between braces", None),
        ("turning = { staves = 2 }", "turning, staves = 2", "a blank is glued up from 3 to 16 staves", None),
        ("turning = { staves = 4.5 }", "turning, staves = 4.5", "a blank is glued up from 3 to 16 staves", None),
        ("turning = { kerf = 0 }", "turning, kerf = 0", "a saw blade takes 0.2 mm to 13 mm", None),
        ("turning = { chucking = -1 }", "turning, chucking = -1", "of spare length at each end of a blank", None),
        ("turning = { clean = 2 }", "turning, clean = 2", "0 mm to 25 mm stand over the finished round", None),
        ('turning = { method = "turn" }', 'turning, method = "turn"', "a curved piece", 'did you mean "turned"?'),
        ("prices = { setup = -1 }", "prices, setup = -1", "a price is a number from 0 to", None),
        ("prices = { setup = inf }", "prices, setup = inf", "a price is a number from 0 to", None),
        ("prices = { currency = 5 }", "prices, currency = 5", "it must be text, not a number", None),
        ("prices = { corners = 5 }", "prices, corners = 5", "there is no key", "did you mean corner?"),
        (
            "prices = { board_foot = { bass = 4 } }",
            "prices, board_foot, bass = 4",
            "there is no member of that name",
            "did you mean base?",
        ),
        ("prices = { board_foot = { base = -4 } }", "prices, board_foot, base = -4", "a price is a number", None),
    ],
)  # fmt: skip
def test_refusals(text: str, place: str, said: str, fix: str | None) -> None:
    with pytest.raises(PreviewError) as caught:
        read(f"[shop]\n{text}\n")
    (problem,) = caught.value.problems
    where = " = ".join(part for part in (problem.place, problem.value) if part)
    assert where.startswith(f"[shop], {place}")
    assert said in problem.problem
    assert fix in (None, problem.fix)
    assert problem.file == "pantry.toml"


def test_a_shop_under_the_wrong_heading() -> None:
    with pytest.raises(PreviewError, match="a scene has one shop"):
        read('[[shop]]\nkerf = "1/8"\n')


def test_mistakes_are_told_once_beside_those_of_options() -> None:
    option = '[[option]]\nname = "thin"\nchanges = [{ member = "base", out = "x" }]\n'
    with pytest.raises(PreviewError) as caught:
        read("[shop]\nkerf = 0\nsticks = [0]\n" + option)
    places = [problem.place for problem in caught.value.problems]
    assert places == ["[shop], kerf", "[shop], stick 1, length", 'option "thin", change 1, out']


def test_nothing_built_comes_from_it() -> None:
    bare, told = scene(), scene(more=WHOLE)
    assert bare != told
    assert build(told).digest == build(bare).digest
    again = refinished(build(bare), told)
    assert again is not None
    assert again.scene.shop.kerf == 2.38125
