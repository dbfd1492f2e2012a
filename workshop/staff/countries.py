"""What usually follows from the country a shop is in: its paper, and what tax and tax number are called. No Django.

The papers are Unicode CLDR’s. The names are common practice, no published source; an owner calls the tax what they
like.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

# Territories on US Letter, as Unicode CLDR has them (paperSize in its measurement data).
_LETTER = {"BZ", "CA", "CL", "CO", "CR", "GT", "MX", "NI", "PA", "PH", "PR", "SV", "US", "VE"}


@dataclass(frozen=True)
class TaxNames:
    """What the tax on a sale is called in English, and the number that an invoice has to name."""

    tax: str
    number: str


_ANYWHERE = TaxNames("VAT", "Tax number")
_VALUE_ADDED = TaxNames("VAT", "VAT number")
TAX_NAMES: Mapping[str, TaxNames] = {
    # Where the number on an invoice is that of its value added tax. Not Germany: there it may be another one.
    **dict.fromkeys(
        (
            *("AT", "BE", "BG", "CY", "CZ", "DK", "EE", "ES", "FI", "FR", "GB", "GR", "HR", "HU", "IE", "IT"),
            *("LT", "LU", "LV", "MT", "NL", "NO", "PL", "PT", "RO", "SE", "SI", "SK", "ZA"),
        ),
        _VALUE_ADDED,
    ),
    "AU": TaxNames("GST", "ABN"),
    "CA": TaxNames("GST/HST", "GST/HST number"),
    "IN": TaxNames("GST", "GSTIN"),
    "JP": TaxNames("Consumption tax", "Tax number"),
    "MY": TaxNames("SST", "SST number"),
    "NZ": TaxNames("GST", "GST number"),
    "SG": TaxNames("GST", "GST registration number"),
    "US": TaxNames("Sales tax", "Tax number"),
}


def usual_paper(country: str) -> str:
    """The paper of a country (ISO 3166-1, two letters), as in `Shop.Paper`; A4 where none is said."""
    return "Letter" if country in _LETTER else "A4"


def usual_tax_name(country: str) -> str:
    """What the tax on a sale is called in a country; “VAT” where that is not known."""
    return TAX_NAMES.get(country, _ANYWHERE).tax


def tax_number_name(country: str) -> str:
    """What the number on a receipt is called in a country; “Tax number” where that is not known."""
    return TAX_NAMES.get(country, _ANYWHERE).number
