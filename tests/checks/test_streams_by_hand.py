"""Streams of vertices and triangles written out byte by byte as EXT_meshopt_compression lays them (Khronos, glTF 2.0
extensions): modes 0, 1 and 2, and the filters; the last of them against the reference, meshoptimizer (npm)."""

from __future__ import annotations

import itertools
import math

import numpy as np
import pytest

from exports.reference_meshopt import Task, reference
from preview.checks.meshopt import decoded

BITS = {0: 0, 1: 2, 2: 4, 3: 8}
PLAIN_TABLE = bytes(16)


def vertices(rows: np.ndarray, *several: int) -> bytes:
    """Rows (n, stride) of bytes as a stream, its groups of these kinds in turn; 0 holds only what does not change."""
    turn = itertools.cycle(several)
    count, stride = rows.shape
    per_block = min(8192 // stride // 16 * 16, 256)
    out = bytearray([0xA0])
    before = rows[0].astype(int)
    for first in range(0, count, per_block):
        block = rows[first : first + per_block].astype(int)
        for byte in range(stride):
            column = np.concatenate([[before[byte]], block[:, byte]])
            steps = (np.diff(column) + 128) % 256 - 128
            folded = [2 * s if s >= 0 else -2 * s - 1 for s in steps.tolist()]
            folded += [0] * (-len(folded) % 16)
            groups = [folded[i : i + 16] for i in range(0, len(folded), 16)]
            kinds = [next(turn) for _ in groups] + [0] * (-len(groups) % 4)
            out += bytes(sum(k << 2 * i for i, k in enumerate(kinds[at : at + 4])) for at in range(0, len(kinds), 4))
            for group, kind in zip(groups, kinds, strict=False):
                out += packed(group, BITS[kind])
        before = block[-1]
    tail = bytes(max(32, stride) - stride) + rows[0].astype(np.uint8).tobytes()
    return bytes(out) + tail


def packed(group: list[int], bits: int) -> bytes:
    """Sixteen values in so many bits each, highest first; a full one says that the whole byte stands behind."""
    if bits in (0, 8):
        assert bits or not any(group)
        return bytes(group) if bits else b""
    full = (1 << bits) - 1
    number = 0
    for value in group:
        number = number << bits | min(value, full)
    return number.to_bytes(2 * bits, "big") + bytes(value for value in group if value >= full)


LAYOUTS = [(1, 4), (15, 4), (16, 4), (17, 8), (49, 4), (65, 4), (80, 12), (255, 4), (256, 4), (257, 4), (513, 4)]
LAYOUTS += [(40, 256), (129, 64), (161, 48), (225, 36), (33, 252), (300, 32)]
"""Counts about the ends of groups, of fours of groups and of blocks: 8192 bytes, whole groups, 256 vertices at most."""


@pytest.mark.parametrize(("count", "stride"), LAYOUTS)
@pytest.mark.parametrize("kind", [0, 1, 2, 3])
def test_vertices_in_groups_of_each_kind(kind: int, count: int, stride: int) -> None:
    chance = np.random.default_rng(count * stride)
    most = {0: 1, 1: 5, 2: 20, 3: 256}[kind]  # some values do not fit, and stand behind their group
    rows = np.cumsum(chance.integers(-(most // 2), most - most // 2, (count, stride)), axis=0).astype(np.uint8)
    stream = vertices(rows, kind)
    assert np.array_equal(decoded(stream, "ATTRIBUTES", count, stride), rows)
    with pytest.raises(ValueError, match="vertices end late"):
        decoded(stream[:1] + b"\0" * 40 + stream[1:], "ATTRIBUTES", count, stride)


@pytest.mark.parametrize(("count", "stride"), [(33, 4), (100, 8), (256, 4), (300, 32), (500, 12)])
def test_vertices_in_groups_of_several_kinds(count: int, stride: int) -> None:
    rows = np.cumsum(np.random.default_rng(count).integers(-9, 10, (count, stride)), axis=0).astype(np.uint8)
    for kinds in ((1, 2, 3), (3, 1), (2, 2, 1, 3, 1)):
        assert np.array_equal(decoded(vertices(rows, *kinds), "ATTRIBUTES", count, stride), rows)


@pytest.mark.parametrize("kind", [0, 1, 2, 3])
def test_vertices_of_a_byte_less_end_early(kind: int) -> None:
    rows = np.full((16, 4), 7, np.uint8) if kind == 0 else np.arange(64, dtype=np.uint8).reshape(16, 4)
    stream = vertices(rows, kind)
    for cut in (1, 2, 3):
        with pytest.raises(ValueError, match="vertices end early"):
            decoded(stream[: -32 - cut] + stream[-32:], "ATTRIBUTES", 16, 4)
    with pytest.raises(ValueError, match="vertices end late"):
        decoded(stream[:-32] + b"\0" + stream[-32:], "ATTRIBUTES", 16, 4)


def test_a_short_group_of_two_bits_is_read_with_what_stands_behind_it() -> None:
    """By hand: 0 1 2 3 and twelve 0 in two bits are 0x1B 0 0 0, and the fourth says that its byte follows: 200.

    Unfolded they are 0, -1, 1, 100; added to 10, one after another: 10, 9, 10, 110.
    """
    column = bytes([1, 0x1B, 0, 0, 0, 200])
    stream = bytes([0xA0]) + column + bytes(3) + bytes(28) + bytes([10, 0, 0, 0])
    found = decoded(stream, "ATTRIBUTES", 4, 4)
    assert found[:, 0].tolist() == [10, 9, 10, 110]
    assert not found[:, 1:].any()


@pytest.mark.parametrize(
    ("mode", "count", "stride", "filtered", "said"),
    [
        ("ATTRIBUTES", 1, 0, "NONE", "stride of 0 bytes"),
        ("ATTRIBUTES", 1, -4, "NONE", "stride of -4 bytes"),
        ("ATTRIBUTES", 1, 257, "NONE", "stride of 257 bytes"),
        ("ATTRIBUTES", -1, 4, "NONE", "stride of 4 bytes"),
        ("ATTRIBUTES", 1, 6, "NONE", "vertices are not as the format has them"),
        ("ATTRIBUTES", 1, 4, "QUATERNION", "QUATERNION"),
        ("TRIANGLES", 3, 3, "NONE", "triangles are not as the format has them"),
        ("TRIANGLES", 3, 8, "NONE", "triangles are not as the format has them"),
        ("TRIANGLES", 3, 2, "OCTAHEDRAL", "triangles are not as the format has them"),
        ("INDICES", 3, 1, "NONE", "triangles are not as the format has them"),
        ("STRIPS", 3, 4, "NONE", "triangles are not as the format has them"),
    ],
)
def test_sizes_that_the_format_does_not_have(mode: str, count: int, stride: int, filtered: str, said: str) -> None:
    stream = {"ATTRIBUTES": b"\xa0" + bytes(260), "TRIANGLES": b"\xe1\xf0" + bytes(16)}.get(mode, b"\xd1" + bytes(7))
    if filtered == "QUATERNION":
        stream = vertices(np.zeros((1, 4), np.uint8), 0)
    with pytest.raises(ValueError, match=said):
        decoded(stream, mode, count, stride, filtered)


def test_another_first_byte_is_another_format() -> None:
    whole = {"ATTRIBUTES": (vertices(np.zeros((1, 4), np.uint8), 0), 1, 4), "INDICES": (b"\xd1\0\0\0\0\0", 1, 4)}
    whole["TRIANGLES"] = (b"\xe1\xf0" + PLAIN_TABLE, 3, 4)
    for mode, (stream, count, stride) in whole.items():
        assert decoded(stream, mode, count, stride).shape == (count, stride)
        for wrong in (b"\xa2" + stream[1:], b"\xd0" + stream[1:], b"\xe0" + stream[1:], b""):
            with pytest.raises(ValueError, match="not as the format has them"):
                decoded(wrong, mode, count, stride)


# Triangles ------------------------------------------------------------------------------------------------------------


def triangles(codes: bytes, data: bytes = b"", table: bytes = PLAIN_TABLE) -> list[list[int]]:
    found = decoded(b"\xe1" + codes + data + table, "TRIANGLES", 3 * len(codes), 4)
    return found.view("<u4").reshape(-1, 3).tolist()


def test_triangles_that_share_edges() -> None:
    """By hand: after (0 1 2) the edges are, the last first, (0 2), (2 1), (1 0); the vertices 2 1 0.

    0x00 takes (0 2) and the next vertex; 0x20 then, over the edges (0 3) (3 2) (0 2)..., takes (0 2) once more, and
    0x03 the edge made last, (0 4), with the fourth of the vertices 4 3 2 1 0.
    """
    assert triangles(bytes([0xF0, 0x00])) == [[0, 1, 2], [0, 2, 3]]
    assert triangles(bytes([0xF0, 0x00, 0x20])) == [[0, 1, 2], [0, 2, 3], [0, 2, 4]]
    assert triangles(bytes([0xF0, 0x10])) == [[0, 1, 2], [2, 1, 3]]
    assert triangles(bytes([0xF0, 0x20])) == [[0, 1, 2], [1, 0, 3]]
    assert triangles(bytes([0xF0, 0x00, 0x20, 0x03])) == [[0, 1, 2], [0, 2, 3], [0, 2, 4], [0, 4, 1]]


def test_what_was_never_met_is_the_first_vertex() -> None:
    """A stream that reaches back before its beginning is at fault, and names nothing that is not there."""
    assert triangles(bytes([0x00, 0xE1])) == [[0, 0, 0], [0, 0, 0]]
    assert triangles(bytes([0xEC])) == [[0, 0, 0]]


def test_vertices_beside_the_one_told_last() -> None:
    """0x0F tells 7 (14 folded); 0x0D and 0x0E are the one before it and the one after; each is told from the last."""
    found = triangles(bytes([0xF0, 0x0F, 0x0D, 0x0E, 0x0E]), bytes([14]))
    assert [each[2] for each in found] == [2, 7, 6, 7, 8]
    assert [each[2] for each in triangles(bytes([0xF0, 0x0F, 0x0F]), bytes([20, 5]))] == [2, 10, 7]
    # Folded 200 is 0xC8 0x01, seven bits to a byte, the lowest first: 100.
    assert triangles(bytes([0xF0, 0x0F]), bytes([0xC8, 0x01]))[1] == [0, 2, 100]
    # Below 0 a number of 32 bits goes round: all ones is not yet past the last.
    assert triangles(bytes([0xF0, 0x0D]))[1] == [0, 2, 2**32 - 1]


def test_triangles_whose_corners_stand_in_the_table() -> None:
    """0xF1 with 0x21 in the table's second place: the next vertex, the second of those met, and the last met."""
    table = bytes([0, 0x21, *bytes(14)])
    assert triangles(bytes([0xF0, 0xF1]), table=table) == [[0, 1, 2], [3, 1, 2]]
    table = bytes([*bytes(13), 0x03, 0, 0])
    assert triangles(bytes([0xF0, 0xFD]), table=table) == [[0, 1, 2], [3, 4, 0]]
    # Only vertices not met before are kept: after (3 1 2) those kept are 3 2 1 0, and 0xF2 takes the first and fourth.
    table = bytes([0, 0x21, 0x14, *bytes(13)])
    assert triangles(bytes([0xF0, 0xF1, 0xF2]), table=table)[2] == [4, 3, 0]
    # The edges of a triangle by the table are those of any: (0x00 after (3 1 2): (3 2)).
    table = bytes([0, 0x21, *bytes(14)])
    assert triangles(bytes([0xF0, 0xF1, 0x00, 0xF0]), table=table)[2:] == [[3, 2, 4], [5, 6, 7]]


def test_triangles_whose_corners_are_told() -> None:
    """0xFE has its pair in the data, 0xFF its first corner too; a pair of 0 counts the vertices from 0 again."""
    assert triangles(bytes([0xF0, 0xFE]), bytes([0x21])) == [[0, 1, 2], [3, 1, 2]]
    assert triangles(bytes([0xF0, 0xFE]), bytes([0x00])) == [[0, 1, 2], [0, 1, 2]]
    assert triangles(bytes([0xF0, 0xFF]), bytes([0x12, 40])) == [[0, 1, 2], [20, 2, 1]]
    assert triangles(bytes([0xF0, 0xFF]), bytes([0x00, 40])) == [[0, 1, 2], [20, 0, 1]]
    assert triangles(bytes([0xF0, 0xFF]), bytes([0x01, 40])) == [[0, 1, 2], [20, 3, 2]]
    assert triangles(bytes([0xF0, 0xFF]), bytes([0xFF, 40, 1, 4])) == [[0, 1, 2], [20, 19, 21]]
    assert triangles(bytes([0xF0, 0xFE]), bytes([0xF0, 40])) == [[0, 1, 2], [3, 20, 4]]
    # What is told is kept as met, in its order: a, b, c.
    assert triangles(bytes([0xF0, 0xFF, 0xFE]), bytes([0xFF, 40, 1, 4, 0x23]))[2] == [3, 19, 20]
    assert triangles(bytes([0xF0, 0xFE, 0xFE]), bytes([0x3F, 40, 0x12]))[1:] == [[3, 0, 20], [4, 20, 3]]


def test_triangles_of_other_lengths_are_refused() -> None:
    codes, data = bytes([0xF0, 0x0F]), bytes([0xC8, 0x01])
    with pytest.raises(ValueError, match="not as the format has them"):
        decoded(b"\xe1" + codes + data + PLAIN_TABLE, "TRIANGLES", 5, 4)
    with pytest.raises(ValueError, match="not as the format has them"):
        decoded(b"\xe1\xf0" + PLAIN_TABLE[1:], "TRIANGLES", 3, 4)
    with pytest.raises(ValueError, match="end early"):
        decoded(b"\xe1" + codes + data[:1] + PLAIN_TABLE, "TRIANGLES", 6, 4)
    with pytest.raises(ValueError, match="end late"):
        decoded(b"\xe1" + codes + data + b"\0" + PLAIN_TABLE, "TRIANGLES", 6, 4)
    with pytest.raises(ValueError, match="too long"):
        decoded(b"\xe1" + codes + b"\x80" * 5 + b"\0" * 9 + PLAIN_TABLE, "TRIANGLES", 6, 4)
    assert triangles(codes, b"\x80\x80\x80\x80\x02")[1] == [0, 2, 2**28]  # five bytes, of which the last counts 2^28


@pytest.mark.parametrize(("number", "stride", "fits"), [(65535, 2, True), (65536, 2, False), (65536, 4, True)])
def test_a_number_fits_its_bytes(number: int, stride: int, fits: bool) -> None:
    folded = 2 * number
    told = bytes([folded & 0x7F | 0x80, folded >> 7 & 0x7F | 0x80, folded >> 14])
    stream = b"\xe1\xf0\x0f" + told + PLAIN_TABLE
    if fits:
        found = decoded(stream, "TRIANGLES", 6, stride)
        assert found.shape == (6, stride)
        assert found.view(f"<u{stride}").ravel().tolist() == [0, 1, 2, 0, 2, number]
    else:
        with pytest.raises(ValueError, match="a vertex that is not there"):
            decoded(stream, "TRIANGLES", 6, stride)


def random_triangles(chance: np.random.Generator, count: int) -> bytes:
    """Any codes, after as many triangles as fill what is kept; each with as many bytes as it asks for."""
    codes = [0xF0] * 6 + chance.integers(0, 256, count).tolist()
    table = bytes([0, *(int(pair) for pair in chance.integers(0, 15, 15) << 4 | chance.integers(0, 15, 15))])
    data = bytearray()

    def told() -> None:
        number = int(chance.integers(0, 1 << int(chance.integers(1, 24))))
        while number > 127:
            data.append(number & 127 | 128)
            number >>= 7
        data.append(number)

    for code in codes:
        high, low = code >> 4, code & 15
        if high < 15 and low == 15:
            told()
        elif high == 15 and low >= 14:
            pair = int(chance.integers(0, 256)) if chance.random() < 0.8 else 0
            data.append(pair)
            for _ in range((low == 15) + (pair >> 4 == 15) + (pair & 15 == 15)):
                told()
    return b"\xe1" + bytes(codes) + bytes(data) + table


def test_any_codes_mean_what_the_reference_reads() -> None:
    streams = [random_triangles(np.random.default_rng(seed), 200) for seed in range(20)]
    for stream, laid in zip(
        streams, reference([Task("decode", "TRIANGLES", 618, 4, each) for each in streams]), strict=True
    ):
        assert laid
        assert decoded(stream, "TRIANGLES", 618, 4).tobytes() == laid


# Any numbers in a row -------------------------------------------------------------------------------------------------


def indices(*told: int, count: int, stride: int = 4, end: bytes = bytes(4)) -> list[int]:
    return decoded(b"\xd1" + bytes(told) + end, "INDICES", count, stride).view(f"<u{stride}").ravel().tolist()


def test_numbers_told_from_one_of_two_before_them() -> None:
    """The lowest bit says from which of the two, the next the sign: 4 is 1 more than the one, 5 than the
    other; 6 and 7 are 2 less."""
    assert indices(4, 8, 12, 9, 4, 5, 6, 7, count=8) == [1, 3, 6, 2, 7, 3, 5, 1]
    assert indices(0xA0, 0x01, count=1) == [40]  # 32 + 128 = 160: a quarter of it
    assert indices(0x80, 0x80, 0x80, 0x80, 0x04, count=1) == [2**28]
    assert indices(2, count=1) == [2**32 - 1]
    assert indices(count=0) == []
    with pytest.raises(ValueError, match="too long"):
        indices(0x80, 0x80, 0x80, 0x80, 0x80, 0x00, count=1)
    with pytest.raises(ValueError, match="end early"):
        indices(4, 8, count=3)
    with pytest.raises(ValueError, match="end late"):
        indices(4, 8, 12, count=2)
    with pytest.raises(ValueError, match="end early"):
        indices(4, count=1, end=bytes(3))


# Filters --------------------------------------------------------------------------------------------------------------


def rows_of(values: list[list[int]], kind: str) -> tuple[bytes, int, int]:
    rows = np.array(values, kind).view(np.uint8).reshape(len(values), -1)
    return vertices(rows, 3), len(rows), rows.shape[1]


def unfolded(x: int, y: int, one: int, most: int) -> list[int]:
    """The specification's own steps for one direction, in plain numbers."""
    u, v = x / one, y / one
    w = 1 - abs(u) - abs(v)
    if w < 0:
        u, v = u - math.copysign(-w, u), v - math.copysign(-w, v)
    long = math.sqrt(u * u + v * v + w * w)
    return [math.floor(abs(part) / long * most + 0.5) * (1 if part >= 0 else -1) for part in (u, v, w)]


@pytest.mark.parametrize(("kind", "most", "one"), [("i1", 127, 127), ("i1", 127, 63), ("<i2", 32767, 32767)])
def test_directions_folded_onto_an_octahedron(kind: str, most: int, one: int) -> None:
    """The axes are by hand; what lies between follows the specification's steps. The fourth part stays."""
    folded = [[one, 0], [-one, 0], [0, one], [0, -one], [0, 0], [one, one], [-one, -one], [one, -one], [-one, one]]
    axes = [[most, 0, 0], [-most, 0, 0], [0, most, 0], [0, -most, 0], [0, 0, most], *[[0, 0, -most]] * 4]
    between = [[one * 3 // 4, -one // 3], [-one // 5, one * 7 // 8], [one * 9 // 10, one // 2], [-one // 2, -one // 4]]
    stored = [[*each, one, i - 6] for i, each in enumerate(folded + between)]
    with np.errstate(all="raise"):
        found = decoded(*_as_asked(stored, kind), "OCTAHEDRAL").view(kind)
    wanted = axes + [unfolded(*each, one, most) for each in between]
    assert found[:, :3].tolist() == wanted
    assert found[:, 3].tolist() == [row[3] for row in stored]


def _as_asked(stored: list[list[int]], kind: str) -> tuple[bytes, str, int, int]:
    stream, count, stride = rows_of(stored, kind)
    return stream, "ATTRIBUTES", count, stride


def test_directions_are_rounded_as_the_specification_has_it() -> None:
    chance = np.random.default_rng(5)
    stored = [[*each, 32767, 0] for each in chance.integers(-32767, 32768, (4000, 2)).tolist()]
    found = decoded(*_as_asked(stored, "<i2"), "OCTAHEDRAL").view("<i2")
    assert found[:, :3].tolist() == [unfolded(x, y, 32767, 32767) for x, y, *_ in stored]


def test_directions_have_four_or_eight_bytes() -> None:
    stream = vertices(np.ones((2, 12), np.uint8), 3)
    with pytest.raises((ValueError, LookupError)):
        decoded(stream, "ATTRIBUTES", 2, 12, "OCTAHEDRAL")
    with pytest.raises(LookupError):
        decoded(stream, "ATTRIBUTES", 2, 12, "COLOR")


@pytest.mark.parametrize(
    ("power", "number", "value"),
    [(0, 0, 0.0), (0, 5, 5.0), (3, -7, -56.0), (-10, 1024, 1.0), (-24, 2**23 - 1, 0.49999994), (-100, -(2**23), 0.0)],
)
def test_numbers_of_a_power_of_two(power: int, number: int, value: float) -> None:
    """value = number x 2^power, from 8 and 24 bits, both signed."""
    word = (power & 0xFF) << 24 | number & 0xFFFFFF
    stream = vertices(np.array([[word]], "<u4").view(np.uint8), 3)
    (found,) = decoded(stream, "ATTRIBUTES", 1, 4, "EXPONENTIAL").view("<f4").ravel().tolist()
    assert found == pytest.approx(number * 2.0**power, rel=1e-7, abs=0.0)
    assert found == pytest.approx(value, rel=1e-6, abs=1e-20)
