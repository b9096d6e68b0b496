"""Evenrun's engine: steel-rule die or laser, for this job?

A job and a plant are prepared into a scenario, both routes turn it into an inventory, and money,
carbon and waste are valuations of that inventory.
"""

from compare.assumptions import Assumption, assumptions
from compare.decide.break_even import BreakEven, break_evens
from compare.decide.comparison import Comparison, compare
from compare.decide.evaluate import Evaluation, evaluate
from compare.errors import EvenrunError, Finding
from compare.names import Inputs, replace
from compare.scenario import Scenario, prepare, vary

__all__ = [
    "Assumption",
    "BreakEven",
    "Comparison",
    "Evaluation",
    "EvenrunError",
    "Finding",
    "Inputs",
    "Scenario",
    "assumptions",
    "break_evens",
    "compare",
    "evaluate",
    "prepare",
    "replace",
    "vary",
]
