//! Racks: whole, with exceptions, in part, and held up by one piece.

use crate::world::{PER_BODY_ML, World, holds, rules, tenths, texts};
use serde_json::{Value, json};

fn amount(bodies: u32) -> String {
    format!("{}mL", bodies * PER_BODY_ML)
}

fn hooks(list: &Value) -> Vec<u64> {
    list.as_array()
        .unwrap()
        .iter()
        .map(|p| p["hook"].as_u64().unwrap())
        .collect()
}

fn rack_of<'v>(ready: &'v Value, rack: &str) -> &'v Value {
    ready["racks"]
        .as_array()
        .unwrap()
        .iter()
        .find(|r| r["rack"] == rack)
        .unwrap_or_else(|| panic!("no rack {rack} in {ready}"))
}

#[test]
fn s04_the_interval_of_a_rack_runs_from_the_end_of_its_coat() {
    let world = World::new();
    world.rack("2026-03-06 07:00", "R12", 201, 24);
    world.bring_to("--rack R12", 2, "2026-03-10 07:00", "");
    let saved = world.at("2026-03-10 09:14").json(&format!(
        "coat --rack R12 --began 09:00 --mix 1 --amount {}",
        amount(24)
    ));
    assert_eq!(saved["deviations"], json!([]));
    assert_eq!(saved["pieces"].as_array().unwrap().len(), 24);
    // 24 x 48 mL = 1.152 L of M1.
    assert_eq!(tenths(&saved["solvent"]["voc_mg"]), 6_617);
    for piece in world
        .at("2026-03-10 09:15")
        .json("floor")
        .as_array()
        .unwrap()
    {
        assert_eq!(piece["last_wet"], "2026-03-10T09:14:00.000-04:00");
    }
    let plan = world
        .at("2026-03-10 10:31")
        .json("coat --rack R12 --kind clear --preview");
    let interval = plan["pieces"][0]["objections"]
        .as_array()
        .unwrap()
        .iter()
        .find(|o| o["rule"] == "interval")
        .unwrap();
    assert_eq!(interval["until"], "2026-03-10T10:44:00.000-04:00");
}

#[test]
fn s05_a_rack_with_exceptions_is_saved_without_them_and_lists_them_by_hook() {
    let world = World::new();
    world.rack("2026-03-06 07:00", "R12", 201, 24);
    world.bring_to("--rack R12", 1, "2026-03-10 07:00", "");
    world
        .at("2026-03-10 08:05")
        .run("coat B-0205 --touch-up --kind clear")
        .good();
    world
        .at("2026-03-10 08:30")
        .run("hold B-0209 --why 'dent in the top'")
        .good();

    let plan = world
        .at("2026-03-10 09:00")
        .json("coat --rack R12 --preview");
    let out: Vec<&Value> = plan["pieces"]
        .as_array()
        .unwrap()
        .iter()
        .filter(|p| p["taken"] == false)
        .collect();
    assert_eq!(out.len(), 2);
    assert_eq!(rules(&out[0]["objections"]), ["interval"]);
    assert_eq!(rules(&out[1]["objections"]), ["held"]);

    let saved = world
        .at("2026-03-10 09:00")
        .json("coat --rack R12 --mix 1 --amount 1.10L");
    assert_eq!(saved["pieces"].as_array().unwrap().len(), 22);
    assert_eq!(texts(&saved["left_out"], "serial"), ["B-0205", "B-0209"]);
    assert_eq!(hooks(&saved["left_out"]), [5, 9]);
    holds(
        saved["left_out"][0]["why"].as_str().unwrap(),
        &["35 min left"],
    );
    holds(
        saved["left_out"][1]["why"].as_str().unwrap(),
        &["dent in the top"],
    );
    // 1.10 L x 574.4 g/L = 631.9 g. Each piece's share is kept in whole milligrams of each substance of each lot, so
    // the sum of 22 equal shares of 28.719 g lies 35 mg below it.
    let voc = saved["solvent"]["voc_mg"].as_i64().unwrap();
    assert_eq!(voc, 22 * 28_719);
    assert!((voc - 631_900).abs() <= 100, "{voc}");

    // One action of 22 entries, 50 mL each.
    let action = world
        .at("2026-03-10 09:01")
        .json(&format!("action {}", saved["action"]));
    let entries = action["entries"].as_array().unwrap();
    assert_eq!(entries.len(), 22);
    assert!(
        entries
            .iter()
            .all(|e| e["what"].as_str().unwrap().contains("50.0 mL")),
        "{entries:?}"
    );
    assert_eq!(action["solvent"], saved["solvent"]);
    assert_eq!(world.clears("2026-03-10 09:01", "B-0205"), 1);
    assert_eq!(world.clears("2026-03-10 09:01", "B-0204"), 2);
}

