//! Options of every command that draws charts.

use crate::pipeline::ChartOptions;
use clap::Args;

#[derive(Debug, Clone, Copy, Args)]
#[command(next_help_heading = "Charts")]
pub(super) struct Charts {
    /// Width of charts in pixels of 1/96 inch; 1200 when left out
    #[arg(long, value_name = "PIXELS", value_parser = clap::value_parser!(u32).range(480..=4000))]
    width: Option<u32>,
    /// Least height of charts in pixels of 1/96 inch; a chart with much text grows taller; 760 when
    /// left out
    #[arg(long, value_name = "PIXELS", value_parser = clap::value_parser!(u32).range(320..=4000))]
    height: Option<u32>,
    /// Dots an inch of PNG charts, 96 for one dot a pixel; 192 when left out
    #[arg(long, value_name = "DPI", value_parser = clap::value_parser!(u32).range(48..=600))]
    dpi: Option<u32>,
    /// Write each chart as SVG too, beside its PNG
    #[arg(long)]
    svg: bool,
}

impl From<Charts> for ChartOptions {
    fn from(asked: Charts) -> ChartOptions {
        ChartOptions {
            width: asked.width,
            height: asked.height,
            dpi: asked.dpi,
            svg: asked.svg,
        }
    }
}
