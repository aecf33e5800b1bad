#!/usr/bin/env python3
# SPDX-License-Identifier: GPL-3.0-or-later
"""span.py PACK: a pack of a span that was asked for. What its report counts plainly (flows, hours of the week, events) is of that
span, as summary.csv is, not of the records before it. The last line is `N passed, N failed`."""
import csv, html, re, sys

pack = sys.argv[1]
page = open(f"{pack}/report.html", encoding="utf-8").read()
with open(f"{pack}/summary.csv", newline="", encoding="utf-8") as file:
    rows = [row for row in csv.DictReader(file) if row["unit"] == row["period"] == "all"]
passed = failed = 0


def check(what, good, detail):
    global passed, failed
    passed += good
    failed += not good
    if not good:
        print(f"{what}: {detail}")


def figure(name):
    return re.search(f'<figure id="{name}".*?</figure>', page, re.S).group(0)


def numbers(name, pattern):
    return [int(html.unescape(n).replace(",", "")) for n in re.findall(pattern, figure(name))]


def of(indicator, column, group="all"):
    return sum(int(row[column]) for row in rows if row["indicator"] == indicator and row["group"] == group)


transfers, hours = of("transfers", "events"), sum(numbers("departures-by-hour", r"<td>([\d,]+)</td>"))
flows = sum(numbers("flow", r"<td>([\d,]+)</td></tr>"))
check("flows", flows == transfers > 0, f"{flows} of {transfers} transfers")
check("hours of the week", transfers * 0.9 < hours <= transfers, f"{hours} of {transfers} transfers")  # of some no time is known
events = sum(int(row["events"]) for row in rows if row["indicator"] == "event_category_mix" and row["group"].startswith("event"))
shown, near = (sum(numbers("harm-ladder", pattern)) for pattern in (r"<td>([\d,]+)</td></tr>", r"</th><td>([\d,]+)</td>"))
check("events", shown - near == events > 0, f"{shown} with {near} near misses, not {events}")
print(f"{passed} passed, {failed} failed")
sys.exit(failed > 0)
