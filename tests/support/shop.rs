//! A small invented shop in a temporary folder, made through the ledger's own deeds with a demo's clock.

use hangtime::ledger::{
    DeedRequest, DeedWhat, Included, Ledger, MixOrder, NewLot, NewShop, Outcome, PieceRow, Receipt,
    Stamp, Target, Who,
};
use hangtime::shop::calendar::Calendar;
use hangtime::shop::material::Pour;
use hangtime::shop::record::{Fact, NewPiece};
use hangtime::shop::words::{PieceKind, StepKind};
use hangtime::units::{Area, Film, Moment, Volume};
use std::path::{Path, PathBuf};

/// The shop with its folder, which is gone when this is dropped.
pub struct Bench {
    pub ledger: Ledger,
    pub folder: tempfile::TempDir,
}

pub fn who(person: &str) -> Who {
    Who {
        person: person.to_owned(),
        writer: person.to_owned(),
        station: "S1".to_owned(),
    }
}

pub fn stamp(at: Moment) -> Stamp {
    Stamp {
        written: at,
        clock: "demo",
        boot_ms: None,
    }
}

pub fn coat(mix: Option<u32>) -> DeedWhat {
    DeedWhat::Coat {
        kind: None,
        touch_up: false,
        mix,
        lot: None,
        amount: None,
        wet: Vec::new(),
        supervisor: None,
        more: hangtime::shop::record::CoatMore::default(),
    }
}

pub fn rack(name: &str) -> Target {
    Target::Rack(name.to_owned(), None)
}

pub fn piece(serial: &str) -> Target {
    Target::Pieces(vec![serial.to_owned()])
}

impl Bench {
    /// An empty ledger with the sample's recipes and materials, three lots and a mix, opened on Mon 9 March 2026.
    pub fn new() -> Self {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("shop.db");
        let start = Moment(1_773_061_200_000); // Mon 9 Mar 2026 09:00 EDT
        let mut bench = Self::begun(&path, folder, start);
        let (w, s) = (who("MB"), stamp(start));
        for (lot, material) in [("L-2207", "CLR"), ("T-0931", "THN"), ("S-1180", "SLR")] {
            bench
                .ledger
                .receive_lot(
                    &NewLot::of(lot, material, Volume(18_927_059)),
                    s.written,
                    &w,
                    &s,
                )
                .unwrap();
        }
        bench
    }

    /// An empty ledger at a path with the sample's recipes and materials, opened at a moment.
    pub fn begun(path: &Path, folder: tempfile::TempDir, start: Moment) -> Self {
        let shop = NewShop {
            name: "Three Gables finish room".to_owned(),
            zone: "America/New_York".to_owned(),
            day_start: 5,
            demo: true,
        };
        let ledger = Ledger::create(path, &shop, &who("MB"), &stamp(start)).unwrap();
        let mut bench = Self { ledger, folder };
        let (w, s) = (who("MB"), stamp(start));
        for (file, text) in texts("materials") {
            bench.ledger.adopt_material(&file, &text, &w, &s).unwrap();
        }
        for (file, text) in texts("recipes") {
            bench.ledger.adopt_recipe(&file, &text, &w, &s).unwrap();
        }
        bench
    }

    pub fn calendar(&self) -> Calendar {
        self.ledger.calendar()
    }

    /// A time in the shop's zone.
    pub fn at(&self, text: &str) -> Moment {
        self.calendar().read(text, Moment(0)).unwrap()
    }

    pub fn mix(&mut self, name: &str, parts: &[(&str, i64)], at: &str) -> u32 {
        let at = self.at(at);
        let parts = parts
            .iter()
            .map(|(lot, ml)| Pour {
                lot: (*lot).to_owned(),
                volume: Volume(ml * 1_000),
            })
            .collect();
        self.ledger
            .make_mix(MixOrder::of(name, parts, at), &who("AB"), &stamp(at))
            .unwrap()
    }

    /// Takes in pieces with running serials on the hooks of a rack, or on none.
    pub fn add(
        &mut self,
        (kind, prefix, first, count): (PieceKind, &str, u32, u32),
        (model, recipe, revision): (&str, &str, u32),
        rack: Option<&str>,
        at: &str,
    ) {
        let at = self.at(at);
        let due = chrono::NaiveDate::from_ymd_opt(2026, 4, 17);
        let rows: Vec<PieceRow> = (0..count)
            .map(|n| PieceRow {
                line: u64::from(n + 2),
                piece: NewPiece {
                    serial: format!("{prefix}{:04}", first + n),
                    tag: None,
                    kind,
                    model: model.to_owned(),
                    recipe: recipe.to_owned(),
                    revision,
                    area: Area(320_000),
                    due,
                    pair: None,
                },
                rack: rack.map(str::to_owned),
                hook: rack.map(|_| n + 1),
                room: None,
            })
            .collect();
        self.ledger
            .add_pieces(&rows, at, &who("MB"), &stamp(at))
            .unwrap()
            .unwrap();
    }

    /// A deed that is written two minutes after it happened.
    pub fn deed(&mut self, target: Target, what: DeedWhat, at: &str, person: &str) -> Receipt {
        self.deed_without(target, what, at, person, &[])
    }

