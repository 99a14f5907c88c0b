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

use crate::screen::Screen;

/// How long the check is watched.
const WATCHED: Duration = Duration::from_secs(40);

/// A batch of samples on its way to the window.
struct Batch {
    /// The visit's clock at the newest reading, and at the oldest, s.
    now: f64,
    oldest: f64,
    /// When the window was given it.
    given: Clock,
}

/// What was measured.
pub(crate) struct Measured {
    /// Longest turns of the event loop: the work in it, and the drawing.
    pub(crate) events: Duration,
    pub(crate) drawing: Duration,
    /// Share of the turns that took longer than 16 ms in all.
    pub(crate) late: f64,
    /// From a reply to its pixels: middle, 95 of 100, longest.
    pub(crate) latency: [Duration; 3],
}

/// Runs the visit on this screen.
pub(crate) fn measure(screen: &Rc<Screen>, folder: &Path) -> Measured {
    let database = folder.join("histories.db");
    let (worker, events) = Worker::start(database, Style::default()).expect("a worker");
    let (to_window, for_window) = channel();
    let batches: Arc<Mutex<Vec<Batch>>> = Arc::default();
    let orders = worker.commands();
    let kept = Arc::clone(&batches);
    let relay = std::thread::spawn(move || {
        let mut ends: Option<Clock> = None;
        for event in events {
            match &event {
                Event::Visit(card) if ends.is_none() && card.car.is_some() => {
                    ends = Some(Clock::now() + WATCHED);
                    let _ = orders.send(Command::StartCheck(Check::PurgeResponse));
                }
                Event::Samples(batch) if !batch.samples.is_empty() => {
                    let oldest = batch.samples.iter().map(|it| it.1.seconds());
                    kept.lock().expect("no panic").push(Batch {
                        now: batch.now.seconds(),
                        oldest: oldest.fold(f64::MAX, f64::min),
                        given: Clock::now(),
                    });
                }
                _ => {}
            }
            let _ = to_window.send(event);
            if ends.is_some_and(|ends| Clock::now() > ends) {
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
    let fault = Some(Fault::PurgeValveLeaking);
    worker.send(Command::Connect(LinkAddress::Virtual { fault, seed: 4, real_time: true }));
    worker.send(Command::ReadCar(ReadScope::Everything));
    serve(worker.commands(), for_window, StartUp::Vehicles, Rc::new(Desktop)).expect("a window");
    relay.join().expect("the relay ends");
    drop(worker);
    let turns = screen.turns();
    let batches = std::mem::take(&mut *batches.lock().expect("no panic"));
    // The visit's clock runs at the machine's pace; a batch is given at the earliest the moment its
    // newest reading came, so the least difference tells how the clocks stand.
    let start = batches.first().map_or_else(Clock::now, |it| it.given);
    let wall = |at: Clock| at.saturating_duration_since(start).as_secs_f64();
    let apart = batches.iter().map(|it| wall(it.given) - it.now).fold(f64::MAX, f64::min);
    let mut latency: Vec<Duration> = batches
        .iter()
        .filter_map(|it| {
            let drawn = turns.iter().find(|turn| turn.ended >= it.given && !turn.drawing.is_zero());
            let took = wall(drawn?.ended) - (it.oldest + apart);
            Some(Duration::from_secs_f64(took.max(0.0)))
        })
        .collect();
    latency.sort();
    let at = |share: f64| latency[((latency.len() - 1) as f64 * share) as usize];
    let long = turns.iter().filter(|it| it.events + it.drawing > Duration::from_millis(16));
    Measured {
        events: turns.iter().map(|it| it.events).max().unwrap_or_default(),
        drawing: turns.iter().map(|it| it.drawing).max().unwrap_or_default(),
        late: long.count() as f64 / turns.len().max(1) as f64,
        latency: [at(0.5), at(0.95), at(1.0)],
    }
}
