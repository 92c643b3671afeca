"""Pictures in and out: bytes or a path to a :class:`~eke.capture.Photo`, arrays to JPEG or PNG; a scanned page too.

A file from outside is decoded within limits: bytes, pixels, one still image. Everything else (other colour
models, sixteen bits, transparency, turned or mirrored by EXIF) is brought to upright 8-bit sRGB.

References
----------
EXIF 2.32 (CIPA DC-008) tags: Orientation 0x0112, FocalLength 0x920A, FocalPlaneXResolution 0xA20E,
FocalPlaneResolutionUnit 0xA210, FocalLengthIn35mmFilm 0xA405, PixelXDimension 0xA002. The 35 mm frame
measures 36 x 24 mm; the equivalent focal length compares diagonals.
"""

from __future__ import annotations

import io
import math
import threading
import warnings
from pathlib import Path
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageOps, UnidentifiedImageError

from eke.capture.photo import DEFAULT_FOCAL_SIGMA, Photo
from eke.errors import BadPicture

__all__ = ["PDF_BEGINS", "encode_jpeg", "encode_png", "photo_from_bytes", "read_photo", "thumbnail"]

PDF_BEGINS: Final = b"%PDF-"
"""ISO 32000-1, 7.5.2: the first bytes of a file."""

MAX_BYTES = 100_000_000
"""Largest file that is opened: more than three times a 50-megapixel photograph."""

MAX_PIXELS = 120_000_000
"""Most pixels decoded: 108-megapixel phones pass, a 200-megapixel bomb (600 MB once decoded) does not."""

WORK_PIXELS = 26_000_000
"""Larger pictures are halved until they have at most this many pixels: the lens draws no finer."""

MIN_SIDE_PX = 400
"""Shorter sides are thumbnails: no line on paper can be measured in them."""

FULL_FRAME_DIAGONAL_MM = math.hypot(36.0, 24.0)
EXIF_IFD = 0x8769
CROP_TOLERANCE = 0.012  # relative difference of the aspect that proves a picture was cropped

STILL_FORMATS_WITH_EXTRA_FRAMES = frozenset({"MPO", "HEIF", "HEIC", "AVIF"})
"""Phones store depth maps, previews or a second eye behind the main picture of these formats."""

_HEIF_LOCK = threading.Lock()


def _open(data: bytes, name: str) -> Image.Image:
    with _HEIF_LOCK:
        import pi_heif  # a decode-only library, loaded when first needed

        pi_heif.register_heif_opener()
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore", Image.DecompressionBombWarning)
            return Image.open(io.BytesIO(data))
    except UnidentifiedImageError:
        raise BadPicture(
            f"{name} is not a picture that can be read here. Take the photograph as JPEG, HEIC or PNG.",
            name=name,
        ) from None
    except Image.DecompressionBombError:
        raise BadPicture(_too_many_pixels(name, None), name=name) from None
    except (OSError, ValueError, SyntaxError, EOFError, RuntimeError, OverflowError, MemoryError):
        raise BadPicture(
            f"{name} looks like a picture but its beginning is damaged. Copy it from the camera again.",
            name=name,
        ) from None


def _too_many_pixels(name: str, size: tuple[int, int] | None) -> str:
    much = (
        f"{size[0]} x {size[1]} pixels ({size[0] * size[1] / 1e6:.0f} million)" if size else "too many pixels"
    )
    return (
        f"{name} has {much}; at most {MAX_PIXELS // 1_000_000} million are opened. "
        "Set the camera to its ordinary size (12 million is plenty) and take it again."
    )


