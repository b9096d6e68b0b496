"""Emission factors: the table, the factor set, and the guard that keeps unlike factors apart."""

from __future__ import annotations

import tomllib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from functools import lru_cache
from types import MappingProxyType
from typing import Any, Literal

from pydantic import BaseModel, ConfigDict, field_validator

from compare.data_files import data_folder, read_table
from compare.errors import FactorError, unknown_name
from compare.spread import pedigree_gsd2

ROLES = (
    "board_kg",
    "kwh",
    "die_board_kg",
    "steel_kg",
    "rubber_kg",
    "plastic_kg",
    "freight_tkm",
    "waste_board_kg",
    "kerf_biogenic_kg",
)
"""What a calculation needs a factor for, as in ``factors.<role>``."""

_UNITS = {"kwh": "kg CO2e/kWh", "freight_tkm": "kg CO2e/t.km", "kerf_biogenic_kg": "kg CO2 (biogenic)/kg board"}


class Factor(BaseModel):
    """One row of the factor table.

    Attributes
    ----------
    key, name : str
        Stable key and plain name.
    value : float
        Value [unit].
    unit : str
        kg CO2e per unit of the resource; physical constants have units of their own.
    low, high : float or None
        Published range, where there is one.
    region, year, family : str
        Where, when and in whose series.
    treatment : str
        How biogenic carbon is treated: gross, net, fossil only, biogenic only.
    covers : str
        A resource, finished packaging, or a physical constant.
    boundary, source, licence, status : str
        Boundary, where the value is from, under which terms, and how it was seen.
    """

    model_config = ConfigDict(frozen=True)
    key: str
    name: str
    value: float
    unit: str
    low: float | None
    high: float | None
    region: str
    year: str
    family: str
    treatment: Literal["gross", "net", "fossil only", "biogenic only", "not a factor"]
    covers: Literal["resource", "finished packaging", "physical constant"]
    boundary: str
    source: str
    licence: str
    status: Literal["published", "common practice", "from memory"]

    @field_validator("low", "high", mode="before")
    @classmethod
    def _empty_is_none(cls, text: str) -> str | None:
        return text or None


@dataclass(frozen=True)
class FactorUse:
    """The factor that a calculation uses for one role.

    Attributes
    ----------
    value : float
        Sum of the factors named [kg CO2e per unit].
    keys : tuple of str
        Rows of the factor table; empty for a number of the plant's own.
    label : str
        Publisher and year, or where the number was given.
    proxy : str
        What stands in for what, if anything.
    """

    value: float
    keys: tuple[str, ...]
    label: str
    proxy: str = ""


@lru_cache(maxsize=1)
def factors() -> Mapping[str, Factor]:
    """Return the factor table by key."""
    return MappingProxyType({row["key"]: Factor.model_validate(row) for row in read_table("factors.csv")})


@lru_cache(maxsize=1)
def factor_sets() -> Mapping[str, Mapping[str, Any]]:
    """Return the factor sets by name."""
    return MappingProxyType(tomllib.loads((data_folder() / "factor_sets.toml").read_text(encoding="utf-8")))


def factor_set(name: str) -> Mapping[str, Any]:
    """Return one factor set.

    Raises
    ------
    UnknownNameError
        If there is no such set; the message lists what there is.
    """
    if name not in factor_sets():
        raise unknown_name(name, factor_sets(), where="factors.set", what="factor set")
    return factor_sets()[name]


@lru_cache(maxsize=16)
def countries(set_name: str = "uk2025") -> Mapping[str, str]:
    """Return the regions a factor set has electricity for: code to key.

    The series of a set are ranked; the first that knows a region stands.
    """
    regions: dict[str, str] = {}
    for family in factor_set(set_name)["electricity"]:
        for factor in factors().values():
            if factor.family == family and factor.unit == "kg CO2e/kWh" and factor.region not in regions:
                regions[factor.region] = factor.key
    return MappingProxyType(regions)


def grid_key(country: str, set_name: str) -> str:
    """Return the key of a country's electricity.

    Raises
    ------
    FactorError
        If the country is unknown; the message lists what there is. Nothing stands in for it.
    """
    known = countries(set_name)
    key = known.get(country.strip().upper())
    if key is None:
        raise FactorError(
            f"there is no electricity factor for '{country}'",
            where="plant.country",
            remedy=f"give one of {', '.join(sorted(known))}, or set factors.kwh to your supplier's value",
        )
    return key


