//! RO-Crate 1.1 metadata of an export, with the events as actions (Process Run Crate 0.5).

use super::super::ProcessError;
use super::export::{Export, SUMS, Written, made_by};
use super::review::Hand;
use crate::archive::{Action, Entry};
use serde_json::{Value, json};
use std::collections::{BTreeMap, BTreeSet};

/// Name that the standard gives the file.
pub(super) const FILE: &str = "ro-crate-metadata.json";

const PROFILE: &str = "https://w3id.org/ro/wfrun/process/0.5";
/// Term for a file's SHA-256, which the standard's own context does not have.
const SHA256: &str = "https://w3id.org/ro/terms/workflow-run#sha256";

/// Returns the metadata of everything written so far.
pub(super) fn describe(export: &Export<'_>, hand: &Hand<'_>) -> Result<String, ProcessError> {
    let mut graph = vec![descriptor()];
    let mut people: BTreeSet<String> = BTreeSet::from([hand.who.to_owned()]);
    let mut tools: BTreeSet<String> = BTreeSet::from([super::super::plan::software()]);
    let mut actions = Vec::new();
    let mut by_digest: BTreeMap<&str, &str> = BTreeMap::new();
    for file in &export.files {
        by_digest.entry(file.sha256.as_str()).or_insert(&file.path);
    }
    for entry in export.reader.events()? {
        let entry = entry?;
        let is_action = matches!(entry.event.action, Action::Import | Action::Derive);
        let made = made_by(&export.files, &entry);
        if !is_action || made.is_empty() {
            continue;
        }
        people.insert(entry.event.who.clone());
        tools.insert(entry.event.tool.clone());
        actions.push(action(&entry, &made, &by_digest));
    }
    actions.push(own_action(export, hand));
    graph.push(root(export, hand, &actions));
    graph.extend(export.files.iter().map(file));
    graph.push(json!({
        "@id": SUMS, "@type": "File", "name": "SHA-256 of every file",
        "description": "Check the whole export with: sha256sum -c SHA256SUMS",
        "encodingFormat": "text/plain",
    }));
    graph.push(json!({
        "@id": "#licence", "@type": "CreativeWork", "name": "Licence of these data",
        "description": "The owner of the archive states under which licence these data are handed over.",
    }));
    graph.push(json!({
        "@id": PROFILE, "@type": "CreativeWork", "name": "Process Run Crate", "version": "0.5",
    }));
    graph.extend(
        people
            .iter()
            .map(|name| json!({ "@id": person(name), "@type": "Person", "name": name })),
    );
    graph.extend(tools.iter().map(|name| tool_entity(name)));
    graph.extend(actions);
    let whole = json!({
        "@context": ["https://w3id.org/ro/crate/1.1/context", { "sha256": SHA256 }],
        "@graph": graph,
    });
    let text =
        serde_json::to_string_pretty(&whole).map_err(|e| ProcessError::Internal(e.to_string()))?;
    Ok(format!("{text}\n"))
}

fn descriptor() -> Value {
    json!({
        "@id": FILE, "@type": "CreativeWork",
        "conformsTo": { "@id": "https://w3id.org/ro/crate/1.1" },
        "about": { "@id": "./" },
    })
}

fn root(export: &Export<'_>, hand: &Hand<'_>, actions: &[Value]) -> Value {
    let mut parts: Vec<Value> = export
        .files
        .iter()
        .map(|f| reference(&path_id(&f.path)))
        .collect();
    parts.push(reference(SUMS));
    let mentions: Vec<Value> = actions
        .iter()
        .filter_map(|action| action.get("@id").and_then(Value::as_str))
        .map(reference)
        .collect();
    let head = export.reader.head();
    json!({
        "@id": "./", "@type": "Dataset",
        "name": "Dough tests: originals, numbers and the record of who did what",
        "description": format!(
            "Export of an archive of dough tests as of ledger line {} ({}). originals/ holds files as received; tables/ the results in force (and those superseded); ledger/ every event with person, time, program, parameters and reasons.",
            head.seq, head.digest
        ),
        "datePublished": super::place::ledger_time(hand.when),
        "author": reference(&person(hand.who)),
        "license": reference("#licence"),
        "conformsTo": reference(PROFILE),
        "hasPart": parts,
        "mentions": mentions,
    })
}

