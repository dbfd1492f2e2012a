"""What a stranger's file may cost: sizes, packing, names and text."""

from __future__ import annotations

import io
import stat
import zipfile

import pytest

from diagnosis.uploads import MOST_BYTES, MOST_FILES, UnreadableUpload, texts_of


def zipped(*files: tuple[str | zipfile.ZipInfo, bytes]) -> bytes:
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in files:
            archive.writestr(name, content)
    return packed.getvalue()


def refusal(content: bytes) -> str:
    with pytest.raises(UnreadableUpload) as refused:
        texts_of(content)
    return str(refused.value)


def test_a_lone_file_and_the_files_of_a_zip() -> None:
    assert texts_of("layout: 1 # ½\n".encode()) == {"the file": "layout: 1 # ½\n"}
    assert texts_of(b"\xef\xbb\xbflayout: 1\n") == {"the file": "layout: 1\n"}
    packed = zipped(("sits-low.yaml", b"layout: 1\n"), ("_shared-steps.yaml", b"layout: 1\n"))
    assert sorted(texts_of(packed)) == ["_shared-steps.yaml", "sits-low.yaml"]


@pytest.mark.parametrize(
    "name",
    ["../sits-low.yaml", "/etc/sits-low.yaml", "a/sits-low.yaml", "..\\x.yaml", "C:x.yaml", "x.exe", ".x.yaml",
     "x\nyaml.yaml", "x.yaml/../../y.yaml"],
)  # fmt: skip
def test_a_name_that_is_no_plain_file_is_refused(name: str) -> None:
    assert "not a plain .yaml file" in refusal(zipped((name, b"layout: 1\n")))


def test_a_link_in_a_zip_is_refused() -> None:
    link = zipfile.ZipInfo("sits-low.yaml")
    link.external_attr = (stat.S_IFLNK | 0o777) << 16
    assert "is a link" in refusal(zipped((link, b"/etc/passwd")))


def test_a_zip_bomb_is_refused_before_it_is_unpacked() -> None:
    bomb = zipped(("sits-low.yaml", b"0" * (200 * MOST_BYTES)))
    assert len(bomb) < MOST_BYTES
    assert "unpacks to more than is read here" in refusal(bomb)


def test_many_files_that_are_large_together_are_refused() -> None:
    bomb = zipped(*((f"file-{number}.yaml", b"0" * (MOST_BYTES - 1)) for number in range(9)))
    assert "unpacks to more" in refusal(bomb)


def test_a_zip_that_lies_about_its_sizes_is_refused() -> None:
    honest = zipped(("sits-low.yaml", b"0" * (3 * MOST_BYTES)))
    size = (3 * MOST_BYTES).to_bytes(4, "little")
    assert honest.count(size) == 2
    assert refusal(honest.replace(size, (100).to_bytes(4, "little")))


def test_too_much_is_refused() -> None:
    assert "larger than 1024 KB" in refusal(b"#" * (MOST_BYTES + 1))
    files = [(f"file-{number}.yaml", b"x") for number in range(MOST_FILES + 1)]
    assert f"more than {MOST_FILES} files" in refusal(zipped(*files))


def test_what_is_no_text_is_refused() -> None:
    assert refusal("complaint: léger".encode("latin-1")) == "the file is not UTF-8 text."
    assert refusal(zipped(("x.yaml", b"\xff\xfe"))) == "x.yaml is not UTF-8 text."
    assert (
        refusal(b"PK\x03\x04 and nothing behind it") == "The zip is damaged, or packed in a way that is not read here."
    )
    assert refusal(zipped()) == "The zip is empty."
    assert refusal(b" \n") == "It is empty."


def test_a_name_twice_and_a_password_are_refused() -> None:
    with pytest.warns(UserWarning, match="Duplicate name"):
        twice = zipped(("x.yaml", b"1"), ("x.yaml", b"2"))
    assert "twice" in refusal(twice)
    locked = bytearray(zipped(("x.yaml", b"1")))
    directory = locked.index(b"PK\x01\x02")
    locked[directory + 8] |= 1
    assert "password" in refusal(bytes(locked))
