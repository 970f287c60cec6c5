//! Cards for the invented day: names and definitions after HANDBOOK §1.7, shortened.

use doughtrace::schema::{
    Address, Evidence, Level, MethodCard, MetricCard, ParameterCard, RuleCard, Source, Unit,
    Variant,
};
use std::sync::LazyLock;

const ISO: Source = Source {
    standard: "ISO 5530-1",
    clause: "determination",
    evidence: Evidence::FromMemoryHigh,
};

const OURS: Source = Source {
    standard: "doughtrace",
    clause: "",
    evidence: Evidence::ProjectChoice,
};

const DEVELOPMENT_READINGS: &[Variant] = &[
    Variant {
        id: "iso",
        definition: "Last time on the plateau that holds the maximum.",
    },
    Variant {
        id: "maximum",
        definition: "First maximum of the smoothed centre line.",
    },
    Variant {
        id: "flat",
        definition: "Mean of the middle of the flat top and the highest point of the bottom.",
    },
];

const DEPARTURE_READINGS: &[Variant] = &[
    Variant {
        id: "last",
        definition: "The upper contour does not come back above the line.",
    },
    Variant {
        id: "first",
        definition: "The upper contour is below the line for the first time.",
    },
];

const fn metric(
    (id, symbol, name): (&'static str, &'static str, &'static str),
    unit: Unit,
    decimals: u8,
    variants: &'static [Variant],
    definition: &'static str,
) -> MetricCard {
    MetricCard {
        id,
        symbol,
        name,
        unit,
        decimals,
        revision: 1,
        source: ISO,
        definition,
        variants,
        address: Address {
            file: "src/derive/mixing/metrics.rs",
            line: 120,
        },
    }
}

pub static MIXING: [MetricCard; 11] = [
    metric(
        ("mixing.absorption", "WA", "Water absorption"),
        Unit::MillilitrePer100Gram,
        1,
        &[],
        "Water, per 100 g of flour at 14 % moisture, that gives a maximum consistency of 500 FU.",
    ),
    metric(
        ("mixing.consistency", "C", "Consistency"),
        Unit::Fu,
        0,
        &[],
        "Mean of the greatest heights of the upper and the lower contour.",
    ),
    metric(
        ("mixing.arrival", "ta", "Arrival time"),
        Unit::Minute,
        1,
        &[],
        "First time the upper contour rises through the line and stays above it for 10 s.",
    ),
    metric(
        ("mixing.development_time", "DDT", "Development time"),
        Unit::Minute,
        1,
        DEVELOPMENT_READINGS,
        "From water contact to the point just before the first sign of decrease of consistency.\n\nOn flat curves the readings differ by minutes.",
    ),
    metric(
        ("mixing.departure", "td", "Departure time"),
        Unit::Minute,
        1,
        DEPARTURE_READINGS,
        "Time the upper contour leaves the line and stays below it for 10 s.",
    ),
    metric(
        ("mixing.stability", "S", "Stability"),
        Unit::Minute,
        1,
        &[],
        "Departure time less arrival time.",
    ),
    metric(
        ("mixing.tolerance_index", "MTI", "Mixing tolerance index"),
        Unit::Fu,
        0,
        &[],
        "Top of the curve at its peak less the top of the curve 5 min later.",
    ),
    metric(
        ("mixing.softening_12", "DS12", "Degree of softening, 12 min"),
        Unit::Fu,
        0,
        &[],
        "Centre at the development time less the centre 12 min later.",
    ),
    metric(
        ("mixing.breakdown", "TB", "Time to breakdown"),
        Unit::Minute,
        1,
        &[],
        "From water contact to the time the centre has fallen 30 FU below its peak.",
    ),
    metric(
        ("mixing.quality_number", "QN", "Quality number"),
        Unit::Millimetre,
        0,
        &[],
        "Chart length to the time of breakdown, at 1 cm/min.",
    ),
    metric(
        ("mixing.band_width", "BW", "Band width"),
        Unit::Fu,
        0,
        &[],
        "Upper less lower contour at the development time.",
    ),
];

pub static MEMBRANE: [MetricCard; 1] = [metric(
    ("membrane.time_to_window", "tw", "Time to full window"),
    Unit::Minute,
    1,
    &[],
    "First mixing time at which the median grade is 4.",
)];

pub static METHODS: LazyLock<[MethodCard; 2]> = LazyLock::new(|| {
    [
        MethodCard {
            id: "mixing",
            name: "Mixing curve",
            metrics: MIXING.to_vec(),
            parameters: vec![ParameterCard {
                name: "smoothing_half_width_s",
                value: 15.0,
                meaning: "Half width of the local linear regression of the contours.",
            }],
        },
        MethodCard {
            id: "membrane",
            name: "Membrane stretch",
            metrics: MEMBRANE.to_vec(),
            parameters: Vec::new(),
        },
    ]
});

const fn rule(
    id: &'static str,
    title: &'static str,
    level: Level,
    source: Source,
    what_to_do: &'static str,
) -> RuleCard {
    RuleCard {
        id,
        title,
        level,
        revision: 1,
        source,
        definition: "What the rule checks, and against which limit.",
        what_to_do,
        address: Address {
            file: "src/check/mixing.rs",
            line: 40,
        },
    }
}

pub static RULES: [RuleCard; 4] = [
    rule(
        "mixing.maximum_off_line",
        "Maximum off the line",
        Level::Reject,
        ISO,
        "Make the next run with the water volume suggested.",
    ),
    rule(
        "mixing.time_steps_back",
        "Time does not increase",
        Level::Reject,
        OURS,
        "Export the record again; do not sort it by hand.",
    ),
    rule(
        "mixing.temperature_off",
        "Temperature off",
        Level::Warn,
        ISO,
        "Check the thermostat.",
    ),
    rule(
        "mixing.time_zero_inferred",
        "Time zero inferred",
        Level::Note,
        OURS,
        "State the time of water contact in the run sheet when it is known.",
    ),
];
