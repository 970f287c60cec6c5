//! Reads the keys of one table, collecting every problem instead of stopping at the first.

use super::error::StudyError;
use super::words::suggest;
use std::cell::RefCell;
use std::collections::BTreeSet;
use std::ops::Range;
use toml::Spanned;
use toml::de::{DeTable, DeValue};

/// The text of the file and what was found wrong in it.
pub(super) struct Notes<'t> {
    text: &'t str,
    problems: RefCell<Vec<StudyError>>,
}

impl<'t> Notes<'t> {
    pub fn new(text: &'t str) -> Self {
        Self {
            text,
            problems: RefCell::default(),
        }
    }

    /// Returns the problems in the order of the file.
    pub fn into_problems(self) -> Vec<StudyError> {
        let mut problems = self.problems.into_inner();
        problems.sort_by_key(|p| p.line);
        problems
    }

    /// Returns the line, counted from 1, of a place in the text.
    pub fn line(&self, at: usize) -> usize {
        let before = self.text.get(..at.min(self.text.len())).unwrap_or("");
        before.matches('\n').count() + 1
    }

    pub fn add(&self, at: usize, key: String, found: String, expected: &str, remedy: String) {
        self.problems.borrow_mut().push(StudyError {
            line: self.line(at),
            key,
            found,
            expected: expected.to_owned(),
            remedy,
        });
    }
}

/// One table of the file. Keys are taken one by one; [`Reader::finish`] reports the others.
pub(super) struct Reader<'r, 't> {
    notes: &'r Notes<'t>,
    table: &'r DeTable<'t>,
    path: String,
    span: Range<usize>,
    taken: RefCell<BTreeSet<&'static str>>,
}

impl<'r, 't> Reader<'r, 't> {
    pub fn new(
        notes: &'r Notes<'t>,
        table: &'r DeTable<'t>,
        path: String,
        span: Range<usize>,
    ) -> Self {
        Self {
            notes,
            table,
            path,
            span,
            taken: RefCell::default(),
        }
    }

    fn path_of(&self, key: &str) -> String {
        match self.path.is_empty() {
            true => key.to_owned(),
            false => format!("{}.{key}", self.path),
        }
    }

    /// Reports a problem at `key`, or at the head of the table where the key is missing.
    pub fn problem(&self, key: &str, found: String, expected: &str, remedy: impl Into<String>) {
        let at = self
            .table
            .get(key)
            .map_or(self.span.start, |value| value.span().start);
        self.notes
            .add(at, self.path_of(key), found, expected, remedy.into());
    }

    /// Whether the table has `key`; it counts as known.
    pub fn has(&self, key: &'static str) -> bool {
        self.take(key).is_some()
    }

    fn take(&self, key: &'static str) -> Option<&'r Spanned<DeValue<'t>>> {
        self.taken.borrow_mut().insert(key);
        self.table.get(key)
    }

