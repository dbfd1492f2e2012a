"""What a fork or shock can be found by, folded into one line."""

from __future__ import annotations

import re

from workshop.suspension.models import SuspensionUnit
from workshop.suspension.unit_fields import SEARCHED
from workshop.web.folding import fold


def without_separators(text: str) -> str:
    """A serial number as it is found however it was written: “SN-00 12” becomes “sn0012”."""
    return re.sub(r"[\W_]", "", fold(text))


def unit_search_text(unit: SuspensionUnit) -> str:
    noted = (getattr(unit, field.name) for field in SEARCHED)
    return fold(unit.title, unit.described_as, *noted, without_separators(unit.serial))
