//! A simulated vehicle that answers like an adapter plugged into one.
//!
//! May import: units, vehicle, link.
//! Never: looks at how its bytes are judged.
