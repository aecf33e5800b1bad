# SPDX-License-Identifier: GPL-3.0-or-later
"""Holds a folder with a data package against the published profile and its own dictionary; what `export --tables` wrote
also against the pack.

    tables.py FOLDER                any folder with CSV files and datapackage.json
    tables.py TABLES PACK LOG...    LOG: the files that were read

The profile is tests/export/profiles/tabular-data-package.json (its source beside it). The rest of what Data Package 1 and
Table Schema 1 ask for (types, constraints, keys, hashes) is checked cell by cell here. Ends with `N passed, N failed`.
"""
import csv
import hashlib
import json
import os
import re
import sys

import jsonschema

tables, pack, logs = sys.argv[1], sys.argv[2] if len(sys.argv) > 2 else None, sys.argv[3:]
here = os.path.dirname(os.path.abspath(__file__))
passed = failed = 0


def holds(what, wrong):
    """Counts a test; wrong lists what speaks against it."""
    global passed, failed
    if wrong:
        failed += 1
        print("FAILED", what, *wrong[:5], sep="\n  ")
    else:
        passed += 1


def rows_of(path):
    with open(path, encoding="utf-8", newline="") as file:
        return list(csv.reader(file))


PATTERN = {"integer": r"-?[0-9]+", "number": r"-?[0-9]+(\.[0-9]+)?(e[-+][0-9]+)?", "string": r"(?s).*"}


def cell_errors(resource, heading, rows):
    for field in resource["schema"]["fields"]:
        constraints = field["constraints"]
        at = heading.index(field["name"])
        for line, row in enumerate(rows, 2):
            cell = row[at]
            if cell == "":
                if constraints.get("required"):
                    yield f"{resource['path']}:{line}: {field['name']} is empty"
            elif not re.fullmatch(PATTERN[field["type"]], cell):
                yield f"{resource['path']}:{line}: {field['name']} {cell!r} is no {field['type']}"
            elif "enum" in constraints and cell not in constraints["enum"]:
                yield f"{resource['path']}:{line}: {field['name']} {cell!r} is not allowed"


def duplicate_keys(resource, heading, rows):
    if "primaryKey" not in resource["schema"]:
        return
    at = [heading.index(name) for name in resource["schema"]["primaryKey"]]
    seen = set()
    for row in rows:
        key = tuple(row[i] for i in at)
        if key in seen:
            yield str(key)
        seen.add(key)


package = json.load(open(os.path.join(tables, "datapackage.json"), encoding="utf-8"))
profile = json.load(open(os.path.join(here, "profiles", "tabular-data-package.json"), encoding="utf-8"))
holds("datapackage.json follows the published profile",
      [error.message for error in jsonschema.Draft4Validator(profile).iter_errors(package)])
broken = json.loads(json.dumps(package))
del broken["resources"][0]["schema"]
broken["resources"][1]["schema"]["fields"][0]["type"] = "text"
holds("the profile would notice a file without a schema, and a type that is none",
      [] if len(list(jsonschema.Draft4Validator(profile).iter_errors(broken))) >= 2 else ["it does not"])
holds("every CSV file is listed", sorted({name for name in os.listdir(tables) if name.endswith(".csv")} ^
                                        {r["path"] for r in package["resources"]}))

data = {}
for resource in package["resources"]:
    path = os.path.join(tables, resource["path"])
    content = open(path, "rb").read()
    heading, *rows = rows_of(path)
    data[resource["name"]] = [dict(zip(heading, row)) for row in rows]
    holds(resource["path"] + ": columns are those of the dictionary",
          [] if heading == [f["name"] for f in resource["schema"]["fields"]] else heading)
    holds(resource["path"] + ": types and constraints", list(cell_errors(resource, heading, rows)))
    holds(resource["path"] + ": the key tells rows apart", list(duplicate_keys(resource, heading, rows)))
    holds(resource["path"] + ": bytes and hash",
          [] if (len(content), "sha256:" + hashlib.sha256(content).hexdigest()) == (resource["bytes"], resource["hash"]) else ["differ"])
for resource in package["resources"]:
    for key in resource["schema"].get("foreignKeys", []):
        name, other = key["fields"], key["reference"]["resource"]
        known = {row[name] for row in data[other]}
        holds(f"{resource['path']}: {name} is one of {other}.csv", sorted({row[name] for row in data[resource["name"]]} - known))

if not pack:
    print(f"{passed} passed, {failed} failed")
    sys.exit(failed > 0)

# The pack of the same logs: summary.csv, and manifest.json with the checksums.


def group_name(row):
    parts = []
    if row["group_field"] != "all":
        parts.append(row["group_field"] + "=" + row["group_code"])
    if row["part_field"] != "none":
        parts.append(row["part_field"] + "=" + row["part_code"])
    return " & ".join(parts) or "all"


def cell_key(row):
    return row["indicator"], row["unit"], row["period"], group_name(row)


counts = {cell_key(row): row for row in data["counts"]}
estimates = {(*cell_key(row), row["statistic"]): row for row in data["estimates"]}
heading, *rows = rows_of(os.path.join(pack, "summary.csv"))
summary = [dict(zip(heading, row)) for row in rows]
SAME = ["estimate", "lower", "upper", "confidence", "method", "if_unknown_none", "if_unknown_all", "scale"]
wrong = []
for row in summary:
    cell = (row["indicator"], row["unit"], row["period"], row["group"])
    count, estimate = counts.get(cell), estimates.pop((*cell, row["measure"]), None)
    if not count or not estimate or any(row[k] != count[k] for k in ("events", "total", "unknown")) or \
            any(row[k] != estimate[k] for k in SAME):
        wrong.append(str(cell))
holds(f"counts.csv and estimates.csv say what {len(summary)} rows of summary.csv say", wrong)
holds("and no more", [str(key) for key in estimates])
holds("there is something in it", [] if len(summary) > 100 else [str(len(summary))])
manifest = json.load(open(os.path.join(pack, "manifest.json"), encoding="utf-8"))
holds("account.csv", [] if {r["part"]: int(r["rows"]) for r in data["account"]} == manifest["account"] else ["differs"])
# of a replay, export knows nothing
settings = {k: v for k, v in manifest["settings"].items() if not k.startswith("replay.") and k != "sha256.replay.ini"}
holds("version and settings",
      [] if (package["made_with"]["version"], package["made_with"]["settings"]) == (manifest["version"], settings)
      else [str(package["made_with"]), str(manifest["settings"])])
sums = sorted(hashlib.sha256(open(log, "rb").read()).hexdigest() for log in logs)
holds("checksums of the logs", [] if sums == sorted(r["sha256"] for r in data["inputs"]) ==
      sorted(i["sha256"] for i in package["made_with"]["inputs"]) else sums)
print(f"{passed} passed, {failed} failed")
sys.exit(failed > 0)
