use std::path::PathBuf;
#[cfg(feature = "ui")]
use std::rc::Rc;

use super::Failure;
use super::arguments::Demo;
#[cfg(feature = "ui")]
use crate::{
    jobs::Worker,
    platform::Desktop,
    ui::{StartUp, UiError, serve},
    wording::Style,
};

/// Opens the app, or says what to do where it cannot.
#[cfg(feature = "ui")]
pub(super) fn run(database: PathBuf, demo: Option<&Demo>) -> Result<(), Failure> {
    let start = match demo {
        Some(demo) => StartUp::Demo { fault: demo.fault.0, seed: Some(demo.seed) },
        None => StartUp::Vehicles,
    };
    if !has_display() {
        return Err(Failure::Work(NO_WINDOW.to_owned()));
    }
    let (worker, events) = Worker::start(database, Style::default())?;
    serve(worker.commands(), events, start, Rc::new(Desktop)).map_err(|error| match error {
        UiError::NoDisplay(_) => Failure::Work(NO_WINDOW.to_owned()),
        UiError::Broken(_) => Failure::Work(format!("The window closed by itself: {error}")),
    })
}

/// This build has no window.
#[cfg(not(feature = "ui"))]
pub(super) fn run(_database: PathBuf, _demo: Option<&Demo>) -> Result<(), Failure> {
    Err(Failure::Work(NO_WINDOW.to_owned()))
}

/// Whether a window could open: one of the variables by which a display makes itself known is set.
pub(super) fn has_display() -> bool {
    let set = |name: &str| std::env::var_os(name).is_some_and(|value| !value.is_empty());
    cfg!(feature = "ui") && (!cfg!(target_os = "linux") || set("DISPLAY") || set("WAYLAND_DISPLAY"))
}

const NO_WINDOW: &str = "There is no display to open the app on. Start it where there is one, or use \
    a command: `stilltank demo --headless` shows the whole job, `stilltank --help` lists the others.";
