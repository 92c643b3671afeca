"""Pictures from outside: what is read, and the sentence for what is not."""

import io
import struct
import zlib

import numpy as np
import pytest
from PIL import Image

from eke.capture.photo import Photo
from eke.capture.references import Reference
from eke.capture.trace import trace
from eke.errors import BadInput, BadPicture, NotTrustworthy
from eke.formats.images import encode_jpeg, encode_png, photo_from_bytes, read_photo, thumbnail

GRADIENT = np.tile(np.linspace(20, 230, 800).astype(np.uint8)[None, :, None], (600, 1, 3))


def close(got, expected, within):
    """Largest difference of two pictures, as a readable number."""
    assert got.shape == expected.shape
    return int(np.abs(got.astype(int) - expected.astype(int)).max()) <= within


def saved(image, kind, **how):
    out = io.BytesIO()
    image.save(out, kind, **how)
    return out.getvalue()


def test_jpeg_png_and_heic_are_read():
    assert close(photo_from_bytes(encode_png(GRADIENT)).pixels_rgb, GRADIENT, 0)
    assert close(photo_from_bytes(encode_jpeg(GRADIENT)).pixels_rgb, GRADIENT, 8)
    heif = pytest.importorskip("pillow_heif")
    out = io.BytesIO()
    heif.from_pillow(Image.fromarray(GRADIENT)).save(out, quality=90)
    assert close(photo_from_bytes(out.getvalue()).pixels_rgb, GRADIENT, 10)


@pytest.mark.parametrize("orientation", range(1, 9))
def test_every_exif_orientation_is_turned_upright(orientation):
    marked = GRADIENT.copy()
    marked[:40, :80] = [250, 0, 0]  # top left
    backward = {1: None, 2: 0, 3: 3, 4: 1, 5: 5, 6: 2, 7: 6, 8: 4}[orientation]
    image = Image.fromarray(marked)
    stored = image if backward is None else image.transpose(Image.Transpose(backward))
    exif = Image.Exif()
    exif[0x0112] = orientation
    got = photo_from_bytes(saved(stored, "PNG", exif=exif.tobytes()))
    assert np.array_equal(got.pixels_rgb, marked)


def lens_exif(**detail):
    exif = Image.Exif()
    exif[0x010F], exif[0x0110] = "Testmaker", "T9"
    exif.get_ifd(0x8769).update(detail.pop("tags"))
    return exif.tobytes()


def test_focal_length_from_the_35_mm_equivalent():
    # CIPA DC-008: the 35 mm frame is 36 x 24 mm; 26 mm on its 43.267 mm diagonal, on our 1000 px diagonal
    data = saved(Image.fromarray(GRADIENT), "JPEG", exif=lens_exif(tags={0xA405: 26}))
    got = photo_from_bytes(data)
    assert got.focal_px_prior == pytest.approx(26.0 / 43.2666 * 1000.0, rel=1e-4)
    assert got.camera_name == "Testmaker T9"
    assert 0.01 < got.focal_sigma < 0.05


def test_focal_length_from_the_focal_plane():
    tags = {
        0x920A: 5.0,
        0xA20E: 2000.0,
        0xA210: 3,
        0xA002: 1600,
        0xA003: 1200,
    }  # 200 pixels a mm, picture halved
    got = photo_from_bytes(saved(Image.fromarray(GRADIENT), "JPEG", exif=lens_exif(tags=tags)))
    assert got.focal_px_prior == pytest.approx(500.0)


def test_a_cropped_picture_has_no_known_focal_length():
    tags = {0xA405: 26, 0xA002: 800, 0xA003: 800}
    assert (
        photo_from_bytes(saved(Image.fromarray(GRADIENT), "JPEG", exif=lens_exif(tags=tags))).focal_px_prior
        is None
    )