#[test]
fn s05_one_word_takes_the_exceptions_along_as_deviations() {
    let world = World::new();
    world.rack("2026-03-06 07:00", "R12", 201, 24);
    world.bring_to("--rack R12", 1, "2026-03-10 07:00", "");
    // The touched-up one hangs on the first hook: the rack's coat is still no double of an earlier one.
    world
        .at("2026-03-10 08:05")
        .run("coat B-0201 --touch-up --kind clear")
        .good();
    world
        .at("2026-03-10 08:30")
        .run("hold B-0209 --why 'dent in the top'")
        .good();
    let saved = world
        .at("2026-03-10 09:00")
        .json("coat --rack R12 --include all --mix 1 --amount 1.152L");
    assert_eq!(saved["saved"], true, "{saved}");
    assert_eq!(saved["pieces"].as_array().unwrap().len(), 24);
    assert_eq!(saved["left_out"], json!([]));
    let mut found: Vec<(&str, &str)> = texts(&saved["deviations"], "piece")
        .into_iter()
        .zip(rules(&saved["deviations"]))
        .collect();
    found.sort_unstable();
    assert_eq!(found, [("B-0201", "interval"), ("B-0209", "held")]);
}

#[test]
fn s07_half_a_rack_is_logged_by_hooks_and_the_rack_is_mixed() {
    let world = World::new();
    world.rack("2026-03-05 07:00", "R12", 201, 24);
    world.bring_to("--rack R12", 4, "2026-03-10 12:20", "");
    let saved = world
        .at("2026-03-10 14:05")
        .json("coat --rack R12 --hooks 1-17 --coat 5");
    assert_eq!(hooks(&saved["pieces"]), (1..=17).collect::<Vec<u64>>());
    assert_eq!(saved["deviations"], json!([]));
    let floor = world.at("2026-03-10 14:06").json("floor");
    let at = |coats: u64| {
        floor
            .as_array()
            .unwrap()
            .iter()
            .filter(|p| p["clear_coats"] == coats)
            .count()
    };
    assert_eq!((at(5), at(4)), (17, 7));
    let ready = world.at("2026-03-10 14:06").json("ready --for clear");
    assert_eq!(rack_of(&ready, "R12")["mixed"], "mixed: 17 at 5, 7 at 4");
    let said = world
        .at("2026-03-10 14:06")
        .run("ready --for clear")
        .good()
        .out;
    holds(&said, &["R12", "mixed: 17 at 5, 7 at 4"]);
}

