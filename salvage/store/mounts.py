"""
Which kind of file system a folder lies on, and whether other computers reach it too.

A database in WAL mode is for the programs of one computer alone: "WAL does not work over a network
filesystem" (SQLite documentation, "Write-Ahead Logging", overview; read in November 2026).
"""

from __future__ import annotations

import re
from pathlib import Path

MOUNTS = Path("/proc/self/mountinfo")
"""Where Linux tells what is mounted; other systems lack it."""

# File systems that other computers, or a host below this one, write to as well; names as in the
# kernel's list and in FUSE subtypes (from memory).
_SHARED = frozenset(
    {
        *("nfs", "nfs4", "cifs", "smb2", "smb3", "smbfs", "9p", "virtiofs", "afs", "ceph"),
        *("lustre", "coda", "gfs2", "ocfs2", "davfs", "vboxsf"),
        *("fuse.sshfs", "fuse.davfs", "fuse.davfs2", "fuse.glusterfs", "fuse.rclone"),
        *("fuse.smbnetfs", "fuse.curlftpfs", "fuse.s3fs"),
    }
)

_OCTAL = re.compile(r"\\([0-7]{3})")


def read_mounts(path: Path = MOUNTS) -> str:
    """The system's list of mounts; empty where it keeps none."""
    try:
        return path.read_text("utf-8", errors="surrogateescape")
    except OSError:
        return ""


def file_system_of(folder: str, mounts: str) -> str:
    """
    The type of the file system that a folder lies on; empty where it is not known.

    Args:
        folder: Absolute, without links.
        mounts: Text in the form of ``/proc/self/mountinfo`` (proc(5)).
    """
    best, kind = "", ""
    for line in mounts.splitlines():
        before, _, after = line.partition(" - ")
        fields = before.split(" ")
        if len(fields) < 5 or not after:
            continue
        point = _OCTAL.sub(lambda match: chr(int(match[1], 8)), fields[4])
        inside = point == "/" or folder == point or folder.startswith(f"{point}/")
        if inside and len(point) >= len(best):  # what was mounted last lies on top
            best, kind = point, after.split(" ")[0]
    return kind


def shared_file_system(folder: Path, mounts: str) -> str:
    """The type of the file system of a folder that other computers reach; empty for a local one."""
    kind = file_system_of(str(folder.resolve()), mounts)
    return kind if kind in _SHARED else ""
