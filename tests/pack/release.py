# SPDX-License-Identifier: GPL-3.0-or-later
"""release.py RELEASE PACK N: whether a release (--suppress N) holds the pack's figures or nothing in each place, and says the
same in all its files. The pack's own files are held against each other by check.py. Ends with `N passed, N failed`."""
import csv
import hashlib
import json
import os
import re
import sys
from collections import Counter

import jsonschema
import openpyxl

from figures import Tables, agrees, apart

release, pack, least = sys.argv[1], sys.argv[2], int(sys.argv[3])
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


def text(name, folder=release):
    return open(os.path.join(folder, name), encoding="utf-8").read()


def rows_of(folder):
    return list(csv.DictReader(open(os.path.join(folder, "summary.csv"), encoding="utf-8", newline="")))


def small(count):
    return 0 < count < least


FILES = {"report.html", "report.md", "summary.csv", "summary.json", "summary.xlsx", "datapackage.json", "manifest.json"}
holds("these files and no others", FILES ^ set(os.listdir(release)))

# ---- summary.csv and .json ----
KEPT = ["indicator", "measure", "unit", "period", "group", "confidence", "scale"]
NUMBERS = ["events", "total", "estimate", "lower", "upper", "unknown", "if_unknown_none", "if_unknown_all"]
full, shown = rows_of(pack), rows_of(release)
hidden = [r for r in shown if r["method"] == "suppressed"]
holds("summary.csv: the rows of the pack in their order", [
    a for a, b in zip(full, shown) if any(a[k] != b[k] for k in KEPT)] or ([] if len(full) == len(shown) else [len(shown)]))
holds("summary.csv: a row is the pack's whole or holds no number", [
    b for a, b in zip(full, shown) if b != (dict(a, method="suppressed", **{k: "" for k in NUMBERS})
                                            if b["method"] == "suppressed" else a)])
holds("summary.csv: some rows are hidden, and some are not", [] if 0 < len(hidden) < len(shown) else [len(hidden)])
holds("summary.csv: no count of 1 to N-1, and none behind a share or a known part", [r for r in shown if r["method"] != "suppressed" and (
    small(int(r["unknown"])) or small(float(r["events"] or 0)) or r["measure"] == "share" and (
        small(float(r["total"])) or small(float(r["total"]) - float(r["events"]))))])
as_json = json.loads(text("summary.json"))
holds("summary.json: the same, null where the cell is empty", [
    b for a, b in zip(shown, as_json) if any((a[k] == "") != (b[k] is None) or a[k] and float(a[k]) != b[k] for k in NUMBERS) or
    any(a[k] != b[k] for k in KEPT + ["method"] if k != "confidence")] or [0] * (len(shown) != len(as_json)))

# ---- datapackage.json, manifest.json ----
package, manifest = json.loads(text("datapackage.json")), json.loads(text("manifest.json"))
profile = json.load(open(os.path.join(here, "../export/profiles/tabular-data-package.json"), encoding="utf-8"))
holds("datapackage.json follows the published profile",
      [e.message for e in jsonschema.Draft4Validator(profile).iter_errors(package)])
content = open(os.path.join(release, "summary.csv"), "rb").read()
holds("datapackage.json: one table, its bytes and hash", [] if [(r["path"], r["bytes"], r["hash"]) for r in package["resources"]] == [
    ("summary.csv", len(content), "sha256:" + hashlib.sha256(content).hexdigest())] else ["differ"])
fields = package["resources"][0]["schema"]["fields"]
holds("datapackage.json: columns, described, none of numbers required", [] if [f["name"] for f in fields] == list(shown[0]) and all(
    f["description"] for f in fields) and not any(f["constraints"].get("required") for f in fields if f["name"] in NUMBERS) and
    "suppressed" in next(f for f in fields if f["name"] == "method")["description"] else ["differ"])
