//! Pure numbers: slices in, numbers with bounds out.
//!
//! May import: nothing.
//! Never: does I/O, knows a signal or a fault, or panics on odd data.
