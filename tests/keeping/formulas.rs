//! A workbook read back by another hand, and its formulas worked out anew: as much of a spreadsheet as they use.

use calamine::{Data, Reader, Xlsx};
use std::cell::RefCell;
use std::collections::HashMap;
use std::io::Cursor;

type Place = (String, u32, u32);

/// The cells of a workbook; rows and columns are counted from 0.
pub struct Book {
    pub sheets: Vec<String>,
    pub texts: HashMap<Place, String>,
    pub numbers: HashMap<Place, f64>,
    pub formulas: HashMap<Place, String>,
    done: RefCell<HashMap<Place, f64>>,
}

// A number, or cells of one column.
#[derive(Clone)]
enum Value {
    Number(f64),
    Cells(String, u32, u32, u32),
}

impl Book {
    pub fn read(bytes: Vec<u8>) -> Self {
        let mut file: Xlsx<_> = calamine::open_workbook_from_rs(Cursor::new(bytes)).unwrap();
        let mut book = Self {
            sheets: file.sheet_names(),
            texts: HashMap::new(),
            numbers: HashMap::new(),
            formulas: HashMap::new(),
            done: RefCell::default(),
        };
        for sheet in &book.sheets {
            let cells = file.worksheet_range(sheet).unwrap();
            let (top, left) = cells.start().unwrap();
            for (row, col, data) in cells.used_cells() {
                let at = place(sheet, top, row, left, col);
                match data {
                    Data::Float(f) => drop(book.numbers.insert(at, *f)),
                    Data::String(text) => drop(book.texts.insert(at, text.clone())),
                    other => panic!("{at:?} holds {other:?}"),
                }
            }
            let formulas = file.worksheet_formula(sheet).unwrap();
            let Some((top, left)) = formulas.start() else {
                continue;
            };
            for (row, col, text) in formulas.used_cells() {
                if !text.is_empty() {
                    let at = place(sheet, top, row, left, col);
                    book.formulas.insert(at, text.clone());
                }
            }
        }
        book
    }

    /// The line below which the rows of a sheet's table stand: that with this heading in its first cell.
    pub fn headings(&self, sheet: &str, first: &str) -> u32 {
        let mut found = self
            .texts
            .iter()
            .filter(|((s, _, col), text)| s == sheet && *col == 0 && *text == first)
            .map(|((_, row, _), _)| *row);
        found.next().unwrap()
    }

    /// What a formula gives, worked out from the cells that hold none.
    pub fn worked_out(&self, at: &Place) -> f64 {
        if let Some(done) = self.done.borrow().get(at) {
            return *done;
        }
        let value = match self.formulas.get(at) {
            Some(text) => {
                let mut reader = Formula {
                    book: self,
                    sheet: &at.0,
                    text: text.trim_start_matches('='),
                };
                let value = reader.compared();
                assert_eq!(reader.text, "", "{at:?}: {text}");
                self.number(&value)
            }
            None => self.numbers.get(at).copied().unwrap_or(0.0),
        };
        self.done.borrow_mut().insert(at.clone(), value);
        value
    }

    fn number(&self, value: &Value) -> f64 {
        match value {
            Value::Number(n) => *n,
            Value::Cells(sheet, col, from, to) => {
                assert_eq!(from, to, "one cell of {sheet}");
                self.worked_out(&(sheet.clone(), *from, *col))
            }
        }
    }

    // Texts among the cells of a sum count nothing.
    fn cells(&self, value: &Value) -> Vec<Option<f64>> {
        let Value::Cells(sheet, col, from, to) = value else {
            panic!("a number where cells are wanted");
        };
        (*from..=*to)
            .map(|row| {
                let at = (sheet.clone(), row, *col);
                let held = self.numbers.contains_key(&at) || self.formulas.contains_key(&at);
                held.then(|| self.worked_out(&at))
            })
            .collect()
    }
}

fn place(sheet: &str, top: u32, row: usize, left: u32, col: usize) -> Place {
    let row = top + u32::try_from(row).unwrap();
    (sheet.to_owned(), row, left + u32::try_from(col).unwrap())
}

struct Formula<'a> {
    book: &'a Book,
    sheet: &'a str,
    text: &'a str,
}