def test_other_colour_models_come_out_as_rgb():
    image = Image.fromarray(GRADIENT)
    assert close(photo_from_bytes(saved(image.convert("CMYK"), "JPEG", quality=95)).pixels_rgb, GRADIENT, 12)
    deep = Image.fromarray(GRADIENT[..., 0].astype(np.uint16) * 257)
    assert close(photo_from_bytes(saved(deep, "PNG")).pixels_rgb, GRADIENT, 1)
    glass = image.convert("RGBA")
    glass.putalpha(0)
    assert photo_from_bytes(saved(glass, "PNG")).pixels_rgb.min() == 255
    assert photo_from_bytes(saved(image.convert("P"), "PNG")).pixels_rgb.shape == GRADIENT.shape


def bomb(width, height):
    """A PNG of a few kilobytes that unpacks to width x height pixels."""

    def chunk(kind, body):
        return struct.pack(">I", len(body)) + kind + body + struct.pack(">I", zlib.crc32(kind + body))

    rows = zlib.compress(b"\0" * ((width // 8 + 1) * min(height, 2000)), 9)
    head = struct.pack(">IIBBBBB", width, height, 1, 0, 0, 0, 0)
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", rows) + chunk(b"IEND", b"")


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b"", "empty"),
        (b"%PDF-1.7 this is no page", "damaged"),
        (b"\x89PNG\r\n\x1a\n" + b"\0" * 40, "not a picture|damaged"),
        (encode_jpeg(GRADIENT)[:4000], "cut short"),
        (encode_png(GRADIENT)[:900], "cut short"),
        (bomb(20_000, 10_000), "million"),
        (bomb(13_000, 10_000), "130 million"),
        (bomb(200_000, 100_000), "million"),
        (encode_png(GRADIENT[:100, :100]), "only 100 x 100"),
    ],
)
def test_what_cannot_be_read_is_said_in_one_sentence(data, words):
    with pytest.raises(BadPicture, match=words) as caught:
        photo_from_bytes(data, name="IMG_1.jpg")
    assert "IMG_1.jpg" in caught.value.message
    assert caught.value.exit_code == 2


def test_moving_pictures_are_refused():
    frames = [Image.fromarray(GRADIENT), Image.fromarray(255 - GRADIENT)]
    with pytest.raises(BadPicture, match="moving"):
        photo_from_bytes(saved(frames[0], "GIF", save_all=True, append_images=frames[1:]))


def test_damaged_exif_is_no_reason_to_refuse():
    data = bytearray(saved(Image.fromarray(GRADIENT), "JPEG", exif=lens_exif(tags={0xA405: 26})))
    at = data.index(b"Exif\0\0") + 10
    data[at : at + 24] = b"\xff" * 24
    assert photo_from_bytes(bytes(data)).pixels_rgb.shape == GRADIENT.shape


def test_files(tmp_path):
    path = tmp_path / "picture.png"
    path.write_bytes(encode_png(GRADIENT))
    assert read_photo(path).name == "picture.png"
    with pytest.raises(BadPicture, match="no file"):
        read_photo(tmp_path / "other.jpg")
    with pytest.raises(BadPicture, match=r"cannot be opened|no file"):
        read_photo(tmp_path)


def test_a_large_picture_is_halved_with_its_focal_length():
    wide = np.zeros((5000, 7000, 3), np.uint8)
    wide[::7] = 200
    got = photo_from_bytes(saved(Image.fromarray(wide), "JPEG", exif=lens_exif(tags={0xA405: 26})))
    assert got.width_px == 3500
    assert got.focal_px_prior == pytest.approx(26.0 / 43.2666 * np.hypot(3500, 2500), rel=1e-3)


def test_thumbnails_keep_their_shape():
    assert thumbnail(GRADIENT, longest_px=200).shape == (150, 200, 3)
    assert thumbnail(GRADIENT, longest_px=9000) is GRADIENT


def test_panoramas_darkness_and_touches_outside_are_refused():
    with pytest.raises(NotTrustworthy, match="panorama"):
        trace(Photo(np.full((500, 2000, 3), 128, np.uint8)), references=[Reference("a4")])
    with pytest.raises(NotTrustworthy, match="too dark"):
        trace(Photo(np.full((600, 800, 3), 9, np.uint8)), references=[Reference("a4")])
    with pytest.raises(BadInput, match="outside the picture"):
        trace(Photo(GRADIENT), references=[Reference("a4")], touches=[(900.0, 10.0, "+")])
