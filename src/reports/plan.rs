//! The plan in words.
use crate::shop::duty::Station;
use crate::shop::words::Word;
/// `2 people, 9 min a piece`.
pub fn pace(s: &Station) -> String {
    let people = if s.people == 1 {
        "1 person".to_owned()
    } else {
        format!("{} people", s.people)
    };
    format!("{people}, {} a {}", s.took.words(), s.per.word())
}
