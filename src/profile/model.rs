//! A checked profile: every choice made, every name resolved.

use super::header::Header;
use crate::schema::{Axis, Channel, Digest, Field, Test, Unit};
use std::collections::BTreeMap;

/// Character encoding of a layout.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Encoding {
    /// UTF-8; a byte order mark is allowed.
    Utf8,
    /// UTF-16; the byte order mark says which.
    Utf16,
    /// Latin-1 (read as its superset Windows-1252).
    Latin1,
}

impl Encoding {
    /// Returns the word written in a profile.
    pub fn word(self) -> &'static str {
        match self {
            Encoding::Utf8 => "utf-8",
            Encoding::Utf16 => "utf-16",
            Encoding::Latin1 => "latin-1",
        }
    }
}

/// What stands between two cells.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Delimiter {
    /// `,`
    Comma,
    /// `;`
    Semicolon,
    /// Tab.
    Tab,
    /// `|`
    Pipe,
}

impl Delimiter {
    /// Returns the byte.
    pub fn byte(self) -> u8 {
        match self {
            Delimiter::Comma => b',',
            Delimiter::Semicolon => b';',
            Delimiter::Tab => b'\t',
            Delimiter::Pipe => b'|',
        }
    }
}

/// What stands before the fraction of a number.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum DecimalMark {
    /// `.`
    Point,
    /// `,`
    Comma,
}

impl DecimalMark {
    /// Returns the byte.
    pub fn byte(self) -> u8 {
        match self {
            DecimalMark::Point => b'.',
            DecimalMark::Comma => b',',
        }
    }

    /// Returns the word written in a profile.
    pub fn word(self) -> &'static str {
        match self {
            DecimalMark::Point => "point",
            DecimalMark::Comma => "comma",
        }
    }
}

/// What may stand between groups of three digits.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ThousandsMark {
    /// `.`
    Point,
    /// `,`
    Comma,
    /// A space, also the no-break ones.
    Space,
    /// `'`
    Apostrophe,
}

impl ThousandsMark {
    /// Returns the word written in a profile.
    pub fn word(self) -> &'static str {
        match self {
            ThousandsMark::Point => "point",
            ThousandsMark::Comma => "comma",
            ThousandsMark::Space => "space",
            ThousandsMark::Apostrophe => "apostrophe",
        }
    }

    /// Returns the mark's spellings in UTF-8.
    pub fn spellings(self) -> &'static [&'static str] {
        match self {
            ThousandsMark::Point => &["."],
            ThousandsMark::Comma => &[","],
            ThousandsMark::Space => &[" ", "\u{a0}", "\u{202f}"],
            ThousandsMark::Apostrophe => &["'", "\u{2019}"],
        }
    }
}

/// How characters, cells and numbers are written.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct TextForm {
    /// Character encoding.
    pub encoding: Encoding,
    /// Cell delimiter.
    pub delimiter: Delimiter,
    /// Decimal mark.
    pub decimal: DecimalMark,
    /// Thousands mark, where the layout uses one.
    pub thousands: Option<ThousandsMark>,
    /// Cells that stand for "no value".
    pub missing: Vec<String>,
}

/// How a cell or block value becomes a fact.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct FieldReading {
    /// The fact.
    pub field: Field,
    /// Unit the file writes it in, where that is not the field's own.
    pub unit: Option<Unit>,
    /// Words of the file for words of this tool.
    pub words: BTreeMap<String, String>,
}

/// The lines of keys and values above the data.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Block {
    /// Text between key and value.
    pub separator: String,
    /// Known keys.
    pub keys: BTreeMap<String, FieldReading>,
}

/// How a time is written.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum TimeFormat {
    /// A number of seconds.
    Seconds,
    /// A number of minutes.
    Minutes,
    /// A number of milliseconds.
    Milliseconds,
    /// Minutes and seconds, `mm:ss`, the seconds with or without a fraction.
    MinuteClock,
    /// Hours, minutes and seconds, `hh:mm:ss`, the seconds with or without a fraction.
    HourClock,
}

/// What a column of a curve file holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum CurveContent {
    /// The time.
    Time(TimeFormat),
    /// A length as abscissa.
    Length(Axis, Unit),
    /// An ordinate in the given unit.
    Ordinate(Channel, Unit),
    /// An index or something else that is passed over.
    Passed,
}

/// How the curves of a file are arranged.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Arrangement {
    /// One run, one or several channels.
    One,
    /// One abscissa, then one column per run; the header's pattern names them.
    SideBySide,
    /// One run below the other, each opened by a line with this key.
    Stacked {
        /// Key of the opening line.
        starts_with: String,
    },
}

