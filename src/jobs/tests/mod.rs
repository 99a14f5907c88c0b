//! What tests of several jobs share.

pub(super) mod answering_car;