    pub fn deed_without(
        &mut self,
        target: Target,
        what: DeedWhat,
        at: &str,
        person: &str,
        skipped: &[&str],
    ) -> Receipt {
        let at = self.at(at);
        let mut request = DeedRequest::new(who(person), target, what, at);
        request.included = Included::All;
        request.skipped = skipped.iter().map(|s| (*s).to_owned()).collect();
        let written = stamp(Moment(at.0 + 120_000));
        match self.ledger.log(&request, &written).unwrap() {
            Outcome::Saved(receipt) => receipt,
            other => panic!("not saved: {other:?}"),
        }
    }

    pub fn work(&mut self, target: Target, kind: StepKind, at: &str, person: &str) {
        self.deed(target, DeedWhat::Other(Fact::Worked { kind }), at, person);
    }

    /// Thirty pieces on two racks and two on none, on the morning of Thu 12 March 2026 at 09:44.
    ///
    /// Rack R12: sixteen bodies, coat 4 on thirteen of them at 09:00, one on hold. Rack R3: twelve necks after their
    /// first clear coat at 08:20, one with a gauge reading.
    pub fn morning() -> (Self, Moment) {
        let mut b = Self::new();
        let sand = || DeedWhat::Sand {
            kind: None,
            removed: None,
            grit: Some("P400".to_owned()),
        };
        b.add(
            (PieceKind::Body, "B", 410, 16),
            ("Octave mandolin", "G9", 3),
            Some("R12"),
            "2026-03-09 10:00",
        );
        b.add(
            (PieceKind::Neck, "N", 205, 12),
            ("Cittern", "N8", 1),
            Some("R3"),
            "2026-03-09 10:10",
        );
        b.add(
            (PieceKind::Body, "B", 430, 2),
            ("Parlour guitar", "G9", 3),
            None,
            "2026-03-12 08:00",
        );
        for (rack_name, day) in [("R12", "2026-03-10"), ("R3", "2026-03-11")] {
            b.work(
                rack(rack_name),
                StepKind::Receive,
                &format!("{day} 07:30"),
                "PR",
            );
            b.work(
                rack(rack_name),
                StepKind::Mask,
                &format!("{day} 08:30"),
                "PR",
            );
        }
        let sealer = b.mix(
            "sealer",
            &[("S-1180", 1_200), ("T-0931", 400)],
            "2026-03-10 08:40",
        );
        b.deed(rack("R12"), coat(Some(sealer)), "2026-03-10 09:00", "AB");
        b.deed(rack("R12"), coat(Some(sealer)), "2026-03-10 10:05", "AB");
        b.deed(rack("R3"), coat(Some(sealer)), "2026-03-11 13:00", "AB");
        b.deed(rack("R3"), coat(Some(sealer)), "2026-03-11 14:05", "AB");
        let clear = b.mix(
            "clear 3:1",
            &[("L-2207", 1_500), ("T-0931", 500)],
            "2026-03-10 11:00",
        );
        for at in ["2026-03-10 11:30", "2026-03-10 13:05", "2026-03-10 14:40"] {
            b.deed(rack("R12"), coat(Some(clear)), at, "AB");
        }
        b.deed(rack("R12"), sand(), "2026-03-11 07:40", "SK");
        let hold = Fact::Held {
            why: "dent beside the binding".to_owned(),
        };
        b.deed(
            piece("B0416"),
            DeedWhat::Other(hold),
            "2026-03-11 08:10",
            "MB",
        );
        b.deed(
            piece("N0207"),
            DeedWhat::Other(Fact::Gauged { film: Film(18_000) }),
            "2026-03-12 07:50",
            "SK",
        );
        let morning = b.mix(
            "clear 3:1",
            &[("L-2207", 1_500), ("T-0931", 500)],
            "2026-03-12 08:05",
        );
        b.deed(rack("R3"), coat(Some(morning)), "2026-03-12 08:20", "AB");
        // A touch of the wrong piece, taken back.
        let wrong = b.deed(piece("B0412"), sand(), "2026-03-12 08:45", "SK");
        let at = b.at("2026-03-12 08:50");
        b.ledger
            .void_entry(wrong.saved.first.0, "wrong piece", &who("SK"), &stamp(at))
            .unwrap();
        b.deed_without(
            rack("R12"),
            coat(Some(morning)),
            "2026-03-12 09:00",
            "AB",
            &["B0416", "B0420", "B0421"],
        );
        let now = b.at("2026-03-12 09:44");
        (b, now)
    }
}

// Only what this shop works with: a file more in the sample changes nothing here.
fn texts(folder: &str) -> Vec<(String, String)> {
    const HERE: &[&str] = &[
        "g9", "n8", "p9", "clr", "cln", "dys", "opf", "rtd", "slr", "thn",
    ];
    let folder: PathBuf = Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("sample")
        .join(folder);
    let mut files: Vec<PathBuf> = std::fs::read_dir(folder)
        .unwrap()
        .map(|f| f.unwrap().path())
        .collect();
    files.sort();
    files
        .into_iter()
        .filter(|f| HERE.contains(&f.file_stem().unwrap().to_str().unwrap()))
        .map(|f| {
            let name = f.file_name().unwrap().to_string_lossy().into_owned();
            (name, std::fs::read_to_string(f).unwrap())
        })
        .collect()
}
