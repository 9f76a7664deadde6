"""A filter for system calls, written by hand as a BPF program: what no answer of a chapter ever needs fails with EPERM.

The program is classic BPF over `struct seccomp_data` (Linux kernel documentation,
userspace-api/seccomp_filter): number at offset 0, architecture at 4, arguments
from 16 on. Numbers are those of the kernel's tables for x86_64 and aarch64.
"""

import errno
import platform
import struct

# name: (x86_64, aarch64)
REFUSED = {
    "ptrace": (101, 117),
    "process_vm_readv": (310, 270),
    "process_vm_writev": (311, 271),
    "kcmp": (312, 272),
    "add_key": (248, 217),
    "request_key": (249, 218),
    "keyctl": (250, 219),
    "bpf": (321, 280),
    "perf_event_open": (298, 241),
    "userfaultfd": (323, 282),
    "mount": (165, 40),
    "umount2": (166, 39),
    "pivot_root": (155, 41),
    "chroot": (161, 51),
    "unshare": (272, 97),
    "setns": (308, 268),
    "open_tree": (428, 428),
    "move_mount": (429, 429),
    "fsopen": (430, 430),
    "fsconfig": (431, 431),
    "fsmount": (432, 432),
    "fspick": (433, 433),
    "mount_setattr": (442, 442),
    "swapon": (167, 224),
    "swapoff": (168, 225),
    "reboot": (169, 142),
    "kexec_load": (246, 104),
    "kexec_file_load": (320, 294),
    "init_module": (175, 105),
    "finit_module": (313, 273),
    "delete_module": (176, 106),
    "name_to_handle_at": (303, 264),
    "open_by_handle_at": (304, 265),
    "io_uring_setup": (425, 425),
    "io_uring_enter": (426, 426),
    "io_uring_register": (427, 427),
    "acct": (163, 89),
    "quotactl": (179, 60),
    "syslog": (103, 116),
    "settimeofday": (164, 170),
    "clock_settime": (227, 112),
    "adjtimex": (159, 171),
    "clock_adjtime": (305, 266),
    "sethostname": (170, 161),
    "setdomainname": (171, 162),
    "personality": (135, 92),
    "vhangup": (153, 58),
    "lookup_dcookie": (212, 18),
    "nfsservctl": (180, 42),
    "mq_open": (240, 180),
    "shmget": (29, 194),
    "msgget": (68, 186),
    "semget": (64, 190),
    "memfd_secret": (447, 447),
    "pidfd_getfd": (438, 438),
}
X86_ONLY = {"iopl": 172, "ioperm": 173, "modify_ldt": 154, "uselib": 134, "ustat": 136, "sysfs": 139, "_sysctl": 156, "create_module": 174}
GROUP = {"setsid": (112, 157), "setpgid": (109, 154)}  # refused too where a process group is all that holds a submission together
# Where there are no namespaces, what changes a file that no rule of Landlock is about is answered with "done", and nothing is done:
# an honest program that copies a file with its mode goes on.
MODES = {
    "fchmod": (91, 52),
    "fchmodat": (268, 53),
    "fchmodat2": (452, 452),
    "fchown": (93, 55),
    "fchownat": (260, 54),
    "utimensat": (280, 88),
}
X86_MODES = {"chmod": 90, "chown": 92, "lchown": 94, "utime": 132, "utimes": 235, "futimesat": 261}
# And what reaches other processes of this user is refused.
BARE = {
    "truncate": (76, 45),
    "setxattr": (188, 5),
    "lsetxattr": (189, 6),
    "fsetxattr": (190, 7),
    "removexattr": (197, 14),
    "lremovexattr": (198, 15),
    "fremovexattr": (199, 16),
    "setpriority": (141, 140),
    "sched_setaffinity": (203, 122),
    "sched_setscheduler": (144, 119),
    "sched_setparam": (142, 118),
    "sched_setattr": (314, 274),
    "ioprio_set": (251, 30),
    "migrate_pages": (256, 238),
    "move_pages": (279, 239),
    "process_madvise": (440, 440),
    "process_mrelease": (448, 448),
}
SIGNALS = {  # refused where Landlock does not keep them inside (before its version 6)
    "kill": (62, 129),
    "tkill": (200, 130),
    "tgkill": (234, 131),
    "rt_sigqueueinfo": (129, 138),
    "rt_tgsigqueueinfo": (297, 240),
    "pidfd_send_signal": (424, 424),
}
PRLIMIT, FCNTL, IOCTL = (302, 261), (72, 25), (16, 29)
OWNERS = {"F_SETOWN": 8, "F_SETSIG": 10, "F_SETOWN_EX": 15}  # who is sent a signal when a file is ready: fcntl's second argument
SOCKET_OWNERS = {"FIOSETOWN": 0x8901, "SIOCSPGRP": 0x8902}  # the same by ioctl
SOCKET, CLONE, CLONE3 = (41, 198), (56, 220), (435, 435)
MACHINES = {"x86_64": (0xC000003E, 0), "aarch64": (0xC00000B7, 1)}
NEW_NAMESPACES = 0x7E020080  # the CLONE_NEW* flags
AF_UNIX = 1

