//! The command line inside the program: what is typed after `:`, its words, its completion and its history.
//!
//! *Invariants*: nothing goes through a shell; a PIN is neither drawn nor kept in the history.
//!
//! *Not here*: running a command (`errand`), what the commands are (they are given as [`Names`]).

use super::model::{Model, Note, Page};
use super::msg::Effect;
use super::view;
use crate::shop::text::{open_words, shown, words};
use crate::units::Moment;

/// Longest line that is taken.
pub const LONGEST: usize = 400;

/// Most lines of the history.
const REMEMBERED: usize = 100;

/// An option of a command.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Choice {
    /// Its name with both dashes.
    pub name: String,
    /// Whether a value follows it.
    pub takes: bool,
}

/// A command with those below it.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Names {
    /// Its name.
    pub name: String,
    /// What it does, in one line.
    pub about: String,
    /// Its options.
    pub options: Vec<Choice>,
    /// The commands below it.
    pub under: Vec<Self>,
}

impl Names {
    /// No command at all.
    pub const fn none() -> Self {
        Self {
            name: String::new(),
            about: String::new(),
            options: Vec::new(),
            under: Vec::new(),
        }
    }

    fn takes(&self, option: &str) -> bool {
        self.options.iter().any(|o| o.name == option && o.takes)
    }

    // The command that some words name, and whether the next word is an option's value.
    fn reached(&self, words: &[String]) -> (&Self, bool) {
        let mut here = self;
        let mut value = false;
        for word in words {
            if std::mem::take(&mut value) {
                continue;
            }
            if word.starts_with('-') {
                value = here.takes(word);
            } else if let Some(next) = here.under.iter().find(|n| n.name == *word) {
                here = next;
            }
        }
        (here, value)
    }
}

/// What the command line knows in this run.
#[derive(Debug, Clone, Default)]
pub struct Known {
    /// The program's commands.
    pub names: Names,
    /// Lines that were run, the oldest first.
    pub history: Vec<String>,
}

impl Known {
    /// Before anything was typed.
    pub const fn new() -> Self {
        Self {
            names: Names::none(),
            history: Vec::new(),
        }
    }
}

/// The line as it is being typed.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Prompt {
    /// What was typed.
    pub typed: String,
    /// Line of the history that is shown.
    pub back: Option<usize>,
    /// What was typed before the history was looked through.
    pub kept: String,
}

/// How a command ended.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum End {
    /// By itself, with this exit code.
    Code(i32),
    /// By a signal.
    Signal,
    /// The person stopped it.
    Stopped,
    /// It took longer than it may.
    TimedOut {
        /// The minutes that it had.
        minutes: u64,
    },
    /// It was not started.
    NotStarted(String),
}

/// What came of a command.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Ran {
    /// Its answer.
    pub out: String,
    /// What it said beside it.
    pub err: String,
    /// How it ended.
    pub end: End,
}

/// The page of a command.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Output {
    /// The command as it may be shown.
    pub line: String,
    /// Since when it runs, or ran.
    pub since: Moment,
    /// What came of it; `None` while it runs.
    pub ran: Option<Ran>,
    /// First line shown.
    pub scroll: usize,
}

/// A command to be run.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Errand {
    /// Its words.
    pub words: Vec<String>,
    /// The PIN in it, which is not put among the words.
    pub pin: Option<String>,
}

// Places of the words in a text, as `words` parts them; an open quote reaches to the end.
fn secrets(text: &str) -> Vec<(usize, usize)> {
    let parts = open_words(text);
    let is = |at: usize, what: &str| parts.get(at).is_some_and(|p| p.text == what);
    // `person pin INITIALS --to PIN` names the PIN that is to be.
    let names_one = parts
        .iter()
        .position(|p| p.text == "person")
        .is_some_and(|at| is(at + 1, "pin"));
    let mut out = Vec::new();
    for (at, part) in parts.iter().enumerate() {
        for option in ["--pin", "--to"] {
            if option == "--to" && !names_one {
                continue;
            }
            if part.text == option {
                out.extend(parts.get(at + 1).map(|p| (p.from, p.to)));
            } else if part.text.starts_with(&format!("{option}=")) {
                out.push((part.from + option.chars().count() + 1, part.to));
            }
        }
    }
    out
}

