//! What an author of a profile is told, and a layout of a stranger read by writing one.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing,
    reason = "a test may stop at the first surprise"
)]

mod sample_files;

use doughtrace::intake;
use doughtrace::profile::Profile;
use doughtrace::record::Origin;
use doughtrace::schema::{Axis, Channel, Field, Test, Unit};
use sample_files::{builtin, read, runs};

const GOOD: &str = r#"id = "ours"
title = "our layout"
record = "curve"
test = "mixing"
[text]
encoding = "utf-8"
delimiter = "semicolon"
decimal = "point"
[block]
separator = ":"
[block.keys]
"Flour kg" = { field = "flour_g", unit = "kg" }
"Why" = { field = "purpose", words = { "last run" = "final" } }
[constants]
bowl_g = 300
treatment = "spiral"
[curves]
arrangement = "one"
[[columns]]
header = "t"
holds = "time"
format = "seconds"
[[columns]]
header = "Md"
holds = "signal"
unit = "FU"
"#;

/// What is replaced in the good profile, by what, and the whole message.
const BROKEN: &[(&str, &str, &str)] = &[
    (
        "id = \"ours\"",
        "id = \"Our layout\"",
        "profile `Our layout`, key `id`: found `Our layout`; expected 1 to 60 lower-case letters, digits and hyphens; choose a short name such as `our-mixing-layout`",
    ),
    (
        "decimal = \"point\"",
        "decimal = \"dot\"",
        "profile `ours`, key `text.decimal`: found `dot`; expected one of point, comma; write the one that is meant",
    ),
    (
        "decimal = \"point\"\n",
        "",
        "profile `ours`, key `text`: found missing key `decimal` on line 5; expected a key that every profile has; compare with `profile show` of a built-in profile and correct the line",
    ),
    (
        "decimal = \"point\"",
        "decimal_mark = \"point\"",
        "profile `ours`, key `text.decimal_mark`: found unknown key `decimal_mark` on line 8; expected one of `encoding`, `delimiter`, `decimal`, `thousands`, `missing`; compare with `profile show` of a built-in profile and correct the line",
    ),
    (
        "decimal = \"point\"",
        "decimal = 3",
        "profile `ours`, key `text.decimal`: found invalid type: integer `3` on line 8; expected a string; compare with `profile show` of a built-in profile and correct the line",
    ),
    (
        "delimiter = \"semicolon\"\ndecimal = \"point\"",
        "delimiter = \"comma\"\ndecimal = \"comma\"",
        "profile `ours`, key `text.decimal`: found `comma`, the same character as the delimiter; expected two different characters; look at the file again: one of the two is something else",
    ),
    (
        "decimal = \"point\"",
        "decimal = \"point\"\nthousands = \"point\"",
        "profile `ours`, key `text.thousands`: found `point`, the same as the decimal mark; expected a different mark, or none; write thousands = \"none\" if the layout groups no digits",
    ),
    (
        "field = \"flour_g\"",
        "field = \"flour_mass\"",
        "profile `ours`, key `block.keys.\"Flour kg\".field`: found `flour_mass`; expected the name of a field of this tool; the nearest is `flour_name`",
    ),
    (
        "unit = \"kg\"",
        "unit = \"ml\"",
        "profile `ours`, key `block.keys.\"Flour kg\".unit`: found `ml`; expected a unit of the same quantity as `g`; correct the unit, or the field it belongs to",
    ),
    (
        "\"final\"",
        "\"finish\"",
        "profile `ours`, key `block.keys.\"Why\".words.\"last run\"`: found `finish`; expected one of titration, final, study; write the one that is meant",
    ),
    (
        "bowl_g = 300",
        "bowl_g = \"big\"",
        "profile `ours`, key `constants.bowl_g`: found `\"big\"`; expected a number in g; correct the value",
    ),
    (
        "arrangement = \"one\"",
        "arrangement = \"side-by-side\"",
        "profile `ours`, key `columns`: found arrangement `side-by-side`; expected a header with {run} or {curve} for curves side by side, and only for them; write the header of the repeated column as in the file, with {run} for the name",
    ),
    (
        "holds = \"signal\"",
        "holds = \"twist\"",
        "profile `ours`, key `columns.2.holds`: found `twist`; expected one of time, chart-mm, hook-travel-mm, volume-ml, probe-travel-mm, signal, upper, middle, lower, temperature, block-temperature, torque, power, speed, pump-pressure, water-flow, flour-flow, jet-speed, index, ignore; write the one that is meant",
    ),
    (
        "unit = \"FU\"",
        "unit = \"units\"",
        "profile `ours`, key `columns.2.unit`: found `units`; expected a unit that channel `signal` is recorded in, \"a.u.\" for a curve whose unit nobody documented; write one of FU, a.u., EU, mm, cm, g, kg, %, N m, N, gf, kPa, mm H2O, W, bar, Pa, kW",
    ),
    (
        "unit = \"FU\"",
        "unit = \"s\"",
        "profile `ours`, key `columns.2.unit`: found `s`; expected a unit that channel `signal` is recorded in, \"a.u.\" for a curve whose unit nobody documented; write one of FU, a.u., EU, mm, cm, g, kg, %, N m, N, gf, kPa, mm H2O, W, bar, Pa, kW",
    ),
    (
        "header = \"Md\"",
        "header = \"t\"",
        "profile `ours`, key `columns.2.header`: found `t` a second time; expected different header cells; a column is known by its header; two alike cannot be told apart",
    ),
    (
        "holds = \"time\"\nformat = \"seconds\"",
        "holds = \"ignore\"",
        "profile `ours`, key `columns`: found 0 columns of time or length; expected exactly one abscissa; say holds = \"time\", \"chart-mm\" or \"hook-travel-mm\" for one column, and holds = \"ignore\" for what is not needed",
    ),
    (
        "test = \"mixing\"\n",
        "",
        "profile `ours`, key `test`: found nothing; expected mixing, extension or membrane; say which test the layout records",
    ),
    (
        "separator = \":\"",
        "separator = \":",
        "profile `ours`, key `block.separator`: found invalid basic string on line 10; expected `\"`; compare with `profile show` of a built-in profile and correct the line",
    ),
];

