//! Temperature of a dough: predicted from its balance, measured, and what water it takes.

use super::amounts::{dough_mass, flour_mass, lacking, not_stated, plain, remark, water_mass};
use super::balance::{HeatBalance, friction_factor, ice, specific_heat, water_by_rule};
use super::energy::{GROSS, NET, work_done};
use super::jet::jet_work;
use super::prepare::{Prepared, Stage};
use super::settings::{half_width, shared, source};
use crate::derive::{Metric, Reading, metric, or_outcome};
use crate::numerics::{Input, Propagated, propagate};
use crate::record::Outcome;
use crate::schema::{Field, Unit};

/// Basis of the heat of hydration.
const FLOUR: &str = "flour";
/// See [`FLOUR`].
const DOUGH: &str = "dough";

/// Everything that the balance of one log is computed from: what is stated or read, with its
/// uncertainty, in the order in which [`Balance::form`] takes it.
struct Balance {
    inputs: [Input; 11],
    /// Whether the dough was there before: it starts at its own temperature and takes up no more
    /// water.
    from_dough: bool,
    /// Whether the specific heat of the dough is stated.
    measured_heat: bool,
    /// What the heat of hydration is counted on.
    basis: &'static str,
    remarks: String,
}

impl Balance {
    /// Returns the balance of the given values, and the last of them, which is a temperature.
    fn form(&self, v: &[f64]) -> (HeatBalance, f64) {
        let hydration = match (self.from_dough, self.basis) {
            (true, _) => 0.0,
            (false, DOUGH) => v[2] * v[8],
            (false, _) => v[0] * v[8],
        };
        let balance = HeatBalance {
            flour_kg: v[0] / 1000.0,
            water_kg: v[1] / 1000.0,
            dough_kg: v[2] / 1000.0,
            flour_c: v[3],
            water_c: if self.from_dough { v[3] } else { v[4] },
            work_kj: v[5],
            loss: v[9] / 100.0,
            flour_heat: v[6],
            dough_heat: self.measured_heat.then_some(v[7]),
            hydration_kj: hydration / 1000.0,
        };
        (balance, v[10])
    }

    fn read(&self, f: impl Fn(HeatBalance, f64) -> f64) -> Propagated {
        propagate(&self.inputs, |v| {
            let (balance, temperature) = self.form(v);
            f(balance, temperature)
        })
    }

    fn reading(&self, f: impl Fn(HeatBalance, f64) -> f64) -> Reading {
        remark(plain(self.read(f)), &self.remarks)
    }
}

/// Returns the heat of hydration in kJ/kg of `basis`: stated on that basis, or the published one.
fn heat_of_hydration(p: &Prepared, basis: &str) -> (f64, &'static str) {
    let published = match basis {
        DOUGH => p.settings.hydration_kj_per_kg_dough,
        _ => p.settings.hydration_kj_per_kg_flour,
    };
    match p.stated(Field::HeatOfHydrationKjKg) {
        Some(stated) if stated_basis(p) == basis => (stated, "stated"),
        _ => (published, "published"),
    }
}

/// Returns the basis in which the heat of hydration is stated; flour where nothing is.
fn stated_basis(p: &Prepared) -> &'static str {
    match p.metadata.text(Field::HeatOfHydrationBasis).as_deref() {
        Some(DOUGH) => DOUGH,
        _ => FLOUR,
    }
}

/// Work on the dough in kJ: of the jet or of the tool, net where an empty run is stated.
fn work(p: &Prepared) -> Result<(Propagated, &'static str), Outcome> {
    if let Ok(jet) = &p.jet {
        return Ok((jet_work(p, jet)?, "hydraulic"));
    }
    let power = p.power.as_ref().map_err(Outcome::clone)?;
    let kilo = Input::known(1000.0);
    match work_done(p, power, NET) {
        Ok(work) => Ok((work.per(kilo), NET)),
        Err(_) => Ok((work_done(p, power, GROSS)?.per(kilo), "gross_power")),
    }
}

/// Returns the temperature of the dough as measured, °C: stated, or the last of a probe in the log.
fn measured_c(p: &Prepared) -> Option<(f64, &'static str)> {
    let stated = p.stated(Field::DoughTempC).map(|c| (c, "stated"));
    stated.or_else(|| p.probe_c.map(|c| (c, "probe")))
}

/// What is asked of a balance; decides what must be stated.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Ask {
    /// The temperature at the end.
    End,
    /// Where the temperature started: neither work nor heat enters.
    Start,
    /// The temperature of the water: the one it had does not enter.
    Water,
}

