//! An invented factory with years of history, made through the ledger's own deeds: every coat is planned, judged and saved as
//! at the booth, and `verify` holds it like any other record. The same figures make the same entries, to the last byte; the
//! drafts of its actions have names of their own each time, as everywhere, and so has its head.
//!
//! Each working day takes in so many bodies and as many necks on racks of 50. A body gets two seal and nine clear coats in
//! four days, a neck six clears in three; both are gauged, cured for 336 h in a room of their own, sanded, buffed, inspected
//! and mated on their sixteenth working day, so that 500 pieces a day leave 7,500 in process. Four rooms have readings: one
//! an hour, and one a minute in the last 90 days.

use crate::shop::{Bench, coat, piece, rack, stamp, who};
use chrono::{Datelike, Days, NaiveDate, Weekday};
use hangtime::ledger::{DeedWhat, Ledger, NewLot, PieceRow};
use hangtime::shop::calendar::Calendar;
use hangtime::shop::climate::Sample;
use hangtime::shop::record::{Fact, Finding, NewPiece};
use hangtime::shop::words::{PieceKind, StepKind, Verdict};
use hangtime::units::{Area, Film, Humidity, Moment, Span, Temperature, Volume};
use std::path::{Path, PathBuf};

/// Pieces on a rack.
pub const RACK: u32 = 50;

/// What goes onto a piece in one coat, in uL.
pub const PER_PIECE: i64 = 48_000;

/// Working days from a piece's first to its last.
pub const LIFE: usize = 16;

/// The rooms with readings; pieces cure in the last two.
pub const ROOMS: [&str; 4] = ["booth 1", "flash room", "cure room 1", "cure room 2"];

const NEW_YORK: Calendar = Calendar {
    zone: chrono_tz::America::New_York,
    day_start: 5,
};

/// How large a plant is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Size {
    /// Bodies that come in on a working day; as many necks do.
    pub bodies: u32,
    /// Working days.
    pub days: u32,
    /// Days at the end with a reading a minute.
    pub minutes: u32,
}

/// A plant that was made, or lay there already.
#[derive(Debug)]
pub struct Plant {
    /// Its ledger's file.
    pub path: PathBuf,
    /// Its size.
    pub size: Size,
    /// The moment after its last deed.
    pub now: Moment,
    /// The mix that the clears of its last day came from.
    pub clear: u32,
}

impl Plant {
    /// Actions, entries and uses of its record.
    pub fn counts(&self) -> (i64, i64, i64) {
        let flags = rusqlite::OpenFlags::SQLITE_OPEN_READ_ONLY;
        let conn = rusqlite::Connection::open_with_flags(&self.path, flags).unwrap();
        let one = |sql: &str| conn.query_row(sql, [], |r| r.get(0)).unwrap();
        (
            one("SELECT max(seq) FROM action"),
            one("SELECT max(seq) FROM entry"),
            one("SELECT count(*) FROM used"),
        )
    }

    /// SHA-256 over the digests of all entries: the same for the same size.
    pub fn entries(&self) -> String {
        let flags = rusqlite::OpenFlags::SQLITE_OPEN_READ_ONLY;
        let conn = rusqlite::Connection::open_with_flags(&self.path, flags).unwrap();
        let mut list = conn
            .prepare("SELECT digest FROM entry ORDER BY seq")
            .unwrap();
        let digests = list.query_map([], |r| r.get::<_, [u8; 8]>(0)).unwrap();
        let all: Vec<u8> = digests.flat_map(Result::unwrap).collect();
        hangtime::ledger::sha256_hex(&all)
    }

    /// Pieces that were sealed on the last day and wait for their first clear coat.
    pub fn ready_for_a_coat(&self, ledger: &Ledger) -> Vec<String> {
        let floor = ledger.floor(self.now, None).unwrap();
        let sealed = floor
            .iter()
            .filter(|s| s.step().is_some_and(|step| step.kind == StepKind::Clear));
        sealed
            .filter(|s| {
                s.now
                    .surfaces
                    .values()
                    .all(|n| n.last_wet_kind == Some(StepKind::Seal))
            })
            .map(|s| s.now.piece.serial.clone())
            .collect()
    }

    /// The month of its last day.
    pub fn month(&self, ledger: &Ledger) -> String {
        ledger.calendar().day(self.now).month()
    }

    /// Its moment as a person types it.
    pub fn time(&self) -> String {
        NEW_YORK.local(self.now).to_rfc3339()
    }
}

