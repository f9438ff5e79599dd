"""All that needs Pillow. Enters: a file's bytes; leaves: facts, or the bytes of a finished picture.

Follows PNG (third edition), ITU-T T.81 (JPEG), GIF89a, EXIF 2.32 (orientation) and ICC.1 profiles.
"""

from __future__ import annotations

import os
import warnings
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from io import BytesIO
from threading import Lock
from typing import TYPE_CHECKING

from PIL import Image, ImageChops, ImageCms, ImageOps, UnidentifiedImageError
from PIL.ImageCms import Flags, Intent

from handbill.pictures.lay import laid_out, once
from handbill.pictures.source import Facts
from handbill.pictures.strip import stripped

if TYPE_CHECKING:
    from handbill.pictures.plan import Plan

MAX_PIXELS = 40_000_000
MAX_FRAME_PIXELS = 200_000_000  # of all frames of an animation together
_FORMATS = ("JPEG", "PNG", "GIF", "WEBP", "BMP", "TIFF", "AVIF")
_KINDS = {"MPO": "jpeg"}  # what some cameras write: a JPEG with more behind it
_ORIENTATION = 0x0112  # EXIF 2.32, 4.6.4 A

# Drawn rather than photographed: few distinct colours, and half of all pixels like their neighbour.
_FLAT_COLOURS = 4096
_FLAT_SHARE = 0.5
# Browsers show a frame that is to stand this many ms or fewer for that many ms (common practice).
_TOO_SHORT, _SHOWN_FOR = 10, 100


_STDERR = Lock()  # the process has one


class PictureError(Exception):
    """What is wrong with a picture, worded to follow its name."""


@contextmanager
def quiet() -> Iterator[None]:
    """Silence Pillow's remarks on odd metadata: it is thrown away. Warning filters are per process, not per
    thread, so this is entered once around a pool of threads, never inside it."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        warnings.simplefilter("error", Image.DecompressionBombWarning)
        yield


def look(data: bytes) -> Facts:
    """The facts of a picture file; it is decoded to the end, so that damage shows now, not later."""
    with quiet(), _readable():
        image = _opened(data)
        frames = int(getattr(image, "n_frames", 1))
        kind = _KINDS.get(image.format or "", (image.format or "").lower())
        if frames > 1 and kind != "jpeg":
            return _look_at_frames(image, frames, kind)
        picture = _decoded(image)
        alpha = _has_alpha(picture)
        return Facts(picture.width, picture.height, alpha, False, _is_flat(picture), kind)


def upright(data: bytes) -> Image.Image:
    """The pixels as they are seen, in sRGB; `quiet` is the caller's to enter. Raises PictureError."""
    with _readable():
        return _decoded(_opened(data))


def make(plan: Plan, data: bytes, frames: Sequence[bytes] = ()) -> bytes:
    """The finished file of `plan` from its source's bytes; `quiet` is the caller's to enter."""
    with _readable():
        if plan.asked is not None and plan.asked.moving is not None:
            from handbill.pictures.reel import reel

            return reel(plan, [_decoded(_opened(one)) for one in frames])
        image = _opened(data)
        if plan.source.animated:
            return _gif(image, plan)
        picture = once(plan.source.sha256, lambda: _decoded(image))
        as_it_is = stripped(data) if _needs_nothing(image, plan) else None
    laid = laid_out(picture, plan)
    if plan.content_type == "image/gif":
        from handbill.pictures.reel import still

        return still(laid, plan.asked.mat if plan.asked is not None else None)
    if plan.content_type == "image/png":
        return _png(laid)
    from handbill.pictures.weight import jpeg

    encoded = jpeg(laid)
    # A photograph exported at its final size loses nothing to a second encoding, unless that is smaller.
    return encoded if as_it_is is None or len(encoded) < len(as_it_is) else as_it_is


@contextmanager
def _readable() -> Iterator[None]:
    """Pillow's decoders meet hostile bytes with errors of many types: each is the file's fault."""
    try:
        yield
    except PictureError:
        raise
    except (Image.DecompressionBombError, Image.DecompressionBombWarning):
        raise PictureError(
            f"has too many pixels; the limit is {MAX_PIXELS // 1_000_000} megapixels"
        ) from None
    except UnidentifiedImageError:
        raise PictureError(
            "is not a picture that can be read (JPEG, PNG, GIF, WebP, BMP, TIFF, AVIF)"
        ) from None
    except MemoryError:
        raise PictureError("does not fit into memory") from None
    except Exception as error:
        said = " ".join(str(error).split())
        if "MAX_TEXT_CHUNK" in said:  # Pillow's limit, in Pillow's words
            raise PictureError("has a profile or a text of over 1 MB in it; export it as sRGB") from None
        raise PictureError(f"is damaged: {said}" if said else "is damaged") from None


