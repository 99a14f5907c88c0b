use std::sync::mpsc::{Receiver, Sender};

use slint::ComponentHandle;
use thiserror::Error;

use super::markup::{AppWindow, Tokens};
use super::session::Session;
use super::sound::Sound;
use super::worker_bridge;
use crate::jobs::{Command, Event};
use crate::vehicle::Fault;

/// What the window shows first.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum StartUp {
    /// The vehicles.
    Vehicles,
    /// A visit of the virtual car.
    Demo {
        /// Its fault; `None` draws one.
        fault: Option<Fault>,
        /// Draws the car; `None` lets the program choose.
        seed: Option<u64>,
    },
}

/// Why there is no window.
#[derive(Debug, Error)]
pub enum UiError {
    /// No display to draw on; the terminal still works.
    #[error("no display: {0}")]
    NoDisplay(slint::PlatformError),
    /// The window broke while it was open.
    #[error("window: {0}")]
    Broken(slint::PlatformError),
}

/// Opens the window and serves it until it is closed: `commands` leads to the worker, `events`
/// come from it.
///
/// # Errors
/// Where there is no display, or it goes away.
pub fn serve(
    commands: Sender<Command>,
    events: Receiver<Event>,
    start: StartUp,
) -> Result<(), UiError> {
    let window = AppWindow::new().map_err(UiError::NoDisplay)?;
    let session = Session::connect(&window, commands, Sound::find());
    window.global::<Tokens>().set_night(window.get_system_night());
    worker_bridge::start(&session, events);
    session.send(Command::ReadSettings);
    session.send(Command::ListVehicles { search: String::new() });
    if let StartUp::Demo { fault, seed } = start {
        session.start_demo(fault, seed);
    }
    let ended = window.run().map_err(UiError::Broken);
    session.send(Command::Quit);
    worker_bridge::stop();
    ended
}
