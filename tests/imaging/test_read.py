"""Pictures as cameras, phones and bad luck make them; every file is built here."""

from __future__ import annotations

import hashlib
import io
import os
import struct
import zlib
from datetime import datetime
from pathlib import Path

import numpy as np
import pytest
import tifffile
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from PIL import Image, ImageOps

from fecallab.domain.errors import BadInput, CouldNot, FecallabError
from fecallab.imaging.read import open_picture, probe, scaled_jpeg, verify_picture

from ..effort import examples
from .picture_files import exif_bytes, refusal, save, scene

# --- formats -------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("suffix", "told", "tolerance"),
    [("jpg", "JPEG", 12), ("png", "PNG", 0), ("tif", "TIFF", 0), ("bmp", "BMP", 0), ("webp", "WebP", 25)],
)
def test_colour_pictures_of_each_format_come_back_as_rgb(
    tmp_path: Path, suffix: str, told: str, tolerance: int
) -> None:
    options = {"quality": 95, "subsampling": 0} if suffix == "jpg" else {}
    path = save(tmp_path / f"p.{suffix}", scene(), **options)
    info = verify_picture(path)
    pixels = open_picture(path)
    assert (info.format, info.width_px, info.height_px, info.frames) == (told, 64, 48, 1)
    assert info.bytes == path.stat().st_size
    assert info.sha256 == hashlib.sha256(path.read_bytes()).hexdigest()
    assert pixels.dtype == np.uint8 and pixels.shape == (48, 64, 3)
    assert np.abs(pixels.astype(int) - scene().astype(int)).mean() <= tolerance


def test_heic_of_a_phone_is_read(tmp_path: Path) -> None:
    import pillow_heif

    path = tmp_path / "phone.heic"
    pillow_heif.from_pillow(Image.fromarray(scene(96, 128))).save(path, quality=90)
    info = verify_picture(path)
    assert (info.format, info.width_px, info.height_px) == ("HEIC", 128, 96)
    assert np.abs(open_picture(path).astype(int) - scene(96, 128).astype(int)).mean() < 8


def test_heic_is_turned_upright_once(tmp_path: Path) -> None:
    import pillow_heif

    path = tmp_path / "turned.heic"
    pillow_heif.register_heif_opener()
    save(
        path,
        scene(96, 128),
        quality=95,
        exif=exif_bytes(orientation=6, original="2026:05:03 08:15:00").tobytes(),
    )
    info = probe(path)
    pixels = open_picture(path)
    assert pixels.shape == (info.height_px, info.width_px, 3) == (128, 96, 3)
    assert info.taken == datetime(2026, 5, 3, 8, 15)
    expected = np.rot90(scene(96, 128), -1)
    assert np.abs(pixels.astype(int) - expected.astype(int)).mean() < 10


def test_the_name_is_not_believed(tmp_path: Path) -> None:
    path = save(tmp_path / "really_a_png.jpg", scene(), format="PNG")
    assert probe(path).format == "PNG"
    assert np.array_equal(open_picture(path), scene())


@pytest.mark.parametrize("orientation", range(1, 9))
@pytest.mark.parametrize("suffix", ["jpg", "png", "tif"])
def test_pictures_come_upright_as_pillow_turns_them(tmp_path: Path, orientation: int, suffix: str) -> None:
    options: dict[str, object] = {"exif": exif_bytes(orientation=orientation)}
    if suffix == "jpg":
        options |= {"quality": 95, "subsampling": 0}
    path = save(tmp_path / f"p.{suffix}", scene(), **options)
    with Image.open(path) as image:
        expected = np.array(ImageOps.exif_transpose(image))
    info = probe(path)
    pixels = open_picture(path)
    assert np.array_equal(pixels, expected)
    assert info.orientation == orientation
    assert (info.height_px, info.width_px) == pixels.shape[:2]
    small = np.array(Image.open(io.BytesIO(scaled_jpeg(path, 64, 95))))
    assert np.abs(small.astype(int) - expected.astype(int)).mean() < 12


