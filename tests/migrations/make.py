#!/usr/bin/env python3
"""Makes a stored ledger of one schema: tests/migrations/make.py PROGRAM N writes schema-N.db from season-N.txt, and
schema-N.json: the month as that program saw it.

PROGRAM is the program of the release that brought schema N. The file is written by its own backup command: checked,
folded into one file (journal mode DELETE) and whole by itself. Drafts carry random numbers, so that two runs differ in
them; a stored file is made once and then kept as it is.
"""
import os, pathlib, shlex, subprocess, sys, tempfile

program, number = os.path.abspath(sys.argv[1]), sys.argv[2]
here = pathlib.Path(__file__).resolve().parent
top = here.parent.parent
target = here / f"schema-{number}.db"


def file(word):
    if not word.startswith("@"):
        return word
    name = word[1:]
    return str(top / name if name.startswith("sample/") else here / name)


with tempfile.TemporaryDirectory() as home:
    env = {"HOME": home, "HANGTIME_LEDGER": f"{home}/shop.ledger"}

    def run(words):
        done = subprocess.run([program, *words], env=env, cwd=here, capture_output=True, text=True)
        if done.returncode:
            sys.exit(f"{shlex.join(words)}: {done.returncode}: {done.stdout}{done.stderr}")
        return done.stdout

    for line in (here / f"season-{number}.txt").read_text().splitlines():
        if not line or line.startswith("#"):
            continue
        head, command = line.split("|", 1)
        at, person, station = head.split()
        run([*map(file, shlex.split(command)), "--at", at, "--as", person, "--station", station])
    print(run(["verify"]), end="")
    (here / f"schema-{number}.json").write_text(run(["month", "2026-03", "--json"]))
    target.unlink(missing_ok=True)
    run(["backup", str(target)])
    os.chmod(target, 0o644)
print(f"{target.name}: {target.stat().st_size} bytes")
