#!/usr/bin/env python3
"""Writes the sample shop: pieces.csv, climate/booth.csv, climate/cure.csv and season.txt.

The shop is invented; people are initials. The script walks through three weeks of its days and spaces coats,
sandings and moves by the waits of recipes G9, P9 and N8, so that most deeds are in recipe; the deviations, the
corrections and the cold night are put in by hand. It reads no clock and draws no random number: two runs write the
same bytes.

    python3 sample/make_season.py
"""

import csv
import math
import pathlib
from datetime import datetime, timedelta

HERE = pathlib.Path(__file__).resolve().parent
BEGIN = datetime(2026, 3, 2, 6, 0)
END = datetime(2026, 3, 24, 6, 45)
# The clock change: at 02:00 on 8 March shop time runs on from 03:00.
CHANGE = datetime(2026, 3, 8, 2, 0)


def at(text):
    """`3-10 09:15` as shop time."""
    return datetime.strptime("2026-" + text, "%Y-%m-%d %H:%M")


def minutes(n):
    return timedelta(minutes=n)


def rfc3339(when):
    offset = "-05:00" if when < CHANGE else "-04:00"
    return when.strftime("%Y-%m-%dT%H:%M:%S") + offset


def ripple(n):
    """A small even wobble between -1 and 1, the same at every run."""
    return math.sin(n * 1.7) * 0.6 + math.sin(n * 0.37 + 1.0) * 0.4


# ------------------------------------------------------------------------------------------------- pieces

OM, CT, PG = "octave mandolin", "cittern", "parlour guitar"
BODY_AREA = {OM: 0.21, CT: 0.23, PG: 0.37}
NECK_AREA = {OM: 0.08, CT: 0.09, PG: 0.09}


class Piece:
    def __init__(self, serial, kind, model, recipe, due, rack, hook, pair="", room="", tag=""):
        area = (BODY_AREA if kind == "body" else NECK_AREA)[model]
        self.serial, self.kind, self.model, self.recipe = serial, kind, model, recipe
        self.area, self.due, self.rack, self.hook = area, due, rack, hook
        self.pair, self.room, self.tag = pair, room, tag
        # What stands on it, by this walk: end of the last wet coat, and whether a rack's deed leaves it out.
        self.wet, self.last = None, None
        self.away = False

    def row(self):
        return [self.serial, self.kind, self.model, self.recipe, f"{self.area:.2f} m2", self.tag, self.due, self.pair,
                self.rack, self.hook, self.room]


def make_pieces():
    pieces = []

    def body(n, model, recipe, due, rack, hook, pair=None, room="", tag=""):
        pair = f"N-{pair:04}" if pair else ""
        pieces.append(Piece(f"B-{n:04}", "body", model, recipe, due, rack, hook, pair, room, tag))

    def neck(n, model, due, rack, hook, pair=None, room=""):
        pair = f"B-{pair:04}" if pair else ""
        pieces.append(Piece(f"N-{n:04}", "neck", model, "N8 rev 1", due, rack, hook, pair, room))

    first = [OM, OM, OM, CT, CT, CT, PG, PG, OM, CT]
    dues = ["2026-03-27", "2026-03-27", "2026-03-27", "2026-04-01", "2026-04-01",
            "2026-04-03", "2026-04-08", "2026-04-08", "2026-03-26", "2026-04-08"]
    for i, (model, due) in enumerate(zip(first, dues)):
        body(301 + i, model, "G9 rev 3", due, "R1", i + 1, 401 + i, "", f"T-{61 + i}")
    for i, (model, due) in enumerate(zip(first, dues)):
        neck(401 + i, model, due, "R2", i + 1, 301 + i)
    third = [OM, OM, CT, CT, CT, OM, OM, CT, PG, PG, PG, OM]
    for i, model in enumerate(third):
        due = "2026-03-31" if i == 7 else ("2026-04-10" if i < 6 else "2026-04-17")
        body(311 + i, model, "G9 rev 3", due, "R3", i + 1, 411 + i)
    for i in range(10):
        body(323 + i, PG if i < 6 else CT, "P9 rev 1", "2026-04-24", "R4", i + 1)
    for i in range(8):
        body(333 + i, OM if i < 4 else CT, "G9 rev 3", "2026-05-01", "R5", i + 1)
    for i, model in enumerate(third):
        due = "2026-03-31" if i == 7 else ("2026-04-10" if i < 6 else "2026-04-17")
        neck(411 + i, model, due, "R6", i + 1, 311 + i)
    return pieces


# ------------------------------------------------------------------------------------------------ climate

def booth_air(when):
    """Temperature and humidity of booth 1: heated by day, set back at night and on Sundays."""
    hour = when.hour + when.minute / 60
    n = (when - BEGIN) / minutes(15)
    by_day = 0 if when.weekday() == 6 else max(0.0, min(1.0, (hour - 5) / 2, (23 - hour) / 2))
    swing = 0.9 * math.sin((hour - 9) / 24 * 2 * math.pi)
    damp = 4.0 * math.sin((when - BEGIN) / timedelta(days=6.1) * 2 * math.pi)
    temperature = 18.6 + 2.6 * by_day + swing + 0.25 * ripple(n)
    humidity = 46 + damp - 3.0 * by_day - 1.5 * swing + 1.2 * ripple(n * 0.7)
    return round(temperature, 1), round(humidity)


