"""Lengths as read, what the rounding adds up to, and the list as comma-separated values."""

from __future__ import annotations

import csv
import io
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from preview.cutlist import csv_text, guarded, read_length, roundings
from preview.errors import PreviewError
from preview.units import Unit, length
from shipped_lists import NAMES, listed, shipped
from strategies import share

SIXTEENTH = 25.4 / 16


@pytest.mark.parametrize(
    ("mm", "rounding", "unit", "text", "error"),
    [
        (1612.9, SIXTEENTH, "in", '63 1/2"', 0.0),
        (1612.9, SIXTEENTH, "ft", "5' 3 1/2\"", 0.0),
        (1613.0, SIXTEENTH, "in", '63 1/2"', 0.1),
        (25.4 * 63.53125, SIXTEENTH, "in", '63 1/2"', 25.4 / 32),  # half way: to the even count
        (25.4 * 63.59375, SIXTEENTH, "in", '63 5/8"', -25.4 / 32),
        (62.83185, 0.5, "mm", "63.0 mm", -0.16815),
        (62.83185, 1.0, "mm", "63 mm", -0.16815),
        (1234.4, 0.5, "cm", "123.45 cm", -0.1),
        (32.0, 0.5, "in", "1.2598 in", 0.0),  # no fraction of an inch: a decimal
        (0.0, SIXTEENTH, "in", '0"', 0.0),
    ],
)
def test_reading(mm: float, rounding: float, unit: Unit, text: str, error: float) -> None:
    found = read_length(mm, rounding, unit)
    assert (found.text, found.error) == (text, pytest.approx(error, abs=1e-9))
    assert found.read == pytest.approx(mm - error)
    assert found.exact is (error == 0.0)
    assert found.told == (text if error == 0.0 else f"{text} ({error:+.2f} mm)")


@share(0.4)
@given(st.floats(0, 10_000), st.sampled_from([2, 4, 8, 16, 32, 64]))
def test_a_fraction_reads_back_and_is_no_more_than_half_a_step_off(mm: float, parts: int) -> None:
    found = read_length(mm, 25.4 / parts, "in")
    assert length(found.text, "in") == pytest.approx(found.read, abs=1e-9)
    assert found.read + found.error == pytest.approx(mm, abs=1e-9)
    assert abs(found.error) <= 25.4 / parts / 2 + 1e-9


@pytest.mark.parametrize("rounding", [0.0, -1.0, float("nan"), float("inf")])
def test_no_rounding_to_nothing(rounding: float) -> None:
    with pytest.raises(PreviewError, match="cannot be read"):
        read_length(100.0, rounding, "mm")


def test_roundings_along_a_run_are_told() -> None:
    """Three lengths of 100.2 mm read to whole millimeters."""
    built, cuts = listed(
        'room = "right"\nsteps = [{ straight = 100.2 }, { outside = 90 }, { straight = 100.2 }, { inside = 90 }, '
        "{ straight = 100.2 }]"
    )
    (found,) = roundings(cuts, [placed.run for placed in built.scene.runs], 1.0, "mm")
    assert (found.lengths, found.most) == (3, 1.5)
    assert found.total == pytest.approx(0.6)
    # Two of them run one way, one across: the end is 0.4 off along, 0.2 across.
    assert found.opens == pytest.approx((0.4**2 + 0.2**2) ** 0.5)
    assert found.sentence == (
        "wall / strip: 3 lengths read to 1 mm, together 0.60 mm short; cut so, the run misses its measured end by "
        "0.45 mm"
    )


def test_a_closed_run_misses_its_start() -> None:
    """A triangle of 300.2, 400.2 and so 500.28 mm, read to whole millimeters."""
    built, cuts = listed('closed = true\nroom = "right"\npoints = [[0, 0], [400.2, 0], [400.2, 300.2]]')
    (found,) = roundings(cuts, [placed.run for placed in built.scene.runs], 1.0, "mm")
    long = (300.2**2 + 400.2**2) ** 0.5
    assert found.total == pytest.approx(0.4 + long - 500.0)
    # 400 along, 300 across, and 500 back on a slope of 300.2 in 400.2.
    assert found.opens == pytest.approx(((400 - 500 * 400.2 / long) ** 2 + (300 - 500 * 300.2 / long) ** 2) ** 0.5)
    assert "; cut so, the run misses its start by 0.0" in found.sentence


def test_nothing_lost_is_said_too() -> None:
    built, cuts = shipped("window-seat")
    (found,) = roundings(cuts, [placed.run for placed in built.scene.runs], SIXTEENTH, "in")
    assert (found.total, found.opens) == pytest.approx((0.0, 0.0), abs=1e-9)
    assert found.sentence == 'seat / base: 9 lengths read to 1/16", and nothing is lost by it'


@pytest.mark.parametrize("name", NAMES)
def test_rows_read_back(name: str) -> None:
    """RFC 4180: one header, CRLF after every record, as many fields in each."""
    built, cuts = shipped(name)
    text = csv_text(cuts, SIXTEENTH, built.scene.units)
    assert text.count("\r\n") == text.count("\n") == len(cuts.pieces) + 1
    assert text.endswith("\r\n")
    rows = list(csv.reader(io.StringIO(text, newline=""), strict=True))
    assert {len(row) for row in rows} == {len(rows[0])}
    assert len(set(rows[0])) == len(rows[0])
    told = [dict(zip(rows[0], row, strict=True)) for row in rows[1:]]
    assert [row["piece"] for row in told] == [piece.name for piece in cuts.pieces]
    for row, piece in zip(told, cuts.pieces, strict=True):
        assert float(row["overall, mm"]) == pytest.approx(piece.overall, abs=5.1e-4)
        assert int(row["alike"]) == sum(piece.name in group.names and group.count for group in cuts.groups)


@pytest.mark.parametrize("start", ["=", "+", "-", "@", "\t", "\r", "\n", "＝", "＋", "－", "＠", "  ="])
def test_names_that_a_spreadsheet_would_run_are_guarded(start: str) -> None:
    """OWASP, CSV injection: no cell of ours starts like a formula."""
    _, cuts = shipped("bay")
    evil = f'{start}HYPERLINK("http://a.example","x"),"y"'
    pieces = tuple(replace(piece, run=evil, member=evil) for piece in cuts.pieces)
    text = csv_text(replace(cuts, pieces=pieces), SIXTEENTH, "in")
    rows = list(csv.reader(io.StringIO(text, newline=""), strict=True))
    cells = [cell for row in rows for cell in row]
    assert sum(cell == f"'{evil}" for cell in cells) == 2 * len(pieces)
    assert not any(
        cell.lstrip(" ").startswith(("=", "+", "-", "@", "\t", "\r", "\n", "＝", "＋", "－", "＠")) for cell in cells
    )


def test_plain_cells_stay_as_they_are() -> None:
    assert [guarded(text) for text in ("bench front", "5' 3 1/2\"", "", "3-4", "a=b")] == [
        "bench front",
        "5' 3 1/2\"",
        "",
        "3-4",
        "a=b",
    ]


def test_what_is_cut_longer_stands_in_the_last_column() -> None:
    _, cuts = shipped("column")
    first = cuts.pieces[0].name
    rows = list(csv.DictReader(io.StringIO(csv_text(cuts, 0.5, "mm", {first: 3.2}), newline="")))
    assert [row["cut longer, mm"] for row in rows] == ["3.200", *[""] * 7]
