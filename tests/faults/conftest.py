"""One server of children that fail, for all tests of faults."""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from halting import Doomed


@pytest.fixture(scope="session")
def doomed(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Doomed]:
    made = Doomed(tmp_path_factory.mktemp("doomed"))
    yield made
    made.end()
