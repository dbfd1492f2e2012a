"""Files that nobody sends in good faith, and names for them."""

from __future__ import annotations

import io
import struct
import zipfile
import zlib

from hypothesis import strategies as st
from PIL import Image

SVG = b'<svg xmlns="http://www.w3.org/2000/svg" onload="alert(1)"><script>alert(1)</script></svg>'
GPX = (
    b'<?xml version="1.0"?><gpx xmlns="http://www.topografix.com/GPX/1/1" version="1.1" creator="x"><trk><trkseg>'
    b'<trkpt lat="1" lon="2"><time>2026-05-01T10:00:00Z</time></trkpt>'
    b'<trkpt lat="1.001" lon="2"><time>2026-05-01T10:01:00Z</time></trkpt></trkseg></trk></gpx>'
)
LAUGHS = b"<!DOCTYPE gpx [<!ENTITY a 'ha'>" + b"".join(
    b"<!ENTITY %c '%s'>" % (98 + n, b"&%c;" % (97 + n) * 50) for n in range(9)
)  # each entity is fifty of the one before: 50 to the 9th unfolded
NAMES = (
    "../../../etc/passwd", "..\\..\\shop.sqlite3", "/etc/passwd", "C:\\x.jpg", "a.jpg\r\nSet-Cookie: a=b",
    "\u202egpj.exe", "x" * 4000 + ".jpg", ".", "..", "a/b.gpx", "con.jpg", "%s%n{0}.jpg", '"; filename="b.exe',
    "<script>.jpg", "x" * 250, "photo.svg", "photo.jpg.php", "é\u0301\ud7ff.yaml", "\u2028.csv", "'", "",
)  # fmt: skip


def picture(kind: str = "JPEG", size: tuple[int, int] = (60, 40), mode: str = "RGB", **more: object) -> bytes:
    out = io.BytesIO()
    Image.effect_noise(size, 60).convert(mode).save(out, kind, **more)
    return out.getvalue()


def with_exif(orientation: int = 6) -> bytes:
    exif = Image.Exif()
    exif[0x0112], exif[0x010F], exif[0x9286] = orientation, "Invented camera", "A comment"
    exif.get_ifd(0x8825)[1], exif.get_ifd(0x8825)[2] = "N", (51.0, 30.0, 0.0)
    return picture(exif=exif, icc_profile=b"a colour profile of somebody", comment=b"a secret")


def zip_of(members: dict[str, bytes]) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in members.items():
            archive.writestr(name, content)
    return out.getvalue()


def png_chunk(kind: bytes, body: bytes) -> bytes:
    return struct.pack(">I", len(body)) + kind + body + struct.pack(">I", zlib.crc32(kind + body))


def png_with(*more: bytes) -> bytes:
    """A PNG of one pixel with other chunks in it."""
    head = struct.pack(">IIBBBBB", 1, 1, 8, 2, 0, 0, 0)
    pixel = png_chunk(b"IDAT", zlib.compress(b"\0\1\2\3"))
    return b"\x89PNG\r\n\x1a\n" + png_chunk(b"IHDR", head) + b"".join(more) + pixel + png_chunk(b"IEND", b"")


def box(kind: bytes, body: bytes = b"") -> bytes:
    return struct.pack(">I", 8 + len(body)) + kind + body


HEIC = box(b"ftyp", b"heic\0\0\0\0mif1heic") + box(b"meta", b"\0" * 60)
AVIF = box(b"ftyp", b"avif\0\0\0\0avifmif1miaf") + box(b"meta", b"\0" * 60)
JPEG = picture()
SEEDS: tuple[bytes, ...] = (
    b"", b"\0" * 200, b"\xff\xd8\xff", JPEG, picture("PNG"), picture("WEBP"), picture("GIF"), picture("BMP"),
    picture("TIFF"), picture("ICO"), picture("PPM"), picture("PNG", mode="1"), picture("JPEG", mode="CMYK"),
    picture("PNG", mode="I;16"), with_exif(), SVG, HEIC, AVIF, b"%PDF-1.7\n%%EOF", b"%!PS\nshowpage",
    JPEG + SVG, JPEG + zip_of({"a.gpx": GPX}), SVG + JPEG, b"GIF89a" + JPEG, zip_of({"a.jpg": JPEG}),
    png_with(png_chunk(b"zTXt", b"a\0\0" + zlib.compress(b"\0" * 50_000_000))),
    png_with(png_chunk(b"iCCP", b"a\0\0" + zlib.compress(b"\0" * 50_000_000))),
    GPX, LAUGHS + b"]>" + GPX, GPX.replace(b"<trk>", b"<trk>" + b"<a>" * 5000), GPX.decode().encode("utf-16"),
    b'<!DOCTYPE gpx [<!ENTITY x SYSTEM "file:///etc/passwd">]>' + GPX.replace(b"<time>", b"<time>&x;"),
    zip_of({"a.gpx": b"\0" * 30_000_000}), zip_of({"../../a.gpx": GPX, "b\n.gpx": b"x"}), zip_of({}), b"PK\x03\x04",
    zip_of({"a.yaml": b"a: &a [x]\nb: [*a, *a]"}), b"key,value\r\n=1+1,@x", b"[" * 5000, b"a: " * 2000, b'{"layout": ',
)  # fmt: skip


@st.composite
def _damaged(draw: st.DrawFn) -> bytes:
    """A seed cut short, with bytes changed, put in or doubled."""
    content = bytearray(draw(st.sampled_from([seed for seed in SEEDS if 0 < len(seed) < 100_000])))
    for _ in range(draw(st.integers(0, 6))):
        at = draw(st.integers(0, max(len(content) - 1, 0)))
        match draw(st.integers(0, 3)):
            case 0:
                del content[at:]
            case 1 if content:
                content[at] = draw(st.integers(0, 255))
            case 2:
                content[at:at] = draw(st.binary(max_size=8))
            case _:
                content[at:at] = content[:at][-200:]
    return bytes(content)


files = st.one_of(st.sampled_from(SEEDS), _damaged(), st.binary(max_size=200))
names = st.one_of(st.sampled_from(NAMES), st.text(st.characters(exclude_categories=["Cs"]), max_size=30))
