//! `doughtrace explain`: what a metric, rule, status, level or exit code means.

use super::{Format, print};
use crate::check;
use crate::derive::METHODS;
use crate::schema::{Address, ExitStatus, MetricCard, ParameterCard, RuleCard, Status};
use anyhow::{Context as _, bail};
use clap::Args;
use serde_json::{Value, json};

#[derive(Debug, Args)]
#[command(after_help = "Examples:
  doughtrace explain
  doughtrace explain mixing.development_time
  doughtrace explain mixing --format json")]
pub(super) struct Options {
    /// Metric, rule, status or exit code, such as mixing.stability, mixing.gap, above, exit-1
    id: Option<String>,
    /// How it is printed
    #[arg(long, value_enum, default_value_t)]
    format: Format,
}

/// One explainable thing.
struct Item {
    id: String,
    kind: &'static str,
    title: String,
    text: String,
    value: Value,
}

pub(super) fn run(options: &Options) -> anyhow::Result<ExitStatus> {
    let items = items();
    let chosen: Vec<&Item> = match &options.id {
        None => items.iter().collect(),
        Some(id) => items.iter().filter(|item| item.id == *id).collect(),
    };
    if let (Some(id), true) = (&options.id, chosen.is_empty()) {
        bail!("nothing is called `{id}`; {}", nearest(id, &items));
    }
    match (options.format, options.id.is_some()) {
        (Format::Json, _) => {
            let values: Vec<&Value> = chosen.iter().map(|item| &item.value).collect();
            print::data(&serde_json::to_string_pretty(&values).context("write JSON")?)?;
        }
        (Format::Csv, _) => {
            let mut rows = vec![["id", "kind", "title"].map(String::from).to_vec()];
            rows.extend(
                chosen
                    .iter()
                    .map(|i| vec![i.id.clone(), i.kind.to_owned(), i.title.clone()]),
            );
            print::data(&print::csv_text(&rows)?)?;
        }
        (Format::Human, true) => {
            for item in chosen {
                print::data(&item.text)?;
            }
        }
        (Format::Human, false) => {
            for item in chosen {
                print::data(&format!("{:34} {:7} {}", item.id, item.kind, item.title))?;
            }
        }
    }
    Ok(ExitStatus::Done)
}

fn items() -> Vec<Item> {
    let mut items = Vec::new();
    for method in METHODS {
        let card = (method.card)();
        let parameters: Vec<String> = card
            .parameters
            .iter()
            .map(|p| format!("    {} = {}: {}", p.name, p.value, p.meaning))
            .collect();
        items.extend(card.metrics.iter().map(metric_item));
        items.push(Item {
            id: card.id.to_owned(),
            kind: "method",
            title: card.name.to_owned(),
            text: format!(
                "{}: {}\nParameters ({}):\n{}",
                card.id,
                card.name,
                ParameterCard::settings_name(&card.parameters),
                parameters.join("\n")
            ),
            value: json!(card),
        });
    }
    items.extend(check::rules().iter().map(|rule| rule_item(&rule.card)));
    items.extend(
        Status::ALL
            .iter()
            .map(|status| plain(status.word().to_owned(), "status", status.meaning())),
    );
    items.extend(
        ExitStatus::ALL
            .iter()
            .map(|status| plain(format!("exit-{}", status.code()), "exit", status.meaning())),
    );
    items
}

fn plain(id: String, kind: &'static str, meaning: &str) -> Item {
    Item {
        text: format!("{id} ({kind}): {meaning}"),
        value: json!({ "id": id, "kind": kind, "meaning": meaning }),
        title: meaning.to_owned(),
        id,
        kind,
    }
}

fn declared(address: &Address) -> String {
    format!("declared at {}:{}", address.file, address.line)
}

fn metric_item(card: &MetricCard) -> Item {
    let mut lines = vec![
        format!(
            "{} — {} ({}), in {}",
            card.id, card.name, card.symbol, card.unit
        ),
        wrap(card.definition),
        format!("Source: {}", card.source.words()),
    ];
    for (number, variant) in card.variants.iter().enumerate() {
        let default = if number == 0 { " (default)" } else { "" };
        lines.push(wrap(&format!(
            "Reading `{}`{default}: {}",
            variant.id, variant.definition
        )));
    }
    lines.push(format!(
        "Revision {}, {} decimals, {}",
        card.revision,
        card.decimals,
        declared(&card.address)
    ));
    Item {
        id: card.id.to_owned(),
        kind: "metric",
        title: format!("{} ({}), {}", card.name, card.symbol, card.unit),
        text: lines.join("\n"),
        value: json!(card),
    }
}

fn rule_item(card: &RuleCard) -> Item {
    let lines = [
        format!("{} — {} (level: {})", card.id, card.title, card.level),
        wrap(card.definition),
        wrap(&format!("What to do: {}", card.what_to_do)),
        format!("Source: {}", card.source.words()),
        format!("Revision {}, {}", card.revision, declared(&card.address)),
    ];
    Item {
        id: card.id.to_owned(),
        kind: "rule",
        title: card.title.to_owned(),
        text: lines.join("\n"),
        value: json!(card),
    }
}

/// Returns `text` in lines of at most 92 characters.
fn wrap(text: &str) -> String {
    let mut lines = vec![String::new()];
    for word in text.split_whitespace() {
        let full = lines
            .last()
            .is_some_and(|line| line.chars().count() + word.chars().count() >= 92);
        if full {
            lines.push(String::new());
        }
        if let Some(line) = lines.last_mut() {
            if !line.is_empty() {
                line.push(' ');
            }
            line.push_str(word);
        }
    }
    lines.join("\n")
}

/// Returns a hint at the names most like `id`: those that hold its last part, or all methods.
fn nearest(id: &str, items: &[Item]) -> String {
    let part = id.rsplit('.').next().unwrap_or(id).to_lowercase();
    let like: Vec<&str> = items
        .iter()
        .filter(|item| {
            let name = item.id.to_lowercase();
            part.len() >= 3 && (name.contains(&part) || item.title.to_lowercase().contains(&part))
        })
        .map(|item| item.id.as_str())
        .take(5)
        .collect();
    if like.is_empty() {
        "list everything with `doughtrace explain`".to_owned()
    } else {
        format!("did you mean {}?", like.join(", "))
    }
}
