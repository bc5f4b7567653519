"""The system calls that a job's process has no use for, refused by a filter (seccomp(2)).

Landlock bounds what may be opened. This filter refuses what it leaves open: making sockets, other
processes, rights and times of files by their path, and the parts of the kernel that decoding never
needs and that attackers do. Numbers are those of the kernel's tables for x86_64
(``asm/unistd_64.h``) and aarch64 (``asm-generic/unistd.h``); a test compares the two.
"""

from __future__ import annotations

import ctypes
import errno
import os
import struct
import sys

# A name with its numbers on x86_64 and aarch64; None where the machine has no such call.
_Numbers = tuple[int | None, int | None]
REFUSED: dict[str, _Numbers] = {
    # Sockets, and what makes them or does without the calls below
    "socket": (41, 198),
    "socketpair": (53, 199),
    "connect": (42, 203),
    "bind": (49, 200),
    "listen": (50, 201),
    "accept": (43, 202),
    "accept4": (288, 242),
    "io_uring_setup": (425, 425),
    "io_uring_enter": (426, 426),
    "io_uring_register": (427, 427),
    # Other programs and processes; a fork of the process itself is allowed, within its group
    "execve": (59, 221),
    "execveat": (322, 281),
    "setsid": (112, 157),
    "setpgid": (109, 154),
    "ptrace": (101, 117),
    "process_vm_readv": (310, 270),
    "process_vm_writev": (311, 271),
    "process_madvise": (440, 440),
    "kcmp": (312, 272),
    "pidfd_open": (434, 434),
    "pidfd_getfd": (438, 438),
    "pidfd_send_signal": (424, 424),
    "setpriority": (141, 140),
    "ioprio_set": (251, 30),
    "sched_setaffinity": (203, 122),
    "sched_setscheduler": (144, 119),
    "sched_setparam": (142, 118),
    "sched_setattr": (314, 274),
    "migrate_pages": (256, 238),
    "move_pages": (279, 239),
    "shmget": (29, 194),
    "semget": (64, 190),
    "msgget": (68, 186),
    "mq_open": (240, 180),
    # Rights, owners and times of files, which Landlock does not know
    "chmod": (90, None),
    "fchmod": (91, 52),
    "fchmodat": (268, 53),
    "fchmodat2": (452, 452),
    "chown": (92, None),
    "fchown": (93, 55),
    "lchown": (94, None),
    "fchownat": (260, 54),
    "utime": (132, None),
    "utimes": (235, None),
    "futimesat": (261, None),
    "utimensat": (280, 88),
    "setxattr": (188, 5),
    "lsetxattr": (189, 6),
    "fsetxattr": (190, 7),
    "removexattr": (197, 14),
    "lremovexattr": (198, 15),
    "fremovexattr": (199, 16),
    "setxattrat": (463, 463),
    "removexattrat": (466, 466),
    "truncate": (76, 45),
    "name_to_handle_at": (303, 264),
    "open_by_handle_at": (304, 265),
    "inotify_init": (253, None),
    "inotify_init1": (294, 26),
    "fanotify_init": (300, 262),
    # The kernel itself
    "add_key": (248, 217),
    "request_key": (249, 218),
    "keyctl": (250, 219),
    "bpf": (321, 280),
    "perf_event_open": (298, 241),
    "userfaultfd": (323, 282),
    "unshare": (272, 97),
    "setns": (308, 268),
    "chroot": (161, 51),
    "pivot_root": (155, 41),
    "mount": (165, 40),
    "umount2": (166, 39),
    "move_mount": (429, 429),
    "open_tree": (428, 428),
    "fsopen": (430, 430),
    "fsconfig": (431, 431),
    "fsmount": (432, 432),
    "fspick": (433, 433),
    "mount_setattr": (442, 442),
    "quotactl": (179, 60),
    "acct": (163, 89),
    "swapon": (167, 224),
    "swapoff": (168, 225),
    "syslog": (103, 116),
    "reboot": (169, 142),
    "personality": (135, 92),
    "kexec_load": (246, 104),
    "kexec_file_load": (320, 294),
    "init_module": (175, 105),
    "finit_module": (313, 273),
    "delete_module": (176, 106),
    "iopl": (172, None),
    "ioperm": (173, None),
    "modify_ldt": (154, None),
    "tkill": (200, 130),
    "rt_sigqueueinfo": (129, 138),
    "rt_tgsigqueueinfo": (297, 240),
}
# clone3 hides its flags from a filter; "no such call" makes the C library fall back to clone.
CLONE3: dict[str, _Numbers] = {"clone3": (435, 435)}
CLONE: dict[str, _Numbers] = {"clone": (56, 220)}
TO_ITSELF: dict[str, _Numbers] = {"kill": (62, 129), "tgkill": (234, 131)}
LIMITS_OF: dict[str, _Numbers] = {"prlimit64": (302, 261)}
_MACHINES = {"x86_64": (0, 0xC000003E), "aarch64": (1, 0xC00000B7)}  # column, linux/audit.h
_X32 = 0x40000000  # the other calls of x86_64, for programs with short pointers
_NAMESPACES = 0x7E020080  # the CLONE_NEW* flags, linux/sched.h
_PR_SET_SECCOMP, _SECCOMP_MODE_FILTER = 22, 2

