//! The append-only record in SQLite, and the read models that follow from it.
//!
//! *Invariants*: every write goes through one function, in one IMMEDIATE transaction behind the turn file; the read
//! models are changed in the same transaction by the same code that rebuilds them ([`verify`](Ledger::verify) proves
//! that rebuilt equals kept); nothing updates or deletes the record. Amounts are integers, so sums are exact.
//!
//! *Not here*: any judgement (that is `shop`), any text for people beyond errors, any reading of the clock. No file
//! of the ledger is opened beside SQLite while a connection is open: closing it would drop the engine's locks.

mod ahead;
mod alerts;
mod append;
mod backup;
mod board;
mod book;
mod booths;
mod cautions;
mod chain;
mod changes;
mod clock;
mod closed_days;
mod corrections;
mod deeds;
mod draft;
mod drums;
mod duties;
mod error;
mod excursions;
mod export;
#[cfg(test)]
mod hot;
mod import;
mod keyed;
mod migrate;
mod models;
mod months;
mod open;
mod past;
mod people;
mod quality;
mod read;
mod readings;
mod recover;
mod rotation;
mod rules;
mod setup;
mod solvent;
mod spread;
mod stations;
mod stock;
mod stored;
mod trace;
mod turn;
mod verify;
mod walk;
mod witness;
mod working_hours;

pub use ahead::{Alike, AtRisk, HalfAhead, PairAhead, SolventLeft, Told, weigh};
pub use alerts::{AlertMarks, AlertRuleRow, AlertTold, Claim, HandOverRow};
pub use append::{Line, NewAction, Saved, Stamp, Who};
pub use backup::BackupReport;
pub use board::{ReadOnly, Unlocked};
pub use booths::{
    ALL_BOOTHS, CHECK_EVERY, ExhaustUnknown, FACE_VELOCITY, FILTER_RISE, MissedCheck, OutageReport,
    SURVEY_EVERY,
};
pub use cautions::{AtUse, Cup, DueCaution, WasDue};
pub use chain::{Hash, hex, sha256_hex};
pub use changes::Changes;
pub use clock::{ClockDoubt, ClockFacts, ClockFixed};
pub use closed_days::ClosedRow;
pub use corrections::Fixed;
pub use deeds::{
    Conflict, DeedRequest, DeedWhat, Included, LeftOut, Outcome, Plan, PlannedPiece, Receipt,
    Target,
};
pub use draft::{Draft, DraftFate, Drafts};
pub use drums::{DrumRow, Shipment};
pub use duties::{ContactRow, DoneRow, DutyRow, IncidentRow, RoomAirRow, RoomHooksRow};
pub use error::LedgerError;
pub use excursions::{Moved, RoomExcursions, air_limit};
pub use export::{Manifest, ManifestFile};
pub use keyed::{Keyed, KeyedCup, KeyedDeed, KeyedDone};
pub use migrate::Upgrade;
pub use months::{Change, MonthNow, Signature, changes};
pub use open::{Ledger, NewShop};
pub use past::{Past, PastDeed, PastRework};
pub use people::{PersonRow, PinDeed, PinTry, PinWord};
pub use quality::{Period, PieceHistory, QualityRecord, Wrote};
pub use read::{
    ActionRow, BoothSurvey, CeilingRow, DeviationGround, DeviationRow, EntryRow, LotRow, MixRow,
    MonthSubstance, MonthSums, Seen, SheetRow, Shelf, UsedRow,
};
pub use readings::{ClimateReport, LoggerFile};
pub use recover::Recovered;
pub use rotation::{BackupPlan, Rotated};
pub use rules::NO_RULES;
pub use setup::{Ceiling, MixOrder, NewLot, PieceRow, RowFault};
pub use solvent::{GaugeReading, LastCheck, Months, UseRow, UsedGroup, shifted};
pub use spread::Spread;
pub use stations::{CrewRow, StationRow};
pub use stock::{BookSettings, CountRow, PotLevel, ReceiptRow, StockRow, UseBy, UseGroup};
pub use stored::Shared;
pub use trace::CarriedRow;
pub use verify::VerifyReport;
pub use witness::WitnessReport;
pub use working_hours::HoursRow;
