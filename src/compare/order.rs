//! The order in which the doughs of a study are made: complete blocks, methods in random order
//! within each (HANDBOOK §12.1).

use crate::numerics::shuffle;
use crate::study::Study;
use rand_chacha::ChaCha8Rng;
use rand_core::SeedableRng;

/// One dough of the run sheet.
#[derive(Debug, Clone, PartialEq)]
pub struct SheetRow {
    /// Position in the order, counted from 1.
    pub order: usize,
    /// Block: one day and flour lot.
    pub block: String,
    /// Identifier of the dough; it does not tell the method, so that graders stay blind.
    pub batch_id: String,
    /// Mixing method.
    pub treatment: String,
    /// Flour lot, where the study names lots: blocks take them in turn.
    pub sample_id: Option<String>,
    /// Water, points of flour mass, where the study varies it.
    pub hydration_pct: Option<f64>,
    /// Replicate of the method at this water: the number of the block.
    pub replicate: usize,
}

/// Returns the run order of `blocks` complete blocks. The same seed gives the same order.
pub(super) fn run_order(study: &Study, blocks: usize) -> Vec<SheetRow> {
    let mut random = ChaCha8Rng::seed_from_u64(study.seed);
    let waters: Vec<Option<f64>> = match study.factors.hydrations_pct.as_slice() {
        [] => vec![None],
        list => list.iter().map(|w| Some(*w)).collect(),
    };
    let mut rows = Vec::new();
    for block in 0..blocks {
        let mut doughs: Vec<(&String, Option<f64>)> = study
            .factors
            .treatments
            .iter()
            .flat_map(|treatment| waters.iter().map(move |water| (treatment, *water)))
            .collect();
        shuffle(&mut doughs, &mut random);
        let flours = &study.factors.flours;
        let flour = flours.get(block % flours.len().max(1));
        for (treatment, hydration_pct) in doughs {
            let order = rows.len() + 1;
            rows.push(SheetRow {
                order,
                block: format!("block-{:02}", block + 1),
                batch_id: format!("D{order:03}"),
                treatment: treatment.clone(),
                sample_id: flour.cloned(),
                hydration_pct,
                replicate: block + 1,
            });
        }
    }
    rows
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::study::parse;
    use std::collections::BTreeSet;

    fn study(seed: u64) -> Study {
        let text = format!(
            "title = \"t\"\narchives = [\"a\"]\nreference = \"spiral\"\nseed = {seed}\n[factors]\n\
             treatment = [\"spiral\", \"two-arm\", \"high-speed\"]\nflour = [\"F1\", \"F2\"]\n\
             hydration_pct = [58, 60]\n[[claims]]\nid = \"c\"\nsentence = \"s\"\nmetric = \"m.m\"\n\
             kind = \"equivalent\"\nmargin = 1\ntreatments = [\"two-arm\"]"
        );
        parse(&text).unwrap_or_else(|p| unreachable!("{p:?}"))
    }

    #[test]
    fn each_block_holds_every_dough_once_in_an_order_of_its_own() {
        let rows = run_order(&study(7), 4);
        assert_eq!(rows.len(), 24);
        let mut orders = BTreeSet::new();
        for block in rows.chunks(6) {
            let doughs: BTreeSet<(&str, String)> = block
                .iter()
                .map(|r| (r.treatment.as_str(), format!("{:?}", r.hydration_pct)))
                .collect();
            assert_eq!(doughs.len(), 6);
            assert!(block.iter().all(|r| r.block == block[0].block));
            orders.insert(format!(
                "{:?}",
                block.iter().map(|r| &r.treatment).collect::<Vec<_>>()
            ));
        }
        assert!(orders.len() > 1);
        assert_eq!(rows[0].sample_id.as_deref(), Some("F1"));
        assert_eq!(rows[6].sample_id.as_deref(), Some("F2"));
        assert_eq!(rows, run_order(&study(7), 4));
        assert_ne!(rows, run_order(&study(8), 4));
    }
}
