"""Where a group of shops keeps its files in common: a bucket, as the variable FILES_URL names it. No Django.

    s3://bucket/folder/in/it?endpoint=https://files.example.org&region=eu-1

`endpoint` is the server that speaks S3, `region` the one that its signatures name. Credentials are no part of it.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from urllib.parse import parse_qsl, urlsplit

EXAMPLE = "FILES_URL is written like s3://bucket/folder?endpoint=https://files.example.org&region=eu-1."
_BUCKET = re.compile(r"[A-Za-z0-9][A-Za-z0-9._-]{1,62}", re.ASCII)
_PART = re.compile(r"[A-Za-z0-9_-][A-Za-z0-9._-]*", re.ASCII)
_KEYS = {"endpoint", "region"}


@dataclass(frozen=True)
class BucketAddress:
    """A bucket, the folder in it, the server that has it (empty: that of the library's own settings), its region."""

    bucket: str
    folder: str = ""
    endpoint: str = ""
    region: str = ""

    def __str__(self) -> str:
        place = f"s3://{self.bucket}/{self.folder}".rstrip("/")
        return f"{place} at {self.endpoint}" if self.endpoint else place


def read_bucket_address(url: str) -> BucketAddress:
    """Raises ValueError with what is wrong; its words never repeat the address, which may hold a secret."""
    parts = urlsplit(url.strip())
    if parts.scheme != "s3":
        raise ValueError(f"FILES_URL begins with s3://. {EXAMPLE}")
    if "@" in parts.netloc:
        raise ValueError("FILES_URL has credentials in it: they belong in AWS_ACCESS_KEY_ID and AWS_SECRET_ACCESS_KEY.")
    folder = parts.path.strip("/")
    if not _BUCKET.fullmatch(parts.netloc) or not all(map(_PART.fullmatch, folder.split("/") if folder else [])):
        raise ValueError(f"FILES_URL names no bucket, or a folder that cannot be one. {EXAMPLE}")
    said = dict(parse_qsl(parts.query, keep_blank_values=True))
    if parts.fragment or said.keys() - _KEYS or len(parse_qsl(parts.query, keep_blank_values=True)) != len(said):
        raise ValueError(f"FILES_URL knows endpoint and region, each once, and nothing else. {EXAMPLE}")
    endpoint, region = said.get("endpoint", ""), said.get("region", "")
    server = urlsplit(endpoint)
    if endpoint and (server.scheme not in {"http", "https"} or not server.hostname or "@" in server.netloc):
        raise ValueError(f"The endpoint of FILES_URL is no address of a server. {EXAMPLE}")
    return BucketAddress(parts.netloc, folder, endpoint.rstrip("/"), region)
