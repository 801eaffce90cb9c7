//! The questions that are asked all day, held against the engine's own plan for them: none of them reads the record from end to
//! end, whatever its length.

use super::{DeedRequest, DeedWhat, Included, Months, Outcome, UseBy};
use crate::shop::record::Fact;
use crate::shop::shift::Shift;
use crate::units::{Film, Humidity, Moment, Span, Temperature};
use rusqlite::StatementStatus;
use rusqlite::trace::{TraceEvent, TraceEventCodes};
use std::collections::BTreeSet;
use std::sync::{Arc, Mutex};

#[allow(
    unreachable_pub,
    dead_code,
    reason = "the tests in their own folder share it"
)]
#[path = "../../tests/support/shop.rs"]
mod shop;

// Names that a statement gives to a table of the record.
fn names<'s>(sql: &'s str, table: &str) -> Vec<&'s str> {
    let words: Vec<&str> = sql
        .split(|c: char| !(c.is_alphanumeric() || c == '_'))
        .filter(|w| !w.is_empty())
        .collect();
    let mut out = Vec::new();
    for pair in words.windows(3) {
        let [before, name, alias] = pair else {
            continue;
        };
        let from = ["FROM", "JOIN"].contains(before) || *before == ",";
        if from && *name == table {
            let plain = alias.chars().all(char::is_uppercase);
            out.push(if plain { *name } else { *alias });
        }
    }
    if words.last() == Some(&table) {
        out.extend(words.last());
    }
    out
}

#[test]
fn the_names_of_a_table_in_a_statement_are_found() {
    let sql = "SELECT 1 FROM entry e JOIN action a ON a.seq = e.action WHERE EXISTS (SELECT 1 FROM entry WHERE seq = 1)";
    assert_eq!(names(sql, "entry"), ["e", "entry"]);
    assert_eq!(names(sql, "action"), ["a"]);
    assert_eq!(names("SELECT max(seq) FROM entry", "entry"), ["entry"]);
}

