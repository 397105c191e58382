"""H1 and H2: whatever a command of the user's own does, the bell rings."""

from __future__ import annotations

import os

import pytest

from support.outside import HOSTILE, live, misbehaving, ring, told
from tui import hook
from tui.hook import Hook
from tui.notify import clean

pytestmark = pytest.mark.skipif(os.name != "posix", reason="commands are sh")

GAP_S = 0.25
"""50 ms are asked for, and the soak shows them; the rest is for a busy machine."""

SAID = {
    "hang": "busy after",
    "refused": "could not be started",
    "missing": "could not be started",
    "50 MB": "printed more than",
    "50 MB of complaints": "printed more than",
    "fails": "exit status 3",
    "killed": "exit status -9",
    "reads nothing": "exit status 4",
}


@pytest.mark.parametrize("wrong", SAID)
async def test_a_bad_command_is_said_and_keeps_nothing_from_ringing(
    wrong, tmp_path, monkeypatch
):
    monkeypatch.setattr(hook, "LONGEST_S", 0.4)
    outcome = await live(misbehaving(tmp_path)[wrong], tmp_path)
    (said,) = outcome.failures
    assert SAID[wrong] in said
    assert outcome.beeps >= 1
    assert outcome.gap_s <= GAP_S
    assert outcome.took_s <= 6


@pytest.mark.parametrize("text", HOSTILE, ids=range(len(HOSTILE)))
async def test_no_text_reaches_a_shell_or_gets_lost(text, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    seen = 'printf "%s" "$ALERT_ZONE" > zone; printf "%s" "$ALERT_KIND" > kind'
    command = Hook(["/bin/sh", "-c", seen])
    assert await command.run(told(ring(0, text))) is None
    assert (tmp_path / "zone").read_text() == clean(text)
    assert (tmp_path / "kind").read_text() == "window-open"
    assert not (tmp_path / "pwned").exists()
