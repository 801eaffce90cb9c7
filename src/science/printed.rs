//! A worksheet as text and as JSON, from the same figures, for the command line, the screens and the workbook.
//!
//! *Not here*: where it is written to.

use serde_json::{Value, json};

use super::input::{Absent, Input, Inputs, Item, Refusal};
use super::worksheet::{Figure, Held, Sheet, Worksheet, figures};
use crate::units::System;

/// A float for scripts: fourteen significant figures, so that the last bits of a conversion are not printed.
fn number(value: f64) -> Value {
    format!("{value:.13e}")
        .parse::<f64>()
        .map_or(Value::Null, |short| json!(short))
}

fn figure(f: &Figure, system: System) -> Value {
    json!({"name": f.name, "value": number(f.measure.shown(f.base, system)), "unit": f.measure.name(system)})
}

fn default_text(input: &Input) -> Option<&'static str> {
    match input.absent {
        Absent::Take(text) => Some(text),
        Absent::Refuse | Absent::Unknown => None,
    }
}

/// All worksheets: word, purpose, source.
pub fn list_json(sheets: &[&'static Sheet]) -> Value {
    let rows: Vec<Value> = sheets
        .iter()
        .map(|s| json!({"id": s.id, "purpose": s.purpose, "source": s.source}))
        .collect();
    json!({ "worksheets": rows })
}

/// All worksheets, one line each.
pub fn list_lines(sheets: &[&'static Sheet]) -> Vec<String> {
    let width = sheets.iter().map(|s| s.id.len()).max().unwrap_or(0);
    sheets
        .iter()
        .map(|s| format!("{:width$}  {} [{}]", s.id, s.purpose, s.source))
        .collect()
}

/// The inputs of a worksheet with units, defaults and ranges.
pub fn inputs_json(sheet: &Sheet, system: System) -> Value {
    let rows: Vec<Value> = sheet
        .inputs
        .iter()
        .map(|input| {
            let measure = input.measure();
            let edge = |base: Option<f64>| {
                base.map_or(Value::Null, |base| number(measure.shown(base, system)))
            };
            json!({
                "name": input.name,
                "about": input.about,
                "unit": measure.name(system),
                "default": default_text(input),
                "needed": input.absent == Absent::Refuse,
                "low": edge(input.range().map(|r| r.0)),
                "high": edge(input.range().map(|r| r.1)),
                "allowed": input.allowed(system),
                "list": input.list.is_some(),
                "example": input.example,
            })
        })
        .collect();
    json!({"id": sheet.id, "purpose": sheet.purpose, "source": sheet.source, "inputs": rows})
}

/// The inputs of a worksheet, one line each.
pub fn inputs_lines(sheet: &Sheet, system: System) -> Vec<String> {
    let mut lines = vec![
        format!("{}: {}", sheet.id, sheet.purpose),
        format!("source: {}", sheet.source),
    ];
    let width = sheet.inputs.iter().map(|i| i.name.len()).max().unwrap_or(0);
    for input in sheet.inputs {
        let absent = match input.absent {
            Absent::Take(text) => format!("default {text}"),
            Absent::Unknown => "may be left out".to_owned(),
            Absent::Refuse => format!("needed, such as {}", input.example),
        };
        let list = match input.list {
            Some((least, most)) => format!("; a list of {least} to {most}"),
            None => String::new(),
        };
        let unit = match input.measure().name(system) {
            "1" => String::new(),
            unit => format!(" [{unit}]"),
        };
        lines.push(format!(
            "  {:width$}{unit}  {}; {}; {absent}{list}",
            input.name,
            input.about,
            input.allowed(system)
        ));
    }
    lines
}

/// The answer in the contract's shape.
pub fn answer_json(inputs: &Inputs, answer: &Worksheet, system: System) -> Value {
    let given: Vec<Value> = inputs
        .traced()
        .into_iter()
        .map(|(input, from, item, origin)| {
            let measure = input.measure();
            let value = match item {
                Item::Number(base) => number(measure.shown(base, system)),
                Item::Word(word) => json!(word),
            };
            let mut row = json!({"name": input.name, "value": value, "unit": measure.name(system), "from": from.word()});
            if let (Some(origin), Some(map)) = (origin, row.as_object_mut()) {
                map.insert("note".to_owned(), json!(origin.note));
                if let Some(entry) = origin.entry {
                    map.insert("entry".to_owned(), json!(entry));
                }
            }
            row
        })
        .collect();
    let steps: Vec<Value> = answer
        .steps
        .iter()
        .map(|s| {
            json!({"what": s.what, "formula": s.formula,
                   "value": number(s.measure.shown(s.base, system)), "unit": s.measure.name(system)})
        })
        .collect();
    let held: Vec<Value> = answer
        .held_against
        .iter()
        .map(|h| held_json(h, system))
        .collect();
    let also: Vec<Value> = answer.also.iter().map(|f| figure(f, system)).collect();
    json!({
        "id": inputs.sheet().id,
        "result": figure(&answer.result, system),
        "also": also,
        "inputs": given,
        "steps": steps,
        "held_against": held,
        "sources": answer.sources,
        "assumes": answer.assumes,
        "cautions": answer.cautions,
    })
}

/// The answer as people read it.
pub fn answer_lines(inputs: &Inputs, answer: &Worksheet, system: System) -> Vec<String> {
    let text = |f: &Figure| format!("{} = {}", f.name, f.measure.text(f.base, system));
    let mut lines = vec![text(&answer.result)];
    lines.extend(answer.also.iter().map(|f| format!("  {}", text(f))));
    lines.push("inputs".to_owned());
    for (input, from, item, origin) in inputs.traced() {
        let value = match item {
            Item::Number(base) => input.measure().text(base, system),
            Item::Word(word) => word.to_owned(),
        };
        let from = origin.map_or_else(
            || from.word().to_owned(),
            |origin| format!("{}, {}", from.word(), origin.note),
        );
        lines.push(format!("  {} = {value} ({from})", input.name));
    }
    if !answer.steps.is_empty() {
        lines.push("working".to_owned());
    }
    for step in &answer.steps {
        lines.push(format!(
            "  {}: {} = {}",
            step.what,
            step.formula,
            step.measure.text(step.base, system)
        ));
    }
    lines.extend(answer.held_against.iter().map(|h| held_line(h, system)));
    lines.extend(answer.sources.iter().map(|s| format!("source: {s}")));
    lines.extend(answer.assumes.iter().map(|s| format!("assumes: {s}")));
    lines.extend(answer.cautions.iter().map(|s| format!("caution: {s}")));
    lines
}

/// A limit and the side on which a figure lies, in the contract's shape.
pub fn held_json(held: &Held, system: System) -> Value {
    let value = held
        .base
        .map_or(Value::Null, |base| number(held.measure.shown(base, system)));
    json!({"limit": held.limit, "value": value, "unit": held.measure.name(system), "side": held.side.word()})
}

/// A limit and the side on which a figure lies, as people read it.
pub fn held_line(held: &Held, system: System) -> String {
    let limit = held.base.map_or_else(String::new, |b| {
        format!(" {}", held.measure.text(b, system))
    });
    format!(
        "held against {}{limit}: {}",
        held.limit,
        held.side.word().replace('_', " ")
    )
}

/// A refusal in the contract's shape.
pub fn refusal_json(refusal: &Refusal) -> Value {
    json!({"error": {
        "kind": refusal.kind(),
        "input": refusal.input(),
        "value": refusal.value(),
        "allowed": refusal.allowed(),
        "message": refusal.to_string(),
    }})
}

/// A value in words for a step's formula: six figures at most.
pub fn plain(value: f64) -> String {
    figures(value, 6)
}
