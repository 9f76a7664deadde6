"""Files of strangers, read without trusting any of it: no links followed, no archive unpacked to disk, every size bounded first.

The same reading on both sides: what `rigkit handin` packs is read back by the rules
of the side that collects, so that a hand-in that would be refused there is refused
at home, while its learner can still do something about it.
"""

import io
import os
import stat
import struct
import zipfile
import zlib
from pathlib import PurePosixPath

NOTEBOOK = 10 << 20  # bytes of one notebook
ARCHIVE = 50 << 20  # bytes of one zip
MEMBERS = 200  # files in one zip or folder
DIRECTORY = 1 << 18  # bytes of a zip's table of contents
RATIO = 200  # how many times smaller a file may be inside a zip


class Trouble(Exception):
    """A hand-in, or a part of one, that can't be read; the text says why."""


def read_file(path, most):
    """Return the bytes of a regular file of at most `most` bytes; links, pipes and devices are Trouble."""
    flags = (
        os.O_RDONLY | getattr(os, "O_NOFOLLOW", 0) | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_CLOEXEC", 0) | getattr(os, "O_BINARY", 0)
    )
    try:
        if stat.S_ISLNK(os.lstat(path).st_mode):
            raise Trouble("it is a link; links are not followed")
        handle = os.open(path, flags)
    except OSError as error:
        raise Trouble(f"it can't be opened: {error.strerror or error}") from None
    try:
        status = os.fstat(handle)
        if not stat.S_ISREG(status.st_mode):
            raise Trouble("it is not a regular file")
        if status.st_size > most:
            raise Trouble(f"it has {status.st_size} bytes; we read {most}")
        with open(handle, "rb", closefd=False) as file:
            data = file.read(status.st_size + 1)
    except OSError as error:
        raise Trouble(f"it can't be read: {error.strerror or error}") from None
    finally:
        os.close(handle)
    if len(data) > most:
        raise Trouble(f"it has more than {most} bytes")
    return data


def opened(data):
    """Open a zip in memory after its table of contents was found to be of a sane size and every member's head sound."""
    end = data.rfind(b"PK\x05\x06", max(0, len(data) - 65_557))
    if end < 0 or len(data) < end + 22:
        raise Trouble("it is not a zip, or was cut short")
    count, size = struct.unpack_from("<HI", data, end + 10)
    if count > MEMBERS or size > DIRECTORY:
        raise Trouble(f"it holds more than {MEMBERS} files")
    try:
        archive = zipfile.ZipFile(io.BytesIO(data))
    except (zipfile.BadZipFile, ValueError, NotImplementedError, struct.error, EOFError, OSError) as error:
        raise Trouble(f"it is a damaged zip: {printable(str(error))}") from None
    infos = archive.infolist()
    if len(infos) > MEMBERS:
        raise Trouble(f"it holds more than {MEMBERS} files")
    if len({info.filename for info in infos}) != len(infos):
        raise Trouble("it holds two files of one name")
    for info in infos:
        _sound_member(info)
    if sum(info.file_size for info in infos) > ARCHIVE:
        raise Trouble(f"it unpacks to more than {ARCHIVE} bytes")
    return archive


def names(archive):
    """The names of an archive's files, without its folders."""
    return [info.filename for info in archive.infolist() if not info.is_dir()]


def member(archive, name, most=NOTEBOOK):
    """Return the bytes of one file of an open archive; Trouble when it can't be unpacked or is larger than `most` bytes."""
    try:
        with archive.open(name) as file:
            data = file.read(most + 1)
    except (zipfile.BadZipFile, zlib.error, EOFError, NotImplementedError, RuntimeError, ValueError, OSError, KeyError) as error:
        raise Trouble(f"it can't be unpacked: {printable(str(error))}") from None
    if len(data) > most:
        raise Trouble(f"it has more than {most} bytes")
    return data


def printable(text):
    """The beginning of a stranger's text in signs that can be printed."""
    return "".join(c if c.isprintable() else "?" for c in text[:80])


def _sound_member(info):
    name = info.filename
    if name.startswith(("/", "\\")) or "\\" in name or ":" in name or "\0" in info.orig_filename or ".." in PurePosixPath(name).parts:
        raise Trouble(f"it holds a name that climbs out: {printable(name)}")
    if stat.S_ISLNK(info.external_attr >> 16):
        raise Trouble(f"it holds a link: {printable(name)}")
    if info.flag_bits & 1:
        raise Trouble(f"it is locked with a password: {printable(name)}")
    if info.compress_type not in (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED):
        raise Trouble(f"it is packed in a way we don't read: {printable(name)}")
    if info.file_size > RATIO * max(info.compress_size, 1) + 10_000:
        raise Trouble(f"it holds a file that unpacks to {info.file_size} bytes from {info.compress_size}: {printable(name)}")
