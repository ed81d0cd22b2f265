"""One server of children that fail, for all tests of faults."""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import nullcontext

import pytest

from halting import Doomed


@pytest.fixture(scope="session")
def doomed(tmp_path_factory: pytest.TempPathFactory, request: pytest.FixtureRequest) -> Iterator[Doomed]:
    made = Doomed(tmp_path_factory.mktemp("doomed"))
    yield made
    made.end()
    if "MOLDING_KILLS" in os.environ:
        told = ", ".join(f"{count} of {job}" for job, count in made.killed.most_common())
        capture = request.config.pluginmanager.getplugin("capturemanager")
        with capture.global_and_fixture_disabled() if capture else nullcontext():
            request.config.get_terminal_writer().line(f"\n{made.killed.total()} killed: {told}")