before = json.loads(text("manifest.json", pack))
holds("manifest.json: version, settings and checksums are the pack's, with N", [] if (
    manifest["version"] == before["version"] and dict(before["settings"], suppress=str(least)) == dict(
        manifest["settings"], **{k: v for k, v in before["settings"].items() if k.startswith(("replay.", "sha256.replay"))}) and
    [(i["name"], i["sha256"]) for i in manifest["inputs"]] == [(i["name"], i["sha256"]) for i in before["inputs"]]) else ["differ"])
holds("how long each log is is not told", [i for i in manifest["inputs"] if i["rows"] is not None or i["bytes"] is not None] + [
    i for i in package["made_with"]["inputs"] if i["bytes"] is not None])
account, whole = manifest["account"], before["account"]
unseen = [whole[k] for k in account if k != "read" and account[k] is None]
holds("account: the pack's counts or none; no small one; the hidden ones are not to be had from the sum", [
    k for k in account if account[k] is not None and (account[k] != whole[k] or small(account[k]))] + (
    ["found"] if account["read"] is not None and (len(unseen) == 1 or small(sum(unseen))) else []))

# ---- summary.xlsx: cell by cell what the pack's has, without its signals ----
book, other = (openpyxl.load_workbook(os.path.join(f, "summary.xlsx")) for f in (release, pack))
holds("workbook: the pack's sheets but the signals", [] if book.sheetnames == [n for n in other.sheetnames if n != "Signals"] else book.sheetnames)
about = " ".join(str(c.value) for row in book["About"] for c in row if c.value)
holds("workbook: 'About' explains what is hidden", [w for w in ("A release", "hidden:", f"counts of 1 to {least - 1}", "Contains suppressed", "nvented")
                                                  if w not in about] + [w for w in ("No cell is suppressed", "Signals") if w in about])
definitions = list(book["Definitions"].iter_rows(values_only=True))
name = dict((r[0], r[definitions[0].index("Name")]) for r in definitions[1:])
HIDDEN = {"Median": "median", "Lower quartile": "p25", "Upper quartile": "p75", "90th percentile": "p90", "Estimate": None}
NAMES = {"Indicator", "Unit", "Period", "Group", "Per"}
marked, wrong = Counter(), []
for sheet in book:
    if sheet.title in ("About", "Definitions"):
        continue
    head = [c.value for c in sheet[1]]
    if sheet.dimensions != other[sheet.title].dimensions or sheet.auto_filter.ref != sheet.dimensions:
        wrong.append(sheet.title)
    for mine, theirs in zip(sheet.iter_rows(values_only=True), other[sheet.title].iter_rows(values_only=True)):
        row = dict(zip(head, mine))
        gone = {h for h in HIDDEN if row.get(h) == "hidden"}
        for h in gone:
            marked[name[row["Indicator"]], HIDDEN[h]] += 1
        # of a row without any number nothing is left; of a duration, what is not of the hidden quantiles
        gone |= {h for h in head if h.partition(",")[0] in gone}
        if "Estimate" in gone or len(gone & set(HIDDEN)) == 4:
            gone = set(head) - NAMES
        wrong += [f"{sheet.title}: {row}" for h, a, b in zip(head, mine, theirs)
                  if a != b and h not in gone or h in gone and a not in (None, "hidden")]
holds("workbook: each cell is the pack's, or hidden with its row", wrong)
expected = Counter((r["indicator"], r["measure"] if r["scale"] == "minutes" else None) for r in hidden)
holds("workbook: as many rows hidden of each indicator as in summary.csv", [] if marked == expected else marked - expected or expected - marked)

# ---- report.html, report.md ----
html, md = text("report.html"), text("report.md")
pages = Tables(html)
wrong, seen = apart(md, pages)
holds("report.md has the tables of report.html, cell by cell", wrong or ([] if seen > 200 else [f"{seen} rows"]))
by_key = {(r["indicator"], r["measure"], r["unit"], r["period"], r["group"]): r for r in shown}
scales = {r["indicator"]: r["scale"] for r in shown}
units = {r["name"]: r["unit"] for r in csv.DictReader(open(os.path.join(here, "../../sample-data/network/units.csv"), encoding="utf-8"))}
units["The network"] = "all"


