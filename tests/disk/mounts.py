"""Disks of our own for a test: small, full, read-only, mounted anywhere, and gone with the process that made them.

`apart` runs a function in a forked process whose mounts nobody else sees (unshare(2), mount_namespaces(7)): as root
straight away, else as the only user of a namespace of its own, where the system lets everybody have one.
"""

import ctypes
import os
import traceback
from collections.abc import Callable
from pathlib import Path

import pytest

# linux/sched.h and linux/mount.h
_NEW_MOUNTS, _NEW_USERS = 0x00020000, 0x10000000
_READ_ONLY, _REMOUNT, _BIND, _ALL, _PRIVATE = 1, 32, 4096, 16384, 1 << 18


def apart(test: Callable[[], None]) -> None:
    """Run `test` where it may mount; what it raises fails the test that called. Skips where nobody may mount."""
    if not hasattr(ctypes.CDLL(None), "unshare"):
        pytest.skip("this system has no namespaces of mounts, so no small disk can be had")
    read, write = os.pipe()
    child = os.fork()
    if child == 0:
        _in_child(test, write)
    os.close(write)
    with os.fdopen(read, "rb") as pipe:
        said = pipe.read().decode()
    _, ended = os.waitpid(child, 0)
    if said.startswith("skip "):
        pytest.skip(f"no small disk can be mounted here: {said[5:]}")
    if said or ended:
        pytest.fail(said or f"the process apart ended with {ended}", pytrace=False)


def _in_child(test: Callable[[], None], write: int) -> None:
    said = ""
    try:
        _leave()
        try:
            test()
        except BaseException:
            said = traceback.format_exc()
    except OSError as fault:
        said = f"skip {fault}"
    os.write(write, said[-60_000:].encode())
    os._exit(0)


def _leave() -> None:
    user, group = os.getuid(), os.getgid()
    _call("unshare", _NEW_MOUNTS if user == 0 else _NEW_MOUNTS | _NEW_USERS)
    if user != 0:
        Path("/proc/self/setgroups").write_text("deny")
        Path("/proc/self/uid_map").write_text(f"0 {user} 1")
        Path("/proc/self/gid_map").write_text(f"0 {group} 1")
    _call("mount", b"none", b"/", None, ctypes.c_ulong(_ALL | _PRIVATE), None)


def _call(name: str, *words: object) -> None:
    if getattr(ctypes.CDLL(None, use_errno=True), name)(*words) != 0:
        number = ctypes.get_errno()
        raise OSError(number, f"{name}: {os.strerror(number)}")


def small_disk(folder: Path, size: str = "1m", files: int = 10_000) -> None:
    """Mount an empty disk in memory on `folder`, with room for so many bytes and files."""
    folder.mkdir(parents=True, exist_ok=True)
    options = f"size={size},nr_inodes={files}".encode()
    _call("mount", b"none", os.fsencode(folder), b"tmpfs", ctypes.c_ulong(0), options)


def resized(folder: Path, *, size: str, files: int = 10_000) -> None:
    """Give a small disk another size, with what is on it."""
    options = f"size={size},nr_inodes={files}".encode()
    _call("mount", b"none", os.fsencode(folder), b"tmpfs", ctypes.c_ulong(_REMOUNT), options)


def closed(folder: Path) -> None:
    """Let a mounted disk be read only from now on."""
    _call("mount", b"none", os.fsencode(folder), None, ctypes.c_ulong(_REMOUNT | _BIND | _READ_ONLY), None)


def bound(folder: Path, there: Path) -> None:
    """Have `folder` show at `there` too."""
    there.mkdir(parents=True, exist_ok=True)
    _call("mount", os.fsencode(folder), os.fsencode(there), None, ctypes.c_ulong(_BIND), None)


def fill(disk: Path, leaving: int) -> None:
    """Take up all of a disk but so many bytes, to the next 4 KiB."""
    found = os.statvfs(disk)
    room = found.f_bavail * found.f_frsize - leaving
    with (disk / "filler").open("wb") as file:
        file.write(b"\0" * max(0, room))