#[test]
fn s20_a_wrong_rack_is_undone_in_one_action_and_both_stay_in_the_record() {
    let world = World::new();
    world.rack("2026-03-05 07:00", "R12", 201, 24);
    world.rack("2026-03-05 07:00", "R13", 301, 24);
    world.bring_to("--rack R12", 2, "2026-03-10 07:00", "");
    world.bring_to("--rack R13", 2, "2026-03-10 07:00", "");
    let before = world.now().json("month 2026-03");

    let wrong = world
        .at("2026-03-10 09:00:00")
        .json(&format!("coat --rack R13 --mix 1 --amount {}", amount(24)));
    assert_eq!(wrong["pieces"].as_array().unwrap().len(), 24);
    let ready = world.at("2026-03-10 09:00:02").json("ready");
    assert_eq!(
        rack_of(&ready, "R13")["pieces"].as_array().unwrap().len(),
        24
    );

    let undone = world.at("2026-03-10 09:00:03").json("undo");
    assert_eq!(undone["taken_back"].as_array().unwrap().len(), 24);
    let ready = world.at("2026-03-10 09:00:04").json("ready");
    assert_eq!(ready["racks"], json!([]));
    assert_eq!(world.now().json("month 2026-03"), before);

    // Both actions stay: 24 entries that no longer count, 24 that say so.
    let first = world.now().json(&format!("action {}", wrong["action"]));
    assert_eq!(first["entries"].as_array().unwrap().len(), 24);
    assert!(
        first["entries"]
            .as_array()
            .unwrap()
            .iter()
            .all(|e| e["taken_back_by"].is_i64())
    );
    let second = world.now().json(&format!("action {}", undone["action"]));
    assert_eq!(second["deed"], "undo");
    let entries = second["entries"].as_array().unwrap();
    assert_eq!(entries.len(), 24);
    assert!(entries.iter().all(|e| e["corrects"].is_i64()));

    // The right rack goes on, and a second undo takes that, not the undoing.
    world.at("2026-03-10 09:01").run("coat --rack R12").good();
    let undone = world.at("2026-03-10 09:02").json("undo");
    assert!(
        undone["taken_back"]
            .as_array()
            .unwrap()
            .iter()
            .all(|e| { e["piece"].as_str().unwrap().starts_with("B-02") })
    );
    assert_eq!(world.now().run("verify").code, 0);
}

#[test]
fn s20_an_undo_lists_what_others_built_on_it() {
    let world = World::new();
    world.rack("2026-03-05 07:00", "R12", 201, 3);
    world.bring_to("--rack R12", 2, "2026-03-10 07:00", "");
    world.at("2026-03-10 09:00").run("coat --rack R12").good();
    let built = world
        .at("2026-03-10 21:30")
        .person("DV")
        .station("sand-1")
        .json("sand B-0202");
    let entry =
        world.now().json(&format!("action {}", built["action"]))["entries"][0]["entry"].clone();
    let said = world.at("2026-03-10 21:40").run("undo").refused(2);
    holds(&said, &[&format!("entries {entry};"), "--anyway"]);
    let undone = world.at("2026-03-10 21:41").json("undo --anyway");
    assert_eq!(undone["taken_back"].as_array().unwrap().len(), 3);
    assert_eq!(world.now().run("verify").code, 0);
}

#[test]
fn s38_a_touch_up_blocks_the_rack_until_the_piece_hangs_elsewhere() {
    let world = World::new();
    world.rack("2026-03-05 07:00", "R20", 714, 24);
    world.bring_to("--rack R20", 3, "2026-03-09 21:10", "");
    world
        .at("2026-03-09 23:00")
        .run("coat B-0733 --touch-up --kind clear")
        .good();

    let ready = world.at("2026-03-09 23:05").json("ready");
    let rack = rack_of(&ready, "R20");
    assert_eq!(rack["ready_at"], "2026-03-10T11:00:00.000-04:00");
    assert_eq!(rack["blocked_by"], "B-0733");
    assert_eq!(rack["without_it"]["pieces"], 23);
    assert_eq!(
        rack["without_it"]["ready_at"],
        "2026-03-10T09:10:00.000-04:00"
    );
    holds(
        rack["line"].as_str().unwrap(),
        &[
            "R20 from Tue 11:00",
            "23 of 24 from Tue 09:10",
            "blocked by B-0733",
        ],
    );

    world
        .at("2026-03-09 23:10")
        .run("move B-0733 --to-rack R21 --hook 1")
        .good();
    let ready = world.at("2026-03-10 09:10").json("ready");
    let rack = rack_of(&ready, "R20");
    assert_eq!(rack["ready_at"], "2026-03-10T09:10:00.000-04:00");
    assert_eq!(rack["ready_now"], 23);
    assert_eq!(rack["pieces"].as_array().unwrap().len(), 23);
    assert_eq!(ready["ready_now"].as_array().unwrap().len(), 23);
    assert_eq!(rack["blocked_by"], Value::Null);
    assert_eq!(
        rack_of(&ready, "R21")["ready_at"],
        "2026-03-10T11:00:00.000-04:00"
    );

    // Seen from before the split, it was still one rack of 24.
    let before = world.at("2026-03-09 23:05").json("ready");
    assert_eq!(
        rack_of(&before, "R20")["pieces"].as_array().unwrap().len(),
        24
    );
}

