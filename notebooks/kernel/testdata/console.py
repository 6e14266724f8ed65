"""Drives the terminal client in a pseudo terminal: python3 console.py KERNEL

Types an expression, a function of several lines, a failing cell and an exit, and checks what the terminal shows.
"""
import os
import pty
import re
import select
import signal
import sys
import time

pid, terminal = pty.fork()
if pid == 0:
    os.environ.update(TERM="xterm", COLUMNS="100", LINES="40")
    os.execvp("jupyter-console", ["jupyter-console", "--kernel", sys.argv[1]])

seen = ""


def read(until, seconds=20):
    """Reads until a pattern is shown; fails where it does not come."""
    global seen
    end = time.time() + seconds
    start = len(seen)
    while time.time() < end:
        if select.select([terminal], [], [], 0.1)[0]:
            try:
                data = os.read(terminal, 65536).decode("utf-8", "replace")
            except OSError:
                data = ""
            if not data:
                break
            if "\x1b[6n" in data:  # the client asks where the cursor is
                os.write(terminal, b"\x1b[1;1R")
            seen += data
        if re.search(until, re.sub(r"\x1b\[[0-9;?]*[a-zA-Z]", "", seen[start:])):
            return
    print(re.sub(r"\x1b\[[0-9;?]*[a-zA-Z]", "", seen)[-2000:])
    os.kill(pid, signal.SIGKILL)
    sys.exit("the terminal did not show %r" % until)


def type_(text, until):
    for c in text:
        os.write(terminal, c.encode())
        time.sleep(0.005)
    read(until)


try:
    read(r"In \[1\]")
    type_("6 * 7\r", r"Out\[1\]: ?42")
    read(r"In \[2\]")
    type_("def double(x):\r", r"\.\.\.:")
    type_("return 2 * x\r", r"\.\.\.:")
    type_("\r", r"In \[3\]")
    type_("double(21)\r", r"Out\[3\]: ?42")
    read(r"In \[4\]")
    type_("double(1) / 0\r", r"division by zero")
    read(r"In \[5\]")
    type_("quanti\t", r"tile")
    type_("\x15double(50)\r", r"Out\[5\]: ?100")
    read(r"In \[6\]")
    for c in "exit\r":
        os.write(terminal, c.encode())
        time.sleep(0.02)
    end = time.time() + 20
    while time.time() < end:
        done, status = os.waitpid(pid, os.WNOHANG)
        if done:
            break
        if select.select([terminal], [], [], 0.1)[0]:
            try:
                data = os.read(terminal, 65536)
            except OSError:  # closed
                data = b""
                time.sleep(0.05)
            if b"\x1b[6n" in data:
                os.write(terminal, b"\x1b[1;1R")
            seen += data.decode("utf-8", "replace")
    else:
        print(seen[-1500:])
        sys.exit("the terminal client did not end")
    print("ok   the terminal client: expression, several lines, error, completion, exit")
except BaseException:
    try:
        os.kill(pid, signal.SIGKILL)
    except OSError:
        pass
    raise
