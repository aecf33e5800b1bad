# SPDX-License-Identifier: GPL-3.0-or-later
"""page.py RELEASE PACK N UNITS.csv: whether report and workbook of a release (audit --suppress N) tell what its summary.csv
tells and no more. Its other files are tests/pack/release.py's.

PACK is the ordinary pack of the same logs. Each number in tables and sentences of report.html must be that of a shown row, in
tables of the one it stands for, and 'hidden' must stand where that is hidden; report.md must have the same cells, the workbook
the same rows. Then a hidden number is written into each, which must be noticed. Ends with `N passed, N failed`."""
import csv
import json
import math
import os
import re
import sys
from html.parser import HTMLParser

import openpyxl

release, pack, least = sys.argv[1], sys.argv[2], int(sys.argv[3])
passed = failed = 0


def holds(what, wrong):
    """Counts a test; wrong lists what speaks against it."""
    global passed, failed
    if wrong:
        failed += 1
        print("FAILED", what, *list(wrong)[:5], sep="\n  ")
    else:
        passed += 1


def text(folder, name):
    return open(os.path.join(folder, name), encoding="utf-8").read()


def rows_of(folder):
    return list(csv.DictReader(open(os.path.join(folder, "summary.csv"), encoding="utf-8", newline="")))


summary, truth = rows_of(release), rows_of(pack)
hidden = [r["method"] == "suppressed" for r in summary]


def as_number(cell):
    return None if cell in ("", None) else float(cell)


def same(a, b):
    return a is None and b is None or None not in (a, b) and math.isclose(a, b, rel_tol=1e-11, abs_tol=1e-300)


# ---- the workbook ----
book = openpyxl.load_workbook(os.path.join(release, "summary.xlsx"), read_only=True)
head, *definitions = book["Definitions"].iter_rows(values_only=True)
named = {r[head.index("Indicator")]: r[head.index("Name")] for r in definitions}
units = {"The network": "all"}
if os.path.exists(sys.argv[4]):
    units.update({r["name"]: r["unit"] for r in csv.DictReader(open(sys.argv[4], encoding="utf-8"))})
QUANTILES = {"p25": "Lower quartile", "median": "Median", "p75": "Upper quartile", "p90": "90th percentile"}
HEADS = ["Estimate", "Lower", "Upper", "Events", "Of", "Unknown", "If none", "If all"]
COLUMNS = ["estimate", "lower", "upper", "events", "total", "unknown", "if_unknown_none", "if_unknown_all"]


def workbook_rows():
    """Per indicator its rows in order: unit, period, and a number or None for each column, of durations for each quantile."""
    out = {}
    for sheet in book:
        if sheet.title in ("About", "Definitions"):
            continue
        head, *rows = sheet.iter_rows(values_only=True)
        for row in rows:
            cells = dict(zip(head, row))
            period = cells["Period"].replace("Whole span", "all")
            numbers = [cells.get(h) for h in HEADS] if "Estimate" in cells else [
                cells[q + end] for q in QUANTILES.values() for end in ("", ", from", ", to")] + [cells["Records"], cells["Unknown"]]
            out.setdefault(named[cells["Indicator"]], []).append([units.get(cells["Unit"], cells["Unit"]), period] + numbers)
    return out


def expected_rows():
    out, durations = {}, {}
    for r in summary:
        numbers = [as_number(r[c]) for c in COLUMNS]
        if numbers[0] is None and r["method"] == "suppressed":
            numbers[0] = "hidden"
        if r["measure"] not in QUANTILES:
            out.setdefault(r["indicator"], []).append([r["unit"], r["period"]] + numbers)
            continue
        key = r["indicator"], r["unit"], r["period"], r["group"]
        if key not in durations:
            durations[key] = [r["unit"], r["period"]] + [None] * 14
            out.setdefault(r["indicator"], []).append(durations[key])
        at = 2 + 3 * list(QUANTILES).index(r["measure"])
        durations[key][at:at + 3] = numbers[:3]
        if r["method"] != "suppressed":
            durations[key][14:] = [numbers[4], numbers[5]]
    return out


def cell_same(a, b):
    return a == b or isinstance(a, (int, float)) and isinstance(b, (int, float)) and same(float(a), float(b))


def workbook_wrong(theirs):
    mine = expected_rows()
    if set(mine) != set(theirs):
        return sorted(set(mine) ^ set(theirs))
    return [f"{name}: {a} / {b}" for name in mine for a, b in zip(mine[name], theirs[name])
            if len(a) != len(b) or not all(map(cell_same, a, b))] + [
                f"{name}: rows" for name in mine if len(mine[name]) != len(theirs[name])]


