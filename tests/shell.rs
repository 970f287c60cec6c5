//! Manual pages, completions and help: what a shell and a reader of manuals want.

#![cfg(feature = "cli")]
#![allow(clippy::unwrap_used, reason = "tests may stop")]

mod program;

use program::{expect_code, run, stderr, stdout};

/// Returns the names of the commands, as the help lists them.
fn commands() -> Vec<String> {
    let help = stdout(&run(&["--help"]));
    let list = help.split("Commands:").nth(1).unwrap();
    let list = list.split("Options:").next().unwrap();
    // Longer descriptions go on in lines that are set further in.
    let names = list
        .lines()
        .filter(|line| line.starts_with("  ") && !line.starts_with("   "));
    names
        .filter_map(|line| line.split_whitespace().next().map(str::to_owned))
        .filter(|name| name != "help")
        .collect()
}

#[test]
fn every_command_shows_an_example_and_has_a_manual_page() {
    let folder = tempfile::tempdir().unwrap();
    let out = folder.path().join("man");
    let written = run(&["man", "--out", out.to_str().unwrap()]);
    expect_code(&written, 0);
    let commands = commands();
    assert!(commands.len() >= 12, "{commands:?}");
    for command in commands {
        let help = run(&[&command, "--help"]);
        expect_code(&help, 0);
        let help = stdout(&help);
        let examples = help.split("Examples:").nth(1).unwrap_or_default();
        assert!(
            examples.contains(&format!("\n  doughtrace {command}")),
            "{command}: no example"
        );
        let page = std::fs::read_to_string(out.join(format!("doughtrace-{command}.1"))).unwrap();
        assert!(
            page.contains(".SH NAME") && page.contains(".SH OPTIONS"),
            "{command}"
        );
        expect_code(&run(&["man", &command]), 0);
    }
    assert!(out.join("doughtrace.1").is_file());
    assert!(!out.join("doughtrace-help.1").exists());
}

#[test]
fn completions_name_every_command_for_every_shell() {
    for shell in ["bash", "zsh", "fish", "powershell", "elvish"] {
        let output = run(&["completions", shell]);
        expect_code(&output, 0);
        let text = stdout(&output);
        for command in commands() {
            assert!(text.contains(&command), "{shell} misses {command}");
        }
    }
}

#[test]
fn an_unknown_page_says_which_there_are() {
    let output = run(&["man", "nonsense"]);
    expect_code(&output, 2);
    let words = stderr(&output);
    assert!(
        words.contains("`nonsense`") && words.contains("process"),
        "{words}"
    );
}