/// Gathers what the balance needs. `last` is the temperature that enters last.
fn gather(p: &Prepared, basis: &'static str, last: Input, ask: Ask) -> Result<Balance, Outcome> {
    let from_dough = match p.stage {
        Stage::Mixing | Stage::Jet => false,
        Stage::AfterMix | Stage::Conveying => true,
        Stage::Cooling => {
            return Err(Outcome::NotComputable(
                "cooling: the log does not hold the heat that was taken away".into(),
            ));
        }
    };
    let s = &p.settings;
    let measured_heat = p.stated(Field::DoughSpecificHeat);
    let mut wanted = match (from_dough, ask) {
        (true, _) => vec![Field::DoughTempBeforeC],
        (false, Ask::Water) => vec![Field::FlourTempC],
        (false, _) => vec![Field::FlourTempC, Field::WaterTempC],
    };
    if !(from_dough && measured_heat.is_some()) {
        wanted.extend([Field::FlourG, Field::WaterMl]);
    }
    let missing = lacking(p, &wanted);
    if !missing.is_empty() {
        return Err(not_stated(&missing));
    }
    let dough = dough_mass(p)?.grams;
    let (work, kind) = match ask {
        Ask::Start => (propagate(&[], |_| 0.0), "none"),
        _ => work(p)?,
    };
    let (heat, whose) = heat_of_hydration(p, basis);
    let (loss, loss_tolerance) = match p.stated(Field::HeatLossPct) {
        Some(stated) => (stated, s.stated_loss_tolerance_points),
        None => (s.loss_pct, s.loss_tolerance_points),
    };
    let at = |field: Field| s.temperature(p.stated(field).unwrap_or(0.0));
    let measured = measured_heat.unwrap_or(0.0);
    let percent_of = |value: f64, percent: f64| value * percent / 100.0;
    let inputs = [
        flour_mass(p).unwrap_or(dough),
        water_mass(p).unwrap_or(dough),
        dough,
        if from_dough {
            at(Field::DoughTempBeforeC)
        } else {
            at(Field::FlourTempC)
        },
        at(Field::WaterTempC),
        Input {
            value: work.value,
            own: work.own,
            shared: work.shared,
            source: source::POWER,
        },
        shared(
            s.flour_specific_heat,
            s.flour_heat_tolerance,
            source::FLOUR_HEAT,
        ),
        shared(
            measured,
            percent_of(measured, s.dough_heat_tolerance_pct),
            source::DOUGH_HEAT,
        ),
        shared(
            heat,
            percent_of(heat, s.hydration_tolerance_pct),
            source::HYDRATION_HEAT,
        ),
        shared(loss, loss_tolerance, source::LOSS),
        last,
    ];
    let rule = if measured_heat.is_some() {
        "measured"
    } else {
        "mixing-rule"
    };
    let mut remarks = format!("specific_heat={rule}");
    if ask != Ask::Start {
        remarks.push_str(&format!("; work={kind}; loss_pct={loss}"));
        if !from_dough {
            remarks.push_str(&format!("; hydration_heat={heat} kJ/kg {basis} ({whose})"));
        }
    }
    Ok(Balance {
        inputs,
        from_dough,
        measured_heat: measured_heat.is_some(),
        basis,
        remarks,
    })
}

metric! {
    /// Specific heat of the dough: that of flour and water by their masses, or the measured one.
    SPECIFIC_HEAT for Prepared {
        id: "mixer-log.specific_heat", symbol: "c_d", name: "specific heat of the dough",
        unit: Unit::KilojoulePerKilogramKelvin, decimals: 2, revision: 1,
        source: ("textbook specific heats", "mixing rule", Derived),
        variants: [
            ("mixing-rule", "mass mean of 1.76 kJ/(kg K) for the flour as is and 4.18 for the water; measured doughs lie between 2.15 and 3.2 by study and water"),
            ("measured", "as stated (dough_specific_heat_kj_kg_k); where there is one, the balance uses it"),
        ],
        read: read_specific_heat,
    }
}

fn read_specific_heat(p: &Prepared, variant: &'static str) -> Reading {
    let s = &p.settings;
    if variant == "measured" {
        let Some(stated) = p.stated(Field::DoughSpecificHeat) else {
            return Reading::of(not_stated(&[Field::DoughSpecificHeat]));
        };
        let tolerance = stated * s.dough_heat_tolerance_pct / 100.0;
        let input = shared(stated, tolerance, source::DOUGH_HEAT);
        return plain(propagate(&[input], |v| v[0]));
    }
    let (Some(flour), Some(water)) = (flour_mass(p), water_mass(p)) else {
        return Reading::of(not_stated(&lacking(p, &[Field::FlourG, Field::WaterMl])));
    };
    let heat = shared(
        s.flour_specific_heat,
        s.flour_heat_tolerance,
        source::FLOUR_HEAT,
    );
    plain(propagate(&[flour, water, heat], |v| {
        specific_heat(v[1] / v[0], v[2])
    }))
}

