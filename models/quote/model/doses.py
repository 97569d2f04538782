"""Chemical for a system whose volume is known as a range: how much to bring, and how much is surely within the label.

The label gives litres for 100 L of system water. Dosed for the middle volume, a smaller system would get more than its
label allows; so only the dose of the smallest volume goes in unmeasured, and the rest follows a test of the water.
"""

from __future__ import annotations

import math

from models.quote.base.quote_result import Dose

_SLACK = 1e-9


def dose(litres_per_100_l: float, volume_l: tuple[float, float, float], pack_l: float) -> Dose:
    """The label's dose for the low, middle and high volume [L], in containers of `pack_l` (0: by the litre).

    >>> dose(1.0, (76.0, 110.0, 160.0), 1.0)
    Dose(low_l=0.76, mid_l=1.1, high_l=1.6, pack_l=1.0, containers_used=2, containers_to_bring=2, whole_containers=0)
    """
    low, mid, high = (volume * litres_per_100_l / 100 for volume in volume_l)
    if pack_l <= 0:
        return Dose(low, mid, high, 0.0, None, None, None)
    return Dose(
        low_l=low,
        mid_l=mid,
        high_l=high,
        pack_l=pack_l,
        containers_used=math.ceil(mid / pack_l - _SLACK),
        containers_to_bring=math.ceil(high / pack_l - _SLACK),
        whole_containers=math.floor(low / pack_l + _SLACK),
    )
