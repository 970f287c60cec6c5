//! The difference of whole curves with its simultaneous band.

use super::{Easel, Subject};
use crate::chart::{CurveDifference, Series};
use crate::report::contrast_words;
use crate::schema::Test;

/// Returns the difference of the curves of `subject`, where curves were compared.
pub(super) fn figure(easel: &Easel<'_>, subject: &Subject<'_>) -> Option<CurveDifference> {
    let picture = subject.picture;
    let band = picture.band.as_ref()?;
    let test = picture.metric.rsplit('.').next().and_then(Test::parse);
    let x_label = match test {
        Some(Test::Mixing | Test::PinMixing | Test::Heating | Test::MixerLog) => {
            "aligned time / min"
        }
        Some(Test::Extension | Test::Strip) => "aligned extension / mm",
        _ => "aligned abscissa of the curves",
    };
    let unit = picture
        .unit
        .map_or(String::new(), |unit| format!(" / {unit}"));
    Some(CurveDifference {
        words: easel.words(
            subject,
            "Where the curves differ in shape".to_owned(),
            Vec::new(),
        ),
        x_label: x_label.to_owned(),
        difference_label: format!("{} − {}{unit}", picture.treatment, picture.reference),
        difference: Series {
            name: "mean difference".to_owned(),
            x: band.x.clone(),
            y: band.mean.clone(),
        },
        lower: band.low.clone(),
        upper: band.high.clone(),
        margin: Some(band.margin),
        regions: band.regions.iter().map(|r| (r.from, r.to)).collect(),
        confidence: contrast_words(subject.contrast).confidence,
        ..CurveDifference::default()
    })
}
