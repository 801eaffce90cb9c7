//! The contract that every worksheet keeps, whatever its subject.

use hangtime::commands::work;
use hangtime::science::registry;
use hangtime::science::worksheet::{Absent, Input, Inputs, Kind, Refusal, Sheet};
use hangtime::units::{System, num};
use proptest::prelude::*;
use serde_json::Value;

/// Runs `hangtime work` and gives exit code, standard output and standard error.
pub(crate) fn work(
    id: &str,
    pairs: &[String],
    json: bool,
    system: System,
) -> (i32, String, String) {
    let (mut out, mut err) = (Vec::new(), Vec::new());
    let code = work::run(Some(id), pairs, json, system, &mut out, &mut err).unwrap();
    (
        code,
        String::from_utf8(out).unwrap(),
        String::from_utf8(err).unwrap(),
    )
}

/// The example values of every input that has to be given, without `skip`.
fn examples(sheet: &Sheet, skip: &str) -> Vec<(String, String)> {
    sheet
        .inputs
        .iter()
        .filter(|i| i.name != skip && i.absent == Absent::Refuse)
        .map(|i| (i.name.to_owned(), i.example.to_owned()))
        .collect()
}

fn every_example(sheet: &Sheet) -> Vec<(String, String)> {
    sheet
        .inputs
        .iter()
        .map(|i| (i.name.to_owned(), i.example.to_owned()))
        .collect()
}

fn joined(pairs: &[(String, String)]) -> Vec<String> {
    pairs.iter().map(|(n, v)| format!("{n}={v}")).collect()
}

/// `text` as often as the list wants it at least.
fn listed(input: &Input, text: &str) -> String {
    match input.list {
        None => text.to_owned(),
        Some((least, _)) => format!("[{}]", vec![text; least.max(1)].join(",")),
    }
}

fn number_text(value: f64) -> String {
    // Fifteen figures are what a text of 18 digits and a float both hold.
    let whole = value.abs().max(1.0).log10().floor();
    let decimals = usize::try_from(num::whole((14.0 - whole).clamp(0.0, 12.0)).unwrap()).unwrap();
    let text = format!("{value:.decimals$}");
    if !text.contains('.') {
        return text;
    }
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}

#[test]
fn words_and_input_names_are_kebab_case_and_unique() {
    let kebab = |text: &str| {
        !text.is_empty()
            && text
                .chars()
                .all(|c| c.is_ascii_lowercase() || c.is_ascii_digit() || c == '-')
    };
    let sheets = registry::all();
    assert!(!sheets.is_empty());
    for (at, sheet) in sheets.iter().enumerate() {
        assert!(kebab(sheet.id), "{}", sheet.id);
        assert!(
            sheets.iter().skip(at + 1).all(|s| s.id != sheet.id),
            "{} twice",
            sheet.id
        );
        for (at, input) in sheet.inputs.iter().enumerate() {
            assert!(kebab(input.name), "{} {}", sheet.id, input.name);
            assert!(
                sheet
                    .inputs
                    .iter()
                    .skip(at + 1)
                    .all(|i| i.name != input.name),
                "{} {} twice",
                sheet.id,
                input.name
            );
            assert!(!input.about.is_empty() && !input.example.is_empty());
            if input.measure().metric != "1" {
                assert!(
                    input.measure().unit(System::Metric).is_some()
                        == input.measure().unit(System::Us).is_some()
                );
            }
        }
    }
}

#[test]
fn every_worksheet_computes_from_its_defaults_and_examples() {
    for sheet in registry::all() {
        for pairs in [examples(sheet, ""), every_example(sheet)] {
            let inputs = Inputs::read(sheet, &pairs, System::Metric)
                .unwrap_or_else(|e| panic!("{}: {e}", sheet.id));
            let answer = sheet
                .run(&inputs)
                .unwrap_or_else(|e| panic!("{}: {e}", sheet.id));
            assert!(answer.result.base.is_finite(), "{}", sheet.id);
            assert!(!answer.steps.is_empty(), "{} shows no working", sheet.id);
            assert!(!answer.sources.is_empty(), "{} names no source", sheet.id);
        }
    }
}

