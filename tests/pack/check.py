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
import zipfile

import jsonschema
import openpyxl

from figures import Tables, agrees, apart

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
definitions = list(book["Definitions"].iter_rows(values_only=True))
named = {r[definitions[0].index("Indicator")]: r[definitions[0].index("Name")] for r in definitions[1:]}
scales = {r[definitions[0].index("Indicator")]: r[definitions[0].index("Scale")] for r in definitions[1:]}
measured = {r[definitions[0].index("Indicator")]: r[definitions[0].index("Measure")] for r in definitions[1:]}
units = {r["unit"]: r["name"] for r in csv.DictReader(open(os.path.join(here, "../../sample-data/network/units.csv"), encoding="utf-8"))}
units["all"] = "The network"
measures = {"share": "share", "rate": "rate", "mix": "parts of a mix", "count": "count", "hours": "hours", "overlap": "overlap",
            "p25": "quartiles, 90th percentile"}
measures["median"] = measures["p75"] = measures["p90"] = measures["p25"]
quantiles = {"p25": "Lower quartile", "median": "Median", "p75": "Upper quartile", "p90": "90th percentile"}
spelt = {"care_level": "level of care"}  # the other fields have blanks for underscores
shown = {"proportion": "%", "minutes": " min", "hours": " h"}
figures = ["Estimate", "Lower", "Upper"] + [title + limit for title in quantiles.values() for limit in ("", ", from", ", to")]
rows, formulas, wrong, bare, typed = [], [], [], [], []
for sheet in book:
    formulas += [f"{sheet.title}!{c.coordinate}" for row in sheet.iter_rows() for c in row if c.data_type == "f"]
    if sheet.title in ("About", "Definitions"):
        continue
    printed = sheet.print_area if isinstance(sheet.print_area, str) else ",".join(sheet.print_area)  # by openpyxl's version
    if sheet.freeze_panes != "B2" or any(not c.comment for c in sheet[1]) or sheet.auto_filter.ref != sheet.dimensions or (
            printed.rpartition("!")[2].replace("$", "") != sheet.dimensions):
        wrong.append(sheet.title)
    head = [c.value for c in sheet[1]]
    if sheet.title == "Signals":
        signal_rows = [dict(zip(head, row)) for row in sheet.iter_rows(min_row=2, values_only=True)]
        continue
    texts = {"Indicator", "Unit", "Period", "Group", "Per"}
    for row in sheet.iter_rows(min_row=2):
        rows.append({h: c.value for h, c in zip(head, row)})
        scale = scales[row[0].value]
        bare += [f"{sheet.title} {c.coordinate}" for h, c in zip(head, row)
                 if h in figures and c.value is not None and shown.get(scale, "") not in c.number_format]
        typed += [f"{sheet.title} {c.coordinate}" for h, c in zip(head, row)
                  if c.value is not None and c.data_type != ("s" if h in texts else "n")]
holds("workbook: a notice and the cautions come first", [] if "invented" in str(book["About"]["A2"].value) else ["no notice"])
holds("workbook: head kept in sight, filters, print area, notes on all headings", wrong)
holds("workbook: each sheet says how far it reaches", [
    sheet.title for n, sheet in enumerate(book, 1) if f'<dimension ref="{sheet.dimensions}"/>'.encode() not in
    zipfile.ZipFile(path("summary.xlsx")).read(f"xl/worksheets/sheet{n}.xml") and sheet.max_column > 1])
holds("workbook: no formulas", formulas)
holds("workbook: figures are shown with their unit", bare)
holds("workbook: numbers are numbers, texts are texts", typed)


def exact(cell):
    """A figure as summary.csv prints it: the workbook's are rounded to as many digits."""
    return None if cell in ("", None) else float(cell)


def words(group):
    """A group's code as the workbook has it."""
    parts = []
    for part in ([] if group == "all" else group.split(" & ")):
        field, _, code = part.partition("=")
        if field in ("sending_unit", "receiving_unit"):
            code = units.get(code, code)
        else:
            code = re.sub(r"(?<!time)(?<!non)(?<!near)(?<!high)(?<![0-9])-", " ", code)
        parts.append(spelt.get(field, field.replace("_", " ")) + ": " + ("not known" if part.endswith("=unknown") else code))
    return "; ".join(parts) or "all"


# Each row of summary.csv as the workbook's: one of its own or, of a duration, a part of the one that its four quantiles share.
names = ["estimate", "lower", "upper", "events", "total", "unknown", "if_unknown_none", "if_unknown_all"]
mine = sorted(str((r["indicator"], measures[r["measure"]], quantiles.get(r["measure"]), units.get(r["unit"], r["unit"]),
                   r["period"].replace("all", "Whole span"), words(r["group"]), r["scale"],
                   r["scale"][4:] if r["scale"].startswith("per ") else None, [exact(r[k]) for k in names])) for r in summary)
