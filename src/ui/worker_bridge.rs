use std::cell::RefCell;
use std::collections::VecDeque;
use std::rc::Rc;
use std::sync::mpsc::Receiver;
use std::sync::{Arc, Mutex, PoisonError};

use super::session::Session;
use crate::jobs::Event;

thread_local! {
    /// The session of this thread's window; events find their way to it from the event loop.
    static SESSION: RefCell<Option<Rc<Session>>> = const { RefCell::new(None) };
}

/// Hands the worker's events to the window, on the window's own thread and in order.
///
/// A thread waits for events, puts them into a queue and wakes the event loop, which empties the
/// queue: events that arrive faster than frames are taken together.
pub(super) fn start(session: &Rc<Session>, events: Receiver<Event>) {
    SESSION.with(|place| *place.borrow_mut() = Some(Rc::clone(session)));
    let queue: Arc<Mutex<VecDeque<Event>>> = Arc::default();
    let spawned = std::thread::Builder::new().name("events".to_owned()).spawn(move || {
        while let Ok(event) = events.recv() {
            let waiting = {
                let mut queue = queue.lock().unwrap_or_else(PoisonError::into_inner);
                queue.push_back(event);
                queue.len() > 1
            };
            if waiting {
                continue;
            }
            let queue = Arc::clone(&queue);
            if slint::invoke_from_event_loop(move || drain(&queue)).is_err() {
                return;
            }
        }
    });
    if let Err(error) = spawned {
        session.handle(Event::Failed(error.to_string()));
    }
}

/// The session of this thread's window, while it is served.
pub(super) fn session() -> Option<Rc<Session>> {
    SESSION.with(|place| place.borrow().clone())
}

/// Lets go of the session, so that the window can close.
pub(super) fn stop() {
    SESSION.with(|place| place.borrow_mut().take());
}

fn drain(queue: &Mutex<VecDeque<Event>>) {
    let Some(session) = session() else { return };
    let events = std::mem::take(&mut *queue.lock().unwrap_or_else(PoisonError::into_inner));
    for event in events {
        session.handle(event);
    }
    session.refresh_if_due();
}
