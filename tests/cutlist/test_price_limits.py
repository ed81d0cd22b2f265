"""A price that is no amount: TOML 1.0.0 ("Float") has inf and nan, and neither can be added up."""

from __future__ import annotations

import math

import pytest

from preview.cutlist import price_sheet, quantities
from preview.errors import PreviewError
from preview.scene import Prices
from shipped_lists import listed


@pytest.mark.parametrize("price", [math.inf, -math.inf, math.nan])
def test_a_price_without_end_is_refused(price: float) -> None:
    _, cuts = listed('room = "right"\nsteps = [{ straight = 500 }]')
    with pytest.raises(PreviewError, match="no less than nothing"):
        price_sheet(quantities(cuts), Prices(setup=price))
