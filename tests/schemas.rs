//! Published descriptions: what stands in `schemas/` is what the code says.
//!
//! `UPDATE=1 cargo test --no-default-features --test schemas` rewrites the files.

#![allow(clippy::unwrap_used, reason = "tests may stop")]

use doughtrace::check;
use doughtrace::derive::METHODS;
use doughtrace::record::describe;
use std::fmt::Write as _;
use std::path::Path;

fn generated() -> Vec<(String, String)> {
    let mut files: Vec<(String, String)> = describe::all()
        .into_iter()
        .map(|(name, value)| (name, serde_json::to_string_pretty(&value).unwrap() + "\n"))
        .collect();
    files.push(("metrics.md".into(), metrics_page()));
    files
}

/// Returns the handbook a user reads: every metric, parameter and rule.
fn metrics_page() -> String {
    let mut page = String::from(
        "# Metrics and rules\n\nGenerated from the declarations in `src/derive` and `src/check`; \
         `doughtrace explain ID` prints the same. Definitions are modelled on the standards named \
         and were not checked against their text.\n",
    );
    for method in METHODS {
        let card = (method.card)();
        write!(page, "\n## {}: {}\n", card.id, card.name).unwrap();
        for metric in &card.metrics {
            write!(
                page,
                "\n### `{}` {} ({}), {}\n\n{}\n\nSource: {}. Revision {}, {} decimals, `{}`.\n",
                metric.id,
                metric.name,
                metric.symbol,
                metric.unit,
                metric.definition,
                metric.source.words(),
                metric.revision,
                metric.decimals,
                metric.address.file,
            )
            .unwrap();
            for variant in metric.variants {
                write!(page, "\n- reading `{}`: {}", variant.id, variant.definition).unwrap();
            }
            if !metric.variants.is_empty() {
                page.push('\n');
            }
        }
        if !card.parameters.is_empty() {
            page.push_str("\nParameters:\n\n| name | value | meaning |\n|---|---|---|\n");
            for parameter in &card.parameters {
                writeln!(
                    page,
                    "| {} | {} | {} |",
                    parameter.name, parameter.value, parameter.meaning
                )
                .unwrap();
            }
        }
    }
    page.push_str("\n## Rules\n\n| rule | level | what is checked | what to do | source |\n|---|---|---|---|---|\n");
    for rule in check::rules() {
        let card = rule.card;
        writeln!(
            page,
            "| `{}` | {} | {} | {} | {} |",
            card.id,
            card.level,
            card.definition,
            card.what_to_do,
            card.source.words()
        )
        .unwrap();
    }
    page
}

#[test]
fn published_descriptions_are_current() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("schemas");
    let update = std::env::var_os("UPDATE").is_some();
    for (name, text) in generated() {
        let path = folder.join(&name);
        if update {
            std::fs::write(&path, &text).unwrap();
        }
        let stands = std::fs::read_to_string(&path).unwrap_or_default();
        assert!(
            stands == text,
            "schemas/{name} is not what the code says; run UPDATE=1 cargo test --no-default-features --test schemas"
        );
    }
}

#[test]
fn no_description_is_left_over() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("schemas");
    let known: Vec<String> = generated().into_iter().map(|(name, _)| name).collect();
    for entry in std::fs::read_dir(folder).unwrap() {
        let name = entry.unwrap().file_name().to_string_lossy().into_owned();
        assert!(
            name == "profiles" || known.contains(&name),
            "schemas/{name} is described by nothing"
        );
    }
}

#[test]
fn json_schemas_are_valid_and_can_refuse_a_row() {
    for (name, schema) in describe::all()
        .into_iter()
        .filter(|(n, _)| n.ends_with(".schema.json"))
    {
        let validator = jsonschema::validator_for(&schema).unwrap();
        assert!(
            !validator.is_valid(&serde_json::json!({})),
            "{name} takes an empty row"
        );
        assert!(
            !validator.is_valid(&serde_json::json!({ "nonsense": 1 })),
            "{name}"
        );
    }
    let (_, findings) = describe::all()
        .into_iter()
        .find(|(name, _)| name == "findings.schema.json")
        .unwrap();
    let validator = jsonschema::validator_for(&findings).unwrap();
    let row = serde_json::json!({
        "rule": "mixing.gap", "revision": 1, "level": "warn", "words": "w", "what_to_do": "d"
    });
    assert!(validator.is_valid(&row));
}