fn message(from: &str, to: &str) -> String {
    assert!(GOOD.contains(from), "{from}");
    match Profile::parse(&GOOD.replace(from, to)) {
        Ok(_) => "accepted".to_owned(),
        Err(error) => error.to_string(),
    }
}

#[test]
fn a_broken_profile_says_which_key_what_and_what_to_do() {
    for (from, to, words) in BROKEN {
        assert_eq!(&message(from, to), words, "{to}");
    }
}

#[test]
fn units_words_and_constants_of_a_profile_are_applied() {
    let profile = Profile::parse(GOOD).unwrap();
    let text = "Flour kg: 0.2949\nWhy: last run\n\nt;Md\n0;1\n";
    // Without a literal first line an empty line above the header is part of the block.
    let run = runs(read(&profile, "a.csv", text.as_bytes()).unwrap()).remove(0);
    let flour = run.metadata.number(Field::FlourG).unwrap();
    assert!((flour - 294.9).abs() < 1e-9);
    assert_eq!(run.metadata.text(Field::Purpose).as_deref(), Some("final"));
    let bowl = run.metadata.statement(Field::BowlG).unwrap();
    assert_eq!(bowl.origin, Origin::Profile);
    assert_eq!(run.metadata.number(Field::BowlG), Some(300.0));
    assert_eq!(run.profile.id, "ours");
    assert_eq!(run.profile.sha256, profile.digest);
}

#[test]
fn a_stranger_s_extension_file_is_read_by_writing_one_profile() {
    let profile = r#"
id = "stranger-extension"
title = "extension curve with headers in four languages"
record = "curve"
test = "extension"
[text]
encoding = "utf-8"
delimiter = "semicolon"
decimal = "comma"
[block]
separator = ";"
[block.keys]
"Probe/Sample/Échantillon/Muestra" = { field = "sample_id" }
"Ruhezeit/Rest/Repos/Reposo (h)" = { field = "rest_min", unit = "h" }
"Bruch/Break/Rupture/Rotura" = { field = "break", words = { "Mitte" = "middle" } }
[constants]
eu_per_cm = 50
[curves]
arrangement = "one"
[[columns]]
header = "Dehnung/Extension/Allongement/Extensión (cm)"
holds = "chart-mm"
unit = "cm"
[[columns]]
header = "Kraft/Force/Force/Fuerza (N)"
holds = "signal"
unit = "N"
"#;
    let file = "Probe/Sample/Échantillon/Muestra;W-7;\n\
                Ruhezeit/Rest/Repos/Reposo (h);0,75;\n\
                Bruch/Break/Rupture/Rotura;Mitte;\n\
                Dehnung/Extension/Allongement/Extensión (cm);Kraft/Force/Force/Fuerza (N)\n\
                0;0\n0,25;1,5\n";
    let readme = include_str!("../README.md");
    assert!(
        readme.contains(profile.trim()),
        "README shows another profile"
    );
    let mut profiles = builtin();
    profiles.push(Profile::parse(profile).unwrap());
    let chosen = intake::select(&profiles, "x.csv", file.as_bytes()).unwrap();
    assert_eq!(chosen.id, "stranger-extension");
    let run = runs(read(chosen, "x.csv", file.as_bytes()).unwrap()).remove(0);
    assert_eq!(run.test, Test::Extension);
    let curve = run.curve(Channel::Signal).unwrap();
    assert_eq!((curve.axis(), curve.unit()), (Axis::ChartMm, Unit::Newton));
    assert_eq!(curve.x(), [0.0, 2.5]);
    assert_eq!(curve.y(), [0.0, 1.5]);
    assert_eq!(run.metadata.number(Field::RestMin), Some(45.0));
    assert_eq!(run.metadata.text(Field::Break).as_deref(), Some("middle"));
    assert_eq!(run.metadata.text(Field::SampleId).as_deref(), Some("W-7"));
}
