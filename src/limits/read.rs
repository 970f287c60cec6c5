//! The limits file: TOML, one `[[limit]]` a grade and metric.

use crate::record::Fault;
use crate::schema::MetricCard;
use serde::Deserialize;

/// What one metric of one grade must measure.
#[derive(Debug, Clone)]
pub struct Limit {
    /// Grade of flour, as run sheets state it in `flour_grade`.
    pub grade: String,
    /// Metric.
    pub metric: MetricCard,
    /// Reading; the metric's default where the file names none.
    pub variant: &'static str,
    /// Least value allowed.
    pub lower: Option<f64>,
    /// Greatest value allowed.
    pub upper: Option<f64>,
    /// Who set it.
    pub set_by: String,
}

/// A limits file, checked.
#[derive(Debug, Clone, Default)]
pub struct Limits {
    /// Limits in the order of the file.
    pub list: Vec<Limit>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Written {
    #[serde(default)]
    limit: Vec<toml::Spanned<WrittenLimit>>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct WrittenLimit {
    grade: String,
    metric: String,
    variant: Option<String>,
    lower: Option<f64>,
    upper: Option<f64>,
    set_by: String,
    /// Day on which it was set; kept with the file.
    #[serde(rename = "on")]
    _on: Option<String>,
}

/// Returns the limits in `text`, the contents of `file`. `metrics` are all that there are.
///
/// # Errors
/// A [`Fault`] with the line and key at the first thing that is no limit.
pub fn read_limits(file: &str, text: &str, metrics: &[MetricCard]) -> Result<Limits, Fault> {
    let desk = Desk { file, text };
    let written: Written = toml::from_str(text).map_err(|error| {
        let at = error.span().map_or(0, |span| span.start);
        desk.fault(
            at,
            "",
            (error.message().to_owned(), "a limits file"),
            "write [[limit]] with grade, metric, lower and/or upper, and set_by",
        )
    })?;
    if written.limit.is_empty() {
        return Err(desk.fault(
            0,
            "limit",
            ("no limit".to_owned(), "at least one [[limit]]"),
            "write [[limit]] with grade, metric, lower and/or upper, and set_by",
        ));
    }
    let mut list: Vec<Limit> = Vec::new();
    for spanned in &written.limit {
        let at = spanned.span().start;
        let limit = check(&desk, at, spanned.get_ref(), metrics)?;
        let twice = list.iter().any(|other| {
            (&other.grade, other.metric.id, other.variant)
                == (&limit.grade, limit.metric.id, limit.variant)
        });
        if twice {
            return Err(desk.fault(
                at,
                "metric",
                (
                    format!(
                        "`{}` of grade `{}` a second time",
                        limit.metric.id, limit.grade
                    ),
                    "each metric of a grade once",
                ),
                "put lower and upper into one [[limit]]",
            ));
        }
        list.push(limit);
    }
    Ok(Limits { list })
}

fn check(
    desk: &Desk<'_>,
    at: usize,
    written: &WrittenLimit,
    metrics: &[MetricCard],
) -> Result<Limit, Fault> {
    let Some(metric) = metrics.iter().find(|card| card.id == written.metric) else {
        let near = nearest(&written.metric, metrics.iter().map(|card| card.id));
        return Err(desk.fault(
            at,
            "metric",
            (
                format!("`{}`", written.metric),
                "the identifier of a metric",
            ),
            &format!("the nearest is `{near}`; list them with `doughtrace explain`"),
        ));
    };
    let default = metric.variants.first().map_or("", |variant| variant.id);
    let named = written.variant.as_deref().unwrap_or(default);
    let mut variants = metric.variants.iter().map(|variant| variant.id);
    let variant = match variants.find(|id| *id == named) {
        Some(id) => id,
        None if metric.variants.is_empty() && named.is_empty() => "",
        None => {
            let known: Vec<&str> = metric.variants.iter().map(|v| v.id).collect();
            return Err(desk.fault(
                at,
                "variant",
                (format!("`{named}`"), "a reading of the metric"),
                &match known.is_empty() {
                    true => "leave it out: the metric has one reading".to_owned(),
                    false => format!("write one of {}", known.join(", ")),
                },
            ));
        }
    };
    let bounds = (written.lower, written.upper);
    let sound = match bounds {
        (None, None) => false,
        (Some(lower), Some(upper)) => lower.is_finite() && upper.is_finite() && lower < upper,
        (one, other) => one.or(other).is_some_and(f64::is_finite),
    };
    if !sound {
        return Err(desk.fault(
            at,
            "lower, upper",
            (
                format!("lower {:?}, upper {:?}", bounds.0, bounds.1),
                "a lower limit, an upper limit, or both with the lower one below",
            ),
            "correct the numbers",
        ));
    }
    for (key, text) in [("grade", &written.grade), ("set_by", &written.set_by)] {
        if text.trim().is_empty() {
            return Err(desk.fault(
                at,
                key,
                ("nothing".to_owned(), "a name"),
                "a limit needs its grade and the person or contract that set it",
            ));
        }
    }
    Ok(Limit {
        grade: written.grade.trim().to_owned(),
        metric: *metric,
        variant,
        lower: written.lower,
        upper: written.upper,
        set_by: written.set_by.trim().to_owned(),
    })
}

fn nearest<'w>(text: &str, words: impl Iterator<Item = &'w str>) -> &'w str {
    words
        .min_by_key(|word| strsim::damerau_levenshtein(text, word))
        .unwrap_or("")
}

struct Desk<'a> {
    file: &'a str,
    text: &'a str,
}

impl Desk<'_> {
    fn fault(&self, at: usize, key: &str, what: (String, &str), remedy: &str) -> Fault {
        let before = self.text.get(..at).unwrap_or("");
        Fault {
            file: self.file.to_owned(),
            line: Some(before.matches('\n').count() as u64 + 1),
            column: Some(key.to_owned()).filter(|key| !key.is_empty()),
            found: what.0,
            expected: what.1.to_owned(),
            remedy: remedy.to_owned(),
        }
    }
}