fn keys(value: &Value) -> Vec<&str> {
    value
        .as_object()
        .unwrap()
        .keys()
        .map(String::as_str)
        .collect()
}

#[test]
fn json_has_the_shape_of_the_contract() {
    for sheet in registry::all() {
        for system in [System::Metric, System::Us] {
            let (code, out, err) = work(sheet.id, &joined(&every_example(sheet)), true, system);
            assert!(code == 0 || code == 1, "{} {err}", sheet.id);
            let v: Value = serde_json::from_str(&out).unwrap();
            let mut got = keys(&v);
            got.sort_unstable();
            assert_eq!(
                got,
                [
                    "also",
                    "assumes",
                    "cautions",
                    "held_against",
                    "id",
                    "inputs",
                    "result",
                    "sources",
                    "steps"
                ]
            );
            assert_eq!(v["id"], sheet.id);
            assert!(v["result"]["value"].is_f64() && v["result"]["unit"].is_string());
            for also in v["also"].as_array().unwrap() {
                assert!(
                    also["name"].is_string() && also["value"].is_f64() && also["unit"].is_string()
                );
            }
            assert!(v["inputs"].as_array().unwrap().len() >= sheet.inputs.len());
            for input in v["inputs"].as_array().unwrap() {
                assert!(input["name"].is_string() && input["unit"].is_string());
                assert!(input["value"].is_f64() || input["value"].is_string());
                assert!(["given", "default", "ledger"].contains(&input["from"].as_str().unwrap()));
            }
            for step in v["steps"].as_array().unwrap() {
                assert!(step["what"].is_string() && step["formula"].is_string());
                assert!(step["value"].is_f64() && step["unit"].is_string());
            }
            for held in v["held_against"].as_array().unwrap() {
                assert!(held["limit"].is_string() && held["unit"].is_string());
                assert!(
                    ["under", "at", "over", "unknown", "none_entered"]
                        .contains(&held["side"].as_str().unwrap())
                );
            }
            for list in ["sources", "assumes", "cautions"] {
                assert!(v[list].as_array().unwrap().iter().all(Value::is_string));
            }
        }
    }
}

#[test]
fn the_edges_of_every_range_are_taken_and_one_step_beyond_is_refused_by_name() {
    for sheet in registry::all() {
        for input in sheet.inputs {
            let (low, high, unit, step) = match input.kind {
                Kind::Amount { measure, low, high } => {
                    (low, high, measure.metric, (high - low).abs() * 1e-6)
                }
                Kind::Count { low, high } => (num::float(low), num::float(high), "1", 1.0),
                Kind::Word(words) => {
                    for word in words {
                        let mut pairs = examples(sheet, input.name);
                        pairs.push((input.name.to_owned(), listed(input, word)));
                        assert!(
                            Inputs::read(sheet, &pairs, System::Metric).is_ok(),
                            "{} {}",
                            sheet.id,
                            input.name
                        );
                    }
                    continue;
                }
            };
            let unit = if unit == "1" { "" } else { unit };
            let read = |value: f64| {
                let mut pairs = examples(sheet, input.name);
                let text = format!("{} {unit}", number_text(value));
                pairs.push((input.name.to_owned(), listed(input, &text)));
                Inputs::read(sheet, &pairs, System::Metric).and_then(|inputs| sheet.run(&inputs))
            };
            for edge in [low, high] {
                // At an edge the formula may say that it does not hold, but the input itself is taken.
                if let Err(
                    e @ (Refusal::OutOfRange { .. }
                    | Refusal::NotRead { .. }
                    | Refusal::Missing { .. }
                    | Refusal::NoSuchInput { .. }),
                ) = read(edge)
                {
                    panic!("{} {} at {edge}: {e}", sheet.id, input.name);
                }
            }
            for beyond in [low - step, high + step] {
                match read(beyond) {
                    Err(e @ Refusal::OutOfRange { .. }) => {
                        let text = e.to_string();
                        assert!(text.contains(input.name), "{text}");
                        assert!(text.contains(&input.allowed(System::Metric)), "{text}");
                    }
                    other => panic!("{} {} at {beyond}: {other:?}", sheet.id, input.name),
                }
            }
        }
    }
}