/// A line as it may be drawn: what follows `--pin` is masked.
pub fn masked(text: &str) -> String {
    let hidden = secrets(text);
    text.chars()
        .enumerate()
        .map(|(at, c)| {
            if hidden.iter().any(|(from, to)| (*from..*to).contains(&at)) {
                '*'
            } else {
                c
            }
        })
        .collect()
}

// A line as it is remembered: without a PIN, and with the place for it at the end.
fn remembered(text: &str) -> String {
    let hidden = secrets(text);
    if hidden.is_empty() {
        return text.trim().to_owned();
    }
    let bare: String = text
        .chars()
        .enumerate()
        .filter(|(at, _)| !hidden.iter().any(|(from, to)| (*from..*to).contains(at)))
        .map(|(_, c)| c)
        .collect();
    let left: Vec<&str> = bare
        .split_whitespace()
        .filter(|w| !matches!(*w, "--pin" | "--pin="))
        .collect();
    format!("{} --pin ", left.join(" "))
}

/// The errand of a line, or why it is not run.
pub fn errand(text: &str, names: &Names) -> Result<Errand, String> {
    let mut words = words(text)?;
    if words.first().is_some_and(|w| w == "hangtime") {
        words.remove(0);
    }
    if words.is_empty() {
        return Err("nothing was typed; type a command, or Tab for a list of them".to_owned());
    }
    let mut pin = None;
    let mut bare = Vec::with_capacity(words.len());
    let mut rest = words.into_iter();
    while let Some(word) = rest.next() {
        if word == "--" {
            bare.push(word);
            bare.extend(rest.by_ref());
        } else if word == "--pin" {
            pin = Some(
                rest.next()
                    .ok_or("no PIN follows --pin; type it there, it is not shown")?,
            );
        } else if let Some(value) = word.strip_prefix("--pin=") {
            pin = Some(value.to_owned());
        } else {
            bare.push(word);
        }
    }
    if opens_screens(&bare, names) {
        return Err(
            "that would open the screens again, and they are open; g goes to another place"
                .to_owned(),
        );
    }
    Ok(Errand { words: bare, pin })
}

// Whether the screens would open: no command but options, or the command that opens them.
fn opens_screens(words: &[String], names: &Names) -> bool {
    let mut value = false;
    for word in words {
        if std::mem::take(&mut value) {
            continue;
        }
        if matches!(word.as_str(), "--help" | "-h" | "--version" | "-V") {
            return false;
        }
        if word.starts_with('-') {
            value = names.takes(word);
        } else {
            return word == "screen";
        }
    }
    true
}

/// Completes the word that is being typed; the answer is the new line, and what could stand there.
pub fn completed(text: &str, names: &Names) -> (String, Vec<String>) {
    let parts = open_words(text);
    let fresh = text.is_empty() || text.ends_with(char::is_whitespace);
    let before: Vec<String> = parts
        .iter()
        .take(parts.len() - usize::from(!fresh && !parts.is_empty()))
        .map(|p| p.text.clone())
        .collect();
    let begun = if fresh { None } else { parts.last() };
    let partial = begun.map_or("", |p| p.text.as_str());
    let before = match before.split_first() {
        Some((first, rest)) if first == "hangtime" => rest.to_vec(),
        _ => before,
    };
    let (here, value) = names.reached(&before);
    if value {
        return (text.to_owned(), Vec::new());
    }
    let all: Vec<&str> = if partial.starts_with('-') {
        here.options.iter().map(|o| o.name.as_str()).collect()
    } else {
        here.under.iter().map(|n| n.name.as_str()).collect()
    };
    let fit: Vec<String> = all
        .into_iter()
        .filter(|n| n.starts_with(partial))
        .map(str::to_owned)
        .collect();
    let mut common = fit.first().cloned().unwrap_or_default();
    for name in &fit {
        while !name.starts_with(&common) {
            common.pop();
        }
    }
    if fit.is_empty() || common.is_empty() {
        return (text.to_owned(), fit);
    }
    let kept: String = text
        .chars()
        .take(begun.map_or(text.chars().count(), |p| p.from))
        .collect();
    let end = if fit.len() == 1 { " " } else { "" };
    (format!("{kept}{common}{end}"), fit)
}

/// Opens the line.
pub(super) fn open(model: &mut Model) {
    if matches!(model.stack.last(), Some(Page::Output(_) | Page::Go)) {
        model.stack.pop();
    }
    model.scan.clear();
    model.stack.push(Page::Command(Prompt::default()));
}

