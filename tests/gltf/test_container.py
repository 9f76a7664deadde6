"""Files: the container by the letter, and what a hostile one points to."""

import base64
import json
import os
import struct

import pytest

import rigkit as rk
from rigkit.gltf import container, limits
from tests.gltf.made import Made, packed

pytestmark = pytest.mark.source("glTF 2.0")


def square(**node):
    made = Made()
    made.node(mesh=made.square(), **node)
    return made.show(0)


def with_uri(path, uri, length=92):
    made = square()
    made.json["buffers"] = [{"byteLength": length, "uri": uri}]
    path.write_text(json.dumps(made.json))
    return path


@pytest.mark.parametrize("ending", [".glb", ".gltf"])
def test_both_forms_hold_the_same(tmp_path, ending):
    part = rk.load(square().write(tmp_path / f"square{ending}")).parts[0]
    assert part.mesh.vertices.tolist() == [[0, 0, 0], [1, 0, 0], [1, 1, 0], [0, 1, 0]]
    assert part.mesh.triangles.tolist() == [[0, 1, 2], [0, 2, 3]]


# section 4.4: the header is "glTF", version 2, length; a chunk is its length, its type, its bytes; chunks start at multiples of 4
@pytest.mark.parametrize("ending", [".glb", ".gltf"])
def test_what_is_written_is_laid_as_the_specification_says(tmp_path, ending):
    path = tmp_path / f"robot arm{ending}"
    rk.save(rk.load(square().write(tmp_path / "square.glb")), path)
    data = path.read_bytes()
    if ending == ".gltf":
        document = json.loads(data)
        assert document["buffers"] == [{"byteLength": os.path.getsize(tmp_path / "robot arm.bin"), "uri": "robot%20arm.bin"}]
        assert sorted(os.listdir(tmp_path)) == ["robot arm.bin", "robot arm.gltf", "square.glb"]
        return
    assert struct.unpack_from("<4sII", data) == (b"glTF", 2, len(data))
    length, kind = struct.unpack_from("<I4s", data, 12)
    assert kind == b"JSON" and length % 4 == 0
    document = json.loads(data[20 : 20 + length])
    binary, kind = struct.unpack_from("<I4s", data, 20 + length)
    assert kind == b"BIN\0" and binary % 4 == 0 and len(data) == 28 + length + binary
    assert 0 <= binary - document["buffers"][0]["byteLength"] < 4 and "uri" not in document["buffers"][0]


def test_a_data_uri_holds_a_buffer(tmp_path):
    made = square()
    body = base64.b64encode(made.bin).decode()
    assert rk.load(with_uri(tmp_path / "a.gltf", f"data:application/octet-stream;base64,{body}", len(made.bin))).parts


@pytest.mark.parametrize(
    "uri,told",
    [
        ("data:application/octet-stream;base64,@@@@", "no base64"),
        ("data:text/plain;base64,AAAA", "expected data:application/octet-stream"),
        ("data:application/octet-stream,AAAA", "expected data:application"),
        ("data:", "expected data:application"),
        ("data:application/octet-stream;base64,AAAA", "byteLength is 92 and there are 3 bytes"),
        ("http://example.org/a.bin", "no address and no absolute path"),
        ("file:///etc/passwd", "no address"),
        ("/etc/passwd", "no address and no absolute path"),
        ("C:/secret.bin", "no address"),
        ("../secret.bin", "this leads out of it"),
        ("down/../../secret.bin", "this leads out of it"),
        ("%2e%2e/secret.bin", "this leads out of it"),
        ("..\\secret.bin", "no address"),
        ("link.bin", "this leads out of it"),
        ("a%00.bin", "no file name"),
        ("", "no file name"),
        ("x" * 5000, "no file name"),
        ("nothing.bin", "no such file beside the .gltf"),
        ("%ff.bin", "expected a file in the folder"),
        ("pipe", "no plain file"),
        ("folder", "no plain file"),
        (7, "expected a text"),
    ],
)
def test_a_buffer_elsewhere_is_refused_by_name(tmp_path, uri, told):
    home = tmp_path / "home"
    (home / "folder").mkdir(parents=True)
    (tmp_path / "secret.bin").write_bytes(b"x" * 100)
    (home / "link.bin").symlink_to(tmp_path / "secret.bin")
    os.mkfifo(home / "pipe")
    with pytest.raises(ValueError, match=r"a\.gltf: buffers\[0\].*" + told):
        rk.load(with_uri(home / "a.gltf", uri))