def cure_air(when):
    """Temperature and humidity of the cure room. In the night of 12 March its heater stopped."""
    hour = when.hour + when.minute / 60
    n = (when - BEGIN) / minutes(15)
    temperature = 22.6 + 0.8 * math.sin((hour - 9.5) / 24 * 2 * math.pi) + 0.2 * ripple(n)
    humidity = 43 + 3.0 * math.sin((when - BEGIN) / timedelta(days=5.3) * 2 * math.pi) + ripple(n * 0.9)
    if at("3-12 21:00") <= when < at("3-12 22:00"):
        temperature = 17.0
    elif at("3-12 22:00") <= when < at("3-13 06:00"):
        temperature = 13.0 + 0.3 * abs(ripple(n))
    elif at("3-13 06:00") <= when < at("3-13 07:30"):
        temperature = 17.5
    if at("3-12 21:00") <= when < at("3-13 07:30"):
        humidity += 9
    return round(temperature, 1), round(humidity)


def write_climate(name, air):
    with open(HERE / "climate" / name, "w", newline="", encoding="utf-8") as file:
        out = csv.writer(file, lineterminator="\n")
        out.writerow(["time", "temperature", "humidity"])
        when = BEGIN
        while when <= at("3-24 06:30"):
            # The hour that the clock change leaves out was never on the logger's clock.
            if not CHANGE <= when < CHANGE + timedelta(hours=1):
                temperature, humidity = air(when)
                out.writerow([when.strftime("%Y-%m-%d %H:%M"), f"{temperature:.1f}", humidity])
            when += minutes(15)


# ------------------------------------------------------------------------------------------------- season

