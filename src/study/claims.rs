//! Reads one claim: what all kinds share, and the keys of each kind.

use super::model::{Basis, ErrorChoice, PlannedClaim, Scope};
use super::question::{Margin, Question, Scale};
use super::reader::Reader;
use super::resolve::{Frame, open_half};
use super::words::{BASES, BETTER, DIRECTIONS, ERRORS, SCOPES, suggest};
use crate::schema::ClaimKind;

/// Keys of single kinds, for the remedy when one stands in a claim of another kind.
const OWN_KEYS: &[(&str, &str)] = &[
    ("direction", "difference, ratio and rate"),
    ("better", "not-worse"),
    ("margin_percent", "equivalent and not-worse"),
    ("slope_margin", "gain-at-equal"),
    ("parts", "energy-share"),
    ("exponent", "rate"),
    ("half_time", "rate"),
    ("exponent_margin", "rate"),
    ("mix_time_min", "grade"),
    ("timing_margin", "same-curve"),
    ("range", "same-curve"),
    ("permutations", "same-curve"),
    ("instruments", "agreement"),
    ("margin", "every kind"),
    ("treatments", "all kinds but agreement"),
    ("sd", "kinds on the scale of the metric"),
    ("cv_percent", "kinds on the scale of ratios"),
];

/// Reports the keys that the claim's kind does not know.
pub(super) fn finish(table: Reader<'_, '_>) {
    // Without a kind nobody can say which of these belong.
    let kind = table.quiet_text("kind").and_then(ClaimKind::parse);
    if kind.is_none() {
        for (key, _) in OWN_KEYS {
            table.has(key);
        }
    }
    table.finish(|key| {
        let (_, kinds) = OWN_KEYS.iter().find(|(own, _)| *own == key)?;
        Some(format!("leave it out: the key belongs to {kinds}"))
    });
}

/// Returns the claim in `table`; problems are noted there.
pub(super) fn read_claim(
    table: &Reader<'_, '_>,
    frame: &Frame<'_>,
    primary: bool,
) -> Option<PlannedClaim> {
    let id = read_id(table);
    let sentence = table.text("sentence", "the sentence that a customer would hear");
    let kinds: Vec<(&str, ClaimKind)> = ClaimKind::ALL.iter().map(|k| (k.word(), *k)).collect();
    let kind = table.choice("kind", &kinds);
    let metric = table.text("metric", "the metric that the claim is about");
    let variant = table.optional_text("variant", "a reading of the metric");
    let unit = table.optional_text("unit", "the unit of the margin");
    let age_d = table.optional_number("age_d", "an age in days, zero or more", |a| a >= 0.0);
    let rest_min = table.optional_number("rest_min", "a rest in min, zero or more", |r| r >= 0.0);
    let alpha = table.optional_number("alpha", "a share above 0 and below 0.5", open_half);
    let basis = table.optional_choice("basis", BASES);
    let scope = table.optional_choice("scope", SCOPES);
    let error = table.optional_choice("error", ERRORS);
    let expected =
        table.optional_number("expected", "the true value that was planned for", |_| true);
    let kind = kind?;
    let margin = read_margin(table, kind, margin_word(kind));
    let (treatment, reference) = read_pair(table, frame, kind).unzip();
    let question = read_question(table, kind, margin);
    let sd = read_sd(table, kind);
    let question = question?;
    if let Some(expected) = expected.filter(|e| !question.target().holds(*e)) {
        table.problem(
            "expected",
            expected.to_string(),
            "a value for which the claim is true",
            "no number of doughs would support the claim if this were the truth",
        );
    }
    Some(PlannedClaim {
        id: id?,
        sentence: sentence?,
        metric: metric?,
        variant,
        unit,
        age_d,
        rest_min,
        treatment: treatment?,
        reference: reference?,
        alpha: alpha.unwrap_or(frame.alpha),
        primary,
        basis: basis.unwrap_or(Basis::SameWater),
        scope: scope.unwrap_or(Scope::Doughs),
        error: error.unwrap_or(ErrorChoice::Automatic),
        expected,
        sd,
        question,
    })
}