@pytest.mark.parametrize(
    "data,told",
    [
        (b"", "line 1, column 1"),
        (b"glTF", "4 bytes and is cut short"),
        (b"{", "the JSON is broken: line 1"),
        (b"[]", "the JSON is \\[\\]; expected an object"),
        (b"\xff\xfe{}", "no UTF-8"),
        (b'{"asset": {"version": NaN}}', "holds NaN"),
        (b'{"asset": {"version": "1.0"}}', "asset.version is '1.0'"),
        (b'{"asset": {"version": "2.0", "minVersion": "3.0"}}', "expected 2.0"),
        (b"{}", "asset is missing"),
        (b'{"asset": {"version": "2.0"}}', "no node"),
        (b"[" * 100_000, "nested too deep"),
        (b'{"asset": ' + b'{"a": ' * 70 + b"1" + b"}" * 70 + b"}", "nested too deep"),
        (b'{"asset": {"version": "2.0"}, "nodes": [' + b"1" * 6000 + b"]}", ""),
        (packed(b'{"asset": {"version": "2.0"}}')[:-4], "cut short: its header says"),
        (packed(b"{}")[:4] + struct.pack("<I", 1) + packed(b"{}")[8:], "version 1; expected 2"),
        (struct.pack("<4sIII4s", b"glTF", 2, 20, 1 << 31, b"JSON"), "chunk at byte 12 says 2147483648 bytes"),
        (struct.pack("<4sIII4s", b"glTF", 2, 20, 0, b"BIN\0"), "first chunk is of type"),
    ],
)
def test_a_broken_file_is_told(tmp_path, data, told):
    path = tmp_path / "broken.glb"
    path.write_bytes(data)
    with pytest.raises(ValueError, match=r"broken\.glb: .*" + told):
        rk.load(path)


def test_a_file_that_is_not_there_is_an_os_error(tmp_path):
    with pytest.raises(FileNotFoundError):
        rk.load(tmp_path / "none.glb")


def test_a_huge_file_is_refused_unread(tmp_path, monkeypatch):
    monkeypatch.setattr(limits, "FILE_BYTES", 100)
    with pytest.raises(ValueError, match="expected at most 100"):
        rk.load(square().write(tmp_path / "a.glb"))


@pytest.mark.parametrize("name", ["robot.obj", "robot", "robot.gltf.txt"])
def test_another_ending_is_refused(tmp_path, name):
    with pytest.raises(ValueError, match="expected .glb, or .gltf"):
        rk.save(rk.load(square().write(tmp_path / "a.glb")), tmp_path / name)


def test_a_save_that_fails_leaves_what_was_there(tmp_path, monkeypatch):
    path = square().write(tmp_path / "a.glb")
    before, character = path.read_bytes(), rk.load(path)

    def full(*_):
        raise OSError("disk full")

    monkeypatch.setattr(container.os, "replace", full)
    with pytest.raises(OSError, match="disk full"):
        rk.save(character, path)
    assert path.read_bytes() == before and os.listdir(tmp_path) == ["a.glb"]


@pytest.mark.parametrize("name,told", [("KHR_draco_mesh_compression", "which this reader lacks"), (3, "extensionsRequired\\[0\\] is 3")])
def test_a_required_extension_that_changes_what_is_read_is_refused(tmp_path, name, told):
    made = square()
    made.json["extensionsRequired"] = made.json["extensionsUsed"] = [name]
    with pytest.raises(ValueError, match=told):
        rk.load(made.write(tmp_path / "a.glb"))
