"""The label's code against ISO/IEC 18004, read back from the printed page by ZXing, an independent decoder."""

from __future__ import annotations

import shutil
import subprocess
from pathlib import Path

import pytest
import zxingcpp
from PIL import Image

from workshop.documents.qr import qr_data_uri
from workshop.documents.rendering import html_of, pdf_of
from workshop.system_packages import to_type


@pytest.mark.skipif(shutil.which("pdftoppm") is None, reason=f"No pdftoppm. As root: {to_type(['poppler-utils'])}")
@pytest.mark.parametrize("address", ["http://127.0.0.1:8000/bench/60/", "https://shop.example/bench/123456/"])
def test_code_on_the_label_opens_the_ticket(address: str, tmp_path: Path) -> None:
    label = {"title": "Label", "number": 60, "customer": "Novák", "unit": "Fork", "promised": "Thu", "booked": "Wed"}
    data = {**label, "address": address, "qr": qr_data_uri(address), "shop": {"name": "Shop"}, "data_digest": "0"}
    (tmp_path / "label.pdf").write_bytes(pdf_of(html_of("documents/label.html", data), "100×62 mm"))

    subprocess.run(
        ["pdftoppm", "-r", "150", "-png", "-singlefile", tmp_path / "label.pdf", tmp_path / "label"], check=True
    )
    found = zxingcpp.read_barcodes(Image.open(tmp_path / "label.png"))

    assert [code.text for code in found] == [address]
    assert str(found[0].format) == str(zxingcpp.BarcodeFormat.QRCode)
