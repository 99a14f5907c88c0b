//! A visit with the virtual car at the pace of life, through the real worker: how long a turn of the
//! event loop takes, and how long a reply on the link needs to become pixels.

use std::path::Path;
use std::rc::Rc;
use std::sync::mpsc::channel;
use std::sync::{Arc, Mutex};
use std::time::{Duration, Instant as Clock};

use stilltank::evidence::Check;
use stilltank::jobs::{Command, Event, LinkAddress, ReadScope, Worker};
use stilltank::platform::Desktop;
use stilltank::ui::{StartUp, serve};
use stilltank::vehicle::Fault;
use stilltank::wording::Style;

use crate::screen::{Screen, Turn};
use crate::wire::{Reply, Wire};

/// How long the check is watched.
const WATCHED: Duration = Duration::from_secs(40);

/// What a person may wait for what they see.
const LIMIT: Duration = Duration::from_millis(100);

/// Middle, 95 of 100, longest, and how many were past the limit.
pub(crate) struct Times {
    pub(crate) middle: Duration,
    pub(crate) most: Duration,
    pub(crate) longest: Duration,
    pub(crate) late: usize,
    pub(crate) count: usize,
}

/// What was measured.
pub(crate) struct Measured {
    /// Longest turns of the event loop: the work in it, and the drawing.
    pub(crate) events: Duration,
    pub(crate) drawing: Duration,
    /// Share of the turns that took longer than 16 ms in all.
    pub(crate) late: f64,
    /// From a reply's last byte on the wire to its pixels.
    pub(crate) whole: Times,
    /// From its first byte to its last: what the adapter and its radio take.
    pub(crate) on_the_wire: Times,
    /// From its first byte to its pixels.
    pub(crate) in_all: Times,
}

/// Runs the visit on this screen.
pub(crate) fn measure(screen: &Rc<Screen>, folder: &Path) -> Measured {
    let wire = Wire::lay(Some(Fault::PurgeValveLeaking), 4);
    let database = folder.join("histories.db");
    let (worker, events) = Worker::start(database, Style::default()).expect("a worker");
    let (to_window, for_window) = channel();
    let given: Arc<Mutex<Vec<Clock>>> = Arc::default();
    let began: Arc<Mutex<Option<Clock>>> = Arc::default();
    let orders = worker.commands();
    let kept = (Arc::clone(&given), Arc::clone(&began));
    let relay = std::thread::spawn(move || {
        let mut ends: Option<Clock> = None;
        for event in events {
            let now = Clock::now();
            match &event {
                Event::Visit(card) if ends.is_none() && card.car.is_some() => {
                    ends = Some(now + WATCHED);
                    let _ = orders.send(Command::StartCheck(Check::PurgeResponse));
                }
                Event::Check(_) => {
                    kept.1.lock().expect("no panic").get_or_insert(now);
                }
                Event::Samples(batch) if !batch.samples.is_empty() => {
                    kept.0.lock().expect("no panic").push(now);
                }
                _ => {}
            }
            let _ = to_window.send(event);
            if ends.is_some_and(|ends| now > ends) {
                let _ = slint::quit_event_loop();
                return;
            }
        }
    });
    let add = Command::AddVehicle {
        name: "Practice car".to_owned(),
        vin: String::new(),
        notes: String::new(),
    };
    worker.send(add);
    worker.send(Command::StartVisit { vehicle: 1 });
    let host = "127.0.0.1".to_owned();
    worker.send(Command::Connect(LinkAddress::Tcp { host, port: wire.port }));
    worker.send(Command::ReadCar(ReadScope::Everything));
    serve(worker.commands(), for_window, StartUp::Vehicles, Rc::new(Desktop)).expect("a window");
    relay.join().expect("the relay ends");
    drop(worker);
    let turns = screen.turns();
    let given = std::mem::take(&mut *given.lock().expect("no panic"));
    let began = began.lock().expect("no panic").expect("the check began");
    let pixels: Vec<(Reply, Clock)> = wire
        .replies()
        .into_iter()
        .filter(|reply| reply.first > began)
        .filter_map(|reply| Some((reply, drawn(&reply, &given, &turns)?)))
        .collect();
    let times = |took: &dyn Fn(&(Reply, Clock)) -> Duration| of(pixels.iter().map(took).collect());
    let long = turns.iter().filter(|it| it.events + it.drawing > Duration::from_millis(16));
    Measured {
        events: turns.iter().map(|it| it.events).max().unwrap_or_default(),
        drawing: turns.iter().map(|it| it.drawing).max().unwrap_or_default(),
        late: long.count() as f64 / turns.len().max(1) as f64,
        whole: times(&|(reply, drawn)| *drawn - reply.last),
        on_the_wire: times(&|(reply, _)| reply.last - reply.first),
        in_all: times(&|(reply, drawn)| *drawn - reply.first),
    }
}

/// When a reply stood on the screen: at the end of the first drawing that began after the readings
/// were handed on. The next request leaves later than that, so no other reply comes between.
fn drawn(reply: &Reply, given: &[Clock], turns: &[Turn]) -> Option<Clock> {
    let given = given.iter().find(|it| **it >= reply.last)?;
    let after = |turn: &&Turn| turn.ended - turn.drawing - turn.events >= *given;
    turns.iter().filter(|it| !it.drawing.is_zero()).find(after).map(|it| it.ended)
}

fn of(mut times: Vec<Duration>) -> Times {
    times.sort();
    let at = |share: f64| times[((times.len() - 1) as f64 * share) as usize];
    let late = times.iter().filter(|it| **it > LIMIT).count();
    Times { middle: at(0.5), most: at(0.95), longest: at(1.0), late, count: times.len() }
}
