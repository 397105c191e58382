"""A disk in memory that knows what a power cut would leave of it.

What was written and not synced is pending: a crash keeps any beginning of it, zeros
or garbage in its place, or some of its sectors. What was done to the names in a folder
and not synced is pending too, folder by folder.
"""

from __future__ import annotations

import errno
from contextlib import contextmanager
from dataclasses import dataclass, field
from itertools import product, zip_longest
from pathlib import Path
from random import Random

from scheduling.disk import Disk

SECTOR = 512
CUTS = 40
"""Into how many pieces what is being written is cut."""

FOLDER = -1


class Killed(BaseException):
    """The program was killed; what it wrote stays in the page cache."""


@dataclass
class Node:
    """One file: what is on the disk, and what was done to it since."""

    durable: bytes = b""
    data: bytes = b""
    pending: list = field(default_factory=list)
    changed: int = 0


@dataclass
class Folder:
    """The names in one folder: on the disk, and what was done to them since."""

    durable: dict = field(default_factory=dict)
    names: dict = field(default_factory=dict)
    pending: list = field(default_factory=list)


def _step(names, change):
    for name, node in change:
        if node is None:
            names.pop(name, None)
        else:
            names[name] = node


class MemoryDisk(Disk):
    """Holds one folder and all below it.

    Attributes:
        before: Called with the name of a call and its path before it does anything.
        room: Bytes that can still be written.
        written: Bytes that were written.
    """

    def __init__(self, root=Path("/shop")):
        self.root = root
        self.folders = {root: Folder()}
        self.nodes = {}
        self.handles = {}
        self.before = lambda _call, _path: None
        self.room = 10**9
        self.written = 0
        self.ticks = 0
        self.alive = True
        self.cut_short = False

    def _call(self, call, path):
        if not self.alive:
            raise Killed
        self.before(call, path)
        self.ticks += 1

    def _folder(self, path):
        if path not in self.folders:
            raise FileNotFoundError(errno.ENOENT, "No such file or directory", path)
        return self.folders[path]

    def _change(self, folder, *changes):
        found = self._folder(folder)
        _step(found.names, changes)
        found.pending.append(changes)

    def _node(self, path):
        node = self._folder(path.parent).names.get(path.name)
        if node is None:
            raise FileNotFoundError(errno.ENOENT, "No such file or directory", path)
        return node

    # -- looking

    def stamp(self, path):
        if path == self.root:
            return 0, 0, 0
        found = self.folders.get(path.parent)
        node = found.names.get(path.name) if found else None
        if node is None:
            return None
        if node == FOLDER:
            return len(self.folders[path].pending), 0, FOLDER
        return self.nodes[node].changed, len(self.nodes[node].data), node

    def names(self, folder):
        return sorted(self.folders[folder].names) if folder in self.folders else []

    def read(self, path, offset=0):
        if not self.alive:
            raise Killed
        return self.nodes[self._node(path)].data[offset:]

    def free(self, folder):
        return self.room

    def network(self, folder):
        return ""

    # -- writing

    def open(self, path):
        self._call("open", path)
        names = self._folder(path.parent).names
        if path.name not in names:
            node = 1 + max(self.nodes, default=0)
            self.nodes[node] = Node(changed=self.ticks)
            self._change(path.parent, (path.name, node))
        handle = 1 + max(self.handles, default=0)
        self.handles[handle] = (names[path.name], path)
        return handle

    def size(self, handle):
        return len(self.nodes[self.handles[handle][0]].data)

    def append(self, handle, data):
        node, path = self.handles[handle]
        self._call("append", path)
        if self.cut_short:
            self._append(self.nodes[node], data[: len(data) // 2])
            self.kill()
        fits = data[: max(self.room, 0)]
        self._append(self.nodes[node], fits)
        if len(fits) < len(data):
            raise OSError(errno.ENOSPC, "No space left on device")

    def _append(self, node, data):
        node.data += data
        node.pending.append(("append", data))
        node.changed = self.ticks
        self.room -= len(data)
        self.written += len(data)

    def sync(self, handle):
        node, path = self.handles[handle]
        self._call("sync", path)
        self._sync(self.nodes[node])

    def _sync(self, node):
        node.durable = node.data
        node.pending.clear()

    def truncate(self, handle, size):
        node, path = self.handles[handle]
        self._call("truncate", path)
        found = self.nodes[node]
        self.room += len(found.data) - size
        found.data = found.data[:size]
        found.pending.append(("truncate", size))
        found.changed = self.ticks

    def close(self, handle):
        self.handles.pop(handle, None)

    def replace(self, source, target):
        self._call("replace", target)
        node = self._node(source)
        if source.parent == target.parent:
            self._change(target.parent, (source.name, None), (target.name, node))
        else:
            self._change(target.parent, (target.name, node))
            self._change(source.parent, (source.name, None))

    def unlink(self, path):
        self._call("unlink", path)
        node = self._folder(path.parent).names.get(path.name)
        if node is not None:
            self.room += len(self.nodes[node].data)
            self._change(path.parent, (path.name, None))

    def make_folder(self, path):
        self._call("make_folder", path)
        if path not in self.folders:
            self._change(path.parent, (path.name, FOLDER))
            self.folders[path] = Folder()

    def sync_folder(self, folder):
        self._call("sync_folder", folder)
        found = self._folder(folder)
        found.durable = dict(found.names)
        found.pending.clear()

    @contextmanager
    def alone(self, path):
        if not self.alive:
            raise Killed
        yield

    # -- what happens to it

    def kill(self):
        """Nothing more is done by the program that runs."""
        self.alive = False
        raise Killed

    def survivor(self):
        """The same disk as the next program finds it: nothing has been lost."""
        return self._copy(
            {path: dict(each.names) for path, each in self.folders.items()},
            {number: node.data for number, node in self.nodes.items()},
        )

    def crashes(self, seed=0):
        """Yields the disks that a power cut at this moment may leave."""
        random = Random(seed)
        seen = set()
        for names in self._name_choices():
            there = {
                node
                for path, held in names.items()
                if _reachable(path, self.root, names)
                for node in held.values()
            }
            pending = [n for n in there if n != FOLDER and self.nodes[n].pending]
            for contents in self._content_choices(pending, random):
                left = self._copy(names, contents)
                key = left.fingerprint()
                if key not in seen:
                    seen.add(key)
                    yield left

    def fingerprint(self):
        """The same for two disks with the same names and contents."""
        return tuple(
            (str(path), name, FOLDER if node == FOLDER else self.nodes[node].data)
            for path, held in sorted(self.folders.items())
            for name, node in sorted(held.names.items())
            if not name.endswith(".tmp")
        )

    def _name_choices(self):
        changed = [path for path, each in self.folders.items() if each.pending]
        options = [range(len(self.folders[path].pending) + 1) for path in changed]
        if len(options) > 3:  # else the product grows too large
            options = [(0, len(option) - 1) for option in options]
        for kept in product(*options):
            names = {path: dict(each.durable) for path, each in self.folders.items()}
            for path, count in zip(changed, kept, strict=True):
                for change in self.folders[path].pending[:count]:
                    _step(names[path], change)
            yield names

    def _content_choices(self, pending, random):
        durable = {number: node.durable for number, node in self.nodes.items()}
        yield durable
        yield {number: node.data for number, node in self.nodes.items()}
        for number in pending:
            for content in _variants(self.nodes[number], random):
                yield {**durable, number: content}

    def _copy(self, names, contents):
        left = type(self)(self.root)
        for path, held in names.items():
            if _reachable(path, self.root, names):
                left.folders[path] = Folder(dict(held), dict(held))
        left.nodes = {n: Node(data, data) for n, data in contents.items()}
        left.room = self.room
        return left


def _reachable(path, root, names):
    while path != root:
        if names.get(path.parent, {}).get(path.name) != FOLDER:
            return False
        path = path.parent
    return True


def _variants(node, random):
    """What may be in a file whose last changes were not synced."""
    data = node.durable
    for kind, value in node.pending:
        if kind == "truncate":
            data = data[:value]
            yield data
            continue
        cuts = range(1, len(value), max(1, len(value) // CUTS))
        for cut in {*cuts, len(value) - 1} - {0}:
            yield data + value[:cut]
            yield data + value[:cut] + bytes(len(value) - cut)
        yield data + bytes(len(value))
        for _ in range(4):
            yield data + random.randbytes(len(value) - 1) + b"\n"
        sectors = _sectors(len(data), value)
        for kept in product((True, False), repeat=min(len(sectors), 4)):
            yield data + b"".join(
                part if keep else bytes(len(part))
                for part, keep in zip_longest(sectors, kept, fillvalue=True)
            )
        data += value
        yield data


def _sectors(begin, value):
    first = SECTOR - begin % SECTOR
    return [value[:first]] + [
        value[at : at + SECTOR] for at in range(first, len(value), SECTOR)
    ]


# -- deliberate bugs: each must be caught


class NoSync(MemoryDisk):
    """Never syncs a file."""

    def sync(self, handle):
        self._call("sync", self.handles[handle][1])


class NoFolderSync(MemoryDisk):
    """Never syncs the names in a folder."""

    def sync_folder(self, folder):
        self._call("sync_folder", folder)


class LateSync(MemoryDisk):
    """Acknowledges first and syncs when it is next asked to write something."""

    late = None

    def open(self, path):
        handle = super().open(path)
        if self.late is not None:
            self._sync(self.late)
        return handle

    def sync(self, handle):
        node, path = self.handles[handle]
        self._call("sync", path)
        self.late = self.nodes[node]


class NoTruncate(MemoryDisk):
    """Leaves the torn end of a line where it is."""

    def truncate(self, handle, size):
        self._call("truncate", self.handles[handle][1])


MUTANTS = (NoSync, NoFolderSync, LateSync, NoTruncate)
