//! A month's solvent: as it follows from the log, signed, reprinted, and its history.

use super::{Answer, Desk, Shop, Trouble, one_of};
use crate::ledger::{MonthNow, Months, PinDeed, Signature, shifted};
use crate::reports::book::{self, Of, Way};
use crate::reports::papers::Period;
use crate::reports::{counting, entries, months, sums, totals};
use crate::shop::rule_set::RuleSet;
use crate::shop::text::shown_lines;
use crate::shop::words::Word;
use serde_json::{Value, json};
use std::io::Write;

/// A month's solvent from the log; a signed month as it was signed.
#[derive(Debug, clap::Args)]
#[command(args_conflicts_with_subcommands = true)]
pub(super) struct Month {
    /// The month, as 2026-03; without it the one that runs.
    #[arg(value_name = "MONTH")]
    which: Option<String>,
    /// The figures as they follow from the log today, also where the month is signed.
    #[arg(long)]
    from_log: bool,
    /// The month and the twelve months to it against the limits entered, with stock and checks.
    #[arg(long, conflicts_with = "from_log")]
    book: bool,
    /// From one side: what was used by day, lot, booth, ..., each with its VOC, HAP and contents.
    #[arg(long, value_name = "SIDE", conflicts_with_all = ["from_log", "book"],
        value_parser = one_of(["day", "production-day", "material", "lot", "booth", "purpose", "substance"]))]
    by: Option<String>,
    /// Counts by an adopted rule set, or "sheet" for what the data sheets state; without it by the shop's setting.
    #[arg(long, value_name = "CODE", conflicts_with_all = ["from_log", "figure"])]
    rules: Option<String>,
    #[command(flatten)]
    files: super::papers::Files,
    #[command(flatten)]
    open: Open,
    #[command(subcommand)]
    deed: Option<Deed>,
}

/// The way from a total down to an entry; each further option opens one level more.
#[derive(Debug, clap::Args)]
struct Open {
    /// Opens a total by material: VOC, HAP, or a substance by CAS number or name.
    #[arg(long = "open", value_name = "FIGURE", conflicts_with_all = ["from_log", "book", "by"])]
    figure: Option<String>,
    /// The twelve months that end with the month.
    #[arg(long)]
    twelve: bool,
    /// Opens a material by lot and mix.
    #[arg(long, requires = "figure")]
    material: Option<String>,
    /// Its data sheet, where several were in force.
    #[arg(long, requires = "material")]
    sheet: Option<String>,
    /// Opens a lot by entry.
    #[arg(long, requires = "material")]
    lot: Option<String>,
    /// The mix that the lot went into; without it, what was used of the lot without a mix.
    #[arg(long, requires = "lot")]
    mix: Option<u32>,
    /// Opens an entry on its worksheets.
    #[arg(long, requires = "lot")]
    entry: Option<i64>,
}

#[derive(Debug, clap::Subcommand)]
enum Deed {
    /// Sign a month that is over; the page is kept as it is printed.
    Close {
        /// The month, as 2026-03.
        month: String,
    },
    /// Every signature of a month, what each changed, and what is not signed yet.
    History {
        /// The month, as 2026-03.
        month: String,
    },
}

impl Month {
    pub(super) fn run(self, desk: &mut Desk<'_>) -> Answer {
        match self.deed {
            Some(Deed::Close { month }) => close(desk, &month),
            Some(Deed::History { month }) => history(desk, &month),
            None => {
                let month = if let Some(month) = self.which {
                    month
                } else {
                    let shop = desk.shop()?;
                    shop.calendar.day(shop.now).month()
                };
                begun(desk, &month)?;
                if self.files.any() {
                    if self.book || self.open.figure.is_some() {
                        return Err(Trouble::Input(
                            "--workbook, --csv and --page hold the book and the way down; leave --book and --open out"
                                .to_owned(),
                        ));
                    }
                    let shop = desk.shop()?;
                    return self.files.write(desk, &shop, &Period::Month(month));
                }
                let rules = self.rules.as_deref();
                match (self.open.figure.clone(), self.by.as_deref()) {
                    (Some(figure), _) => open(desk, &month, &figure, self.open),
                    (None, Some(by)) => from_side(desk, &month, by, self.open.twelve, rules),
                    (None, None) if self.open.twelve => Err(Trouble::Input(
                        "--twelve goes with --by or --open; --book shows both the month and the twelve months".to_owned(),
                    )),
                    (None, None) if self.book => held(desk, &month, rules),
                    (None, None) => match rules {
                        Some(code) => under(desk, &month, code),
                        None => show(desk, &month, self.from_log),
                    },
                }
            }
        }
    }
}

// Zeros of a month that lies ahead would read like a month in which nothing was used. The next one is answered: near its
// beginning people ask to which of the two an hour belongs.
pub(super) fn begun(desk: &Desk<'_>, month: &str) -> Result<(), Trouble> {
    let shop = desk.shop()?;
    Months::one(month)?;
    let today = shop.calendar.day(shop.present()).month();
    if shifted(&today, 1).is_some_and(|next| *month > *next) {
        return Err(Trouble::Input(format!(
            "{month} has not begun: this production day belongs to {today}; write a month up to that one"
        )));
    }
    Ok(())
}

