"""How long the server waits and how much it takes: in one place, so that tests can be quick and small."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Limits:
    """Seconds, bytes and counts.

    hold: an error is kept back this long, as the file may be half-written; held: no longer than this in all, while the
    file goes on changing. quiet: no save for so long before the slower checks begin. poll: how often files are looked
    at where no events come; blind: how often where events cannot be had at all. look: how long one wait for events
    lasts. step: events are collected until none has come for this long; burst: and no longer than this.
    alive: how often an idle stream is shown to be alive. streams: the most there may be. versions: how many models are
    kept. body: the most bytes of a request; head: of what stands before its body; slow: how long either may take to
    arrive. connections: the most there may be. waiting: the most calls in line.
    """

    hold: float = 0.15
    held: float = 1.0
    quiet: float = 0.4
    poll: float = 2.0
    blind: float = 0.5
    look: float = 0.2
    step: float = 0.005
    burst: float = 0.05
    alive: float = 15.0
    streams: int = 16
    versions: int = 2
    body: int = 65_536
    head: int = 65_536
    slow: float = 5.0
    connections: int = 128
    waiting: int = 32
