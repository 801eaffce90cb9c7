"""Writes src/science/solvents.rs from solvents.csv, solvents_lfl_sources.csv and the two tables below.
Run: python tests/published/scripts/make_solvents_rs.py > src/science/solvents.rs, then cargo fmt."""
import csv, os
HERE = os.path.dirname(__file__)
DATA = os.path.join(HERE, "..", "data")

# Lower limits read in the NIOSH IDLH documentation (cited from stored excerpts), per cent by volume; a range counts
# at its lower end.
NIOSH = {
    "108-88-3": 1.1, "1330-20-7": 0.9, "100-41-4": 0.8, "123-86-4": 1.7, "110-19-0": 1.3, "540-88-5": 1.5,
    "141-78-6": 2.0, "67-63-0": 2.0, "64-17-5": 3.3, "67-56-1": 6.0, "71-36-3": 1.4, "78-83-1": 1.7,
    "108-10-1": 1.2, "142-82-5": 1.05, "111-76-2": 1.1, "110-43-0": 1.1, "123-42-2": 1.8, "108-94-1": 1.1,
}
# Table G-11 of 29 CFR 1910.94(c), from memory: CAS, generic name, ft3 of vapour for a gallon, LEL per cent, a doubt.
HOT = "limit at 212 F"
G11 = [
    ("67-64-1", "acetone", 44.0, 2.6, ""),
    ("123-92-2", "isoamyl acetate", 21.6, 1.0, HOT),
    ("71-41-0", "n-amyl alcohol", 29.6, 1.2, ""),
    ("123-51-3", "isoamyl alcohol", 29.6, 1.2, ""),
    ("71-43-2", "benzene", 36.8, 1.4, HOT),
    ("123-86-4", "n-butyl acetate", 24.8, 1.7, ""),
    ("71-36-3", "n-butyl alcohol", 35.2, 1.4, ""),
    ("111-76-2", "2-butoxyethanol", 24.8, 1.1, ""),
    ("110-80-5", "2-ethoxyethanol", 33.6, 1.8, ""),
    ("111-15-9", "2-ethoxyethyl acetate", 23.2, 1.7, ""),
    ("108-94-1", "cyclohexanone", 31.2, 1.1, HOT),
    ("75-35-4", "1,1-dichloroethylene", 42.4, 5.9, "5 % above what density and molar mass give"),
    ("540-59-0", "1,2-dichloroethylene", 42.4, 9.7, ""),
    ("141-78-6", "ethyl acetate", 32.8, 2.5, ""),
    ("64-17-5", "ethyl alcohol", 55.2, 4.3, ""),
    ("97-64-3", "ethyl lactate", 28.0, 1.5, HOT),
    ("79-20-9", "methyl acetate", 40.0, 3.1, ""),
    ("67-56-1", "methyl alcohol", 80.8, 7.3, ""),
    ("109-86-4", "2-methoxyethanol", 40.8, 2.5, ""),
    ("78-93-3", "methyl ethyl ketone", 36.0, 1.8, ""),
    ("107-87-9", "methyl n-propyl ketone", 30.4, 1.5, ""),
    ("8032-32-4", "VM&P naphtha (76 degree)", 22.4, 0.9, "a mixture: 7 % above what its molar mass gives"),
    ("8052-41-3", "Stoddard solvent (naphtha, 100 F flash)", 23.2, 1.1, "a mixture: a quarter above what its molar mass gives"),
    ("109-60-4", "n-propyl acetate", 27.2, 2.8, "doubtful: other sources give a lower limit"),
    ("108-21-4", "isopropyl acetate", 28.0, 1.1, "doubtful"),
    ("71-23-8", "n-propyl alcohol", 44.8, 2.1, ""),
    ("67-63-0", "isopropyl alcohol", 44.0, 2.0, ""),
    ("108-88-3", "toluene", 30.4, 1.4, "the rule's printed example"),
    ("8006-64-2", "turpentine", 20.8, 0.8, ""),
    ("95-47-6", "o-xylene", 26.4, 1.0, ""),
]
SOURCES = [
    ("iec_60079_20_1_2010_pct", "Iec"), ("nfpa_497_2008_pct", "Nfpa"), ("wikidata_pct", "Wikidata"),
]

def number(text):
    value = float(text)
    return repr(value)

provenance = {row["key"]: row for row in csv.DictReader(open(os.path.join(DATA, "solvents_provenance.csv")))}
REMEMBERED = [("mw", "molar mass"), ("density", "density"), ("boiling", "boiling point"), ("flash", "flash point")]
limits = {row["key"]: row for row in csv.DictReader(open(os.path.join(DATA, "solvents_lfl_sources.csv")))}
g11 = {row[0]: row for row in G11}
print(open(os.path.join(HERE, "solvents_head.rs.txt")).read(), end="")
print("/// The solvents that the figures know, in the order of the source table.")
print("pub static SOLVENTS: &[Solvent] = &[")
for row in csv.DictReader(open(os.path.join(DATA, "solvents.csv"))):
    if row["key"] == "water":
        continue
    known = []
    for column, name in SOURCES:
        if limits[row["key"]][column]:
            known.append(f"{name.upper()}.of({number(limits[row['key']][column])})")
    if row["cas"] in NIOSH:
        known.append(f"NIOSH.of({number(NIOSH[row['cas']])})")
    if row["cas"] in g11:
        known.append(f"G11_MEMORY.of({number(g11[row['cas']][3])})")
    if not any(limits[row["key"]][column] for column, _ in SOURCES):
        known.append(f"PRACTICE_MEMORY.of({number(row['lfl_pct'])})")
    words = [name for column, name in REMEMBERED if provenance[row["key"]][column].startswith("memory")]
    if row["formula"] == "mixture":
        words.insert(0, "molar mass")
    memory = ", ".join(dict.fromkeys(words))
    flash = "None" if not row["flash_cc_c"] else f"Some({number(row['flash_cc_c'])})"
    print(f'''    Solvent {{
        key: "{row['key']}",
        name: "{row['name']}",
        cas: "{row['cas']}",
        molar_mass_g: {number(row['mw_g_mol'])},
        density_25_kg_m3: {number(row['density25_kg_m3'])},
        boiling_c: {number(row['boiling_c'])},
        flash_c: {flash},
        from_memory: "{memory}",
        vapour_ft3_gal_70f: {number(row['vapour_ft3_per_gal_70f'])},
        limits: &[{", ".join(known)}],
    }},''')
print("];\n")
print("/// The short names, and `other` for a liquid that is not in the table: the words of an input.")
print("pub static SOLVENT_WORDS: &[&str] = &[")
for row in csv.DictReader(open(os.path.join(DATA, "solvents.csv"))):
    if row["key"] != "water":
        print(f'    "{row["key"]}",')
print('    "other",\n];\n')
print("/// Table G-11 of 29 CFR 1910.94(c), all rows **from memory, to be confirmed**; historic trade names are replaced by\n/// generic ones with their CAS number.")
print("pub static TABLE_G11: &[G11Row] = &[")
for cas, name, volume, lel, doubt in G11:
    print(f'''    G11Row {{ cas: "{cas}", name: "{name}", vapour_ft3_gal: {volume!r}, lel_percent: {lel!r}, doubt: "{doubt}" }},''')
print("];")
