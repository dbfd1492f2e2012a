"""Where each kind of record keeps the text it is found by. Table names are fixed: triggers and indexes name them."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class SearchSource:
    """A table `r` with its key and folded text; `owner` joins the table `o` that knows the shop, where `r` does not."""

    kind: str
    table: str
    key: str
    text: str
    owner: str = ""

    @property
    def trigrams(self) -> str:
        """Name of the index: a full-text table on SQLite, a GIN index on PostgreSQL."""
        return f"{self.table}_trigrams"

    @property
    def shop(self) -> str:
        return "o.shop_id" if self.owner else "r.shop_id"


CUSTOMER = SearchSource("customer", "workshop_customer", "id", "search_text")
UNIT = SearchSource("unit", "workshop_suspensionunit", "id", "search_text")
BIKE = SearchSource("bike", "workshop_bike", "id", "search_text", "JOIN workshop_customer o ON o.id = r.customer_id")
TICKET = SearchSource("ticket", "workshop_ticketwords", "ticket_id", "text")
# The rest of a SELECT: what is kept of a ticket in TICKET.table, on both databases.
WORDS_OF_TICKETS = """t.search_text || ' ' || c.search_text || ' ' || u.search_text FROM workshop_ticket t
    JOIN workshop_customer c ON c.id = t.customer_id JOIN workshop_suspensionunit u ON u.id = t.unit_id"""
SOURCES = (CUSTOMER, UNIT, BIKE, TICKET)
