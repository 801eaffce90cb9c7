"""Recomputes the head of an export from its JSON Lines alone: recompute_head.py FOLDER prints action number and hash.

The canonical bytes are those that the record's documentation gives; nothing of the program is used.
"""
import hashlib, json, pathlib, sys

ACTION = "seq draft deed person writer station began ended written zone offset_min day clock boot_ms body".split()
ENTRY = "seq action piece surface branch began ended day kind corrects body".split()


def canonical(row, columns):
    out = b""
    for value in (row[c] for c in columns):
        if value is None:
            out += b"\0"
        elif isinstance(value, int):
            out += b"\1" + value.to_bytes(8, "big", signed=True)
        else:
            text = value.encode()
            out += b"\2" + len(text).to_bytes(8, "big") + text
    return out


folder = pathlib.Path(sys.argv[1])
read = lambda name: [json.loads(line) for line in (folder / name).read_bytes().split(b"\n") if line]
entries = {}
for entry in read("entries.jsonl"):
    entries.setdefault(entry["action"], []).append(entry)
head, action = bytes(32), {"seq": 0}
for action in read("actions.jsonl"):
    lines = b"".join(b"\x1e" + canonical(e, ENTRY) for e in entries.get(action["seq"], []))
    head = hashlib.sha256(b"\0hangtime 1" + head + canonical(action, ACTION) + lines).digest()
print(action["seq"], head.hex())
