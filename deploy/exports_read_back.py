#!/usr/bin/python3
"""Reads the CSV files of an export as others do, and compares every value with the JSON beside it.

    deploy/exports_read_back.py DIR [--spreadsheet]

DIR was written by: quern export ... --form csv,json --out DIR. The CSV files are read by pandas (Debian: python3-pandas);
with --spreadsheet also by LibreOffice (Debian: libreoffice-calc), told to evaluate formulas, and then no cell may hold one.
A cell that a spreadsheet takes for a time of day, a date or a truth value is compared as what it means.
Prints how much was compared; exit status 1 and the first differences if something differs.
"""
import json
import math
import pathlib
import re
import subprocess
import sys
import tempfile
import xml.etree.ElementTree as xml

wrong = []
said = 0


def differ(*what):
    wrong.append(" ".join(map(str, what)))


def unguarded(text):
    """The one rule for texts: take one apostrophe off the front."""
    return text[1:] if text.startswith("'") else text


def by_pandas(folder, tables):
    import pandas

    n = 0
    for name, rows in tables.items():
        frame = pandas.read_csv(folder / f"{name}.csv", keep_default_na=False, na_values=[""], float_precision="round_trip")
        if len(frame) != len(rows):
            differ("pandas:", name, "has", len(frame), "rows, JSON", len(rows))
            continue
        for column in frame.columns:
            if rows and column not in rows[0]:
                differ("pandas:", name, "has a column", column, "that JSON has not")
                continue
            for i, got in enumerate(frame[column].tolist()):
                want = rows[i][column]
                n += 1
                if want is None:
                    same = isinstance(got, float) and math.isnan(got)
                elif isinstance(want, str):
                    same = unguarded(got) == want if isinstance(got, str) else alike(got, want)
                else:
                    same = got == want
                if not same:
                    differ("pandas:", name, column, "row", i + 1, repr(got), "JSON", repr(want))
    print(f"pandas {pandas.__version__}: {n} cells of {len(tables)} tables compared")


def alike(got, want):
    """A column of texts that all look like numbers is read as numbers."""
    try:
        return float(got) == float(want)
    except (TypeError, ValueError):
        return False


OFFICE = "{urn:oasis:names:tc:opendocument:xmlns:office:1.0}"
TABLE = "{urn:oasis:names:tc:opendocument:xmlns:table:1.0}"
TEXT = "{urn:oasis:names:tc:opendocument:xmlns:text:1.0}"


def cells(row):
    out = []
    for c in row.findall(TABLE + "table-cell"):
        kind = c.get(OFFICE + "value-type")
        text = "\n".join("".join(spaced(p)) for p in c.findall(TEXT + "p"))
        value = {"float": "value", "percentage": "value", "currency": "value", "date": "date-value", "time": "time-value", "boolean": "boolean-value"}.get(kind)
        cell = (kind, c.get(OFFICE + value) if value else text, c.get(TABLE + "formula"))
        out += [cell] * min(int(c.get(TABLE + "number-columns-repeated", "1")), 200)
    return out


def spaced(p):
    yield p.text or ""
    for e in p:
        if e.tag == TEXT + "s":
            yield " " * int(e.get(TEXT + "c", "1"))
        elif e.tag == TEXT + "tab":
            yield "\t"
        else:
            yield "".join(e.itertext())
        yield e.tail or ""


def same_in_sheet(cell, want):
    kind, value, _ = cell
    if want is None:
        return kind is None
    if kind == "time":  # PT00H02M01.2S against 2:01.2
        h, m, s = re.fullmatch(r"PT(\d+)H(\d+)M([\d.]+)S", value).groups()
        minutes, seconds = want.split(":")
        return abs(int(h) * 3600 + int(m) * 60 + float(s) - int(minutes) * 60 - float(seconds)) < 1e-6
    if kind == "date":  # as it stands: only its form may differ
        return value.replace("T", " ").rstrip("0").rstrip(".") == want.rstrip("Z").replace("T", " ").rstrip("0").rstrip(".")
    if kind == "boolean" or isinstance(want, bool):
        return value.lower() == str(want).lower()
    if kind in ("float", "percentage", "currency"):
        return float(value) == float(want)
    return isinstance(want, str) and unguarded(value) == want


# Comma, double quote, UTF-8, from the first line, US English, special numbers detected, formulas evaluated.
AS_CSV = "Text - txt - csv (StarCalc):44,34,76,1,,1033,false,true,false,false,false,0,true"


def by_spreadsheet(folder, tables):
    n = 0
    with tempfile.TemporaryDirectory() as tmp:
        subprocess.run(["soffice", f"-env:UserInstallation=file://{tmp}/home", "--headless", f"--infilter={AS_CSV}", "--convert-to", "fods", "--outdir", tmp]
                       + [str(folder / f"{name}.csv") for name in tables], check=True, capture_output=True, timeout=900)
        for name, rows in tables.items():
            sheet = xml.parse(f"{tmp}/{name}.fods").getroot().find(f".//{TABLE}table")
            found = []
            for row in sheet.iter(TABLE + "table-row"):
                c = cells(row)
                if any(kind for kind, _, _ in c):
                    found += [c] * min(int(row.get(TABLE + "number-rows-repeated", "1")), 100000)
            head = [value for _, value, _ in found[0] if value]
            if len(found) - 1 != len(rows):
                differ("spreadsheet:", name, "has", len(found) - 1, "rows, JSON", len(rows))
                continue
            for i, want in enumerate(rows):
                for k, column in enumerate(head):
                    got = found[i + 1][k] if k < len(found[i + 1]) else (None, None, None)
                    n += 1
                    if got[2] is not None:
                        differ("spreadsheet:", name, column, "row", i + 1, "holds the formula", got[2])
                    elif not same_in_sheet(got, want[column]):
                        differ("spreadsheet:", name, column, "row", i + 1, got, "JSON", repr(want[column]))
    print(f"LibreOffice: {n} cells of {len(tables)} tables compared, and looked at for formulas")


def main():
    folder = pathlib.Path(sys.argv[1])
    tables = {f.stem: json.loads(f.read_text()) for f in sorted(folder.glob("*.json"))}
    if not tables:
        sys.exit(f"{folder}: found no JSON, expected an export with --form csv,json")
    by_pandas(folder, tables)
    if "--spreadsheet" in sys.argv[2:]:
        by_spreadsheet(folder, tables)
    for line in wrong[:20]:
        print(line)
    if wrong:
        sys.exit(f"{len(wrong)} cells differ")


main()
