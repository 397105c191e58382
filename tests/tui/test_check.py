"""``pourbell check``: what it finds, what it says to do, and when it says no."""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from scheduling import diskprobe
from scheduling.clock import SimulatedTime
from scheduling.disk import Disk
from scheduling.diskprobe import disk_findings, disk_trouble, sync_times
from scheduling.errors import LogFault
from scheduling.integrity import log_files
from scheduling.log import Log
from scheduling.mounts import network_file_system
from scheduling.shop import Bells
from support.logs import event, first_version
from tui import cli, surroundings
from tui.surroundings import bell_findings, terminal_findings


@pytest.fixture
def check(folder, capsys, monday):
    """Runs the verb with ``--json``; its status and its findings."""

    def run(*words):
        capsys.readouterr()
        argv = ["--shop", str(folder.path), "check", "--json", *words]
        status = cli.main(argv, time=SimulatedTime(monday))
        out = capsys.readouterr().out
        shown = json.loads(out) if out else {}
        return status, {each["about"]: each for each in shown.get("findings", [])}

    return run


@pytest.fixture
def poured(folder, open_session, jobs):
    """A shop with an open pour of five events and one that is over."""
    session = open_session(folder)
    over = session.start(jobs["potting-bench-slab"])
    session.put_away(over)
    session.settle(over)
    name = session.start(jobs["bare"])
    for number in range(4):
        session.note(name, f"note {number}")
        session.settle(name)
    return session, name, over


def journal(session, name):
    return session.folder.log / "live" / f"{name}.jnl"


def damage(session, name):
    path = journal(session, name)
    path.write_bytes(path.read_bytes().replace(b"note 1", b"note 7"))
    return path