class Season:
    """Lines of the season with the entries that each makes, so that later lines can name an entry or a mix."""

    def __init__(self, pieces):
        self.pieces = pieces
        self.by_serial = {p.serial: p for p in pieces}
        self.lines = []
        self.booth = []
        self.mixes, self.used = {}, {}
        self.count = 0

    # `entries` lists a label for each entry that the command makes, in order; None for one that nobody names.
    def say(self, when, who, station, command, entries=(None,), mix=None):
        self.lines.append((when, len(self.lines), who, station, command, list(entries), mix))

    def members(self, rack, hooks=None, skip=()):
        found = [p for p in self.pieces if p.rack == rack and not p.away and p.serial not in skip]
        if hooks:
            found = [p for p in found if hooks[0] <= p.hook <= hooks[1]]
        return sorted(found, key=lambda p: p.hook)

    def pick(self, whom):
        return [self.by_serial[s] for s in whom.split()]

    def target(self, rack, hooks, skip, whom):
        if whom:
            return whom, self.pick(whom)
        words = f"--rack {rack}"
        if hooks:
            words += f" --hooks {hooks[0]}-{hooks[1]}"
        for serial in skip:
            words += f" --skip {serial}"
        return words, self.members(rack, hooks, skip)

    def mix(self, key, when, who, name, parts, station="mix-room"):
        """A mix; `parts` as {lot: litres}."""
        self.mixes[key] = sum(parts.values()) * 1000
        words = " ".join(f"{lot}={volume:.2f}L" for lot, volume in parts.items())
        self.say(when, who, station, f'mix make "{name}" {words}', mix=key)

    def free_booth(self, begin, length):
        """The first start from `begin` on at which nobody else sprays; two minutes lie between two coats."""
        gap = minutes(2)
        for taken, until in sorted(self.booth):
            if begin < until + gap and taken < begin + length + gap:
                begin = until + gap
        self.booth.append((begin, begin + length))
        return begin

    def coat(self, kind, earliest, who, mix, rack=None, hooks=None, skip=(), whom=None, wet=(), wait=None, extra="",
             label=None, lag=5, ago=False, written=None, station="booth-1", amount=None, each=None):
        """A coat in the booth: it begins when the recipe's wait is over, the booth is free and `earliest` is come."""
        words, pieces = self.target(rack, hooks, skip, whom)
        touch_up = kind == "touch-up"
        wait = minutes({"seal": 60, "clear": 90}.get(kind, 0)) if wait is None else minutes(wait)
        begin = max([earliest] + [p.wet + wait for p in pieces if p.wet and not touch_up])
        begin += minutes(1) if begin.second else minutes(0)
        begin = begin.replace(second=0)
        seconds = sum((each or (80 if p.kind == "body" else 45)) for p in pieces)
        length = minutes(max(2, round(seconds / 60)))
        if station == "booth-1":
            begin = self.free_booth(begin, length)
        end = begin + length
        # Wet film over the share that stays on the piece: this is a plan, what was logged is what left the pot.
        film_um = {"seal": 77, "clear": 120, "fill": 180, "touch-up": 6}[kind]
        volume = amount or round(sum(p.area for p in pieces) * film_um / 0.56 / 10) * 10
        volume = max(volume, 4)
        self.used[mix] = self.used.get(mix, 0) + volume
        written = written or end + minutes(lag)
        same_day = written.date() == begin.date()
        clock = (lambda t: t.strftime("%H:%M")) if same_day else (lambda t: '"' + t.strftime("%Y-%m-%d %H:%M") + '"')
        if ago:
            # Half minutes, so that the spare seconds of a running clock never move a time to another minute.
            written += timedelta(seconds=30)
            end += timedelta(seconds=30)
            ended = f"--ended-ago {lag}m"
        else:
            ended = f"--ended {clock(end)}"
        amount_words = f"{volume / 1000:.2f}L" if volume >= 100 else f"{volume:.0f}mL"
        command = f"coat {words} --mix {{mix:{mix}}} --amount {amount_words} --began {clock(begin)} {ended}"
        command += " --touch-up" if touch_up else f" --kind {kind}"
        temperature, humidity = booth_air(begin)
        command += f" --air {temperature:.1f} --humidity {humidity:.0f}"
        for film in wet:
            command += f" --wet {film}um"
        if extra:
            command += " " + extra
        self.say(written, who, station, command, [(label, p.serial) for p in pieces])
        for p in pieces:
            p.wet = p.last = end
        return end

    def sand(self, earliest, rack=None, hooks=None, skip=(), whom=None, kind="level-sand", grit="P400", who="AS",
             each=9, early=0, extra="", label=None, written=None, removed=None):
        """A sanding: level sanding waits 12 h after the last wet coat. A whole rack is shared by two people."""
        if rack and not hooks:
            last = max(p.hook for p in self.members(rack))
            rest = {"skip": skip, "kind": kind, "grit": grit, "each": each, "early": early}
            self.sand(earliest, rack, (1, last // 2), who="AS", **rest)
            return self.sand(earliest, rack, (last // 2 + 1, last), who="LW", **rest)
        words, pieces = self.target(rack, hooks, skip, whom)
        waits = [p.wet + timedelta(hours=12) - minutes(early) for p in pieces] if kind == "level-sand" else []
        begin = max([earliest] + waits).replace(second=0)
        end = begin + minutes(max(4, each * len(pieces)))
        written = written or end + minutes(2)
        same_day = written.date() == begin.date()
        clock = (lambda t: t.strftime("%H:%M")) if same_day else (lambda t: '"' + t.strftime("%Y-%m-%d %H:%M") + '"')
        command = f"sand {words} --kind {kind} --grit {grit} --began {clock(begin)} --ended {clock(end)}"
        command += f" --removed {removed}um" if removed else ""
        command += f" {extra}" if extra else ""
        self.say(written, who, "bench", command, [(label, p.serial) for p in pieces])
        for p in pieces:
            p.last = end
        return end

    def done(self, kind, begin, rack=None, hooks=None, skip=(), whom=None, who="DP", station="prep", each=4, extra=""):
        words, pieces = self.target(rack, hooks, skip, whom)
        end = begin + minutes(max(3, each * len(pieces)))
        command = f"done {kind} {words} --began {begin:%H:%M} --ended {end:%H:%M}"
        command += f" {extra}" if extra else ""
        self.say(end + minutes(1), who, station, command, [None] * len(pieces))
        return end

    def one_by_one(self, kind, begin, whom, **rest):
        """The same deed on one piece after the other, each written when it is done."""
        for serial in whom.split():
            begin = self.done(kind, begin, whom=serial, **rest) + minutes(2)

    def sand_one_by_one(self, begin, whom, **rest):
        for serial in whom.split():
            begin = self.sand(begin, whom=serial, kind="final-sand", grit="P1000", **rest) + minutes(2)

    def receive(self, begin, rack, hooks=None):
        """White wood comes in: each piece with its moisture reading."""
        for p in self.members(rack, hooks):
            moisture = 7.0 + 0.5 * ripple(p.hook + len(rack) + begin.day)
            begin = self.done("receive", begin, whom=p.serial, each=3, extra=f'--note "moisture {moisture:.1f} %"')

    def move(self, when, who, where, rack=None, whom=None, station="booth-1", label=None):
        words, pieces = self.target(rack, None, (), whom)
        # A rack rolls with all that hangs on it; what is on hold hangs there, too.
        if rack:
            pieces = sorted((p for p in self.pieces if p.rack == rack), key=lambda p: p.hook)
        self.say(when, who, station, f"move {words} {where} --ended {when:%H:%M}", [(label, p.serial) for p in pieces])

    def room(self, when, who, rack, name):
        self.move(when, who, f'--room "{name}"', rack=rack)

    def word(self, deed, when, who, whom, why, station="desk"):
        """hold, lift, note, scrap."""
        self.say(when, who, station, f'{deed} {whom} --why "{why}" --ended {when:%H:%M}', [None] * len(whom.split()))
        for p in self.pick(whom):
            if deed in ("hold", "scrap"):
                p.away = True
            if deed == "lift":
                p.away = False

    def gauge(self, when, whom, film, who="LW"):
        self.say(when, who, "inspection", f"gauge {film}um {whom} --ended {when:%H:%M}")

    def readings(self, when, *rooms):
        for i, room in enumerate(rooms):
            file = {"booth 1": "booth", "cure room": "cure"}[room]
            self.say(when + minutes(i), "DP", "desk", f'room readings "{room}" @climate/{file}.csv')

    def text(self):
        entry, mix, labels, numbers, out = 0, 0, {}, {}, []
        for when, _, who, station, command, entries, makes in sorted(self.lines, key=lambda line: line[:2]):
            assert BEGIN <= when <= END, command
            for key, number in list(labels.items()) + list(numbers.items()):
                command = command.replace(key, str(number))
            assert "{" not in command, f"{command}: names what is not there yet"
            out.append(f"{rfc3339(when)} {who} {station} | {command}")
            if makes:
                mix += 1
                numbers[f"{{mix:{makes}}}"] = mix
            for label in entries:
                entry += 1
                if label and label[0]:
                    labels[f"{{entry:{label[0]}:{label[1]}}}"] = entry
                    labels.setdefault(f"{{entry:{label[0]}}}", entry)
        self.count = entry
        for key, volume in self.used.items():
            assert volume <= self.mixes[key] + 0.01, f"{volume} mL of mix {key} are sprayed, {self.mixes[key]} were made"
        return out


def set_up(s):
    desk = ("MK", "desk")
    s.say(at("3-02 06:00"), *desk, 'open --name "Sample shop" --zone America/New_York --demo')
    t = at("3-02 06:01")
    for code in ("clr", "slr", "thn", "rtd", "opf", "dys", "cln"):
        s.say(t, *desk, f"material adopt @materials/{code}.toml")
    for code in ("g9", "p9", "n8"):
        s.say(t + minutes(1), *desk, f"recipe adopt @recipes/{code}.toml")
    t = at("3-02 06:05")
    s.say(t, *desk, 'room declare "booth 1" --every "15 min"')
    s.say(t, *desk, 'room declare "flash room"')
    s.say(t, *desk, 'room declare "cure room" --every "15 min"')
    t = at("3-02 06:10")
    for lot, material, volume, expires in (
        ("L-221", "CLR", "20L", "2026-09-30"), ("S-118", "SLR", "10L", "2026-08-31"), ("T-305", "THN", "20L", ""),
        ("R-044", "RTD", "2L", ""), ("F-012", "OPF", "4L", "2026-06-30"), ("C-077", "CLN", "10L", ""),
    ):
        ends = f" --expires {expires}" if expires else ""
        s.say(t, "DP", "desk", f"lot receive {lot} {material} {volume}{ends}")
    s.say(at("3-10 13:40"), "DP", "desk", "lot receive L-233 CLR 20L --expires 2026-11-30")
    s.say(at("3-16 10:20"), "DP", "desk", "lot receive D-009 DYS 1L --expires 2027-02-28")
    s.say(at("3-19 13:10"), "DP", "desk", "lot receive L-240 CLR 20L --expires 2026-12-31")
    source = "maker's plate on booth 1, read by MK (an invented figure)"
    s.say(at("3-02 06:16"), *desk, f'limit enter --booth "booth 1" --value 100fpm --basis average --source "{source}"')
    invented = '--source "invented for the sample"'
    for of, value, period in (("VOC", "20kg", "month"), ("VOC", "180kg", "twelve"), ("HAP", "3kg", "month")):
        s.say(at("3-02 06:17"), *desk, f"limit enter --of {of} --value {value} --period {period} {invented}")
    for what in ("--every check --value 24h", "--every survey --value 168h", "--filter-rise --value 0.30inwc"):
        s.say(at("3-02 06:18"), *desk, f'limit enter --booth "booth 1" {what} {invented}')
    # The gauge of the filters on each working day since new ones were put in: it rises towards the mark.
    for day, gauge in ((9, "0.12inwc --new-filters"), (10, "0.14inwc"), (11, "0.17inwc"), (12, "0.18inwc"),
                       (13, "0.21inwc"), (16, "0.24inwc"), (17, "0.26inwc"), (18, "0.30inwc"), (19, "0.32inwc"),
                       (20, "0.35inwc"), (23, "0.38inwc")):
        s.say(at(f"3-{day:02} 07:02"), "JB", "booth-1", f'booth check "booth 1" --gauge {gauge}')
    survey = 'survey "booth 1" {} --instrument "hot-wire meter, calibrated 2026-01-15"'
    s.say(at("3-02 06:30"), "JB", "booth-1", survey.format("112 109 107 110 104 106 103 105 108"))
    s.say(at("3-09 06:25"), "JB", "booth-1", survey.format("108 104 105 106 101 103 98 102 104"))
    s.say(at("3-16 06:25"), "TR", "booth-1", survey.format("106 102 103 99 98 101 96 99 101"))
    s.say(at("3-23 06:25"), "JB", "booth-1", survey.format("104 98 101 95 92 97 88 90 99"))
    first = [p for p in s.pieces if p.rack != "R6"]
    s.say(at("3-02 06:20"), *desk, "piece import @pieces.csv", [None] * (2 * len(first)))
    s.readings(at("3-09 06:15"), "cure room", "booth 1")
    s.readings(at("3-13 07:45"), "cure room")
    s.readings(at("3-16 06:15"), "cure room", "booth 1")
    s.readings(at("3-18 06:15"), "cure room")
    s.readings(at("3-20 06:10"), "cure room")
    s.readings(at("3-23 06:10"), "cure room", "booth 1")
    s.readings(at("3-24 06:32"), "cure room", "booth 1")
    notebook(s)


def notebook(s):
    """On the last morning DP brings over what stood in the safety lead's notebook, and MK counts the hooks."""
    invented = '--source "invented for the sample"'
    for room, hooks in (("cure room", 40), ("flash room", 32)):
        s.say(at("3-24 06:34"), "MK", "desk", f'room hooks "{room}" {hooks} --source "counted by MK"')
    for room, volume, flow in (("booth 1", "36m3", "3.6m3/s"), ("flash room", "60m3", "0.20m3/s")):
        s.say(at("3-24 06:34"), "MK", "desk", f'room air "{room}" --volume {volume} --flow {flow} {invented}')
    t = at("3-24 06:35")
    s.say(t, "DP", "desk", 'contact set "safety lead" "DP, ext. 12"')
    for name, about, every in (
        ("eyewash flush", "booth 1", "7d"), ("extinguisher look", "booth 1", "31d"), ("fit test", "JB", "365d"),
        ("fit test", "TR", "365d"),
    ):
        s.say(t, "DP", "desk", f'duty set "{name}" --of "{about}" --every {every} {invented}')
    for name, about, done in (
        ("eyewash flush", "booth 1", "2026-03-13 15:10"), ("extinguisher look", "booth 1", "2026-03-02 08:00"),
        ("fit test", "JB", "2025-04-14 10:00"),
    ):
        s.say(at("3-24 06:36"), "DP", "desk", f'duty done "{name}" --of "{about}" --done "{done}"')
    s.say(at("3-24 06:37"), "MK", "desk", f'limit enter --drum "all drums" --value 180d {invented}')
    s.say(at("3-24 06:38"), "DP", "desk",
          'drum start W-1 --contents "spent thinner" --holds 60L --done "2025-10-20 09:00"')
    s.say(at("3-24 06:38"), "DP", "desk", 'drum fill W-1 "gun wash, until the record began" --volume 31L')
    s.say(at("3-24 06:39"), "DP", "desk",
          'incident report spill "half a litre of thinner on the bench, taken up" --place "mixing bench" '
          '--follow-up 2026-03-25 --done "2026-03-19 10:20"')


CLEAR_2L = {"L-221": 1.50, "T-305": 0.50, "R-044": 0.04}
CLEAR_3L = {"L-221": 2.25, "T-305": 0.75, "R-044": 0.06}


def from_lot(lot, parts):
    return {(lot if name == "L-221" else name): volume for name, volume in parts.items()}


def rack_1(s):
    """Ten bodies of G9, sprayed from 2 to 4 March, their cure over in the night of 18 March."""
    s.done("receive", at("3-02 06:25"), "R1", each=2)
    s.done("mask", at("3-02 06:47"), "R1", each=5)
    s.room(at("3-02 07:40"), "JB", "R1", "booth 1")
    s.mix("s1", at("3-02 07:30"), "JB", "sealer", {"S-118": 1.50})
    s.mix("c1", at("3-02 09:50"), "JB", "M1 clear", CLEAR_2L)
    s.coat("seal", at("3-02 07:45"), "JB", "s1", "R1")
    s.coat("seal", at("3-02 08:50"), "JB", "s1", "R1")
    s.coat("clear", at("3-02 10:10"), "JB", "c1", "R1", wait=60, wet=(118, 122))
    s.coat("clear", at("3-02 11:30"), "JB", "c1", "R1", ago=True, lag=8)
    end = s.coat("clear", at("3-02 13:00"), "JB", "c1", "R1")
    s.room(end + minutes(45), "JB", "R1", "flash room")
    for day, key in (("3-03", "c2"), ("3-04", "c3")):
        s.sand(at(f"{day} 06:20"), "R1", grit="P400" if day == "3-03" else "P500")
        s.mix(key, at(f"{day} 07:10"), "JB", "M1 clear", CLEAR_2L if day == "3-03" else CLEAR_3L)
        s.room(at(f"{day} 07:20"), "JB", "R1", "booth 1")
        s.coat("clear", at(f"{day} 07:30"), "JB", key, "R1", wet=(121,) if day == "3-03" else ())
        s.coat("clear", at(f"{day} 09:20"), "JB", key, "R1")
        end = s.coat("clear", at(f"{day} 11:10"), "JB", key, "R1", lag=7)
        if day == "3-03":
            s.room(end + minutes(40), "JB", "R1", "flash room")
    s.room(at("3-04 13:10"), "JB", "R1", "cure room")
    # A dent at a binding: its cure starts anew, and the sixth of a body of the same rack does not wait for it.
    s.word("note", at("3-09 09:05"), "AS", "B-0309", "dent by the binding at the treble side, drop and level")
    s.coat("touch-up", at("3-09 13:50"), "JB", "c4", whom="B-0309", amount=6, extra='--note "dent at the binding"')

    s.sand_one_by_one(at("3-19 06:30"), "B-0301 B-0302 B-0303 B-0304 B-0305", who="AS", each=25)
    s.sand_one_by_one(at("3-19 06:40"), "B-0306 B-0307 B-0308", who="LW", each=25)
    s.word("hold", at("3-19 09:10"), "MK", "B-0310", "sink lines over the tail block; look again on Tuesday 24 March")
    four, three = "B-0301 B-0302 B-0303 B-0304", "B-0305 B-0306 B-0307"
    s.one_by_one("buff", at("3-19 09:30"), four, who="LW", station="buff", each=14)
    s.one_by_one("buff", at("3-20 06:40"), four, who="LW", station="buff", each=14)
    s.one_by_one("buff", at("3-20 09:20"), four, who="LW", station="buff", each=14)
    s.one_by_one("buff", at("3-19 10:50"), three + " B-0308", who="AS", station="buff", each=14)
    s.one_by_one("buff", at("3-20 11:00"), three, who="AS", station="buff", each=14)
    s.one_by_one("buff", at("3-20 12:30"), three, who="AS", station="buff", each=14)
    s.done("unmask", at("3-20 13:20"), whom="B-0301 B-0302 B-0303 B-0304", each=6)
    s.done("unmask", at("3-23 06:40"), whom="B-0305 B-0306", each=6)
    for minute, serial, film in ((2, "B-0301", "109"), (6, "B-0302", "112.5"), (10, "B-0303", "104"),
                                 (14, "B-0306", "71")):
        s.gauge(at("3-23 08:00") + minutes(minute), serial, film)
    s.one_by_one("inspect", at("3-23 08:20"), "B-0301 B-0302 B-0303", who="MK", station="inspection", each=4)
    s.word("hold", at("3-23 08:40"), "MK", "B-0306",
           "film reading 71 um, under the band of 75 um: no more sanding until three more readings are taken")


def rack_2(s):
    """Ten necks of N8, sprayed on 4 and 5 March, their cure over in the night of 19 March."""
    s.done("receive", at("3-03 12:20"), "R2", each=2)
    s.done("mask", at("3-03 12:50"), "R2", each=5)
    s.mix("s2", at("3-04 07:50"), "TR", "sealer", {"S-118": 0.50})
    s.room(at("3-04 07:55"), "TR", "R2", "booth 1")
    s.coat("seal", at("3-04 08:00"), "TR", "s2", "R2")
    s.coat("seal", at("3-04 09:10"), "TR", "s2", "R2")
    s.coat("clear", at("3-04 11:40"), "TR", "c3", "R2", wait=60)
    s.coat("clear", at("3-04 13:20"), "TR", "c3", "R2")
    # Forgotten in the evening and written the next morning.
    end = s.coat("clear", at("3-04 15:00"), "TR", "c3", "R2", wet=(117,), written=at("3-05 06:12"))
    s.room(end + minutes(50), "TR", "R2", "flash room")
    s.sand(at("3-05 06:25"), "R2", each=6, who="LW")
    s.mix("c3b", at("3-05 07:20"), "TR", "M1 clear", CLEAR_2L)
    s.room(at("3-05 07:30"), "TR", "R2", "booth 1")
    s.coat("clear", at("3-05 07:40"), "TR", "c3b", "R2")
    s.coat("clear", at("3-05 09:25"), "TR", "c3b", "R2")
    end = s.coat("clear", at("3-05 11:10"), "TR", "c3b", "R2")
    s.room(end + minutes(60), "TR", "R2", "cure room")

    first, rest = "N-0401 N-0402 N-0403 N-0404 N-0405 N-0406", "N-0407 N-0408 N-0409"
    s.sand_one_by_one(at("3-20 06:30"), first, who="AS", each=14)
    s.sand_one_by_one(at("3-20 07:30"), rest, who="DP", each=14)
    for start in ("08:30", "10:20", "12:10"):
        s.one_by_one("buff", at(f"3-20 {start}"), first, who="TR", station="buff-2", each=8)
    s.done("buff", at("3-23 07:00"), whom="N-0407 N-0408", who="TR", station="buff", each=8)
    s.done("buff", at("3-23 07:40"), whom="N-0407 N-0408", who="TR", station="buff", each=8)
    s.done("unmask", at("3-23 07:00"), whom="N-0401 N-0402 N-0403 N-0404 N-0405", each=4)
    for minute, serial, film in ((18, "N-0401", "79"), (22, "N-0402", "81.5"), (26, "N-0403", "77")):
        s.gauge(at("3-23 08:00") + minutes(minute), serial, film)
    s.one_by_one("inspect", at("3-23 08:50"), "N-0401 N-0402 N-0403", who="MK", station="inspection", each=4)
    for i, start in ((1, "13:00"), (2, "13:40")):
        s.done("mate", at(f"3-23 {start}"), whom=f"B-030{i} N-040{i}", who="AS", station="bench", each=15)
    for p in s.pick("B-0301 B-0302 N-0401 N-0402"):
        p.away = True


def rack_3(s):
    """Twelve bodies of G9, sprayed from 9 to 11 March, in cure since."""
    s.receive(at("3-06 08:00"), "R3")
    s.word("note", at("3-06 08:40"), "DP", "B-0318", "glue spot at the lower bout, sanded out with P220 before the mask")
    s.done("mask", at("3-06 09:00"), "R3", each=5)
    s.mix("s3", at("3-09 06:35"), "JB", "sealer", {"S-118": 1.50})
    s.mix("c4", at("3-09 08:30"), "JB", "M1 clear", CLEAR_2L)
    s.room(at("3-09 06:40"), "JB", "R3", "booth 1")
    s.coat("seal", at("3-09 06:45"), "JB", "s3", "R3")
    s.coat("seal", at("3-09 07:50"), "JB", "s3", "R3")
    s.coat("clear", at("3-09 09:20"), "JB", "c4", "R3", wait=60)
    s.coat("clear", at("3-09 10:50"), "JB", "c4", "R3", wet=(124, 119))
    end = s.coat("clear", at("3-09 12:40"), "JB", "c4", "R3", lag=6)
    s.room(end + minutes(40), "JB", "R3", "flash room")
    # One body gets a fourth coat on the day of its third, before its level sanding.
    s.coat("clear", at("3-09 15:10"), "TR", "c4", whom="B-0314", label="fourth", extra='--reason "due date"')

    s.sand(at("3-10 06:20"), "R3", grit="P400")
    s.mix("c5", at("3-10 07:30"), "JB", "M1 clear", CLEAR_2L)
    s.room(at("3-10 07:35"), "JB", "R3", "booth 1")
    s.coat("clear", at("3-10 07:45"), "JB", "c5", "R3")
    s.coat("clear", at("3-10 09:40"), "JB", "c5", "R3", ago=True, lag=11)
    end = s.coat("clear", at("3-10 11:35"), "JB", "c5", "R3", skip=("B-0314",))
    # The wrong rack was rolled out in the log, and that was undone within the minute.
    s.say(end + minutes(38), "JB", "booth-1", f'move --rack R1 --room "flash room" --ended {end + minutes(38):%H:%M}',
          [None] * 10)
    s.say(end + minutes(39), "JB", "booth-1", "undo", [None] * 10)
    s.room(end + minutes(41), "JB", "R3", "flash room")
    s.say(at("3-09 16:20"), "MK", "desk",
          'answer {entry:fourth:B-0314} daily-cap "once, by agreement; on Tuesday it gets two coats, not three"')
    s.say(at("3-09 16:21"), "MK", "desk", 'answer {entry:fourth:B-0314} order "level it with its rack on Tuesday"')

    s.sand(at("3-11 06:20"), "R3", grit="P500")
    s.mix("c6", at("3-11 07:30"), "TR", "M1 clear", from_lot("L-233", CLEAR_2L))
    s.room(at("3-11 07:35"), "TR", "R3", "booth 1")
    s.coat("clear", at("3-11 07:45"), "TR", "c6", "R3")
    s.coat("clear", at("3-11 09:45"), "TR", "c6", "R3", wet=(120,))
    end = s.coat("clear", at("3-11 11:40"), "TR", "c6", "R3")
    s.room(end + minutes(55), "TR", "R3", "cure room")
    s.word("note", at("3-13 07:40"), "MK", "B-0311",
           "heater of the cure room stopped from 21:00 to 07:30; R1, R2 and R3 hung there")
    # A scratch: its cure starts anew and it misses its date.
    s.coat("touch-up", at("3-18 13:30"), "JB", "c9", whom="B-0318", amount=5,
           extra='--note "scratch from the rack arm, top"')
    s.word("hold", at("3-20 13:30"), "MK", "B-0320", "cold check at the upper bout, watch it until the end of its cure")
    s.word("scrap", at("3-19 10:40"), "MK", "B-0316", "top cracked along the grain in cure, not to be repaired")


def rack_4(s):
    """Ten open-pore bodies of P9, filled on 17 March; after their sixth clear in the night before the season's end."""
    s.receive(at("3-12 08:00"), "R4")
    s.done("mask", at("3-13 08:30"), "R4", each=5)
    s.mix("f1", at("3-17 07:55"), "DP", "dark filler", {"F-012": 1.20})
    s.coat("fill", at("3-17 08:00"), "DP", "f1", "R4", station="prep", each=600)
    s.room(at("3-20 09:20"), "JB", "R4", "booth 1")
    s.mix("s5", at("3-20 09:50"), "JB", "sealer", {"S-118": 1.60})
    s.mix("c11", at("3-20 12:00"), "JB", "M1 clear", from_lot("L-240", CLEAR_2L))
    s.coat("seal", at("3-20 10:00"), "JB", "s5", "R4")
    s.coat("seal", at("3-20 11:15"), "JB", "s5", "R4")
    s.coat("clear", at("3-20 12:40"), "JB", "c11", "R4", wait=60, wet=(116, 121))
    s.coat("clear", at("3-20 14:25"), "TR", "c11", "R4")
    end = s.coat("clear", at("3-20 16:10"), "TR", "c11", "R4", ago=True, lag=9)
    s.room(end + minutes(50), "TR", "R4", "flash room")
    s.sand(at("3-23 09:20"), "R4", grit="P400")
    s.mix("c13", at("3-23 14:40"), "TR", "M1 clear", from_lot("L-240", CLEAR_2L))
    s.room(at("3-23 14:50"), "TR", "R4", "booth 1")
    s.coat("clear", at("3-23 15:10"), "TR", "c13", "R4")
    s.coat("clear", at("3-23 16:56"), "TR", "c13", "R4", wet=(119,))
    end = s.coat("clear", at("3-23 18:43"), "TR", "c13", "R4")
    s.coat("touch-up", at("3-23 22:05"), "TR", "c13", whom="B-0327", amount=5, extra='--note "run at the heel, wiped and wetted"')
    s.room(at("3-23 22:20"), "TR", "R4", "flash room")
    # One is sanded before the rack's time; why is not said yet.
    s.sand(at("3-24 06:16"), whom="B-0330", grit="P500", who="LW", early=45)


def rack_5(s):
    """Eight bodies of G9; the booth's fan tripped in the middle of their fifth clear."""
    s.receive(at("3-16 08:00"), "R5")
    s.done("mask", at("3-17 10:20"), "R5", each=5)
    s.mix("s4", at("3-18 06:55"), "JB", "sealer", {"S-118": 0.80})
    s.mix("c9", at("3-18 09:00"), "JB", "M1 clear", from_lot("L-233", CLEAR_2L))
    s.room(at("3-18 06:50"), "JB", "R5", "booth 1")
    s.coat("seal", at("3-18 07:00"), "JB", "s4", "R5")
    s.coat("seal", at("3-18 08:15"), "JB", "s4", "R5")
    s.coat("clear", at("3-18 09:35"), "JB", "c9", "R5", wait=60)
    s.coat("clear", at("3-18 11:20"), "JB", "c9", "R5", skip=("B-0338",))
    # One body goes first, too early after its coat before.
    s.coat("clear", at("3-18 10:58"), "TR", "c9", whom="B-0338", wait=65, label="early", extra="--another --reason later")
    end = s.coat("clear", at("3-18 13:05"), "JB", "c9", "R5")
    s.room(end + minutes(40), "JB", "R5", "flash room")
    # One level sanding is written a day and more after it was done.
    s.sand(at("3-19 06:30"), "R5", hooks=(1, 7), grit="P400", who="DP")
    s.sand(at("3-19 07:40"), whom="B-0340", grit="P400", who="DP", label="late", written=at("3-20 09:40"),
           extra="--reason other --note \"kept on a paper form\"")
    s.say(at("3-20 14:05"), "MK", "desk", 'answer {entry:late:B-0340} written-late "seen; from a paper form at the bench"')
    s.mix("c10", at("3-20 13:00"), "JB", "M1 clear", from_lot("L-233", CLEAR_2L))
    s.room(at("3-20 13:05"), "JB", "R5", "booth 1")
    s.coat("clear", at("3-20 13:20"), "JB", "c10", "R5", skip=("B-0335",), wet=(122,))
    # The wrong body: a coat is written on one of rack 3, which is in cure, and moved half an hour later.
    s.booth.append((at("3-20 13:31"), at("3-20 13:33")))
    s.say(at("3-20 13:45"), "JB", "booth-1",
          "coat B-0315 --mix {mix:c10} --amount 45mL --began 13:31 --ended 13:33 --kind clear", [("wrong", "B-0315")])
    s.say(at("3-20 14:15"), "JB", "booth-1",
          'relocate {entry:wrong:B-0315} B-0335 --why "read B-0315 for B-0335; the coat is on B-0335"', [None, None])
    s.by_serial["B-0335"].wet = at("3-20 13:33")
    s.room(at("3-20 14:50"), "JB", "R5", "flash room")
    s.mix("c12", at("3-23 07:00"), "JB", "M1 clear", from_lot("L-240", CLEAR_2L))
    s.say(at("3-23 10:52"), "MK", "desk",
          'note B-0338 B-0339 B-0340 --why "fan of booth 1 tripped at 10:41 after hook 5; hooks 6 to 8 stay at their fourth clear" --ended 10:50',
          [None] * 3)


def rack_5_monday(s):
    """In the order of the booth, after the necks of rack 6 had their second clear."""
    s.room(at("3-23 10:20"), "JB", "R5", "booth 1")
    end = s.coat("clear", at("3-23 10:33"), "JB", "c12", "R5", hooks=(1, 5), extra='--note "fan tripped after hook 5"')
    s.room(end + minutes(70), "JB", "R5", "flash room")


def rack_6(s):
    """Twelve necks of N8 that follow the bodies of rack 3, taken in one by one."""
    necks = [p for p in s.pieces if p.rack == "R6"]
    for i, p in enumerate(necks):
        command = f'piece add {p.serial} --kind neck --model "{p.model}" --recipe "{p.recipe}" --area "{p.area:.2f} m2"'
        command += f' --due {p.due} --pair {p.pair} --rack R6 --hook {p.hook} --room "flash room"'
        s.say(at("3-19 13:20") + minutes(i), "DP", "prep", command, [None, None])
    s.receive(at("3-19 13:40"), "R6", (1, 11))
    s.done("mask", at("3-20 06:40"), "R6", hooks=(1, 9), each=5)
    s.room(at("3-23 06:55"), "JB", "R6", "booth 1")
    s.mix("s6", at("3-23 06:50"), "JB", "sealer", {"S-118": 0.50})
    s.coat("seal", at("3-23 07:05"), "JB", "s6", "R6", hooks=(1, 7))
    s.coat("seal", at("3-23 08:15"), "JB", "s6", "R6", hooks=(1, 8))
    s.coat("clear", at("3-23 09:25"), "JB", "c12", "R6", hooks=(1, 7), wait=60)


def rack_6_later(s):
    s.coat("clear", at("3-23 11:10"), "JB", "c12", "R6", hooks=(1, 7))
    slow = {"L-240": 0.75, "T-305": 0.25, "R-044": 0.05}
    s.mix("c12r", at("3-23 12:40"), "JB", "M1 clear, slow", slow)
    s.coat("clear", at("3-23 12:50"), "JB", "c12", "R6", hooks=(1, 5), wet=(118,))
    # Written with the mix before, undone, and written with the right one.
    s.say(at("3-23 13:16"), "JB", "booth-1",
          "coat --rack R6 --hooks 6-7 --mix {mix:c12} --amount 40mL --began 13:10 --ended 13:12 --kind clear",
          [None, None])
    s.say(at("3-23 13:17"), "JB", "booth-1", "undo", [None, None])
    s.coat("clear", at("3-23 13:10"), "JB", "c12r", "R6", hooks=(6, 7), written=at("3-23 13:19"))
    s.room(at("3-23 14:20"), "JB", "R6", "flash room")
    # The last morning: two necks are sealed and flash off, for their next coat from 07:02 on.
    s.room(at("3-24 05:55"), "JB", "R6", "booth 1")
    s.coat("seal", at("3-24 06:00"), "JB", "s6", "R6", hooks=(8, 9))
    s.room(at("3-24 06:25"), "JB", "R6", "flash room")


def words_of_the_day(s):
    notes = (
        ("3-02 14:30", "MK", "B-0301", "handover: R1 has its first set; necks of R2 come in tomorrow"),
        ("3-03 14:30", "MK", "B-0301", "handover: R1 has its second set, level sanding from 06:20; R2 is masked"),
        ("3-04 16:10", "MK", "N-0401", "handover: R1 in cure; R2 wet, third coat not written yet"),
        ("3-05 14:10", "DP", "N-0401", "gun and lines washed, cans emptied into the closed waste can"),
        ("3-06 14:20", "MK", "B-0311", "handover: R3 masked for Monday; R1 and R2 in cure; Saturday and Sunday nobody is in"),
        ("3-10 14:30", "MK", "B-0311", "handover: R3 has its second set"),
        ("3-11 14:30", "MK", "B-0311", "handover: R3 in cure"),
        ("3-12 14:15", "MK", "B-0311", "handover: R1, R2 and R3 in cure, nothing wet"),
        ("3-13 14:20", "MK", "B-0323", "handover: R4 masked; dark filler comes on Monday; heater of the cure room runs again"),
        ("3-16 14:25", "MK", "B-0333", "handover: R5 is in; R4 waits for its filler"),
        ("3-17 13:50", "MK", "B-0323", "filler is on; sealer not before Friday 09:40"),
        ("3-18 14:45", "MK", "B-0333", "handover: R5 has its first set"),
        ("3-19 14:30", "MK", "N-0416", "its body B-0316 is scrapped; keep the neck for the next cittern"),
        ("3-20 17:30", "TR", "B-0323", "handover: R4 has its first set, level sanding on Monday; R5 at its fourth clear"),
        ("3-23 09:15", "MK", "B-0333", "booth 1 moved 96 fpm on the average at 06:25, under the 100 entered; filters asked for"),
        ("3-23 14:40", "MK", "B-0338", "handover: R5 mixed, five at 5 and three at 4; R6 wet; two necks have the slow mix"),
        ("3-23 22:30", "TR", "B-0327", "handover: R4 wet, level sanding from 06:56; B-0327 wetted again at 22:07"),
    )
    for when, who, whom, text in notes:
        s.word("note", at(when), who, whom, text)
    s.word("note", END, "MK", "B-0306", "three more readings on B-0306 this morning, then decide on three more clears")


def main():
    pieces = make_pieces()
    s = Season(pieces)
    set_up(s)
    rack_1(s)
    rack_2(s)
    rack_3(s)
    rack_5(s)
    rack_6(s)
    rack_5_monday(s)
    rack_6_later(s)
    rack_4(s)
    words_of_the_day(s)
    lines = s.text()
    head = ["# The season of the sample shop, one command a line: TIME INITIALS STATION | COMMAND",
            "# Written by sample/make_season.py; change that, then run it again."]
    (HERE / "season.txt").write_text("\n".join(head + lines) + "\n", encoding="utf-8")
    with open(HERE / "pieces.csv", "w", newline="", encoding="utf-8") as file:
        out = csv.writer(file, lineterminator="\n")
        out.writerow(["serial", "kind", "model", "recipe", "area", "tag", "due", "pair", "rack", "hook", "room"])
        out.writerows(p.row() for p in pieces if p.rack != "R6")
    write_climate("booth.csv", booth_air)
    write_climate("cure.csv", cure_air)
    print(f"{len(lines)} commands, {s.count} entries, {len(pieces)} pieces")


if __name__ == "__main__":
    main()
