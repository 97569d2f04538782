"""Chemical for a system whose volume is known as a range: how much goes in first, and how much to bring.

The label gives litres for 100 L of system water, and it means two things. Of a cleaner it is the most: dosed for the
middle volume, a smaller system would get more than the label allows, so the dose of the smallest volume goes in first.
Of an inhibitor it is the least: an anodic inhibitor that is too thin pits steel instead of guarding it, so the dose of
the middle volume goes in first, rounded up, and its strength is tested before leaving (common practice, no source).
"""

from __future__ import annotations

import math

from models.quote.base.quote_result import Dose, LabelIs

_SLACK = 1e-9


def dose(
    litres_per_100_l: float, volume_l: tuple[float, float, float], pack_l: float, *, label_is: LabelIs = "most"
) -> Dose:
    """The label's dose for the low, middle and high volume [L], in containers of `pack_l` (0: by the litre).

    `label_is` says whether the label's amount is the most (a cleaner) or the least (an inhibitor).

    >>> dose(1.0, (76.0, 110.0, 160.0), 1.0).whole_containers
    0
    >>> dose(1.0, (76.0, 110.0, 160.0), 1.0, label_is="least").whole_containers
    2
    """
    low, mid, high = (volume * litres_per_100_l / 100 for volume in volume_l)
    first = low if label_is == "most" else mid
    if pack_l <= 0:
        return Dose(low, mid, high, label_is, first, 0.0, None, None, None)
    up, down = (math.ceil(mid / pack_l - _SLACK), math.floor(low / pack_l + _SLACK))
    return Dose(
        low_l=low,
        mid_l=mid,
        high_l=high,
        label_is=label_is,
        first_l=first,
        pack_l=pack_l,
        containers_used=up,
        containers_to_bring=math.ceil(high / pack_l - _SLACK),
        whole_containers=down if label_is == "most" else up,
    )
