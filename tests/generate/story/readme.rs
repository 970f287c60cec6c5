//! The page that stands beside the sample runs.

use super::super::facts::decimal;
use super::super::file::{FileKind, GeneratedFile, GeneratedRun, Trouble};
use super::super::truth::{Rules, Truth, TruthValue};
use std::collections::BTreeSet;

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

The machines themselves show in the full day: pieces of the doughs they mixed are stretched by a
hook after 45, 90 and 135 minutes of rest, and others are stretched by hand into a membrane that
two graders judge without knowing which dough they hold.

That finer wholemeal takes up more water, develops sooner and softens faster is written from
memory; how much is invented.

## How the curves are made

A centre line (fast wetting, slower development, softening), a band about it, the ripple of two
blades at 63 and 94.5 turns a minute, white noise, and in some runs a short wetting spike in the
first seconds. The metrics' truth is read from the noise-free curve by their definitions. Tables
below: development time is the end of the top within 2 FU of its maximum.
";

const MIXING_HEAD: &str = "| file | layout | run | blend, method, block | consistency, FU \
| absorption, ml/100 g | development, min | stability, min | trouble |
|---|---|---|---|---|---|---|---|---|
";

const PIECES_HEAD: &str = "| file | layout | method, block, piece | rest, min | R50, EU | Rm, EU \
| E, mm | area, cm² | trouble |
|---|---|---|---|---|---|---|---|---|
";

const GRADES_HEAD: &str = "| file | layout | rows | doughs | overmixed | what is missing |
|---|---|---|---|---|---|
";

/// Returns the page, with tables of the given files.
pub fn readme(files: &[GeneratedFile]) -> GeneratedFile {
    let mut out = String::from(WORDS);
    for (folder, title, lead) in [
        (
            "clean-day",
            "Clean day",
            "24 final runs: two blends, three methods, two blocks, two doughs each. Nothing to \
             redo.",
        ),
        (
            "awkward-day",
            "Awkward day",
            "One trouble each. SM-217 and SM-218 cannot be read; SM-214 has no line in the run \
             sheet.",
        ),
        (
            "full-day",
            "Full day",
            "Mixing, extension and membrane records: three blends, two blocks, a hydration \
             series, repeated doughs, two graders, and some troubles.",
        ),
    ] {
        out.push_str(&format!(
            "\n## {title}: `{folder}/`\n\n{lead}\n\n{MIXING_HEAD}"
        ));
        let of_day = || files.iter().filter(move |f| f.path.starts_with(folder));
        for file in of_day().filter(|f| f.pieces.is_empty() && f.grades.is_empty()) {
            push_rows(&mut out, file);
        }
        if of_day().any(|f| !f.pieces.is_empty()) {
            out.push_str(&format!("\nStretched pieces:\n\n{PIECES_HEAD}"));
            of_day().for_each(|file| push_pieces(&mut out, file));
        }
        if of_day().any(|f| !f.grades.is_empty()) {
            out.push_str(&format!("\nGraded membranes:\n\n{GRADES_HEAD}"));
            of_day().for_each(|file| push_grades(&mut out, file));
        }
    }
    GeneratedFile::new("README.md".to_owned(), FileKind::Readme, out.into_bytes())
}

fn push_pieces(out: &mut String, file: &GeneratedFile) {
    let FileKind::Extension(layout) = file.kind else {
        return;
    };
    for run in &file.pieces {
        let truth = run.truth();
        let cell = |metric, digits| value_text(&truth, metric, "", digits);
        let facts = &run.facts;
        out.push_str(&format!(
            "| {} | {} | {}, {}, {} | {} | {} | {} | {} | {} | {} |\n",
            file.name(),
            layout.profile(),
            facts.treatment,
            facts.block,
            facts.piece,
            decimal(facts.rest_planned_min, 0),
            cell("extension.resistance_50mm", 0),
            cell("extension.maximum_resistance", 0),
            cell("extension.extensibility", 0),
            cell("extension.energy_area", 0),
            run.trouble,
        ));
    }
}

fn push_grades(out: &mut String, file: &GeneratedFile) {
    let FileKind::Grades(layout) = file.kind else {
        return;
    };
    let rows = &file.grades;
    let doughs: BTreeSet<&str> = rows.iter().map(|r| r.batch_id.as_str()).collect();
    let no_codebook = rows.iter().filter(|r| r.codebook.is_empty()).count();
    let no_scale = rows
        .iter()
        .filter(|r| !r.photo.is_empty() && r.px_per_mm.is_none())
        .count();
    out.push_str(&format!(
        "| {} | {} | {} | {} | {} | codebook in {no_codebook}, scale of a photo in {no_scale} |\n",
        file.name(),
        layout.profile(),
        rows.len(),
        doughs.len(),
        rows.iter().filter(|r| r.overmixed).count(),
    ));
}

fn push_rows(out: &mut String, file: &GeneratedFile) {
    let layout = match file.kind {
        FileKind::Curves(layout) => layout.profile(),
        FileKind::RunSheet => "run sheet",
        FileKind::Unreadable => "cannot be read",
        FileKind::Extension(layout) => layout.profile(),
        FileKind::Grades(layout) => layout.profile(),
        FileKind::Strips(layout) => layout.profile(),
        FileKind::Discs(layout) => layout.profile(),
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
        Some(TruthValue::Rejected) => "rejected".to_owned(),
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
