"""`other_debris`: strainer and machine base give much that no magnet holds: sand, cement, scale.

Turbidity is no sign of it: a gram of sand of 0.3 mm clouds the water as 0.13 g of magnetite of 20 µm does (1 / (density
× diameter)). What tells is the scale, and `flow_falls` once the strainer is filling.
"""

from __future__ import annotations

from models.catch.records.job import JobCatch
from pipeline.contract.findings import Finding

MUCH_G, MUCH_SHARE = 500.0, 0.6
"""Dry, from strainer and base so far; and that against the magnet's catch so far. What no one tried with a magnet
counts, and some of that is magnetite that went past it: a few parts in a hundred of the magnet's catch."""


def warn(job: JobCatch, now: float) -> Finding | None:
    """Statistic: dry mass from strainer and base that sticks to no magnet or was not tried, over `MUCH_G` and over
    `MUCH_SHARE` of the magnet's."""
    other = [catch for catch in job.catches if not catch.is_magnetic]
    found_g, magnet_g = (sum(catch.dry_g for catch in some) for some in (other, job.magnet_catches()))
    if found_g < max(MUCH_G, MUCH_SHARE * magnet_g):
        return None
    return Finding(
        "other_debris",
        f"Strainer and machine base have given {found_g:.0f} g that no magnet holds, beside {magnet_g:.0f} g from the "
        f"magnet (told from {MUCH_G:.0f} g and {100 * MUCH_SHARE:.0f} % on): sand, cement or scale. Check first, by a "
        "magnet on the dried catch, that it is not magnetite; then empty strainer and base often, watch the flow, and "
        "look into the strainer at the heat source before it is left.",
        {"other_g": found_g, "magnet_g": magnet_g, "threshold_g": MUCH_G, "threshold_share": MUCH_SHARE},
    )
