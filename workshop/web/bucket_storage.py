"""The shop's files in a bucket that several machines share: private objects, handed out by the shop's own pages alone.

Imported only where FILES_URL is set. What the store does not do is said in words as StoreAway, and what it has lost as
FileNotFoundError; nobody waits long for it, and who comes just after it did not answer waits not at all.
"""

from __future__ import annotations

import hashlib
import os
import secrets
import threading
import time
from collections.abc import Iterable, Iterator
from contextlib import closing, contextmanager
from pathlib import Path
from typing import Any

from botocore.config import Config
from botocore.exceptions import (
    BotoCoreError,
    ClientError,
    ConnectTimeoutError,
    HTTPClientError,
    NoCredentialsError,
    PartialCredentialsError,
    ReadTimeoutError,
)
from django.core.files.base import ContentFile, File
from storages.backends.s3 import S3Storage
from urllib3.exceptions import HTTPError
from urllib3.exceptions import ReadTimeoutError as SlowBody

from workshop.bucket_address import BucketAddress
from workshop.web.storage import TRIED, KeptFile, StoreAway

CONNECT_S, READ_S, WHOLE_FILE_S = 3, 5, 20
AWAY_S = 5
LISTED_AT_ONCE = 1000
_TRIES = 2
_BLOCK = 1 << 18
_GONE = {"404", "NoSuchKey", "NotFound"}
_TAKEN = {"PreconditionFailed", "ConditionalRequestConflict", "412", "409"}
NO_CREDENTIALS = "There are no credentials for it: set AWS_ACCESS_KEY_ID and AWS_SECRET_ACCESS_KEY."


