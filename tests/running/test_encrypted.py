"""The format of encrypted backups, against a decryption of its own written from its description."""

from __future__ import annotations

import hashlib
import hmac
import io
import tracemalloc
import unicodedata
from pathlib import Path

import pytest
from cryptography.hazmat.primitives.ciphers.aead import AESGCM

from workshop.running import encrypted
from workshop.running.encrypted import CHUNK, HEADER, TAG, WrongPassPhrase, decrypted, encrypt, encrypted_bytes
from workshop.running.manifest import BackupRefused

PHRASE = "four words, one of them Þóra"
LIGHT = 4  # log2 of scrypt's N: what is tried here is the layout, not how long a guess takes


def locked(content: bytes, phrase: str = PHRASE) -> bytes:
    out = io.BytesIO()
    encrypt(io.BytesIO(content), len(content), out, pass_phrase=phrase, log2_n=LIGHT)
    return out.getvalue()


def opened(content: bytes, phrase: str = PHRASE) -> bytes:
    return b"".join(decrypted(io.BytesIO(content), pass_phrase=phrase))


def by_the_description(file: bytes, phrase: str) -> bytes:
    """Decrypt by what the module's docstring says, with nothing of the module."""
    header, body = file[:91], file[91:]
    assert header[:16] == b"ENCRYPTED BACKUP"
    layout, log2_n, r, p = header[16:20]
    assert layout == 1
    salt, prefix, length = header[20:36], header[36:43], int.from_bytes(header[43:51], "big")
    words = unicodedata.normalize("NFC", phrase).encode()
    key = hashlib.scrypt(words, salt=salt, n=2**log2_n, r=r, p=p, maxmem=256 << 20, dklen=64)
    assert header[51:83] == hmac.new(key[32:], header[:51], "sha256").digest()
    assert header[83:91] == hashlib.sha256(header[:83]).digest()[:8]
    return _chunks(body, key[:32], prefix, header, length)


def _chunks(body: bytes, key: bytes, prefix: bytes, header: bytes, length: int) -> bytes:
    plain, number = b"", 0
    while body:
        chunk, body = body[: 65536 + 16], body[65536 + 16 :]
        last = b"\x00" if body else b"\x01"
        plain += AESGCM(key).decrypt(prefix + number.to_bytes(4, "big") + last, chunk, header)
        number += 1
    assert len(plain) == length
    return plain


SIZES = [0, 1, CHUNK - 1, CHUNK, CHUNK + 1, 3 * CHUNK, 3 * CHUNK + 17]


@pytest.mark.parametrize("size", SIZES)
def test_what_is_written_is_what_the_description_says(size: int) -> None:
    content = bytes(number * 7 % 251 for number in range(size))
    file = locked(content)
    assert len(file) == encrypted_bytes(size)
    assert by_the_description(file, PHRASE) == content
    assert opened(file) == content


def test_a_backup_is_written_with_the_dear_parameters(tmp_path: Path) -> None:
    out = io.BytesIO()
    encrypt(io.BytesIO(b"shop"), 4, out, pass_phrase=PHRASE)
    assert out.getvalue()[17:20] == bytes([17, 8, 1])
    assert by_the_description(out.getvalue(), PHRASE) == b"shop"


def test_two_files_of_the_same_content_have_nothing_in_common() -> None:
    one, other = locked(b"shop"), locked(b"shop")
    assert one[20:43] != other[20:43]
    assert one[HEADER:] != other[HEADER:]


def test_letters_with_accents_are_the_same_however_they_were_typed() -> None:
    file = locked(b"shop", unicodedata.normalize("NFD", PHRASE))
    assert opened(file, unicodedata.normalize("NFC", PHRASE)) == b"shop"


def test_a_wrong_pass_phrase_is_said_to_be_one() -> None:
    file = locked(b"shop")
    with pytest.raises(WrongPassPhrase, match="pass phrase is not the one"):
        opened(file, PHRASE + " ")


def test_a_file_cut_anywhere_was_cut_short() -> None:
    file = locked(bytes(3 * CHUNK))
    boundary = HEADER + 2 * (CHUNK + TAG)  # where no chunk is torn
    for length in (len(encrypted.MAGIC), HEADER - 1, HEADER, boundary - 1, boundary, boundary + 1, len(file) - 1):
        with pytest.raises(BackupRefused, match="cut short"):
            opened(file[:length])
    with pytest.raises(BackupRefused, match="behind its end"):
        opened(file + b"x")


def test_a_flipped_byte_anywhere_is_damage_and_never_a_wrong_pass_phrase() -> None:
    file = locked(bytes(CHUNK + 100))
    for place in [*range(len(encrypted.MAGIC), HEADER + 40), HEADER + CHUNK + 8, HEADER + CHUNK + TAG, len(file) - 1]:
        wrong = bytearray(file)
        wrong[place] ^= 0x01
        with pytest.raises(BackupRefused, match="damaged") as refused:
            opened(bytes(wrong))
        assert not isinstance(refused.value, WrongPassPhrase)


def test_chunks_that_changed_places_are_damage() -> None:
    file = locked(bytes(3 * CHUNK))
    one, two = HEADER, HEADER + CHUNK + TAG
    moved = file[:one] + file[two : two + CHUNK + TAG] + file[one:two] + file[two + CHUNK + TAG :]
    with pytest.raises(BackupRefused, match="damaged"):
        opened(moved)


def test_a_chunk_of_another_file_is_damage() -> None:
    one, other = locked(bytes(10)), locked(bytes(10))
    with pytest.raises(BackupRefused, match="damaged"):
        opened(one[:HEADER] + other[HEADER:])


def test_a_stranger_cannot_ask_for_all_the_memory() -> None:
    file = bytearray(locked(b"shop"))
    file[17] = 40
    file[HEADER - 8 : HEADER] = hashlib.sha256(file[: HEADER - 8]).digest()[:8]
    with pytest.raises(BackupRefused, match="more work"):
        opened(bytes(file))


def test_a_newer_layout_is_said_to_be_newer() -> None:
    file = bytearray(locked(b"shop"))
    file[16] = 2
    file[HEADER - 8 : HEADER] = hashlib.sha256(file[: HEADER - 8]).digest()[:8]
    with pytest.raises(BackupRefused, match="newer version"):
        opened(bytes(file))


def test_memory_stays_flat(tmp_path: Path) -> None:
    """Sixteen megabytes pass through in a few chunks' room (scrypt's own is not Python's to count)."""
    plain, file = tmp_path / "plain", tmp_path / "file"
    plain.write_bytes(bytes(16 << 20))
    tracemalloc.start()
    try:
        with plain.open("rb") as source, file.open("wb") as out:
            encrypt(source, 16 << 20, out, pass_phrase=PHRASE, log2_n=LIGHT)
        with file.open("rb") as source:
            length = sum(len(chunk) for chunk in decrypted(source, pass_phrase=PHRASE))
        _, peak = tracemalloc.get_traced_memory()
    finally:
        tracemalloc.stop()
    assert length == 16 << 20
    assert peak < 2 << 20
