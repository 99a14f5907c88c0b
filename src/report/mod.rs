//! A visit as a document, and the document as bytes in a format.
//!
//! May import: units, vehicle, recording, evidence, checks, diagnosis, wording, store.
//! Never: touches a file, or computes what it prints.