/// How curves are written.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct CurveForm {
    /// Kind of test.
    pub test: Test,
    /// Arrangement of the curves.
    pub arrangement: Arrangement,
    /// What the columns hold; the last one also describes every column of a header pattern.
    pub columns: Vec<CurveContent>,
    /// First cells of lines that close the data and hold none.
    pub summary: Vec<String>,
}

macro_rules! items {
    ($($(#[doc = $doc:literal])+ $variant:ident => $name:literal;)+) => {
        /// What a column of an observation sheet holds.
        #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
        pub enum ObservationItem {
            $($(#[doc = $doc])+ $variant,)+
        }

        impl ObservationItem {
            /// Every item.
            pub const ALL: &'static [ObservationItem] = &[$(ObservationItem::$variant,)+];

            /// Returns the word written in a profile.
            pub fn name(self) -> &'static str {
                match self { $(ObservationItem::$variant => $name,)+ }
            }
        }
    };
}

items! {
    /// Dough.
    BatchId => "batch_id";
    /// Mixing method.
    Treatment => "treatment";
    /// Block of the design.
    Block => "block";
    /// Piece of the dough.
    Piece => "piece";
    /// Mixing time when the piece was taken.
    MixTimeMin => "mix_time_min";
    /// Rest before stretching.
    RestMin => "rest_min";
    /// Grade 0–4; `X` stands for overmixed without a grade.
    Grade => "grade";
    /// Overmixed: yes or no.
    Overmixed => "overmixed";
    /// Edge of the first tear: clean or rough.
    Edge => "edge";
    /// Person who graded.
    Grader => "grader";
    /// Code under which the grader saw the piece.
    BlindCode => "blind_code";
    /// Position in the grading order.
    Order => "order";
    /// Version of the codebook.
    Codebook => "codebook";
    /// Photo file.
    Photo => "photo";
    /// Scale of the photo in pixels per millimetre.
    PxPerMm => "px_per_mm";
    /// Flour lot.
    SampleId => "sample_id";
    /// Replicate of the dough.
    Replicate => "replicate";
    /// Age of bread, in d.
    AgeD => "age_d";
    /// What a scalar record measures.
    Quantity => "quantity";
    /// Value of a scalar record, in the unit of its line.
    Value => "value";
    /// Unit of a scalar record.
    Unit => "unit";
    /// Note.
    Note => "note";
}

/// How a cell of an observation sheet is read.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ItemReading {
    /// What it is.
    pub item: ObservationItem,
    /// Unit the file writes it in, where that is not the item's own.
    pub unit: Option<Unit>,
    /// Words of the file for words of this tool.
    pub words: BTreeMap<String, String>,
}

/// What kind of records a layout holds, and how.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Form {
    /// Curves.
    Curves(CurveForm),
    /// A run sheet: per exact header cell its fact, or `None` for a column passed over.
    RunSheet(Vec<Option<FieldReading>>),
    /// An observation sheet: per exact header cell its item, or `None` for a column passed over.
    ObservationSheet(Vec<Option<ItemReading>>),
}

/// A fact that a profile states about every run it reads.
#[derive(Debug, Clone, PartialEq)]
pub enum Constant {
    /// A number, in the field's own unit.
    Number(f64),
    /// A text or choice.
    Text(String),
}

/// A checked import profile.
#[derive(Debug, Clone, PartialEq)]
pub struct Profile {
    /// Identifier.
    pub id: String,
    /// One line for people.
    pub title: String,
    /// SHA-256 of the TOML text.
    pub digest: Digest,
    /// How characters, cells and numbers are written.
    pub text: TextForm,
    /// Literal first line of the file, where the layout has one.
    pub first_line: Option<String>,
    /// Header line.
    pub header: Header,
    /// Literal line of units below the header; empty where the layout has none.
    pub units_row: Vec<String>,
    /// Lines of keys and values, where the layout has them.
    pub block: Option<Block>,
    /// Records.
    pub form: Form,
    /// Facts that hold for every run.
    pub constants: Vec<(Field, Constant)>,
}

impl Profile {
    /// Returns how specific the content signature is: the number of literal cells, counting a
    /// literal first line as one.
    pub fn specificity(&self) -> usize {
        usize::from(self.first_line.is_some()) + self.header.literal_cells() + self.units_row.len()
    }

    /// Returns the word for the kind of records.
    pub fn record_word(&self) -> &'static str {
        match self.form {
            Form::Curves(_) => "curve",
            Form::RunSheet(_) => "run-sheet",
            Form::ObservationSheet(_) => "observation-sheet",
        }
    }

    /// Returns the delimiter as a character.
    pub fn delimiter(&self) -> char {
        char::from(self.text.delimiter.byte())
    }
}
