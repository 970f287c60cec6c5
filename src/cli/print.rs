//! The two streams: data to standard output, messages to standard error.

use anyhow::Context as _;
use std::io::Write as _;

/// Prints `text` and a line end to standard output.
///
/// # Errors
/// When the stream is closed or full.
pub(super) fn data(text: &str) -> anyhow::Result<()> {
    let mut out = std::io::stdout().lock();
    out.write_all(text.as_bytes())
        .and_then(|()| out.write_all(b"\n"))
        .and_then(|()| out.flush())
        .context("write to standard output")
}

/// Prints `text` and a line end to standard error; a closed stream is no reason to stop.
pub(super) fn message(text: &str) {
    let _ = writeln!(std::io::stderr().lock(), "{text}");
}

/// Returns whether `error` says that the reader of our output has gone away.
pub(super) fn is_broken_pipe(error: &anyhow::Error) -> bool {
    error
        .chain()
        .filter_map(|cause| cause.downcast_ref::<std::io::Error>())
        .any(|cause| cause.kind() == std::io::ErrorKind::BrokenPipe)
}

/// Returns rows as CSV text without a last line end.
///
/// # Errors
/// When a row differs in length from the first, which is a fault of this program.
pub(super) fn csv_text(rows: &[Vec<String>]) -> anyhow::Result<String> {
    let mut writer = csv::Writer::from_writer(Vec::new());
    for row in rows {
        writer.write_record(row).context("write CSV")?;
    }
    let bytes = writer.into_inner().context("write CSV")?;
    Ok(String::from_utf8(bytes)
        .context("write CSV")?
        .trim_end()
        .to_owned())
}
