"""A backup under a pass phrase: the file format, writing it and reading it, a chunk at a time.

Layout 1, numbers in network order:

    16  the bytes `ENCRYPTED BACKUP`
     1  layout, 1
     3  log2 of scrypt's N, its r, its p, a byte each
    16  salt, new for each file
     7  first part of each nonce, new for each file
     8  length of what is inside, in bytes
    32  HMAC-SHA256, under the second half of the derived key, of all bytes so far: whether the pass phrase is the one
     8  the first bytes of the SHA-256 of all bytes so far: whether this header is whole, whatever the pass phrase
     …  chunks of 65,536 bytes, the last one shorter or empty, each sealed by AES-256-GCM (16 bytes longer)

The derived key is scrypt's (RFC 7914) of the pass phrase in UTF-8, normalised to NFC: 64 bytes, the first 32 of which
are the key of AES. A nonce is its first part, the chunk's number in 4 bytes, and 1 for the last chunk, else 0; the
header is the associated data of each. So no chunk can be moved, left out or taken from another file (the STREAM
construction of Hoang, Reyhanitabar, Rogaway and Vizár, 2015).
"""

from __future__ import annotations

import hashlib
import hmac
import os
import secrets
import struct
import unicodedata
from collections.abc import Iterator
from dataclasses import dataclass
from typing import IO

from cryptography.exceptions import InvalidTag
from cryptography.hazmat.primitives.ciphers.aead import AESGCM

from workshop.running.manifest import BackupRefused

MAGIC, LAYOUT = b"ENCRYPTED BACKUP", 1
CHUNK, TAG = 1 << 16, 16
LOG2_N, R, P = 17, 8, 1  # 128 MB and a good part of a second for each guess
_FIELDS = struct.Struct(">16sBBBB16s7sQ")
_CHECK, _DIGEST = 32, 8
HEADER = _FIELDS.size + _CHECK + _DIGEST
DAMAGED = "It is damaged: a part of it is not what was written. Take another backup, and look at the disk."


class WrongPassPhrase(BackupRefused):
    """The file is whole, and another pass phrase opens it."""

    def __init__(self) -> None:
        super().__init__("The pass phrase is not the one it was encrypted with.")


@dataclass(frozen=True)
class _Opened:
    """A header that the pass phrase fits."""

    header: bytes
    cipher: AESGCM
    prefix: bytes
    length: int

    def nonce(self, number: int, *, last: bool) -> bytes:
        return self.prefix + struct.pack(">IB", number, last)


def is_encrypted(start: bytes) -> bool:
    """Whether a file that begins so is one of these."""
    return start.startswith(MAGIC)


def encrypted_bytes(length: int) -> int:
    """How long the file is for so many bytes inside."""
    return HEADER + length + TAG * _chunks(length)


def encrypt(source: IO[bytes], length: int, out: IO[bytes], *, pass_phrase: str, log2_n: int = LOG2_N) -> None:
    """Write `length` bytes of `source` encrypted to `out`. Raises OSError when the source ends before."""
    salt, prefix = secrets.token_bytes(16), secrets.token_bytes(7)
    fields = _FIELDS.pack(MAGIC, LAYOUT, log2_n, R, P, salt, prefix, length)
    key, check = _keys(pass_phrase, salt, log2_n, R, P)
    header = fields + hmac.digest(check, fields, "sha256")
    header += hashlib.sha256(header).digest()[:_DIGEST]
    opened = _Opened(header, AESGCM(key), prefix, length)
    out.write(header)
    for number, last, size in _plan(length):
        chunk = source.read(size)
        if len(chunk) != size:
            raise OSError("the backup changed while it was read")
        out.write(opened.cipher.encrypt(opened.nonce(number, last=last), chunk, header))


def decrypted(source: IO[bytes], *, pass_phrase: str) -> Iterator[bytes]:
    """What is inside, in chunks, each as it was written; it is whole only once the last one came.

    Raises:
        WrongPassPhrase: before the first chunk.
        BackupRefused: no such file, cut short, or damaged; the message says which.
    """
    opened = _open(source, pass_phrase)
    for number, last, size in _plan(opened.length):
        sealed = source.read(size + TAG)
        try:
            yield opened.cipher.decrypt(opened.nonce(number, last=last), sealed, opened.header)
        except InvalidTag as error:
            raise BackupRefused(DAMAGED) from error


def check_length(source: IO[bytes]) -> None:
    """Whether the file is as long as its header says, without a pass phrase. Raises BackupRefused."""
    _, _, length = _read_header(source)
    there = source.seek(0, os.SEEK_END)
    wanted = encrypted_bytes(length)
    if there < wanted:
        raise BackupRefused(f"It was cut short: {there} of {wanted} bytes are there.")
    if there > wanted:
        raise BackupRefused(f"There is something behind its end: {there} bytes instead of {wanted}.")


def _open(source: IO[bytes], pass_phrase: str) -> _Opened:
    check_length(source)
    source.seek(0)
    header, (log2_n, r, p, salt, prefix), length = _read_header(source)
    key, check = _keys(pass_phrase, salt, log2_n, r, p)
    fields, stored = header[: _FIELDS.size], header[_FIELDS.size : -_DIGEST]
    if not hmac.compare_digest(hmac.digest(check, fields, "sha256"), stored):
        raise WrongPassPhrase
    return _Opened(header, AESGCM(key), prefix, length)


def _read_header(source: IO[bytes]) -> tuple[bytes, tuple[int, int, int, bytes, bytes], int]:
    header = source.read(HEADER)
    if not is_encrypted(header):
        raise BackupRefused("It is not an encrypted backup of this app.")
    if len(header) < HEADER:
        raise BackupRefused(f"It was cut short: only {len(header)} bytes are there.")
    if hashlib.sha256(header[:-_DIGEST]).digest()[:_DIGEST] != header[-_DIGEST:]:
        raise BackupRefused(DAMAGED)
    _, layout, log2_n, r, p, salt, prefix, length = _FIELDS.unpack(header[: _FIELDS.size])
    if layout != LAYOUT:
        raise BackupRefused(f"It was made by a newer version of this app: its layout {layout} is not known here.")
    if not (1 <= log2_n <= 20 and 1 <= r <= 16 and 1 <= p <= 4):  # a stranger's file must not take all the memory
        raise BackupRefused("It asks for more work than any backup of this app does.")
    return header, (log2_n, r, p, salt, prefix), length


def _keys(pass_phrase: str, salt: bytes, log2_n: int, r: int, p: int) -> tuple[bytes, bytes]:
    words = unicodedata.normalize("NFC", pass_phrase).encode()
    room = 128 * r * (1 << log2_n) + 128 * r * p + (1 << 20)
    derived = hashlib.scrypt(words, salt=salt, n=1 << log2_n, r=r, p=p, maxmem=room, dklen=64)
    return derived[:32], derived[32:]


def _chunks(length: int) -> int:
    return max(1, -(-length // CHUNK))


def _plan(length: int) -> Iterator[tuple[int, bool, int]]:
    """Number, whether it is the last, and size of each chunk."""
    count = _chunks(length)
    for number in range(count):
        last = number == count - 1
        yield number, last, length - number * CHUNK if last else CHUNK