def _opened(data: bytes) -> Image.Image:
    image = Image.open(BytesIO(data), formats=_FORMATS)
    if image.width * image.height > MAX_PIXELS:
        size = f"{image.width} x {image.height} px"
        raise PictureError(f"is {size}; the limit is {MAX_PIXELS // 1_000_000} megapixels")
    return image


def _look_at_frames(image: Image.Image, frames: int, kind: str) -> Facts:
    if kind != "gif":
        what = (
            "holds several pages"
            if kind == "tiff"
            else f"is an animated {kind.upper()}, which most readers do not play"
        )
        raise PictureError(f"{what}; export a GIF if it must move, else one picture")
    if frames * image.width * image.height > MAX_FRAME_PIXELS:
        limit = MAX_FRAME_PIXELS // 1_000_000
        raise PictureError(
            f"has {frames} frames of {image.width} x {image.height} px; the limit is {limit} megapixels"
        )
    alpha = False
    for number in range(frames):
        image.seek(number)
        alpha = alpha or _has_alpha(image.convert("RGBA"))
    return Facts(image.width, image.height, alpha, True, False, kind)


def _decoded(image: Image.Image) -> Image.Image:
    """Upright, in sRGB, RGB or RGBA, without any metadata."""
    stored = {str(tile[3]) for tile in getattr(image, "tile", ())}
    with _hushed(image):
        image.load()
    _scale_transparent(image, stored)
    turned = ImageOps.exif_transpose(image) if image.getexif().get(_ORIENTATION, 1) != 1 else image
    picture = _in_srgb(turned)
    picture.info.clear()  # Pillow's writers would carry profile, comment and resolution over
    return picture


