//! The program on Android: the system calls `android_main` on a thread of its own, with the
//! activity started and that thread able to see the app's Java classes.

use std::process;
use std::rc::Rc;

use slint::android::AndroidApp;
use slint::android::android_activity::{MainEvent, PollEvent};

use crate::jobs::{Worker, explain};
use crate::platform::android::{self, Phone};
use crate::ui::{self, StartUp};
use crate::wording::Style;

/// Where the system's loader looks for the program.
#[unsafe(no_mangle)]
#[allow(unsafe_code, reason = "the loader finds the program by this very name")]
fn android_main(app: AndroidApp) {
    // SAFETY: the pointer is the activity for which this function was called.
    if unsafe { android::start(app.activity_as_ptr()) }.is_err() {
        return;
    }
    // Without its classes there is no Bluetooth LE; everything else works, and looking for adapters
    // says so.
    #[cfg(feature = "bluetooth")]
    let _ = android::start_bluetooth();
    let folder = app.internal_data_path();
    let told = slint::android::init_with_event_listener(app, |event| {
        // The person is back from another app, from a question of the system or from its settings,
        // or has changed how the device looks.
        if let PollEvent::Main(MainEvent::Resume { .. } | MainEvent::ConfigChanged { .. }) = event {
            ui::device_changed();
        }
    });
    if told.is_err() {
        return;
    }
    let style = Style::default();
    let database = folder.unwrap_or_default().join("stilltank.db");
    match Worker::start(database, style) {
        Ok((worker, events)) => {
            let device = Rc::new(Phone);
            // A window that breaks takes the program with it; the visit is saved all the same, when
            // the worker ends here.
            let _ = ui::serve(worker.commands(), events, StartUp::Vehicles, device);
            drop(worker);
        }
        Err(error) => {
            let _ = ui::serve_failure(&explain(&error, &style));
        }
    }
    // The toolkit cannot be set up twice in one process; a next start shall find a fresh one.
    process::exit(0);
}
