"""The demo's sucked-down fork, answered step by step through HTTP as a tablet does it."""

from __future__ import annotations

import uuid

from django.test import Client
from django.urls import reverse

from diagnosis.models import Run
from tests.bench_runs import HTMX
from tests.squeezed import squeezed
from workshop.tickets.models import Ticket

TO_THE_PROOF: tuple[tuple[str, str, dict[str, str]], ...] = (
    ("inspect-wipers", "ruled_out", {}),
    ("free-the-wipers", "ruled_out", {}),
    ("bleed-legs", "ruled_out", {}),
    ("wheel-out", "done", {}),
    ("free-port-by-hand", "cant_tell", {}),
    ("free-port-at-maximum", "found:port-blocked:cause", {"pressure_reached": "165 psi"}),
    ("fill-in-stages", "done", {}),
    ("refit-brake-wheel", "done", {}),
    (
        "prove-pressure",
        "proved",
        {
            "pressure_set": "82 psi",
            "pressure_recheck": "82 psi",
            "reason-wait-not-kept": "Shown in a test",
            "reason-pressure_set": "The rider wants 82 psi",
        },
    ),
    ("prove-rest", "proved", {"rest_travel": "2 mm"}),
)
"""Freed at the maximum, filled, put together and proved."""


def the_run() -> Run:
    return Ticket.objects.get(number=1).ticket_runs.get().run


def sent_text(client: Client, key: str, outcome: str, *, refused: bool = False, **typed: str) -> str:
    """Answer a step and give what comes back; fails where it is not taken, or taken though `refused`."""
    return _sent(client, key, outcome, typed, refused=refused)


def _sent(client: Client, key: str, outcome: str, typed: dict[str, str], *, refused: bool = False) -> str:
    run = the_run()
    sent = {"version": str(run.version), "client_id": str(uuid.uuid4()), "outcome": outcome, "note": ""}
    sent |= {name if name.startswith("reason-") else f"reading-{name}": text for name, text in typed.items()}
    response = client.post(reverse("bench:answer", args=[1, run.pk, key]), sent, **HTMX)
    text = squeezed(response.content.decode())
    assert (response.status_code == 422) is refused, f"{key}: {response.status_code} {text[:400]}"
    return text


def send(client: Client, key: str, outcome: str, **typed: str) -> None:
    """Answer a step that is taken."""
    _sent(client, key, outcome, typed)


def through_to_the_proof(client: Client, *, last: str = "proved") -> None:
    """From where the demo left it to a rest that is proved, or answered otherwise at `last`."""
    for key, outcome, typed in TO_THE_PROOF:
        _sent(client, key, last if key == "prove-rest" else outcome, typed)