/// The working days of a plant; it ends on the same day, however long it ran.
pub fn working_days(count: u32) -> Vec<NaiveDate> {
    let last = NaiveDate::from_ymd_opt(2026, 3, 26).unwrap();
    let mut days: Vec<NaiveDate> =
        std::iter::successors(Some(last), |d| d.checked_sub_days(Days::new(1)))
            .filter(|d| !matches!(d.weekday(), Weekday::Sat | Weekday::Sun))
            .take(usize::try_from(count).unwrap())
            .collect();
    days.reverse();
    days
}

// The name of a rack: the racks of sixteen days hang at once, and a rack that is empty again is used again.
fn rack_name(kind: PieceKind, day: usize, n: u32) -> String {
    let letter = if kind == PieceKind::Body { 'B' } else { 'N' };
    format!("{letter}{:02}-{n}", day % 20)
}

fn serial(kind: PieceKind, number: u32) -> String {
    let letter = if kind == PieceKind::Body { 'B' } else { 'N' };
    format!("{letter}-{number:06}")
}

// A sheet of a family: the sample's own with another code, and one share that is another in each.
fn sheet(text: &str, (old, new): (&str, &str), share: &str, n: u32) -> String {
    let (whole, _) = share.split_once('.').unwrap();
    text.replace(&format!("code = \"{old}\""), &format!("code = \"{new}\""))
        .replacen(
            &format!("share = \"{share} %\""),
            &format!("share = \"{whole}.{n:02} %\""),
            1,
        )
}

/// A coat from a mix on so many pieces.
pub fn laid(mix: u32, pieces: u32) -> DeedWhat {
    let mut what = coat(Some(mix));
    if let DeedWhat::Coat { amount, .. } = &mut what {
        *amount = Some(Volume(i64::from(pieces) * PER_PIECE));
    }
    what
}

struct Making {
    bench: Bench,
    size: Size,
    days: Vec<NaiveDate>,
    families: [Vec<String>; 3],
    mix: u32,
}

impl Making {
    fn new(path: &Path, size: Size) -> Self {
        let days = working_days(size.days);
        let start = NEW_YORK
            .read(&format!("{} 05:00", days[0]), Moment(0))
            .unwrap();
        let mut made = Self {
            bench: Bench::begun(path, tempfile::tempdir().unwrap(), start),
            size,
            days,
            families: [Vec::new(), Vec::new(), Vec::new()],
            mix: 0,
        };
        made.materials();
        for room in ROOMS {
            made.declare(room, Span::hours(1), 0);
        }
        made
    }

    fn declare(&mut self, room: &str, every: Span, day: usize) {
        let at = self.bench.at(&format!("{} 05:02", self.days[day]));
        self.bench
            .ledger
            .declare_room(room, Some(every), 1_000, &who("MB"), &stamp(at))
            .unwrap();
    }

    // Forty materials: three families of clears, thinners and sealers, and what the sample has besides.
    fn materials(&mut self) {
        let at = self.bench.at(&format!("{} 05:01", self.days[0]));
        let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("sample/materials");
        for (family, (file, code, share, count)) in [
            ("clr.toml", "CLR", "10.0", 14),
            ("thn.toml", "THN", "20.0", 10),
            ("slr.toml", "SLR", "10.0", 6),
        ]
        .into_iter()
        .enumerate()
        {
            let text = std::fs::read_to_string(folder.join(file)).unwrap();
            for n in 0..count {
                let new = format!("{code}{n:02}");
                let text = sheet(&text, (code, &new), share, n);
                self.bench
                    .ledger
                    .adopt_material(&format!("{new}.toml"), &text, &who("MB"), &stamp(at))
                    .unwrap();
                self.families[family].push(new);
            }
        }
    }

    // The lot of a family in use on a day: a new one comes in each week, of another material of the family in turn.
    fn lot(&mut self, family: usize, day: usize) -> String {
        let week = day / 5;
        let list = &self.families[family];
        let material = list[week % list.len()].clone();
        let lot = format!("{material}-W{week:03}");
        if day.is_multiple_of(5) {
            let at = self.bench.at(&format!("{} 05:10", self.days[day]));
            self.bench
                .ledger
                .receive_lot(
                    &NewLot::of(&lot, &material, Volume(4_000_000_000)),
                    at,
                    &who("MB"),
                    &stamp(at),
                )
                .unwrap();
        }
        lot
    }

