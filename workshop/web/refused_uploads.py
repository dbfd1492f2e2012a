"""Files that were refused, counted by link and by address: who sends one after the other has to wait.

Counted in the memory of each process that answers requests, and nowhere kept: an address is somebody's. With several
processes a sender may be refused that often by each.
"""

from __future__ import annotations

from dataclasses import dataclass

from django.core.cache import caches
from django.http import HttpRequest
from django.utils.translation import gettext_noop

from workshop.staff.address import throttled_address

WITHIN_S = 3600
OF_A_LINK = 8
OF_AN_ADDRESS = 40
"""More than of a link: a shop's own people may all have one address, and so may the customers in its waiting room."""
WAIT = gettext_noop("So many files were refused from here that no more are looked at for an hour.")


@dataclass(frozen=True)
class Sender:
    """Who sends files: an address, and the link they come through where it is a customer's."""

    address: str
    link: int | None = None

    @classmethod
    def of(cls, request: HttpRequest, link: int | None = None) -> Sender:
        return cls(throttled_address(request), link)

    @property
    def has_to_wait(self) -> bool:
        return any(caches["refused"].get(key, 0) >= most for key, most in self._counted().items())

    def was_refused(self) -> None:
        """Count one more. The hour begins with the first."""
        for key in self._counted():
            if not caches["refused"].add(key, 1, WITHIN_S):
                try:
                    caches["refused"].incr(key)
                except ValueError:  # its hour ended meanwhile
                    caches["refused"].add(key, 1, WITHIN_S)

    def _counted(self) -> dict[str, int]:
        counted = {f"address-{self.address}": OF_AN_ADDRESS}
        return counted if self.link is None else {f"link-{self.link}": OF_A_LINK, **counted}
