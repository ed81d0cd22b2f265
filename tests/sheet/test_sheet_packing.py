"""How drawings share pages: in order, none overlapping, none nearly alone, at scales that can be read."""

from __future__ import annotations

from functools import cache

import pytest
from hypothesis import given
from hypothesis import strategies as st

from preview.drafting import plan_drawings
from preview.pages import (
    HEADING,
    Element,
    Item,
    Row,
    Styles,
    column_size,
    packed,
    page_area,
    page_height,
    plan_of,
    row_size,
)
from preview.paper import Page
from preview.scene import PaperName
from preview.sheet.compose import NEARLY_EMPTY, _line_drawings
from preview.sheet.making import Making
from sheets import scene_job

ROOM = (257.0, 160.0)


def item(number: int, width: float, height: float, series: bool) -> Item:
    return Item(Page(width, height, ()), str(number), 1.0, series)


def in_order(pages: list[list[Row]]) -> list[Item]:
    """As they are read: page by page, row by row, in a row column by column from the top."""
    return [each for page in pages for row in page for column in row for each in column]


SIZES = st.tuples(st.floats(20.0, 250.0), st.floats(20.0, 155.0))


@given(st.lists(SIZES, max_size=6), st.lists(SIZES, max_size=9))
def test_all_are_packed_once_and_a_series_in_its_order(
    free: list[tuple[float, float]], row: list[tuple[float, float]]
) -> None:
    items = [item(i, *size, series=i >= len(free)) for i, size in enumerate([*free, *row])]
    pages = packed(items, ROOM)
    found = in_order(pages)
    assert sorted(int(each.words) for each in found) == list(range(len(items)))
    numbers = [int(each.words) for each in found if each.series]
    assert numbers == sorted(numbers)
    for page in pages:
        assert page_height(page) <= ROOM[1] + 1e-5
        assert all(row_size(each)[0] <= ROOM[0] + 1e-5 for each in page)
        assert all(column_size(column)[1] <= row_size(each)[1] + 1e-9 for each in page for column in each)


def test_two_series_of_three_fill_two_rows() -> None:
    """By hand: three of 80 mm and two gaps of 10 are 260, too wide for 257; three of 75 are 245."""
    wide = packed([item(i, 80.0, 60.0, True) for i in range(4)], ROOM)
    narrow = packed([item(i, 75.0, 60.0, True) for i in range(4)], ROOM)
    assert [len(row) for page in wide for row in page] == [2, 2]
    assert [len(row) for page in narrow for row in page] == [3, 1]


@cache
def pages_of(name: str, paper: PaperName, photos: int) -> list[list[Row]]:
    job = scene_job(name, paper, photos)
    making = Making(plan_of(paper), Styles(job.brand), Element("Document"), job)
    wide, high = making.plan.room
    return packed(_line_drawings(making, (wide, high - HEADING)), (wide, high - HEADING))


@pytest.mark.parametrize(
    ("name", "paper", "count"), [("cornice", "letter", 2), ("column", "letter", 1), ("hall", "a4", 1)]
)
def test_no_corner_stands_alone_on_a_page(name: str, paper: PaperName, count: int) -> None:
    pages = pages_of(name, paper, 0)
    wide, high = plan_of(paper).room
    assert len(pages) == count
    assert all(page_area(page) > NEARLY_EMPTY * wide * (high - HEADING) for page in pages)
    series = [int(each.words.split(":")[0].split(" ")[1]) for each in in_order(pages) if each.series]
    assert series == sorted(series)


@pytest.mark.parametrize(("photos", "paper", "least"), [(4, "letter", 16), (0, "a4", 24)])
def test_a_casing_is_drawn_large_enough_to_read(photos: int, paper: PaperName, least: int) -> None:
    """80 in of opening at 1:16 are 127 mm, at 1:24 84.7 mm: both have room in the 160 mm that these papers leave."""
    job = scene_job("door-casing", paper, photos)
    wide, high = plan_of(paper).room
    known = {each.page.width: each.scale for each in plan_drawings(job.shown[0].built, (wide, high - HEADING))}
    (door,) = [each for each in in_order(pages_of("door-casing", paper, photos)) if "Elevation of door" in each.words]
    assert f"(1:{least})" in known[door.page.width]
    assert door.scale == 1.0