metric! {
    /// Temperature of the dough at the end of this part of the process, from its heat balance:
    /// flour and water (or the dough as it came) brought together, warmed by the work that is not
    /// lost and by the heat of hydration. Work is that of the jet, or of the tool above its empty
    /// run (gross where no empty run is stated). The loss is 0 to 10 % where none is stated.
    PREDICTED_TEMPERATURE for Prepared {
        id: "mixer-log.predicted_dough_temperature", symbol: "T_pred", name: "predicted dough temperature",
        unit: Unit::Celsius, decimals: 1, revision: 1,
        source: ("heat balance", "dough temperature", Derived),
        variants: [
            ("flour", "heat of hydration per kg of flour: stated on that basis, else 15.1 kJ (published, at 11–12 % moisture)"),
            ("dough", "heat of hydration per kg of dough: stated on that basis, else 15 kJ (published in a textbook problem)"),
        ],
        read: read_predicted,
    }
}

fn read_predicted(p: &Prepared, variant: &'static str) -> Reading {
    let balance = or_outcome!(gather(p, variant, Input::known(0.0), Ask::End));
    balance.reading(|b, _| b.dough_c())
}

metric! {
    /// Measured rise of the dough temperature: the temperature at the end, as stated or as the last
    /// of a probe in the log, less that of flour and water brought together without work or heat
    /// (or of the dough as it came).
    MEASURED_RISE for Prepared {
        id: "mixer-log.measured_rise", symbol: "ΔT", name: "measured temperature rise",
        unit: Unit::Kelvin, decimals: 1, revision: 1,
        source: ("heat balance", "dough temperature", Derived),
        variants: [], read: read_rise,
    }
}

/// Returns the measured temperature as an input.
fn measured(p: &Prepared) -> Result<(Input, &'static str), Outcome> {
    match measured_c(p) {
        Some((celsius, whose)) => Ok((p.settings.temperature(celsius), whose)),
        None => Err(not_stated(&[Field::DoughTempC])),
    }
}

fn read_rise(p: &Prepared, _: &'static str) -> Reading {
    let (end, whose) = or_outcome!(measured(p));
    let balance = or_outcome!(gather(p, FLOUR, end, Ask::Start));
    let reading = balance.reading(|b, end| end - b.blend_c());
    remark(reading, &format!("dough_temperature={whose}"))
}

metric! {
    /// Predicted less measured dough temperature. What it tells apart from zero is a loss, a heat
    /// of hydration or a temperature that the balance does not know.
    EXCESS for Prepared {
        id: "mixer-log.predicted_less_measured", symbol: "T_pred − T", name: "predicted less measured dough temperature",
        unit: Unit::Kelvin, decimals: 1, revision: 1,
        source: ("heat balance", "dough temperature", Derived),
        variants: [
            ("flour", "heat of hydration per kg of flour"),
            ("dough", "heat of hydration per kg of dough"),
        ],
        read: read_excess,
    }
}

fn read_excess(p: &Prepared, variant: &'static str) -> Reading {
    let (end, whose) = or_outcome!(measured(p));
    let balance = or_outcome!(gather(p, variant, end, Ask::End));
    let reading = balance.reading(|b, end| b.dough_c() - end);
    let basis = format!(
        "dough_temperature={whose}; stated_basis={}",
        stated_basis(p)
    );
    remark(reading, &basis)
}

metric! {
    /// Friction factor of the bakehouse rule from what was measured: three times the dough
    /// temperature less room, flour and water. In K: a factor for temperatures in °F is 1.8 times
    /// as large. It is empirical, and counts the heat of hydration and the room twice; keep it
    /// beside the balance.
    FRICTION_FACTOR for Prepared {
        id: "mixer-log.friction_factor", symbol: "FF", name: "friction factor",
        unit: Unit::Kelvin, decimals: 1, revision: 1,
        source: ("rule of the bakehouse", "water temperature", CommonPractice),
        variants: [], read: read_friction,
    }
}

const RULE_FIELDS: [Field; 3] = [Field::RoomTempC, Field::FlourTempC, Field::WaterTempC];

fn friction(p: &Prepared) -> Result<Propagated, Outcome> {
    if !matches!(p.stage, Stage::Mixing | Stage::Jet) {
        return Err(Outcome::NotComputable(
            "the rule is for the stage that brings flour and water together".into(),
        ));
    }
    let (end, _) = measured(p)?;
    let missing = lacking(p, &RULE_FIELDS);
    if !missing.is_empty() {
        return Err(not_stated(&missing));
    }
    let [room, flour, water] =
        RULE_FIELDS.map(|field| p.settings.temperature(p.stated(field).unwrap_or(0.0)));
    Ok(propagate(&[end, room, flour, water], |v| {
        friction_factor(v[0], &v[1..])
    }))
}

