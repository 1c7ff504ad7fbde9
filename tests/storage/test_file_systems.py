"""A store in a file is refused on a network share, with one line; on a disk of this machine nothing is in its way."""

from pathlib import Path

import pytest

from optimiser.errors import StorageError
from optimiser.storage import file_systems, open_store
from optimiser.storage.file_systems import share_of

LOCAL = ["ext4", "xfs", "btrfs", "tmpfs", "overlay", "zfs", "vfat", "exfat", "fuseblk", "fuse.ntfs-3g", "apfs"]
SHARES = ["nfs", "nfs4", "cifs", "smb3", "fuse.sshfs", "fuse.rclone", "afs", "fuse.gvfsd-fuse", "ceph"]


@pytest.fixture
def mounted(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A table of mounts as the manual of fstab has it, in which a folder of ours can be given any type."""
    table = tmp_path / "mounts"
    monkeypatch.setattr(file_systems, "_MOUNTS", table)
    monkeypatch.setattr("sys.platform", "linux")
    return table


def mount(table: Path, point: Path, kind: str) -> None:
    escaped = str(point).replace("\\", "\\134").replace(" ", "\\040")
    table.write_text(f"/dev/vda / ext4 rw 0 0\nproc /proc proc rw 0 0\nnas:/x {escaped} {kind} rw,vers=4.2 0 0\n")


@pytest.mark.parametrize("kind", SHARES)
def test_a_store_on_a_network_share_is_refused_and_not_made(tmp_path: Path, mounted: Path, kind: str) -> None:
    share = tmp_path / "nas of the studio"
    share.mkdir()
    mount(mounted, share, kind)
    with pytest.raises(StorageError, match="network share") as caught:
        open_store(str(share / "studies.db"))
    assert kind in caught.value.message
    assert "PostgreSQL" in caught.value.hint
    assert "\n" not in str(caught.value)
    assert list(share.iterdir()) == []


@pytest.mark.parametrize("kind", LOCAL)
def test_a_store_on_a_disk_of_this_machine_is_made(tmp_path: Path, mounted: Path, kind: str) -> None:
    mount(mounted, tmp_path, kind)
    open_store(str(tmp_path / "studies.db")).close()


def test_the_deepest_mount_counts_the_newest_of_two_and_no_mere_likeness_of_names(
    tmp_path: Path, mounted: Path
) -> None:
    for name in ("share", "shared", "share/disk"):
        (tmp_path / name).mkdir()
    line = "nas:/x {} {} rw 0 0\n"
    share, disk = tmp_path / "share", tmp_path / "share" / "disk"
    mounted.write_text(line.format("/", "ext4") + line.format(share, "nfs4") + line.format(disk, "ext4"))
    assert share_of(share / "a.db") == "nfs4"
    assert share_of(tmp_path / "shared" / "a.db") == ""
    assert share_of(disk / "a.db") == ""
    mounted.write_text(mounted.read_text() + line.format(disk, "cifs"))
    assert share_of(disk / "a.db") == "cifs"


def test_a_link_to_a_share_leads_to_the_share(tmp_path: Path, mounted: Path) -> None:
    (tmp_path / "share").mkdir()
    (tmp_path / "here").symlink_to(tmp_path / "share")
    mount(mounted, tmp_path / "share", "nfs4")
    assert share_of(tmp_path / "here" / "a.db") == "nfs4"


def test_where_the_table_of_mounts_cannot_be_read_nothing_is_refused(tmp_path: Path, mounted: Path) -> None:
    assert not mounted.exists()
    assert share_of(tmp_path / "a.db") == ""


def test_what_mount_says_on_other_systems_is_understood(monkeypatch: pytest.MonkeyPatch) -> None:
    """Lines as macOS prints them (from memory)."""
    said = "/dev/disk3s1 on / (apfs, local, journaled)\n//me@nas/music on /Volumes/My Music (smbfs, nodev, nosuid)\n"

    class Said:
        stdout = said

    monkeypatch.setattr("sys.platform", "darwin")
    monkeypatch.setattr("subprocess.run", lambda *_, **__: Said)
    assert share_of(Path("/Volumes/My Music/a.db")) == "smbfs"
    assert share_of(Path("/Users/me/a.db")) == ""
