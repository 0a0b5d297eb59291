"""Logs that show each fault and logs that nearly do, a module for each of `server/marking/faults`.

A log is a careful refraction (`tests/script.py`) of which the right eye has a stage changed.
The rules of the faults are common practice, no source.
"""

from tests.fault_logs import (
    before,
    card,
    crossing,
    duochrome,
    finishing,
    fitting,
    sphere,
    talking,
    turning,
)
from tests.fault_logs.log import Logs

_MODULES = (fitting, before, sphere, crossing, turning, finishing, duochrome, talking, card)
SHOWS: Logs = {key: logs for one in _MODULES for key, logs in one.SHOWS.items()}
NEARLY: Logs = {key: logs for one in _MODULES for key, logs in one.NEARLY.items()}
