"""The short code: every single wrong sign and every swap of two is caught, shown from the algebra of its field.

Sources: the reasoning of weighted check signs over a field is that of ISBN-10 (ISO 2108:1992, from memory), whose field
has 11 elements; ours has 32. The field's table of powers is printed in Lin and Costello, Error Control Coding, for
GF(2^5) with 1 + x^2 + x^5 (from memory).
"""

from __future__ import annotations

import hashlib
from itertools import combinations, product

import pytest
from hypothesis import given
from hypothesis import strategies as st

from preview.approval import read_code, short_code
from preview.approval.code import EXAMPLE, SIGNS, WEIGHTS, check_sum, times
from preview.errors import PreviewError

ELEMENTS = range(32)
DIGEST = hashlib.sha256(b"").hexdigest()
digests = st.binary(min_size=32, max_size=32).map(bytes.hex)


def test_the_signs_leave_out_what_is_misread() -> None:
    assert len(SIGNS) == len(set(SIGNS)) == 32
    assert set("ILOU").isdisjoint(SIGNS)
    assert SIGNS.isascii()
    assert SIGNS.upper() == SIGNS


def test_the_field_s_powers_are_the_published_ones() -> None:
    """Of x, in Lin and Costello's table for p(x) = 1 + x^2 + x^5 (their order of bits turned round; from memory)."""
    powers = [1]
    for _ in range(31):
        powers.append(times(powers[-1], 2))
    published = {5: 0b00101, 10: 0b10001, 15: 0b11111, 18: 0b00011, 29: 0b01001, 30: 0b10010, 31: 1}
    assert {k: powers[k] for k in published} == published
    assert sorted(powers[:31]) == list(range(1, 32))  # x is primitive: it reaches everything but 0


def test_the_field_is_a_field() -> None:
    """Every law that the reasoning needs, for all elements there are."""
    for a, b in product(ELEMENTS, repeat=2):
        assert times(a, b) == times(b, a)
        assert (times(a, b) == 0) == (a == 0 or b == 0)
    for a, b, c in product(ELEMENTS, repeat=3):
        assert times(a, b ^ c) == times(a, b) ^ times(a, c)


def test_every_wrong_sign_and_every_swap_of_two_is_caught() -> None:
    """The sum is linear, so a wrong sign changes it by weight times error, whatever the other signs are; and a swap by
    the difference of the weights times that of the signs. All of these are looked at."""
    assert len(WEIGHTS) == 8
    for weight, error in product(WEIGHTS, range(1, 32)):
        assert times(weight, error) != 0
    for one, other in combinations(WEIGHTS, 2):  # neighbors, and any two
        for difference in range(1, 32):
            assert times(one ^ other, difference) != 0


@given(digests)
def test_codes_are_read_back(digest: str) -> None:
    code = short_code(digest)
    assert len(code) == 9
    assert code[4] == "-"
    assert read_code(code) == code
    assert check_sum(code.replace("-", "")) == 0


@given(digests, st.integers(0, 7), st.sampled_from(SIGNS))
def test_a_wrong_sign_is_refused(digest: str, at: int, sign: str) -> None:
    signs = list(short_code(digest).replace("-", ""))
    if signs[at] == sign:
        return
    signs[at] = sign
    with pytest.raises(PreviewError, match="its check character does not fit"):
        read_code("".join(signs))


@given(digests, st.integers(0, 6))
def test_swapped_neighbors_are_refused(digest: str, at: int) -> None:
    signs = list(short_code(digest).replace("-", ""))
    if signs[at] == signs[at + 1]:
        return
    signs[at], signs[at + 1] = signs[at + 1], signs[at]
    with pytest.raises(PreviewError, match="its check character does not fit"):
        read_code("".join(signs))


def test_a_code_is_the_first_35_bits_of_the_digest() -> None:
    """SHA-256 of nothing is e3b0c44298fc1c14... (FIPS 180-4's example of an empty message, from memory)."""
    assert DIGEST.startswith("e3b0c44298fc1c14")
    bits = f"{int(DIGEST, 16):0256b}"[:35]
    assert short_code(DIGEST).replace("-", "")[:7] == "".join(SIGNS[int(bits[k : k + 5], 2)] for k in range(0, 35, 5))


def test_the_code_in_messages_is_a_code() -> None:
    assert read_code(EXAMPLE) == EXAMPLE


@pytest.mark.parametrize(
    "said",
    [
        "WERC-8GMB",
        "werc-8gmb",
        "WERC8GMB",
        " W E R C   8 G M B ",
        "werc 8gmb",
        "WERC\u20138GMB",
        "W.E.R.C.8.G.M.B",
        "\uff37\uff25\uff32\uff23-8GMB",
    ],
)
def test_a_code_is_read_however_it_was_written_down(said: str) -> None:
    assert read_code(said) == short_code(DIGEST) == "WERC-8GMB"


def test_letters_that_look_like_digits_are_read_as_those() -> None:
    code = next(
        code
        for code in (short_code(hashlib.sha256(str(k).encode()).hexdigest()) for k in range(10_000))
        if code.count("0") and code.count("1") > 1
    )
    as_seen = code.replace("0", "O").replace("1", "I", 1).replace("1", "l")
    assert as_seen != code
    assert read_code(as_seen) == code
    assert read_code(as_seen.lower()) == code


SIGN_FIX = "\n  fix: a code has the digits and all letters but I, L, O and U, such as 7KQ4-XM2A; ask for it again"
COUNT_FIX = "\n  fix: ask for it again; it looks like 7KQ4-XM2A"
CHECK = "a character of this code is wrong, or two are swapped: its check character does not fit"
REFUSED = {
    "WERC-8GM": "WERC-8GM\n  a code has 8 signs, and this has 7" + COUNT_FIX,
    "": "  a code has 8 signs, and this has 0" + COUNT_FIX,
    "WERC-8GMU": "WERC-8GMU\n  no code has the sign U" + SIGN_FIX,
    "WERC-\x078GMB": "WERC-?8GMB\n  no code has the sign U+0007" + SIGN_FIX,
    "WERC-8GBM": f"WERC-8GBM\n  {CHECK}\n  fix: ask for the code again, character by character",
}


@pytest.mark.parametrize("said", REFUSED)
def test_what_is_no_code_is_refused_in_words(said: str) -> None:
    with pytest.raises(PreviewError) as caught:
        read_code(said)
    assert str(caught.value) == REFUSED[said]


@pytest.mark.parametrize("digest", ["", "E" * 64, "0" * 63, "0" * 65, "g" * 64])
def test_only_a_digest_has_a_code(digest: str) -> None:
    with pytest.raises(ValueError, match="64 hexadecimal digits"):
        short_code(digest)
