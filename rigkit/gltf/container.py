"""The container: .glb, or .gltf with what it points to, as one JSON document and bytes; and back.

A .glb is a header of 12 bytes and chunks of 8 + n bytes, the first JSON, the second binary (glTF 2.0, section 4, "GLB File Format
Specification"). A .gltf is the JSON alone; its buffers lie beside it, or inside as data URIs. Only files in the
folder of the .gltf and below are opened: no address of a network, no absolute path, no way up, no link that leads out.
"""

import base64
import binascii
import json
import os
import struct
import tempfile
from pathlib import Path
from typing import NamedTuple
from urllib.parse import quote, unquote

from rigkit import arguments
from rigkit.gltf import limits
from rigkit.gltf.fields import Item

MAGIC, JSON_CHUNK, BINARY_CHUNK = 0x46546C67, 0x4E4F534A, 0x004E4942
DATA_TYPES = ("application/octet-stream", "application/gltf-buffer")


class Files(NamedTuple):
    """document: the JSON as Python has it. buffers: bytes of each buffer, or None. images: number of an image to the
    bytes of its file. size: how many bytes were read. missing: what was pointed to and is not there, texts."""

    document: dict
    buffers: list
    images: dict
    size: int
    missing: list


def read(path):
    """Return the Files of a .gltf or .glb.

    Raises ValueError for what is no glTF 2.0, is cut short, points outside its folder or is beyond `limits`;
    FileNotFoundError and the like for a path that can't be read.
    """
    path = Path(path)
    data = _bytes_of(path, str(path.name))
    text, binary = _chunks(data) if data[:4] == b"glTF" else (data, None)
    document = parsed(text)
    _check_version(Item(document, ""))
    buffers = [_buffer(item, i, path.parent, binary) for i, item in enumerate(Item(document, "").items("buffers"))]
    images, missing = _images(document, path.parent)
    size = len(data) + sum(len(b) for b in buffers if b is not None and b is not binary)
    return Files(document, buffers, images, size, missing)


def parsed(text):
    """Return the JSON object in `text`, bytes; anything else is a ValueError."""
    if len(text) > limits.JSON_BYTES:
        raise ValueError(f"the JSON has {len(text)} bytes; expected at most {limits.JSON_BYTES}")
    try:
        document = json.loads(str(text, "utf-8-sig"), parse_constant=_no_constant, parse_float=_number)
    except RecursionError:
        raise ValueError(f"the JSON is nested too deep; expected at most {limits.JSON_DEPTH} objects and lists within each other") from None
    except UnicodeDecodeError as wrong:
        raise ValueError(f"the JSON is no UTF-8: byte {wrong.start} is {wrong.object[wrong.start]:#x}") from None
    except json.JSONDecodeError as wrong:
        raise ValueError(f"the JSON is broken: line {wrong.lineno}, column {wrong.colno}: {wrong.msg}") from None
    _check_depth(document)
    return Item(document, "the JSON").value


def data_at(uri, place, types=("image/png", "image/jpeg")):
    """Return the bytes of a data URI (RFC 2397) of one of these media types, in base64; anything else is a ValueError."""
    head, comma, body = uri.partition(",")
    kind, *parameters = head.removeprefix("data:").split(";")
    if not comma or "base64" not in parameters or kind not in types:
        raise ValueError(f"{place} is {arguments.shorten(uri)}; expected data:{types[0]};base64,...")
    try:
        return base64.b64decode(unquote(body) if "%" in body else body, validate=True)
    except (binascii.Error, ValueError):
        raise ValueError(f"{place}: the data URI is no base64") from None


def write(path, document, binary):
    """Write a document and its one buffer as .glb, or as .gltf with a .bin beside it; return how many bytes that is.

    Each file is written beside its place and moved there when it is whole. Raises ValueError for another ending.
    """
    path = Path(path)
    if path.suffix.lower() == ".glb":
        return _put(path, _glb(document, binary))
    if path.suffix.lower() != ".gltf":
        raise ValueError(f"{path.name} ends in {path.suffix!r}; expected .glb, or .gltf (its .bin is written beside it)")
    beside = path.with_suffix(".bin")
    if binary:
        document["buffers"][0]["uri"] = quote(beside.name)
        _put(beside, binary)
    return _put(path, _json(document, indent=1)) + len(binary)


# ---- reading ----------------------------------------------------------------------------------------------------


def _bytes_of(path, told):
    """The bytes of a plain file; a device or a pipe is refused, for it may never end."""
    size = path.stat().st_size
    if not path.is_file():
        raise ValueError(f"{told} is no plain file; expected a file on disk")
    if size > limits.FILE_BYTES:
        raise ValueError(f"{told} has {size} bytes; expected at most {limits.FILE_BYTES}")
    return path.read_bytes()