theirs = []
for r in rows:
    for part in quantiles.values() if "Median" in r else [None]:
        cells = [r[part], r[part + ", from"], r[part + ", to"], None, r["Records"]] if part else [
            r[v] for v in ("Estimate", "Lower", "Upper", "Events", "Of")]
        theirs.append(str((named[r["Indicator"]], measured[r["Indicator"]], part, r["Unit"], r["Period"], r["Group"],
                           scales[r["Indicator"]], r.get("Per"),
                           [exact(c) for c in cells + [r["Unknown"], r.get("If none"), r.get("If all")]])))
theirs.sort()
holds("workbook: the rows of summary.csv, as numbers of the same digits", [f"{a} / {b}" for a, b in zip(mine, theirs) if a != b] or (
    [] if len(mine) == len(theirs) else [len(mine), len(theirs)]))
holds("workbook: the four quantiles of a duration share a row", [] if sum("Median" in r for r in rows) == sum(
    r["measure"] == "median" for r in summary) > 100 else ["rows"])
signals = list(csv.DictReader(open(path("signals.csv"), encoding="utf-8", newline="")))
mine = [(units.get(s["unit"], s["unit"]), s["indicator"], s["direction"], s["period"].replace("all", "Whole span"),
         [exact(s[k]) for k in ("estimate", "reference", "q")], s["robust"], s["sentence"]) for s in signals]
theirs = [(s["Where"], named[s["Indicator"]], s["Direction"], s["Period"], [exact(s[k]) for k in ("Value", "Against", "q")],
           s["Rests on"], s["In words"]) for s in signal_rows]
holds("workbook: the signals of signals.csv in their order, and there are some",
      [f"{a} / {b}" for a, b in zip(mine, theirs) if a != b] or ([] if mine and len(mine) == len(theirs) else ["missing"]))

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
# ---- the figures that people read: report.html, report.md, charts and cards against summary.csv ----
pages = Tables(text("report.html"))
wrong, seen = apart(md, pages)
holds("report.md has the tables of report.html, cell by cell", wrong or ([] if seen > 300 else [f"{seen} rows"]))

codes = {name: code for code, name in units.items()}
by_key = {(r["indicator"], r["measure"], r["unit"], r["period"], r["group"]): r for r in summary}
def row_of(title, unit, period):
    name = named.get(title)
    return next((by_key[k] for m in ("share", "rate", "count", "hours") if (k := (name, m, unit, period, "all")) in by_key), None)


wrong, checked, drawn_rows = [], 0, 0
for figure, table in pages.of_figure.items():
    head = table[0]
    if head[0] not in ("Sending unit", "Quarter") or head[1] not in named:
        continue
    if "Shrunken" in head or head[2] not in ("Events", "Absences"):
        continue
    lines = [[float(v) for v in l.split()] for l in text("charts", figure + ".dat").split("\n") if l.strip()]
    for i, cells in enumerate(table[1:]):
        row = row_of(head[1], codes[cells[0]], "all") if head[0] == "Sending unit" else row_of(head[1], "all", cells[0])
        if row is None or not agrees(cells[1], row) or row["unknown"] != cells[head.index("Unknown")].replace(",", ""):
            wrong.append(f"{figure}: {cells}")
        checked += 1
        if i >= len(lines) or cells[0] == "The network":
            continue
        first = 1 if head[0] == "Quarter" else 0
        if row and any(row[n] and not math.isclose(lines[i][first + k], float(row[n]), rel_tol=1e-8, abs_tol=1e-9)
                       for k, n in enumerate(("estimate", "lower", "upper"))):
            wrong.append(f"{figure}.dat: {lines[i]}")
        drawn_rows += 1
holds("tables by unit and quarter, and the charts beside them, show the figures of summary.csv",
      wrong or ([] if checked > 100 and drawn_rows > 90 else [f"{checked} rows, {drawn_rows} drawn"]))

cards = {"Transfers a week": ("transfers_per_week", "rate", "all"), "Moved for want of a bed or staff": ("non_clinical_share", "share", "all"),
         "Time-critical: half had left within": ("time_to_departure", "median", "urgency=time-critical"),
         "Left within the network's target": ("departed_in_time_share", "share", "all"),
         "Had an adverse event": ("adverse_event_share", "share", "all"), "Escort trained for transfer": ("trained_escort_share", "share", "all"),
         "Papers complete": ("papers_complete_share", "share", "all"), "Sending unit left short": ("base_cover_reduced_share", "share", "all")}
wrong = []
for title, (name, measure, group) in cards.items():
    line = next((l for l in md.split("\n") if l.startswith(f"- {title}: ")), "")
    shown = re.match(r"(.*?\))", line[len(title) + 4:])
    quarters = re.findall(r"(\d{4}-Q\d): ([^,]*)", line)
    if not shown or not agrees(shown[1], by_key[name, measure, "all", "all", group]) or len(quarters) != 2 or any(
            not agrees(figure, dict(by_key[name, measure, "all", quarter, group], lower="", upper="")) for quarter, figure in quarters):
        wrong.append(line or title)
holds("the key figures are those of summary.csv", wrong)
print(f"{passed} passed, {failed} failed")
sys.exit(failed > 0)