_LOAD, _EQUAL, _AT_LEAST, _ANY_BIT, _RETURN = 0x20, 0x15, 0x35, 0x45, 0x06
_ALLOW, _KILL, _ERRNO = 0x7FFF0000, 0x80000000, 0x00050000


def supported(machine=None):
    """Whether we know this machine's system calls."""
    return (machine or platform.machine()) in MACHINES


def program(machine=None, keep_group=False, bare=False, signals=True):
    """Return the filter as bytes, an array of `struct sock_filter`, for `machine` (default: this one).

    keep_group: also refuse what would leave the process group. bare: also refuse what namespaces would make harmless, and every
    socket. signals: False to refuse sending any.
    """
    architecture, column = MACHINES[machine or platform.machine()]
    numbers = [entry[column] for entry in REFUSED.values()]
    numbers += X86_ONLY.values() if column == 0 else ()
    numbers += [entry[column] for entry in GROUP.values()] if keep_group else []
    numbers += [entry[column] for entry in BARE.values()] if bare else []
    quiet = [entry[column] for entry in MODES.values()] if bare else []
    quiet += X86_MODES.values() if bare and column == 0 else ()
    numbers += [SOCKET[column]] if bare else []
    numbers += [] if signals else [entry[column] for entry in SIGNALS.values()]
    refuse = _step(_RETURN, _ERRNO | errno.EPERM)
    steps = [_step(_LOAD, 4), _step(_EQUAL, architecture, 1, 0), _step(_RETURN, _KILL), _step(_LOAD, 0)]
    if column == 0:  # the x32 numbers reach the same calls by another door
        steps += [_step(_AT_LEAST, 0x40000000, 0, 1), refuse]
    for number in numbers:
        steps += [_step(_EQUAL, number, 0, 1), refuse]
    for number in quiet:
        steps += [_step(_EQUAL, number, 0, 1), _step(_RETURN, _ERRNO)]
    steps += [_step(_EQUAL, CLONE3[column], 0, 1), _step(_RETURN, _ERRNO | errno.ENOSYS)]  # its flags lie in memory; libc then takes clone
    steps += [_step(_EQUAL, CLONE[column], 0, 4), _step(_LOAD, 16), _step(_ANY_BIT, NEW_NAMESPACES, 0, 1), refuse, _step(_RETURN, _ALLOW)]
    steps += [_step(_EQUAL, SOCKET[column], 0, 4), _step(_LOAD, 16), _step(_EQUAL, AF_UNIX, 1, 0), refuse, _step(_RETURN, _ALLOW)]
    if bare:
        steps += [_step(_EQUAL, PRLIMIT[column], 0, 4), _step(_LOAD, 16), _step(_EQUAL, 0, 1, 0), refuse, _step(_RETURN, _ALLOW)]  # its own
        for number, values in ((FCNTL[column], OWNERS), (IOCTL[column], SOCKET_OWNERS)):
            inner = [step for value in values.values() for step in (_step(_EQUAL, value, 0, 1), refuse)]
            steps += [_step(_EQUAL, number, 0, len(inner) + 2), _step(_LOAD, 24), *inner, _step(_RETURN, _ALLOW)]
    return b"".join([*steps, _step(_RETURN, _ALLOW)])


def _step(code, value, if_true=0, if_false=0):
    return struct.pack("=HBBI", code, if_true, if_false, value)