impl Formula<'_> {
    fn takes(&mut self, sign: char) -> bool {
        match self.text.strip_prefix(sign) {
            Some(rest) => {
                self.text = rest;
                true
            }
            None => false,
        }
    }

    fn while_in(&mut self, wanted: impl Fn(char) -> bool) -> String {
        let end = self.text.find(|c| !wanted(c)).unwrap_or(self.text.len());
        let (taken, rest) = self.text.split_at(end);
        self.text = rest;
        taken.to_owned()
    }

    fn compared(&mut self) -> Value {
        let left = self.summed();
        let test: fn(f64, f64) -> bool = if self.takes('>') {
            |a, b| a > b
        } else if self.takes('=') {
            |a, b| a.to_bits() == b.to_bits()
        } else {
            return left;
        };
        let right = self.summed();
        let (a, b) = (self.book.number(&left), self.book.number(&right));
        Value::Number(if test(a, b) { 1.0 } else { 0.0 })
    }

    fn summed(&mut self) -> Value {
        let mut left = self.multiplied();
        loop {
            let sign = if self.takes('+') {
                1.0
            } else if self.takes('-') {
                -1.0
            } else {
                return left;
            };
            let right = self.multiplied();
            let sum = self.book.number(&left) + sign * self.book.number(&right);
            left = Value::Number(sum);
        }
    }

    fn multiplied(&mut self) -> Value {
        let mut left = self.single();
        loop {
            let divides = if self.takes('*') {
                false
            } else if self.takes('/') {
                true
            } else {
                return left;
            };
            let right = self.single();
            let (a, b) = (self.book.number(&left), self.book.number(&right));
            left = Value::Number(if divides { a / b } else { a * b });
        }
    }

    fn single(&mut self) -> Value {
        if self.takes('(') {
            let value = self.compared();
            assert!(self.takes(')'));
            return value;
        }
        if self.text.starts_with(|c: char| c.is_ascii_digit()) {
            return Value::Number(self.while_in(|c| c.is_ascii_digit()).parse().unwrap());
        }
        if self.takes('\'') {
            let sheet = self.while_in(|c| c != '\'');
            assert!(self.takes('\'') && self.takes('!'));
            return self.cells(&sheet);
        }
        let words = self.text;
        let name = self.while_in(|c| c.is_ascii_uppercase());
        if !self.takes('(') {
            self.text = words;
            return self.cells(self.sheet);
        }
        let mut given = vec![self.compared()];
        while self.takes(',') {
            given.push(self.compared());
        }
        assert!(self.takes(')'), "{words}");
        self.called(&name, &given)
    }

    fn cells(&mut self, sheet: &str) -> Value {
        let (col, from) = self.one_cell();
        let to = if self.takes(':') {
            let (same, to) = self.one_cell();
            assert_eq!(col, same);
            to
        } else {
            from
        };
        Value::Cells(sheet.to_owned(), col, from, to)
    }

    fn one_cell(&mut self) -> (u32, u32) {
        self.takes('$');
        let letters = self.while_in(|c| c.is_ascii_uppercase());
        self.takes('$');
        let line: u32 = self.while_in(|c| c.is_ascii_digit()).parse().unwrap();
        let col = letters
            .bytes()
            .fold(0, |n, c| n * 26 + u32::from(c - b'A') + 1);
        (col - 1, line - 1)
    }

    fn called(&self, name: &str, given: &[Value]) -> Value {
        let number = |n: usize| self.book.number(&given[n]);
        Value::Number(match name {
            "INT" => number(0).floor(),
            "IF" if number(0) > 0.0 => number(1),
            "IF" => number(2),
            "SUM" => self
                .book
                .cells(&given[0])
                .into_iter()
                .flatten()
                .fold(0.0, |sum, held| sum + held),
            "SUMIFS" => {
                let mut all = self.book.cells(&given[0]);
                for condition in given[1..].chunks(2) {
                    let equals = self.book.number(&condition[1]);
                    let list = self.book.cells(&condition[0]);
                    assert_eq!(all.len(), list.len());
                    for (sum, held) in all.iter_mut().zip(list) {
                        if held.is_none_or(|h| h.to_bits() != equals.to_bits()) {
                            *sum = None;
                        }
                    }
                }
                all.into_iter().flatten().fold(0.0, |sum, held| sum + held)
            }
            other => panic!("{other} is no function that these workbooks use"),
        })
    }
}
