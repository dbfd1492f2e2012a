"""What a tablet fetches when it opens the bench for the first time: little, and from the shop alone."""

from __future__ import annotations

import gzip
import re
from pathlib import Path

from django.contrib.staticfiles import finders
from django.test import Client
from django.urls import reverse

from diagnosis.models import Run
from tests.known import known
from workshop.tickets.models import Ticket

MOST_BYTES = 150_000
_FETCHED = re.compile(r'<(?:link|script|img)\b[^>]*?\b(?:href|src)="([^"]+)"')
_IN_CSS = re.compile(r'url\("?([^")]+)"?\)')
_PACKED_ALREADY = {".woff2", ".png", ".jpg"}


def test_the_first_page_of_the_bench_is_small_and_all_of_it_is_the_shops(
    bench: Client, ticket: Ticket, run: Run
) -> None:
    page = bench.get(
        reverse("bench:step", args=[ticket.number, run.pk, known(run.checklist.steps.first()).key])
    ).content
    addresses = set(_FETCHED.findall(page.decode()))
    manifest = reverse("app_manifest")  # made anew for each shop, so no file
    assert manifest in addresses
    files = {_file(address) for address in addresses - {manifest}}
    for sheet in [file for file in files if file.suffix == ".css"]:
        files |= {(sheet.parent / named).resolve() for named in _IN_CSS.findall(sheet.read_text()) if ":" not in named}
    sizes = {file.name: _sent(file) for file in files} | {
        "the page": len(gzip.compress(page)),
        "its manifest": len(gzip.compress(bench.get(manifest).content)),
    }
    assert len(sizes) > 15
    assert sum(sizes.values()) < MOST_BYTES, sorted(sizes.items(), key=lambda entry: -entry[1])


def _file(address: str) -> Path:
    assert address.startswith("/static/"), f"{address} is not the shop’s own"
    found = finders.find(re.sub(r"\.[0-9a-f]{12}(?=\.\w+$)", "", address.removeprefix("/static/")))
    assert isinstance(found, str), address
    return Path(found)


def _sent(file: Path) -> int:
    """Bytes on the way: what is not packed yet is sent with gzip, or smaller."""
    content = file.read_bytes()
    return len(content) if file.suffix in _PACKED_ALREADY else len(gzip.compress(content))
