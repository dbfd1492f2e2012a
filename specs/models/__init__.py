"""What is true of a fork or shock whoever owns it."""

from specs.models.mended import MendedValue
from specs.models.oils import Oil
from specs.models.part_numbers import PartNumber, StandIn
from specs.models.parts import KitLine, Part, ServiceKit
from specs.models.suspension import SuspensionModel
from specs.models.values import SpecValue

__all__ = [
    "KitLine",
    "MendedValue",
    "Oil",
    "Part",
    "PartNumber",
    "ServiceKit",
    "SpecValue",
    "StandIn",
    "SuspensionModel",
]
