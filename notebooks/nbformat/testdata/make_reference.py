#!/usr/bin/env python3
"""Writes reference.ipynb and old.ipynb/old_upgraded.ipynb with Python's nbformat (5.5.0 was used).

The Go tests read these files and must write the same bytes. Run in this folder.
"""
import json

import nbformat
from nbformat.v4 import (new_code_cell, new_markdown_cell, new_notebook,
                         new_output, new_raw_cell)

odd = "a\r\nb\rc\x0bd\x0ce\x1cf\x1dg\x1eh\x85i\u2028j\u2029k\n\nlast <b>&amp;</b> \"q\" \\ \t \x01 \x7f Žofie Nguyệt \U0001F414"

nb = new_notebook(metadata={
    "kernelspec": {"name": "keelmark", "display_name": "Keelmark"},
    "language_info": {"name": "starlark"},
    "numbers": [0, -0, 1, -1, 10**30, 1.0, -0.0, 0.1, 1e5, 1e15, 1e16, 1e22, 1e-4, 1e-5, 5e-324,
                1.7976931348623157e308, 123456789.125],
    "odd": odd, "empty list": [], "empty object": {}, "nested": {"b": [1, {"z": None, "a": True}], "a": False},
    "Zebra": 1, "ähnlich": 2, "\uffff": 3, "\U0001F414": 4,
    "signature": "dropped", "orig_nbformat": 3,
})
nb.cells = [
    new_markdown_cell("# Title\n\nText", id="intro", attachments={"a.png": {"image/png": "aGVsbG8="}, "t": {"text/plain": "x\ny"}}),
    new_raw_cell("raw\ntext\n", id="raw-1"),
    new_code_cell("x = 1\n" + odd, id="code_1", execution_count=1, metadata={"tags": ["parameters", "b"], "trusted": True}, outputs=[
        new_output("stream", name="stdout", text="one\ntwo\n" + odd),
        new_output("stream", name="stderr", text=""),
        new_output("display_data", data={
            "text/plain": "p\nq", "text/html": "<b>\n</b>", "image/svg+xml": "<svg>\n</svg>",
            "image/png": "aGVs\nbG8=\n", "application/javascript": "1\n2", "application/json": {"a": ["x\ny", 1.5]},
            "application/vnd.keelmark.block+json": ["a\n", "b"], "application/x-tex": "a\nb"}, metadata={"w": 1}),
        new_output("execute_result", data={"text/plain": "1"}, execution_count=1),
        new_output("error", ename="Error", evalue="no\nway", traceback=["a\nb", "c"]),
    ]),
    new_code_cell("", id="code_2"),
]
with open("reference.ipynb", "w", encoding="utf-8") as f:
    nbformat.write(nb, f)

# The older minors: no ids. Ours makes ids of its own, so the reference keeps none to compare; the Go test
# compares everything else.
old = {"nbformat": 4, "nbformat_minor": 2, "metadata": {}, "cells": [
    {"cell_type": "markdown", "metadata": {}, "source": "one string\nof two lines"},
    {"cell_type": "code", "metadata": {"collapsed": False}, "execution_count": 3, "source": ["a = 1\n", "a"],
     "outputs": [{"output_type": "execute_result", "execution_count": 3, "metadata": {}, "data": {"text/plain": ["1"]}}]}]}
with open("old.ipynb", "w", encoding="utf-8") as f:
    json.dump(old, f)
up = nbformat.v4.upgrade(nbformat.reads(json.dumps(old), as_version=4))
for i, c in enumerate(up.cells):
    c.id = "ID%d" % i
with open("old_upgraded.ipynb", "w", encoding="utf-8") as f:
    nbformat.write(up, f)
