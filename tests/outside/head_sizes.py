"""Compares the head sizes with an open library of CAD parts, which took them from the standards by another hand.

Run, with the package unpacked anywhere (facts are compared, nothing is copied):

    python3 -m pip install --no-deps --target /tmp/parts bd_warehouse==0.4.0
    python3 tests/outside/head_sizes.py heads.csv /tmp/parts/bd_warehouse/data

heads.csv is the table `heads` as CSV: all heads of all standards, with the columns table, size, tool, head_diameter and height.
Known differences are listed below with the reason; any other difference, and a list entry that no longer differs, is a failure.
"""

import csv
import sys
from fractions import Fraction
from pathlib import Path

# (table, size, column): why the two differ. The library's value is in the comment where it is the wrong one.
KNOWN = {
    ("iso-4014", "M1.6", "height"): "the library has the greatest height, 1.3",
    ("iso-4014", "M2", "height"): "the library has the greatest height, 1.6",
    ("iso-4014", "M2.5", "height"): "the library has the greatest height, 1.9",
    ("iso-4014", "M3.5", "height"): "the library has the greatest height, 2.6",
    ("iso-4014", "M33", "height"): "the library has the greatest height, 21.42",
    ("iso-4014", "M39", "height"): "the library has the greatest height, 25.42",
    ("iso-4014", "M45", "height"): "the library has the greatest height, 28.42",
    ("iso-4014", "M52", "height"): "the library has the greatest height, 33.5",
    ("iso-4014", "M60", "height"): "the library has the greatest height, 38.5",
    ("din-931", "M1.6", "flats"): "the library has the least width, 3.02",
    ("din-931", "M2", "flats"): "the library has the least width, 3.82",
    ("din-931", "M2.5", "flats"): "the library has the least width, 4.82",
    ("din-931", "M3.5", "flats"): "the library has the least width, 5.82",
    ("iso-4162", "M12", "flats"): "15 in ISO 4162; the library has EN 1662, 16, which stands in its own table",
    ("iso-4162", "M6", "height"): "6.8 and 6.9 in two libraries",
    ("iso-4162", "M12", "height"): "11.9 and 12.1 in two libraries",
    ("iso-4162", "M16", "height"): "15.1 and 15.2 in two libraries",
}

# Table, file of the library, prefix of its columns, what is compared: column of ours to column of theirs.
FILES = [
    ("iso-4014", "hex_head_parameters.csv", "iso4014", {"flats": "s", "height": "k"}),
    ("din-931", "hex_head_parameters.csv", "din931", {"flats": "s"}),
    ("iso-4032", "hex_nut_parameters.csv", "iso4032", {"flats": "s", "height": "m"}),
    ("iso-4162", "hex_head_with_flange_parameters.csv", "din1662", {"flats": "s", "head_diameter": "dc", "height": "k"}),
    ("en-1665", "hex_head_with_flange_parameters.csv", "din1665", {"flats": "s", "head_diameter": "dc", "height": "k"}),
    ("iso-4762", "socket_head_cap_parameters.csv", "iso4762", {"flats": "s", "height": "k"}),
    ("asme-b18-3", "socket_head_cap_parameters.csv", "asme_b18.3", {"flats": "s", "head_diameter": "dk", "height": "k"}),
    ("iso-7380-1", "button_head_parameters.csv", "iso7380_1", {"head_diameter": "dk", "height": "k"}),
    ("iso-7380-2", "button_head_with_collar_parameters.csv", "iso7380_2", {"head_diameter": "dc", "height": "k"}),
    ("iso-14583", "pan_head_parameters.csv", "iso14583", {"drive": "recess", "head_diameter": "dk", "height": "k"}),
]
# The library prints inch heights to the screw diameter, ours to three decimals.
TOLERANCE = 0.0006


def number(text):
    """A decimal or a fraction of an inch."""
    return float(sum(Fraction(part) for part in text.replace("-", " ").split()))


def ours(path):
    """Our rows by table and size, with the tool as across flats or as the name of the drive."""
    found = {}
    with open(path, newline="", encoding="utf-8") as file:
        for row in csv.DictReader(file):
            tool = row["tool"]
            values = {"drive": tool, "head_diameter": row["head_diameter"], "height": row["height"]}
            if tool.endswith((" mm", " in")):
                values["flats"] = tool[:-3]
            found[row["table"], row["size"].removesuffix(" in")] = values
    return found


def theirs(data, name, prefix):
    """Their rows by size, without the pitch."""
    with open(data / name, newline="", encoding="utf-8") as file:
        for row in csv.reader(file):
            if row[0] in ("Size", ""):
                columns = [column.strip() for column in row]
                continue
            size = row[0].split("-")[0]
            yield size, {c.removeprefix(prefix + ":"): v for c, v in zip(columns, row) if c.startswith(prefix + ":") and v}


def differs(mine, other):
    try:
        return abs(number(mine) - number(other)) > TOLERANCE
    except ValueError:
        return mine != other


def main(heads, data):
    own = ours(heads)
    compared, unknown, seen = 0, [], set()
    for table, name, prefix, columns in FILES:
        for size, row in theirs(Path(data), name, prefix):
            for column, other in columns.items():
                if other not in row:
                    continue
                mine = own.get((table, size), {}).get(column)
                if not mine:
                    unknown.append(f"{table} {size} {column}: ours is missing, theirs {row[other]}")
                    continue
                compared += 1
                if differs(mine, row[other]):
                    key = (table, size, column)
                    seen.add(key)
                    if key not in KNOWN:
                        unknown.append(f"{table} {size} {column}: ours {mine}, theirs {row[other]}")
    unknown += [f"{' '.join(key)}: listed as different, but agrees" for key in KNOWN if key not in seen]
    print(f"{compared} values compared, {len(seen)} known differences, {len(unknown)} unknown")
    print("\n".join(unknown))
    return 1 if unknown or compared < 250 else 0


if __name__ == "__main__":
    sys.exit(main(*sys.argv[1:3]))
