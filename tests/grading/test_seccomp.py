"""The filter for system calls, run by a small interpreter of classic BPF on made-up calls."""

import re
import struct
from pathlib import Path

import pytest

from rigkit.grading import seccomp

ALLOW, KILL, EPERM, ENOSYS = 0x7FFF0000, 0x80000000, 0x00050001, 0x00050026
ARCHITECTURE = {"x86_64": 0xC000003E, "aarch64": 0xC00000B7}  # AUDIT_ARCH_*, linux/audit.h


def decide(program, number, architecture, *arguments):
    """What the filter says. Opcodes as in linux/filter.h: ld [k], jeq, jge, jset, ret."""
    call = struct.pack("=iIQ6Q", number, architecture, 0, *arguments, *[0] * (6 - len(arguments)))
    steps = [struct.unpack_from("=HBBI", program, at) for at in range(0, len(program), 8)]
    place, value = 0, 0
    while True:
        code, yes, no, k = steps[place]
        place += 1
        if code == 0x20:
            value = struct.unpack_from("=I", call, k)[0]
        elif code == 0x06:
            return k
        else:
            holds = {0x15: value == k, 0x35: value >= k, 0x45: bool(value & k)}[code]
            place += yes if holds else no


@pytest.mark.parametrize("machine", ["x86_64", "aarch64"])
def test_the_filter_refuses_what_it_names_and_allows_the_rest(machine):
    """Numbers by the table; read, write and mmap pass."""
    program, column = seccomp.program(machine), list(ARCHITECTURE).index(machine)
    own = ARCHITECTURE[machine]
    for entry in seccomp.REFUSED.values():
        assert decide(program, entry[column], own) == EPERM
    for number in {"x86_64": (0, 1, 9, 59, 257), "aarch64": (63, 64, 222, 221, 56)}[machine]:  # read, write, mmap, execve, openat
        assert decide(program, number, own) == ALLOW
    assert decide(program, seccomp.CLONE3[column], own) == ENOSYS
    assert decide(program, seccomp.CLONE[column], own, 0x003D0F00) == ALLOW  # a thread
    assert decide(program, seccomp.CLONE[column], own, 0x01200011) == ALLOW  # fork
    for flag in (
        0x00000080,
        0x00020000,
        0x02000000,
        0x04000000,
        0x08000000,
        0x10000000,
        0x20000000,
        0x40000000,
    ):  # CLONE_NEW*, linux/sched.h
        assert decide(program, seccomp.CLONE[column], own, flag | 17) == EPERM
    assert decide(program, seccomp.SOCKET[column], own, 1) == ALLOW
    for family in (2, 10, 16, 17, 38, 40):  # AF_INET, AF_INET6, AF_NETLINK, AF_PACKET, AF_ALG, AF_VSOCK
        assert decide(program, seccomp.SOCKET[column], own, family) == EPERM


def test_another_architecture_and_the_x32_numbers_are_shut_out():
    """The same kernel answers to 32-bit calls under other numbers."""
    program = seccomp.program("x86_64")
    assert decide(program, 0, 0x40000003) == KILL  # AUDIT_ARCH_I386
    assert decide(program, 0x40000000 | 59, ARCHITECTURE["x86_64"]) == EPERM


def test_leaving_the_process_group_is_refused_where_it_is_all_there_is():
    """setsid and setpgid."""
    for wanted, answer in ((True, EPERM), (False, ALLOW)):
        assert {
            decide(seccomp.program("x86_64", keep_group=wanted), entry[0], ARCHITECTURE["x86_64"]) for entry in seccomp.GROUP.values()
        } == {answer}


@pytest.mark.parametrize(
    ("column", "header"), [(0, "/usr/include/x86_64-linux-gnu/asm/unistd_64.h"), (1, "/usr/include/asm-generic/unistd.h")]
)
def test_the_numbers_are_those_of_the_kernel(column, header):
    """Against the kernel's own headers, where they are installed."""
    if not Path(header).exists():
        pytest.skip(f"no {header} on this machine; install linux-libc-dev to compare the numbers")
    known = dict(re.findall(r"#define __NR(?:3264)?_(\w+)\s+(\d+)", Path(header).read_text(encoding="utf-8")))
    bare = {**seccomp.BARE, **seccomp.MODES, **seccomp.SIGNALS, "prlimit64": seccomp.PRLIMIT, "fcntl": seccomp.FCNTL, "ioctl": seccomp.IOCTL}
    known.setdefault("fchmodat2", "452")  # younger than the headers of Debian 12; linux 6.6, scripts/syscall.tbl (memory)
    table = {**seccomp.REFUSED, **seccomp.GROUP, **bare, "socket": seccomp.SOCKET, "clone": seccomp.CLONE, "clone3": seccomp.CLONE3}
    assert {name: int(known[name]) for name in table} == {name: entry[column] for name, entry in table.items()}