    /// Returns the text at `key`, if there is one; whatever is wrong with it is said elsewhere.
    pub fn quiet_text(&self, key: &str) -> Option<&'r str> {
        self.table.get(key)?.get_ref().as_str()
    }

    fn missing(&self, key: &'static str, expected: &str) {
        self.problem(
            key,
            "nothing".to_owned(),
            expected,
            format!("add `{key} = …`"),
        );
    }

    fn wrong_type(&self, key: &'static str, value: &DeValue<'_>, expected: &str) {
        let found = format!("a value of type {}", value.type_str());
        self.problem(key, found, expected, "correct the value");
    }

    /// Returns a text that must stand there and say something.
    pub fn text(&self, key: &'static str, expected: &str) -> Option<String> {
        if !self.has(key) {
            self.missing(key, expected);
        }
        self.optional_text(key, expected)
    }

    /// Returns a text that may be absent, but not empty.
    pub fn optional_text(&self, key: &'static str, expected: &str) -> Option<String> {
        let value = self.take(key)?.get_ref();
        let Some(text) = value.as_str() else {
            self.wrong_type(key, value, expected);
            return None;
        };
        if text.trim().is_empty() {
            self.problem(
                key,
                "an empty text".to_owned(),
                expected,
                "write it, or leave the key out",
            );
            return None;
        }
        Some(text.trim().to_owned())
    }

    /// Returns a number that may be absent and must satisfy `allowed`, which `expected` words.
    pub fn optional_number(
        &self,
        key: &'static str,
        expected: &str,
        allowed: impl Fn(f64) -> bool,
    ) -> Option<f64> {
        let value = self.take(key)?.get_ref();
        let number = number_of(value);
        match number {
            Some(number) if number.is_finite() && allowed(number) => Some(number),
            Some(number) => {
                self.problem(key, number.to_string(), expected, "correct the number");
                None
            }
            None => {
                self.wrong_type(key, value, expected);
                None
            }
        }
    }

    /// Returns a number that must stand there and satisfy `allowed`.
    pub fn number(
        &self,
        key: &'static str,
        expected: &str,
        allowed: impl Fn(f64) -> bool,
    ) -> Option<f64> {
        if !self.has(key) {
            self.missing(key, expected);
        }
        self.optional_number(key, expected, allowed)
    }

    /// Returns a whole number that may be absent.
    pub fn optional_whole(&self, key: &'static str, expected: &str, least: u64) -> Option<u64> {
        let value = self.take(key)?.get_ref();
        let whole = value
            .as_integer()
            .and_then(|n| u64::from_str_radix(&n.as_str().replace('_', ""), n.radix()).ok())
            .filter(|n| *n >= least);
        if whole.is_none() {
            let found = match value.as_integer() {
                Some(n) => n.as_str().to_owned(),
                None => format!("a value of type {}", value.type_str()),
            };
            self.problem(key, found, expected, "correct the number");
        }
        whole
    }

    /// Returns a yes or no that may be absent.
    pub fn optional_flag(&self, key: &'static str) -> Option<bool> {
        let value = self.take(key)?.get_ref();
        let flag = value.as_bool();
        if flag.is_none() {
            self.wrong_type(key, value, "true or false");
        }
        flag
    }

    /// Returns the choice that a word names, if the key stands there.
    pub fn optional_choice<T: Copy>(&self, key: &'static str, list: &[(&str, T)]) -> Option<T> {
        let words: Vec<&str> = list.iter().map(|(word, _)| *word).collect();
        let expected = format!("one of {}", words.join(", "));
        let text = self.optional_text(key, &expected)?;
        let found = list.iter().find(|(word, _)| *word == text);
        if found.is_none() {
            let remedy = suggest(&text, words);
            self.problem(key, format!("`{text}`"), &expected, remedy);
        }
        found.map(|(_, choice)| *choice)
    }

    /// Returns the choice that a word names; the key must stand there.
    pub fn choice<T: Copy>(&self, key: &'static str, list: &[(&str, T)]) -> Option<T> {
        if !self.has(key) {
            let words: Vec<&str> = list.iter().map(|(word, _)| *word).collect();
            self.missing(key, &format!("one of {}", words.join(", ")));
        }
        self.optional_choice(key, list)
    }

    fn optional_list<T>(
        &self,
        key: &'static str,
        expected: &str,
        read: impl Fn(&DeValue<'_>) -> Option<T>,
    ) -> Option<Vec<T>> {
        let value = self.take(key)?.get_ref();
        let list: Option<Vec<T>> = value
            .as_array()
            .and_then(|items| items.iter().map(|item| read(item.get_ref())).collect());
        if list.is_none() {
            self.wrong_type(key, value, expected);
        }
        list
    }

    /// Returns a list of distinct texts that may be absent.
    pub fn optional_texts(&self, key: &'static str, expected: &str) -> Option<Vec<String>> {
        let texts =
            self.optional_list(key, expected, |v| v.as_str().map(|t| t.trim().to_owned()))?;
        let mut seen = BTreeSet::new();
        let mut sound = true;
        for text in &texts {
            sound &= !text.is_empty() && !seen.contains(text);
            if text.is_empty() {
                self.problem(
                    key,
                    "an empty text".to_owned(),
                    expected,
                    "write it, or leave it out",
                );
            } else if !seen.insert(text) {
                self.problem(key, format!("`{text}` twice"), expected, "name it once");
            }
        }
        sound.then_some(texts)
    }

    /// Returns a list of distinct texts that must stand there, at least `least` of them.
    pub fn texts(&self, key: &'static str, expected: &str, least: usize) -> Option<Vec<String>> {
        if !self.has(key) {
            self.missing(key, expected);
        }
        let texts = self.optional_texts(key, expected)?;
        if texts.len() < least {
            self.problem(
                key,
                format!("{} of them", texts.len()),
                expected,
                "add what is missing",
            );
            return None;
        }
        Some(texts)
    }

    /// Returns a list of finite numbers that may be absent.
    pub fn optional_numbers(&self, key: &'static str, expected: &str) -> Option<Vec<f64>> {
        self.optional_list(key, expected, |v| number_of(v).filter(|n| n.is_finite()))
    }

    /// Returns two rising numbers, if the key stands there.
    pub fn optional_range(&self, key: &'static str, expected: &str) -> Option<(f64, f64)> {
        let numbers = self.optional_numbers(key, expected)?;
        match numbers.as_slice() {
            [from, to] if from <= to => Some((*from, *to)),
            _ => {
                self.problem(key, format!("{numbers:?}"), expected, "write [from, to]");
                None
            }
        }
    }

    /// Returns a table below this one, if it stands there.
    pub fn optional_table(&self, key: &'static str) -> Option<Reader<'r, 't>> {
        let value = self.take(key)?;
        let Some(table) = value.get_ref().as_table() else {
            self.wrong_type(key, value.get_ref(), "a table");
            return None;
        };
        Some(Reader::new(
            self.notes,
            table,
            self.path_of(key),
            value.span(),
        ))
    }

    /// Returns the tables of a list (`[[key]]`), none where it is absent.
    pub fn tables(&self, key: &'static str) -> Vec<Reader<'r, 't>> {
        let Some(value) = self.take(key) else {
            return Vec::new();
        };
        let Some(items) = value.get_ref().as_array() else {
            self.wrong_type(
                key,
                value.get_ref(),
                &format!("tables, each opened by [[{key}]]"),
            );
            return Vec::new();
        };
        let mut readers = Vec::new();
        for (place, item) in items.iter().enumerate() {
            match item.get_ref().as_table() {
                Some(table) => {
                    let path = format!("{}[{}]", self.path_of(key), place + 1);
                    readers.push(Reader::new(self.notes, table, path, item.span()));
                }
                None => self.wrong_type(
                    key,
                    item.get_ref(),
                    &format!("tables, each opened by [[{key}]]"),
                ),
            }
        }
        readers
    }

    /// Reports every key that nobody asked for; `elsewhere` says of a key where else it belongs.
    pub fn finish(self, elsewhere: impl Fn(&str) -> Option<String>) {
        let taken = self.taken.borrow();
        for key in self.table.keys() {
            let name = key.get_ref().as_ref();
            if taken.contains(name) {
                continue;
            }
            let remedy = elsewhere(name).unwrap_or_else(|| suggest(name, taken.iter().copied()));
            let known: Vec<&str> = taken.iter().copied().collect();
            self.notes.add(
                key.span().start,
                self.path_of(name),
                "an unknown key".to_owned(),
                &format!("one of {}", known.join(", ")),
                remedy,
            );
        }
    }
}

fn number_of(value: &DeValue<'_>) -> Option<f64> {
    let integer = value
        .as_integer()
        .filter(|n| n.radix() == 10)
        .map(|n| n.as_str());
    let text = integer.or_else(|| value.as_float().map(|n| n.as_str()))?;
    text.replace('_', "").parse().ok()
}