    fn take_in(&mut self, kind: PieceKind, day: usize, n: u32) -> (String, u32) {
        let at = self.bench.at(&format!("{} 05:30", self.days[day]));
        let (model, recipe, revision) = match kind {
            PieceKind::Body => ("Cittern", "G9", 3),
            _ => ("Cittern", "N8", 1),
        };
        let name = rack_name(kind, day, n);
        let count = RACK.min(self.size.bodies - n * RACK);
        let first = u32::try_from(day).unwrap() * self.size.bodies + n * RACK + 1;
        let other = if kind == PieceKind::Body {
            PieceKind::Neck
        } else {
            PieceKind::Body
        };
        let rows: Vec<PieceRow> = (0..count)
            .map(|i| PieceRow {
                line: u64::from(i + 2),
                piece: NewPiece {
                    serial: serial(kind, first + i),
                    tag: None,
                    kind,
                    model: model.to_owned(),
                    recipe: recipe.to_owned(),
                    revision,
                    area: Area(320_000),
                    due: self.days[day].checked_add_days(Days::new(25)),
                    pair: Some(serial(other, first + i)),
                },
                rack: Some(name.clone()),
                hook: Some(i + 1),
                room: Some(ROOMS[1].to_owned()),
            })
            .collect();
        self.bench
            .ledger
            .add_pieces(&rows, at, &who("MB"), &stamp(at))
            .unwrap()
            .unwrap();
        (name, count)
    }

    fn racks(&self, kind: PieceKind, day: usize, ago: usize) -> Vec<(String, u32)> {
        let Some(day) = day.checked_sub(ago) else {
            return Vec::new();
        };
        (0..self.size.bodies.div_ceil(RACK))
            .map(|n| {
                (
                    rack_name(kind, day, n),
                    RACK.min(self.size.bodies - n * RACK),
                )
            })
            .collect()
    }

    fn readings(&mut self, day: usize) {
        let date = self.days[day];
        // What was read since the last working day's morning.
        let from = match day.checked_sub(1) {
            Some(before) => self.bench.at(&format!("{} 05:00", self.days[before])),
            None => self.bench.at(&format!("{date} 00:00")),
        };
        let to = self.bench.at(&format!("{date} 05:00"));
        let whole = self.days.last().unwrap();
        let by_minute = whole.signed_duration_since(date).num_days() < i64::from(self.size.minutes);
        let every = if by_minute { 60_000 } else { 3_600_000 };
        for (n, room) in ROOMS.into_iter().enumerate() {
            let wave = i64::try_from(n).unwrap() * 137;
            let samples: Vec<Sample> = (from.0.div_euclid(every) + 1..=to.0.div_euclid(every))
                .map(|k| Sample {
                    at: Moment(k * every),
                    temperature: Temperature(21_000 + (k * 37 + wave).rem_euclid(1_800)),
                    humidity: Some(Humidity(4_500 + (k * 11 + wave).rem_euclid(700))),
                })
                .collect();
            let at = self.bench.at(&format!("{date} 05:05"));
            self.bench
                .ledger
                .add_readings(
                    room,
                    &format!("{room} {date}.csv"),
                    &samples,
                    &who("MB"),
                    &stamp(at),
                )
                .unwrap();
        }
    }

