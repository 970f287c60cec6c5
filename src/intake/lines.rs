//! Lines and cells, without copying.

/// One line of a text, without its end.
#[derive(Debug, Clone, Copy)]
pub(super) struct Line<'a> {
    /// Number of the line in the file, from 1.
    pub number: u64,
    /// Its bytes, without `\n` or `\r\n`.
    pub bytes: &'a [u8],
}

impl Line<'_> {
    /// Returns whether there is nothing on the line but white space.
    #[inline]
    pub fn is_empty(&self) -> bool {
        self.bytes.trim_ascii().is_empty()
    }

    /// Returns whether there is nothing on the line but white space and delimiters.
    pub fn is_blank(&self, delimiter: u8) -> bool {
        self.bytes
            .iter()
            .all(|b| b.is_ascii_whitespace() || *b == delimiter)
    }

    /// Returns the line as text, white space trimmed.
    pub fn text(&self) -> &str {
        // The whole file was checked to be UTF-8, and a line never ends within a character.
        std::str::from_utf8(self.bytes).unwrap_or("").trim()
    }
}

/// The lines of a text that are still to be read.
#[derive(Debug, Clone, Copy)]
pub(super) struct Lines<'a> {
    rest: &'a [u8],
    next: u64,
}

impl<'a> Lines<'a> {
    pub fn of(text: &'a str) -> Lines<'a> {
        Lines {
            rest: text.as_bytes(),
            next: 1,
        }
    }

    /// Returns the bytes still to be read.
    pub fn rest(&self) -> &'a [u8] {
        self.rest
    }

    /// Returns the number of the next line.
    pub fn next_number(&self) -> u64 {
        self.next
    }
}

impl<'a> Iterator for Lines<'a> {
    type Item = Line<'a>;

    #[inline]
    fn next(&mut self) -> Option<Line<'a>> {
        if self.rest.is_empty() {
            return None;
        }
        let (line, rest) = match memchr::memchr(b'\n', self.rest) {
            Some(at) => {
                let (line, rest) = self.rest.split_at(at);
                (line, rest.get(1..).unwrap_or(&[]))
            }
            None => (self.rest, &[][..]),
        };
        self.rest = rest;
        let number = self.next;
        self.next += 1;
        Some(Line {
            number,
            bytes: line.strip_suffix(b"\r").unwrap_or(line),
        })
    }
}

/// Cuts lines into cells; a line with quotation marks goes through the CSV reader.
pub(super) struct Splitter {
    delimiter: u8,
    quotes: bool,
    record: csv::ByteRecord,
}

impl Splitter {
    /// Returns a splitter for the lines of `text`.
    pub fn new(delimiter: u8, text: &[u8]) -> Splitter {
        Splitter {
            delimiter,
            quotes: memchr::memchr(b'"', text).is_some(),
            record: csv::ByteRecord::new(),
        }
    }

    /// Returns the cells of `line`, white space trimmed.
    #[inline]
    pub fn split<'s>(&'s mut self, line: &'s [u8]) -> Cells<'s> {
        if self.quotes && memchr::memchr(b'"', line).is_some() {
            let mut reader = csv::ReaderBuilder::new()
                .has_headers(false)
                .flexible(true)
                .delimiter(self.delimiter)
                .buffer_capacity(line.len() + 1)
                .from_reader(line);
            // Reading a slice cannot fail, and the byte reader accepts any bytes.
            if let Ok(true) = reader.read_byte_record(&mut self.record) {
                return Cells::Quoted(self.record.iter());
            }
        }
        Cells::Plain(Some(line), self.delimiter)
    }
}

/// The cells of one line.
pub(super) enum Cells<'s> {
    Plain(Option<&'s [u8]>, u8),
    Quoted(csv::ByteRecordIter<'s>),
}

impl<'s> Iterator for Cells<'s> {
    type Item = &'s [u8];

    #[inline]
    fn next(&mut self) -> Option<&'s [u8]> {
        match self {
            Cells::Plain(rest, delimiter) => {
                let line = (*rest)?;
                let cell = match line.iter().position(|b| b == delimiter) {
                    Some(at) => {
                        let (cell, tail) = line.split_at(at);
                        *rest = tail.get(1..);
                        cell
                    }
                    None => {
                        *rest = None;
                        line
                    }
                };
                Some(cell.trim_ascii())
            }
            Cells::Quoted(cells) => cells.next().map(<[u8]>::trim_ascii),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lines_end_with_or_without_carriage_return_and_the_last_may_lack_its_end() {
        let found: Vec<(u64, &str)> = Lines::of("a\r\n\nb\nc")
            .map(|l| (l.number, std::str::from_utf8(l.bytes).unwrap_or("?")))
            .collect();
        assert_eq!(found, [(1, "a"), (2, ""), (3, "b"), (4, "c")]);
    }

    #[test]
    fn cells_are_cut_trimmed_and_unquoted() {
        let line = b"a, b ,,\"c,\"\"d\"";
        let mut splitter = Splitter::new(b',', line);
        let cells: Vec<Vec<u8>> = splitter.split(line).map(<[u8]>::to_vec).collect();
        assert_eq!(cells, [&b"a"[..], b"b", b"", b"c,\"d"]);
        let mut splitter = Splitter::new(b';', b"");
        let plain: Vec<&[u8]> = splitter.split(b"1;;").collect();
        assert_eq!(plain, [&b"1"[..], b"", b""]);
    }
}
