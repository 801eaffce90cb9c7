//! Cautions as they are shown at the moment of use: two lines each, why now, the source, and whom to ask at this site.
//!
//! *Invariants*: what is unread comes with its words; what was read is not shown as unread again. Nothing here says that
//! anything is permitted.
//!
//! *Not here*: which cautions are due (`ledger`), their texts (`shop::cautions`).

use crate::ledger::{ContactRow, Cup, DueCaution, WasDue};
use crate::shop::calendar::Calendar;
use crate::shop::cautions::Caution;
use crate::shop::text::shown;
use serde_json::{Value, json};

/// Whom to ask, with the shop's own name and number where somebody filled it in.
pub fn ask(caution: &Caution, contacts: &[ContactRow]) -> String {
    let rungs = caution.ask.split(", then ").map(|rung| {
        let own = contacts.iter().find(|c| {
            let role = c.role.to_lowercase();
            !role.is_empty() && rung.contains(role.as_str())
        });
        own.map_or_else(
            || rung.to_owned(),
            |c| format!("{rung} ({})", shown(&c.text)),
        )
    });
    rungs.collect::<Vec<_>>().join(", then ")
}

/// A caution with its words.
pub fn whole(caution: &Caution, contacts: &[ContactRow], lead: &str) -> Vec<String> {
    let mut lines: Vec<String> = caution
        .lines()
        .into_iter()
        .map(|l| format!("{lead}{l}"))
        .collect();
    lines.push(format!("{lead}    source: {}", caution.source));
    lines.push(format!("{lead}    ask: {}", ask(caution, contacts)));
    lines
}

fn due_lines(due: &DueCaution, contacts: &[ContactRow]) -> Vec<String> {
    let mut lines = Vec::new();
    if due.read.is_none() {
        lines.push(format!(
            "  ! caution {}, {}:",
            due.caution.id,
            shown(&due.about)
        ));
        lines.extend(whole(due.caution, contacts, "    "));
    }
    if let Some(because) = due
        .because
        .as_ref()
        .filter(|_| due.read.is_none() || due.tell)
    {
        lines.push(format!("    {}", shown(because)));
    }
    if due.tell {
        lines.push(match &due.told {
            Some((whom, by)) => format!("    told {}, written down by {}", shown(whom), shown(by)),
            None => format!(
                "    whom have you told? hangtime caution told {} --about \"{}\" --whom NAME",
                due.caution.id,
                shown(&due.about)
            ),
        });
    }
    lines
}

// Whether something in the record asks for it: then it stands with its words beside the deed.
fn pressing(due: &DueCaution) -> bool {
    due.because.is_some() || due.tell
}

/// What is said beside a deed: what the record asks for in full, the material's own in one line with the command that
/// shows them.
pub fn beside(list: &[DueCaution], contacts: &[ContactRow], read_with: &str) -> Vec<String> {
    let mut lines: Vec<String> = list
        .iter()
        .filter(|d| pressing(d))
        .flat_map(|d| due_lines(d, contacts))
        .collect();
    let unread: Vec<&DueCaution> = list
        .iter()
        .filter(|d| !pressing(d) && d.read.is_none())
        .collect();
    if let Some(first) = unread.first() {
        let s = if unread.len() == 1 { "" } else { "s" };
        lines.push(format!(
            "  {} caution{s} of {} not read today: {read_with}",
            unread.len(),
            shown(&first.about)
        ));
    }
    lines
}

/// The command that shows what is unread of a cup and a booth and writes down that it was read, without the program's name.
pub fn read_line(cup: Cup<'_>, booth: Option<&str>) -> String {
    let cup = match cup {
        Cup::Mix(mix) => format!(" --mix {mix}"),
        Cup::Lot(lot) => format!(" --lot \"{}\"", shown(lot)),
        Cup::Parts(_) | Cup::Unknown => String::new(),
    };
    let booth = booth.map_or_else(String::new, |b| format!(" --booth \"{}\"", shown(b)));
    format!("caution read all{cup}{booth}")
}

