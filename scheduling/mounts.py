"""Whether a folder lies on this machine's disk or on the network's."""

from __future__ import annotations

import re
from pathlib import Path

MOUNTS = Path("/proc/mounts")

_NETWORK = re.compile(
    r"nfs\d*|cifs|smb\d*|smbfs|afpfs|fuse\.(sshfs|smbnetfs|davfs)|davfs"
)
_ESCAPE = re.compile(r"\\([0-7]{3})")


def network_file_system(folder: Path, mounts: Path = MOUNTS) -> str:
    """The kind of network file system a folder lies on, such as ``nfs4``.

    Args:
        folder: It need not exist.
        mounts: What is mounted where, as Linux tells it.

    Returns:
        "" for a disk of this machine, and where the system does not tell.
    """
    try:
        lines = mounts.read_text(encoding="utf-8", errors="replace").splitlines()
        path = folder.resolve()
    except OSError:
        return ""
    kind, depth = "", 0
    for line in lines:
        _, point, found, *_ = [*line.split(" "), "", "", ""]
        place = Path(_ESCAPE.sub(lambda octal: chr(int(octal[1], 8)), point))
        # The deepest counts, and of two at one place the later: it hides the other.
        if path.is_relative_to(place) and len(place.parts) >= depth:
            kind, depth = found, len(place.parts)
    return kind if _NETWORK.fullmatch(kind) else ""


def on_network(folder: Path, kind: str) -> str:
    """Says why nothing is written on a network file system, and what to do."""
    return (
        f"{folder} is on the network ({kind}), where neither a lock nor a sync can be "
        "relied on, so that nothing is written there. Keep the shop folder on a disk "
        "of this machine: --shop or POURBELL_SHOP names it"
    )