fn read_id(table: &Reader<'_, '_>) -> Option<String> {
    let expected = "1 to 60 lower-case letters, digits and hyphens";
    let id = table.text("id", expected)?;
    let plain = |c: char| c.is_ascii_lowercase() || c.is_ascii_digit() || c == '-';
    if id.len() > 60 || !id.chars().all(plain) {
        table.problem(
            "id",
            format!("`{id}`"),
            expected,
            "choose a short name such as `less-energy`",
        );
        return None;
    }
    Some(id)
}

/// Returns what the margin of a kind is, for messages.
fn margin_word(kind: ClaimKind) -> &'static str {
    match kind {
        ClaimKind::Difference => "the least difference, zero or more, in the metric's unit",
        ClaimKind::Ratio | ClaimKind::Rate => "a ratio above 0, such as 0.9 for 90 %",
        ClaimKind::EnergyShare => "a share above 0, such as 0.7 for 70 %",
        ClaimKind::Equivalent | ClaimKind::NotWorse => {
            "margin in the metric's unit or margin_percent, above 0"
        }
        ClaimKind::GainAtEqual => "points of water, zero or more",
        ClaimKind::Grade => "a probability of superiority between 0 and 1, such as 0.35",
        ClaimKind::SameCurve | ClaimKind::Agreement => "the greatest difference, above 0",
    }
}

fn read_margin(table: &Reader<'_, '_>, kind: ClaimKind, expected: &str) -> Option<Margin> {
    let positive = |m: f64| m > 0.0;
    match kind {
        ClaimKind::Difference | ClaimKind::GainAtEqual => {
            table.number("margin", expected, |m| m >= 0.0)
        }
        ClaimKind::Grade => table.number("margin", expected, |m| m > 0.0 && m < 1.0),
        ClaimKind::Equivalent | ClaimKind::NotWorse => {
            let percent = "a share of the reference in percent, above 0 and below 100";
            let relative = table
                .optional_number("margin_percent", percent, |m| m > 0.0 && m < 100.0)
                .map(|m| Margin::Relative(m / 100.0));
            return match (table.has("margin"), table.has("margin_percent")) {
                (true, true) => {
                    table.problem(
                        "margin_percent",
                        "both margin and margin_percent".to_owned(),
                        expected,
                        "keep the one that the sentence says",
                    );
                    None
                }
                (false, true) => relative,
                _ => table
                    .number("margin", expected, positive)
                    .map(Margin::Absolute),
            };
        }
        _ => table.number("margin", expected, positive),
    }
    .map(Margin::Absolute)
}

fn read_pair(
    table: &Reader<'_, '_>,
    frame: &Frame<'_>,
    kind: ClaimKind,
) -> Option<(String, String)> {
    if kind == ClaimKind::Agreement {
        let expected = "two instruments";
        let names = table.texts("instruments", expected, 2)?;
        return pair_of(table, "instruments", expected, names);
    }
    let expected = "two treatments: the one the claim is about, then what it is compared with";
    let mut names = table.texts("treatments", expected, 1)?;
    if names.len() == 1 && !frame.reference.is_empty() {
        names.push(frame.reference.to_owned());
    }
    // Where the factor itself could not be read, that is said there.
    let known = frame.treatments;
    let unknown = |name: &&String| !known.is_empty() && !known.contains(name);
    for name in names.iter().filter(unknown) {
        table.problem(
            "treatments",
            format!("`{name}`"),
            "treatments out of factors.treatment",
            suggest(name, known.iter().map(String::as_str)),
        );
    }
    pair_of(table, "treatments", expected, names)
}

fn pair_of(
    table: &Reader<'_, '_>,
    key: &'static str,
    expected: &str,
    names: Vec<String>,
) -> Option<(String, String)> {
    let found = names.join(", ");
    match <[String; 2]>::try_from(names) {
        Ok([one, other]) if one != other => Some((one, other)),
        _ => {
            table.problem(
                key,
                format!("`{found}`"),
                expected,
                "name two different ones",
            );
            None
        }
    }
}

/// Returns the margin of a kind that has only one form of it.
fn plain(margin: Option<Margin>) -> Option<f64> {
    margin.map(|margin| match margin {
        Margin::Absolute(value) | Margin::Relative(value) => value,
    })
}

