"""The contact sheet: every profile of the library, to one scale, none in another's way."""

from __future__ import annotations

import io
from itertools import combinations
from pathlib import Path

import pytest
import shapely
from PIL import Image

from preview.drafting.profile.contact import contact_sheet, contact_sheet_png, contact_sheet_svg
from preview.paper import bounds
from preview.paper.lettering import ink_box
from preview.paper.marks import WOOD, Page, Trace, Words, scaled
from preview.profiles import Profile, measure
from preview.scene import load_profile

LIBRARY = [load_profile(path) for path in sorted((Path(__file__).parents[2] / "profiles").glob("*.toml"))]


def sections(page: Page) -> list[Trace]:
    return [mark for mark in page.marks if isinstance(mark, Trace) and mark.fill == WOOD]


def assert_apart(page: Page) -> None:
    words = [shapely.box(*ink_box(mark)) for mark in page.marks if isinstance(mark, Words)]
    drawn = [shapely.box(*bounds([trace])) for trace in sections(page)]
    for one, other in combinations(words + drawn, 2):
        assert one.distance(other) > 0.3
    left, low, right, high = bounds([mark for mark in page.marks if isinstance(mark, Trace | Words)])
    assert min(left, low, page.width - right, page.height - high) > 4


def test_all_profiles_to_one_scale() -> None:
    page = contact_sheet(LIBRARY)
    assert len(sections(page)) == len(LIBRARY)
    for profile, trace in zip(LIBRARY, sections(page), strict=True):
        left, low, right, high = bounds([trace])
        size = measure(profile)
        assert (right - left, high - low) == pytest.approx((size.d_max / 2, size.h_max / 2), abs=1e-9)
    assert "Scale 1:2" in [mark.text for mark in page.marks if isinstance(mark, Words)]


@pytest.mark.parametrize("unit", ["in", "mm"])
def test_nothing_overlaps(unit: str) -> None:
    assert_apart(contact_sheet(LIBRARY, unit))  # type: ignore[arg-type]
    assert_apart(contact_sheet(LIBRARY[:1], unit))  # type: ignore[arg-type]


def test_the_large_and_the_wide_make_room() -> None:
    plinth = LIBRARY[0]
    wide = Profile("A wide one", scaled(6.0).edges(plinth.edges))
    turned = Profile("Wide and low", plinth.edges)
    assert_apart(contact_sheet([wide, turned, *LIBRARY[:9]]))


def test_svg_and_png_are_made() -> None:
    text = contact_sheet_svg(LIBRARY[:3]).decode("utf-8")
    assert all(profile.name in text for profile in LIBRARY[:3])
    picture = Image.open(io.BytesIO(contact_sheet_png(LIBRARY[:3])))
    assert picture.width == pytest.approx(2400, abs=1)


def test_none_is_refused() -> None:
    with pytest.raises(ValueError, match="at least one"):
        contact_sheet([])
