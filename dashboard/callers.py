"""Who calls, and who has failed too often lately."""

from __future__ import annotations

import ipaddress
import threading
import time
from collections import OrderedDict
from collections.abc import Callable

from flask import request


def caller() -> str:
    """Return what stands for one caller: the address, of IPv6 the network that one line gets."""
    try:
        address = ipaddress.ip_address(request.remote_addr or "")
    except ValueError:
        return "unknown"
    if isinstance(address, ipaddress.IPv6Address):
        if address.ipv4_mapped:
            return str(address.ipv4_mapped)
        return str(ipaddress.ip_network(f"{address}/64", strict=False))
    return str(address)


class Failures:
    """Counts failures of callers within a span of time, in memory that does not grow.

    Parameters
    ----------
    most : int
        Failures of one caller within a span; who has so many is refused until the span ends.
    seconds : float
        Length of a span, which begins with the first failure.
    callers : int
        Callers remembered; beyond them, the one whose span began first is forgotten.
    clock : callable
        Tells the time [s].
    """

    def __init__(
        self, most: int, seconds: float, *, callers: int = 10_000, clock: Callable[[], float] = time.monotonic
    ) -> None:
        self._most, self._seconds, self._callers, self._clock = most, seconds, callers, clock
        self._spans: OrderedDict[str, tuple[float, int]] = OrderedDict()
        self._lock = threading.Lock()

    def wait(self, who: str) -> float:
        """Return how long a caller is still refused [s]; 0 if not at all."""
        with self._lock:
            began, count = self._spans.get(who, (0.0, 0))
        return max(began + self._seconds - self._clock(), 0.0) if count >= self._most else 0.0

    def add(self, who: str) -> bool:
        """Count a failure, and say whether the caller is refused from now on."""
        now = self._clock()
        with self._lock:
            began, count = self._spans.get(who, (now, 0))
            if now - began >= self._seconds:
                began, count = now, 0
                del self._spans[who]
            self._spans[who] = (began, count + 1)
            while len(self._spans) > self._callers:
                self._spans.popitem(last=False)
        return count + 1 == self._most
