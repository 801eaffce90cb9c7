"""Recomputes the solvent of every month from an export's JSON Lines alone: recompute_solvent.py FOLDER prints JSON.

Nothing of the program is used. What it goes by, as the record's documentation says it:
- an entry of kind void takes back the entry that it corrects; what was taken back counts nowhere;
- a lot is bound to the data sheet it was received with, or to the one it was bound to last;
- a cup holds what was poured and, where it tops another one up, what was left of that, in that one's own ratio;
- an amount is split over the lots of a cup by largest remainder, ties to the earlier part;
- a substance of a use weighs uL x mg/L x ppm / 10^12 mg, rounded half to even, and every total is a sum of those;
- a range counts at its upper end, an exempt substance or water at its lower end, a solid not at all, and what is
  volatile and not named counts as VOC.
"""
import collections, datetime, fractions, json, pathlib, sys, tomllib

PER_LITRE = {"kg/L": 10**6, "g/mL": 10**6, "g/L": 10**3, "mg/L": 1}


def exact(text, scale):
    """A typed figure as a whole number of small units."""
    value = fractions.Fraction(text.strip()) * scale
    if value.denominator != 1:
        raise SystemExit(f"{text!r} is finer than the record keeps")
    return value.numerator


def density(text):
    number, unit = text.split()
    return exact(number, PER_LITRE[unit])


def share(text):
    number, unit = text.split()
    return exact(number, {"%": 10**4, "ppm": 1}[unit])


def half_even(top, bottom):
    whole, rest = divmod(top, bottom)
    return whole + (2 * rest > bottom or (2 * rest == bottom and whole % 2))


def split(total, weights):
    sum_of = sum(weights)
    parts = [total * w // sum_of for w in weights]
    by_rest = sorted(range(len(weights)), key=lambda i: (-(total * weights[i] % sum_of), i))
    for i in by_rest[: total - sum(parts)]:
        parts[i] += 1
    return parts


class Sheet:
    def __init__(self, text):
        file = tomllib.loads(text)
        head = file["material"]
        self.density = density(head["density"])
        self.counted = []
        for part in file.get("contains", []):
            if part.get("solid"):
                continue
            ends = part["share"] if isinstance(part["share"], list) else [part["share"]] * 2
            aside = part.get("exempt") or part.get("water")
            kinds = {k for k in ("exempt", "water", "hap") if part.get(k)}
            self.counted.append((part["cas"], share(ends[0 if aside else 1]), kinds))
        rest = 10**6 - share(head["weight_solids"]) - sum(s for _, s, _ in self.counted)
        if rest > 0:
            self.counted.append(("other volatile", rest, set()))


folder = pathlib.Path(sys.argv[1])
entries = [json.loads(line) for line in (folder / "entries.jsonl").read_bytes().split(b"\n") if line]
gone = {e["corrects"] for e in entries if e["kind"].split("/")[0] == "void"}
sheets, lots, cups, uses = {}, {}, {}, []
for e in entries:
    if e["seq"] in gone:
        continue
    kind, body = e["kind"].split("/")[0], json.loads(e["body"])
    month = (datetime.date(1970, 1, 1) + datetime.timedelta(days=e["day"])).strftime("%Y-%m")
    if kind == "material":
        sheets[body["code"], body["sheet"]] = Sheet(body["text"])
    elif kind == "lot":
        lots[body["lot"]] = (body["material"], body["sheet"])
    elif kind == "rebound":
        lots[body["lot"]] = (lots[body["lot"]][0], body["sheet"])
    elif kind == "mix":
        cup = dict()
        for lot, ul in body["parts"]:
            cup[lot] = cup.get(lot, 0) + ul
        if "parent" in body and "left_ul" in body:
            old = cups[body["parent"]]
            for lot, ul in zip(old, split(body["left_ul"], list(old.values()))):
                cup[lot] = cup.get(lot, 0) + ul
        cups[body["mix"]] = cup
    elif kind == "coat" and body.get("ul"):
        cup = cups[body["mix"]] if "mix" in body else {body["lot"]: 1} if "lot" in body else None
        if cup:
            uses.append((month, cup, body["ul"]))
    elif kind == "issued":
        uses.append((month, {body["lot"]: 1}, body["ul"]))
    elif kind == "pot-closed" and body.get("ul"):
        uses.append((month, cups[body["mix"]], body["ul"]))

months = {}
for month, cup, amount in uses:
    of = months.setdefault(month, {"totals": collections.Counter(), "volumes": collections.Counter(),
                                   "substances": collections.Counter()})
    for lot, ul in zip(cup, split(amount, list(cup.values()))):
        material, name = lots[lot]
        sheet = sheets[material, name]
        of["volumes"][material] += ul
        for cas, part, kinds in sheet.counted:
            mg = half_even(ul * sheet.density * part, 10**12)
            of["substances"][f"{material}|{name}|{cas}"] += mg
            if "exempt" in kinds:
                of["totals"]["exempt_mg"] += mg
            elif "water" not in kinds:
                of["totals"]["voc_mg"] += mg
            if "hap" in kinds:
                of["totals"]["hap_mg"] += mg
print(json.dumps(months, indent=1, sort_keys=True))