def row_of(title, unit, period):
    """The row that a table's words mean: "Adverse events, per 100 transfers", "Journey: half within"."""
    title, _, part = title.partition(": ")
    names = [n for t, n in name.items() if title in (t, t + ", " + scales[n])]
    measures = [{"half within": "median", "nine in ten within": "p90"}[part]] if part else ["share", "rate", "count", "hours", "overlap"]
    return next((by_key[k] for n in names for m in measures if (k := (n, m, unit, period, "all")) in by_key), None)


def told(cell, row, count=None):
    """Whether a cell says of the row what summary.csv does."""
    if row is None or row["method"] == "suppressed":
        return row is not None and cell == "hidden"
    return cell.replace(",", "") == row[count] if count else agrees(cell, row)


wrong, checked, unseen = [], 0, 0
for caption, table in pages.of_caption.items():
    head = table[0]
    for cells in table[1:]:
        if caption.endswith(": indicators of the network"):
            found = [(c, row_of(cells[0], "all", h.replace("Whole span", "all")), None) for h, c in zip(head[1:-1], cells[1:-1])]
            found.append((cells[-1], row_of(cells[0], "all", "all"), "unknown"))
        elif ": by sending unit" in caption:
            found = [(c, row_of(h, units[cells[0]], "all"), None) for h, c in zip(head[1:], cells[1:])]
        else:
            continue
        wrong += [f"{caption}: {cells[0]}: {c}" for c, row, count in found if not told(c, row, count)]
        checked, unseen = checked + len(found), unseen + sum(c == "hidden" for c, _, _ in found)
holds("report: tables of network and units show the figures of summary.csv, or that they are hidden",
      wrong or ([] if checked > 500 and 0 < unseen < checked else [f"{checked} cells, {unseen} hidden"]))
mixes = [(c, t) for c, t in pages.of_caption.items() if c.endswith(": parts in the network")]
wrong = []
for caption, table in mixes:
    title = caption[:-len(": parts in the network")]
    rows = {p: [r for r in shown if (r["indicator"], r["unit"], r["period"]) == (name[title], "all", p) and " & " not in r["group"]]
            for p in ["all"] + table[0][3:]}
    for at, cells in enumerate(table[1:]):
        wrong += [f"{caption}: {cells}"] * (not told(cells[1], rows["all"][at], "events") or any(
            not told(c, rows[p][at]) for c, p in zip(cells[2:], rows)))
holds("report: the parts of each mix are those of summary.csv", wrong or ([] if len(mixes) == 3 else [len(mixes)]))
lines = {cells[0]: cells[1].replace(",", "") for cells in pages.of_caption["Account of rows: what was read is the sum of the rest"][1:]}
holds("report: the account is the manifest's", [k for k, n in account.items() if lines[k.replace("_", " ").capitalize()] != (
    "hidden" if n is None else str(n))])
kinds = [int(cells[1].replace(",", "")) for cells in pages.of_caption["Rows of summary.csv"][1:]]
holds("report: how many rows are shown and hidden", [] if kinds[0] == len(shown) - len(hidden) and sum(kinds) == len(shown) else kinds)
holds("report: what it is, and no word of a pack that shows all", [w for w in (
    f"A release: counts of 1 to {least - 1} are hidden", "Contains suppressed figures; do not try to recover them.") if
    w not in html or w not in md] + [w for w in ("No cell is suppressed", "put-aside.csv", "charts/", "casemix.csv", "signals.csv")
                                     if w in html or w in md])
print(f"{passed} passed, {failed} failed")
sys.exit(failed > 0)
