//! Messages longer than a frame on CAN: ISO 15765-2, with the limits of ISO 15765-4.

pub(in crate::link) mod assembler;
pub(in crate::link) mod frame;
