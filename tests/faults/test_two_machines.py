"""Two machines serve a shop as .examples/group.env says, files in a bucket, behind PgBouncer and TLS; one is lost."""

from __future__ import annotations

import hashlib
import os
import ssl
from dataclasses import dataclass
from pathlib import Path

import pytest
from django.conf import settings
from django.db.models.fields.files import FieldFile

from tests.benchmarks.load import certificate_in, proxy_to
from tests.bucket_server import CREDENTIALS, OwnBucket
from tests.faults.cluster import Cluster, needed
from tests.faults.looking import look_through, wait_for_work
from tests.faults.pooler import pooled, pooler_program
from tests.faults.proxy import network_to
from tests.faults.served import (
    Acknowledged,
    Place,
    ProxyInFront,
    ServerBehindProxy,
    Work,
    free_port,
    make_shop,
    served_as,
)
from tests.faults.table import Tell
from tests.faults.test_two_starts import run
from workshop.models import Photo
from workshop.running.preflight.findings import Exit
from workshop.running.whole_check import sums_that_differ
from workshop.service.environment import settings_in

pytestmark = pytest.mark.any_database  # its database is its own

EXAMPLE = settings.BASE_DIR / ".examples" / "group.env"


@dataclass(frozen=True)
class PlaceOfGroup(Place):
    """A machine of a group: its files are in the bucket."""

    bucket: OwnBucket | None = None

    def content(self, name: str) -> bytes:
        assert self.bucket is not None
        return self.bucket.content(name)


@pytest.mark.django_db
def test_one_of_two_machines_is_lost_and_the_other_has_all_of_it(
    tmp_path: Path, cluster: Cluster, s3_server: str, told: Tell
) -> None:
    program = needed(pooler_program(), "No PgBouncer on this machine.")
    straight, bucket = cluster.make_database("shop"), OwnBucket(s3_server, None)
    one, other = (PlaceOfGroup(tmp_path / name, straight, bucket) for name in ("one", "other"))
    staff, kept = make_shop(one), Acknowledged()
    third = tmp_path / "third"
    for folder in (other.folder, third):
        folder.mkdir(mode=0o700)
    with pooled(program, straight) as through:
        asked = settings_in(EXAMPLE.read_text())
        ours = {"SECRET_KEY": os.environ["SECRET_KEY"], "DATABASE_URL": through, "FILES_URL": bucket.url()}
        ours |= {**CREDENTIALS, "BACKUP_DIR": str(tmp_path / "backups")}
        as_written = {"DATABASE_POOLED", "ALLOWED_HOSTS", "TRUSTED_ORIGINS", "BEHIND_PROXY"}
        assert set(asked) <= set(ours) | as_written
        both = asked | ours | {"HTTPS": "1"}  # which the tests turn off
        certificate, key = certificate_in(tmp_path)
        trusts = ssl.create_default_context(cafile=str(certificate))
        with (
            served_as(ServerBehindProxy, one, **both) as first,
            served_as(ServerBehindProxy, other, **both) as second,
            network_to(first.port) as network,
            proxy_to(network.port, certificate, key) as reached_at,
        ):
            front = ProxyInFront(first, reached_at, trusts)
            for command in (("upgrade",), ("upgrade", "--back")):
                code, said = run(third, *command, **both)
                assert code == Exit.IN_USE, said
                assert f"serves it on 127.0.0.1, port {first.port}" in said
                assert "Traceback" not in said
            with Work(front, staff, kept, patient=True):
                wait_for_work(kept)
                wait_for_work(kept)
                before = sum(kept.counts())
                network.lead_to(second.port)
                network.cut_all()
                first.kill()
                wait_for_work(kept)
                wait_for_work(kept)
            with other.records():
                photo = Photo.objects.order_by("pk")[0]
            status, _, picture = front.ask("GET", f"/counter/photos/{photo.pk}/", staff.clerk)
            assert (status, hashlib.sha256(picture).hexdigest()) == (200, photo.digest)
        stranger = tmp_path / "stranger"
        stranger.mkdir(mode=0o700)
        port = ("--http", "--port", str(free_port()))
        for differs, words in (
            (
                {"SECRET_KEY": "another-key-of-fifty-letters-that-no-other-machine-of-them-has"},
                "the machines of this database share",
            ),
            ({"FILES_URL": OwnBucket(s3_server, None).url()}, "bucket"),
        ):
            code, said = run(stranger, "serve", *port, **{**both, **differs})
            assert code == Exit.NOT_BEGUN, said
            assert words in said
            assert "Traceback" not in said
    look_through(other, staff, kept, "after one of two machines was lost")
    with other.records():
        assert sums_that_differ() == []
        names = {name_of(photo.file) for photo in Photo.objects.all()}
    assert names <= bucket.kept()
    assert not list((one.folder / "files").rglob("*.jpg")), "nothing lies on one machine alone"
    assert before
    told("one of two machines lost, files in a bucket", acknowledged=sum(kept.counts()), words="-")


def name_of(file: FieldFile) -> str:
    return str(file.name)
