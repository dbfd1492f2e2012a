"""One-time codes against RFC 6238, appendix B (SHA-1), and the key's address against what authenticator apps read."""

from __future__ import annotations

import base64
from urllib.parse import parse_qs, urlsplit

import pytest

from workshop.staff.one_time_codes import address_of, code_at, matching_step, new_secret, step_at

# RFC 6238, appendix B: the shared secret is the ASCII string "12345678901234567890".
SECRET = base64.b32encode(b"12345678901234567890").decode()
VECTORS = [
    (59, "94287082"),
    (1111111109, "07081804"),
    (1111111111, "14050471"),
    (1234567890, "89005924"),
    (2000000000, "69279037"),
    (20000000000, "65353130"),
]


@pytest.mark.parametrize(("at_s", "code"), VECTORS)
def test_codes_of_the_standard(at_s: int, code: str) -> None:
    assert code_at(SECRET, step_at(at_s), digits=8) == code
    assert matching_step(SECRET, code[2:], at_s) == at_s // 30  # six digits are the last six of eight (RFC 4226, 5.3)


@pytest.mark.parametrize(("late_s", "counts"), [(-31, False), (-30, True), (0, True), (59, True), (60, False)])
def test_a_clock_may_be_one_step_off_and_no_more(late_s: int, counts: bool) -> None:
    code = code_at(SECRET, step_at(1234567890))
    found = matching_step(SECRET, code, 1234567890 + late_s)
    assert found == (step_at(1234567890) if counts else None)


@pytest.mark.parametrize("typed", ["", "12345", "1234567", "abcdef", "００５９２４", "²³⁴⁵⁶⁷", "\0" * 6, "9" * 5000])
def test_what_is_no_code_matches_nothing(typed: str) -> None:
    assert matching_step(SECRET, typed, 1234567890) is None


def test_blanks_that_an_app_shows_do_not_matter() -> None:
    assert matching_step(SECRET, " 005 924 ", 1234567890) is not None


def test_a_secret_has_160_bits_and_is_new_each_time() -> None:
    secrets = {new_secret() for _ in range(20)}
    assert len(secrets) == 20
    assert {len(base64.b32decode(secret)) for secret in secrets} == {20}


def test_the_address_says_whose_it_is_and_where() -> None:
    address = urlsplit(address_of(SECRET, account="maren", issuer="Mill Yard & Co: forks"))
    assert (address.scheme, address.netloc) == ("otpauth", "totp")
    values = parse_qs(address.query)
    assert values["secret"] == [SECRET]
    assert values["issuer"] == ["Mill Yard & Co: forks"]