def _in_srgb(image: Image.Image) -> Image.Image:
    alpha = _alpha(image)
    if image.mode.startswith("I;16"):  # PNG 13.12: linear, rounded
        colours = image.convert("I").point([(level + 128) // 257 for level in range(65536)], "L")
    elif image.mode in ("1", "L", "LA", "La"):
        colours = image.convert("L")
    elif image.mode in ("CMYK", "RGB"):
        colours = image
    elif image.mode in ("P", "PA", "RGBA", "RGBa", "RGBX", "YCbCr", "HSV"):
        colours = image.convert("RGBA" if image.mode in ("P", "PA", "RGBa") else "RGB").convert("RGB")
    else:
        raise PictureError(f"has pixels of kind {image.mode}, which cannot be shown; export it as 8-bit RGB")
    rgb = _through_profile(colours, image.info.get("icc_profile")).convert("RGB")
    if alpha is not None:
        rgb.putalpha(alpha)
    return rgb


@contextmanager
def _hushed(image: Image.Image) -> Iterator[None]:
    """libtiff tells the terminal by itself what it thinks of a file; what is wrong is said here."""
    if image.format != "TIFF":
        yield
        return
    with _STDERR:
        try:
            kept = os.dup(2)
        except OSError:  # there is none to speak to
            yield
            return
        nowhere = os.open(os.devnull, os.O_WRONLY)
        os.dup2(nowhere, 2)
        try:
            yield
        finally:
            os.dup2(kept, 2)
            os.close(kept)
            os.close(nowhere)


def _scale_transparent(image: Image.Image, stored: set[str]) -> None:
    """The colour that a PNG names as transparent, in the levels that Pillow has made of its samples: it
    scales 2 and 4 bits up and keeps the high bytes of 16-bit colours, but not of that one (11.3.1.1)."""
    clear = image.info.get("transparency")
    if isinstance(clear, tuple) and any(";16" in one for one in stored):
        image.info["transparency"] = tuple(level >> 8 for level in clear)
    if isinstance(clear, int) and image.mode == "L":
        image.info["transparency"] = clear * (17 if "L;4" in stored else 85 if "L;2" in stored else 1)


def _alpha(image: Image.Image) -> Image.Image | None:
    """The alpha of a picture that has any, whether a channel or a colour that is named as transparent."""
    if image.mode.startswith("I;16"):
        clear = image.info.get("transparency")
        if not isinstance(clear, int):
            return None
        table = [255] * 65536
        table[clear & 0xFFFF] = 0
        return image.convert("I").point(table, "L")
    return image.convert("RGBA").getchannel("A") if image.has_transparency_data else None


def _is_srgb(profile: bytes) -> bool:
    try:
        described = ImageCms.getProfileDescription(ImageCms.ImageCmsProfile(BytesIO(profile)))
    except (ImageCms.PyCMSError, OSError):
        return False
    return described.startswith("sRGB")


def _through_profile(image: Image.Image, profile: bytes | None) -> Image.Image:
    """Colours by the embedded ICC profile; a damaged one, or one for other pixels, counts for nothing."""
    if not profile or _is_srgb(profile):  # from sRGB to sRGB would cost a level here and there
        return image
    try:
        converted = ImageCms.profileToProfile(
            image,
            ImageCms.ImageCmsProfile(BytesIO(profile)),
            ImageCms.createProfile("sRGB"),
            renderingIntent=Intent.RELATIVE_COLORIMETRIC,
            outputMode="RGB",
            flags=Flags.BLACKPOINTCOMPENSATION,
        )
    except (ImageCms.PyCMSError, OSError, ValueError, TypeError):
        return image
    return converted or image


def _needs_nothing(image: Image.Image, plan: Plan) -> bool:
    """Whether the source is a JPEG that has the planned pixels already, upright and in sRGB."""
    return (
        image.format in ("JPEG", "MPO")
        and plan.content_type == "image/jpeg"
        and plan.asked is None
        and plan.box == (0, 0, *image.size)
        and plan.pixels == image.size
        and image.mode in ("RGB", "L")
        and image.getexif().get(_ORIENTATION, 1) == 1
        and ("icc_profile" not in image.info or _is_srgb(image.info["icc_profile"]))
    )


def _has_alpha(picture: Image.Image) -> bool:
    if picture.mode != "RGBA":
        return False
    lowest, _ = picture.getchannel("A").getextrema()
    return lowest != 255


def _is_flat(picture: Image.Image) -> bool:
    if picture.getcolors(_FLAT_COLOURS) is None:
        return False
    across, down = picture.size
    if across < 2:
        return True
    left, right = picture.crop((0, 0, across - 1, down)), picture.crop((1, 0, across, down))
    channels = ImageChops.difference(left, right).split()
    largest = channels[0]
    for channel in channels[1:]:
        largest = ImageChops.lighter(largest, channel)
    return largest.histogram()[0] >= _FLAT_SHARE * (across - 1) * down


def _png(picture: Image.Image) -> bytes:
    shown = picture.convert("RGBA")
    if picture.mode == "RGBA":
        # What is fully transparent has no colour: one value packs better, and hides nothing inside.
        seen = shown.getchannel("A").point([0] + [255] * 255)
        shown = Image.composite(shown, Image.new("RGBA", shown.size), seen)
        picture = shown
    from handbill.pictures import palette

    out = BytesIO()
    reduced = palette.reduce(shown)
    if reduced is None:
        from handbill.pictures.weight import fewer

        (fewer(shown) or picture).save(out, "PNG", optimize=True)
        return out.getvalue()
    colours, indexes = reduced
    indexed = Image.frombytes("P", picture.size, indexes)
    indexed.putpalette(bytes(level for colour in colours for level in colour), "RGBA")
    opaque = all(colour[3] == 255 for colour in colours)
    if opaque:
        indexed.putpalette(bytes(level for colour in colours for level in colour[:3]), "RGB")
    indexed.save(out, "PNG", optimize=True)
    return out.getvalue()


def _gif(image: Image.Image, plan: Plan) -> bytes:
    """Every frame laid out like a still, with its delay; how often it plays is kept (absent: once)."""
    pictures: list[Image.Image] = []
    delays: list[int] = []
    repeat = image.info.get("loop")
    for number in range(int(getattr(image, "n_frames", 1))):
        image.seek(number)
        pictures.append(_frame(laid_out(image.convert("RGBA"), plan)))
        delay = int(image.info.get("duration", 0))
        delays.append(delay if delay > _TOO_SHORT else _SHOWN_FOR)
    out = BytesIO()
    how = {} if repeat is None else {"loop": repeat}
    clear = pictures[0].mode == "RGBA"  # else a frame's holes would show the one before it
    pictures[0].save(
        out,
        "GIF",
        save_all=True,
        append_images=pictures[1:],
        duration=delays,
        disposal=2 if clear else 0,
        **how,
    )
    return out.getvalue()


def _frame(picture: Image.Image) -> Image.Image:
    """GIF knows no half transparency: a pixel is there or not (GIF89a, section 23)."""
    picture.info.clear()
    if picture.mode == "RGBA":
        picture.putalpha(picture.getchannel("A").point([0] * 128 + [255] * 128))
    return picture
