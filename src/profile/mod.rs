//! Import profiles: how a layout of raw files is recognised and read.
//!
//! A profile is a TOML text. This room owns what an author may write in it, checks it whole, and
//! hands out a [`Profile`] in which nothing is left open. It knows no file content: matching and
//! reading live in [`crate::intake`].

mod builtin;
mod columns;
mod error;
mod header;
mod model;
mod resolve;
mod words;
mod written;

pub use builtin::{BUILTIN_TEXTS, builtin};
pub use error::ProfileError;
pub use header::{Gives, Header, Rest};
pub use model::{
    Arrangement, Block, Constant, CurveContent, CurveForm, DecimalMark, Delimiter, Encoding,
    FieldReading, Form, ItemReading, ObservationItem, Profile, TextForm, ThousandsMark, TimeFormat,
};
pub use words::nearest_field;
