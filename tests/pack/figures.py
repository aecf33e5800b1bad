# SPDX-License-Identifier: GPL-3.0-or-later
"""Reading the figures of a pack's pages back: its tables, and whether a figure is that of a row of summary.csv."""
import re
from html.parser import HTMLParser


class Tables(HTMLParser):
    """Tables of a page: those of figures by the figure's id, all by their captions, each a list of rows of texts."""

    def __init__(self, page):
        super().__init__()
        self.figure, self.cell, self.caption, self.table = None, None, None, None
        self.of_figure, self.of_caption = {}, {}
        self.feed(page)

    def handle_starttag(self, tag, attributes):
        if tag == "figure":
            self.figure = dict(attributes).get("id")
        elif tag == "table":
            self.table, self.caption = [], ""
        elif tag == "tr" and self.table is not None:
            self.table.append([])
        elif tag in ("td", "th", "caption"):
            self.cell = ""

    def handle_data(self, data):
        if self.cell is not None:
            self.cell += data

    def handle_endtag(self, tag):
        if tag == "caption":
            self.caption, self.cell = self.cell, None
        elif tag in ("td", "th") and self.cell is not None:
            self.table[-1].append(self.cell.strip())
            self.cell = None
        elif tag == "table":
            self.of_caption[self.caption.strip()] = self.table
            if self.figure:
                self.of_figure[self.figure] = self.table
        elif tag == "figure":
            self.figure = None


def apart(md, pages):
    """Rows of the tables of a report.md that are not those of the page's Tables, and how many rows there are."""
    wrong, seen, caption = [], 0, None
    for line in md.split("\n"):
        if re.fullmatch(r"\*\*.*\*\*", line):
            caption, at = re.sub(r"\\(.)", r"\1", line[2:-2]), 0
        elif line.startswith("| --- "):
            continue
        elif line.startswith("|"):
            cells = [re.sub(r"\\(.)", r"\1", c).strip() for c in re.split(r"(?<!\\)\|", line)[1:-1]]
            page = pages.of_caption.get(caption)
            if not page or at >= len(page) or page[at] != cells:
                wrong.append(f"{caption}: {cells}")
            at, seen = at + 1, seen + 1
    return wrong, seen


MINUTES = re.compile(r"(?:(\d+) d )?(?:(\d+) h ?)?(?:(\d+)(?: min)?)?$")


def number(shown, scale):
    """A figure as it is printed, and how far off rounding may make it."""
    shown = shown.replace(",", "").replace(" %", "").replace("−", "-").strip()
    if scale == "minutes":
        days, hours, rest = (int(g) if g else 0 for g in MINUTES.match(shown).groups())
        return days * 1440 + hours * 60 + rest, 30 if days else 0.5
    shown = shown.replace(" h", "")
    digits = len(shown.partition(".")[2])
    per = 0.01 if scale == "proportion" else 1
    return float(shown) * per, 0.5 * 10 ** -digits * per


def agrees(shown, row):
    """Whether "46 % (41 to 51)" is what the row of summary.csv holds."""
    if row["estimate"] == "":
        return shown == "not known"
    value, _, limits = shown.partition(" (")
    low, _, high = limits.rstrip(")").partition(" to ")
    if not high:
        low, high = ("", low[8:]) if low.startswith("at most") else (low[9:], "") if low.startswith("at least") else ("", "")
    for part, name in ((value, "estimate"), (low, "lower"), (high, "upper")):
        if part == "" or row[name] == "":
            if part != row[name]:
                return False
            continue
        got, off = number(part, row["scale"])
        if abs(got - float(row[name])) > off * 1.0001 + 1e-12:
            return False
    return True
