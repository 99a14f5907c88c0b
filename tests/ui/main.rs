//! The window without a display: real pixels, real queries, mocked time.
#![cfg(feature = "ui")]

mod pictures;