class TestFolder:
    def test_all_is_well_and_nothing_is_left_behind(self, check, poured):
        session, _, _ = poured
        session.log.index()
        before = {path: path.read_bytes() for path in files(session.folder.path)}
        status, found = check()
        assert status == 0
        assert {each["standing"] for each in found.values()} <= {"ok", "look"}
        parts = ["files", "log", "disk", "bells", "terminal", "program"]
        assert list(dict.fromkeys(each["part"] for each in found.values())) == parts
        assert found["pours"]["found"].startswith("2 of 2 can be read")
        assert found["pours"]["found"].endswith(": 7")
        assert found["index.json"]["found"] == "agrees with the pours"
        assert found["sync"]["p95_ms"] >= found["sync"]["p50_ms"] > 0
        assert found["room"]["free_bytes"] > 0
        assert {
            path: path.read_bytes() for path in files(session.folder.path)
        } == before

    def test_an_empty_folder_is_no_fault_and_stays_empty(self, tmp_path, capsys):
        assert cli.main(["--shop", str(tmp_path / "new"), "check"]) == 0
        assert "no pour has been marked yet" in capsys.readouterr().out
        assert not (tmp_path / "new").exists()

    def test_a_wrong_file_is_a_fault_with_every_word_of_it(self, check, folder):
        (folder.jobs / "bad.toml").write_text("piece = 3\n")
        (folder.jobs / "other.toml").write_text('mix = "M9"\n[slab]\n')
        folder.shop_file.write_text("name = 7\n")
        status, found = check()
        assert status == 1
        for about in ("shop.toml", "jobs/bad.toml", "jobs/other.toml"):
            assert found[about]["standing"] == "fault"
            assert found[about]["do"]
        assert "name" in found["shop.toml"]["found"]

    def test_damage_is_shown_with_its_line_and_the_way_out(self, check, poured):
        session, name, _ = poured
        path = damage(session, name)
        status, found = check()
        assert status == 1
        assert found[name]["standing"] == "fault"
        assert f"{path} is damaged (line 3 at byte " in found[name]["found"]
        assert found[name]["do"].endswith(f"pourbell check --set-aside {name}")

    def test_and_setting_it_aside_is_that_way(self, check, poured, capsys):
        session, name, _ = poured
        path = damage(session, name)
        raw = path.read_bytes()
        words = ["--shop", str(session.folder.path), "check", "--set-aside", "bare"]
        assert cli.main(words) == 0
        said = " ".join(capsys.readouterr().out.split())
        kept = path.with_name(f"{path.name}.damaged")
        assert "goes on with the 4 events that can be read" in said
        assert str(kept) in said.replace(" ", "")  # a long path may be broken
        assert kept.read_bytes() == raw
        status, found = check()
        assert status == 0
        assert name not in found
        assert found[kept.name]["standing"] == "look"
        Log(session.folder.log).append(event(1, pour=name))

    def test_what_is_not_damaged_is_left_alone(self, poured, capsys):
        session, name, _ = poured
        raw = journal(session, name).read_bytes()
        words = ["--shop", str(session.folder.path), "check", "--set-aside", name]
        assert cli.main(words) == 0
        assert "nothing was done" in capsys.readouterr().out
        assert journal(session, name).read_bytes() == raw
        assert cli.main([*words[:-1], "unknown"]) == 2

    def test_a_sealed_file_with_another_byte_is_a_fault(self, check, poured):
        session, _, over = poured
        (path,) = session.folder.log.glob(f"archive/*/{over}.json")
        path.write_bytes(path.read_bytes().replace(b"sealed", b"sealeD", 1))
        status, found = check()
        assert status == 1
        assert "not as it was sealed" in found[over]["found"]
        assert found[over]["do"].startswith("put a good copy in its place")

    def test_another_schema_is_a_fault(self, check, poured):
        session, _, _ = poured
        path = session.folder.log / "old.0101.json"
        path.write_text('{"about": {"1": {"schema": 7}}, "events": {}}')
        status, found = check()
        assert status == 1
        assert "has schema 7" in found["old.0101"]["found"]
        assert "version" in found["old.0101"]["do"]

    def test_leftovers_are_told_and_are_no_fault(self, check, poured):
        session, name, _ = poured
        log = session.folder.log
        with journal(session, name).open("ab") as file:
            file.write(b"half a line")
        (log / "live" / f"{name}.jnl.torn-99").write_bytes(b"x")
        (log / "live" / "Strange.jnl").write_bytes(b"x")
        (log / "live" / ".slab.tmp").write_bytes(b"x")
        (log / "slab.0401.json").write_text(first_version([event(1)]))
        (log / "index.json").unlink(missing_ok=True)
        (log / ".ballast").unlink()
        status, found = check()
        assert status == 0
        assert "half a line of 11 bytes" in found[name]["found"]
        looks = (f"{name}.jnl.torn-99", "Strange.jnl", "scraps", "reserve", "slab.0401")
        for about in looks:
            assert found[about]["standing"] == "look", about
            assert found[about]["do"], about
        assert "carries them over" in found["first version"]["found"]
        assert "was not there" in found["index.json"]["found"]

    def test_an_index_that_says_something_else_is_made_anew(self, check, poured):
        session, _, _ = poured
        right = session.log.index()
        path = session.folder.log / "index.json"
        path.write_text(path.read_text().replace('"events": 2', '"events": 3'))
        assert Log(session.folder.log).index() != right
        status, found = check()
        assert status == 0
        assert "was not right" in found["index.json"]["found"]
        assert Log(session.folder.log).index() == right

    def test_for_people_it_fits_80_columns(self, poured, capsys, monkeypatch):
        session, name, _ = poured
        damage(session, name)
        monkeypatch.setenv("COLUMNS", "80")
        assert cli.main(["--shop", str(session.folder.path), "check"]) == 1
        out = capsys.readouterr().out
        paths = str(session.folder.path)
        assert max(len(line) for line in out.splitlines() if paths not in line) <= 80
        assert f"  FAULT  {name}: " in out
        assert "         -> " in out
        assert out.rstrip().splitlines()[-1].startswith("faults: 1; worth a look: ")


def files(folder):
    return [path for path in folder.rglob("*") if path.is_file()]