# linux/bpf_common.h and linux/seccomp.h
_LOAD, _EQUAL, _AT_LEAST, _ANY_BIT, _RETURN = 0x20, 0x15, 0x35, 0x45, 0x06
_ALLOW, _ERRNO = 0x7FFF0000, 0x00050000
_NUMBER, _MACHINE, _FIRST = 0, 4, 16  # offsets in struct seccomp_data; the low half of args[0]


class _Program(ctypes.Structure):
    _fields_ = (("length", ctypes.c_ushort), ("filter", ctypes.c_char_p))


def filter_calls(*, own_signals: bool) -> bool:
    """Refuse the calls of :data:`REFUSED` to this process and all that it forks, for good.

    Needs no right but PR_SET_NO_NEW_PRIVS. False where the system cannot do it.

    Parameters
    ----------
    own_signals : allow signals to this very process only, where Landlock does not see to it
    """
    machine = os.uname().machine if sys.platform == "linux" else ""
    if machine not in _MACHINES:
        return False
    code = program(machine, own_pid=os.getpid() if own_signals else None)
    library = ctypes.CDLL(None, use_errno=True)
    given = _Program(len(code) // 8, code)
    return not library.prctl(_PR_SET_SECCOMP, _SECCOMP_MODE_FILTER, ctypes.byref(given), 0, 0)


def program(machine: str, *, own_pid: int | None) -> bytes:
    """The filter for a machine (``x86_64`` or ``aarch64``), as the kernel takes it.

    Parameters
    ----------
    own_pid : the only process that signals may go to, or None for all
    """
    column, mark = _MACHINES[machine]
    refuse = _step(_RETURN, _ERRNO | errno.EPERM)
    steps = [_step(_LOAD, _MACHINE), _step(_EQUAL, mark, 1, 0), refuse, _step(_LOAD, _NUMBER)]
    if machine == "x86_64":
        steps += [_step(_AT_LEAST, _X32, 0, 1), refuse]
    for number in _numbers(REFUSED, column):
        steps += [_step(_EQUAL, number, 0, 1), refuse]
    for number in _numbers(CLONE3, column):
        steps += [_step(_EQUAL, number, 0, 1), _step(_RETURN, _ERRNO | errno.ENOSYS)]
    for number in _numbers(CLONE, column):
        steps += _by_first(number, _step(_ANY_BIT, _NAMESPACES, 0, 1))
    for number in _numbers(LIMITS_OF, column):
        steps += _by_first(number, _step(_EQUAL, 0, 1, 0))
    if own_pid is not None:
        for number in _numbers(TO_ITSELF, column):
            steps += _by_first(number, _step(_EQUAL, own_pid, 1, 0))
    return b"".join([*steps, _step(_RETURN, _ALLOW)])


def _by_first(number: int, skip_or_refuse: bytes) -> list[bytes]:
    """Judge one call by its first argument; that step goes on to refusing, or skips it."""
    return [
        _step(_EQUAL, number, 0, 4),
        _step(_LOAD, _FIRST),
        skip_or_refuse,
        _step(_RETURN, _ERRNO | errno.EPERM),
        _step(_RETURN, _ALLOW),
    ]


def _numbers(names: dict[str, _Numbers], column: int) -> list[int]:
    return [number for pair in names.values() if (number := pair[column]) is not None]


def _step(code: int, value: int, true: int = 0, false: int = 0) -> bytes:
    """struct sock_filter; the jumps are counted in steps beyond the next."""
    return struct.pack("=HBBI", code, true, false, value)
