"""Rows of numbers as text, against Python's own arithmetic on whole numbers."""

from __future__ import annotations

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from preview.exports.plain_text import fixed, rows, tokens, whole


def written(words: np.ndarray) -> list[str]:
    return [text.decode() for text in rows([b""], words[:, None], b"", [1] * len(words))]


@given(st.lists(st.integers(0, 10**17), min_size=1, max_size=20))
def test_whole_numbers(numbers: list[int]) -> None:
    assert written(whole(np.array(numbers))) == [str(number) for number in numbers]


@given(st.lists(st.integers(-(10**14), 10**14), min_size=1, max_size=20), st.sampled_from([3, 6, 9]))
def test_numbers_of_so_many_decimals(numbers: list[int], decimals: int) -> None:
    """15 digits are what a float64 keeps, so each of these is told exactly."""
    expected = []
    for number in numbers:
        units, rest = divmod(abs(number), 10**decimals)
        text = f"{units}.{rest:0{decimals}}".rstrip("0").rstrip(".")
        expected.append(f"-{text}" if number < 0 else text)
    assert written(fixed(np.array(numbers) / 10**decimals, decimals)) == expected


@given(st.lists(st.floats(-1e6, 1e6), min_size=1, max_size=20))
def test_any_number_to_the_nearest(numbers: list[float]) -> None:
    for number, text in zip(numbers, written(fixed(np.array(numbers), 6)), strict=True):
        assert abs(float(text) - number) <= 0.5e-6 + 2e-10
        assert text != "-0"


@given(st.lists(st.text(max_size=6), max_size=8))
def test_tokens_are_words_and_no_two_alike(names: list[str]) -> None:
    found = tokens(names, "piece")
    assert len(set(found)) == len(names)
    assert all(word and not word.startswith("#") and word.split() == [word] for word in found)
    assert all("\\" not in word and "/" not in word for word in found)
