"""What several processes on one disk need of each other: locks, and names for files in the making.

beside; locking
"""

from preview.disk.beside import name_beside, settle, sweep
from preview.disk.locking import CannotLockError, alone, hold

__all__ = ["CannotLockError", "alone", "hold", "name_beside", "settle", "sweep"]
