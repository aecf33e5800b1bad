#!/usr/bin/env python3
# SPDX-License-Identifier: GPL-3.0-or-later
"""hostile.py log FILE: a log whose units have names that are paths, formulas, markup, devices, or alike.
hostile.py check FILE PACK DATABASE TABLES: each name reaches every table as it is, is text on every page and in every chart,
and has a page of its own whose file name any system takes. The last line is `N passed, N failed`."""
import collections, csv, glob, html.parser, json, os, re, sqlite3, sys
import xml.etree.ElementTree as ElementTree
import openpyxl

UNITS = ["../../x", "..\\..\\y", "CON", "con", "nul.txt", "a b", "a_b", "A B", "a-b", "x" * 255, "new\nline", 'quo"te',
         "apo'strophe", "<script>alert(1)</script>", "&amp;", "\\textbf{x}$y$", "%s%n%d", "{/Symbol a}_b^c @x", "=1+1",
         "+cmd|x", "@SUM", "-dash", "É ü 漢字", "rtl", "מרכז 7", "`ls`$(ls)", "--out", "tab\there", ".hidden", "index",
         "report", "null", "1; DROP TABLE record;--", "a & b=c", "|", "*?[]", "Ⅷ", "e\u0301", "\u00e9"]
REFUSED = ["y" * 256, "y" * 300, "All", "Unknown", ""]  # no unit codes: the row is put aside
WRITTEN = {"rtl": "\u202er\u200btl\ufeff"}  # read without what nobody sees
HEAD = "transfer_id,sending_unit,receiving_unit,urgency,reason,requested_at,departed_at,escort_grade,events".split(",")


def make(path):
    with open(path, "w", newline="", encoding="utf-8") as file:
        out = csv.writer(file, lineterminator="\n")
        out.writerow(HEAD)
        for i, unit in enumerate(UNITS + REFUSED):
            for k in range(6 + i % 5):
                out.writerow([f"T{i}-{k}", WRITTEN.get(unit, unit), UNITS[(i + k + 1) % len(UNITS)], ["urgent", "planned"][k % 2],
                              ["bed-capacity", "staffing", "specialist-care"][(i + k) % 3],
                              f"2031-0{1 + k % 6}-1{i % 9}T1{k % 9}:07", f"2031-0{1 + k % 6}-1{i % 9}T2{k % 4}:3{k % 9}",
                              ["consultant", "nurse"][(i * k) % 2], ["none", "airway:low", ""][(i + k) % 3]])


passed = failed = 0


def holds(what, wrong):
    global passed, failed
    passed += not wrong
    failed += bool(wrong)
    if wrong:
        print(f"{what}: {len(wrong)} wrong, such as {sorted(map(str, wrong))[:5]}")


def same(what, found):
    holds(what, set(found) ^ set(UNITS))


def rows(path):
    with open(path, newline="", encoding="utf-8") as file:
        return list(csv.DictReader(file))


class Page(html.parser.HTMLParser):
    def __init__(self, path):
        super().__init__()
        self.tags, self.attributes, self.text = set(), set(), []
        self.feed(open(path, encoding="utf-8").read())

    def handle_starttag(self, tag, attributes):
        self.tags.add(tag)
        self.attributes |= {name for name, value in attributes}

    def handle_data(self, data):
        self.text.append(data)


def spaced(text):
    return " ".join(text.split())


def check(log, pack, database, tables):
    for name in ("summary.csv", "comparisons.csv", "received.csv", "base-cover.csv"):
        found = {row["unit"] for row in rows(f"{pack}/{name}")} - {"all", ""}
        holds(f"{name}: units that no log names", found - set(UNITS))
        if name == "summary.csv":
            same(name, found)
    same("summary.json", {row["unit"] for row in json.load(open(f"{pack}/summary.json", encoding="utf-8"))} - {"all"})
    same("database", {row[0] for row in sqlite3.connect(database).execute("SELECT DISTINCT unit FROM indicator_counts")} - {"all"})
    same("tables", {row["unit"] for row in rows(f"{tables}/counts.csv")} - {"all"})
    cells = [cell for sheet in openpyxl.load_workbook(f"{pack}/summary.xlsx") for line in sheet.iter_rows() for cell in line]
    holds("workbook: cells that are a formula", {cell.value for cell in cells if cell.data_type == "f"})
    holds("workbook: names it has not", set(UNITS) - {cell.value for cell in cells})
    aside = collections.Counter(row["code"] for row in rows(f"{pack}/put-aside.csv"))
    refused = sum(6 + i % 5 for i in range(len(UNITS), len(UNITS) + len(REFUSED)))
    holds("put aside", [] if sum(aside.values()) == refused else [aside])

    # A name must not become a group of its own kind: what is unknown is empty, never called so by a log.
    groups = {row["group"] for row in rows(f"{pack}/summary.csv") if row["group"].startswith("receiving_unit=")}
    holds("groups by receiving unit", {group[len("receiving_unit="):] for group in groups} - set(UNITS))

    pages = glob.glob(f"{pack}/**/*.html", recursive=True)
    for path in pages:
        page = Page(path)
        holds(os.path.basename(path), page.tags & {"script", "iframe", "object", "svg", "embed"} |
              {name for name in page.attributes if name.startswith("on")})
    text = spaced("".join(" " + data for data in Page(f"{pack}/report.html").text))
    holds("report.html lacks", {unit for unit in UNITS if spaced(unit) not in text})
    for line in open(f"{pack}/report.md", encoding="utf-8"):
        if line.startswith("|") and not line.rstrip().endswith("|"):
            holds("report.md", [line])
    names = [os.path.basename(path)[:-5] for path in pages if os.path.dirname(path).endswith("units")]
    holds("pages of units", [] if len(names) == len(UNITS) else [len(names)])
    holds("names of files", {name for name in names if not re.fullmatch("[a-z0-9]([a-z0-9-]{0,60}[a-z0-9])?", name) or
                             re.fullmatch("con|prn|aux|nul|com[0-9]|lpt[0-9]", name)})
    for path in glob.glob(f"{pack}/charts/*.svg"):
        try:
            chart = ElementTree.parse(path)
            holds(path, {tag for tag in (element.tag.split("}")[-1] for element in chart.iter()) if tag in ("script", "a", "image")})
        except ElementTree.ParseError as problem:
            holds(path, [problem])
    holds("files outside the pack", set(os.listdir(os.path.dirname(pack))) - {os.path.basename(path) for path in (log, pack, database, tables)})
    print(f"{passed} passed, {failed} failed")
    return failed > 0


sys.exit(make(sys.argv[2]) if sys.argv[1] == "log" else check(*sys.argv[2:6]))
