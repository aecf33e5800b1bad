# SPDX-License-Identifier: GPL-3.0-or-later
"""check.py PACK: whether the files of a pack agree with each other. Ends with `N passed, N failed`."""
import csv
import hashlib
import json
import math
import os
import re
import shutil
import subprocess
import sys
import tempfile
import xml.etree.ElementTree as xml

import jsonschema
import openpyxl

pack = sys.argv[1]
here = os.path.dirname(os.path.abspath(__file__))
passed = failed = 0


def holds(what, wrong):
    """Counts a test; wrong lists what speaks against it."""
    global passed, failed
    if wrong:
        failed += 1
        print("FAILED", what, *list(wrong)[:5], sep="\n  ")
    else:
        passed += 1


def path(*name):
    return os.path.join(pack, *name)


def text(*name):
    return open(path(*name), encoding="utf-8").read()


summary = list(csv.DictReader(open(path("summary.csv"), encoding="utf-8", newline="")))

# ---- data package ----
package = json.loads(text("datapackage.json"))
profile = json.load(open(os.path.join(here, "../export/profiles/tabular-data-package.json"), encoding="utf-8"))
holds("datapackage.json follows the published profile",
      [e.message for e in jsonschema.Draft4Validator(profile).iter_errors(package)])
holds("every CSV file is in the package",
      {f for f in os.listdir(pack) if f.endswith(".csv")} ^ {r["path"] for r in package["resources"]})
for resource in package["resources"]:
    content = open(path(resource["path"]), "rb").read()
    fields = resource["schema"]["fields"]
    rows = list(csv.reader(open(path(resource["path"]), encoding="utf-8", newline="")))
    holds(resource["path"] + ": bytes and hash",
          [] if ("sha256:" + hashlib.sha256(content).hexdigest(), len(content)) == (resource["hash"], resource["bytes"])
          else ["differ"])
    holds(resource["path"] + ": columns", [] if rows[0] == [f["name"] for f in fields] else rows[0])
    holds(resource["path"] + ": each column is described", [f["name"] for f in fields if not f["description"]])
    number = {"integer": r"-?\d+", "number": r"-?\d+(\.\d+)?(e[-+]\d+)?"}
    holds(resource["path"] + ": types", [
        f"line {n}: {f['name']} {cell!r}" for n, row in enumerate(rows[1:], 2) for f, cell in zip(fields, row)
        if cell and f["type"] in number and not re.fullmatch(number[f["type"]], cell)])

# ---- summary.json ----
numbers = ["events", "total", "estimate", "lower", "upper", "confidence", "unknown", "if_unknown_none", "if_unknown_all"]


def close(cell, value):
    if cell == "" or value is None:
        return cell == "" and value is None
    return math.isclose(float(cell), value, rel_tol=1e-11, abs_tol=1e-300)


as_json = json.loads(text("summary.json"))
holds("summary.json has the rows of summary.csv", [] if len(as_json) == len(summary) else [len(as_json), len(summary)])
holds("summary.json: the same in each", [
    f"row {n}: {key}" for n, (a, b) in enumerate(zip(summary, as_json)) for key in a
    if not (close(a[key], b[key]) if key in numbers else a[key] == b[key])])

# ---- summary.xlsx ----
book = openpyxl.load_workbook(path("summary.xlsx"))
rows, formulas, wrong = [], [], []
for sheet in book:
    formulas += [f"{sheet.title}!{c.coordinate}" for row in sheet.iter_rows() for c in row if c.data_type == "f"]
    if sheet.title in ("About", "Definitions"):
        continue
    if sheet.freeze_panes != "B2" or not sheet.auto_filter.ref or not sheet.print_area or not sheet["A1"].comment:
        wrong.append(sheet.title)
    head = [c.value for c in sheet[1]]
    rows += [dict(zip(head, row)) for row in sheet.iter_rows(min_row=2, values_only=True)]
holds("workbook: a notice and the cautions come first", [] if "invented" in str(book["About"]["A2"].value) else ["no notice"])
holds("workbook: head kept in sight, filters, print area, notes", wrong)
holds("workbook: no formulas", formulas)
names = {"estimate": "Estimate", "lower": "Lower", "upper": "Upper", "events": "Events", "total": "Of", "unknown": "Unknown",
         "if_unknown_none": "If none", "if_unknown_all": "If all"}


def full(cell):
    return None if cell in ("", None) else f"{float(cell):.6g}"


mine = sorted(str((r["measure"], r["period"], r["group"], r["scale"], [full(r[k]) for k in names])) for r in summary)
theirs = sorted(str((r["Measure"], r["Period"], r["Group"], r["Scale"], [full(r[v]) for v in names.values()])) for r in rows)
holds("workbook: the rows of summary.csv, as numbers", [a for a, b in zip(mine, theirs) if a != b] or (
    [] if len(mine) == len(theirs) else [len(mine), len(theirs)]))

# ---- charts ----
charts = sorted(f[:-4] for f in os.listdir(path("charts")) if f.endswith(".svg"))
holds("charts: there are some, each with script and data",
      [c for c in charts if not all(os.path.exists(path("charts", c + e)) for e in (".gp", ".dat"))] or
      ([] if len(charts) >= 10 else ["few"]))
SVG = "{http://www.w3.org/2000/svg}"
for chart in charts:
    root = xml.fromstring(text("charts", chart + ".svg"))
    title, about = root.find(SVG + "title"), root.find(SVG + "desc")
    if title is None or about is None or len(about.text or "") < 20 or root.get("role") != "img":
        holds(chart + ".svg has title and description", ["no"])
    if not re.fullmatch(r"[-+0-9.eENa \n]*", text("charts", chart + ".dat")):
        holds(chart + ".dat holds numbers only", ["no"])
with tempfile.TemporaryDirectory() as folder:
    wrong = []
    for chart in charts:
        for ending in (".gp", ".dat"):
            shutil.copy(path("charts", chart + ending), folder)
        subprocess.run(["gnuplot", chart + ".gp"], cwd=folder, check=False, stderr=subprocess.DEVNULL)

        def drawn(name):
            found = xml.fromstring(open(name, encoding="utf-8").read())
            return [" ".join((e.get("d") or e.get("points") or e.text or "").split()) for e in found.iter()
                    if e.tag in (SVG + "path", SVG + "polygon", SVG + "text") and e.get("id") is None]

        if drawn(os.path.join(folder, chart + ".svg")) != drawn(path("charts", chart + ".svg")):
            wrong.append(chart)
    holds("charts: each script draws the chart anew", wrong)

# ---- report.md ----
md = text("report.md")
holds("report.md: the themes, notice and cautions", [w for w in ("## Why patients moved", "## Cautions", "nvented") if w not in md])
print(f"{passed} passed, {failed} failed")
sys.exit(failed > 0)
