"""A disk that fails when it is told to: a VFS of SQLite's own interface, in front of the real one.

SQLite reaches the disk through a table of functions (`sqlite3_vfs`, `sqlite3_io_methods`; see
"The SQLite OS Interface or VFS", sqlite.org/vfs.html). This one counts the calls that write, sync,
cut or delete, and from a chosen one on gives an error back in place of making it. It also knows
what of each file was synced: all that is there after the power went. It is put into the very
library that Python's `sqlite3` uses, which has to be a shared one.
"""

from __future__ import annotations

import ctypes as c
import os
import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

FULL = sqlite3.SQLITE_FULL
READONLY = sqlite3.SQLITE_READONLY
WRITE_FAILED = sqlite3.SQLITE_IOERR_WRITE
SYNC_FAILED = sqlite3.SQLITE_IOERR_FSYNC


class NotPossible(Exception):
    """Python's SQLite is no shared library here, so that nothing can be put before its disk."""


_WRITE = c.CFUNCTYPE(c.c_int, c.c_void_p, c.c_void_p, c.c_int, c.c_int64)
_TRUNCATE = c.CFUNCTYPE(c.c_int, c.c_void_p, c.c_int64)
_SYNC = c.CFUNCTYPE(c.c_int, c.c_void_p, c.c_int)
_OPEN = c.CFUNCTYPE(c.c_int, c.c_void_p, c.c_void_p, c.c_void_p, c.c_int, c.POINTER(c.c_int))
_DELETE = c.CFUNCTYPE(c.c_int, c.c_void_p, c.c_char_p, c.c_int)


class _Methods(c.Structure):
    _fields_ = (
        ("version", c.c_int),
        ("close", c.c_void_p),
        ("read", c.c_void_p),
        ("write", c.c_void_p),
        ("truncate", c.c_void_p),
        ("sync", c.c_void_p),
        *((f"other{n}", c.c_void_p) for n in range(13)),
    )


class _File(c.Structure):
    _fields_ = (("methods", c.POINTER(_Methods)),)


class _Vfs(c.Structure):
    _fields_ = (
        ("version", c.c_int),
        ("file_size", c.c_int),
        ("longest_path", c.c_int),
        ("next", c.c_void_p),
        ("name", c.c_char_p),
        ("data", c.c_void_p),
        ("open", c.c_void_p),
        ("delete", c.c_void_p),
        *((f"other{n}", c.c_void_p) for n in range(14)),
    )


class Disk:
    """The disk. Good until `fail_from`; good again after `mend`."""

    def __init__(self) -> None:
        self._lib = _library()
        self._lib.sqlite3_vfs_find.restype = c.POINTER(_Vfs)
        self._base = self._lib.sqlite3_vfs_find(None)
        self._keep: list[object] = []
        self._patched: dict[int, object] = {}
        """By the address of the real table: a copy of it with our functions."""
        self.calls = 0
        self.failed = 0
        self.after_power_loss: dict[Path, bytes] = {}
        """Each file that was opened, as it was when it was last synced."""
        self._paths: dict[int, Path] = {}
        """By the address of SQLite's own file object."""
        self._from: int | None = None
        self._code = FULL
        self._once = False
        self._vfs = self._made()

    def fail_from(self, call: int, code: int, once: bool = False) -> None:
        """Fail the call of that number, counted from now, and all after it unless once."""
        self.calls = self.failed = 0
        self._from, self._code, self._once = call, code, once

    def mend(self) -> None:
        """Work again."""
        self._from = None

    def _faulty(self) -> bool:
        self.calls += 1
        if self._from is None or self.calls < self._from:
            return False
        if self._once and self.failed:
            return False
        self.failed += 1
        return True

    def _made(self) -> _Vfs:
        base = self._base
        vfs = _Vfs()
        c.memmove(c.byref(vfs), base, c.sizeof(_Vfs))
        vfs.name = b"failing"
        real_open = c.cast(base.contents.open, _OPEN)
        real_delete = c.cast(base.contents.delete, _DELETE)

        def opened(_: int, name: int, file: int, flags: int, out: object) -> int:
            code = real_open(c.addressof(base.contents), name, file, flags, out)
            methods = c.cast(file, c.POINTER(_File)).contents
            if code == 0 and methods.methods:
                methods.methods = self._with_faults(methods.methods)
                if name:
                    self._paths[file] = Path(os.fsdecode(c.string_at(name)))
                    self.after_power_loss.setdefault(self._paths[file], b"")
            return int(code)

        def delete(_: int, name: bytes, sync: int) -> int:
            if self._faulty():
                return sqlite3.SQLITE_IOERR_DELETE
            self.after_power_loss.pop(Path(os.fsdecode(name)), None)
            return int(real_delete(c.addressof(base.contents), name, sync))

        for field, kind, function in (("open", _OPEN, opened), ("delete", _DELETE, delete)):
            pointer = kind(function)
            self._keep.append(pointer)
            setattr(vfs, field, c.cast(pointer, c.c_void_p))
        return vfs

    def _with_faults(self, real: object) -> object:
        address = c.addressof(real.contents)  # type: ignore[attr-defined]
        if address in self._patched:
            return self._patched[address]
        copy = _Methods()
        c.memmove(c.byref(copy), address, c.sizeof(_Methods))
        for field, kind in (("write", _WRITE), ("truncate", _TRUNCATE), ("sync", _SYNC)):
            function = c.cast(getattr(copy, field), kind)

            def call(
                *arguments: int, function: object = function, sync: bool = field == "sync"
            ) -> int:
                if self._faulty():
                    # A sync fails with an error of its own.
                    return SYNC_FAILED if sync and self._code == WRITE_FAILED else self._code
                result = int(function(*arguments))  # type: ignore[operator]
                path = self._paths.get(arguments[0])
                if sync and result == 0 and path is not None:
                    self.after_power_loss[path] = path.read_bytes()
                return result

            pointer = kind(call)
            self._keep.append(pointer)
            setattr(copy, field, c.cast(pointer, c.c_void_p))
        self._keep.append(copy)
        self._patched[address] = c.pointer(copy)
        return self._patched[address]

    @contextmanager
    def in_place(self) -> Iterator[Disk]:
        """Be the disk for every file that is opened meanwhile. Close them before the end."""
        self._lib.sqlite3_vfs_register(c.byref(self._vfs), 1)
        self.after_power_loss.clear()
        self._paths.clear()
        try:
            yield self
        finally:
            self.mend()
            self._lib.sqlite3_vfs_register(self._base, 1)
            self._lib.sqlite3_vfs_unregister(c.byref(self._vfs))


def _library() -> c.CDLL:
    """Return the library that Python's sqlite3 uses."""
    import _sqlite3

    try:
        maps = Path("/proc/self/maps").read_text(encoding="utf-8")
        names = {line.split()[-1] for line in maps.splitlines() if "libsqlite3" in line}
    except OSError:
        names = set()
    if len(names) != 1:
        raise NotPossible(f"Python's SQLite is no shared library that can be found: {_sqlite3}")
    library = c.CDLL(names.pop())
    library.sqlite3_libversion.restype = c.c_char_p
    if library.sqlite3_libversion().decode() != sqlite3.sqlite_version:
        raise NotPossible("another SQLite than Python's was found")
    return library


_kept: list[Disk] = []


def disk() -> Disk:
    """Return the disk; one for the process, as a connection may outlive a test."""
    if not _kept:
        _kept.append(Disk())
    return _kept[0]