fn show(desk: &mut Desk<'_>, month: &str, from_log: bool) -> Answer {
    let shop = desk.shop()?;
    let now = shop.ledger.month_now(month)?;
    let Some(newest) = now.newest().filter(|_| !from_log) else {
        if !from_log && let Some(code) = shop.ledger.book_settings()?.rules {
            return under(desk, month, &code);
        }
        let mut value = sums::month(&now.sums);
        let mut lines = sums::lines(&now.sums, desk.system());
        without_amount(&shop, month, &mut value, &mut lines)?;
        let before = before_the_record(&shop, &Months::one(month)?, &mut value, &mut lines)?;
        desk.print(&value, &lines)?;
        return Ok(u8::from(before));
    };
    reprint(desk, newest)?;
    Ok(said_open(desk, &shop, &now))
}

// Coats whose amount nobody knows are in no figure. That stands right below the figures, as they would read as whole.
fn without_amount(
    shop: &Shop,
    month: &str,
    value: &mut Value,
    lines: &mut Vec<String>,
) -> Result<(), Trouble> {
    let coats = shop.ledger.uncounted_coats(&Months::one(month)?)?;
    if let Some(map) = value.as_object_mut() {
        map.insert("coats_without_amount".to_owned(), json!(coats));
    }
    if coats > 0 {
        let are = if coats == 1 { "coat is" } else { "coats are" };
        let text =
            format!("{coats} {are} without a known amount: nothing of them is in these figures");
        lines.insert(lines.len().min(1), text);
    }
    Ok(())
}

// What was used before the record begins is unknown: said above all that was logged of it later, and instead of zeros.
// Gives whether the month that was asked for, the last of them, lies there.
fn before_the_record(
    shop: &Shop,
    months: &Months,
    value: &mut Value,
    lines: &mut Vec<String>,
) -> Result<bool, Trouble> {
    let began = shop.ledger.began()?;
    let first = shop.calendar.day(began).month();
    let before: Vec<&String> = months.list().iter().filter(|m| **m < first).collect();
    let words = before.first().zip(before.last()).map(|(from, to)| {
        let begins = shop.calendar.local(began).format("%-d %b %Y");
        if from == to {
            format!("{from}: unknown: it lies before the record, which begins {begins}")
        } else {
            format!("{from} to {to}: unknown: they lie before the record, which begins {begins}")
        }
    });
    if let Some(map) = value.as_object_mut() {
        map.insert("unknown".to_owned(), json!(words));
    }
    let Some(words) = words else { return Ok(false) };
    let whole = months.last() < first.as_str();
    if shop.ledger.sums_of(months)?.materials.is_empty() {
        lines.clear();
    } else if whole {
        lines.insert(0, "what was logged of it later:".to_owned());
    }
    lines.insert(0, words);
    Ok(whole)
}

// Exit code 1 when a figure is over its limit, or one that is needed is not known.
fn held(desk: &mut Desk<'_>, month: &str, rules: Option<&str>) -> Answer {
    let shop = desk.shop()?;
    let book = book::book_by(&shop.ledger, month, shop.now, rules)?;
    desk.print(
        &book.json(&shop.calendar),
        &book.lines(&shop.calendar, shop.now, desk.system()),
    )?;
    Ok(u8::from(book.calls_for_attention()))
}

// Exit code 1 when the lines do not add up to the kept total, or the month lies before the record.
fn from_side(
    desk: &mut Desk<'_>,
    month: &str,
    by: &str,
    twelve: bool,
    rules: Option<&str>,
) -> Answer {
    let shop = desk.shop()?;
    let months = if twelve {
        Months::twelve(month)?
    } else {
        Months::one(month)?
    };
    let by = totals::By::from_word(by).unwrap_or(totals::By::Material);
    let rules = counting::chosen(&shop.ledger, &months, rules)?;
    let report = totals::report(&shop.ledger, &months, by, rules.as_ref())?;
    let (mut value, mut lines) = (report.json(), report.lines(desk.system()));
    let before = before_the_record(&shop, &months, &mut value, &mut lines)?;
    desk.print(&value, &lines)?;
    Ok(u8::from(before || !report.adds_up))
}

// The month as a rule set counts it: nothing of it is kept or signed.
fn under(desk: &mut Desk<'_>, month: &str, code: &str) -> Answer {
    let shop = desk.shop()?;
    let months = Months::one(month)?;
    let rules = counting::chosen(&shop.ledger, &months, Some(code))?;
    let found = counting::sums(&shop.ledger, &months, rules.as_ref())?;
    let remarks = counting::remarks(&shop.ledger, &found, rules.as_ref())?;
    let words = counting::words(rules.as_ref());
    let mut value = sums::month(&found);
    if let Some(map) = value.as_object_mut() {
        map.insert("counted_by".to_owned(), words.clone().into());
        map.insert(
            "rules".to_owned(),
            rules.as_ref().map(RuleSet::label).into(),
        );
        map.insert("remarks".to_owned(), remarks.clone().into());
    }
    let mut lines = sums::lines(&found, desk.system());
    without_amount(&shop, month, &mut value, &mut lines)?;
    lines.push(words);
    lines.extend(remarks.iter().map(|r| format!("  {r}")));
    let before = before_the_record(&shop, &months, &mut value, &mut lines)?;
    desk.print(&value, &lines)?;
    Ok(u8::from(before))
}

