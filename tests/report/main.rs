//! The day report, on a day built by hand.
#![cfg(feature = "report")]
#![expect(
    clippy::unwrap_used,
    reason = "a test stops at the first thing that is not as built"
)]

mod cards;
mod island;
mod page;
mod study;
mod summary;

use island::{awkward_day, charts, good_day};

/// Writes the pages that a person looks at; needs the folder in `DOUGHTRACE_PAGES`.
#[test]
#[ignore = "writes pages to look at, into the folder named in DOUGHTRACE_PAGES"]
fn write_pages_to_look_at() {
    let folder = std::path::PathBuf::from(std::env::var("DOUGHTRACE_PAGES").unwrap());
    let mut wide = good_day(8);
    for run in &mut wide.day.runs {
        island::widen(run, 10);
    }
    let pages = [
        ("good", good_day(8)),
        ("awkward", awkward_day(8)),
        ("wide", wide),
        ("month", good_day(334)),
    ];
    for (name, mut island) in pages {
        if name != "month" {
            island.charts = charts(&island.day);
        }
        std::fs::write(folder.join(format!("{name}.html")), island.page()).unwrap();
    }
}