fn read_friction(p: &Prepared, _: &'static str) -> Reading {
    plain(or_outcome!(friction(p)))
}

metric! {
    /// Temperature of the water that brings the next dough, mixed alike, to the target.
    WATER_TEMPERATURE for Prepared {
        id: "mixer-log.water_temperature", symbol: "T_w", name: "water temperature for the target",
        unit: Unit::Celsius, decimals: 1, revision: 1,
        source: ("heat balance; rule of the bakehouse", "water temperature", Derived),
        variants: [
            ("balance", "heat balance with the work of this log and the heat of hydration as stated, else per kg of flour"),
            ("rule", "3 × target − room − flour − friction factor, as stated in K, else as measured in this log; common practice, empirical"),
        ],
        read: read_water_temperature,
    }
}

fn target(p: &Prepared) -> Result<f64, Outcome> {
    p.stated(Field::TargetDoughTempC)
        .ok_or_else(|| not_stated(&[Field::TargetDoughTempC]))
}

/// Returns the water temperature wanted, with a remark.
fn wanted_water(p: &Prepared, variant: &'static str) -> Result<(Propagated, String), Outcome> {
    let target = target(p)?;
    if !matches!(p.stage, Stage::Mixing | Stage::Jet) {
        return Err(Outcome::NotComputable("this stage adds no water".into()));
    }
    if variant == "balance" {
        let balance = gather(p, stated_basis(p), Input::known(target), Ask::Water)?;
        let found = balance.read(|b, target| b.water_for_c(target));
        return Ok((found, balance.remarks));
    }
    let (factor, whose) = match p.stated(Field::FrictionFactorK) {
        Some(k) => (
            Input {
                value: k,
                own: 0.0,
                shared: half_width(p.settings.friction_tolerance_k),
                source: source::LOSS,
            },
            "stated",
        ),
        None => {
            let own = friction(p)?;
            let input = Input {
                value: own.value,
                own: own.own,
                shared: own.shared,
                source: source::LOSS,
            };
            (input, "this log")
        }
    };
    let missing = lacking(p, &[Field::RoomTempC, Field::FlourTempC]);
    if !missing.is_empty() {
        return Err(not_stated(&missing));
    }
    let at = |field| p.settings.temperature(p.stated(field).unwrap_or(0.0));
    let inputs = [
        Input::known(target),
        at(Field::RoomTempC),
        at(Field::FlourTempC),
        factor,
    ];
    let found = propagate(&inputs, |v| water_by_rule(v[0], &v[1..3], v[3]));
    let text = format!("friction_factor_k={:.2} ({whose})", factor.value);
    Ok((found, text))
}

fn read_water_temperature(p: &Prepared, variant: &'static str) -> Reading {
    let (found, text) = or_outcome!(wanted_water(p, variant));
    remark(plain(found), &text)
}

metric! {
    /// Ice to take in place of as much of the water from the tap, so that together they do what
    /// water of the temperature wanted would: m_w (T_tap − T_w)/(T_tap + 80), in °C; 0 where the
    /// tap is cold enough.
    ICE for Prepared {
        id: "mixer-log.ice", symbol: "m_ice", name: "ice for the target",
        unit: Unit::Gram, decimals: 0, revision: 1,
        source: ("heat of fusion of ice", "ice for water", FromMemoryHigh),
        variants: [
            ("balance", "for the water temperature by the balance"),
            ("rule", "for the water temperature by the rule with the friction factor"),
        ],
        read: read_ice,
    }
}

fn read_ice(p: &Prepared, variant: &'static str) -> Reading {
    let (wanted, text) = or_outcome!(wanted_water(p, variant));
    let (Some(water), Some(tap)) = (water_mass(p), p.stated(Field::TapWaterTempC)) else {
        return Reading::of(not_stated(&lacking(
            p,
            &[Field::WaterMl, Field::TapWaterTempC],
        )));
    };
    let wanted = Input {
        value: wanted.value,
        own: wanted.own,
        shared: wanted.shared,
        source: source::LOSS,
    };
    let inputs = [water, p.settings.temperature(tap), wanted];
    let found = propagate(&inputs, |v| ice(v[0], v[1], v[2]));
    if found.value > water.value {
        return Reading::of(Outcome::NotReached(format!(
            "even all the water as ice is too warm: water of {:.1} °C is wanted",
            wanted.value
        )));
    }
    remark(plain(found), &text)
}

/// The metrics of this file, in report order.
pub(super) static METRICS: &[&Metric<Prepared>] = &[
    &SPECIFIC_HEAT,
    &PREDICTED_TEMPERATURE,
    &MEASURED_RISE,
    &EXCESS,
    &FRICTION_FACTOR,
    &WATER_TEMPERATURE,
    &ICE,
];
