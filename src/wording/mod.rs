//! Plain sentences for what the layers below found, in the person's language.
//!
//! May import: units, vehicle, recording, evidence, checks, diagnosis.
//! Never: computes, decides, or knows a window.
