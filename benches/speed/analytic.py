"""Twelve months of solvent by month and substance in DuckDB, over tables of its own: prints the sums and two times in ms.

Each use is rounded by itself, half to even, in whole numbers, as the ledger does. The plain form joins each use with each
part of its sheet; the best form that was found by hand first counts equal uses of a lot in a month.
"""

import statistics
import sys
import time

import duckdb

folder, first = sys.argv[1:]
db = duckdb.connect()
db.execute("SET threads TO 2")
db.execute(f"CREATE TABLE uses AS SELECT * FROM read_csv('{folder}/uses.csv', header = false, "
           "columns = {'month': 'VARCHAR', 'lot': 'VARCHAR', 'ul': 'BIGINT'})")
db.execute(f"CREATE TABLE part AS SELECT * FROM read_csv('{folder}/parts.csv', header = false, "
           "columns = {'lot': 'VARCHAR', 'cas': 'VARCHAR', 'ppm': 'BIGINT', 'mg_l': 'BIGINT'})")

# uL x mg/L x ppm / 10^12, half to even.
WHOLE = "(ul::HUGEINT * mg_l * ppm)"
ROUNDED = f"""(({WHOLE} // 1000000000000) + CASE
    WHEN {WHOLE} % 1000000000000 > 500000000000 THEN 1
    WHEN {WHOLE} % 1000000000000 = 500000000000 THEN ({WHOLE} // 1000000000000) % 2
    ELSE 0 END)::BIGINT"""

FORMS = {
    "plain": f"SELECT month, cas, sum({ROUNDED}) FROM uses JOIN part USING (lot) WHERE month >= ? GROUP BY month, cas",
    "best": f"""WITH equal AS (SELECT month, lot, ul, count(*) AS n FROM uses WHERE month >= ? GROUP BY month, lot, ul)
                SELECT month, cas, sum(n * {ROUNDED}) FROM equal JOIN part USING (lot) GROUP BY month, cas""",
}

found = {}
for form, sql in FORMS.items():
    times = []
    for _ in range(7):
        begin = time.perf_counter()
        found[form] = {(m, c): int(mg) for m, c, mg in db.execute(sql, [first]).fetchall()}
        times.append((time.perf_counter() - begin) * 1_000)
    print("time", form, statistics.median(times), sep="|")
assert found["plain"] == found["best"]
for (month, cas), mg in sorted(found["plain"].items()):
    if mg:
        print(month, cas, mg, sep="|")