@pytest.mark.parametrize("suffix", ["jpg", "tif"])
def test_time_taken_is_local_and_without_zone(tmp_path: Path, suffix: str) -> None:
    exif = exif_bytes(datetime="2026:05:04 10:00:00", original="2026:05:03 08:15:00")
    taken = probe(save(tmp_path / f"p.{suffix}", scene(), exif=exif)).taken
    assert taken is not None and taken.tzinfo is None
    if suffix == "jpg":
        assert taken == datetime(2026, 5, 3, 8, 15)


def test_nonsense_time_is_none(tmp_path: Path) -> None:
    path = save(tmp_path / "p.jpg", scene(), exif=exif_bytes(datetime="0000:00:00 00:00:00"))
    assert probe(path).taken is None


def test_sixteen_bit_grey_keeps_its_depth(tmp_path: Path) -> None:
    values = (np.arange(48 * 64, dtype=np.uint32) * 21).reshape(48, 64).astype(np.uint16)
    for suffix in ("tif", "png"):
        path = save(tmp_path / f"p.{suffix}", values)
        assert probe(path).bits_per_sample == 16
        pixels = open_picture(path)
        assert pixels.dtype == np.uint16 and np.array_equal(pixels, values)


def test_sixteen_bit_colour_tiff_and_planes_apart(tmp_path: Path) -> None:
    values = scene().astype(np.uint16) * 257
    tifffile.imwrite(tmp_path / "chunky.tif", values, photometric="rgb")
    tifffile.imwrite(
        tmp_path / "planes.tif", np.moveaxis(values, -1, 0), photometric="rgb", planarconfig="separate"
    )
    for name in ("chunky.tif", "planes.tif"):
        assert np.array_equal(open_picture(tmp_path / name), values)


def test_float_pictures_become_sixteen_bit(tmp_path: Path) -> None:
    unit = np.linspace(0, 1, 48 * 64, dtype=np.float32).reshape(48, 64)
    tifffile.imwrite(tmp_path / "unit.tif", unit)
    tifffile.imwrite(tmp_path / "wide.tif", unit * 900 - 450)
    for name in ("unit.tif", "wide.tif"):
        pixels = open_picture(tmp_path / name)
        assert pixels.dtype == np.uint16
        assert np.abs(pixels / 65535 - unit).max() < 1e-4


def test_white_is_zero_is_turned_over(tmp_path: Path) -> None:
    grey = scene()[..., 0]
    tifffile.imwrite(tmp_path / "p.tif", 255 - grey, photometric="miniswhite")
    assert np.array_equal(open_picture(tmp_path / "p.tif"), grey)


def test_transparent_parts_lie_over_white(tmp_path: Path) -> None:
    alpha = np.full((48, 64, 1), 255, np.uint8)
    alpha[:10] = 0
    rgba = np.concatenate([scene(), alpha], axis=2)
    for suffix in ("png", "tif"):
        pixels = open_picture(save(tmp_path / f"p.{suffix}", rgba))
        assert (pixels[:10] == 255).all() and np.array_equal(pixels[10:], scene()[10:])


def test_palette_and_cmyk_become_rgb(tmp_path: Path) -> None:
    palette = Image.fromarray(scene()).quantize(64)
    expected = np.array(palette.convert("RGB"))
    for suffix in ("png", "tif", "bmp"):
        palette.save(tmp_path / f"p.{suffix}")
        assert np.array_equal(open_picture(tmp_path / f"p.{suffix}"), expected), suffix
    for suffix in ("jpg", "tif"):
        Image.fromarray(scene()).convert("CMYK").save(tmp_path / f"cmyk.{suffix}", quality=95)
        got = open_picture(tmp_path / f"cmyk.{suffix}").astype(int)
        assert got.shape == (48, 64, 3) and np.abs(got - scene()).mean() < 8


@pytest.mark.parametrize("compression", ["tiff_lzw", "tiff_deflate", "packbits", "jpeg", "raw"])
def test_compressed_tiffs_are_read(tmp_path: Path, compression: str) -> None:
    path = save(tmp_path / "p.tif", scene(), compression=compression)
    assert np.abs(open_picture(path).astype(int) - scene()).mean() < (8 if compression == "jpeg" else 0.001)


