"""What a set-up leaves out stays as it was in the one before."""

from collections.abc import Iterable
from functools import reduce
from typing import Any

from bridge.model.setup import Setup


def merged(earlier: Setup, later: Setup) -> Setup:
    """Return the set-up that holds when ``later`` was written on top of ``earlier``.

    Key by key, in ``[weather]``, ``[all]`` and each ``[cylinder.N]`` too; a fuel and a needle are one thing
    each and are taken whole. A key that ``later`` gives under ``[all]`` holds for every cylinder, also for
    one that had its own before.

    Args:
        earlier: what held before.
        later: what was written now; only the keys that were written count.
    """
    old = earlier.model_dump(exclude_unset=True)
    new = later.model_dump(exclude_unset=True)
    for_all = _renewed(new.get("all", {}))
    cylinders: dict[int, dict[str, Any]] = {
        number: {key: value for key, value in table.items() if key not in for_all}
        for number, table in old.get("cylinder", {}).items()
    }
    for number, table in new.get("cylinder", {}).items():
        cylinders[number] = _over(cylinders.get(number, {}), table)
    result = old | new
    for name in ("weather", "all"):
        if name in result:
            result[name] = _over(old.get(name, {}), new.get(name, {}))
    if cylinders:
        result["cylinder"] = {number: cylinders[number] for number in sorted(cylinders)}
    return Setup.model_validate(result)


def _renewed(table: dict[str, Any]) -> set[str]:
    """Return the keys whose earlier value a table ends: a new main jet ends the bore that was measured of the old."""
    return {*table, *({"main_jet_bore_mm"} if "main_jet" in table else ())}


def _over(old: dict[str, Any], new: dict[str, Any]) -> dict[str, Any]:
    return {key: value for key, value in old.items() if key not in _renewed(new)} | new


def inherited(written: Iterable[Setup]) -> Setup:
    """Return what holds after all these, oldest first."""
    return reduce(merged, written, Setup())