in_book = workbook_rows()
holds("summary.xlsx: the rows of summary.csv", workbook_wrong(in_book))

# ---- the page ----


class Tables(HTMLParser):
    """Tables as (caption, rows of cells); texts of the answers."""

    def __init__(self):
        super().__init__()
        self.tables, self.answers, self.into = [], [], None

    def handle_starttag(self, tag, attributes):
        if tag == "table":
            self.tables.append(["", []])
        elif tag == "tr":
            self.tables[-1][1].append([])
        elif tag in ("td", "th"):
            self.tables[-1][1][-1].append("")
        elif tag == "p" and ("class", "answer") in attributes:
            self.answers.append("")
            self.into = "answer"
        if tag in ("caption", "td", "th"):
            self.into = tag

    def handle_endtag(self, tag):
        if tag in ("caption", "td", "th", "p"):
            self.into = None

    def handle_data(self, data):
        if self.into == "caption":
            self.tables[-1][0] += data
        elif self.into == "answer":
            self.answers[-1] += data
        elif self.into:
            self.tables[-1][1][-1][-1] += data


def parsed(page):
    tables = Tables()
    tables.feed(page)
    return tables


lookup = {(r["indicator"], r["measure"], r["unit"], r["period"], r["group"]): r for r in summary}
measures = {r["indicator"]: r["measure"] for r in summary}
titles = sorted(named, key=len, reverse=True)
FIGURE = r"(?:\d+ d \d+ h|\d+(?:,\d{3})*(?:\.\d+| h \d\d)?)"


def figures(cell):
    """(value, half of its last digit) of each number, in its row's scale without factor; clocks as minutes."""
    out = []
    for found in re.findall(FIGURE, cell):
        found = found.replace(",", "")
        clock = re.fullmatch(r"(\d+) h (\d\d)", found)
        days = re.fullmatch(r"(\d+) d (\d+) h", found)
        if clock:
            out.append((60 * int(clock[1]) + int(clock[2]), 0.5))
        elif days:
            out.append((1440 * int(days[1]) + 60 * int(days[2]), 30))
        else:
            out.append((float(found), 0.5 * 10.0 ** -len(found.partition(".")[2])))
    return out


def told(cell, row, columns):
    """Whether the cell tells these columns of the row, rounded as it has them."""
    if row is None:
        return False
    if row["method"] == "suppressed":
        return cell == "hidden"
    factor = 100 if row["scale"] == "proportion" and columns[0] == "estimate" else 1
    values = [float(row[c]) * factor for c in columns if row[c] != ""]
    shown = figures(cell.replace("–", ""))
    return len(values) == len(shown) and all(abs(v - s) <= half * (1 + 1e-9) for v, (s, half) in zip(values, shown))


def row_at(label, unit, period):
    """The row that a table's label names."""
    title = next((t for t in titles if label.startswith(t) and re.fullmatch(r"(, per .*)?(: .* within)?", label[len(t):])), None)
    if title is None:
        return None
    name = named[title]
    measure = measures[name] if measures[name] not in QUANTILES else "p90" if "nine in ten" in label else "median"
    return lookup.get((name, measure, unit, period, "all"))


def tables_wrong(tables):
    wrong, cells = [], 0

    def hold(caption, label, cell, row, columns):
        nonlocal cells
        cells += 1
        if not told(cell, row, columns):
            wrong.append(f"{caption} / {label}: {cell!r}")

    interval = ["estimate", "lower", "upper"]
    for caption, (head, *rows) in tables:
        periods = ["all" if h == "Whole span" else h for h in head]
        if head[0] == "Indicator" and head[-1] == "Not known for":
            for label, *own in rows:
                for cell, period in zip(own[:-1], periods[1:-1]):
                    hold(caption, label, cell, row_at(label, "all", period), interval)
                hold(caption, label, own[-1], row_at(label, "all", "all"), ["unknown"])
        elif head[0] == "Sending unit":
            for unit, *own in rows:
                for cell, label in zip(own, head[1:]):
                    hold(caption, unit, cell, row_at(label, units.get(unit, unit), "all"), interval)
        elif head[0] == "Part":
            name = named[caption.partition(": parts in ")[0]]
            groups = [r["group"] for r in summary if r["indicator"] == name and " & " not in r["group"] and (
                r["unit"], r["period"]) == ("all", "all")]
            if len(groups) != len(rows):
                wrong.append(f"{caption}: {len(rows)} parts of {len(groups)}")
            for group, (label, number, *own) in zip(groups, rows):
                hold(caption, label, number, lookup[name, "mix", "all", "all", group], ["events"])
                for cell, period in zip(own, periods[2:]):
                    hold(caption, label, cell, lookup[name, "mix", "all", period, group], interval)
    return wrong if cells > 100 else wrong + [f"only {cells} numbers in tables"]