#[test]
fn a_missing_input_is_named_with_its_fix() {
    for sheet in registry::all() {
        for input in sheet.inputs.iter().filter(|i| i.absent == Absent::Refuse) {
            let mut pairs = joined(&examples(sheet, input.name));
            if pairs.is_empty() {
                // Nothing else is needed: an optional input keeps this from being a question for the listing.
                let Some(other) = sheet.inputs.iter().find(|i| i.name != input.name) else {
                    continue;
                };
                pairs.push(format!("{}={}", other.name, other.example));
            }
            let (code, out, err) = work(sheet.id, &pairs, true, System::Metric);
            assert_eq!(code, 2, "{} without {}", sheet.id, input.name);
            assert!(err.contains(input.name), "{err}");
            assert_eq!(err.lines().count(), 1, "{err}");
            let v: Value = serde_json::from_str(&out).unwrap();
            assert_eq!(v["error"]["input"], input.name, "{out}");
        }
    }
}

#[test]
fn us_and_metric_inputs_give_the_same_answer() {
    for sheet in registry::all() {
        let metric = Inputs::read(sheet, &every_example(sheet), System::Metric).unwrap();
        // The same values, written in the US unit of the listing with twelve decimals.
        let us_pairs: Vec<(String, String)> = metric
            .all()
            .into_iter()
            .map(|(input, _, item)| {
                let text = match item {
                    hangtime::science::worksheet::Item::Word(word) => word.to_owned(),
                    hangtime::science::worksheet::Item::Number(base) => {
                        let m = input.measure();
                        let unit = m.name(System::Us);
                        format!(
                            "{} {}",
                            number_text(m.shown(base, System::Us)),
                            if unit == "1" { "" } else { unit }
                        )
                    }
                };
                (input.name.to_owned(), text)
            })
            .collect();
        let us = Inputs::read(sheet, &us_pairs, System::Us)
            .unwrap_or_else(|e| panic!("{}: {e}", sheet.id));
        let (a, b) = (sheet.run(&metric).unwrap(), sheet.run(&us).unwrap());
        let close = |x: f64, y: f64| (x - y).abs() <= 1e-8 * x.abs().max(y.abs()).max(1e-9);
        assert!(
            close(a.result.base, b.result.base),
            "{}: {} and {}",
            sheet.id,
            a.result.base,
            b.result.base
        );
        assert_eq!(a.also.len(), b.also.len());
        for (x, y) in a.also.iter().zip(&b.also) {
            assert!(
                close(x.base, y.base),
                "{} {}: {} {}",
                sheet.id,
                x.name,
                x.base,
                y.base
            );
        }
        for (x, y) in a.held_against.iter().zip(&b.held_against) {
            assert_eq!(x.side, y.side, "{} {}", sheet.id, x.limit);
        }
    }
}

#[test]
fn what_is_not_a_number_is_refused_everywhere() {
    for sheet in registry::all() {
        for input in sheet.inputs {
            for text in [
                "",
                " ",
                "NaN",
                "nan",
                "inf",
                "-inf",
                "1e3",
                "1E-3",
                "1,500",
                "1,5,5",
                "--1",
                "\u{1b}[2J",
                "[",
                "[]",
                "[,]",
            ] {
                let mut pairs = joined(&examples(sheet, input.name));
                pairs.push(format!("{}={text}", input.name));
                let (code, _, err) = work(sheet.id, &pairs, false, System::Metric);
                assert_eq!(code, 2, "{} {}={text}", sheet.id, input.name);
                assert!(err.contains(input.name), "{err}");
                assert!(!err.contains('\u{1b}'), "{err}");
            }
        }
    }
}

