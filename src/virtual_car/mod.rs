//! A simulated vehicle that answers like an adapter plugged into one.
//!
//! May import: units, vehicle, link.
//! Never: looks at how its bytes are judged.
//!
//! [`CarParameters`] draws a car, [`Garage`] holds it with a person beside it, and
//! [`Garage::transport`] is the wire to its adapter. Nothing here reads a clock: the car's time
//! moves when somebody reads from the wire (or when the wall clock of `link::transport` does).

mod car;
mod chance;
mod control_unit;
mod engine;
mod fault_injection;
mod fuel_trim;
mod garage;
mod intake;
mod orifice;
mod person;
mod population;
mod purge_control;
mod sensor;
mod tcp_server;
mod truth;
mod vapor_circuit;
mod virtual_adapter;

pub use control_unit::{OWN_SIGNALS, TANK_SENSOR_IDENTIFIER, VENT_COMMAND_IDENTIFIER};
pub use garage::{Clock, Garage, Pace};
pub use person::Act;
pub use population::CarParameters;
pub use tcp_server::serve_tcp;
pub use truth::Truth;
