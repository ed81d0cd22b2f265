"""shop.json: its keys, and figures worked by hand."""

from __future__ import annotations

import json
from functools import cache
from typing import Any

import pytest

from bench_jobs import shipped, small, tags_of
from preview.bench import SHOP, shop_json
from preview.cutlist import ShopJob
from preview.exports import WrittenFile

FILES = (WrittenFile("small-shop.pdf", 12, "ab" * 32),)
KEYS = {
    "schema",
    "program",
    "scene",
    "digest",
    "holds",
    "kerf_mm",
    "rounding_mm",
    "pieces",
    "sticks",
    "curves",
    "quantities",
    "prices",
    "closing",
    "templates",
    "order",
    "files",
}


def document(job: ShopJob, holds: bool = True) -> dict[str, Any]:
    read: dict[str, Any] = json.loads(shop_json(job, list(tags_of(job).values()), FILES, holds))
    return read


@cache
def of_small() -> dict[str, Any]:
    return document(small())


def test_the_document_says_what_it_is_of() -> None:
    told = of_small()
    assert SHOP == "shop.json"
    assert told.keys() == KEYS
    assert told["schema"] == 1
    assert told["program"]["name"] == "molding-preview"
    assert told["scene"] == {"title": "Small room", "file": "small.toml", "units": "mm"}
    assert told["digest"] == small().built.digest
    assert (told["holds"], document(small(), False)["holds"]) == (True, False)
    assert (told["kerf_mm"], told["rounding_mm"]) == (3.0, 0.5)
    assert told["files"] == [{"path": "small-shop.pdf", "bytes": 12, "sha256": "ab" * 32}]


def test_pieces_and_ends_by_hand() -> None:
    """As the small room says: two miters of 45°, the left one with its long point on the face."""
    pieces = of_small()["pieces"]
    lengths = {each["number"]: (each["back_mm"], each["face_mm"], each["overall_mm"]) for each in pieces}
    assert lengths == {
        "1": pytest.approx((1000, 1020, 1020)),
        "2": pytest.approx((500, 500, 520)),
        "3": pytest.approx((800, 800, 820)),
        "4": pytest.approx((0, 20, 20)),
    }
    assert [each["group"] for each in pieces] == [1, 2, 3, 4]
    left, right = pieces[1]["ends"]
    assert left == {
        "at": "left",
        "kind": "miter",
        "meets": "wall / strip / 1 straight",
        "corner_deg": pytest.approx(90),
        "inside": False,
        "miter_deg": pytest.approx(left["miter_deg"]),
        "bevel_deg": pytest.approx(0),
        "posture": "standing",
        "keep": "right",
    }
    assert (right["at"], right["inside"], right["meets"]) == ("right", True, "wall / strip / 3 straight")
    assert abs(left["miter_deg"]) == abs(right["miter_deg"]) == pytest.approx(45)
    assert (pieces[0]["thickness_mm"], pieces[0]["width_mm"]) == pytest.approx((20, 40))
    assert pieces[0]["rough"] == '4/4 × 2"'
    assert all(each["curve"] is None and each["longer_mm"] == 0 for each in pieces)


def test_sticks_quantities_and_prices_by_hand() -> None:
    told = of_small()
    (sticks,) = told["sticks"]
    assert (sticks["bought_mm"], sticks["waste_mm"], sticks["price"], sticks["gap"]) == (2500, 120, 9.5, 0)
    (stick,) = sticks["sticks"]
    assert stick["length_mm"] == 2500
    assert stick["left_mm"] == pytest.approx(88)
    assert set(stick["pieces"]) == {each["name"] for each in told["pieces"]}
    assert len(stick["pieces"]) == 4
    (one,) = told["quantities"]
    assert (one["member"], one["pieces"], one["net_mm"], one["bought_mm"]) == ("strip", 4, pytest.approx(2380), 2500)
    assert one["board_feet"] == pytest.approx(2 * 2500 / 25.4 / 144)
    assert one["finish_mm2"] == pytest.approx(140_000)
    assert [line["amount"] for line in told["prices"]["lines"]] == ["8.20", "16.40", "50.00"]
    assert (told["prices"]["currency"], told["prices"]["total"]) == ("EUR", "74.60")


def test_the_order_and_the_proof() -> None:
    told = of_small()
    names = [each["name"] for each in told["pieces"]]
    assert told["order"] == [[names[0]], [names[1]], [names[2], names[3]]]
    assert {each["line"] for each in told["closing"]} == {"wall", "back", "face"}
    assert all(each["holds"] and each["error_mm"] < 1e-6 for each in told["closing"])


def test_curves_say_how_they_are_made() -> None:
    told = document(shipped("window-seat"))
    (curve,) = told["curves"]
    assert curve["pieces"] == ["seat / base / 2 curve", "seat / base / 10 curve"]
    assert curve["way"] == "turned"
    # A back of 2 in and a base that stands out 1 1/4: 4 in inside, 6 1/2 outside; four staves, edges at 45°.
    blank = curve["blank"]
    assert (blank["inside_diameter_mm"], blank["outside_diameter_mm"]) == pytest.approx((101.6, 165.1))
    assert (blank["staves"], blank["edge_deg"], blank["pieces"]) == (4, 45.0, 2)
    assert [way["way"] for way in curve["ways"]] == ["turned", "rings", "lamination", "sawn"]
    assert [way["possible"] for way in curve["ways"]] == [True, True, True, False]
    pieces = {each["number"]: each for each in told["pieces"]}
    assert pieces["2"]["curve"] == {
        "wraps": True,
        "radius_back_mm": pytest.approx(50.8),
        "radius_face_mm": pytest.approx(50.8 + 31.75),
        "sweep_deg": pytest.approx(90),
    }
    assert [pieces[number]["longer_mm"] for number in ("1", "2", "3", "4")] == [0, 0, 0, 0]
    column = {each["number"]: each for each in document(shipped("column"))["pieces"]}
    assert [column[number]["longer_mm"] for number in ("1", "2", "3", "4")] == pytest.approx([3.2, 0, 3.2, 0])
    assert [each["sign"] for each in told["templates"]] == ["T1", "T2"]
    assert told["templates"][1]["pieces"] == curve["pieces"]


def test_the_same_job_gives_the_same_bytes() -> None:
    tags = list(tags_of(small()).values())
    assert shop_json(small(), tags, FILES, True) == shop_json(small(), tags, FILES, True)