fn read_question(
    table: &Reader<'_, '_>,
    kind: ClaimKind,
    margin: Option<Margin>,
) -> Option<Question> {
    match kind {
        ClaimKind::Difference | ClaimKind::Ratio => {
            let direction = table.choice("direction", DIRECTIONS);
            let (direction, margin) = (direction?, plain(margin)?);
            Some(match kind {
                ClaimKind::Ratio => Question::Ratio { direction, margin },
                _ => Question::Difference { direction, margin },
            })
        }
        ClaimKind::Equivalent => Some(Question::Equivalent { margin: margin? }),
        ClaimKind::NotWorse => {
            let better = table.choice("better", BETTER);
            Some(Question::NotWorse {
                better: better?,
                margin: margin?,
            })
        }
        ClaimKind::GainAtEqual => {
            let slopes = "how far the ratio of slopes may be from 1, above 0 and below 1";
            let slope_margin = table.number("slope_margin", slopes, |m| m > 0.0 && m < 1.0);
            Some(Question::GainAtEqual {
                margin: plain(margin)?,
                slope_margin: slope_margin?,
            })
        }
        ClaimKind::EnergyShare => {
            let parts = table.optional_texts("parts", "metrics of the parts of the energy");
            Some(Question::EnergyShare {
                share: plain(margin)?,
                parts: parts.unwrap_or_default(),
            })
        }
        ClaimKind::Rate => read_rate(table, plain(margin)),
        ClaimKind::Grade => {
            let times = table.optional_range("mix_time_min", "two mixing times in min");
            Some(Question::Grade {
                margin: plain(margin)?,
                mix_time_min: times,
            })
        }
        ClaimKind::SameCurve => {
            let timing = "the greatest difference of timing, above 0, in the unit of the abscissa";
            let timing_margin = table.number("timing_margin", timing, |m| m > 0.0);
            let range = table.optional_range("range", "two places on the abscissa");
            let permutations = table.optional_whole("permutations", "a whole number from 199", 199);
            Some(Question::SameCurve {
                margin: plain(margin)?,
                timing_margin: timing_margin?,
                range,
                permutations: permutations.map_or(1999, |n| usize::try_from(n).unwrap_or(1999)),
            })
        }
        ClaimKind::Agreement => Some(Question::Agreement {
            margin: plain(margin)?,
        }),
    }
}

fn read_rate(table: &Reader<'_, '_>, margin: Option<f64>) -> Option<Question> {
    let direction = table.choice("direction", DIRECTIONS);
    let exponent = table.optional_text("exponent", "the metric of the fitted exponent");
    let half_time = table.optional_text("half_time", "the metric of the half time");
    let exponents = "how far the ratio of exponents may be from 1, above 0 and below 1";
    let exponent_margin =
        table.optional_number("exponent_margin", exponents, |m| m > 0.0 && m < 1.0);
    if exponent.is_some() && half_time.is_none() {
        table.problem(
            "half_time",
            "nothing".to_owned(),
            "the metric of the half time beside `exponent`",
            "name it: rates of different exponents can only be compared by half time",
        );
        return None;
    }
    Some(Question::Rate {
        direction: direction?,
        margin: margin?,
        exponent,
        half_time,
        exponent_margin: exponent_margin.unwrap_or(0.25),
    })
}

fn read_sd(table: &Reader<'_, '_>, kind: ClaimKind) -> Option<f64> {
    let scale = match kind {
        ClaimKind::Ratio | ClaimKind::EnergyShare | ClaimKind::Rate => Scale::Log,
        ClaimKind::Equivalent | ClaimKind::NotWorse if table.has("margin_percent") => Scale::Log,
        _ => Scale::Linear,
    };
    match scale {
        Scale::Linear => table.optional_number("sd", "a standard deviation above 0", |s| s > 0.0),
        Scale::Log => table
            .optional_number(
                "cv_percent",
                "a coefficient of variation in percent, above 0",
                |s| s > 0.0 && s < 200.0,
            )
            .map(|s| s / 100.0),
    }
}
