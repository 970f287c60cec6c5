//! The page model: what the templates lay out, as plain serialisable data.

mod definitions;
mod deliveries;
mod findings;
mod front;
mod grades;
mod metrics;
mod pictures;
mod prose;
mod together;
mod trace;

use super::{DayReport, ReportError};
use base64::Engine as _;
use minijinja::syntax::SyntaxConfig;
use minijinja::value::Serde;
use minijinja::{AutoEscape, Environment, UndefinedBehavior, Value};
use serde::Serialize;

const STYLE: &str = include_str!("../templates/style.css");
const SCRIPT: &str = include_str!("../templates/script.js");

/// Template name and text; every name ends in `.html`, and all of them escape what they print.
const TEMPLATES: &[(&str, &str)] = &[
    ("day.html", include_str!("../templates/day.html")),
    ("front.html", include_str!("../templates/front.html")),
    ("metrics.html", include_str!("../templates/metrics.html")),
    ("together.html", include_str!("../templates/together.html")),
    ("grades.html", include_str!("../templates/grades.html")),
    ("pictures.html", include_str!("../templates/pictures.html")),
    ("findings.html", include_str!("../templates/findings.html")),
    (
        "definitions.html",
        include_str!("../templates/definitions.html"),
    ),
    ("trace.html", include_str!("../templates/trace.html")),
    ("parts.html", include_str!("../templates/parts.html")),
];

/// The whole page.
#[derive(Serialize)]
struct Page<'a> {
    title: &'a str,
    style: Value,
    script: Value,
    policy: String,
    front: front::Front,
    tests: Vec<metrics::TestTable>,
    observations: Vec<metrics::ObservationRow>,
    deliveries: Vec<deliveries::DeliveryRow>,
    decision_rule: &'static str,
    together: Vec<together::TogetherTable>,
    grades: grades::Grades,
    pictures: pictures::Pictures,
    findings: findings::Findings,
    definitions: definitions::Definitions,
    trace: trace::Trace,
}

/// Returns the HTML of `report`.
pub(super) fn render(report: &DayReport<'_>) -> Result<String, ReportError> {
    let summary = report.summary();
    let definitions = definitions::lay_out(report);
    let page = Page {
        title: report.title,
        style: Value::from_safe_string(STYLE.to_owned()),
        script: Value::from_safe_string(SCRIPT.to_owned()),
        policy: content_policy(),
        front: front::lay_out(report, &summary),
        tests: metrics::lay_out(report),
        observations: metrics::observations(report.day),
        deliveries: deliveries::lay_out(report),
        decision_rule: crate::record::DECISION_RULE,
        together: together::lay_out(report),
        grades: grades::lay_out(report),
        pictures: pictures::lay_out(report),
        findings: findings::lay_out(report),
        definitions,
        trace: trace::lay_out(report),
    };
    let mut environment = Environment::new();
    environment.set_auto_escape_callback(|_| AutoEscape::Html);
    environment.set_undefined_behavior(UndefinedBehavior::Strict);
    environment.set_syntax(
        SyntaxConfig::builder()
            .trim_blocks(true)
            .lstrip_blocks(true)
            .build()?,
    );
    for (name, text) in TEMPLATES {
        environment.add_template(name, text)?;
    }
    Ok(environment.get_template("day.html")?.render(Serde(&page))?)
}

/// Returns the rule that keeps the page to itself: no address outside, and no style or script but
/// our own, named by digest (W3C Content Security Policy Level 3). Text that slipped through the
/// escaping could still not run.
fn content_policy() -> String {
    use sha2::Digest as _;
    let digest = |text: &str| {
        base64::engine::general_purpose::STANDARD.encode(sha2::Sha256::digest(text.as_bytes()))
    };
    format!(
        "default-src 'none'; img-src data: file: 'self'; style-src 'sha256-{}'; script-src 'sha256-{}'; base-uri 'none'; form-action 'none'",
        digest(STYLE),
        digest(SCRIPT)
    )
}

/// Returns the anchor of run number `index` of the day.
fn run_anchor(index: usize) -> String {
    format!("run-{}", index + 1)
}