/// All of them with their words.
pub fn all(list: &[DueCaution], contacts: &[ContactRow]) -> Vec<String> {
    list.iter()
        .flat_map(|due| {
            let mut lines = vec![format!(
                "{}, {}: {}",
                due.caution.id,
                shown(&due.about),
                due.read.as_ref().map_or_else(
                    || "not read today".to_owned(),
                    |p| format!("read by {}", shown(p))
                )
            )];
            lines.extend(whole(due.caution, contacts, "  "));
            lines.extend(due.because.iter().map(|b| format!("    {}", shown(b))));
            lines
        })
        .collect()
}

/// The same for machines.
pub fn json_of(due: &DueCaution, contacts: &[ContactRow]) -> Value {
    json!({
        "id": due.caution.id, "about": due.about, "text": due.caution.text, "source": due.caution.source,
        "ask": ask(due.caution, contacts), "because": due.because, "read_by": due.read, "asks_whom_was_told": due.tell,
        "told": due.told.as_ref().map(|(whom, by)| json!({"whom": whom, "by": by})),
    })
}

/// What was due at deeds and still waits, by day.
pub fn waiting(list: &[WasDue], contacts: &[ContactRow], calendar: &Calendar) -> Vec<String> {
    let mut lines = Vec::new();
    let (booths, unread): (Vec<&WasDue>, Vec<&WasDue>) = list.iter().partition(|w| w.due.tell);
    if !booths.is_empty() {
        lines.push("one material under another in a booth, with no cleaning on record:".to_owned());
    }
    for was in booths {
        lines.push(format!(
            "  {} {}",
            calendar.stamp(was.at),
            shown(was.due.because.as_deref().unwrap_or_default())
        ));
        lines.extend(whole(was.due.caution, contacts, "    "));
        lines.push(match &was.due.told {
            Some((whom, by)) => format!("    told {}, written down by {}", shown(whom), shown(by)),
            None => "    nobody is written down as told".to_owned(),
        });
    }
    let mut groups: Vec<(String, Vec<&str>)> = Vec::new();
    for was in unread {
        let head = format!("{} {}", was.day.date(), shown(&was.due.about));
        let id = was.due.caution.id;
        match groups.iter_mut().find(|(h, _)| *h == head) {
            Some((_, ids)) => ids.push(id),
            None => groups.push((head, vec![id])),
        }
    }
    if groups.is_empty() {
        lines
            .push("no caution of the last seven production days is unread by everybody".to_owned());
    } else {
        lines
            .push("due at a deed of the last seven production days and read by nobody:".to_owned());
    }
    for (head, ids) in groups {
        lines.push(format!("  {head}: {}", ids.join(", ")));
    }
    lines
}

/// How many wait, in one line for the safety lead; `None` where none does.
pub fn tally(list: &[WasDue]) -> Option<String> {
    let booths = list.iter().filter(|w| w.due.tell).count();
    let unread = list.len() - booths;
    let mut parts = Vec::new();
    if booths > 0 {
        let s = if booths == 1 { "" } else { "s" };
        parts.push(format!(
            "{booths} time{s} one material under another in a booth"
        ));
    }
    if unread > 0 {
        let s = if unread == 1 { "" } else { "s" };
        parts.push(format!("{unread} caution{s} read by nobody"));
    }
    (!parts.is_empty()).then(|| {
        format!(
            "last seven days: {}: hangtime cautions waiting",
            parts.join(", ")
        )
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::shop::cautions::find;
    use crate::units::Moment;

    #[test]
    fn the_shops_own_contact_stands_at_its_rung() {
        let own = |role: &str, text: &str| ContactRow {
            role: role.into(),
            text: text.into(),
            person: "SL".into(),
            at: Moment(0),
        };
        let contacts = [
            own("Safety lead", "SL, ext. 12"),
            own("fire marshal", "ext. 99"),
        ];
        let caution = find("spraying-after-oil").unwrap();
        assert_eq!(
            ask(caution, &contacts),
            "safety lead (SL, ext. 12), then fire marshal or local fire code official (ext. 99)"
        );
        assert_eq!(ask(caution, &[]), caution.ask);
    }
}