def answers_wrong(answers):
    """Intervals in sentences that are none of a shown row."""
    shown = [r for r in summary if r["method"] != "suppressed" and r["lower"] != "" and r["upper"] != ""]
    intervals = [i for a in answers for i in re.findall(FIGURE + r"[^(.;,]{0,6}\(" + FIGURE + " to " + FIGURE + r"\)", a)]
    return [i for i in intervals if not any(told(i, r, ["estimate", "lower", "upper"]) for r in shown)]


def markdown_cells(md):
    lines = [line for line in md.splitlines() if line.startswith("| ") and not line.startswith("| ---")]
    return [re.sub(r"\\(.)", r"\1", c).strip() for line in lines for c in re.split(r"(?<!\\)\|", line)[1:-1]]


page = text(release, "report.html")
tables = parsed(page)
holds("report.html: each number is its row's, or hidden", tables_wrong(tables.tables))
holds("report.html: the sentences tell shown rows", answers_wrong(tables.answers))


def markdown_wrong(md):
    mine = [c for caption, rows in tables.tables for r in rows for c in r if "indicators of" in caption or ": by " in caption
            or ": parts in " in caption]
    theirs = markdown_cells(md)
    it = iter(theirs)
    missing = [c for c in mine if not any(c == t for t in it)]
    return missing[:3] + [c for c in theirs if re.search(r"\d \(|\d %", c) and c not in set(mine)]


markdown = text(release, "report.md")
holds("report.md: the cells of report.html", markdown_wrong(markdown))
holds("no picture, script or comparison", re.findall(r"<svg|<script|<img|class=\"signal", page))

# ---- the account ----
whole, told_of = (json.loads(text(folder, "manifest.json"))["account"] for folder in (pack, release))


def account_wrong(told_of):
    parts = [k for k in whole if k != "read"]
    unseen = [k for k in parts if told_of[k] is None]
    wrong = [k for k in whole if told_of[k] is not None and (told_of[k] != whole[k] or 1 <= whole[k] < least)]
    if told_of["read"] is not None and 1 <= sum(whole[k] for k in unseen) < least or len(unseen) == 1 and told_of["read"] is not None:
        wrong.append("read less the rest")
    return wrong


holds("manifest.json: the account tells no small count", account_wrong(told_of))
account = [r for caption, rows in tables.tables if caption.startswith("Account of rows") for r in rows[1:]]
holds("report.html: the account is the manifest's", [r for r, k in zip(account, told_of) if r[1] != (
    "hidden" if told_of[k] is None else f"{told_of[k]:,}")] + ([] if len(account) == len(told_of) else ["rows"]))

# ---- planted faults ----
secrets = [n for n, r in enumerate(summary) if hidden[n] and r["measure"] == "share"]
at = next((n for n in secrets if (summary[n]["unit"], summary[n]["period"], summary[n]["group"]) == ("all",) * 3), secrets[0])
secret = "{:.1f} % ({:.1f} to {:.1f})".format(*[100 * float(truth[at][c] or 0) for c in ("estimate", "lower", "upper")])
holds("planted: a hidden number in a table", [] if tables_wrong(parsed(page.replace(
    "<td>hidden</td>", f"<td>{secret}</td>", 1)).tables) else ["not noticed"])
holds("planted: a hidden number in a sentence", [] if answers_wrong([f"Of these {secret} were lost."]) else ["not noticed"])
holds("planted: a hidden number in the text", [] if markdown_wrong(markdown.replace("| hidden |", f"| {secret} |", 1))
      else ["not noticed"])
in_book[summary[at]["indicator"]][0][3] = 0.123
holds("planted: another number in the workbook", [] if workbook_wrong(in_book) else ["not noticed"])
holds("planted: the account whole", [] if account_wrong(whole) or not any(1 <= v < least for v in whole.values()) else ["not noticed"])

print(f"{passed} passed, {failed} failed")
sys.exit(failed > 0)