#[test]
fn s43_a_scrapped_body_leaves_the_queues_and_stays_in_the_solvent_book() {
    let world = World::new();
    world.piece(
        "2026-03-05 07:00",
        "B-0610",
        "G9",
        "--pair N-0610 --tag T-88",
    );
    world.piece("2026-03-05 07:00", "N-0610", "N8", "--pair B-0610");
    world.bring_to("B-0610", 6, "2026-03-17 09:00", "--mix 1 --amount 48mL");
    let month = world.now().json("month 2026-03");
    // Six clear coats of 27.57 g each.
    assert_eq!(tenths(&month["totals"]["voc_mg"]), 1_654);
    assert_eq!(world.now().json("unpaired"), json!([]));

    world
        .at("2026-03-17 10:00")
        .run("scrap B-0610 --why 'crack through the top'")
        .good();
    assert_eq!(world.now().json("month 2026-03"), month);
    let floor = world.now().json("floor");
    assert_eq!(texts(&floor, "serial"), ["N-0610"]);
    let ready = world
        .at("2026-03-19 10:00")
        .json("ready --for level-sand --for clear --for seal");
    assert!(!ready.to_string().contains("B-0610"), "{ready}");
    let unpaired = world.now().json("unpaired");
    assert_eq!(texts(&unpaired, "serial"), ["N-0610"]);
    holds(
        unpaired[0]["why"].as_str().unwrap(),
        &["crack through the top"],
    );

    // Neither its serial nor its tag comes back on another piece, in either column.
    for again in ["B-0610", "B-0611 --tag T-88", "B-0611 --tag B-0610", "T-88"] {
        let said = world
            .at("2026-03-17 11:00")
            .run(&format!(
                "piece add {again} --kind body --model Arden --recipe G9 --area 0.4m2"
            ))
            .refused(2);
        holds(&said, &["ever used twice"]);
    }
    let list = world.file(
        "twice.csv",
        "serial,kind,model,recipe,area,tag\nB-0620,body,Arden,G9,0.4 m2,T-90\nB-0621,body,Arden,G9,0.4 m2,T-90\n",
    );
    let said = world
        .at("2026-03-17 11:00")
        .run(&format!("piece import '{}'", list.display()))
        .refused(2);
    holds(&said, &["twice.csv:3", "T-90"]);

    // It comes back with a reason, and with it the pair.
    let said = world
        .at("2026-03-17 11:30")
        .run("restore N-0610 --why 'was never scrapped'")
        .refused(2);
    holds(&said, &["N-0610 is not scrapped"]);
    world
        .at("2026-03-17 11:40")
        .run("restore B-0610 --why 'crack can be glued'")
        .good();
    assert_eq!(world.now().json("unpaired"), json!([]));
    assert_eq!(
        texts(&world.now().json("floor"), "serial"),
        ["B-0610", "N-0610"]
    );
    assert_eq!(world.now().run("verify").code, 0);
}

