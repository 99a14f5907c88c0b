//! The window without a display: real pixels, real queries, mocked time.

mod contrast;
mod controls;
mod live;
mod pictures;
mod stage;
mod translations;