    fn day(&mut self, day: usize) {
        let date = self.days[day];
        let at = |time: &str| format!("{date} {time}");
        let clear_lot = self.lot(0, day);
        let thinner = self.lot(1, day);
        let sealer_lot = self.lot(2, day);
        self.readings(day);
        for n in 0..self.size.bodies.div_ceil(RACK) {
            for kind in [PieceKind::Body, PieceKind::Neck] {
                self.take_in(kind, day, n);
            }
        }
        let ml = i64::from(self.size.bodies) * 500 + 2_000;
        let sealer = self.bench.mix(
            "sealer",
            &[(&sealer_lot, ml), (&thinner, ml / 3)],
            &at("05:40"),
        );
        let clear = self.bench.mix(
            "clear 3:1",
            &[(&clear_lot, ml * 3), (&thinner, ml)],
            &at("05:45"),
        );
        self.mix = clear;
        let both = [PieceKind::Body, PieceKind::Neck];
        for kind in both {
            for (name, _) in self.racks(kind, day, 0) {
                self.bench
                    .work(rack(&name), StepKind::Receive, &at("06:00"), "PR");
                self.bench
                    .work(rack(&name), StepKind::Mask, &at("06:10"), "PR");
            }
        }
        let sanded = |kind| DeedWhat::Sand {
            kind,
            removed: None,
            grit: Some("P400".to_owned()),
        };
        for (kind, ago) in [
            (PieceKind::Body, 2),
            (PieceKind::Neck, 2),
            (PieceKind::Body, 3),
        ] {
            for (name, _) in self.racks(kind, day, ago) {
                self.bench
                    .deed(rack(&name), sanded(None), &at("06:30"), "SK");
                let gauge = DeedWhat::Other(Fact::Gauged {
                    film: Film(if ago == 2 { 53_000 } else { 86_000 }),
                });
                self.bench.deed(rack(&name), gauge, &at("06:40"), "SK");
            }
        }
        for kind in both {
            for (name, _) in self.racks(kind, day, LIFE - 2) {
                self.bench
                    .deed(rack(&name), sanded(None), &at("06:50"), "SK");
                for time in ["08:00", "09:00", "10:00"] {
                    let buffed = Fact::Buffed {
                        wheel: Some("wheel 1".to_owned()),
                        compound: Some("medium".to_owned()),
                    };
                    self.bench
                        .deed(rack(&name), DeedWhat::Other(buffed), &at(time), "LW");
                }
                self.bench
                    .work(rack(&name), StepKind::Unmask, &at("11:00"), "LW");
                let looked = Fact::Inspected {
                    light: Some("box 1".to_owned()),
                    findings: vec![Finding {
                        surface: "whole".to_owned(),
                        grade: 'A',
                        defect: None,
                        size_um: None,
                        place: None,
                        verdict: Verdict::Take,
                    }],
                };
                self.bench
                    .deed(rack(&name), DeedWhat::Other(looked), &at("11:30"), "MK");
            }
        }
        if let Some(first) = day.checked_sub(LIFE - 1) {
            let first = u32::try_from(first).unwrap() * self.size.bodies + 1;
            for number in first..first + self.size.bodies {
                let mated = Fact::Mated {
                    with: serial(PieceKind::Neck, number),
                    fit: None,
                    joint: None,
                };
                let target = piece(&serial(PieceKind::Body, number));
                self.bench
                    .deed(target, DeedWhat::Other(mated), &at("11:45"), "AS");
            }
        }
        for (time, mix, ago, kinds) in [
            ("10:00", sealer, 0, &both[..]),
            ("11:05", sealer, 0, &both),
            ("09:20", clear, 1, &both),
            ("09:30", clear, 2, &both),
            ("09:40", clear, 3, &both[..1]),
            ("11:00", clear, 1, &both),
            ("11:10", clear, 2, &both),
            ("11:20", clear, 3, &both[..1]),
            ("12:40", clear, 1, &both),
            ("12:50", clear, 2, &both),
            ("13:00", clear, 3, &both[..1]),
        ] {
            for kind in kinds {
                for (name, count) in self.racks(*kind, day, ago) {
                    self.bench
                        .deed(rack(&name), laid(mix, count), &at(time), "AB");
                }
            }
        }
        for (kind, ago) in [(PieceKind::Neck, 2), (PieceKind::Body, 3)] {
            for (name, _) in self.racks(kind, day, ago) {
                let room = if kind == PieceKind::Neck {
                    ROOMS[2]
                } else {
                    ROOMS[3]
                };
                let hung = Fact::Placed {
                    rack: Some(name.clone()),
                    hook: None,
                    room: Some(room.to_owned()),
                };
                self.bench
                    .deed(rack(&name), DeedWhat::Other(hung), &at("14:30"), "TR");
            }
        }
    }
}

/// Makes a plant of a size in a file, or finds the one that was made there before.
pub fn plant(path: &Path, size: Size) -> Plant {
    if !path.exists() {
        let part = path.with_extension("making");
        for more in ["", "-wal", "-shm", ".turn", ".witness"] {
            let mut name = part.clone().into_os_string();
            name.push(more);
            let _ = std::fs::remove_file(name);
        }
        let mut made = Making::new(&part, size);
        for day in 0..made.days.len() {
            made.day(day);
        }
        drop(made);
        std::fs::rename(&part, path).unwrap();
        let witness = |p: &Path| PathBuf::from(format!("{}.witness", p.display()));
        std::fs::rename(witness(&part), witness(path)).unwrap();
    }
    let ledger = Ledger::open(path).unwrap();
    let now = ledger.newest_written().unwrap().plus(Span::minutes(5));
    let clear = ledger.newest_mix().unwrap().unwrap();
    Plant {
        path: path.to_path_buf(),
        size,
        now,
        clear,
    }
}
