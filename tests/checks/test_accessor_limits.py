"""What a glTF accessor may reach: glTF 2.0, 3.6.2.4, asks that it lies in its view and the view in its buffer."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from preview.checks.readers import accessor_values

NUMBERS = np.arange(12, dtype="<f4")


def document(count: int, long: int, inside: int = 0, stride: int | None = None) -> dict[str, Any]:
    view: dict[str, Any] = {"buffer": 0, "byteOffset": 8, "byteLength": long}
    view |= {"byteStride": stride} if stride is not None else {}
    accessor = {"bufferView": 0, "byteOffset": inside, "componentType": 5126, "count": count, "type": "VEC2"}
    return {"accessors": [accessor], "bufferViews": [view]}


@pytest.mark.parametrize(
    ("count", "long", "inside", "stride", "expected"),
    [
        (2, 16, 0, None, [[2, 3], [4, 5]]),
        (2, 16, 8, None, None),  # 8 + 2 x 8 > 16
        (1, 16, 8, None, [[4, 5]]),
        (3, 40, 0, 16, [[2, 3], [6, 7], [10, 11]]),  # 2 x 16 + 8 = 40
        (3, 39, 0, 16, None),
        (1, 41, 0, None, None),  # 8 + 41 > 48
        (1, 40, 0, 7, None),  # steps shorter than what they step over
        (0, 0, 0, None, []),
    ],
)
def test_an_accessor_keeps_to_its_view(
    count: int, long: int, inside: int, stride: int | None, expected: list[list[float]] | None
) -> None:
    asked = document(count, long, inside, stride)
    if expected is None:
        with pytest.raises(ValueError, match=r"past its end|overlap"):
            accessor_values(asked, memoryview(NUMBERS.tobytes()), 0)
    else:
        assert accessor_values(asked, memoryview(NUMBERS.tobytes()), 0).tolist() == expected
