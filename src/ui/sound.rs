use std::io::Write;
use std::process::{Child, Command, Stdio};
use std::sync::mpsc::{Receiver, RecvTimeoutError, Sender, channel};
use std::time::Duration;

/// Samples a second. Enough for tones below 1.5 kHz, and little to send.
const RATE: u32 = 16_000;
/// Length of one piece of sound.
const PIECE: Duration = Duration::from_millis(60);
/// Pitch on the rails' middle line, and how many octaves it may leave it.
const MIDDLE_HERTZ: f64 = 440.0;
const OCTAVES: f64 = 1.5;

/// What is to be heard.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Heard {
    /// A tone that goes on: distance from the middle of the rails, in half bands.
    Distance(f64),
    /// Two tones: a step is done.
    Done,
    /// Nothing.
    Silence,
}

/// The sound that follows the pressure, so that a person under the bonnet hears the tank rise.
///
/// It is played by whichever player of raw samples the system has; without one there is no sound,
/// and the switch for it is not shown.
#[derive(Debug)]
pub(super) struct Sound {
    heard: Option<Sender<Heard>>,
}

impl Sound {
    /// Looks for a player.
    pub(super) fn find() -> Self {
        let Some(player) = player() else { return Self { heard: None } };
        let (heard, orders) = channel();
        let spawned = std::thread::Builder::new()
            .name("sound".to_owned())
            .spawn(move || play(player, &orders));
        Self { heard: spawned.is_ok().then_some(heard) }
    }

    /// No sound at all.
    pub(super) const fn none() -> Self {
        Self { heard: None }
    }

    /// Whether anything can be heard.
    pub(super) fn is_there(&self) -> bool {
        self.heard.is_some()
    }

    /// Sounds the distance from the middle of the rails, in half bands.
    pub(super) fn follow(&self, half_bands: f64) {
        self.order(Heard::Distance(half_bands));
    }

    /// Sounds that a step is done.
    pub(super) fn done(&self) {
        self.order(Heard::Done);
    }

    /// Ends the tone.
    pub(super) fn hush(&self) {
        self.order(Heard::Silence);
    }

    /// A player that has gone away is silence, not a failure of the check.
    fn order(&self, heard: Heard) {
        if let Some(sender) = &self.heard {
            let _ = sender.send(heard);
        }
    }
}

/// Starts the first player that is there; each takes raw signed 16-bit samples.
fn player() -> Option<Child> {
    let rate = RATE.to_string();
    let players: [(&str, Vec<&str>); 3] = [
        ("pw-cat", vec!["--playback", "--raw", "--rate", &rate, "--channels", "1", "-"]),
        ("paplay", vec!["--raw", "--format=s16le", "--channels=1", "--latency-msec=80"]),
        ("aplay", vec!["-q", "-t", "raw", "-f", "S16_LE", "-c", "1", "-r", &rate]),
    ];
    players.into_iter().find_map(|(name, words)| {
        let rate_word = format!("--rate={rate}");
        let mut command = Command::new(name);
        command.args(words).stdin(Stdio::piped()).stdout(Stdio::null()).stderr(Stdio::null());
        if name == "paplay" {
            command.arg(rate_word);
        }
        command.spawn().ok()
    })
}

fn play(mut player: Child, orders: &Receiver<Heard>) {
    let Some(mut into) = player.stdin.take() else { return };
    let (mut now, mut phase) = (Heard::Silence, 0.0);
    loop {
        let wait = if now == Heard::Silence { Duration::from_secs(3600) } else { PIECE };
        match orders.recv_timeout(wait) {
            Ok(heard) => now = heard,
            Err(RecvTimeoutError::Timeout) => {}
            Err(RecvTimeoutError::Disconnected) => break,
        }
        let piece = match now {
            Heard::Silence => continue,
            Heard::Distance(distance) => tone(pitch(distance), PIECE, &mut phase),
            Heard::Done => {
                now = Heard::Silence;
                let mut both = tone(660.0, PIECE * 2, &mut phase);
                both.extend(tone(880.0, PIECE * 3, &mut phase));
                both
            }
        };
        if into.write_all(&piece).and_then(|()| into.flush()).is_err() {
            break;
        }
    }
    drop(into);
    let _ = player.wait();
}

/// Pitch by distance from the middle of the rails: below it is lower, above it is higher, and far
/// away it moves little, as the ear tells small differences only near a note it knows.
fn pitch(half_bands: f64) -> f64 {
    MIDDLE_HERTZ * 2.0_f64.powf(OCTAVES * (half_bands / 6.0).tanh())
}

/// Samples of one tone; `phase` goes on so that pieces join without a click.
fn tone(hertz: f64, length: Duration, phase: &mut f64) -> Vec<u8> {
    let samples = (f64::from(RATE) * length.as_secs_f64()) as usize;
    let step = hertz / f64::from(RATE);
    (0..samples)
        .flat_map(|_| {
            *phase = (*phase + step).fract();
            let value = (*phase * std::f64::consts::TAU).sin() * 0.25;
            ((value * f64::from(i16::MAX)) as i16).to_le_bytes()
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn pitch_rises_with_the_pressure_and_stays_within_three_octaves() {
        assert!((pitch(0.0) - MIDDLE_HERTZ).abs() < 1e-9);
        assert!(pitch(-1.0) < pitch(0.0) && pitch(0.0) < pitch(1.0));
        assert!(pitch(-1e6) > 150.0 && pitch(1e6) < 1300.0);
    }

    #[test]
    fn tone_crosses_zero_twice_a_period_and_joins_without_a_jump() {
        let mut phase = 0.0;
        let bytes = tone(400.0, Duration::from_secs(1), &mut phase);
        let more = tone(400.0, PIECE, &mut phase);
        let samples: Vec<i32> = bytes
            .iter()
            .chain(&more[..2])
            .copied()
            .collect::<Vec<u8>>()
            .chunks_exact(2)
            .map(|pair| i32::from(i16::from_le_bytes([pair[0], pair[1]])))
            .collect();
        let crossings = samples.windows(2).filter(|p| (p[0] < 0) != (p[1] < 0)).count();
        assert!((798..=802).contains(&crossings), "{crossings}");
        let largest = samples.windows(2).map(|p| (p[1] - p[0]).abs()).max().unwrap();
        assert!(largest < 1500, "{largest}");
    }
}
