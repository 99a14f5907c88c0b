use std::rc::Rc;
use std::sync::mpsc::{Receiver, Sender};

use slint::ComponentHandle;
use thiserror::Error;

use super::markup::{AppWindow, Navigation, Tokens};
use super::session::Session;
use super::sound::Sound;
use super::worker_bridge;
use crate::jobs::{Command, Event};
use crate::platform::Device;
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
/// come from it, and `device` is what the window stands on.
///
/// # Errors
/// Where there is no display, or it goes away.
pub fn serve(
    commands: Sender<Command>,
    events: Receiver<Event>,
    start: StartUp,
    device: Rc<dyn Device>,
) -> Result<(), UiError> {
    let window = AppWindow::new().map_err(UiError::NoDisplay)?;
    let session = Session::connect(&window, commands, Sound::find(), device);
    window.global::<Tokens>().set_night(window.get_system_night());
    worker_bridge::start(&session, events);
    session.begin(start);
    let ended = window.run().map_err(UiError::Broken);
    session.send(Command::Quit);
    worker_bridge::stop();
    ended
}

/// Opens a window that only says why the program cannot start, with what to do.
///
/// # Errors
/// Where there is no display, or it goes away.
pub fn serve_failure(sentence: &str) -> Result<(), UiError> {
    let window = AppWindow::new().map_err(UiError::NoDisplay)?;
    window.global::<Navigation>().set_notice(sentence.into());
    window.run().map_err(UiError::Broken)
}

/// The person is back in front of the window, or has changed how the device looks. To be called on
/// the window's thread.
pub fn device_changed() {
    if let Some(session) = worker_bridge::session() {
        session.device_changed();
    }
}