fn any_text() -> impl Strategy<Value = String> {
    prop_oneof![
        any::<f64>().prop_map(|v| v.to_string()),
        any::<i64>().prop_map(|v| v.to_string()),
        "[-+0-9a-zA-Z.,%\\[\\]/ µ]{0,24}",
        any::<String>(),
    ]
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 24, failure_persistence: None, ..ProptestConfig::default() })]

    /// Any text for any input gives an answer or a refusal, in finite time, and never a panic.
    #[test]
    fn no_text_makes_a_worksheet_panic(text in any_text()) {
        for sheet in registry::all() {
            for input in sheet.inputs {
                let mut pairs = joined(&examples(sheet, input.name));
                pairs.push(format!("{}={text}", input.name));
                let (code, out, _) = work(sheet.id, &pairs, true, System::Us);
                prop_assert!((0..=2).contains(&code));
                prop_assert!(serde_json::from_str::<Value>(&out).is_ok());
                prop_assert!(!out.contains("null,\"unit\"") || out.contains("none_entered"));
            }
        }
    }

    /// Any point of the declared ranges gives a finite answer or a named refusal.
    #[test]
    fn any_point_of_the_ranges_gives_a_finite_answer_or_a_named_refusal(
        shares in proptest::collection::vec(0.0_f64..=1.0, 24)
    ) {
        for sheet in registry::all() {
            let pairs: Vec<(String, String)> = sheet
                .inputs
                .iter()
                .zip(shares.iter().cycle())
                .map(|(input, share)| {
                    let text = if let Kind::Word(words) = input.kind {
                        let at = num::whole(num::count(words.len() - 1) * share).unwrap();
                        words[usize::try_from(at).unwrap()].to_owned()
                    } else {
                        let m = input.measure();
                        number_text(m.shown(input.at(*share).unwrap(), System::Metric))
                    };
                    (input.name.to_owned(), listed(input, &text))
                })
                .collect();
            let inputs = Inputs::read(sheet, &pairs, System::Metric);
            prop_assert!(inputs.is_ok(), "{} {:?}", sheet.id, inputs);
            match sheet.run(&inputs.unwrap()) {
                Ok(answer) => prop_assert!(answer.result.base.is_finite()),
                Err(refusal) => prop_assert!(!refusal.input().is_empty()),
            }
        }
    }
}

#[test]
fn the_listing_names_every_worksheet_and_every_input() {
    let (mut out, mut err) = (Vec::new(), Vec::new());
    assert_eq!(
        work::run(None, &[], false, System::Metric, &mut out, &mut err).unwrap(),
        0
    );
    let list = String::from_utf8(out).unwrap();
    for sheet in registry::all() {
        assert!(list.contains(sheet.id));
        for (json, system) in [(false, System::Metric), (true, System::Us)] {
            let (code, text, _) = work(sheet.id, &[], json, system);
            assert_eq!(code, 0);
            for input in sheet.inputs {
                assert!(text.contains(input.name), "{text}");
                assert!(text.contains(&input.allowed(system)), "{text}");
            }
        }
    }
}

#[test]
fn an_unknown_worksheet_and_an_unknown_input_are_bad_input() {
    let (code, out, err) = work("no-such-thing", &[], true, System::Metric);
    assert_eq!(code, 2);
    assert!(err.contains("no-such-thing"));
    assert!(serde_json::from_str::<Value>(&out).unwrap()["error"].is_object());
    for sheet in registry::all() {
        let (code, _, err) = work(
            sheet.id,
            &["no-such-input=1".to_owned()],
            false,
            System::Metric,
        );
        assert_eq!(code, 2);
        assert!(err.contains("no-such-input"), "{err}");
    }
}

/// A worksheet says what was found and who decides; it never clears anything.
#[test]
fn no_worksheet_speaks_a_clearance() {
    let judged = [
        "safe",
        "safely",
        "approved",
        "compliant",
        "compliance",
        "cleared",
        "clearance",
        "pass",
        "passed",
        "fail",
        "failed",
        "gate",
        "green",
        "ok",
    ];
    for sheet in registry::all() {
        let mut text = String::new();
        for json in [false, true] {
            text += &work(sheet.id, &[], json, System::Metric).1;
            text += &work(
                sheet.id,
                &joined(&every_example(sheet)),
                json,
                System::Metric,
            )
            .1;
        }
        for phrase in ["safety data sheet", "safety lead"] {
            text = text.replace(phrase, "");
        }
        for word in text.to_lowercase().split(|c: char| !c.is_alphabetic()) {
            assert!(!judged.contains(&word), "{}: {word}", sheet.id);
        }
    }
}

