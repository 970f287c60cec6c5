//! `doughtrace process --watch`: files are taken in as they arrive.

use super::print;
use super::process::{Bar, Options, print_summary};
use crate::pipeline::{self, Plan, Watch};
use crate::schema::ExitStatus;
use std::time::Duration;

/// Looks at the inputs every `seconds`, processes what is complete whenever something is new, and
/// goes on until it is stopped. Each round writes the whole output anew and puts it in place in one
/// step, so that it may be stopped at any time.
pub(super) fn run(options: &Options, mut plan: Plan, seconds: u64) -> anyhow::Result<ExitStatus> {
    let mut watch = Watch::default();
    print::message(&format!(
        "watching every {seconds} s; stop with Ctrl-C: what is done stays"
    ));
    loop {
        let looked = watch.look(&plan.find_files()?);
        if looked.fresh > 0 {
            plan.take_only(looked.complete);
            let bar = Bar::new(options.no_charts);
            let done = pipeline::process(&plan, &super::made_at()?, &bar);
            bar.bar.finish_and_clear();
            print_summary(options, &plan, &done?)?;
            plan.take_all();
        }
        if looked.arriving > 0 {
            print::message(&match looked.arriving {
                1 => "1 file is still arriving".to_owned(),
                n => format!("{n} files are still arriving"),
            });
        }
        std::thread::sleep(Duration::from_secs(seconds));
    }
}
