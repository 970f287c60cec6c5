//! Uncertainty of a computed value from the uncertainties of its inputs.

/// An input of a computed value.
///
/// Its uncertainty has two parts: one of this reading alone, and one of what it was read with,
/// which every reading of the same source shares and which no number of readings averages out.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Input {
    /// Value.
    pub value: f64,
    /// Standard uncertainty of this reading alone.
    pub own: f64,
    /// Standard uncertainty shared with all inputs of the same source.
    pub shared: f64,
    /// Which source it shares that with: inputs of one number move together.
    pub source: u8,
}

impl Input {
    /// Returns an input that is known exactly, such as a constant.
    pub fn known(value: f64) -> Input {
        Input {
            value,
            own: 0.0,
            shared: 0.0,
            source: 0,
        }
    }

    /// Returns the standard uncertainty of both parts together.
    pub fn u(&self) -> f64 {
        self.own.hypot(self.shared)
    }
}

/// A computed value with the two parts of its standard uncertainty.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Propagated {
    /// Value.
    pub value: f64,
    /// Standard uncertainty of this value alone.
    pub own: f64,
    /// Standard uncertainty shared with all values read with the same instruments.
    pub shared: f64,
}

impl Propagated {
    /// Returns the standard uncertainty of both parts together.
    pub fn u(&self) -> f64 {
        self.own.hypot(self.shared)
    }
}

/// Returns `f` of the inputs with its standard uncertainty: `u² = Σ (c_i u_i)²` over what is
/// independent, and the plain sum `Σ c_i u_i` over what moves together, each sensitivity `c_i` from
/// the values of `f` one standard uncertainty up and down (JCGM 100:2008, 5.1.2, 5.1.3 note 2, and
/// 5.2.2 note 1 for full correlation). What is not finite stays so in the value.
pub fn propagate(inputs: &[Input], f: impl Fn(&[f64]) -> f64) -> Propagated {
    let mut values: Vec<f64> = inputs.iter().map(|input| input.value).collect();
    let value = f(&values);
    let mut own = 0.0;
    let mut shared: Vec<(u8, f64)> = Vec::new();
    for (index, input) in inputs.iter().enumerate() {
        let u = input.u();
        if u <= 0.0 {
            continue;
        }
        values[index] = input.value + u;
        let up = f(&values);
        values[index] = input.value - u;
        let down = f(&values);
        values[index] = input.value;
        let sensitivity = 0.5 * (up - down) / u;
        own += (sensitivity * input.own) * (sensitivity * input.own);
        match shared
            .iter_mut()
            .find(|(source, _)| *source == input.source)
        {
            Some((_, sum)) => *sum += sensitivity * input.shared,
            None => shared.push((input.source, sensitivity * input.shared)),
        }
    }
    Propagated {
        value,
        own: own.sqrt(),
        shared: shared.iter().map(|(_, s)| s * s).sum::<f64>().sqrt(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn input(value: f64, own: f64, shared: f64, source: u8) -> Input {
        Input {
            value,
            own,
            shared,
            source,
        }
    }

    #[test]
    fn independent_inputs_add_as_squares() {
        // JCGM 100, 5.1.2: 3² + 4² = 5²; a product adds relative uncertainties.
        let sum = propagate(&[input(1.0, 3.0, 0.0, 1), input(2.0, 4.0, 0.0, 2)], |v| {
            v[0] + v[1]
        });
        assert!((sum.own - 5.0).abs() < 1e-12 && sum.shared.abs() < 1e-12);
        let product = propagate(&[input(10.0, 0.1, 0.0, 1), input(20.0, 0.4, 0.0, 2)], |v| {
            v[0] * v[1]
        });
        let relative = product.own / product.value;
        assert!((relative - 0.01_f64.hypot(0.02)).abs() < 1e-12);
    }

    #[test]
    fn what_is_read_with_one_instrument_moves_together() {
        let one = [input(5.0, 0.0, 0.3, 1), input(2.0, 0.0, 0.3, 1)];
        assert!(propagate(&one, |v| v[0] - v[1]).shared.abs() < 1e-12);
        assert!((propagate(&one, |v| v[0] + v[1]).shared - 0.6).abs() < 1e-12);
        let two = [input(5.0, 0.0, 0.3, 1), input(2.0, 0.0, 0.3, 2)];
        let apart = propagate(&two, |v| v[0] - v[1]);
        assert!((apart.shared - 0.3 * 2.0_f64.sqrt()).abs() < 1e-12);
        assert!((apart.u() - apart.shared).abs() < 1e-15);
    }

    #[test]
    fn the_budget_of_water_absorption_agrees_with_the_handbook() {
        // HANDBOOK §15, V-GUM (computed there with a script): u 0.243, U 0.49, contributions
        // 0.161 (consistency and volume), 0.006, 0.182.
        let third = 3.0_f64.sqrt();
        let inputs = [
            input(182.0, 0.1 / third, 0.0, 1),
            input(510.0, 5.0, 0.0, 2),
            input(300.0 * 86.0 / 87.5, 0.03, 0.0, 3),
            input(12.5, 0.1, 0.0, 4),
        ];
        let absorption = |v: &[f64]| {
            let flour_14 = v[2] * (100.0 - v[3]) / 86.0;
            let corrected = v[0] + 0.096 * (v[1] - 500.0);
            100.0 * (corrected + v[2] - flour_14) / flour_14
        };
        let found = propagate(&inputs, absorption);
        assert!((found.value - 59.272).abs() < 0.02, "{found:?}");
        assert!((found.u() - 0.243).abs() < 5e-4, "{found:?}");
    }
}
