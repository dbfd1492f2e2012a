"""A server that speaks S3, in a process of its own, and a shop whose files lie in a bucket of it."""

from __future__ import annotations

import subprocess
import sys
import uuid
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import boto3

from workshop.bucket_address import read_bucket_address

REGION = "eu-west-1"
CREDENTIALS = {
    "AWS_ACCESS_KEY_ID": "a-key-of-the-tests",
    "AWS_SECRET_ACCESS_KEY": "opens-nothing",
    "AWS_EC2_METADATA_DISABLED": "true",
    "AWS_CONFIG_FILE": "/nowhere",
    "AWS_SHARED_CREDENTIALS_FILE": "/nowhere",
}
_SERVER = """
from moto.server import ThreadedMotoServer
server = ThreadedMotoServer("127.0.0.1", 0, verbose=False)
server.start()
print(server.get_host_and_port()[1], flush=True)
input()
"""


@contextmanager
def s3_server_running() -> Iterator[str]:
    """Its address; it ends with the pipe to it, however the tests end."""
    command = [sys.executable, "-c", _SERVER]
    quiet = subprocess.DEVNULL
    with subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=quiet, text=True) as server:
        assert server.stdout is not None
        try:
            yield f"http://127.0.0.1:{int(server.stdout.readline())}"
        finally:
            server.kill()


@dataclass
class OwnBucket:
    """A bucket of a test's own on that server, looked at past the shop."""

    endpoint: str
    settings: Any
    name: str = field(default_factory=lambda: f"files-{uuid.uuid4().hex[:12]}")

    def __post_init__(self) -> None:
        self.client = boto3.client(
            "s3", endpoint_url=self.endpoint, region_name=REGION,
            aws_access_key_id="looks", aws_secret_access_key="past-the-shop",  # noqa: S106  opens nothing
        )  # fmt: skip
        self.client.create_bucket(Bucket=self.name, CreateBucketConfiguration={"LocationConstraint": REGION})

    def url(self, *, folder: str = "", endpoint: str = "") -> str:
        return f"s3://{self.name}/{folder}?endpoint={endpoint or self.endpoint}&region={REGION}"

    def use(self, *, folder: str = "", endpoint: str = "") -> None:
        """The shop keeps its files here from now on, by a storage that was just made, as at a start."""
        address = read_bucket_address(self.url(folder=folder, endpoint=endpoint))
        self.settings.FILES_BUCKET = address
        backend = {"BACKEND": "workshop.web.bucket_storage.BucketStorage", "OPTIONS": {"address": address}}
        self.settings.STORAGES = {**self.settings.STORAGES, "default": backend}

    def use_folder(self, folder: Path) -> None:
        """The shop keeps its files in a folder of this machine from now on."""
        self.settings.FILES_BUCKET, self.settings.MEDIA_ROOT = None, folder
        backend = {"BACKEND": "workshop.web.storage.DurableStorage"}
        self.settings.STORAGES = {**self.settings.STORAGES, "default": backend}

    def kept(self) -> set[str]:
        """Names of its objects, without the shop's own mark."""
        found = self.client.list_objects_v2(Bucket=self.name).get("Contents", [])
        return {one["Key"] for one in found if not one["Key"].rpartition("/")[2].startswith(".")}

    def content(self, key: str) -> bytes:
        content: bytes = self.client.get_object(Bucket=self.name, Key=key)["Body"].read()
        return content

    def lose(self, *keys: str) -> None:
        """Past the shop: the named objects, or all of them with the shop's mark."""
        found = self.client.list_objects_v2(Bucket=self.name).get("Contents", [])
        for key in keys or tuple(one["Key"] for one in found):
            self.client.delete_object(Bucket=self.name, Key=key)