#[test]
fn a_rack_in_cure_is_not_sprayed_by_one_word_and_one_that_is_only_too_early_is() {
    let world = World::new();
    world.rack("2026-03-06 07:00", "R12", 201, 3);
    world.bring_to("--rack R12", 9, "2026-03-12 12:00", "");
    let desk = world.at("2026-03-13 12:00");
    let plan = desk.json("coat --rack R12 --mix 1 --preview");
    assert_eq!(
        plan["line"],
        "Rack R12 - clear coat 10 - none of 3 pieces - ended 12:00 - mix 1"
    );
    for piece in plan["pieces"].as_array().unwrap() {
        assert_eq!(piece["taken"], false);
        holds(
            piece["objections"][0]["text"].as_str().unwrap(),
            &["is in cure. A coat restarts its cure"],
        );
    }
    let said = desk.run("coat --rack R12 --mix 1 --preview").good().out;
    holds(&said, &["would save nothing: Rack R12"]);
    let said = desk.run("coat --rack R12 --mix 1").refused(2);
    holds(&said, &["B-0201 is in cure", "--include"]);
    assert_eq!(world.clears("2026-03-13 12:01", "B-0201"), 9);
    // Said to be meant, it is recorded and marked.
    let saved = desk.json("coat --rack R12 --mix 1 --include all");
    assert_eq!(saved["pieces"].as_array().unwrap().len(), 3);
    assert!(rules(&saved["deviations"]).contains(&"extra-coat"));

    // So is a coat of a kind that all of them have in full: most likely the wrong rack.
    world.rack("2026-03-06 07:05", "R14", 401, 3);
    world.bring_to("--rack R14", 1, "2026-03-12 09:00", "");
    let late = world.at("2026-03-13 12:10");
    let said = late.run("coat --rack R14 --kind seal --preview").good().out;
    holds(
        &said,
        &[
            "would save nothing: Rack R14",
            "all seal coats are done on all 3 pieces of rack R14: this is one more than the recipe has",
        ],
    );
    let said = late.run("coat --rack R14 --kind seal").refused(2);
    holds(&said, &["all 2 seal coats of", "--include"]);
    let saved = late.json("coat --rack R14 --kind seal --include all");
    assert_eq!(saved["pieces"].as_array().unwrap().len(), 3);
    assert!(rules(&saved["deviations"]).contains(&"extra-coat"));

    // Nor is it sanded or buffed out of its cure by one word.
    let said = desk.run("sand --rack R12 --grit P800 --preview").good().out;
    holds(
        &said,
        &["would save nothing: Rack R12 - final sand", "cure"],
    );
    desk.run("buff --rack R12").refused(2);

    // A little too early as a whole is a deed of the rack (S02): recorded, each with its deviation.
    world.rack("2026-03-06 07:10", "R13", 301, 3);
    world.bring_to("--rack R13", 1, "2026-03-12 09:00", "");
    let saved = world
        .at("2026-03-12 10:10")
        .json("coat --rack R13 --mix 1 --another");
    assert_eq!(saved["pieces"].as_array().unwrap().len(), 3);
    assert_eq!(rules(&saved["deviations"]), ["interval"; 3]);
    // With less than half of its wait over it is left out (11 of 12 h are missing), and so is what skips a step.
    let sanded = "sand --rack R13 --kind level-sand --preview";
    let said = world.at("2026-03-12 11:10").run(sanded).good().out;
    holds(&said, &["would save nothing: Rack R13 - level sand 1"]);
    // The wrong cup leaves the rack out, too.
    world
        .at("2026-03-12 10:20")
        .run("lot receive S-1 SLR 20L")
        .good();
    let said = world
        .at("2026-03-12 12:00")
        .run("coat --rack R13 --lot S-1")
        .refused(2);
    holds(&said, &["the cup holds sealer, clear set 1 wants lacquer"]);
}

#[test]
fn a_taken_hook_is_refused_with_who_hangs_there() {
    let world = World::new();
    world.rack("2026-03-06 07:00", "R12", 201, 2);
    let desk = world.at("2026-03-06 08:00");
    let add = "piece add B-0900 --kind body --model Arden --recipe G9 --area 0.40m2 --rack R12";
    let said = desk.run(&format!("{add} --hook 2")).refused(2);
    holds(&said, &["hook 2 of rack R12 has B-0202"]);
    let file = world.file(
        "more.csv",
        "serial,kind,model,recipe,area,rack,hook,room\nB-0901,body,Arden,G9,0.40 m2,R12,3,booth 1\nB-0902,body,Arden,G9,0.40 m2,R12,1,booth 1\n",
    );
    let said = desk
        .run(&format!("piece import '{}'", file.display()))
        .refused(2);
    holds(&said, &["hook 1 of rack R12 has B-0201"]);
    // A hook that was left is free again; so is one from which a piece was moved away.
    desk.run("move B-0202 --hook 7").good();
    world
        .at("2026-03-06 08:01")
        .run(&format!("{add} --hook 2"))
        .good();
    let said = world
        .at("2026-03-06 08:02")
        .run("move B-0900 --hook 7")
        .refused(2);
    holds(&said, &["hook 7 has B-0202"]);
}

