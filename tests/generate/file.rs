//! Files and runs as the generator hands them out.

use super::curve::CurveModel;
use super::extension::ExtensionRun;
use super::facts::Facts;
use super::inflation::DiscRun;
use super::layout::{BubbleLayout, ExtensionLayout, GradeLayout, Layout, StripLayout};
use super::membrane::GradeRow;
use super::samples::{Contours, Recorder, Samples};
use super::strip::StripRun;
use super::truth::{Covered, Rules, Truth, truth_of};
use super::water::Dosing;

/// What is wrong with a run of the awkward day; one thing each.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Trouble {
    /// Nothing.
    None,
    /// The centre still rises when the record ends.
    RisingToTheEnd,
    /// The upper contour never reaches 500 FU.
    NeverAtTheLine,
    /// A plateau of minutes instead of a peak.
    FlatPeak,
    /// An early hump and a late peak.
    DoublePeak,
    /// Drop-outs and spikes of the recorder.
    DropOutsAndSpikes,
    /// The recorder's full scale cuts the band.
    Saturation,
    /// Thermostat off 30 ± 0.2 °C.
    WrongThermostat,
    /// Samples missing.
    TimeGap,
    /// The clock steps back.
    TimeStepsBack,
    /// The record ends before softening can be read.
    ShortRecord,
    /// Two bare columns: no bowl, no flour, no water stated.
    PlainColumns,
    /// The run sheet has no line for the file.
    NoRunSheetLine,
    /// File and run sheet state different moistures.
    SheetConflict,
    /// The maximum of a final run lies outside 480–520 FU.
    OutsideTheWindow,
    /// Decimal commas in a file of a decimal-point layout.
    DecimalCommaInPointFile,
    /// Bytes that are no text.
    BinaryFile,
    /// Corrected volumes of duplicates differ by more than 2.5 ml.
    DuplicatesApart,
    /// Many curves of an unknown unit.
    UnknownUnit,
    /// Bowl size not stated anywhere.
    NoBowlSize,
}

/// Everything about one generated run.
#[derive(Debug, Clone)]
pub struct RunSpec {
    /// What its own file states, as far as the layout has a place for it.
    pub facts: Facts,
    /// What the run sheet states; usually the same.
    pub sheet: Facts,
    /// The curve.
    pub model: CurveModel,
    /// How it was recorded.
    pub recorder: Recorder,
    /// What is wrong with it.
    pub trouble: Trouble,
}

/// One run in a generated file.
#[derive(Debug, Clone)]
pub struct GeneratedRun {
    /// Name of the run.
    pub run_id: String,
    /// Which curve of the file; empty where the file holds one.
    pub selector: String,
    /// How it was made.
    pub spec: RunSpec,
}

impl GeneratedRun {
    /// Returns the run that `spec` makes, as the only curve of its file.
    pub fn alone(spec: RunSpec) -> GeneratedRun {
        GeneratedRun {
            run_id: spec.facts.run_id.clone(),
            selector: String::new(),
            spec,
        }
    }

    /// Returns the run that `spec` makes, as one of several curves of a file.
    pub fn selected(spec: RunSpec) -> GeneratedRun {
        let mut run = GeneratedRun::alone(spec);
        run.selector = run.run_id.clone();
        run
    }

    /// Returns the truth of every metric under `rules`, as far as the record covers the curve.
    ///
    /// Troubles of recording (spikes, gaps, saturation) do not change the truth: it is what an
    /// undamaged record of the same length would show.
    pub fn truth(&self, rules: Rules) -> Truth {
        let sampling = self.spec.recorder.sampling;
        let covered = Covered {
            first_min: sampling.first_min(),
            end_min: sampling.end_min(),
        };
        let truth = truth_of(&self.spec.model, covered, self.dosing(), rules);
        if self.spec.trouble == Trouble::UnknownUnit {
            truth.without_unit(sampling.first_min())
        } else {
            truth
        }
    }

