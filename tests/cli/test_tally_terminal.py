"""A tally in real terminals: keys, bells, kills, and the console of Windows as far as it can be told from here."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from fecallab.cli.tally_draft import drafts_in
from fecallab.cli.tally_keys import NEXT_FIELD, NO_KEY
from fecallab.cli.tally_windows import WindowsKeys, number_key

from .asking import take_the_terminal

# Windows, as far as it can be told from here


class Console:
    """What ``msvcrt`` hands over."""

    def __init__(self, typed):
        self.typed = list(typed)

    def getwch(self):
        return self.typed.pop(0)


def test_the_windows_console_hands_over_the_same_keys(capsys):
    german = {"!": ("1", True), "(": ("8", True), "&": ("6", True)}.get
    typed = ["1", " ", "\r", "\x08", "\xe0", "K", "Q", "(", "ü", "\x1b"]
    keys = WindowsKeys(sys.stderr, Console(typed), german, quiet=True)
    found = [keys.key() for _ in range(9)]
    assert found == ["1", NEXT_FIELD, NEXT_FIELD, "back", NO_KEY, "q", "shift-8", "ü", "cancel"]
    with pytest.raises(KeyboardInterrupt):
        WindowsKeys(sys.stderr, Console("\x03"), quiet=True).key()


def test_a_french_keyboard_counts_without_shift():
    assert number_key(0x0031) == ("1", False)  # & on that keyboard
    assert number_key(0x0131) == ("1", True)
    assert number_key(0x0639) is None  # with AltGr


# A real terminal


def pseudo_terminal():
    """Return the module for pseudo terminals, or skip: only Unix has them."""
    try:
        import pty
    except ImportError:
        if os.environ.get("FECALLAB_CI") == "1":
            pytest.fail("no pseudo terminals here")
        pytest.skip("no pseudo terminals on this system")
    return pty


class Window:
    """The program in a terminal window of 80 by 24."""

    def __init__(self, *words, term="xterm"):
        import fcntl
        import struct
        import termios

        self.ours, theirs = pseudo_terminal().openpty()
        fcntl.ioctl(theirs, termios.TIOCSWINSZ, struct.pack("HHHH", 24, 80, 0, 0))
        root = Path(__file__).resolve().parents[2]
        environment = {k: v for k, v in os.environ.items() if k not in ("COLUMNS", "LINES")}
        environment |= {"TERM": term, "PYTHONPATH": str(root), "PYTHONIOENCODING": "utf-8"}
        self.program = subprocess.Popen(
            [sys.executable, "-m", "fecallab.cli.main", "exam", "tally", *words],
            stdin=theirs,
            stdout=theirs,
            stderr=theirs,
            env=environment,
            start_new_session=True,
            preexec_fn=take_the_terminal,
        )
        os.close(theirs)
        self.seen = ""

    def until(self, text, seconds=30):
        """Read on until the window shows a text."""
        import select

        end = time.monotonic() + seconds
        start = len(self.seen)
        while text not in self.seen[start:]:
            ready = select.select([self.ours], [], [], max(0, end - time.monotonic()))[0]
            assert ready, f"{text!r} did not come; last: {self.seen[-1500:]}"
            try:
                piece = os.read(self.ours, 65536)
            except OSError:
                piece = b""
            if not piece:
                assert text in self.seen[start:], self.seen[-1500:]
                break
            self.seen += piece.decode("utf-8", errors="replace")
        return self

    def until_bells(self, number, seconds=30):
        """Read on until so many bells were rung in all."""
        while self.seen.count("\a") < number:
            self.until("\a", seconds)
        return self

    def press(self, keys):
        os.write(self.ours, keys.encode())
        return self

    def frame(self):
        """Return the lines of the last whole screen."""
        last = self.seen.split("\x1b[H")[-1].split("\x1b[J")[0]
        return last.replace("\x1b[K", "").replace("\a", "").replace("\r", "").split("\n")

    def ended(self):
        import select

        while select.select([self.ours], [], [], 10)[0]:
            try:
                piece = os.read(self.ours, 65536)
            except OSError:
                break
            if not piece:
                break
            self.seen += piece.decode("utf-8", errors="replace")
        return self.program.wait(20)

    def close(self):
        if self.program.poll() is None:
            self.program.kill()
            self.program.wait(20)
        os.close(self.ours)


@pytest.fixture
def window():
    opened = []

    def open_window(*words, **more):
        opened.append(Window(*words, **more))
        return opened[-1]

    yield open_window
    for one in opened:
        one.close()


def test_keys_in_a_real_terminal_are_counted_shown_and_recorded(window, do, preparation):
    win = window(preparation, "--objective", "10", "--field-number", "20").until("q finish")
    win.press("1").until("field 1: coccidian").press("2u1 ").until("FIELD 2").press(" ").until("FIELD 3")
    frame = win.frame()
    assert len(frame) <= 24 and max(map(len, frame)) <= 79
    assert "\x1b[3" not in win.seen.replace("\x1b[3J", "")  # no colour
    assert win.seen.count("\a") >= 1
    win.press("q").until("To be recorded").press("\r").until("Recorded.")
    assert win.ended() == 0
    readings = do("exam", "show", "E1")["exam"]["preparations"][0]["readings"]
    assert [r["counts"] for r in readings] == [{"coccidian": 1, "oxyurid": 1}, {}]
    assert [r["unsure"] for r in readings] == [{"coccidian": 1}, {}]


def test_the_bell_rings_once_for_a_count_twice_for_a_field_and_never_when_quiet(window, preparation):
    words = (preparation, "--objective", "10", "--field-number", "20")
    win = window(*words).until("q finish")
    win.press("1").until_bells(1).press(" ").until_bells(3).press("r").until(
        "nothing to do again"
    ).until_bells(7)
    win.press("?").until("Enter is the next field too")
    assert win.seen.count("\a") == 7
    win.program.kill()
    quiet = window("--resume", "--quiet").until("q finish")
    quiet.press("1 1 ").until("FIELD 4")
    assert "\a" not in quiet.seen


def test_killed_in_mid_tally_nothing_is_lost(window, do, folder, preparation):
    win = window(preparation, "--objective", "10", "--field-number", "20").until("q finish")
    win.press("11 2u2 s1").until("sweep: coccidian")
    os.kill(win.program.pid, signal.SIGKILL)
    win.program.wait(20)
    assert do("exam", "show", "E1")["exam"]["preparations"][0]["readings"] == []
    again = window("--resume").until("q finish")
    assert "SWEEP" in again.frame()[0]
    again.press("s").until("Share of the glass").press("0.25\r").until("Sweep finished")
    again.press("\x7f").until("Undone").press("r").until("Done again")
    again.press("q").until("To be recorded").press("\r").until("Recorded.")
    assert again.ended() == 0
    readings = do("exam", "show", "E1")["exam"]["preparations"][0]["readings"]
    assert [(r["kind"], r["cover_share"], r["counts"]) for r in readings] == [
        ("field", None, {"coccidian": 2}),
        ("field", None, {"oxyurid": 1}),
        ("sweep", 0.25, {"coccidian": 1}),
    ]
    assert readings[1]["unsure"] == {"oxyurid": 1}
    assert not drafts_in(folder)


def test_ctrl_c_gives_the_terminal_back_and_keeps_the_draft(window, folder, preparation):
    win = window(preparation, "--objective", "10", "--field-number", "20").until("q finish")
    win.press("1").until("field 1: coccidian").press("\x03").until("--resume")
    assert win.ended() == 130
    assert win.seen.rindex("\x1b[?1049l") > win.seen.rindex("\x1b[H")
    assert drafts_in(folder)[0].course.now.total() == 1


def test_arrows_and_other_keys_count_nothing(window, folder, preparation):
    win = window(preparation, "--objective", "10", "--field-number", "20").until("q finish")
    win.press("\x1b[A").until("That is no key here").press("\x1b[15~").until("That is no key here")
    win.press("ä").until("That is no key here").press("\x1bOq").until("field 1: coccidian")  # number pad 1
    assert drafts_in(folder)[0].course.now.total() == 1


def test_a_dumb_terminal_is_asked_for_lines(window, preparation):
    win = window(preparation, "--objective", "10", "--field-number", "20", term="dumb").until("> ")
    win.press("1 1 2\r").until("Now: field 2")
    assert "\x1b[H" not in win.seen
