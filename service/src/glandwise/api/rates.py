"""How much work one caller may ask for: a bound in milliseconds of one core for each second, with room for a burst.

A caller is let in as long as what was asked for before has been worked off but for a burst; what is asked for is then charged, at
first with the estimate of its operation, and with what it took beyond that when it is done. So whoever asks for little is never held
up, and whoever has asked for much waits, for as long as the answer says.
"""

from __future__ import annotations

import math
import threading
import time
from collections import OrderedDict
from collections.abc import Callable
from functools import lru_cache
from ipaddress import IPv6Address, ip_address, ip_network
from typing import Final, TypeVar

from glandwise.api.problems import ProblemError
from glandwise.operations import OPERATIONS

T = TypeVar("T")

MOST_CALLERS: Final = 10_000
"""Callers that are remembered; those who have asked for nothing for the longest time are forgotten first."""
READING: Final = 1.0
"""Milliseconds that anything but a calculation takes, about."""
_COSTS: Final = {**{row.path: row.cost for row in OPERATIONS.values()}, "/v1/rule-set-reloads": 1000.0}


def cost_of(path: str, method: str = "POST") -> float:
    """Return the estimate for a path, in milliseconds of one core; whoever asks for its methods only is charged as a reader."""
    return _COSTS.get(path, READING) if method == "POST" else READING


@lru_cache(maxsize=4096)
def who_by_address(address: str) -> str:
    """Return the name by which a caller without a token is told apart; of IPv6, a network is one caller."""
    try:
        found = ip_address(address.partition("%")[0])
    except ValueError:
        return address
    return str(ip_network((found, 64), strict=False)) if isinstance(found, IPv6Address) else address


class Bill:
    """What one request is charged with."""

    __slots__ = ("_rates", "_who", "charged")

    def __init__(self, rates: Rates | None, who: str, charged: float) -> None:
        self._rates, self._who, self.charged = rates, who, charged

    def add(self, took: float) -> None:
        """Charge milliseconds that were worked, beyond what is charged already."""
        beyond = took - self.charged
        self.charged = max(0.0, -beyond)  # what is left of the estimate counts for the next part
        if beyond > 0.0 and self._rates is not None:
            self._rates.charge(self._who, beyond)

    def counted(self, function: Callable[..., T], *arguments: object) -> T:
        """Return ``function(*arguments)`` and charge what it took of this thread."""
        begin = time.thread_time()
        try:
            return function(*arguments)
        finally:
            self.add((time.thread_time() - begin) * 1e3)


class Rates:
    """The bound of every caller: ``rate`` milliseconds a second, ``burst`` milliseconds at once."""

    def __init__(self, rate: float, burst: float, clock: Callable[[], float] = time.monotonic) -> None:
        self.rate, self.burst, self._clock = rate, burst, clock
        self._lock = threading.Lock()
        self._until: OrderedDict[str, float] = OrderedDict()
        """When what a caller has asked for would be worked off at the rate."""

    def bill(self, who: str, cost: float) -> Bill:
        """Let a request in and charge its estimate. Raises :class:`ProblemError` where the caller has to wait."""
        with self._lock:
            now = self._clock()
            wait = self._until.get(who, now) - now - self.burst / self.rate
            if wait <= 0.0:
                self._charge(who, cost, now)
                return Bill(self, who, cost)
        seconds = max(1, math.ceil(wait))
        detail = (
            f"a caller may ask for {self.rate:g} ms of work a second, and {self.burst:g} ms at once; "
            f"ask again in {seconds} s"
        )
        raise ProblemError("too-many-requests", detail, headers={"Retry-After": str(seconds)})

    def charge(self, who: str, cost: float) -> None:
        """Charge a caller with milliseconds of work."""
        with self._lock:
            self._charge(who, cost, self._clock())

    def _charge(self, who: str, cost: float, now: float) -> None:
        self._until[who] = max(self._until.get(who, now), now) + cost / self.rate
        self._until.move_to_end(who)
        if len(self._until) > MOST_CALLERS:
            self._until.popitem(last=False)