fn open(desk: &mut Desk<'_>, month: &str, figure: &str, more: Open) -> Answer {
    let shop = desk.shop()?;
    let months = if more.twelve {
        Months::twelve(month)?
    } else {
        Months::one(month)?
    };
    let mut way = Way::of(Of::read(&shop.ledger, figure)?, months);
    if let Some(code) = more.material {
        // The sheet need not be typed where the level above names only one.
        let above = book::open(&shop.ledger, &way, desk.system())?;
        let mut sheets: Vec<String> = above
            .rows
            .iter()
            .filter_map(|r| r.way.material.clone())
            .filter(|(c, s)| *c == code && more.sheet.as_ref().is_none_or(|wanted| wanted == s))
            .map(|(_, sheet)| sheet)
            .collect();
        let sheet = match (sheets.pop(), sheets.as_slice()) {
            (Some(sheet), []) => sheet,
            (Some(last), others) => {
                return Err(Trouble::Input(format!(
                    "{code} was used by several sheets; add --sheet with one of {}, {last}",
                    others.join(", ")
                )));
            }
            (None, _) => more.sheet.unwrap_or_default(),
        };
        way.material = Some((code, sheet));
    }
    way.lot = more.lot.map(|lot| (lot, more.mix));
    way.entry = more.entry;
    let level = book::open(&shop.ledger, &way, desk.system())?;
    let mut value = level.json(shop.now, &shop.ledger, desk.system());
    let mut lines = level.lines(desk.system());
    let before = before_the_record(&shop, &way.months, &mut value, &mut lines)?;
    desk.print(&value, &lines)?;
    Ok(u8::from(before || level.missing() != 0))
}

// What was signed is printed as it was printed then; nothing of it is computed again.
fn reprint(desk: &mut Desk<'_>, signature: &Signature) -> Result<(), Trouble> {
    let signed = &signature.signed;
    let value: Value = serde_json::from_str(&signed.json).map_err(|e| {
        Trouble::System(format!(
            "the signed page of {} cannot be read: {e}",
            signed.month
        ))
    })?;
    let lines: Vec<String> = signed.text.lines().map(str::to_owned).collect();
    desk.print(&value, &lines)
}

// That a signed page no longer tells what the log tells is talk beside the page, and an exit code.
fn said_open(desk: &Desk<'_>, shop: &super::Shop, now: &MonthNow) -> u8 {
    let lines = months::open_revision(now, &shop.calendar, desk.system());
    if lines.is_empty() {
        return 0;
    }
    let _ = writeln!(std::io::stderr(), "{}", shown_lines(&lines.join("\n")));
    1
}

fn close(desk: &mut Desk<'_>, month: &str) -> Answer {
    let mut shop = desk.shop()?;
    let who = desk.who(None)?;
    let now = shop.ledger.month_now(month)?;
    let stamp = shop.stamp();
    let (mut lines, mut value) = months::page(
        &now,
        &who.person,
        stamp.written,
        &shop.calendar,
        desk.system(),
    );
    without_amount(&shop, month, &mut value, &mut lines)?;
    // What is signed is what the record keeps, by the sheets; how the shop's rule set counts it stands on the page.
    let one = Months::one(month)?;
    if let Some(rules) = counting::chosen(&shop.ledger, &one, None)? {
        let found = counting::sums(&shop.ledger, &one, Some(&rules))?;
        let words = counting::words(Some(&rules));
        lines.push(format!(
            "VOC {}, HAP {}, exempt {}: {words}; the figures above are as the data sheets state it",
            book::exact(found.totals.voc),
            book::exact(found.totals.hap),
            book::exact(found.totals.exempt)
        ));
        if let Some(map) = value.as_object_mut() {
            let by_rules =
                json!({"rules": rules.label(), "totals": entries::totals(&found.totals)});
            map.insert("by_rules".to_owned(), by_rules);
        }
    }
    // Who may sign is asked here and nowhere else: after the page is made, before anything is written.
    desk.authorise(&mut shop, PinDeed::CloseMonth, &who)?;
    shop.ledger
        .sign_month(&now, lines.join("\n"), value.to_string(), &who, &stamp)?;
    desk.print(&value, &lines)?;
    Ok(0)
}

fn history(desk: &mut Desk<'_>, month: &str) -> Answer {
    let shop = desk.shop()?;
    let now = shop.ledger.month_now(month)?;
    let (lines, value) = months::history(&now, &shop.calendar, desk.system());
    desk.print(&value, &lines)?;
    Ok(0)
}