fn texts(pairs: &[&str]) -> Vec<String> {
    pairs.iter().map(|p| (*p).to_owned()).collect()
}

#[test]
fn a_bare_number_takes_the_unit_that_the_listing_names() {
    let value = |pairs: &[&str], system| {
        let (_, out, _) = work("dry-film", &texts(pairs), true, system);
        let v: Value = serde_json::from_str(&out).unwrap();
        (
            v["result"]["value"].as_f64().unwrap(),
            v["result"]["unit"].as_str().unwrap().to_owned(),
        )
    };
    assert_eq!(
        value(&["wet=100", "solids=17"], System::Metric),
        (17.0, "um".to_owned())
    );
    assert_eq!(
        value(&["wet=4", "solids=17"], System::Us),
        (0.68, "mil".to_owned())
    );
    assert_eq!(
        value(&["wet=4mil", "solids=0.17fraction"], System::Metric),
        (17.272, "um".to_owned())
    );
}

#[test]
fn a_list_repeats_its_name_or_stands_in_brackets() {
    let answer = |pairs: &[&str]| {
        let (code, out, err) = work("film-after-sanding", &texts(pairs), true, System::Metric);
        assert_eq!(code, 0, "{err}");
        let v: Value = serde_json::from_str(&out).unwrap();
        v["result"]["value"].as_f64().unwrap()
    };
    assert_eq!(answer(&["film=110", "removed=12", "removed=6um"]), 92.0);
    assert_eq!(answer(&["film=110", "removed=[12, 6 um]"]), 92.0);
    let (code, _, err) = work(
        "film-after-sanding",
        &texts(&["film=110", "film=100", "removed=1"]),
        false,
        System::Metric,
    );
    assert_eq!((code, err.contains("film")), (2, true), "{err}");
}

#[test]
fn a_figure_beyond_its_limit_answers_with_code_one() {
    let run = |floor: &str| {
        let (code, out, _) = work(
            "film-after-sanding",
            &texts(&["film=110um", "removed=12um", floor]),
            true,
            System::Metric,
        );
        let v: Value = serde_json::from_str(&out).unwrap();
        (
            code,
            v["held_against"][0]["side"].as_str().unwrap().to_owned(),
        )
    };
    assert_eq!(run("floor=40um"), (0, "over".to_owned()));
    assert_eq!(run("floor=100um"), (1, "under".to_owned()));
    let (code, out, _) = work(
        "film-after-sanding",
        &texts(&["film=110um", "removed=12um"]),
        true,
        System::Metric,
    );
    assert!(out.contains("none_entered") && code == 0);
}

#[test]
fn the_ledger_fills_what_nobody_gave_and_keeps_to_the_ranges() {
    let sheet = registry::find("film-from-volume").unwrap();
    let mut inputs = Inputs::read(
        sheet,
        &[("volume", "100 mL"), ("area", "0.5 m2"), ("solids", "17 %")],
        System::Metric,
    )
    .unwrap();
    assert!(matches!(sheet.run(&inputs), Err(Refusal::Missing { .. })));
    assert!(matches!(
        inputs.fill("transfer", &[1.5]),
        Err(Refusal::OutOfRange { .. })
    ));
    inputs.fill("transfer", &[0.35]).unwrap();
    inputs.fill("area", &[9.0]).unwrap();
    let answer = sheet.run(&inputs).unwrap();
    // 100 mL x 0.35 / 0.5 m2 = 70 um: the given area stayed.
    assert!((answer.result.base - 70e-6).abs() < 1e-12);
    let from = |name: &str| {
        inputs
            .all()
            .iter()
            .find(|(i, _, _)| i.name == name)
            .unwrap()
            .1
            .word()
    };
    assert_eq!(
        (from("transfer"), from("area"), from("added")),
        ("ledger", "given", "default")
    );
}
