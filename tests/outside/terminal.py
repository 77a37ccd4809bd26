"""Runs commands on a pseudo-terminal and compares what a person would see."""

import codecs
import fcntl
import json
import os
import pty
import re
import select
import signal
import struct
import subprocess
import sys
import termios
import time

PROGRAM, FOLDER = sys.argv[1], sys.argv[2]
BOOK = os.path.join(FOLDER, "book")
ESCAPE = re.compile(r"\x1b\[[0-9;]*[A-Za-z]")
COLOUR = re.compile(r"\x1b\[[0-9;]*m")
# What a person's terminal has not set, wherever this runs.
UNSET = ("CI", "CLICOLOR", "CLICOLOR_FORCE", "COLUMNS", "NO_COLOR", "TERM")


class Terminal:
    """A command on a terminal of its own."""

    def __init__(self, *arguments, columns=80, **environment):
        self.seen = ""
        # A piece may end in the middle of a character.
        self.text = codecs.getincrementaldecoder("utf-8")()
        self.pid, self.end = pty.fork()
        if self.pid == 0:
            # Who runs this in the background has Ctrl-C ignored; a person at a terminal has not.
            signal.signal(signal.SIGINT, signal.SIG_DFL)
            plain = {name: value for name, value in os.environ.items() if name not in UNSET}
            os.execve(PROGRAM, [PROGRAM, "--store", BOOK, *arguments], {**plain, "TERM": "xterm-256color", **environment})
        fcntl.ioctl(self.end, termios.TIOCSWINSZ, struct.pack("HHHH", 40, columns, 0, 0))

    def read_until(self, wanted=None, seconds=60):
        """Reads until the text is there, or until the command ends."""
        until = time.monotonic() + seconds
        while time.monotonic() < until:
            if wanted and wanted in self.seen:
                return
            if select.select([self.end], [], [], 0.1)[0]:
                try:
                    more = os.read(self.end, 65536)
                except OSError:  # how Linux says that the other end is closed
                    more = b""
                if not more:
                    break
                self.seen += self.text.decode(more)
        if wanted and wanted not in self.seen:
            sys.exit(f"{wanted!r} was not seen in {self.seen!r}")

    def ended(self):
        self.read_until()
        return os.waitstatus_to_exitcode(os.waitpid(self.pid, 0)[1])


def expect(holds, what, seen=""):
    if not holds:
        sys.exit(f"not so: {what}\n{seen}")
    print(f"   {what}")


def shown(*arguments, **options):
    terminal = Terminal(*arguments, **options)
    code = terminal.ended()
    return code, terminal.seen


FIND = ("find", "--head", "hexagon", "--as", "table")
_, in_colour = shown(*FIND)
expect(COLOUR.search(in_colour), "a terminal gets colour or weight", in_colour)
for said in ({"NO_COLOR": "1"}, {"TERM": "dumb"}, {"TERM": "dumb", "CI": "true"}, {"TERM": "dumb", "CLICOLOR": "1"}):
    words = " ".join(f"{name}={value}" for name, value in said.items())
    code, plain = shown(*FIND, **said)
    expect(code == 0 and "\x1b" not in plain, f"with {words} there is no escape sequence", plain)
    expect(plain == ESCAPE.sub("", in_colour), f"with {words} the words are the same", plain)
    _, help = shown("find", "--help", **said)
    expect("--head" in help and "\x1b" not in help, f"with {words} the help has none either", help)

for columns in (60, 100):
    _, narrow = shown("find", "--thread", "M8", columns=columns)
    longest = max(len(line) for line in ESCAPE.sub("", narrow).splitlines())
    expect(longest <= columns, f"on {columns} columns no line is longer ({longest})", narrow)

follow = Terminal("log", "--follow", "--since", "0")
follow.read_until("skua.")
os.kill(follow.pid, signal.SIGINT)
# A shell says 130 of both.
expect(follow.ended() in (130, -signal.SIGINT), "Ctrl-C ends a command that waits, with 130", follow.seen)

many = os.path.join(FOLDER, "many.ndjson")
with open(many, "w", encoding="utf-8") as lines:
    for i in range(6000):
        record = {"kind": "fastener", "id": f"skua.store.bin-{i // 50}.bolt-{i % 50}", "joint": f"skua.store.bin-{i // 50}",
                  "head": "hexagon", "thread": "M8", "property_class": "8.8", "stages": ["20 N·m"]}
        lines.write(json.dumps(record, ensure_ascii=False) + "\n")
code, told = shown("import", many, "--as", "table")
expect(code == 0 and "…" in told, "a long import says how far it is", told)
expect("…" not in told.rsplit("\x1b[K", 1)[1] and "6000" in told, "and takes the line away at the end", told)
code, told = shown("import", many, "--as", "table", TERM="dumb")
expect("\x1b" not in told, "but not on a dumb terminal", told)

reader = subprocess.Popen([PROGRAM, "--store", BOOK, "export", "--as", "ndjson"], stdout=subprocess.PIPE, stderr=subprocess.PIPE)
reader.stdout.readline()
reader.stdout.close()
complaint = reader.stderr.read().decode()
expect(reader.wait() == 0 and not complaint, "a reader that goes away is no fault", complaint)