#[test]
fn a_rack_that_never_was_is_called_new_in_the_line_to_be_saved() {
    let world = World::new();
    world.rack("2026-03-06 07:00", "R12", 201, 2);
    let desk = world.at("2026-03-06 08:00");
    let line = |words: &str| {
        let plan = desk.json(&format!("move {words} --preview"));
        plan["line"].as_str().unwrap().to_owned()
    };
    holds(&line("B-0201 --to-rack R21"), &["moved to new rack R21"]);
    desk.run("move B-0201 --to-rack R21 --hook 1").good();
    let again = line("B-0202 --to-rack R21");
    holds(&again, &["moved to rack R21"]);
}

#[test]
fn a_rack_is_found_without_its_capitals_where_only_one_is_called_so_and_a_date_with_points_is_taken()
 {
    let world = World::new();
    world.rack("2026-03-06 07:00", "R12", 201, 2);
    let desk = world.at("2026-03-06 08:00");
    let done = desk.json("receive --rack r12 --grit P220");
    assert_eq!(done["pieces"].as_array().unwrap().len(), 2);
    holds(&done["line"].to_string(), &["Rack R12"]);
    holds(&desk.run("rack show r12").good().out, &["R12"]);
    // What is hung on "r12" hangs on R12, and not on a second rack beside it.
    world.piece("2026-03-06 08:10", "B-0299", "G9", "--due 17.04.2026");
    let desk = world.at("2026-03-06 08:15");
    desk.run("move B-0299 --to-rack r12 --hook 9").good();
    let card = desk.json("piece show B-0299");
    assert_eq!(
        (&card["rack"], &card["due"]),
        (&json!("R12"), &json!("2026-04-17"))
    );
    let said = desk
        .run(
            "piece add B-0298 --kind body --model Arden --recipe G9 --area 0.40m2 --due 04/05/2026",
        )
        .refused(2);
    holds(
        &said,
        &["due \"04/05/2026\"", "the day or the month may stand first"],
    );
    // Where two differ by capitals alone, the name as it is written counts.
    world.piece("2026-03-06 08:20", "B-0297", "G9", "--rack r13");
    world.piece("2026-03-06 08:20", "B-0296", "G9", "--rack R13");
    let one = world
        .at("2026-03-06 08:30")
        .json("hold --rack r13 --why look");
    assert_eq!(one["pieces"].as_array().unwrap().len(), 1);
}

#[test]
fn names_that_people_type_are_known_whatever_their_capitals() {
    let world = World::new();
    world.rack("2026-03-06 07:00", "R12", 201, 3);
    let desk = world.at("2026-03-06 08:00");
    desk.run("room declare 'cure room' --every 15m").good();
    desk.run("station set 'booth 1' --for clear --people 1 --takes 9min --per piece --source log")
        .good();
    for (line, wanted) in [
        ("rack show r12", "R12"),
        ("forms forms.html --rack r12", "form F"),
        ("tags tags.html --rack r12", "4"),
        ("receive --rack r12 --preview", "R12"),
        ("reading 'Cure Room' 21.3C 45%", "cure room"),
        ("move B-0201 --room CURE-ROOM --preview", "cure room"),
        ("booth check 'Cure Room' --note seen", "cure room"),
        ("material show clr", "CLR"),
        ("cautions clr", "CLR"),
        ("lot receive L-900 clr 20L", "CLR"),
        ("stock count clr 18L", "clr"),
        (
            "plan if --booth-down 'BOOTH-1:2026-03-07' --days 3",
            "booth 1 down",
        ),
        (
            "plan if --heat-off 'CURE ROOM:2026-03-07' --days 3",
            "cure room",
        ),
    ] {
        let said = desk.run(line).good().out;
        holds(&said, &[wanted]);
    }
    assert_eq!(
        world.count("SELECT count(DISTINCT code) FROM material WHERE code <> upper(code)"),
        0
    );
    // Where two differ in their capitals alone, neither is guessed.
    world.rack("2026-03-06 09:00", "Ra", 301, 1);
    world.rack("2026-03-06 09:00", "rA", 302, 1);
    let later = world.at("2026-03-06 10:00");
    holds(&later.run("rack show RA").refused(2), &["Ra", "rA"]);
    later.run("rack show rA").good();
}
