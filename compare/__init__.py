"""Evenrun's engine: tells whether a steel-rule die or a laser suits a job.

A job and a plant are prepared into a scenario, both routes turn it into an inventory, and money,
carbon and waste are valuations of that inventory.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from compare.assumptions import Assumption, assumption_table
    from compare.decide.break_even import BreakEven, break_evens
    from compare.decide.comparison import Comparison, compare
    from compare.decide.evaluate import Evaluation, evaluate
    from compare.errors import EvenrunError, Finding
    from compare.names import Inputs, replace
    from compare.readers.jobfile import Layer, read_file
    from compare.scenario import Scenario, prepare, vary

# names are fetched when they are first used, so that the command line starts fast
_HOME = {
    "Assumption": "compare.assumptions",
    "assumption_table": "compare.assumptions",
    "BreakEven": "compare.decide.break_even",
    "break_evens": "compare.decide.break_even",
    "Comparison": "compare.decide.comparison",
    "compare": "compare.decide.comparison",
    "Evaluation": "compare.decide.evaluate",
    "evaluate": "compare.decide.evaluate",
    "EvenrunError": "compare.errors",
    "Finding": "compare.errors",
    "Inputs": "compare.names",
    "replace": "compare.names",
    "Layer": "compare.readers.jobfile",
    "read_file": "compare.readers.jobfile",
    "Scenario": "compare.scenario",
    "prepare": "compare.scenario",
    "vary": "compare.scenario",
}

__all__ = [
    "Assumption",
    "BreakEven",
    "Comparison",
    "Evaluation",
    "EvenrunError",
    "Finding",
    "Inputs",
    "Layer",
    "Scenario",
    "assumption_table",
    "break_evens",
    "compare",
    "evaluate",
    "prepare",
    "read_file",
    "replace",
    "vary",
]


def __getattr__(name: str) -> Any:
    if name not in _HOME:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    return getattr(import_module(_HOME[name]), name)