class TestDisk:
    def test_twenty_syncs_are_timed_and_the_scratch_file_is_gone(self, tmp_path):
        synced = []

        class Counting(Disk):
            def sync(self, handle):
                synced.append(handle)
                super().sync(handle)

        times = sync_times(tmp_path, Counting())
        assert len(synced) == 20
        assert 0 < times.p50_ms <= times.p95_ms
        assert list(tmp_path.iterdir()) == []

    @pytest.fixture
    def slow(self, monkeypatch):
        """A disk on which every sync takes 150 ms by the watch."""
        seconds = [0.0]

        class Slow(Disk):
            def sync(self, _handle):
                seconds[0] += 0.15

        monkeypatch.setattr(diskprobe, "stopwatch_s", lambda: seconds[0])
        return Slow()

    def test_a_slow_disk_is_said(self, tmp_path, slow):
        assert sync_times(tmp_path, slow).slow
        assert "within 150 ms" in disk_trouble(tmp_path, slow)
        found = {each.about: each for each in disk_findings(tmp_path, tmp_path, slow)}
        assert found["sync"].standing == "look"
        assert found["sync"].do

    def test_a_disk_that_refuses_is_said_by_the_check(self, tmp_path):
        class ReadOnly(Disk):
            def open(self, _path):
                raise PermissionError(13, "Permission denied")

        assert disk_trouble(tmp_path, ReadOnly()) == ""
        found = list(disk_findings(tmp_path, tmp_path, ReadOnly()))
        assert any("nothing can be written" in each.found for each in found)
        assert all(each.standing != "fault" for each in found)

    def test_a_full_disk_is_said(self, tmp_path, monkeypatch):
        monkeypatch.setattr(Disk, "free", lambda *_: 20_000_000)
        found = {each.about: each for each in disk_findings(tmp_path, tmp_path, Disk())}
        assert (found["room"].standing, found["room"].found) == ("look", "20 MB free")

    @pytest.mark.parametrize(
        ("folder", "kind"),
        [
            *(("/srv/shop", ""), ("/home/ines/pourbell", "nfs4"), ("/mnt", "")),
            *(("/mnt/our shop/log", "cifs"), ("/mnt/far/x", "fuse.sshfs")),
            *(("/home/local", ""), ("/homes", ""), ("/w", "smb3")),
        ],
    )
    def test_the_deepest_mount_tells_whose_disk_it_is(self, tmp_path, folder, kind):
        mounts = tmp_path / "mounts"
        mounts.write_text(
            "/dev/sda1 / ext4 rw 0 0\nserver:/home /home nfs4 rw 0 0\n"
            "/dev/sdb1 /home/local ext4 rw 0 0\n//box/s /mnt/our\\040shop cifs rw 0 0\n"
            "me@far: /mnt/far fuse.sshfs rw 0 0\n/dev/sdc /w ext4 rw 0 0\n"
            "//box/w /w smb3 rw 0 0\nodd\n"
        )
        assert network_file_system(Path(folder), mounts) == kind
        assert network_file_system(Path(folder), tmp_path / "none") == ""

    def test_on_the_network_nothing_is_written_and_all_is_read(self, poured):
        session, name, over = poured

        class Far(Disk):
            def network(self, _folder):
                return "nfs4"

        log = Log(session.folder.log, Far())
        assert len(log.events(name)) == 5
        assert len(log.events(over)) == 2
        for act in (lambda: log.append(event(1, pour=name)), lambda: log.seal(name)):
            with pytest.raises(LogFault, match=r"NOT SAVED: .*network \(nfs4\)"):
                act()
        assert len(Log(session.folder.log).events(name)) == 5
        assert "--shop" in disk_trouble(session.folder.log, Far())
        (place, *_) = disk_findings(session.folder.path, session.folder.log, Far())
        assert place.standing == "look"
        assert "--shop" in place.do
        assert {each.standing for each in log_files(session.folder, Far())} == {"ok"}


