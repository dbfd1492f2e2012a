"""QR codes (ISO/IEC 18004) as SVG, made by segno."""

from __future__ import annotations

import segno


def qr_data_uri(text: str) -> str:
    """A code with error correction M or better: a label on a fork gets oil on it."""
    uri: str = segno.make(text, error="m", boost_error=True, micro=False).svg_data_uri(scale=4, border=2)
    return uri