fn prompt(model: &mut Model) -> Option<&mut Prompt> {
    match model.stack.last_mut() {
        Some(Page::Command(prompt)) => Some(prompt),
        _ => None,
    }
}

/// Completes what is being typed.
pub(super) fn complete(model: &mut Model) {
    let names = std::mem::take(&mut model.command.names);
    let mut note = None;
    if let Some(prompt) = prompt(model) {
        let (line, fit) = completed(&prompt.typed, &names);
        note = Some(match fit.as_slice() {
            [] => "nothing to complete here; add --help to a command and Enter shows its words"
                .to_owned(),
            [_] if line != prompt.typed => String::new(),
            _ => fit.join("  "),
        });
        prompt.typed = line;
    }
    model.command.names = names;
    model.note = note.filter(|n| !n.is_empty()).map(Note::Said);
}

/// Another line of the history: an older one for -1, a newer one for 1.
pub(super) fn recall(model: &mut Model, by: isize) {
    let history = std::mem::take(&mut model.command.history);
    if let Some(prompt) = prompt(model) {
        let here = prompt.back.unwrap_or(history.len());
        if prompt.back.is_none() {
            prompt.kept.clone_from(&prompt.typed);
        }
        let next = here.saturating_add_signed(by).min(history.len());
        prompt.back = Some(next).filter(|n| *n < history.len());
        prompt.typed = history
            .get(next)
            .cloned()
            .unwrap_or_else(|| prompt.kept.clone());
    }
    model.command.history = history;
}

/// Runs what was typed.
pub(super) fn run(model: &mut Model) -> Vec<Effect> {
    let Some(Page::Command(prompt)) = model.stack.last() else {
        return Vec::new();
    };
    let typed = prompt.typed.clone();
    if typed.trim().is_empty() {
        model.stack.pop();
        return Vec::new();
    }
    let errand = match errand(&typed, &model.command.names) {
        Ok(errand) => errand,
        Err(text) => {
            model.note = Some(Note::Fault(text));
            return Vec::new();
        }
    };
    let line = remembered(&typed);
    model.command.history.retain(|l| *l != line);
    model.command.history.push(line);
    if model.command.history.len() > REMEMBERED {
        model.command.history.remove(0);
    }
    model.stack.pop();
    send(model, &typed, errand)
}

/// Runs a line that a key stands for; what comes of it is shown as that of a typed one.
pub(super) fn run_line(model: &mut Model, line: &str) -> Vec<Effect> {
    match errand(line, &model.command.names) {
        Ok(errand) => send(model, line, errand),
        Err(text) => {
            model.note = Some(Note::Fault(text));
            Vec::new()
        }
    }
}

fn send(model: &mut Model, typed: &str, errand: Errand) -> Vec<Effect> {
    model.stack.push(Page::Output(Output {
        line: masked(typed.trim()),
        since: model.now,
        ran: None,
        scroll: 0,
    }));
    model.ticket += 1;
    model.command_ticket = model.ticket;
    vec![Effect::Run {
        ticket: model.command_ticket,
        person: model.person.clone(),
        // A demo's clock is the one on the screen.
        at: model
            .shop
            .demo
            .then(|| model.shop.calendar.rfc3339(model.now)),
        room: view::answer_room(model),
        errand,
    }]
}

/// Takes in what came of a command: one line goes to the message line, more to a page.
pub(super) fn ended(model: &mut Model, ran: Ran) {
    let Some(Page::Output(output)) = model.stack.last_mut() else {
        return;
    };
    output.ran = Some(ran);
    let output = output.clone();
    let lines = lines(&output, model.shop.demo);
    let room = usize::from(model.size.0);
    if let [(text, wrong)] = lines.as_slice()
        && text.chars().count() < room
        && !text.is_empty()
    {
        model.stack.pop();
        model.note = Some(if *wrong {
            Note::Fault(text.clone())
        } else {
            Note::Said(text.clone())
        });
    }
}

