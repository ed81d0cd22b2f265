"""A scene shown while it is being written: pages on this machine follow every save."""

from preview.live.job import Conflict, Job, Model
from preview.live.limits import Limits
from preview.live.server import serve
from preview.live.watching import stamp

__all__ = ["Conflict", "Job", "Limits", "Model", "serve", "stamp"]
