"""What usually follows from the country a shop is in: its paper, and what its tax number is called. No Django."""

from __future__ import annotations

# Territories on US Letter, as Unicode CLDR has them (paperSize in its measurement data).
_LETTER = {"BZ", "CA", "CL", "CO", "CR", "GT", "MX", "NI", "PA", "PH", "PR", "SV", "US", "VE"}
# Where the number on an invoice is that of its value added tax. Not Germany: there it may be another one.
_VAT = {
    *("AT", "BE", "BG", "CY", "CZ", "DK", "EE", "ES", "FI", "FR", "GB", "GR", "HR", "HU", "IE", "IT"),
    *("LT", "LU", "LV", "MT", "NL", "NO", "PL", "PT", "RO", "SE", "SI", "SK", "ZA"),
}
_NAMES = {"AU": "ABN", "CA": "GST/HST number", "IN": "GSTIN", "NZ": "GST number", "SG": "GST registration number"}


def usual_paper(country: str) -> str:
    """The paper of a country (ISO 3166-1, two letters), as in `Shop.Paper`; A4 where none is said."""
    return "Letter" if country in _LETTER else "A4"


def tax_number_name(country: str) -> str:
    """What the number on a receipt is called in a country; “Tax number” where that is not known."""
    return _NAMES.get(country, "VAT number" if country in _VAT else "Tax number")
