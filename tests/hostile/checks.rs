//! What must hold for every text from outside, whatever is in it. The property tests and the fuzz targets share it.

use hangtime::feeds::logger::file;
use hangtime::feeds::logger::guess::{Said, guess};
use hangtime::feeds::{climate_csv, pieces_csv};
use hangtime::shop::calendar::Calendar;
use hangtime::shop::text::{clean, initials, shown, shown_lines, unruly};
use hangtime::shop::{logger_file, material_file, recipe_file};
use hangtime::units::{
    Amount, Area, Density, Dimension, Film, Humidity, Mass, Moment, Pressure, Share, Span, Speed,
    System, Temperature, Volume,
};
use std::collections::BTreeMap;

/// Mon 9 March 2026 06:00 in New York.
const NOW: Moment = Moment(1_773_050_400_000);

fn calendar() -> Calendar {
    Calendar {
        zone: chrono_tz::America::New_York,
        day_start: 6,
    }
}

/// A message is a sentence; whoever prints it sees to it that what was typed cannot steer the terminal.
fn message(text: &str) {
    assert!(text.len() > 8, "too short a message: {text:?}");
    assert!(!shown_lines(text).chars().any(|c| c != '\n' && unruly(c)));
}

/// A list of pieces.
pub fn pieces(bytes: &[u8]) {
    let newest: BTreeMap<String, u32> = [("G9".to_owned(), 3), ("N8".to_owned(), 1)].into();
    match pieces_csv::read(bytes, &newest) {
        Ok(rows) => {
            for row in rows {
                assert!(row.line > 1, "a row before the header");
                assert!(!row.piece.serial.is_empty());
                assert!(!row.piece.serial.chars().any(unruly));
                assert!(!row.piece.model.chars().any(unruly));
                assert!(!row.piece.recipe.chars().any(unruly));
            }
        }
        Err(faults) => {
            assert!(!faults.is_empty(), "refused without a reason");
            for fault in faults {
                message(&fault.why);
            }
        }
    }
}

/// A logger's description.
pub fn description(text: &str) {
    match logger_file::read("logger.toml", text) {
        Ok(logger) => assert!(logger.file.is_some() || logger.live.is_some()),
        Err(faults) => {
            assert!(!faults.is_empty(), "refused without a reason");
            for fault in faults {
                message(&fault.to_string());
            }
        }
    }
}

// A logger's file, by what it looks like.
fn guessed(bytes: &[u8]) {
    let faults = match guess(bytes, &Said::default()) {
        Ok(found) => {
            let shape = found.as_if.file.clone().unwrap();
            let hold = Span::minutes(30);
            match file::read(bytes, &found.as_if, &shape, &calendar(), hold) {
                Ok(read) => {
                    let moments: Vec<Moment> = read.readings.iter().map(|(_, s)| s.at).collect();
                    assert!(moments.windows(2).all(|w| w[0] < w[1]), "out of order");
                    let lines = usize::try_from(read.lines).unwrap();
                    assert_eq!(moments.len() + read.left_out(), lines);
                    for remark in read.remarks {
                        message(&remark.why);
                    }
                    return;
                }
                Err(faults) => faults,
            }
        }
        Err(fault) => vec![fault],
    };
    assert!(!faults.is_empty(), "refused without a reason");
    for fault in faults {
        message(&fault.why);
    }
}

/// A logger's file.
pub fn climate(bytes: &[u8]) {
    guessed(bytes);
    match climate_csv::read(bytes, &calendar()) {
        Ok(samples) => {
            for sample in samples {
                assert!((Temperature::LOW..=Temperature::HIGH).contains(&sample.temperature.0));
            }
        }
        Err(faults) => {
            assert!(!faults.is_empty(), "refused without a reason");
            for fault in faults {
                message(&fault.why);
            }
        }
    }
}

/// A recipe file. One that reads is read the same again, and its routes are its steps.
pub fn recipe(text: &str) {
    match recipe_file::read("fuzz.toml", text) {
        Ok(recipe) => {
            assert_eq!(recipe_file::read("fuzz.toml", text), Ok(recipe.clone()));
            for surface in &recipe.surfaces {
                assert!(recipe.route(None, surface).len() <= recipe.steps.len());
            }
            assert!(!recipe.code.chars().any(unruly));
        }
        Err(faults) => {
            assert!(!faults.is_empty(), "refused without a reason");
            for fault in faults {
                message(&fault.to_string());
            }
        }
    }
}

/// A material file.
pub fn material(text: &str) {
    match material_file::read("fuzz.toml", text) {
        Ok(material) => {
            // Nothing weighs more than the volume that it is part of, whatever the sheet says.
            for (_, mass) in material.masses(Volume(1_000_000)) {
                assert!(mass.0 >= 0);
            }
        }
        Err(faults) => {
            assert!(!faults.is_empty(), "refused without a reason");
            for fault in faults {
                message(&fault.to_string());
            }
        }
    }
}

/// A time that was typed. One that is understood reads back from the form that files hold.
pub fn time(text: &str) {
    let calendar = calendar();
    match calendar.read(text, NOW) {
        Ok(at) => {
            let written = calendar.rfc3339(at);
            let again = calendar.read(&written, NOW).unwrap();
            assert_eq!(
                again.0 / 1_000,
                at.0.div_euclid(1_000),
                "{text:?} {written}"
            );
        }
        Err(fault) => message(&fault.to_string()),
    }
}

fn one_amount<A: Amount>(text: &str) {
    match A::read(text, None) {
        Ok(amount) => {
            message(&format!("an amount: {}", amount.text(3)));
            message(&format!("an amount: {}", amount.shown(System::Us, 3)));
            message(&format!("an amount: {}", amount.trimmed()));
        }
        Err(fault) => message(&fault.to_string()),
    }
}

/// An amount with its unit, read as every quantity there is.
pub fn amount(text: &str) {
    one_amount::<Film>(text);
    one_amount::<Volume>(text);
    one_amount::<Mass>(text);
    one_amount::<Density>(text);
    one_amount::<Share>(text);
    one_amount::<Temperature>(text);
    one_amount::<Humidity>(text);
    one_amount::<Area>(text);
    one_amount::<Speed>(text);
    one_amount::<Pressure>(text);
    if let Err(fault) = hangtime::units::read(text, Dimension::Time, None) {
        message(&fault.to_string());
    }
}

/// Words of a command: a worksheet, its inputs, and names and notes.
pub fn words(text: &str) {
    let mut lines = text.lines();
    let id = lines.next().unwrap_or_default();
    let pairs: Vec<String> = lines.map(str::to_owned).collect();
    let (mut out, mut err) = (Vec::new(), Vec::new());
    for json in [false, true] {
        hangtime::commands::work::run(Some(id), &pairs, json, System::Metric, &mut out, &mut err)
            .unwrap();
    }
    for said in [out, err] {
        let said = String::from_utf8(said).unwrap();
        let bad = said.chars().find(|c| *c != '\n' && unruly(*c));
        assert_eq!(bad, None, "{said:?}");
    }
    for (kept, most) in [
        (clean("note", text, 200), 200),
        (initials("person", text), 8),
    ] {
        match kept {
            Ok(kept) => {
                assert!(!kept.is_empty() && kept.chars().count() <= most);
                assert!(!kept.chars().any(unruly));
                assert_eq!(shown(&kept), kept);
            }
            Err(why) => message(&why),
        }
    }
    assert!(!shown(text).chars().any(unruly));
}