/// What a command said, line by line, and whether the line is a fault.
pub fn lines(output: &Output, demo: bool) -> Vec<(String, bool)> {
    let Some(ran) = &output.ran else {
        return vec![("running; Esc stops it".to_owned(), false)];
    };
    let wrong = ran.end != End::Code(0);
    let out = if demo {
        // The title says so already.
        ran.out.strip_prefix("DEMO\n").unwrap_or(&ran.out)
    } else {
        &ran.out
    };
    let mut list: Vec<(String, bool)> = out.lines().map(|l| (shown(l), false)).collect();
    list.extend(ran.err.lines().map(|l| (shown(l), wrong)));
    match &ran.end {
        End::Code(0) if list.is_empty() => list.push(("done".to_owned(), false)),
        End::Code(0) => {}
        End::Code(code) => {
            let word = match code {
                1 => "a figure is over its limit, a reading is missing, or a difference was found",
                2 => "the input was not taken, or a question is open; nothing was saved",
                _ => "the ledger or the system failed",
            };
            list.push((format!("exit code {code}: {word}"), true));
        }
        End::Signal => list.push(("it was ended from outside".to_owned(), true)),
        End::Stopped => list.push((
            "it was stopped; what it had saved by then is in the ledger".to_owned(),
            true,
        )),
        End::TimedOut { minutes } => list.push((
            format!(
                "it had not ended after {minutes} min and was stopped; what it had saved by then is in the ledger"
            ),
            true,
        )),
        End::NotStarted(why) => list.push((format!("it could not be started: {why}"), true)),
    }
    if wrong && ran.err.contains("asks for the PIN") {
        list.push((
            "Up brings the line back; add --pin and the PIN to it, which is not shown".to_owned(),
            false,
        ));
    }
    list
}

#[cfg(test)]
mod tests {
    use super::*;

    fn name(name: &str, options: &[(&str, bool)], under: Vec<Names>) -> Names {
        Names {
            name: name.to_owned(),
            about: String::new(),
            options: options
                .iter()
                .map(|(n, takes)| Choice {
                    name: (*n).to_owned(),
                    takes: *takes,
                })
                .collect(),
            under,
        }
    }

    fn names() -> Names {
        let all = [("--as", true), ("--json", false)];
        name(
            "hangtime",
            &all,
            vec![
                name(
                    "recipe",
                    &all,
                    vec![
                        name("list", &all, Vec::new()),
                        name("show", &all, Vec::new()),
                    ],
                ),
                name("ready", &all, Vec::new()),
                name("screen", &all, Vec::new()),
            ],
        )
    }

    #[test]
    fn a_pin_is_masked_and_not_remembered() {
        for (typed, seen, kept) in [
            (
                "lift B1 --pin 604815",
                "lift B1 --pin ******",
                "lift B1 --pin ",
            ),
            ("--pin=60 lift", "--pin=** lift", "lift --pin "),
            (
                "--pin \"6 0\" lift 'a b'",
                "--pin ***** lift 'a b'",
                "lift 'a b' --pin ",
            ),
            ("note --pin", "note --pin", "note --pin"),
            (
                "person pin MB --to 604815",
                "person pin MB --to ******",
                "person pin MB --to --pin ",
            ),
            ("move B1 --to R12", "move B1 --to R12", "move B1 --to R12"),
        ] {
            assert_eq!(masked(typed), seen);
            assert_eq!(remembered(typed), kept);
        }
        let errand = errand("lift B1 --pin 604815 --why 'it is dry'", &names()).unwrap();
        assert_eq!(errand.pin.as_deref(), Some("604815"));
        assert_eq!(errand.words, ["lift", "B1", "--why", "it is dry"]);
    }

    #[test]
    fn what_would_open_the_screens_again_is_refused() {
        for typed in [
            "screen booth",
            "--json",
            "--as MB",
            "hangtime",
            "--as MB screen",
            "hangtime screen",
        ] {
            assert!(errand(typed, &names()).is_err(), "{typed}");
        }
        for typed in ["--as screen floor", "--help", "ready --json", "note screen"] {
            assert!(errand(typed, &names()).is_ok(), "{typed}");
        }
        assert!(errand("note 'open", &names()).is_err());
    }

    #[test]
    fn tab_completes_commands_and_options() {
        let complete = |typed: &str| completed(typed, &names());
        assert_eq!(complete("rec").0, "recipe ");
        assert_eq!(complete("re").0, "re");
        assert_eq!(complete("re").1, ["recipe", "ready"]);
        assert_eq!(complete("recipe ").1, ["list", "show"]);
        assert_eq!(complete("recipe s").0, "recipe show ");
        assert_eq!(
            complete("hangtime --as MB recipe --j").0,
            "hangtime --as MB recipe --json "
        );
        assert_eq!(complete("--as r"), ("--as r".to_owned(), Vec::new()));
        assert_eq!(complete("zzz"), ("zzz".to_owned(), Vec::new()));
    }
}
