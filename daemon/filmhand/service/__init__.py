"""The service of a station: what `serve`, `once` and `status` do."""

from filmhand.service.station import Station
from filmhand.service.status import default_state

__all__ = ["Station", "default_state"]
