"""Issuing a work order against WeasyPrint alone on the same HTML, and the memory of a worker that issues many."""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Callable

import pytest

from tests.benchmarks.databases import as_served
from tests.benchmarks.floor import ratio
from tests.benchmarks.shop_process import ROOT
from tests.demo_ticket import sucked_down_ticket
from workshop.demo.making import make_demo
from workshop.documents import rendering
from workshop.documents.issuing import draft, issue
from workshop.staff.models import User
from workshop.tickets.models import Ticket

pytestmark = [pytest.mark.benchmark, pytest.mark.django_db(transaction=True)]
ADDRESS = "https://shop.example/bench/60/"
PDFS = 100
PDFS_FULL = 200


@pytest.fixture
def ticket() -> Ticket:
    make_demo()
    return sucked_down_ticket()


def test_work_order_against_weasyprint_alone(ticket: Ticket, ratios: Callable[[str, float], None]) -> None:
    """WeasyPrint alone has the same parsed styles and fonts, which the shop keeps between documents."""
    clerk = User.objects.get(username="counter")
    data = draft(ticket=ticket, kind="work_order", ticket_address=ADDRESS)
    html = rendering.html_of("documents/work_order.html", {**data, "data_digest": "0" * 12})

    measured = ratio(
        lambda: issue(ticket=ticket, kind="work_order", by=clerk, ticket_address=ADDRESS),
        lambda: rendering.by_weasyprint(html, rendering.PAPERS["A4"]),
        runs=5,
    )

    ratios("work order issued / WeasyPrint alone", measured)


def test_memory_of_a_worker_after_many_pdfs(ticket: Ticket, full: bool, ratios: Callable[[str, float], None]) -> None:
    """A worker of its own, without this process's test tools: against 200 MB, and the last PDFs against the first.

    Labels, work orders, estimates and reports in turn, as a shop prints them.
    """
    pdfs = PDFS_FULL if full else PDFS
    command = [sys.executable, "-m", "tests.benchmarks.pdf_worker", str(ticket.number), str(pdfs)]
    environment = as_served()
    done = subprocess.run(
        command, cwd=ROOT, env={**os.environ, **environment}, stdout=subprocess.PIPE, text=True, check=True
    )
    sizes = [int(line) for line in done.stdout.split()]

    assert len(sizes) == pdfs
    ratios(f"memory of a worker after {pdfs} PDFs / 200 MB", sizes[-1] / 200e6)
    ratios(f"memory of a worker after {pdfs} PDFs / after 20", sizes[-1] / sizes[19])
    assert sizes[-1] < 1.25 * sizes[19]
