//! The page that stands beside the sample runs.

use super::super::facts::decimal;
use super::super::file::{FileKind, GeneratedFile, GeneratedRun, Trouble};
use super::super::truth::{Rules, Truth, TruthValue};

const WORDS: &str = "# Sample runs

**Everything in this folder is invented**: the bakery, the island, the flours, the doughs and every
number of every curve. No real person, firm, place or measurement is meant. The files are written
by a generator (`tests/generate`) that knows the truth of each curve; `tests/sample_runs.rs` fails
when a committed file differs from what the generator makes (`UPDATE=1 cargo test
--no-default-features --test sample_runs` rewrites them).

## The story

The Saltmarrow island bakery, a cooperative, wants to know how to mix its tin loaf of 40 %
wholemeal: `spiral` (today), `two-arm` or `high-speed`. Each method is offered with the grind of
wholemeal it is meant for: coarse, medium, fine. A recording dough mixer turns at its own fixed
speed whatever the bakery does, so a mixing curve cannot show a bakery mixer. What it shows is the
flour blend and water of each method: how much water the blend takes, how soon it develops, how
long it stands and how fast it softens.

That finer wholemeal takes up more water, develops sooner and softens faster is written from
memory; how much is invented.

## How the curves are made

A centre line (fast wetting, slower development, softening), a band about it, the ripple of two
blades at 63 and 94.5 turns a minute, white noise, and in some runs a short wetting spike in the
first seconds. The metrics' truth is read from the noise-free curve by their definitions. Tables
below: development time is the end of the top within 2 FU of its maximum.
";

/// Returns the page, with a table of the given files.
pub fn readme(files: &[GeneratedFile]) -> GeneratedFile {
    let mut out = String::from(WORDS);
    for (folder, title, lead) in [
        (
            "clean-day",
            "Clean day",
            "24 final runs: two blends, three methods, two blocks, two doughs each. Nothing to redo.",
        ),
        (
            "awkward-day",
            "Awkward day",
            "One trouble each. SM-217 and SM-218 cannot be read; SM-214 has no line in the run sheet.",
        ),
    ] {
        out.push_str(&format!("\n## {title}: `{folder}/`\n\n{lead}\n\n"));
        out.push_str(
            "| file | layout | run | blend, method, block | consistency, FU | absorption, ml/100 g \
             | development, min | stability, min | trouble |\n|---|---|---|---|---|---|---|---|---|\n",
        );
        for file in files.iter().filter(|f| f.path.starts_with(folder)) {
            push_rows(&mut out, file);
        }
    }
    GeneratedFile {
        path: "README.md".to_owned(),
        kind: FileKind::Readme,
        bytes: out.into_bytes(),
        runs: Vec::new(),
    }
}

fn push_rows(out: &mut String, file: &GeneratedFile) {
    let layout = match file.kind {
        FileKind::Curves(layout) => layout.profile(),
        FileKind::RunSheet => "run sheet",
        FileKind::Unreadable => "cannot be read",
        FileKind::Readme => "",
    };
    if file.runs.is_empty() {
        out.push_str(&format!("| {} | {layout} | | | | | | | |\n", file.name()));
    }
    for run in &file.runs {
        let truth = run.truth(Rules::default());
        let cell = |metric, variant, digits| value_text(&truth, metric, variant, digits);
        let facts = &run.spec.sheet;
        out.push_str(&format!(
            "| {} | {layout} | {} | {} | {} | {} | {} | {} | {} |\n",
            file.name(),
            run.run_id,
            [&facts.sample_id, &facts.treatment, &facts.block]
                .map(String::as_str)
                .into_iter()
                .filter(|text| !text.is_empty())
                .collect::<Vec<_>>()
                .join(", "),
            cell("mixing.consistency", "", 0),
            cell("mixing.water_absorption", "", 1),
            cell("mixing.development_time", "iso", 1),
            cell("mixing.stability", "last", 1),
            trouble_text(run),
        ));
    }
}

fn value_text(truth: &Truth, metric: &str, variant: &str, digits: usize) -> String {
    match truth.get(metric, variant) {
        Some(TruthValue::Exact(value)) => decimal(value, digits),
        Some(TruthValue::Between(low, high)) => {
            format!("{} to {}", decimal(low, digits), decimal(high, digits))
        }
        Some(TruthValue::Above(bound)) => format!("above {}", decimal(bound, digits)),
        Some(TruthValue::Below(bound)) => format!("below {}", decimal(bound, digits)),
        Some(TruthValue::NotReached) => "not reached".to_owned(),
        Some(TruthValue::NotComputable) | None => "not computable".to_owned(),
    }
}

fn trouble_text(run: &GeneratedRun) -> &'static str {
    match run.spec.trouble {
        Trouble::None => "",
        Trouble::RisingToTheEnd => "still rising when the record ends",
        Trouble::NeverAtTheLine => "upper contour never at 500 FU",
        Trouble::FlatPeak => "a plateau, no peak",
        Trouble::DoublePeak => "early hump, late peak",
        Trouble::DropOutsAndSpikes => "three spikes, two drop-outs",
        Trouble::Saturation => "recorder cut off at its full scale of 520 FU",
        Trouble::WrongThermostat => "thermostat at 31.0 °C",
        Trouble::TimeGap => "40 s missing",
        Trouble::TimeStepsBack => "clock steps back by 8 s",
        Trouble::ShortRecord => "record ends at 8 min",
        Trouble::PlainColumns => "two bare columns at 1 s, no conditions stated",
        Trouble::NoRunSheetLine => "no line in the run sheet",
        Trouble::SheetConflict => "run sheet states another moisture than the file",
        Trouble::OutsideTheWindow => "maximum outside 480–520 FU in a final run",
        Trouble::DecimalCommaInPointFile => "decimal commas in a decimal-point file",
        Trouble::BinaryFile => "no text",
        Trouble::DuplicatesApart => "corrected volumes of the two doughs 3.3 ml apart",
        Trouble::UnknownUnit => "unit unknown",
        Trouble::NoBowlSize => "bowl size stated nowhere",
    }
}