@lru_cache(maxsize=512)
def from_keys(role: str, text: str, *, where: str) -> FactorUse:
    """Sum the factors named by keys joined with ``+``.

    Raises
    ------
    UnknownNameError
        If a key is unknown.
    FactorError
        If a unit does not fit the role.
    """
    table = factors()
    rows = []
    for key in (part.strip() for part in text.split("+")):
        if key not in table:
            raise unknown_name(key, table, where=where, what="emission factor")
        rows.append(table[key])
    unit = _UNITS.get(role, "kg CO2e/kg")
    for row in rows:
        if row.unit != unit:
            raise FactorError(
                f"{row.key} is in {row.unit}, not in {unit}", where=where, remedy=f"choose a factor in {unit}"
            )
    label = ", ".join(dict.fromkeys(f"{r.family} {r.year}".strip() for r in rows))
    return FactorUse(value=sum(r.value for r in rows), keys=tuple(r.key for r in rows), label=label)


def guard(uses: Mapping[str, FactorUse]) -> None:
    """Refuse factors that may not stand in one result.

    Parameters
    ----------
    uses : mapping
        Role to factor used.

    Raises
    ------
    FactorError
        If a factor is net of biogenic removals or of fossil carbon only among gross ones, if it
        covers finished packaging (its converting would count twice), if a biogenic factor stands
        in the sum, or if rows of one publisher are of different years.
    """
    table = factors()
    years: dict[str, dict[str, str]] = {}
    for role, use in uses.items():
        where = f"factors.{role}"
        for row in (table[key] for key in use.keys):
            if row.covers == "finished packaging":
                raise FactorError(
                    f"{row.key} covers finished packaging, so converting would count twice",
                    where=where,
                    remedy="choose a factor of the material alone",
                )
            wanted = "biogenic only" if role == "kerf_biogenic_kg" else "gross"
            if row.treatment != wanted:
                raise FactorError(
                    f"{row.key} is {row.treatment} and the others are {wanted}; these can't be summed",
                    where=where,
                    remedy=f"choose a {wanted} factor",
                )
            if row.year and row.family != "physics":
                years.setdefault(row.family, {})[row.year] = row.key
    for family, keys in years.items():
        if len(keys) > 1:
            raise FactorError(
                f"{family} factors of {' and '.join(sorted(keys))} in one result ({', '.join(keys.values())})",
                where="factors",
                remedy="take all of them from one year",
            )


def choose(
    set_name: str, country: str, fibre: str, own: Mapping[str, float | str], *, where: Mapping[str, str] | None = None
) -> dict[str, FactorUse]:
    """Choose a factor for every role.

    Parameters
    ----------
    set_name : str
        Factor set.
    country : str
        Region whose electricity is used.
    fibre : {"primary", "recycled"}
        Fibre of the board.
    own : mapping
        Roles the job or plant gives itself: a number [kg CO2e per unit] or keys joined by ``+``.
    where : mapping, optional
        Where each of these was given, for labels and messages.

    Returns
    -------
    dict
        Role to factor, checked by :func:`guard`.
    """
    chosen = factor_set(set_name)
    uses: dict[str, FactorUse] = {}
    for role in ROLES:
        place = (where or {}).get(role, f"factors.{role}")
        given = own.get(role)
        if isinstance(given, str):
            uses[role] = from_keys(role, given, where=place)
        elif given is not None:
            uses[role] = FactorUse(value=given, keys=(), label=f"own value, {place}")
        else:
            keys = grid_key(country, set_name) if role == "kwh" else chosen[role]
            if not isinstance(keys, str):
                keys = keys[fibre]
            use = from_keys(role, keys, where=f"factor set {set_name}")
            uses[role] = replace(use, proxy=chosen.get("proxies", {}).get(role, ""))
    guard(uses)
    return uses


def factor_spread(set_name: str, role: str) -> float | None:
    """Return GSD2 of a role's factor in a factor set by its pedigree; ``None`` where it is taken as known."""
    pedigree = factor_set(set_name).get("pedigrees", {}).get(role)
    return None if pedigree is None else pedigree_gsd2(pedigree["scores"], pedigree["basic"])


def publishers(uses: Iterable[FactorUse]) -> str:
    """Name the publishers and years behind a result, each once."""
    return ", ".join(dict.fromkeys(use.label for use in uses if use.label and use.label != "physics"))
