use crate::recording::{Action, Recording};
use crate::units::Instant;
use crate::vehicle::Signal;

/// Noise of about ±1 that is the same every time.
pub(super) struct Noise(u64);

impl Noise {
    /// From the beginning.
    pub(super) const fn start() -> Self {
        Self(7)
    }

    pub(super) fn next(&mut self) -> f64 {
        self.0 =
            self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        let uniform = ((self.0 >> 33) as f64) / f64::from(1_u32 << 31);
        uniform * 2.0 - 1.0
    }
}

/// An invented tank that follows `target` with time constant `tau`, read in steps of 4 Pa.
struct Tank {
    recording: Recording,
    noise: Noise,
    pressure: f64,
    time: f64,
}

impl Tank {
    fn new(start: f64) -> Self {
        Self { recording: Recording::default(), noise: Noise::start(), pressure: 0.0, time: start }
    }

    fn run(&mut self, seconds: f64, tau: f64, target: impl Fn(f64) -> f64, other: (Signal, f64)) {
        let end = self.time + seconds;
        let begun = self.time;
        while self.time < end {
            let step = 0.104;
            let goal = target(self.time - begun);
            self.pressure += (goal - self.pressure) * (1.0 - (-step / tau).exp());
            let reading = ((self.pressure + self.noise.next() * 7.0) / 4.0).round() * 4.0;
            let at = Instant::from_seconds(self.time);
            self.recording.push(Signal::TankPressure, at, reading);
            self.recording.push(other.0, at, other.1);
            self.recording.push(Signal::ManifoldPressure, at, 31.2);
            self.recording.push(Signal::EngineSpeed, at, 742.0 + self.noise.next() * 4.0);
            self.time += step;
        }
    }

    fn act(&mut self, action: Action) {
        self.recording.push_action(Instant::from_seconds(self.time), action);
    }
}

/// Rest, engine start with a leak, then the car opens the purge.
pub(super) fn visit() -> Recording {
    let mut tank = Tank::new(0.0);
    tank.run(11.0, 0.3, |_| -3.0, (Signal::PurgeCommand, 0.0));
    tank.act(Action::EngineStarted);
    tank.run(28.0, 0.7, |_| -209.0, (Signal::PurgeCommand, 0.0));
    tank.run(17.0, 0.6, |_| -388.0, (Signal::PurgeCommand, 26.0));
    tank.recording
}

/// The vent sealed, the purge without effect, then unplugged and held, the engine `stopped` in the end:
/// nothing moves.
pub(super) fn sealed(stopped: bool) -> Recording {
    let mut tank = Tank::new(100.0);
    tank.run(6.0, 0.5, |_| -3.0, (Signal::PurgeCommand, 38.0));
    tank.act(Action::VentSealed);
    tank.run(40.0, 0.5, |_| -3.0, (Signal::PurgeCommand, 38.0));
    tank.act(Action::PurgeUnplugged);
    tank.run(60.0, 0.5, |_| -3.0, (Signal::PurgeCommand, 38.0));
    if stopped {
        tank.act(Action::EngineStopped);
        tank.run(12.0, 0.5, |_| -3.0, (Signal::PurgeCommand, 0.0));
    }
    tank.recording
}

/// Two cycles of unplugging, the second just begun.
pub(super) fn unplug() -> Recording {
    let mut tank = Tank::new(100.0);
    tank.pressure = -468.0;
    tank.run(4.2, 0.5, |_| -468.0, (Signal::PurgeCommand, 42.0));
    tank.act(Action::PurgeUnplugged);
    tank.run(6.4, 0.55, |_| -209.0, (Signal::PurgeCommand, 42.0));
    tank.act(Action::PurgePlugged);
    tank.run(6.4, 0.5, |_| -468.0, (Signal::PurgeCommand, 42.0));
    tank.act(Action::PurgeUnplugged);
    tank.run(0.6, 0.55, |_| -209.0, (Signal::PurgeCommand, 42.0));
    tank.recording
}

/// Throttle openings with the valve unplugged; `share` of the vacuum goes with each.
pub(super) fn follow(share: f64, rest: f64, openings: u32) -> Recording {
    let mut tank = Tank::new(200.0);
    tank.pressure = rest;
    for opening in 0..openings {
        tank.run(if opening == 0 { 4.3 } else { 5.4 }, 0.6, |_| rest, (Signal::Throttle, 2.0));
        tank.act(Action::ThrottleOpened);
        let goal = rest + share;
        let last = opening + 1 == openings;
        let held = if last { 0.9 } else { 1.9 };
        tank.run(held, 0.75, move |_| goal, (Signal::Throttle, 82.0));
    }
    tank.recording
}

/// Throttle openings from the first one on: seconds, Pa.
pub(super) fn openings(share: f64, rest: f64) -> Vec<(f64, f64)> {
    readings(260, 0.0, |t| {
        let since = t % 7.3 - 4.3;
        let lift = match since {
            s if s < 0.0 => 0.0,
            s if s < 1.8 => 1.0 - (-s / 0.8).exp(),
            s => (-(s - 1.8) / 0.5).exp(),
        };
        rest + share * lift
    })
}

/// A return from purge's vacuum to where the tank comes to rest: seconds after the unplugging, Pa.
pub(super) fn comes_back(to: f64) -> Vec<(f64, f64)> {
    const PULLED: f64 = -468.0;
    readings(130, -3.0, |t| if t < 0.0 { PULLED } else { to + (PULLED - to) * (-t / 0.5).exp() })
}

/// From an engine's start on what its pull makes of a still tank: seconds after the start, Pa.
pub(super) fn engine_pulls(to: f64) -> Vec<(f64, f64)> {
    readings(230, -3.0, |t| if t < 0.0 { 0.0 } else { to * (1.0 - (-t / 0.6).exp()) })
}

fn readings(count: u32, from: f64, tank: impl Fn(f64) -> f64) -> Vec<(f64, f64)> {
    let mut noise = Noise::start();
    let reading = |i| {
        let t = from + f64::from(i) * 0.1;
        (t, tank(t) + (noise.next() * 7.0 / 4.0).round() * 4.0)
    };
    (0..count).map(reading).collect()
}