#[test]
fn no_question_that_is_asked_all_day_reads_the_record_from_end_to_end() {
    let (mut bench, now) = shop::Bench::morning();
    let seen: Arc<Mutex<BTreeSet<String>>> = Arc::default();
    let kept = Arc::clone(&seen);
    let planned: Arc<Mutex<BTreeSet<String>>> = Arc::default();
    let anew = Arc::clone(&planned);
    let note = move |event: TraceEvent<'_>| {
        if let TraceEvent::Profile(statement, _) = &event {
            let again = statement.get_status(StatementStatus::RePrepare);
            // Once, for what was prepared before this connection knew of the trace.
            if again > 1 {
                anew.lock().unwrap().insert(statement.sql().into_owned());
            }
        }
        if let TraceEvent::Stmt(statement, _) = event {
            kept.lock().unwrap().insert(statement.sql().into_owned());
        }
    };
    let ledger = &mut bench.ledger;
    ledger
        .conn
        .trace_v2(
            TraceEventCodes::SQLITE_TRACE_STMT | TraceEventCodes::SQLITE_TRACE_PROFILE,
            Some(note),
        )
        .unwrap();
    let (who, stamp) = (shop::who("AB"), shop::stamp(now));

    // The booth: what is there, what a deed would do, the deed, what it did, taking it back.
    ledger.floor(now, None).unwrap();
    ledger.floor(now.plus(Span::hours(20)), None).unwrap();
    ledger.piece("B0412", now).unwrap();
    ledger.piece("412", now).unwrap();
    let mut saved = Vec::new();
    for (target, what, hours) in [
        (shop::rack("R12"), shop::coat(Some(1)), 2),
        (shop::piece("B0410"), shop::coat(None), 24),
        (
            shop::rack("R3"),
            DeedWhat::Other(Fact::Gauged { film: Film(40_000) }),
            25,
        ),
        (
            shop::rack("R3"),
            DeedWhat::Rehang {
                rack: "R4".to_owned(),
            },
            26,
        ),
    ] {
        let at = now.plus(Span::hours(hours));
        let mut request = DeedRequest::new(who.clone(), target, what, at);
        request.included = Included::All;
        ledger.preview(&request).unwrap();
        let Outcome::Saved(receipt) = ledger.log(&request, &shop::stamp(at)).unwrap() else {
            panic!("not saved");
        };
        saved.push(receipt.saved);
    }
    let later = now.plus(Span::hours(27));
    let action = saved[0].action;
    ledger.line_of(action, later).unwrap();
    ledger.action_totals(action).unwrap();
    ledger.used_by_action(action).unwrap();
    ledger.last_action(Some("S1")).unwrap();
    ledger.undoable(&who).unwrap();
    ledger.undo(None, true, &who, &shop::stamp(later)).unwrap();

    // One piece.
    let seen_piece = ledger.piece("B0412", later).unwrap();
    ledger.history(seen_piece.now.id, later).unwrap();
    ledger.entries(Some("B0412")).unwrap();
    ledger.witnesses("R12", later).unwrap();

    // Cups, cautions, the booth.
    ledger.mix(1).unwrap();
    ledger.newest_mix().unwrap();
    ledger.hazards_of_the_day(later).unwrap();
    ledger.cautions_waiting(later).unwrap();
    ledger.exhaust_unknown(later).unwrap();
    ledger
        .missed_checks(now.minus(Span::hours(48)), later)
        .unwrap();
    ledger.coats_in("booth 1", now, later).unwrap();
    ledger.fresh_in("flash room", now, later).unwrap();
    ledger.newest_reading("cure room", later).unwrap();
    ledger.recipes_in("cure room", later).unwrap();

    // The shift.
    let hours = ledger.hours(&[Shift::COMMON], later).unwrap();
    ledger.at_risk(later, &hours).unwrap();
    ledger.deviations(false).unwrap();
    ledger.duties(later).unwrap();
    ledger.drums(later).unwrap();
    ledger.hand_overs(later).unwrap();
    ledger.past(later, None).unwrap();
    ledger.excursions(None, now, later).unwrap();
    ledger.clock_facts(later, None).unwrap();
    ledger.head().unwrap();
    ledger.witness().unwrap();
    let taken = crate::shop::climate::Sample {
        at: Moment(later.0 - 60_000),
        temperature: Temperature(21_000),
        humidity: Some(Humidity(4_500)),
    };
    ledger
        .declare_room("cure room", Some(Span::minutes(15)), 1_000, &who, &stamp)
        .unwrap();
    ledger
        .add_readings("cure room", "c.csv", &[taken], &who, &shop::stamp(later))
        .unwrap();

    // The solvent book.
    let months = Months::twelve("2026-03").unwrap();
    let one = Months::one("2026-03").unwrap();
    ledger.month("2026-03").unwrap();
    ledger.month_now("2026-03").unwrap();
    ledger.sums_of(&months).unwrap();
    ledger.used_groups(&one).unwrap();
    ledger.used_by_day(&one).unwrap();
    ledger.count_uses(&one).unwrap();
    ledger.uncounted_coats(&one).unwrap();
    ledger.coats_on(one.days()).unwrap();
    ledger.use_groups(one.days(), UseBy::Coat).unwrap();
    ledger.use_groups(one.days(), UseBy::Purpose).unwrap();
    ledger.poured().unwrap();
    ledger.ceilings().unwrap();
    ledger.gauge_readings(later).unwrap();
    ledger.stock(None).unwrap();
    ledger.lots().unwrap();

    // A statement is planned once, whatever is asked with it.
    let planned: Vec<String> = planned.lock().unwrap().iter().cloned().collect();
    assert_eq!(planned, Vec::<String>::new());
    let statements: Vec<String> = seen.lock().unwrap().iter().cloned().collect();
    let looked_at = statements
        .iter()
        .filter(|s| !names(s, "entry").is_empty())
        .count();
    assert!(looked_at > 20, "{looked_at} statements about entries");
    let mut whole = Vec::new();
    for sql in statements {
        if !["SELECT", "WITH", "INSERT", "UPDATE", "DELETE"]
            .iter()
            .any(|w| sql.trim_start().starts_with(w))
        {
            continue;
        }
        let mut plan = ledger
            .conn
            .prepare(&format!("EXPLAIN QUERY PLAN {sql}"))
            .unwrap();
        let details: Vec<String> = plan
            .raw_query()
            .mapped(|r| r.get(3))
            .collect::<Result<_, _>>()
            .unwrap();
        // All stays that a room ever had, where the piece or the end of the stay could find them.
        let rooms = details.iter().filter(|d| d.ends_with("stay_room (room=?)"));
        whole.extend(rooms.map(|d| format!("{d}: {sql}")));
        for table in ["entry", "action", "reading"] {
            // From one end on and no further than is needed.
            if table == "action"
                && (sql.contains("ORDER BY seq") || sql.contains("ORDER BY a.seq DESC"))
            {
                continue;
            }
            for name in names(&sql, table) {
                let scan = format!("SCAN {name}");
                for detail in &details {
                    if detail == &scan || detail.starts_with(&format!("{scan} ")) {
                        whole.push(format!("{detail}: {sql}"));
                    }
                }
            }
        }
    }
    whole.sort();
    whole.dedup();
    assert!(whole.is_empty(), "{}", whole.join("\n\n"));
}
