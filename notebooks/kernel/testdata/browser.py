"""Drives the classic Notebook in a headless browser: python3 browser.py KERNEL NOTEBOOK SCREENSHOT

Opens the notebook, runs all cells, interrupts a loop, completes a name, restarts, saves, and takes a picture.
Needs Debian's jupyter-notebook, chromium-driver and python3-selenium.
"""
import json
import os
import pathlib
import socket
import subprocess
import sys
import time

from selenium import webdriver
from selenium.webdriver.chrome.service import Service
from selenium.webdriver.common.by import By
from selenium.webdriver.common.keys import Keys

kernel, notebook, picture = sys.argv[1], pathlib.Path(sys.argv[2]).resolve(), sys.argv[3]
with socket.socket() as free:
    free.bind(("127.0.0.1", 0))
    port = free.getsockname()[1]
log = open(notebook.parent / "server.log", "w+")
server = subprocess.Popen(["jupyter-notebook", "--no-browser", "--allow-root", "--ip=127.0.0.1", "--port=%d" % port, "--NotebookApp.token=t",
                           "--NotebookApp.password=", "--notebook-dir", str(notebook.parent)], stdout=log, stderr=subprocess.STDOUT)
driver = None


def until(what, test, seconds=30):
    """Waits until a test holds, and says how long it took."""
    start = time.time()
    while time.time() - start < seconds:
        value = test()
        if value:
            print("ok   %s (%.2f s)" % (what, time.time() - start), flush=True)
            return value
        time.sleep(0.02)
    driver and driver.save_screenshot(picture)
    raise SystemExit("FAIL " + what)


def js(source):
    return driver.execute_script(source)


try:
    until("the server starts", lambda: "is running at" in pathlib.Path(log.name).read_text())
    at = "http://127.0.0.1:%d" % port
    options = webdriver.ChromeOptions()
    for a in ("--headless", "--no-sandbox", "--disable-gpu", "--window-size=1200,1600", "--no-first-run", "--disable-background-networking",
              "--disable-component-update", "--disable-sync", "--host-resolver-rules=MAP * ~NOTFOUND, EXCLUDE 127.0.0.1"):
        options.add_argument(a)
    options.binary_location = "/usr/bin/chromium"
    driver = webdriver.Chrome(service=Service("/usr/bin/chromedriver"), options=options)
    driver.get("%s/notebooks/%s?token=t" % (at, notebook.name))
    ready = "return !!(window.Jupyter && Jupyter.notebook && Jupyter.notebook.kernel && Jupyter.notebook.kernel.info_reply.status && !Jupyter.notebook.kernel_busy)"
    until("the notebook opens with its kernel", lambda: js(ready))
    name = js("return Jupyter.notebook.kernel.name")
    if name != kernel:
        raise SystemExit("FAIL the kernel is %s" % name)

    idle = "return Jupyter.notebook.get_cells().every(c => c.cell_type !== 'code' || !c.get_text().trim() || typeof c.input_prompt_number === 'number') && !Jupyter.notebook.kernel_busy"
    js("Jupyter.notebook.execute_all_cells()")
    until("all cells run", lambda: js(idle))
    shown = js("return [document.querySelectorAll('.output svg').length, document.querySelectorAll('.output table').length, document.querySelectorAll('.output img').length, document.querySelectorAll('.output_error').length]")
    print("     drawings, tables, pictures, errors shown:", shown)
    if shown[0] == 0 or shown[1] == 0 or shown[2] == 0 or shown[3] != 0:
        driver.save_screenshot(picture)
        raise SystemExit("FAIL what the cells show")

    js("Jupyter.notebook.insert_cell_at_bottom('code').set_text('while True:\\n    pass'); Jupyter.notebook.select(Jupyter.notebook.ncells() - 1); Jupyter.notebook.execute_cell()")
    until("a loop runs", lambda: js("return Jupyter.notebook.kernel_busy"))
    js("document.querySelector('#run_int button[data-jupyter-action=\"jupyter-notebook:interrupt-kernel\"]').click()")
    until("the button interrupts it", lambda: js("return !Jupyter.notebook.kernel_busy && document.querySelectorAll('.output_error').length === 1"))
    js("Jupyter.notebook.delete_cell()")

    js("var c = Jupyter.notebook.insert_cell_at_bottom('code'); c.set_text(''); Jupyter.notebook.select(Jupyter.notebook.ncells() - 1); Jupyter.notebook.edit_mode(); c.focus_editor()")
    active = driver.switch_to.active_element
    active.send_keys("flock.wei")
    active.send_keys(Keys.TAB)
    until("Tab completes", lambda: js("return Jupyter.notebook.get_selected_cell().get_text()") == "flock.weights")
    driver.switch_to.active_element.send_keys(Keys.SHIFT, Keys.TAB)
    until("Shift-Tab tells", lambda: "One row a weighing" in (js("var t = document.querySelector('#tooltip'); return t ? t.innerText : ''") or ""))
    js("Jupyter.notebook.get_selected_cell().focus_cell(); Jupyter.notebook.delete_cell()")

    js("window.again = false; Jupyter.notebook.events.on('kernel_ready.Kernel', () => { window.again = true }); Jupyter.notebook.kernel.restart()")
    until("it restarts", lambda: js("return window.again") and js(ready))
    js("Jupyter.notebook.execute_all_cells()")
    until("all cells run again", lambda: js(idle))
    js("Jupyter.notebook.save_checkpoint()")
    until("it is saved", lambda: js("return !Jupyter.notebook.dirty") and any(c.get("outputs") for c in json.loads(notebook.read_text())["cells"]))
    height = js("return Math.min(6000, document.querySelector('#notebook-container').scrollHeight + 260)")
    driver.set_window_size(1200, height)
    js("document.querySelector('#site').scrollTop = 0; document.querySelector('#tooltip') && (document.querySelector('#tooltip').style.display = 'none')")
    time.sleep(0.5)
    driver.save_screenshot(picture)
    if os.path.getsize(picture) < 10000:
        raise SystemExit("FAIL the picture is empty")
    print("ok   the picture is taken")
finally:
    if driver:
        driver.quit()
    server.terminate()
    try:
        server.wait(10)
    except subprocess.TimeoutExpired:
        server.kill()
