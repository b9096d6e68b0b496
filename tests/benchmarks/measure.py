"""Measuring helpers: two things in turn within one run, so that a busy machine slows both."""

from __future__ import annotations

import os
import statistics
import subprocess
import time
import tracemalloc
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

MEGABYTE = 1e6


@dataclass(frozen=True)
class Ratio:
    """Two things timed in turn.

    Attributes
    ----------
    ours, theirs : float
        Fastest of the repeats [s]: what is measured, and what it is held against.
    paired : float
        Median of the ratios of neighbouring runs, as a check on the ratio of the fastest.
    """

    ours: float
    theirs: float
    paired: float

    @property
    def value(self) -> float:
        """Fastest of ours over fastest of theirs."""
        return self.ours / self.theirs


def keep_freed_memory() -> None:
    """Let the process keep the memory it frees, as it does once it has done something large.

    The C library's allocator (glibc) hands small blocks back to the system and faults them in anew
    until one large block came and went. Without this, the same work takes up to twice as long
    before a large evaluation as after it, and a ratio depends on what was measured first.
    """
    np.empty(int(16 * MEGABYTE), dtype=np.uint8)


def in_turn(ours: Callable[[], float], theirs: Callable[[], float], repeats: int) -> Ratio:
    """Time two things in turn.

    Parameters
    ----------
    ours, theirs : callable
        Do the work once and return the seconds it took.
    repeats : int
        Rounds; one more goes before them and is not counted.
    """
    rounds = [(ours(), theirs()) for _ in range(repeats + 1)][1:]
    return Ratio(
        ours=min(a for a, _ in rounds),
        theirs=min(b for _, b in rounds),
        paired=statistics.median(a / b for a, b in rounds),
    )


def timed(work: Callable[[], object], times: int = 1) -> Callable[[], float]:
    """Return a callable that does the work a number of times and returns the seconds of all."""

    def run() -> float:
        start = time.perf_counter()
        for _ in range(times):
            work()
        return time.perf_counter() - start

    return run


def timed_command(command: Sequence[str], cache: Path) -> Callable[[], float]:
    """Return a callable that runs a command to its end and returns the seconds from start to exit.

    Parameters
    ----------
    command : sequence of str
        The command and its arguments; what it prints is thrown away.
    cache : Path
        Folder for byte code. An installed program has its byte code beside it; a checkout may be told
        not to write any, and would be compiled anew at every start.
    """
    environment = {name: text for name, text in os.environ.items() if name != "PYTHONDONTWRITEBYTECODE"}
    environment["PYTHONPYCACHEPREFIX"] = str(cache)

    def run() -> float:
        start = time.perf_counter()
        subprocess.run(command, check=True, stdout=subprocess.DEVNULL, env=environment)
        return time.perf_counter() - start

    return run


def traced_peak(work: Callable[[], object]) -> float:
    """Return the most memory that was held at once while working, beyond what there was before [MB of 10^6 bytes]."""
    tracemalloc.start()
    try:
        kept = work()  # held until the peak is read, as a caller would hold it
        peak = tracemalloc.get_traced_memory()[1]
        del kept
    finally:
        tracemalloc.stop()
    return peak / MEGABYTE
