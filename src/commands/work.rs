//! `hangtime work`: lists the worksheets, shows the inputs of one, or computes it.

use std::io::Write;

use serde_json::json;

use crate::science::worksheet::{Inputs, Refusal, Sheet, Worksheet};
use crate::science::{printed, registry};
use crate::shop::text::{shown_json, shown_lines};
use crate::units::System;

/// The question was answered.
const ANSWERED: i32 = 0;
/// A figure is beyond its limit or a needed reading is missing.
const ATTENTION: i32 = 1;
/// The input was not accepted.
const BAD_INPUT: i32 = 2;

/// Runs `hangtime work [ID [name=value ...]]` and gives the exit code.
///
/// Data goes to `out`; the one line about bad input goes to `err`, and with `json` the same as an object to `out`.
pub fn run(
    id: Option<&str>,
    pairs: &[String],
    json: bool,
    system: System,
    out: &mut dyn Write,
    err: &mut dyn Write,
) -> anyhow::Result<i32> {
    let Some(id) = id else {
        let sheets = registry::all();
        return answered(
            json,
            &printed::list_json(&sheets),
            &printed::list_lines(&sheets),
            out,
        );
    };
    let Some(sheet) = registry::find(id) else {
        let shown: String = id.chars().filter(|c| !c.is_control()).take(40).collect();
        let message = format!("\"{shown}\" is not a worksheet; \"hangtime work\" lists them");
        if json {
            let ids: Vec<&str> = registry::all().iter().map(|s| s.id).collect();
            let error = json!({"kind": "no_such_worksheet", "input": "id", "value": shown,
                               "allowed": ids.join(", "), "message": message});
            writeln!(
                out,
                "{}",
                shown_json(&json!({ "error": error }).to_string())
            )?;
        }
        writeln!(err, "{}", shown_lines(&message))?;
        return Ok(BAD_INPUT);
    };
    if pairs.is_empty() {
        return answered(
            json,
            &printed::inputs_json(sheet, system),
            &printed::inputs_lines(sheet, system),
            out,
        );
    }
    match compute(sheet, pairs, system) {
        Ok((inputs, answer)) => {
            answered(
                json,
                &printed::answer_json(&inputs, &answer, system),
                &printed::answer_lines(&inputs, &answer, system),
                out,
            )?;
            Ok(if answer.calls_for_attention() {
                ATTENTION
            } else {
                ANSWERED
            })
        }
        Err(refusal) => {
            if json {
                let refused = printed::refusal_json(&refusal).to_string();
                writeln!(out, "{}", shown_json(&refused))?;
            }
            writeln!(err, "{}", shown_lines(&refusal.to_string()))?;
            Ok(BAD_INPUT)
        }
    }
}

fn answered(
    json: bool,
    value: &serde_json::Value,
    lines: &[String],
    out: &mut dyn Write,
) -> anyhow::Result<i32> {
    if json {
        writeln!(out, "{}", shown_json(&value.to_string()))?;
    } else {
        for line in lines {
            writeln!(out, "{}", shown_lines(line))?;
        }
    }
    Ok(ANSWERED)
}

fn compute(
    sheet: &'static Sheet,
    pairs: &[String],
    system: System,
) -> Result<(Inputs, Worksheet), Refusal> {
    let mut split = Vec::with_capacity(pairs.len());
    for pair in pairs {
        let (name, value) = pair.split_once('=').ok_or_else(|| Refusal::NotRead {
            input: pair.chars().filter(|c| !c.is_control()).take(40).collect(),
            value: String::new(),
            allowed: "name=value".to_owned(),
            why: "it has no \"=\"; write name=value".to_owned(),
        })?;
        split.push((name.trim(), value));
    }
    let inputs = Inputs::read(sheet, &split, system)?;
    let answer = sheet.run(&inputs)?;
    Ok((inputs, answer))
}
