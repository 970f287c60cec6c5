//! The run sheet of the study: the tool's own field names, as many as it takes.

/// Fields of the run sheet, in order.
const FIELDS: [&str; 25] = [
    "sample_id",
    "flour_name",
    "flour_kind",
    "flour_grade",
    "flour_moisture_pct",
    "batch_id",
    "mixer_id",
    "treatment",
    "block",
    "replicate",
    "subsample",
    "hydration_pct",
    "hydration_basis",
    "purpose",
    "procedure",
    "bowl_g",
    "flour_g",
    "water_ml",
    "thermostat_c",
    "water_contact_s",
    "equivalent_radius_mm",
    "instrument_id",
    "operator",
    "started_at",
    "note",
];

/// One line of a run sheet.
#[derive(Debug, Clone, Default)]
pub struct SheetLine {
    file: String,
    curve: String,
    facts: Vec<(&'static str, String)>,
}

impl SheetLine {
    /// Returns the line of a curve of a file; an empty curve means all of it.
    pub fn new(file: &str, curve: &str) -> SheetLine {
        SheetLine {
            file: file.to_owned(),
            curve: curve.to_owned(),
            facts: Vec::new(),
        }
    }

    /// Returns the line with a fact stated, instead of what it said before.
    pub fn with(mut self, field: &'static str, value: &str) -> SheetLine {
        self.facts.retain(|(known, _)| *known != field);
        self.facts.push((field, value.to_owned()));
        self
    }

    fn cell(&self, field: &str) -> &str {
        let fact = self.facts.iter().find(|(known, _)| *known == field);
        fact.map_or("", |(_, value)| value)
    }
}

/// Returns the text of a run sheet; columns that no line fills are left out.
pub fn write<'l>(lines: impl Iterator<Item = &'l SheetLine> + Clone) -> String {
    let used = |field: &&str| lines.clone().any(|line| !line.cell(field).is_empty());
    let fields: Vec<&str> = FIELDS.iter().copied().filter(used).collect();
    let mut out = format!("file,curve,{}\n", fields.join(","));
    for line in lines {
        let cells: Vec<&str> = fields.iter().map(|field| line.cell(field)).collect();
        out.push_str(&format!(
            "{},{},{}\n",
            line.file,
            line.curve,
            cells.join(",")
        ));
    }
    out
}
