//! The document around every report: style, script, content policy, and the templates.

use super::ReportError;
use base64::Engine as _;
use minijinja::syntax::SyntaxConfig;
use minijinja::value::Serde;
use minijinja::{AutoEscape, Environment, UndefinedBehavior, Value};
use serde::Serialize;

const STYLE: &str = include_str!("templates/style.css");
const SCRIPT: &str = include_str!("templates/script.js");

macro_rules! templates {
    ($($name:literal),+ $(,)?) => {
        &[$(($name, include_str!(concat!("templates/", $name)))),+]
    };
}

/// Template name and text; every name ends in `.html`, and all of them escape what they print.
const TEMPLATES: &[(&str, &str)] = templates![
    "document.html",
    "parts.html",
    "shared.html",
    "day.html",
    "front.html",
    "metrics.html",
    "together.html",
    "grades.html",
    "pictures.html",
    "findings.html",
    "definitions.html",
    "trace.html",
    "trend.html",
    "study.html",
    "study_claims.html",
    "study_claim.html",
    "study_end.html",
];

/// What stands around the content of a report.
#[derive(Debug, Serialize)]
pub(super) struct Document<'a> {
    title: &'a str,
    style: Value,
    script: Value,
    policy: String,
}

impl<'a> Document<'a> {
    /// Returns the document called `title`; `foot` is printed at the foot of each paper page, and
    /// `style` is added to the common style.
    pub(super) fn new(title: &'a str, foot: &'static str, style: &'static str) -> Document<'a> {
        let style = format!(
            "{STYLE}{style}@page{{@bottom-left{{content:\"{foot}\";font:7.5pt sans-serif;color:#57524a}}}}\n"
        );
        Document {
            title,
            policy: content_policy(&style),
            style: Value::from_safe_string(style),
            script: Value::from_safe_string(SCRIPT.to_owned()),
        }
    }
}

/// Returns `page` laid out by the template `name`.
///
/// # Errors
/// [`ReportError::Template`] when a template does not fit its page model.
pub(super) fn lay_out(name: &str, page: &impl Serialize) -> Result<String, ReportError> {
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
    Ok(environment.get_template(name)?.render(Serde(page))?)
}

/// Returns the rule that keeps the page to itself: no address outside, and no style or script but
/// our own, named by digest (W3C Content Security Policy Level 3). Text that slipped through the
/// escaping could still not run.
fn content_policy(style: &str) -> String {
    use sha2::Digest as _;
    let digest = |text: &str| {
        base64::engine::general_purpose::STANDARD.encode(sha2::Sha256::digest(text.as_bytes()))
    };
    format!(
        "default-src 'none'; img-src data: file: 'self'; style-src 'sha256-{}'; script-src 'sha256-{}'; base-uri 'none'; form-action 'none'",
        digest(style),
        digest(SCRIPT)
    )
}
