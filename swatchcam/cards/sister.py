"""The values of one print, used for another print of the same run.

Prints of one run are alike but not the same: a little more or less of an ink, over the whole sheet or in one place.
"""

from __future__ import annotations

import math
from dataclasses import replace

from ..messages.message import flag
from .print_number import spoken
from .values import CardValues

# 1-sigma CIEDE2000 of one patch. Drawn printers whose coverages vary by up to 3 % from print to print come to 0.6 to
# 0.9; ISO 12647-2 lets solids vary by 4 CIELAB units within a run (from memory), about 2 in CIEDE2000, and other
# patches vary less. A few sheets printed one after the other are well inside that.
RUN_SPREAD = 1.0


def sister_values(values: CardValues, number: str) -> CardValues:
    """Values of a print -> those of its sister with this number, less sure by what prints of a run differ."""
    return replace(
        values,
        grade="sister",
        numbers=(number,),
        uncertainty=math.hypot(values.uncertainty, RUN_SPREAD),
        flags=(*values.flags, flag("card-of-sister", number=spoken(number), values=values.name)),
    )
