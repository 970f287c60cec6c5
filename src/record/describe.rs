//! Published descriptions of the tables, generated from their declarations: Table Schema and Data
//! Package (Frictionless Data), JSON Schema (draft 2020-12).

use super::tables::{BATCHES, CLAIMS, CURVES, FINDINGS, OBSERVATIONS, RESULTS, RUNS, SAMPLES};
use crate::schema::{Column, ColumnKind, Table};
use serde_json::{Map, Value, json};

/// Returns every published description as file name and content.
pub fn all() -> Vec<(String, Value)> {
    let mut files = Vec::new();
    add(&mut files, &SAMPLES);
    add(&mut files, &BATCHES);
    add(&mut files, &RUNS);
    add(&mut files, &CURVES);
    add(&mut files, &OBSERVATIONS);
    add(&mut files, &RESULTS);
    add(&mut files, &FINDINGS);
    add(&mut files, &CLAIMS);
    files
}

fn add<R>(files: &mut Vec<(String, Value)>, table: &Table<R>) {
    files.push((
        format!("{}.table-schema.json", table.name),
        table_schema(table),
    ));
    files.push((format!("{}.schema.json", table.name), json_schema(table)));
}

/// Returns the Table Schema of `table`.
pub fn table_schema<R>(table: &Table<R>) -> Value {
    let fields: Vec<Value> = table.columns.iter().map(table_field).collect();
    json!({ "description": table.meaning, "fields": fields, "missingValues": [""] })
}

fn table_field<R>(column: &Column<R>) -> Value {
    let mut field = Map::new();
    field.insert("name".into(), json!(column.name));
    let kind = match column.kind {
        ColumnKind::Text | ColumnKind::Choice(_) => "string",
        ColumnKind::Number => "number",
        ColumnKind::Integer => "integer",
        ColumnKind::Flag => "boolean",
    };
    field.insert("type".into(), json!(kind));
    field.insert("description".into(), json!(column.meaning));
    if let Some(unit) = column.unit {
        field.insert("unit".into(), json!(unit.symbol()));
    }
    let mut constraints = Map::new();
    if column.required {
        constraints.insert("required".into(), json!(true));
    }
    if let ColumnKind::Choice(words) = column.kind {
        constraints.insert("enum".into(), json!(words));
    }
    if !constraints.is_empty() {
        field.insert("constraints".into(), Value::Object(constraints));
    }
    Value::Object(field)
}

/// Returns the JSON Schema of one row of `table`.
pub fn json_schema<R>(table: &Table<R>) -> Value {
    let mut properties = Map::new();
    let mut required = Vec::new();
    for column in table.columns {
        properties.insert(column.name.into(), json_property(column));
        if column.required {
            required.push(column.name);
        }
    }
    json!({
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": table.name,
        "description": table.meaning,
        "type": "object",
        "properties": properties,
        "required": required,
        "additionalProperties": false,
    })
}

fn json_property<R>(column: &Column<R>) -> Value {
    let kind = match column.kind {
        ColumnKind::Text | ColumnKind::Choice(_) => "string",
        ColumnKind::Number => "number",
        ColumnKind::Integer => "integer",
        ColumnKind::Flag => "boolean",
    };
    let mut property = Map::new();
    property.insert("type".into(), json!(kind));
    if let ColumnKind::Choice(words) = column.kind {
        property.insert("enum".into(), json!(words));
    }
    let unit = column
        .unit
        .map(|u| format!(" Unit: {u}."))
        .unwrap_or_default();
    property.insert(
        "description".into(),
        json!(format!("{}{unit}", column.meaning)),
    );
    Value::Object(property)
}

/// Returns the data package that describes the CSV tables of an output folder. Parquet files are
/// named under a property of our own: readers of the package need not know them.
pub fn data_package() -> Value {
    let resources = vec![
        resource(&SAMPLES),
        resource(&BATCHES),
        resource(&RUNS),
        resource(&OBSERVATIONS),
        resource(&RESULTS),
        resource(&FINDINGS),
    ];
    let parquet: Vec<String> = [
        "samples",
        "batches",
        "runs",
        "observations",
        "results",
        "findings",
        "curves",
    ]
    .iter()
    .map(|name| format!("tables/{name}.parquet"))
    .collect();
    json!({
        "name": "doughtrace-day",
        "title": "Tables of one day of dough tests",
        "profile": "tabular-data-package",
        "doughtrace_parquet": parquet,
        "resources": resources,
    })
}

/// Returns the data package that describes the CSV tables of a study's output folder.
pub fn study_package() -> Value {
    json!({
        "name": "doughtrace-study",
        "title": "Claims of one study",
        "profile": "tabular-data-package",
        "doughtrace_parquet": ["tables/claims.parquet"],
        "resources": [resource(&CLAIMS)],
    })
}

fn resource<R>(table: &Table<R>) -> Value {
    json!({
        "name": table.name,
        "path": format!("tables/{}.csv", table.name),
        "profile": "tabular-data-resource",
        "format": "csv",
        "mediatype": "text/csv",
        "encoding": "utf-8",
        "schema": table_schema(table),
    })
}
