//! The strip chart: what is to be drawn, where it stands, and the picture itself. Pure: a
//! description and a size in, pixels and words out.

mod cover;
mod judged;
mod layout;
mod names;
mod raster;
mod scale;
mod spec;
mod words;

#[cfg(test)]
mod layout_tests;
#[cfg(test)]
mod raster_tests;

pub use layout::{Frame, Word, draw, draw_plain, paper};
pub use raster::{Canvas, Dash};
pub use scale::{nice_step, ticks};
pub use spec::{
    Dimension, Event, Extent, Gap, Lane, Look, RailSpan, Spec, Total, TotalMark, Trace, TraceKind,
    WordSize, WordTone,
};
