"""Holds tables that were computed anew against the kept ones: python compare.py KEPT NEW name ...
Words must be the same. A number may differ by two units of the last place that the kept file prints, which is what
another processor's arithmetic does to a printed digit. A column of differences (its name has "minus") is rounding
noise by itself and is held to 1e-6."""
import csv, os, sys
from decimal import Decimal, InvalidOperation

def number(text):
    try: return Decimal(text)
    except InvalidOperation: return None

def same(column, kept, new):
    if kept == new: return True
    a, b = number(kept), number(new)
    if a is None or b is None: return False
    place = Decimal(2).scaleb(a.as_tuple().exponent)
    return abs(a - b) <= max(place, Decimal("1e-6") if "minus" in column else place)

kept_folder, new_folder, *names = sys.argv[1:]
cells = wrong = 0
for name in names:
    kept, new = (list(csv.reader(open(os.path.join(f, name + ".csv"), newline=""))) for f in (kept_folder, new_folder))
    if [len(r) for r in kept] != [len(r) for r in new] or kept[0] != new[0]:
        print(f"{name}: other rows or columns than are kept"); wrong += 1; continue
    for line, (old, now) in enumerate(zip(kept[1:], new[1:]), 2):
        for column, a, b in zip(kept[0], old, now):
            cells += 1
            if not same(column, a, b):
                print(f"{name}.csv:{line} {column}: kept {a}, computed anew {b}"); wrong += 1
print(f"{len(names)} tables, {cells} cells computed anew, {wrong} differences")
sys.exit(1 if wrong else 0)
