//! The header line of a layout: exact cells, and a pattern for columns that repeat.

/// What the variable part of a repeated header cell names.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Gives {
    /// The run: `{run}`.
    Run,
    /// The curve within the file, without naming the run: `{curve}`.
    Curve,
    /// One of this tool's fields, in a run sheet: `{field}`.
    Field,
}

/// The pattern of the columns behind the exact ones.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Rest {
    /// Literal text before the variable part.
    pub before: String,
    /// Literal text behind it.
    pub after: String,
    /// What the variable part names.
    pub gives: Gives,
    /// Smallest number of such columns.
    pub at_least: usize,
}

impl Rest {
    /// Returns the variable part of `cell`, if the cell follows the pattern and the part is not
    /// empty.
    pub fn name_in<'c>(&self, cell: &'c [u8]) -> Option<&'c [u8]> {
        cell.strip_prefix(self.before.as_bytes())?
            .strip_suffix(self.after.as_bytes())
            .map(<[u8]>::trim_ascii)
            .filter(|name| !name.is_empty())
    }

    /// Returns the pattern as an author writes it.
    pub fn words(&self) -> String {
        let name = match self.gives {
            Gives::Run => "{run}",
            Gives::Curve => "{curve}",
            Gives::Field => "{field}",
        };
        format!("{}{name}{}", self.before, self.after)
    }
}

/// The header line that a layout must show.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Header {
    /// Exact cells, from the left.
    pub exact: Vec<String>,
    /// Pattern of all cells behind them.
    pub rest: Option<Rest>,
}

impl Header {
    /// Returns whether `cells`, already without surrounding white space, are this header.
    pub fn matches<'c>(&self, mut cells: impl Iterator<Item = &'c [u8]>) -> bool {
        for wanted in &self.exact {
            if cells.next() != Some(wanted.as_bytes()) {
                return false;
            }
        }
        match &self.rest {
            None => cells.next().is_none(),
            Some(rest) => {
                let mut count = 0;
                for cell in cells {
                    if rest.name_in(cell).is_none() {
                        return false;
                    }
                    count += 1;
                }
                count >= rest.at_least
            }
        }
    }

    /// Returns the number of literal cells: the more, the more specific the layout.
    pub fn literal_cells(&self) -> usize {
        let pattern_has_text = self
            .rest
            .as_ref()
            .is_some_and(|rest| !rest.before.is_empty() || !rest.after.is_empty());
        self.exact.len() + usize::from(pattern_has_text)
    }

    /// Returns the header in words, cells separated by `delimiter`.
    pub fn words(&self, delimiter: char) -> String {
        let mut text = self.exact.join(&delimiter.to_string());
        if let Some(rest) = &self.rest {
            text.push(delimiter);
            text.push_str(&rest.words());
            text.push(delimiter);
            text.push('…');
        }
        text
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn fits(header: &Header, line: &str) -> bool {
        header.matches(line.split(',').map(str::as_bytes))
    }

    #[test]
    fn a_header_is_exact_or_follows_its_pattern() {
        let mut header = Header {
            exact: vec!["time_s".into()],
            rest: Some(Rest {
                before: String::new(),
                after: " [FU]".into(),
                gives: Gives::Run,
                at_least: 2,
            }),
        };
        assert!(fits(&header, "time_s,A [FU],B [FU]"));
        assert!(!fits(&header, "time_s,A [FU]"));
        assert!(!fits(&header, "time_s,A [FU],B"));
        assert!(!fits(&header, "time_s,A [FU], [FU]"));
        assert_eq!(header.literal_cells(), 2);
        assert_eq!(header.words(','), "time_s,{run} [FU],…");
        header.rest = None;
        assert!(fits(&header, "time_s"));
        assert!(!fits(&header, "time_s,A [FU]"));
        assert!(!fits(&header, "Time_s"));
    }
}