def _chunks(data):
    """The JSON and the binary chunk (or None) of a .glb."""
    if len(data) < 20:
        raise ValueError(f"the .glb has {len(data)} bytes and is cut short; expected a header of 12 and a chunk")
    _, version, length = struct.unpack_from("<III", data)
    if version != 2:
        raise ValueError(f"the .glb is of version {version}; expected 2")
    if length > len(data):
        raise ValueError(f"the .glb is cut short: its header says {length} bytes, the file has {len(data)}")
    found, at = {}, 12
    while at + 8 <= length:
        size, kind = struct.unpack_from("<II", data, at)
        if at + 8 + size > length:
            raise ValueError(f"the .glb's chunk at byte {at} says {size} bytes; there are {length - at - 8} left: the file is cut short")
        if at == 12 and kind != JSON_CHUNK:
            raise ValueError(f"the .glb's first chunk is of type {kind:#x}; expected JSON, {JSON_CHUNK:#x}")
        found.setdefault(kind, memoryview(data)[at + 8 : at + 8 + size])
        at += 8 + size
    return found[JSON_CHUNK], found.get(BINARY_CHUNK)


def _check_depth(document):
    level = [document]
    for _ in range(limits.JSON_DEPTH):
        level = [
            inner for outer in level if isinstance(outer, (dict, list)) for inner in (outer.values() if isinstance(outer, dict) else outer)
        ]
        if not level:
            return
    raise ValueError(f"the JSON is nested too deep; expected at most {limits.JSON_DEPTH} objects and lists within each other")


def _number(word):
    """A JSON number with a point: a whole one is as good as an integer wherever one is asked for."""
    value = float(word)
    return int(value) if value.is_integer() and abs(value) < 1 << 53 else value


def _no_constant(word):
    raise ValueError(f"the JSON holds {word}, which is no JSON number")


def _check_version(document):
    asset = document.item("asset") or document.fail("asset", "an object with the version")
    version = asset.text("minVersion", asset.text("version"))
    if not version.startswith("2."):
        asset.fail("version", "2.0: files of version 1 hold other fields")


def _buffer(item, number, folder, binary):
    length = item.integer("byteLength", low=1)
    if "uri" in item.value:
        data = _at_uri(item, folder, DATA_TYPES)
    elif number == 0 and binary is not None:
        data = binary
    else:
        return None  # an extension may say where its bytes are
    if len(data) < length:
        raise ValueError(f"{item.place}: byteLength is {length} and there are {len(data)} bytes: the file is cut short")
    return memoryview(data)[:length]


def _images(document, folder):
    """The bytes of images that lie in files of their own, and what could not be found."""
    found, missing = {}, []
    for i, item in enumerate(Item(document, "").items("images")):
        if "uri" in item.value and not item.text("uri").startswith("data:"):
            try:
                found[i] = bytes(_at_uri(item, folder, ()))
            except OSError as wrong:
                missing.append(
                    f"{item.at('uri')}: {arguments.shorten(item.text('uri'))} can't be read ({wrong.strerror}); the picture is missing"
                )
    return found, missing


def _at_uri(item, folder, data_types):
    uri = item.text("uri")
    if uri.startswith("data:"):
        return data_at(uri, item.at("uri"), data_types)
    try:
        path = _inside(uri, folder)
    except ValueError as wrong:
        raise ValueError(f"{item.at('uri')} is {arguments.shorten(uri)}; expected a file in the folder of the .gltf: {wrong}") from None
    try:
        return _bytes_of(path, item.at("uri"))
    except FileNotFoundError as wrong:
        if data_types:
            raise ValueError(f"{item.at('uri')} is {arguments.shorten(uri)}; there is no such file beside the .gltf") from None
        raise wrong


def _inside(uri, folder):
    """The path of a relative URI; one that leads out of the folder is a ValueError that says why."""
    name = unquote(uri, errors="strict")
    first = name.split("/")[0]
    if ":" in first or name.startswith(("/", "\\")) or "\\" in name:
        raise ValueError("no address and no absolute path is opened")
    if not name or "\0" in name or len(name) > 1024:
        raise ValueError("this is no file name")
    path, home = (folder / name).resolve(), folder.resolve()
    if not path.is_relative_to(home):
        raise ValueError("this leads out of it")
    return path


# ---- writing ----------------------------------------------------------------------------------------------------


def _json(document, indent=None):
    separators = (",", ":") if indent is None else (",", ": ")
    return json.dumps(document, ensure_ascii=False, allow_nan=False, indent=indent, separators=separators).encode()


def _glb(document, binary):
    text = _json(document)
    text += b" " * (-len(text) % 4)
    binary = bytes(binary) + b"\0" * (-len(binary) % 4)
    chunks = struct.pack("<II", len(text), JSON_CHUNK) + text
    if binary:
        chunks += struct.pack("<II", len(binary), BINARY_CHUNK) + binary
    return struct.pack("<III", MAGIC, 2, 12 + len(chunks)) + chunks


def _put(path, data):
    handle, name = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name}-")
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(data)
        os.chmod(name, 0o666 & ~_umask())
        os.replace(name, path)
    except BaseException:
        os.unlink(name)
        raise
    return len(data)


def _umask():
    mask = os.umask(0)
    os.umask(mask)
    return mask
