//! The forecast held against what then happened in the season, and the figures of the guide against that.

use super::*;

#[test]
fn the_guide_says_how_the_seasons_plans_held() {
    let output = bin(&[
        "--ledger",
        ledger().to_str().unwrap(),
        "--at",
        NOW,
        "plan",
        "score",
        "--from",
        "2026-03-02",
        "--hours",
        "06:15-17:30",
    ]);
    assert_eq!(output.status.code(), Some(0), "{}", said(&output));
    let text = String::from_utf8(output.stdout).unwrap();
    println!("{text}");
    let guide = Path::new(env!("CARGO_MANIFEST_DIR")).join("DEVELOPERS.md");
    let guide = std::fs::read_to_string(guide).unwrap();
    let rows: Vec<&str> = text.lines().filter(|l| l.starts_with("  ")).collect();
    assert_eq!(rows.len(), 6, "{text}");
    for row in rows {
        assert!(guide.contains(row), "the guide does not hold: {row}");
    }
}

#[test]
fn a_plan_of_the_sample_is_the_same_twice_and_never_before_its_recipe_allows() {
    let question = ["plan", "--plays", "20", "--hours", "06:15-17:30"];
    let (one, two) = (asked(NOW, &question), asked(NOW, &question));
    assert_eq!(one.status.code(), Some(0), "{}", said(&one));
    assert_eq!(one.stdout, two.stdout);
    let plan = answer(NOW, &question);
    let steps = plan["steps"].as_array().unwrap();
    assert!(steps.len() > 40, "{}", steps.len());
    let mut spread = 0;
    for step in steps {
        let at = |key: &str| chrono::DateTime::parse_from_rfc3339(text(step, key)).ok();
        assert!(at("begins").unwrap() >= plan_start(), "{step}");
        if let (Some(half), Some(nine)) = (at("p50"), at("p90")) {
            assert!(half <= nine, "{step}");
            spread += 1;
        }
    }
    // What follows on a sanding has none: the season has fewer than ten, as two people share a rack.
    assert!(spread > 5, "{spread}");
    // Without a draw it is the plan by the stated figures, and says that it has no spread.
    let stated = answer(NOW, &["plan", "--plays", "0", "--hours", "06:15-17:30"]);
    assert!(
        stated["steps"]
            .as_array()
            .unwrap()
            .iter()
            .all(|s| s["p90"].is_null())
    );
    assert_eq!(stated["steps"].as_array().unwrap().len(), steps.len());
    assert!(text(&stated["basis"], "hours").contains("06:15"));
}

fn plan_start() -> chrono::DateTime<chrono::FixedOffset> {
    chrono::DateTime::parse_from_rfc3339(NOW).unwrap()
}
