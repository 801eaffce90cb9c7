//! Quality from the log: defects, right first time, rework, charts of film and amount.

use super::{Answer, Desk, Shop, Trouble, one_of};
use crate::ledger::Period;
use crate::reports::quality::{By, CHARTS, DAYS, Quality as Report, Wanted, charts};
use crate::shop::calendar::Day;
use crate::shop::text::shown;
use serde_json::{Value, json};

/// Defects by what stood behind them, right first time and rework of a period.
#[derive(Debug, clap::Args)]
#[command(args_conflicts_with_subcommands = true)]
pub(super) struct Quality {
    #[command(flatten)]
    when: When,
    /// What defects are counted by; all but the defect itself, the recipe and the surface are those of the coat behind it.
    #[arg(long, default_value = "defect", value_parser = one_of(By::ALL.map(By::word)))]
    by: String,
    #[command(subcommand)]
    chart: Option<Chart>,
}

/// The production days that are asked about: the last 30, if left out.
#[derive(Debug, clap::Args)]
struct When {
    /// The first production day, as 2026-03-01.
    #[arg(long, value_name = "DAY")]
    from: Option<String>,
    /// The last production day; today, if left out.
    #[arg(long, value_name = "DAY", requires = "from")]
    to: Option<String>,
    /// The days of a month, as 2026-03.
    #[arg(long, value_name = "MONTH", conflicts_with = "from")]
    month: Option<String>,
}

#[derive(Debug, clap::Subcommand)]
enum Chart {
    /// Points of film or amount in their order, with the limits that they make themselves.
    Chart {
        /// Film of a coat and by gauge, or amount a piece.
        #[arg(value_parser = one_of(["film", "amount"]))]
        what: String,
        /// Code of the recipe; all revisions of it count.
        #[arg(long)]
        recipe: String,
        /// Only pieces of this model.
        #[arg(long)]
        model: Option<String>,
        #[command(flatten)]
        when: When,
    },
}

fn day(name: &str, text: &str) -> Result<Day, Trouble> {
    crate::units::date(text)
        .map(Day::of)
        .map_err(|fault| Trouble::Input(format!("--{name} {fault}")))
}

impl When {
    fn period(&self, shop: &Shop) -> Result<Period, Trouble> {
        let today = shop.calendar.day(shop.now);
        let period = match (&self.month, &self.from) {
            (Some(month), _) => Period::month(month)?,
            (None, Some(from)) => {
                let to = self.to.as_deref().map(|t| day("to", t)).transpose()?;
                Period::new(day("from", from)?, to.unwrap_or(today))?
            }
            (None, None) => Period::ending(today, DAYS),
        };
        // Nothing of a time that lies ahead would read like a time without a defect.
        if period.from() > today {
            return Err(Trouble::Input(format!(
                "{} has not begun: this production day is {}; write days up to that one",
                period.from().date(),
                today.date()
            )));
        }
        Ok(period)
    }
}

impl Quality {
    pub(super) fn run(self, desk: &mut Desk<'_>) -> Answer {
        let shop = desk.shop()?;
        let system = desk.system();
        let Some(Chart::Chart {
            what,
            recipe,
            model,
            when,
        }) = self.chart
        else {
            let period = self.when.period(&shop)?;
            let report = Report::of(&shop.ledger.quality(&period, shop.now)?);
            let by = By::from_word(&self.by).unwrap_or_default();
            desk.print(
                &report.json(by, &shop.calendar),
                &report.lines(by, &shop.calendar, system),
            )?;
            return Ok(0);
        };
        if !shop.ledger.recipes()?.iter().any(|r| r.code == recipe) {
            return Err(Trouble::Input(format!(
                "recipe \"{}\" is not adopted; \"hangtime recipe list\" names those that are",
                shown(&recipe)
            )));
        }
        let period = when.period(&shop)?;
        let record = shop.ledger.quality(&period, shop.now)?;
        let wanted = Wanted {
            film: Some(what == "film"),
            recipe: Some(&recipe),
            model: model.as_deref(),
        };
        let found = charts(&record, &wanted);
        let mut lines = vec![format!("charts of {what}, {}", period.words())];
        for chart in &found {
            lines.push(String::new());
            lines.extend(chart.lines(&shop.calendar, system));
        }
        if found.is_empty() {
            let of = model.map_or_else(String::new, |m| format!(" {}", shown(&m)));
            lines.push(format!(
                "no {what} is recorded of {}{of} in the period",
                shown(&recipe)
            ));
        } else {
            lines.extend([String::new(), CHARTS.to_owned()]);
        }
        let value = json!({
            "from": period.from().date().to_string(), "to": period.to().date().to_string(),
            "charts": found.iter().map(|c| c.json(&shop.calendar, system)).collect::<Vec<Value>>(),
            "note": CHARTS,
        });
        desk.print(&value, &lines)?;
        Ok(0)
    }
}
