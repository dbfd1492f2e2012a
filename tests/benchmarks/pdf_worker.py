"""A worker as the server starts it, which opens some pages and then issues documents: its memory after each.

`python -m tests.benchmarks.pdf_worker TICKET COUNT` on the database of the environment writes a line of bytes for each.
"""

from __future__ import annotations

import os
import sys
from itertools import cycle, islice

import psutil

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "workshop.settings")


def main(number: int, count: int) -> None:
    import workshop.wsgi  # noqa: F401  # all that a server's worker loads
    from tests.benchmarks.floor import Browser
    from workshop.documents.issuing import issue
    from workshop.staff.models import User
    from workshop.tickets.models import Ticket

    clerk = User.objects.get(username="counter")
    ticket = Ticket.objects.get(shop=clerk.shop_id, number=number)
    browser = Browser(clerk)
    for path in ("/counter/", "/bench/", f"/counter/tickets/{number}/", f"/bench/{number}/", "/stores/"):
        browser.get(path)
    process = psutil.Process()
    for kind in islice(cycle(("label", "work_order", "estimate", "customer_report")), count):
        issue(ticket=ticket, kind=kind, by=clerk, ticket_address=f"https://shop.example/bench/{number}/")
        print(process.memory_info().rss, flush=True)


if __name__ == "__main__":
    main(int(sys.argv[1]), int(sys.argv[2]))
