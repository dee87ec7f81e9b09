"""A photograph of a look: made anew, small and without where it was taken, and kept by its hash."""

import base64
import binascii
import io

from PIL import Image, ImageOps, UnidentifiedImageError

from analysis.errors import OutOfRangeError, StilltautError
from service.storage.stores import Stores

MOST_MB = 25
MOST_BYTES = MOST_MB * 1024 * 1024
MOST_PIXELS = 60_000_000
LONG_SIDE_PX, SMALL_PX, QUALITY = 1600, 320, 82
KINDS = ("JPEG", "PNG", "WEBP")
DATA_URL = "data:image/jpeg;base64,"
NAMED = "photograph "  # begins the text that names a photograph which is kept already


def photograph_of(stores: Stores, sent: bytes | str) -> str:
    """Keep the photograph that came with a look; return its name, "" where none came.

    Parameters
    ----------
    sent : bytes or str
        The file; from a phone its picture as a data URL; or the name of one that is kept.

    Raises
    ------
    StilltautError
        If it is no picture, or too large.
    """
    if not sent:
        return ""
    if isinstance(sent, str) and sent.startswith(NAMED):
        name = sent.removeprefix(NAMED)
        return name if stores.photographs.has(name) else ""
    data = sent if isinstance(sent, bytes) else _decoded(sent)
    return stores.photographs.keep(made_anew(data))


def made_anew(data: bytes, side_px: int = LONG_SIDE_PX) -> bytes:
    """Return a photograph as JPEG, at most so many pixels long, with nothing but its pixels.

    Where and when it was taken, and with what, is left behind.
    """
    if len(data) > MOST_BYTES:
        raise _too_large(f"more than {MOST_MB} MB", f"at most {MOST_MB} MB")
    try:
        with Image.open(io.BytesIO(data), formats=KINDS) as image:
            if image.width * image.height > MOST_PIXELS:
                found = f"{image.width} × {image.height} pixels"
                raise _too_large(found, f"at most {MOST_PIXELS // 1_000_000} million pixels")
            image.draft("RGB", (side_px, side_px))
            upright = ImageOps.exif_transpose(image).convert("RGB")
            upright.thumbnail((side_px, side_px))
            upright.info.clear()
            out = io.BytesIO()
            upright.save(out, "JPEG", quality=QUALITY)
            return out.getvalue()
    except (UnidentifiedImageError, OSError, SyntaxError, Image.DecompressionBombError) as problem:
        raise _no_picture() from problem


def _decoded(text: str) -> bytes:
    if not text.startswith(DATA_URL):
        raise _no_picture()
    try:
        return base64.b64decode(text.removeprefix(DATA_URL), validate=True)
    except binascii.Error as problem:
        raise _no_picture() from problem


def _too_large(found: str, expected: str) -> OutOfRangeError:
    return OutOfRangeError(
        read="the form",
        where="photograph",
        found=found,
        expected=expected,
        action="Send a smaller one, or the look without it. Nothing was stored.",
    )


def _no_picture() -> StilltautError:
    return StilltautError(
        read="the form",
        where="photograph",
        found="no picture that can be read",
        expected="a JPEG, PNG or WebP file",
        action="Send another one, or the look without it. Nothing was stored.",
    )
