//! The workbook for a spreadsheet, read back by a general-purpose library (calamine).

#![cfg(feature = "cli")]
#![allow(clippy::unwrap_used, clippy::panic, reason = "tests may stop")]

mod program;

use calamine::{Data, Reader as _, Xlsx};
use doughtrace::report::{Sheet, SheetColumn, workbook};
use doughtrace::schema::Cell;
use program::{expect_code, run, table};
use std::io::Cursor;

#[test]
fn a_day_comes_back_number_by_number() {
    let folder = tempfile::tempdir().unwrap();
    let (day, out) = (folder.path().join("day"), folder.path().join("book"));
    let (day, out) = (day.to_str().unwrap(), out.to_str().unwrap());
    let clean = "sample-runs/clean-day";
    expect_code(&run(&["process", clean, "--out", day, "--no-charts"]), 0);
    let export = ["export", "--archive", day, "--out", out, "--as", "xlsx"];
    expect_code(&run(&export), 0);
    let bytes = std::fs::read(format!("{out}/doughtrace.xlsx")).unwrap();
    let mut book: Xlsx<_> = Xlsx::new(Cursor::new(bytes)).unwrap();
    assert_eq!(
        book.sheet_names(),
        ["about", "results", "runs", "observations", "definitions"]
    );
    let sheet = book.worksheet_range("results").unwrap();
    let mut rows = sheet.rows();
    let head: Vec<String> = rows
        .next()
        .unwrap()
        .iter()
        .map(ToString::to_string)
        .collect();
    let _units = rows.next().unwrap();
    let at = |name: &str| head.iter().position(|h| h == name).unwrap();
    let of_csv = table(std::path::Path::new(day), "results.csv");
    let mut compared = 0;
    for (row, csv) in rows.zip(&of_csv) {
        assert_eq!(row[at("result_id")].to_string(), csv["result_id"]);
        match &row[at("value")] {
            Data::Empty => assert_eq!(csv["value"], ""),
            Data::Float(value) => {
                // XLSX keeps 17 digits or fewer; the CSV keeps the shortest that comes back.
                let expected: f64 = csv["value"].parse().unwrap();
                assert!(
                    (value - expected).abs() <= 1e-12 * expected.abs(),
                    "{csv:?}"
                );
                compared += 1;
            }
            other => panic!("value is {other:?}"),
        }
    }
    assert_eq!(sheet.height(), of_csv.len() + 2);
    assert!(compared > 100, "{compared}");
    let definitions = book.worksheet_range("definitions").unwrap();
    let names: Vec<String> = definitions.rows().map(|r| r[0].to_string()).collect();
    assert!(names.iter().any(|n| n == "mixing.development_time"));
    assert!(names.iter().any(|n| n == "results.std_uncertainty"));
}

#[test]
fn text_that_begins_like_a_formula_stays_text() {
    let texts = [
        "=1+1",
        "+1",
        "-2",
        "@SUM(A1)",
        "\t=3",
        "plain\u{7}bell",
        "=HYPERLINK(\"x\")",
    ];
    let column = |name: &str| SheetColumn {
        name: name.to_owned(),
        unit: String::new(),
        meaning: "=4".to_owned(),
    };
    let sheet = Sheet {
        name: "notes".to_owned(),
        meaning: "Notes.".to_owned(),
        columns: vec![column("note"), column("=5"), column("n")],
        rows: texts
            .iter()
            .map(|t| {
                vec![
                    Cell::Text((*t).to_owned()),
                    Cell::Flag(true),
                    Cell::Integer(i64::MAX),
                ]
            })
            .collect(),
    };
    let about = [("=6".to_owned(), "=7".to_owned())];
    let made = || {
        workbook(
            &about,
            std::slice::from_ref(&sheet),
            &[],
            "2026-03-12 10:00:00 UTC",
        )
    };
    let bytes = made().unwrap();
    assert_eq!(
        bytes,
        made().unwrap(),
        "the same tables give the same bytes"
    );
    let mut book: Xlsx<_> = Xlsx::new(Cursor::new(bytes)).unwrap();
    for name in book.sheet_names() {
        let formulas = book.worksheet_formula(&name).unwrap();
        assert!(
            formulas.cells().all(|(_, _, f)| f.is_empty()),
            "{name} computes"
        );
    }
    let range = book.worksheet_range("notes").unwrap();
    for (row, text) in range.rows().skip(2).zip(texts) {
        let kept: String = text.chars().filter(|c| *c != '\u{7}').collect();
        assert_eq!(row[0], Data::String(kept));
        // A whole number too long for a spreadsheet's numbers keeps its digits as text.
        assert_eq!(row[2], Data::String(i64::MAX.to_string()));
    }
}
