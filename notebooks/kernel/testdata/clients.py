"""Drives the kernel with the reference client library: python3 clients.py KERNEL

Prints one line a check and exits 1 where one failed. Needs Debian's python3-jupyter-client and
python3-jupyter-kernel-test. JUPYTER_PATH says where the kernel is installed.
"""
import os
import queue
import resource
import signal
import sys
import time
import unittest

import jupyter_kernel_test
from jupyter_client.manager import KernelManager

KERNEL = sys.argv.pop(1)
failures = []


def check(name, ok, seen=""):
    print("ok  " if ok else "FAIL", name, "" if ok else seen, flush=True)
    if not ok:
        failures.append(name)


class Front:
    """A kernel and a client of it."""

    def __init__(self):
        self.km = KernelManager(kernel_name=KERNEL)
        self.km.start_kernel()
        self.kc = self.attach()

    def attach(self):
        kc = self.km.blocking_client()
        kc.start_channels()
        kc.wait_for_ready(timeout=30)
        return kc

    def run(self, code, timeout=60, kc=None, **more):
        kc = kc or self.kc
        outputs = []
        reply = kc.execute_interactive(code, timeout=timeout, output_hook=outputs.append, **more)
        return reply["content"], [m for m in outputs if m["msg_type"] not in ("status", "execute_input")]

    def text(self, code, **more):
        reply, out = self.run(code, **more)
        for m in out:
            if m["msg_type"] == "execute_result":
                return m["content"]["data"]["text/plain"]
        return str((reply, [m["msg_type"] for m in out]))

    def memory(self):
        pid = self.km.provisioner.process.pid
        with open("/proc/%d/status" % pid) as f:
            return next(int(line.split()[1]) // 1024 for line in f if line.startswith("VmRSS"))

    def end(self):
        self.kc.stop_channels()
        self.km.shutdown_kernel(now=True)


def printed(out):
    return "".join(m["content"]["text"] for m in out if m["msg_type"] == "stream")


def robust():
    f = Front()
    before = f.memory()
    reply, out = f.run('line = "x" * 1000000\nfor i in range(50):\n    print(line)')
    check("50 MB printed end in a notice", reply["status"] == "ok" and "the rest is left out" in printed(out)[-100:])
    reply, out = f.run("for i in range(100000):\n    print(i)")
    check("100,000 prints in few messages", len(out) < 60 and printed(out).count("\n") == 100000, len(out))
    check("a cell of 20 MB", f.text('len("' + "y" * 20000000 + '")') == "20000000")
    check("text of every alphabet", f.text('"Žofie 🐝 שרה"') == '"Žofie 🐝 שרה"')

    ids = [f.kc.execute(c) for c in ('fail("no")', "1", "2")]
    states = []
    for mid in ids:
        while True:
            m = f.kc.get_shell_msg(timeout=10)
            if m["parent_header"]["msg_id"] == mid:
                states.append(m["content"]["status"])
                break
    check("cells behind one that fails are not run", states == ["error", "aborted", "aborted"], states)
    check("what is sent in answer to a failure is run", f.text("3") == "3")

    asked = []

    def answer(message):
        asked.append(message["content"]["prompt"])
        f.kc.input("R12")

    check("a question is answered", f.text('input("which? ")', allow_stdin=True, stdin_hook=answer) == '"R12"' and asked == ["which? "], asked)
    check("no question where none may be asked", "cannot ask" in f.text('input("?")', allow_stdin=False))

    f.run("kept = 5\nt = frame({\"x\": [i for i in range(2000)]})")
    for what, code in (("a loop", "while True:\n    pass"), ("a computation", "[i for i in range(8000000) for j in range(8000000)]"),
                       ("a question", 'input("?")'), ("a filter", "while True:\n    t.where(lambda r: r.x > 5)")):
        for how in ("message", "signal"):
            mid = f.kc.execute(code, allow_stdin=True)
            time.sleep(0.2)
            start = time.time()
            if how == "message":
                f.km.interrupt_kernel()
            else:
                os.kill(f.km.provisioner.process.pid, signal.SIGINT)
            while True:
                m = f.kc.get_shell_msg(timeout=10)
                if m["parent_header"]["msg_id"] == mid:
                    break
            took = time.time() - start
            check("%s is interrupted by %s within 0.1 s (%.0f ms)" % (what, how, took * 1000), took < 0.1 and m["content"]["ename"] == "Interrupted", m["content"])
            while True:
                try:
                    f.kc.get_stdin_msg(timeout=0.01)
                except queue.Empty:
                    break
    check("names are kept", f.text("kept") == "5")

    second = f.attach()
    check("a second client", f.text("6", kc=second) == "6")
    second.stop_channels()
    for _ in range(60):
        kc = f.km.blocking_client()
        kc.start_channels(hb=False)  # its thread would still start while the channels stop
        kc.execute('print("x" * 1000000)')
        kc.stop_channels()
    check("60 clients come and go", f.text("7") == "7")
    f.kc.session.key = b"wrong"
    forged = f.kc.execute("forged = 1")
    f.kc.session.key = f.km.session.key
    reply, _ = f.run("forged")
    check("a forged cell is not run", reply["status"] == "error")
    check("the heartbeat beats", f.kc.hb_channel.is_beating())
    time.sleep(1)
    after = f.memory()
    check("memory afterwards: %d MB, %d before" % (after, before), after < 200)

    f.km.restart_kernel()
    f.kc.wait_for_ready(timeout=30)
    reply, _ = f.run("kept")
    check("a restart forgets names", reply["status"] == "error")
    mid = f.kc.execute("while True:\n    pass")
    time.sleep(0.2)
    start = time.time()
    f.kc.shutdown()
    while f.km.is_alive() and time.time() - start < 5:
        time.sleep(0.005)
    check("a shutdown while a cell runs (%.0f ms)" % ((time.time() - start) * 1000), not f.km.is_alive())
    f.end()


class KeelmarkTests(jupyter_kernel_test.KernelTests):
    kernel_name = KERNEL
    language_name = "starlark"
    file_extension = ".star"
    code_hello_world = 'print("hello, world")'
    completion_samples = [{"text": "quant", "matches": {"quantile"}}, {"text": "fixe", "matches": {"fixed"}}]
    complete_code_samples = ["1 + 1", 'print("hello")', "def f(x):\n    return x\n\n"]
    incomplete_code_samples = ["def f(x):", "print(", '"""one']
    invalid_code_samples = ["import os", "x = = 2"]
    code_generate_error = 'fail("no")'
    code_execute_result = [{"code": "1 + 2", "result": "3"}, {"code": '"a"', "result": '"a"'}]
    code_display_data = [{"code": 'display(para("x"))', "mime": "text/html"}, {"code": "display(2)", "mime": "text/plain"}]
    code_history_pattern = "1 ? 2*"
    code_stderr = 'warn("two")'
    supported_history_operations = ("tail", "range", "search")
    code_inspect_sample = "mean"
    code_clear_output = "clear()"


if __name__ == "__main__":
    limit = resource.getrlimit(resource.RLIMIT_NOFILE)[1]
    resource.setrlimit(resource.RLIMIT_NOFILE, (limit, limit))  # the client library keeps descriptors open
    robust()
    result = unittest.TextTestRunner(verbosity=1).run(unittest.defaultTestLoader.loadTestsFromTestCase(KeelmarkTests))
    skipped = sorted(str(test).split()[0] for test, _ in result.skipped)
    check("jupyter_kernel_test, %d tests" % result.testsRun, result.wasSuccessful() and set(skipped) <= {"test_pager"}, skipped)
    print("skipped:", " ".join(skipped))
    sys.exit(1 if failures else 0)