class TestBells:
    def found(self, bells, command=(), env=None):
        found = bell_findings(bells, command, env or {})
        return {each.about: each for each in found}

    def test_no_player_and_no_keeper_are_worth_a_look(self, monkeypatch):
        monkeypatch.setattr(shutil, "which", lambda _name: None)
        found = self.found(Bells())
        assert found["sound"].standing == found["awake"].standing == "look"
        assert found["sound"].do
        assert found["awake"].do
        assert self.found(Bells(sound=False))["sound"].standing == "ok"

    def test_what_is_there_is_named(self, monkeypatch):
        monkeypatch.setattr(shutil, "which", lambda name: f"/usr/bin/{name}")
        found = self.found(Bells(), ("siren", "on"))
        assert {each.standing for each in found.values()} == {"ok"}
        assert found["command"].found == "runs /usr/bin/siren"

    def test_a_command_that_cannot_be_run_is_worth_a_look(self, tmp_path):
        plain = tmp_path / "siren"
        assert "is not there" in self.found(Bells(), (str(plain),))["command"].found
        plain.write_text("x")
        found = self.found(Bells(), (str(plain),))["command"]
        assert "is not executable" in found.found
        assert found.standing == "look"

    def test_a_tmux_that_keeps_the_bell_to_itself(self, tmp_path, monkeypatch):
        tmux = tmp_path / "tmux"
        tmux.write_text('#!/bin/sh\n[ "$3" = visual-bell ] && echo on\n')
        tmux.chmod(0o755)
        monkeypatch.setenv("PATH", f"{tmp_path}{os.pathsep}{os.environ['PATH']}")
        found = self.found(Bells(), env={"TMUX": "x"})["terminal bell"]
        assert (found.standing, found.do) == ("look", "tmux set -g visual-bell off")
        tmux.write_text("#!/bin/sh\n")
        assert self.found(Bells(), env={"TMUX": "x"})["terminal bell"].standing == "ok"
        off = self.found(Bells(terminal=False))["terminal bell"]
        assert "off" in off.found


class TestTerminal:
    @pytest.fixture(autouse=True)
    def screen(self, monkeypatch):
        monkeypatch.setattr(surroundings, "_size", lambda: os.terminal_size((80, 24)))

    def found(self, **env):
        return {each.about: each for each in terminal_findings(env)}

    def test_a_good_one(self):
        found = self.found(TERM="xterm-256color", COLORTERM="truecolor")
        standing = {about: each.standing for about, each in found.items()}
        standing.pop("letters")  # the machine's own
        assert set(standing.values()) == {"ok"}
        assert found["colours"].found == "16 million"

    def test_too_small(self, monkeypatch):
        monkeypatch.setattr(surroundings, "_size", lambda: os.terminal_size((79, 24)))
        assert self.found(TERM="xterm")["size"].standing == "look"

    def test_none_at_all(self, monkeypatch):
        monkeypatch.setattr(surroundings, "_size", lambda: None)
        assert list(self.found(TERM="xterm")) == ["terminal"]

    @pytest.mark.parametrize(
        ("env", "standing", "words"),
        [
            ({"SSH_TTY": "/dev/pts/1"}, "look", "without tmux"),
            ({"SSH_TTY": "/dev/pts/1", "TMUX": "x"}, "ok", "over ssh"),
            ({"SSH_CONNECTION": "x", "STY": "x"}, "ok", "over ssh"),
            ({}, "ok", "this machine"),
        ],
    )
    def test_over_ssh_it_wants_tmux(self, env, standing, words):
        found = self.found(TERM="xterm", **env)["connection"]
        assert found.standing == standing
        assert words in found.found

    def test_colours_letters_and_keys(self, monkeypatch):
        assert "NO_COLOR" in self.found(NO_COLOR="1", TERM="dumb")["colours"].found
        assert self.found(TERM="dumb")["colours"].standing == "look"
        assert self.found()["colours"].standing == "look"
        assert "256" in self.found(TERM="xterm-256color")["colours"].found
        monkeypatch.setattr(surroundings.locale, "getencoding", lambda: "ISO-8859-1")
        assert self.found(TERM="xterm")["letters"].standing == "look"

    def test_a_terminal_without_f12_says_how_else(self):
        """In processes of their own: curses takes one description for good."""
        code = "from tui.surroundings import _knows_f12; print(_knows_f12({!r}))"
        known = {
            term: subprocess.run(
                [sys.executable, "-c", code.format(term)],
                capture_output=True,
                text=True,
                check=True,
                cwd=Path(__file__).parents[2],
            ).stdout.strip()
            for term in ("xterm-256color", "dumb", "no-such-terminal")
        }
        assert known == {
            "xterm-256color": "True",
            "dumb": "False",
            "no-such-terminal": "False",
        }
