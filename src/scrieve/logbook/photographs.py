"""Photographs for the logbook: turned upright, made smaller, and freed of everything but the picture itself."""

from __future__ import annotations

import io
import warnings

from PIL import Image, ImageOps, UnidentifiedImageError

from scrieve.errors import ScrieveError

#: The longer side of what is kept [px]; enough to see a joint, small enough to keep a thousand.
LONGEST_PX = 1600
#: A picture of more dots than this is no photograph, or one made to fill the memory.
MOST_DOTS = 80_000_000
_QUALITY = 82


def prepared(data: bytes, longest_px: int = LONGEST_PX) -> bytes:
    """Return a photograph as JPEG: upright, no longer than `longest_px`, with no place, camera or time in it.

    Parameters
    ----------
    data : bytes
        JPEG, PNG, WebP or TIFF as a telephone or camera gives it.

    Raises
    ------
    ScrieveError
        It cannot be read as a picture, or is too large.
    """
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("error", Image.DecompressionBombWarning)
            with Image.open(io.BytesIO(data), formats=["JPEG", "PNG", "WEBP", "TIFF"]) as picture:
                if picture.width * picture.height > MOST_DOTS:
                    raise ScrieveError(
                        f"the photograph has {picture.width} × {picture.height} dots; send a smaller one."
                    )
                picture.draft("RGB", (longest_px * 2, longest_px * 2))
                upright = ImageOps.exif_transpose(picture)
                small = upright.convert("RGB")
    except (UnidentifiedImageError, OSError, SyntaxError, ValueError, Image.DecompressionBombError,
            Image.DecompressionBombWarning) as error:  # fmt: skip
        raise ScrieveError("that is no photograph that can be read; send a JPEG or PNG.") from error
    small.thumbnail((longest_px, longest_px), Image.Resampling.LANCZOS)
    clean = Image.frombytes("RGB", small.size, small.tobytes())  # the dots alone: nothing else comes along
    out = io.BytesIO()
    clean.save(out, "JPEG", quality=_QUALITY, optimize=True)
    return out.getvalue()
