"""One-time codes of an authenticator app (RFC 6238: SHA-1, 30 seconds, six digits), computed by pyotp."""

from __future__ import annotations

import re

import pyotp

STEP_S = 30
DIGITS = 6
STEPS_OFF = 1
"""How far a phone's clock may be off: one step before and one after (RFC 6238, 5.2 advises no more)."""


def new_secret() -> str:
    """160 random bits in base 32, as RFC 4226 recommends."""
    return pyotp.random_base32()


def step_at(at_s: float) -> int:
    """The number of the 30-second step at a Unix time in seconds."""
    return int(at_s) // STEP_S


def code_at(secret: str, step: int, *, digits: int = DIGITS) -> str:
    """The code of a step."""
    return pyotp.TOTP(secret, digits=digits).generate_otp(step)


def matching_step(secret: str, typed: str, at_s: float) -> int | None:
    """The step whose code was typed, if it is this one or a neighbour; blanks between digits do not matter."""
    digits = re.sub(r"\s", "", typed, flags=re.ASCII)
    if not re.fullmatch(rf"[0-9]{{{DIGITS}}}", digits):
        return None
    now = step_at(at_s)
    steps = range(max(now - STEPS_OFF, 0), now + STEPS_OFF + 1)
    return next((step for step in steps if pyotp.utils.strings_equal(code_at(secret, step), digits)), None)


def address_of(secret: str, *, account: str, issuer: str) -> str:
    """What an authenticator app reads from the code on the screen."""
    return pyotp.TOTP(secret).provisioning_uri(name=account, issuer_name=issuer)