class BucketStorage(S3Storage):  # type: ignore[misc]  # it comes without types
    """Files as objects of a bucket, under the folder of its address.

    A client may be used by several threads at once, and takes long to make: one serves the whole process.
    """

    def __init__(self, *, address: BucketAddress) -> None:
        super().__init__(
            bucket_name=address.bucket,
            location=address.folder,
            endpoint_url=address.endpoint or None,
            region_name=address.region or None,
            default_acl=None,
            file_overwrite=False,
            client_config=Config(
                connect_timeout=CONNECT_S,
                read_timeout=READ_S,
                retries={"total_max_attempts": _TRIES, "mode": "standard"},
                max_pool_connections=32,
                # A server of one's own is asked for by its name alone, and need not know the newest checksums.
                s3={"addressing_style": "path" if address.endpoint else "auto"},
                request_checksum_calculation="when_required",
                response_checksum_validation="when_required",
            ),
        )
        self.address = address
        self._made = threading.Lock()
        self._client: Any = None
        self._away: tuple[float, StoreAway] | None = None

    @property
    def client(self) -> Any:
        with self._made:
            if self._client is None:
                self._client = self._create_session().client(
                    "s3", region_name=self.region_name, endpoint_url=self.endpoint_url, config=self.client_config
                )
        return self._client

    def url(self, name: str | None, *args: Any, **options: Any) -> str:
        raise NotImplementedError("A file is handed out by a page that asks who may see it.")

    def exists(self, name: str) -> bool:
        try:
            self.size(name)
        except FileNotFoundError:
            return False
        return True

    def size(self, name: str) -> int:
        with self._in_words(name):
            return int(self.client.head_object(Bucket=self.bucket_name, Key=self.key_of(name))["ContentLength"])

    def delete(self, name: str) -> None:
        with self._in_words(name):
            self.client.delete_object(Bucket=self.bucket_name, Key=self.key_of(name))

    def kept_files(self) -> Iterator[KeptFile]:
        """A page of the list at a time; each page may raise StoreAway."""
        before = f"{self.address.folder}/" if self.address.folder else ""
        asked: dict[str, Any] = {"Bucket": self.bucket_name, "Prefix": before, "MaxKeys": LISTED_AT_ONCE}
        while True:
            with self._in_words(before):
                page = self.client.list_objects_v2(**asked)
            for one in page.get("Contents", []):
                yield KeptFile(one["Key"].removeprefix(before), int(one["Size"]))
            if not page.get("IsTruncated"):
                return
            asked["ContinuationToken"] = page["NextContinuationToken"]

    def sha256_of(self, name: str) -> str:
        try:
            return hashlib.sha256(self.bytes_of(name)).hexdigest()
        except FileNotFoundError:
            return ""

    def put_in_place(self, staged: Path, name: str) -> None:
        self.put(name, staged.read_bytes())

    def settle(self, names: Iterable[str]) -> None:
        """An object that was acknowledged is there for good."""

    def try_out(self) -> None:
        """Under a name of this moment's own: other machines may try it, too."""
        name = f"{TRIED}-{secrets.token_hex(8)}"
        self.put(name, b"", only_new=True)
        self.delete(name)

    def bytes_of(self, name: str) -> bytes:
        """Raises FileNotFoundError, StoreAway; the latter too where it takes longer than WHOLE_FILE_S."""
        end, blocks = time.monotonic() + WHOLE_FILE_S, []
        with self._in_words(name):
            answer = self.client.get_object(Bucket=self.bucket_name, Key=self.key_of(name))
            with closing(answer["Body"]) as body:
                # What has come by now: the reading of a whole block waits for as long as a server drips.
                while block := body._raw_stream.read1(_BLOCK):
                    blocks.append(block)
                    if time.monotonic() > end:
                        raise TimeoutError
            content = b"".join(blocks)
            if len(content) != answer["ContentLength"]:
                raise ConnectionError
        return content

    def put(self, name: str, content: bytes, *, only_new: bool = False) -> bool:
        """Keep it; False where `only_new` is said and there is such a file. Raises StoreAway."""
        params = self._get_write_parameters(self.key_of(name), ContentFile(content, name=name))
        if only_new:
            params["IfNoneMatch"] = "*"
        with self._in_words(name):
            try:
                self.client.put_object(Bucket=self.bucket_name, Key=self.key_of(name), Body=content, **params)
            except ClientError as error:
                if only_new and error.response.get("Error", {}).get("Code") in _TAKEN:
                    return False
                raise
        return True

    def key_of(self, name: str) -> str:
        """The object's key. Raises SuspiciousOperation for a name that leads elsewhere."""
        return str(self._normalize_name(str(name)))

    def _open(self, name: str, mode: str = "rb") -> File[bytes]:
        if mode != "rb":
            raise ValueError("A file is read whole and written whole.")
        return ContentFile(self.bytes_of(name), name=name)

    def _save(self, name: str, content: Any) -> str:
        """As on a disk: two who save under one name at the same moment both keep what they sent."""
        content.seek(0)
        data = content.read()
        wanted, taken = name, not self.put(name, data, only_new=True)
        while taken:
            name = self.get_alternative_name(*os.path.splitext(wanted))
            taken = not self.put(name, data, only_new=True)
        return name

    @contextmanager
    def _in_words(self, name: str) -> Iterator[None]:
        if self._away is not None and time.monotonic() < self._away[0]:
            raise StoreAway(self._away[1].words)
        try:
            yield
        except ClientError as error:
            raise _said_no(error, name) from error
        except (NoCredentialsError, PartialCredentialsError) as error:
            raise StoreAway(NO_CREDENTIALS) from error
        except (BotoCoreError, HTTPError, OSError) as error:
            timeout = isinstance(error, ConnectTimeoutError | ReadTimeoutError | SlowBody | TimeoutError)
            away = StoreAway("It does not answer in time." if timeout else f"It cannot be reached: {_kind(error)}.")
            self._away = (time.monotonic() + AWAY_S, away)
            raise away from error
        self._away = None


def _said_no(error: ClientError, name: str) -> OSError:
    """What an answer of the store that is no yes means."""
    status = error.response.get("ResponseMetadata", {}).get("HTTPStatusCode", 0)
    code = str(error.response.get("Error", {}).get("Code", status))
    if code == "NoSuchBucket":
        return StoreAway("There is no bucket of that name.")
    if code in _GONE:
        return FileNotFoundError(2, "The file is not in the bucket", name)
    if status in {401, 403}:
        return StoreAway(f"It refuses this shop ({code}).")
    return StoreAway(f"It answers with an error ({status} {code}).")


def _kind(error: Exception) -> str:
    """The kind of an error alone: its text holds addresses."""
    inner = error.kwargs.get("error") if isinstance(error, HTTPClientError) else None
    return type(inner or error).__name__