def photo_from_bytes(data: bytes, *, name: str = "the picture") -> Photo:
    """Photo, upright, from the bytes of an image file.

    Raises
    ------
    BadPicture
        Not an image, damaged, cut short, too large, too small, or moving; the sentence says which.
    """
    if not data:
        raise BadPicture(f"{name} is empty. Copy it from the camera again.", name=name)
    if len(data) > MAX_BYTES:
        raise BadPicture(
            f"{name} is {len(data) / 1e6:.0f} MB large; at most {MAX_BYTES // 1_000_000} MB are opened. "
            "Send the photograph as JPEG.",
            name=name,
        )
    if data.startswith(PDF_BEGINS):
        from eke.formats.scanned import scanned_page  # seldom wanted: a tenth of a second to load

        page = scanned_page(data, name=name, most_pixels=WORK_PIXELS)
        if min(page.width_px, page.height_px) < MIN_SIDE_PX:
            raise BadPicture(f"{name} is a page too small to measure anything on.", name=name)
        return page
    image = _open(data, name)
    width, height = image.size
    if width * height > MAX_PIXELS:
        raise BadPicture(_too_many_pixels(name, (width, height)), name=name)
    if min(width, height) < MIN_SIDE_PX:
        raise BadPicture(
            f"{name} is only {width} x {height} pixels: too few to measure. Use the photograph itself, "
            "not a preview that a message service made of it.",
            name=name,
        )
    frames = int(getattr(image, "n_frames", 1))
    if frames > 1 and image.format not in STILL_FORMATS_WITH_EXTRA_FRAMES:
        raise BadPicture(
            f"{name} holds {frames} pictures (moving, or several pages). Use one still photograph.",
            name=name,
        )
    focal, sigma, camera = _lens(image)
    reduce = 1
    while width * height / (reduce * reduce) > WORK_PIXELS:
        reduce *= 2
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore", Image.DecompressionBombWarning)
            if reduce > 1:
                image.draft("RGB", (width // reduce, height // reduce))
            image.load()
            upright = ImageOps.exif_transpose(image)
            rgb = _to_rgb8(upright)
    except (OSError, ValueError, SyntaxError, EOFError, RuntimeError, IndexError, MemoryError):
        raise BadPicture(
            f"{name} is damaged or was cut short on its way: the picture ends before its last row. "
            "Copy it from the camera again.",
            name=name,
        ) from None
    turned = (upright.width > upright.height) != (width > height)
    long_before = max(width, height)
    while rgb.width * rgb.height > WORK_PIXELS:
        rgb = rgb.reduce(2)
    pixels = np.ascontiguousarray(np.asarray(rgb, dtype=np.uint8))
    shrink = max(rgb.size) / long_before
    return Photo(
        pixels_rgb=pixels,
        focal_px_prior=None if focal is None else focal * shrink,
        focal_sigma=sigma,
        camera_name=camera,
        name=name,
        dpi=_dots(image, turned, shrink),
    )


def read_photo(path: Path | str) -> Photo:
    """Photo, upright, from a file; see :func:`photo_from_bytes`."""
    return photo_from_bytes(photo_bytes(path), name=Path(path).name or str(path))


def photo_bytes(path: Path | str) -> bytes:
    """Return a picture's file as it is. Raises BadPicture when it is not there, or too large."""
    file = Path(path)
    name = file.name or str(path)
    try:
        if file.stat().st_size > MAX_BYTES:
            much = file.stat().st_size / 1e6
            raise BadPicture(
                f"{name} is {much:.0f} MB large; at most {MAX_BYTES // 1_000_000} MB are opened. "
                "Send the photograph as JPEG.",
                name=name,
            )
        return file.read_bytes()
    except FileNotFoundError:
        raise BadPicture(f"There is no file {name}. Check the name and the folder.", name=name) from None
    except OSError as why:
        raise BadPicture(f"{name} cannot be opened ({why.strerror or why}).", name=name) from None


def _to_rgb8(image: Image.Image) -> Image.Image:
    """Any mode to 8-bit RGB; transparency on white, sixteen bits scaled, not clipped."""
    if image.mode == "RGB":
        return image
    if image.mode.startswith("I") or image.mode == "F":
        values = np.asarray(image, dtype=np.float64)
        top = float(values.max()) if values.size else 0.0
        scale = 257.0 if image.mode.startswith("I") and top > 255.0 else max(top, 1.0) / 255.0
        grey = np.clip(np.rint(values / scale), 0, 255).astype(np.uint8)
        return Image.fromarray(grey).convert("RGB")
    if image.mode in ("RGBA", "LA", "PA", "RGBa", "La") or "transparency" in image.info:
        with_alpha = image.convert("RGBA")
        ground = Image.new("RGB", with_alpha.size, (255, 255, 255))
        ground.paste(with_alpha, mask=with_alpha.getchannel("A"))
        return ground
    return image.convert("RGB")


def _dots(image: Image.Image, turned: bool, shrink: float) -> tuple[float, float] | None:
    """Dots per inch across and down, as the file says them, of the picture as it is now."""
    told = image.info.get("dpi")
    across, down = (
        (_number(one) for one in told) if isinstance(told, tuple) and len(told) == 2 else (None, None)
    )
    if across is None or down is None:
        return None
    return (down * shrink, across * shrink) if turned else (across * shrink, down * shrink)


def _number(value: Any) -> float | None:
    try:
        number = float(value)
    except (TypeError, ValueError, ZeroDivisionError, OverflowError):
        return None
    return number if math.isfinite(number) and number > 0.0 else None


def _lens(image: Image.Image) -> tuple[float | None, float, str | None]:
    """(focal length in pixels of the full picture or None, relative sigma, camera name) from EXIF."""
    try:
        exif = image.getexif()
        detail = exif.get_ifd(EXIF_IFD)
    except Exception:  # any damage in the EXIF block leaves us with no knowledge of the lens, never worse
        return None, DEFAULT_FOCAL_SIGMA, None
    words = [str(exif.get(tag, "")).strip("\x00 ") for tag in (0x010F, 0x0110)]
    camera = " ".join(w for w in words if w) or None
    width, height = image.size
    named = (_number(detail.get(0xA002)), _number(detail.get(0xA003)))
    sigma = DEFAULT_FOCAL_SIGMA
    if named[0] and named[1]:
        ours, theirs = sorted((width, height)), sorted((named[0], named[1]))
        if abs((ours[0] / ours[1]) / (theirs[0] / theirs[1]) - 1.0) > CROP_TOLERANCE:
            return None, sigma, camera  # cropped since it was taken: its focal length in pixels is unknown
    diagonal = math.hypot(width, height)
    if (equivalent := _number(detail.get(0xA405))) and 5.0 <= equivalent <= 400.0:
        sigma = math.hypot(DEFAULT_FOCAL_SIGMA * 0.6, 0.3 / equivalent)  # half a millimetre of rounding
        if min(width, height) / max(width, height) < 0.62:
            sigma = 0.08  # a 16:9 crop of a 4:3 sensor: makers differ in which diagonal they compare
        return equivalent / FULL_FRAME_DIAGONAL_MM * diagonal, sigma, camera
    focal, per_unit = _number(detail.get(0x920A)), _number(detail.get(0xA20E))
    unit_mm = {2: 25.4, 3: 10.0, 4: 1.0, 5: 0.001}.get(int(_number(detail.get(0xA210)) or 2))
    if focal and per_unit and unit_mm:
        resized = (max(width, height) / max(named[0], named[1])) if named[0] and named[1] else 1.0
        px = focal * per_unit / unit_mm * resized
        if 0.3 * diagonal < px < 10.0 * diagonal:
            return px, sigma, camera
    return None, sigma, camera


def encode_jpeg(pixels_rgb: NDArray[np.uint8], *, quality: int = 88) -> bytes:
    """JPEG bytes of a uint8 array (h, w, 3) or (h, w); no EXIF goes out."""
    out = io.BytesIO()
    Image.fromarray(pixels_rgb).save(out, "JPEG", quality=quality, optimize=True)
    return out.getvalue()


def encode_png(pixels: NDArray[np.uint8]) -> bytes:
    """PNG bytes of a uint8 array (h, w), (h, w, 3) or (h, w, 4)."""
    out = io.BytesIO()
    Image.fromarray(pixels).save(out, "PNG", optimize=False, compress_level=4)
    return out.getvalue()


def thumbnail(pixels_rgb: NDArray[np.uint8], *, longest_px: int) -> NDArray[np.uint8]:
    """The picture with its longer side at most ``longest_px``, each new pixel a mean of what it covers."""
    height, width = pixels_rgb.shape[:2]
    shrink = longest_px / max(width, height)
    if shrink >= 1.0:
        return pixels_rgb
    size = (max(1, round(width * shrink)), max(1, round(height * shrink)))
    return np.asarray(Image.fromarray(pixels_rgb).resize(size, Image.Resampling.BOX), dtype=np.uint8)