fn action(entry: &Entry, made: &[&str], by_digest: &BTreeMap<&str, &str>) -> Value {
    let event = &entry.event;
    let objects: Vec<Value> = event
        .inputs
        .iter()
        .filter_map(|item| item.digest.as_ref())
        .filter_map(|digest| by_digest.get(digest.as_str()))
        .map(|path| reference(&path_id(path)))
        .collect();
    let results: Vec<Value> = made.iter().map(|path| reference(&path_id(path))).collect();
    let mut action = json!({
        "@id": format!("#event-{}", entry.seq), "@type": "CreateAction",
        "name": format!("{}, ledger line {}", event.action, entry.seq),
        "description": match event.action {
            Action::Import => "Files were taken in as received.",
            _ => "Results were derived from the files taken in; parameters stand in the ledger.",
        },
        "agent": reference(&person(&event.who)),
        "instrument": reference(&tool_id(&event.tool)),
        "startTime": event.when, "endTime": event.when,
        "actionStatus": "http://schema.org/CompletedActionStatus",
        "result": results,
    });
    if let (false, Some(map)) = (objects.is_empty(), action.as_object_mut()) {
        map.insert("object".into(), Value::Array(objects));
    }
    action
}

/// The action of the export itself: the files that no event made.
fn own_action(export: &Export<'_>, hand: &Hand<'_>) -> Value {
    let when = super::place::ledger_time(hand.when);
    let made: Vec<Value> = export
        .files
        .iter()
        .filter(|file| file.seq.is_none() && !file.path.starts_with("ledger/"))
        .map(|file| reference(&path_id(&file.path)))
        .collect();
    let from: Vec<Value> = export
        .files
        .iter()
        .filter(|file| file.path.starts_with("ledger/"))
        .map(|file| reference(&path_id(&file.path)))
        .collect();
    json!({
        "@id": "#export", "@type": "CreateAction", "name": "Export of the archive",
        "description": "Tables in force were gathered from the archive.",
        "agent": reference(&person(hand.who)),
        "instrument": reference(&tool_id(&super::super::plan::software())),
        "startTime": when, "endTime": when,
        "actionStatus": "http://schema.org/CompletedActionStatus",
        "object": from,
        "result": made,
    })
}

fn file(file: &Written) -> Value {
    let (kind, what) = match file.path.rsplit('.').next() {
        Some("csv") => ("text/csv", "comma-separated values"),
        Some("parquet") => ("application/vnd.apache.parquet", "Parquet"),
        Some("toml") => ("application/toml", "import profile"),
        Some("jsonl") => ("application/jsonl", "ledger"),
        Some("txt" | "tsv" | "dat") => ("text/plain", "text"),
        _ => ("application/octet-stream", "file"),
    };
    json!({
        "@id": path_id(&file.path), "@type": "File", "name": file.path,
        "description": match file.path.split('/').next() {
            Some("originals") => format!("As received ({what})"),
            Some("originals-earlier") => format!("As received, an earlier version ({what})"),
            Some("ledger") => "Record of every event, each line with its digest and that of the line before".to_owned(),
            _ => format!("Table ({what})"),
        },
        "encodingFormat": kind,
        "contentSize": file.bytes.to_string(),
        "sha256": file.sha256,
    })
}

fn tool_entity(name: &str) -> Value {
    let (title, version) = name.split_once(' ').unwrap_or((name, ""));
    json!({
        "@id": tool_id(name), "@type": "SoftwareApplication", "name": title,
        "softwareVersion": version,
    })
}

fn reference(id: &str) -> Value {
    json!({ "@id": id })
}

fn person(name: &str) -> String {
    format!("#person-{}", escape(name).replace('/', "%2F"))
}

fn tool_id(name: &str) -> String {
    format!("#software-{}", escape(name).replace('/', "%2F"))
}

/// Returns a path as a relative address (RFC 3986).
fn path_id(path: &str) -> String {
    escape(path)
}

fn escape(text: &str) -> String {
    let mut escaped = String::with_capacity(text.len());
    for byte in text.bytes() {
        if byte.is_ascii_alphanumeric() || b"-._~/=".contains(&byte) {
            escaped.push(char::from(byte));
        } else {
            escaped.push_str(&format!("%{byte:02X}"));
        }
    }
    escaped
}
