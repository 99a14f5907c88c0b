use std::path::Path;
use std::time::Duration;

use super::recording_file::write_recording;
use super::source::Source;
use super::{JobError, LinkAddress, MachineClock, connect, read_car};
use crate::link::LinkError;
use crate::recording::Recording;
use crate::store::Listening;
use crate::units::Instant;
use crate::vehicle::CustomSignal;
use crate::virtual_car::{Act, Garage};
use crate::wording::Language;

/// Between two writes of the file. Writing it whole costs more the longer it is, so the pause is
/// at least so many times what the last write took.
const SAVE_EVERY: Duration = Duration::from_secs(1);
const PAUSE_PER_WRITE: u32 = 20;

/// How long a lost link is tried for before the recording ends with what there is.
const LOST_PATIENCE: Duration = Duration::from_secs(30);

/// What the person at a virtual car does while it is recorded, by seconds from the start: a rest,
/// the start, a while at idle, the valve unplugged and plugged three times, and the throttle opened
/// three times with it unplugged.
const ROUTINE: [(f64, Act); 15] = [
    (0.0, Act::KeyOn),
    (25.0, Act::StartEngine),
    (110.0, Act::UnplugPurge),
    (130.0, Act::PlugPurge),
    (150.0, Act::UnplugPurge),
    (170.0, Act::PlugPurge),
    (190.0, Act::UnplugPurge),
    (205.0, Act::OpenThrottle),
    (225.0, Act::OpenThrottle),
    (245.0, Act::OpenThrottle),
    (265.0, Act::OpenThrottle),
    (285.0, Act::PlugPurge),
    (305.0, Act::StopEngine),
    (335.0, Act::OpenCap),
    (355.0, Act::CloseCap),
];

/// What came of a recording.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Recorded {
    /// Samples of all signals together.
    pub samples: usize,
}

/// Reads the trouble codes and polls the check signals for so many seconds into a file, which is written again and again
/// meanwhile. `on_progress` is told the share done and the samples so far.
///
/// # Errors
/// When the car cannot be reached or the file cannot be written.
pub fn record(
    address: &LinkAddress,
    seconds: f64,
    out: &Path,
    clock: MachineClock,
    own: &[CustomSignal],
    on_progress: &mut dyn FnMut(f64, usize),
) -> Result<Recorded, JobError> {
    // Found out before the car is asked for anything.
    write_recording(out, &Recording::default())?;
    let wanted = Listening { own_signals: own.to_vec(), ..Listening::default() };
    let mut source = connect::connect(address, clock, &wanted, &mut |_| {})?;
    let mut taken = Taken::default();
    for code in codes(&mut source)? {
        taken.recording.push_code(Instant::ZERO, &code);
    }
    let started = source.now();
    let mut asked = 0;
    let mut next_save = clock.now() + SAVE_EVERY;
    loop {
        let elapsed = source.now().seconds_since(started);
        if elapsed >= seconds || source.is_over() {
            break;
        }
        if let Some(garage) = source.garage() {
            asked = follow_routine(garage, elapsed, asked);
        }
        match source.poll() {
            Ok(catch) => taken.take(&catch, started),
            Err(LinkError::NoData) => {}
            Err(error) => {
                if !regain(&mut source) {
                    write_recording(out, &taken.recording)?;
                    return Err(error.into());
                }
            }
        }
        if clock.now() >= next_save {
            let before = clock.now();
            write_recording(out, &taken.recording)?;
            let took = clock.now().saturating_since(before);
            next_save = clock.now() + SAVE_EVERY.max(took * PAUSE_PER_WRITE);
            on_progress((elapsed / seconds).clamp(0.0, 1.0), taken.samples);
        }
    }
    write_recording(out, &taken.recording)?;
    Ok(Recorded { samples: taken.samples })
}

/// The trouble codes: they are evidence like the samples.
fn codes(source: &mut Source) -> Result<Vec<String>, JobError> {
    Ok(match source {
        Source::Car(car) => {
            let lines = read_car::read_codes(&mut car.link, Language::default())?;
            lines.into_iter().map(|line| line.code).collect()
        }
        Source::Replay(player) => player.codes().iter().map(|it| it.code.clone()).collect(),
    })
}

#[derive(Default)]
struct Taken {
    recording: Recording,
    samples: usize,
}

impl Taken {
    /// Takes a catch in, on a clock that starts with the recording.
    fn take(&mut self, catch: &super::source::Catch, started: Instant) {
        let at = |time: Instant| Instant::ZERO + time.saturating_since(started);
        for (signal, time, value) in &catch.samples {
            let time = at(*time).whole_millisecond();
            self.samples += usize::from(self.recording.push(*signal, time, *value));
        }
        for deed in &catch.actions {
            self.recording.push_action(at(deed.at), deed.action);
        }
    }
}

fn follow_routine(garage: &Garage, elapsed: f64, asked: usize) -> usize {
    let due = ROUTINE.iter().skip(asked).take_while(|(at, _)| *at <= elapsed);
    due.fold(asked, |count, (_, act)| {
        garage.ask(*act);
        count + 1
    })
}

/// Tries to get a lost link back.
pub(super) fn regain(source: &mut Source) -> bool {
    match source {
        Source::Car(car) => {
            let deadline = car.link.now() + LOST_PATIENCE;
            car.link.reconnect(deadline).is_ok()
        }
        Source::Replay(_) => false,
    }
}