    /// Returns what was put into the bowl, if all of it is stated in the file or the run sheet.
    pub fn dosing(&self) -> Option<Dosing> {
        let (file, sheet) = (&self.spec.facts, &self.spec.sheet);
        Some(Dosing {
            bowl_g: file.bowl_g.or(sheet.bowl_g)?,
            moisture_pct: file.moisture_pct.or(sheet.moisture_pct)?,
            flour_g: file.flour_g.or(sheet.flour_g)?,
            water_ml: file.water_ml.or(sheet.water_ml)?,
        })
    }

    /// Returns the sampled record, before it is rounded into a file.
    pub fn samples(&self) -> Samples {
        self.spec.recorder.record(&self.spec.model)
    }

    /// Returns the sampled contours, for layouts that supply three traces.
    pub fn contours(&self) -> Contours {
        self.spec.recorder.record_contours(&self.spec.model)
    }
}

/// What a generated file is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum FileKind {
    /// Mixing curves in a layout.
    Curves(Layout),
    /// An extension curve in a layout.
    Extension(ExtensionLayout),
    /// Strips drawn out by a hook in a layout.
    Strips(StripLayout),
    /// Discs blown up in a layout.
    Discs(BubbleLayout),
    /// Grades of membrane stretches in a layout.
    Grades(GradeLayout),
    /// A run sheet.
    RunSheet,
    /// A file that cannot be read.
    Unreadable,
    /// Words for people.
    Readme,
}

/// One generated file.
#[derive(Debug, Clone)]
pub struct GeneratedFile {
    /// Path below the folder of sample runs, with `/`.
    pub path: String,
    /// What it is.
    pub kind: FileKind,
    /// Its bytes.
    pub bytes: Vec<u8>,
    /// Its mixing runs; none for run sheets and unreadable files.
    pub runs: Vec<GeneratedRun>,
    /// Its extension runs.
    pub pieces: Vec<ExtensionRun>,
    /// Its strips.
    pub strips: Vec<StripRun>,
    /// Its discs.
    pub discs: Vec<DiscRun>,
    /// Its graded stretches.
    pub grades: Vec<GradeRow>,
}

impl GeneratedFile {
    /// Returns a file that holds no run.
    pub fn new(path: String, kind: FileKind, bytes: Vec<u8>) -> GeneratedFile {
        GeneratedFile {
            path,
            kind,
            bytes,
            runs: Vec::new(),
            pieces: Vec::new(),
            strips: Vec::new(),
            discs: Vec::new(),
            grades: Vec::new(),
        }
    }

    /// Returns a file of mixing curves in `layout`.
    pub fn of_runs(path: String, layout: Layout, runs: Vec<GeneratedRun>) -> GeneratedFile {
        let bytes = layout.write(&runs);
        let mut file = GeneratedFile::new(path, FileKind::Curves(layout), bytes);
        file.runs = runs;
        file
    }

    /// Returns a file of one extension curve in `layout`.
    pub fn of_piece(path: String, layout: ExtensionLayout, piece: ExtensionRun) -> GeneratedFile {
        let bytes = layout.write(&piece);
        let mut file = GeneratedFile::new(path, FileKind::Extension(layout), bytes);
        file.pieces = vec![piece];
        file
    }

    /// Returns a file of strips in `layout`.
    pub fn of_strips(path: String, layout: StripLayout, strips: Vec<StripRun>) -> GeneratedFile {
        let bytes = layout.write(&strips);
        let mut file = GeneratedFile::new(path, FileKind::Strips(layout), bytes);
        file.strips = strips;
        file
    }

    /// Returns a file of discs in `layout`.
    pub fn of_discs(path: String, layout: BubbleLayout, discs: Vec<DiscRun>) -> GeneratedFile {
        let bytes = layout.write(&discs);
        let mut file = GeneratedFile::new(path, FileKind::Discs(layout), bytes);
        file.discs = discs;
        file
    }

    /// Returns an observation sheet in `layout`.
    pub fn of_grades(path: String, layout: GradeLayout, grades: Vec<GradeRow>) -> GeneratedFile {
        let bytes = layout.write(&grades);
        let mut file = GeneratedFile::new(path, FileKind::Grades(layout), bytes);
        file.grades = grades;
        file
    }

    /// Returns the last part of the path.
    pub fn name(&self) -> &str {
        self.path.rsplit('/').next().unwrap_or(&self.path)
    }
}
