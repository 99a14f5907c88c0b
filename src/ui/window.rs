use std::path::PathBuf;
use std::sync::mpsc::{Receiver, Sender};

use slint::ComponentHandle;
use thiserror::Error;

use super::markup::{AppWindow, Tokens};
use super::session::Session;
use super::worker_bridge;
use crate::jobs::{Command, Event, JobError, Worker};
use crate::vehicle::Fault;
use crate::wording::Style;

/// Why there is no window.
#[derive(Debug, Error)]
pub enum StartError {
    /// No display to draw on, or it went away; the terminal still works.
    #[error("no display")]
    NoDisplay,
    /// The worker could not start.
    #[error(transparent)]
    Job(#[from] JobError),
}

/// Opens the window on a database and serves it until it is closed. With `demo` a visit of the
/// virtual car with this fault and this seed is opened at once.
///
/// # Errors
/// Where there is no display, or the database cannot be opened.
pub fn run(database: PathBuf, demo: Option<(Option<Fault>, u64)>) -> Result<(), StartError> {
    let window = AppWindow::new().map_err(|_| StartError::NoDisplay)?;
    let mut worker = Worker::start(database, Style::default())?;
    let events = worker.take_events();
    let session = serve(&window, worker.commands(), events);
    if let Some((fault, seed)) = demo {
        session.start_demo(fault, Some(seed));
    }
    let ended = window.run();
    worker_bridge::stop();
    ended.map_err(|_| StartError::NoDisplay)
}

/// Connects a window to a worker: `commands` leads to it, `events` come from it.
fn serve(
    window: &AppWindow,
    commands: Sender<Command>,
    events: Receiver<Event>,
) -> std::rc::Rc<Session> {
    let session = Session::connect(window, commands);
    window.global::<Tokens>().set_night(window.get_system_night());
    worker_bridge::start(&session, events);
    session.send(Command::ReadSettings);
    session.send(Command::ListVehicles { search: String::new() });
    session
}
