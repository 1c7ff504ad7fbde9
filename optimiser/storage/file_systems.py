"""Whether a path lies on a network share, where SQLite cannot keep its promises (its page on write-ahead logging)."""

import os
import re
import subprocess
import sys
from pathlib import Path
from typing import Final

from optimiser.errors import StorageError

_MOUNTS: Final = Path("/proc/self/mounts")

_SHARES: Final = re.compile(
    r"nfs4?|cifs|smb[23]|smbfs|afs|afpfs|ncpfs|coda|ceph|lustre|gpfs|beegfs|ocfs2|gfs2|glusterfs|davfs|webdav|macfuse"
    r"|osxfuse|vboxsf|vmhgfs|prl_fs"
)
"""Types of file system whose files may be written by several machines, or that have no shared memory (from memory)."""

_SHARES_OVER_FUSE: Final = re.compile(
    r"fuse\.(sshfs|rclone|davfs2?|gvfsd-fuse|smbnetfs|curlftpfs|glusterfs|ceph|ceph-fuse|s3fs|gcsfuse|vmhgfs-fuse|mfs)"
)
_MOUNT_LINE: Final = re.compile(r".+ on (?P<point>/.*?) \((?P<kind>[^,)]+)[,)]")
"""A line of `mount` on macOS and the BSDs."""

_REMOTE_DRIVE: Final = 4
"""What Windows calls a drive on another machine (GetDriveType in its documentation)."""


def refuse_share(file: Path) -> None:
    """See that a database may lie there.

    Raises:
        StorageError: the path lies on a network share.
    """
    kind = share_of(file)
    if kind:
        raise StorageError(
            f"{file} lies on a network share ({kind}), where a store can be damaged.",
            "Keep the store on a disk of this machine; several rooms share one by PostgreSQL.",
        )


def share_of(file: Path) -> str:
    """The type of network share that a path lies on, empty on a disk of this machine or where it cannot be told."""
    if os.name == "nt":
        return _share_on_windows(file)
    kind = _kind_at(file, _mounts())
    return kind if _SHARES.fullmatch(kind) or _SHARES_OVER_FUSE.fullmatch(kind) else ""


def _mounts() -> list[tuple[str, str]]:
    """Mount point and type of every file system, those mounted later last."""
    try:
        if sys.platform.startswith("linux"):
            lines = _MOUNTS.read_text(encoding="utf-8", errors="surrogateescape").splitlines()
            return [(_unescaped(parts[1]), parts[2]) for line in lines if len(parts := line.split(" ")) > 2]
        said = subprocess.run(["/sbin/mount"], capture_output=True, text=True, timeout=5, check=False).stdout
    except (OSError, subprocess.SubprocessError):
        return []
    return [(line["point"], line["kind"]) for line in map(_MOUNT_LINE.match, said.splitlines()) if line]


def _kind_at(file: Path, mounts: list[tuple[str, str]]) -> str:
    path = os.path.realpath(file)
    above = [(point, kind) for point, kind in mounts if path == point or path.startswith(point.rstrip("/") + "/")]
    deepest = max((len(point) for point, _ in above), default=0)
    return next((kind for point, kind in reversed(above) if len(point) == deepest), "")


def _unescaped(point: str) -> str:
    """Blanks, tabs, line ends and backslashes stand there as octal numbers (the manual of fstab)."""
    return re.sub(r"\\([0-7]{3})", lambda found: chr(int(found[1], 8)), point)


def _share_on_windows(file: Path) -> str:
    import ctypes

    drive = os.path.splitdrive(os.path.realpath(file))[0]
    if drive.startswith("\\\\"):
        return "network path"
    windll = getattr(ctypes, "windll", None)
    remote = windll is not None and windll.kernel32.GetDriveTypeW(f"{drive}\\") == _REMOTE_DRIVE
    return "network drive" if remote else ""