def test_first_page_is_read_and_pages_are_told(tmp_path: Path) -> None:
    pages = [scene(), scene() // 2, scene() // 4]
    Image.fromarray(pages[0]).save(
        tmp_path / "p.tif", save_all=True, append_images=[Image.fromarray(page) for page in pages[1:]]
    )
    assert probe(tmp_path / "p.tif").frames == 3
    assert np.array_equal(open_picture(tmp_path / "p.tif"), scene())


@pytest.mark.parametrize(
    ("size", "unit", "expected"), [(0.25, "µm", 0.25), (250.0, "nm", 0.25), (5, "mm", None)]
)
def test_ome_tiff_tells_its_pixel_size_as_information(
    tmp_path: Path, size: float, unit: str, expected: float | None
) -> None:
    path = tmp_path / "p.ome.tif"
    tifffile.imwrite(
        path,
        scene(),
        photometric="rgb",
        metadata={"axes": "YXS", "PhysicalSizeX": size, "PhysicalSizeXUnit": unit},
    )
    info = verify_picture(path)
    assert info.format == "OME-TIFF"
    assert info.metadata_um_per_px == (pytest.approx(expected) if expected else None)


def test_tiff_resolution_counts_only_when_it_can_be_a_microscope(tmp_path: Path) -> None:
    tifffile.imwrite(tmp_path / "scope.tif", scene(), resolution=(20000, 20000), resolutionunit="CENTIMETER")
    tifffile.imwrite(tmp_path / "photo.tif", scene(), resolution=(72, 72), resolutionunit="INCH")
    assert probe(tmp_path / "scope.tif").metadata_um_per_px == pytest.approx(0.5)
    assert probe(tmp_path / "photo.tif").metadata_um_per_px is None


# --- what is refused -----------------------------------------------------------------------------------


@pytest.mark.parametrize("suffix", ["jpg", "png", "tif", "heic"])
@pytest.mark.parametrize("share", [0.3, 0.7, 0.95])
def test_a_picture_cut_short_is_refused(tmp_path: Path, suffix: str, share: float) -> None:
    rng = np.random.default_rng(7)
    noisy = rng.integers(0, 255, (200, 300, 3), dtype=np.uint8)
    path = tmp_path / f"whole.{suffix}"
    if suffix == "heic":
        import pillow_heif

        pillow_heif.from_pillow(Image.fromarray(noisy)).save(path)
    else:
        save(path, noisy)
    verify_picture(path)
    cut = tmp_path / f"cut.{suffix}"
    cut.write_bytes(path.read_bytes()[: int(path.stat().st_size * share)])
    assert refusal(cut).reason.code == "picture-damaged"


@pytest.mark.parametrize(
    ("content", "code"),
    [
        (b"", "picture-empty"),
        (b"picture,x_px,y_px\n", "picture-unknown"),
        (b"%PDF-1.7\n" + b"x" * 100, "picture-unknown"),
        (b"\xff\xd8\xff\xe0", "picture-damaged"),
        (b"\x89PNG\r\n\x1a\n", "picture-damaged"),
        (b"II*\0\x08\0\0\0", "picture-damaged"),
        (b"\0\0\0\x20ftypisom\0\0\2\0isomiso2avc1mp41" + b"\0" * 64, "picture-is-video"),
        (b"\0\0\0\x14ftypqt  \0\0\2\0qt  " + b"\0" * 64, "picture-is-video"),
        (b"RIFF\0\0\0\0AVI LIST" + b"\0" * 64, "picture-is-video"),
        (b"\x1a\x45\xdf\xa3" + b"\0" * 64, "picture-is-video"),
    ],
)
def test_what_is_no_picture_is_said_in_one_line(tmp_path: Path, content: bytes, code: str) -> None:
    path = tmp_path / "given.jpg"
    path.write_bytes(content)
    assert refusal(path).reason.code == code


def test_a_folder_a_missing_file_and_a_pipe_are_told_apart(tmp_path: Path) -> None:
    assert refusal(tmp_path).reason.code == "picture-is-folder"
    assert refusal(tmp_path / "nothing.jpg").reason.code == "picture-missing"
    assert refusal("bad\0name.jpg").reason.code == "picture-missing"
    if hasattr(os, "mkfifo"):
        os.mkfifo(tmp_path / "pipe.jpg")
        assert refusal(tmp_path / "pipe.jpg").reason.code == "picture-not-a-file"


def test_no_permission_is_could_not(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = save(tmp_path / "p.png", scene())

    def refuse(self: Path, *args: object, **kwargs: object) -> None:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(Path, "open", refuse)
    with pytest.raises(CouldNot) as caught:
        probe(path)
    assert caught.value.reason.code == "picture-permission"


def png_that_says(width: int, height: int) -> bytes:
    def chunk(kind: bytes, body: bytes) -> bytes:
        return struct.pack(">I", len(body)) + kind + body + struct.pack(">I", zlib.crc32(kind + body))

    header = struct.pack(">IIBBBBB", width, height, 8, 0, 0, 0, 0)
    return (
        b"\x89PNG\r\n\x1a\n"
        + chunk(b"IHDR", header)
        + chunk(b"IDAT", zlib.compress(b"\0" * 9))
        + chunk(b"IEND", b"")
    )


def test_a_bomb_is_refused_before_decoding(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "bomb.png").write_bytes(png_that_says(60000, 60000))
    jpeg = io.BytesIO()
    Image.fromarray(scene()).save(jpeg, "JPEG")
    body = jpeg.getvalue()
    frame = body.index(b"\xff\xc0")
    (tmp_path / "bomb.jpg").write_bytes(
        body[: frame + 5] + struct.pack(">HH", 60000, 60000) + body[frame + 9 :]
    )
    tiff = io.BytesIO()
    tifffile.imwrite(tiff, np.zeros((8, 8), np.uint8))
    with tifffile.TiffFile(io.BytesIO(tiff.getvalue())) as tif:
        places = [tif.pages.first.tags[tag].valueoffset for tag in (256, 257)]
    wide = bytearray(tiff.getvalue())
    for place in places:
        wide[place : place + 2] = struct.pack("<H", 60000)
    (tmp_path / "bomb.tif").write_bytes(bytes(wide))

    monkeypatch.setattr(Image.Image, "load", lambda self: pytest.fail("decoded"))
    monkeypatch.setattr(tifffile.TiffPage, "asarray", lambda self: pytest.fail("decoded"))
    for suffix in ("png", "jpg", "tif"):
        refused = refusal(tmp_path / f"bomb.{suffix}")
        assert refused.reason.code == "picture-too-large"
        assert "60000 × 60000" in refused.reason.text and "250" in refused.reason.text


def test_the_limit_can_be_set(tmp_path: Path) -> None:
    path = save(tmp_path / "p.png", scene(1000, 1000))
    open_picture(path, max_megapixels=1.0)
    with pytest.raises(BadInput, match=r"limit is 0\.5"):
        open_picture(path, max_megapixels=0.5)


@settings(
    max_examples=examples(150), deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(data=st.data(), suffix=st.sampled_from(["jpg", "png", "tif", "heic", "webp", "bmp"]))
def test_damaged_bytes_never_raise_anything_but_our_own_errors(
    tmp_path: Path, data: st.DataObject, suffix: str
) -> None:
    whole = tmp_path / f"whole.{suffix}"
    if not whole.exists():
        if suffix == "heic":
            import pillow_heif

            pillow_heif.from_pillow(Image.fromarray(scene())).save(whole)
        else:
            save(whole, scene())
    content = bytearray(whole.read_bytes())
    for _ in range(data.draw(st.integers(1, 4))):
        content[data.draw(st.integers(0, len(content) - 1))] = data.draw(st.integers(0, 255))
    broken = tmp_path / f"broken.{suffix}"
    broken.write_bytes(bytes(content))
    try:
        verify_picture(broken, max_megapixels=5)
    except FecallabError as error:
        assert error.reason.code.startswith("picture-")
