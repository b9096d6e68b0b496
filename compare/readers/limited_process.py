"""A process of its own for reading what comes from anybody, with limits of time and memory.

The process sets its own limits before it touches the file, which is safe in servers of many threads.
Limits of memory and processor time need the ``resource`` module: on Windows there is only the limit
of the clock.
"""

from __future__ import annotations

import contextlib
import json
import math
import os
import signal
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any, NamedTuple

from compare.errors import FileError

_BOOT = (
    "import importlib, json, sys; job = json.load(sys.stdin); sys.path[:] = job['sys_path']; "
    "importlib.import_module(job['module']).serve(job)"
)
_ENVIRONMENT = ("PATH", "HOME", "TMPDIR", "TEMP", "TMP", "LANG", "SYSTEMROOT", "USERPROFILE", "VIRTUAL_ENV")
_ENVIRONMENT_STARTS = ("PYTHON", "LC_", "LD_", "DYLD_")
"""What a reader needs of the environment; a server's secrets stay with the server."""

_MAX_FILE = 300_000_000
"""Bytes that a process may write into one file; a drawing of two million pieces takes 162 million."""

_OUT_OF_MEMORY = 70
"""Exit code of a process that ran into its limit of memory."""

TRY_LATER = "try again in a moment"


class Remedies(NamedTuple):
    """What to do where reading a file takes too much memory or time, or breaks the reader."""

    memory: str
    time: str
    broken: str


def run_limited(
    module: str, job: dict[str, Any], *, seconds: float, megabytes: float, where: str, remedies: Remedies
) -> None:
    """Let a module's ``serve(job)`` do a job in a process of its own, and turn any bad end into an error.

    Parameters
    ----------
    module : str
        Module whose ``serve`` calls :func:`serve_limited`.
    job : dict
        Plain data; ``folder`` is where the answer is left.
    seconds : float
        It is stopped after so long.
    megabytes : float
        Limit of its memory, the interpreter's own included (Linux and macOS only) [MB].
    where : str
        Name of the file, for messages.
    remedies : Remedies
        What to do about each bad end.

    Raises
    ------
    FileError
        If it could not be started, was stopped, or broke down.
    """
    told = {
        **job,
        "module": module,
        "sys_path": [str(Path(place).absolute()) for place in sys.path],
        "seconds": math.ceil(seconds),
        "bytes": int(megabytes * 1_000_000),
    }
    kept = {
        name: text for name, text in os.environ.items() if name in _ENVIRONMENT or name.startswith(_ENVIRONMENT_STARTS)
    }
    try:
        # -P: no module of the current folder is taken for one of the library
        process = subprocess.Popen(  # noqa: S603 - our own interpreter, with a text of our own
            [sys.executable or "python", "-P", "-c", _BOOT],
            stdin=subprocess.PIPE,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
            cwd=job["folder"],
            env={**kept, "OPENBLAS_NUM_THREADS": "1", "OMP_NUM_THREADS": "1"},
        )
    except OSError as error:
        raise FileError(
            f"no process for reading it can be started ({error.strerror})", where=where, remedy=TRY_LATER
        ) from None
    too_long = FileError(f"reading it takes more than {seconds:g} s", where=where, remedy=remedies.time)
    with process:
        try:
            process.communicate(json.dumps(told).encode(), timeout=seconds)
        except subprocess.TimeoutExpired:
            raise too_long from None
        finally:
            process.kill()
    code = process.returncode
    if code == _OUT_OF_MEMORY:
        what = f"reading it takes more than {megabytes:g} MB of memory"
        raise FileError(what, where=where, remedy=remedies.memory)
    if code == -getattr(signal, "SIGXCPU", math.inf):
        raise too_long
    if code != 0:
        ended = f"signal {-code}" if code < 0 else f"exit code {code}"
        raise FileError(f"the reader broke down on it ({ended})", where=where, remedy=remedies.broken)


def serve_limited(job: dict[str, Any], work: Callable[[dict[str, Any]], None]) -> None:
    """Do a job within its limits, in the process that was started for it; ends the process."""
    code = 0
    try:
        _limit(job["seconds"], job["bytes"])
        work(job)
    except MemoryError:
        code = _OUT_OF_MEMORY
    # what a library leaves to do at the end is not waited for
    os._exit(code)


def _limit(seconds: int, size: int) -> None:
    """Set limits for this process, where the system has them."""
    if sys.platform == "win32":
        return
    import resource  # noqa: PLC0415 - not there on Windows

    for what, soft, hard in (
        (resource.RLIMIT_AS, size, size),
        (resource.RLIMIT_CPU, seconds, seconds + 1),
        (resource.RLIMIT_FSIZE, _MAX_FILE, _MAX_FILE),
        (resource.RLIMIT_CORE, 0, 0),
    ):
        with contextlib.suppress(ValueError, OSError):  # a lower limit is set already, or there is none
            resource.setrlimit(what, (soft, hard))
