"""How sure an answer is, as plain data. The keys are a contract."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import asdict
from typing import Any

from compare.decide.quantiles import Band
from compare.decide.uncertainty import Uncertainty
from compare.decide.variance_shares import VarianceShare
from compare.present import sure_wording


def sure_record(unsure: Uncertainty, shares: Sequence[VarianceShare] | None = None) -> dict[str, Any]:
    """Return everything about an uncertainty as plain data.

    Parameters
    ----------
    unsure : Uncertainty
    shares : sequence of VarianceShare, optional
        Sobol indices, where they were asked for.

    Returns
    -------
    dict
        Described in docs/formats.md. Figures of a route that can't make the job are missing; a break-even that is
        never reached is ``None``.
    """
    along = unsure.laser_cheaper_along
    found = unsure.break_even
    return {
        "draws": unsure.draws,
        "seed": unsure.seed,
        "sureness": unsure.sureness,
        "leaning": unsure.leaning,
        "answer": " ".join(
            filter(
                None,
                (
                    sure_wording.sure_answer(unsure) if unsure.sureness else "",
                    sure_wording.how_sure(unsure),
                    sure_wording.sure_takeover(unsure),
                    sure_wording.worth_knowing(unsure),
                ),
            )
        ),
        "laser_cheaper": unsure.laser_cheaper,
        "die_cheaper": unsure.die_cheaper,
        "probability_half_width": unsure.probability_half_width if unsure.sureness else None,
        "at_quote": {
            measure: {which: quantile._asdict() for which, quantile in by_route.items()}
            for measure, by_route in unsure.at_quote.items()
        },
        "run_lengths": unsure.run_lengths.tolist(),
        "bands": {
            measure: {which: _band(band) for which, band in by_route.items()}
            for measure, by_route in unsure.bands.items()
        },
        "laser_cheaper_along": None if along is None else along.tolist(),
        "break_even": None
        if found is None
        else {
            "p10": _finite(found.p10),
            "p50": _finite(found.p50),
            "p90": _finite(found.p90),
            "never": found.never,
            "always": found.always,
            "domain": {"from": found.start, "to": found.end},
        },
        "worth_per_order": unsure.worth_per_order,
        "worth_per_year": unsure.worth_per_year,
        "measure_first": unsure.measure_first.name if unsure.measure_first else None,
        "base_difference": unsure.base_difference,
        "drivers": [asdict(driver) for driver in unsure.drivers],
        "variance_shares": None if shares is None else [share._asdict() for share in shares],
        "varied": {
            name: {"shape": s.shape, "low": s.low, "value": s.value, "high": s.high}
            for name, s in unsure.varied.spreads.items()
        },
        "taken_as_known": dict(unsure.varied.known),
        "said": list(sure_wording.what_was_varied(unsure)),
    }


def _band(band: Band) -> dict[str, list[float]]:
    return {"p10": band.p10.tolist(), "p50": band.p50.tolist(), "p90": band.p90.tolist()}


def _finite(value: float) -> float | None:
    return value if math.isfinite(value) else None
