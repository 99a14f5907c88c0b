use std::sync::{Arc, Mutex};
use std::time::Duration;

use super::{Clock, Garage, Pace};
use crate::link::{LinkError, Transport};
use crate::units::Instant;
use crate::vehicle::Fault;
use crate::virtual_car::{Act, CarParameters};

/// Says a line and hears the answer up to its prompt, or up to a deadline of five seconds.
fn say(wire: &mut dyn Transport, line: &str) -> String {
    assert_eq!(wire.write(format!("{line}\r").as_bytes()), Ok(()));
    let mut heard = Vec::new();
    let deadline = wire.now() + Duration::from_secs(8);
    while !heard.ends_with(b">") && wire.now() < deadline {
        assert!(wire.read(&mut heard, deadline).is_ok());
    }
    String::from_utf8_lossy(&heard).into_owned()
}

fn garage(fault: Option<Fault>, seed: u64) -> Garage {
    Garage::new(CarParameters::draw(fault, None, seed), seed, Pace::Unbounded)
}

#[test]
fn time_passes_only_while_somebody_reads() {
    let garage = garage(None, 1);
    let mut wire = garage.transport();
    assert_eq!(wire.now(), Instant::ZERO);
    assert!(say(&mut *wire, "ATZ").contains("VIRTUAL OBD 1.0"));
    let after = wire.now();
    assert!((0.2..2.0).contains(&after.seconds()));
    assert_eq!(garage.now(), after);
    let deadline = after + Duration::from_secs(2);
    assert_eq!(wire.read(&mut Vec::new(), deadline), Ok(0));
    assert_eq!(wire.now(), deadline);
}

#[test]
fn person_says_afterwards_what_was_done() {
    let garage = garage(None, 2);
    garage.ask(Act::StartEngine);
    assert_eq!(garage.done_acts(), []);
    garage.advance(Instant::from_seconds(8.0));
    assert!(garage.engine_runs());
    let said = garage.done_acts();
    let [(at, Act::StartEngine)] = said[..] else { unreachable!("{said:?}") };
    let [(really, Act::StartEngine)] = garage.truth().acts[..] else { unreachable!("one act") };
    assert!((0.05..1.0).contains(&at.seconds_since(really)), "{at:?} {really:?}");
    assert_eq!(garage.done_acts(), []);
}

/// Values per second of a rotation over four parameters, in one request where the car takes it.
fn rate(parameters: CarParameters) -> f64 {
    let garage = Garage::new(parameters, 1, Pace::Unbounded);
    let mut wire = garage.transport();
    for line in ["ATZ", "ATE0", "ATS0", "0100"] {
        say(&mut *wire, line);
    }
    let together = say(&mut *wire, "010C112E2F");
    let start = wire.now();
    let mut values = 0;
    while wire.now().seconds_since(start) < 20.0 {
        if together.contains("NO DATA") {
            values += say(&mut *wire, "010C1").matches("410C").count();
        } else {
            // Two frames.
            let answer = say(&mut *wire, "010C112E2F2");
            // The data behind the two bytes of engine speed tells how many came.
            values += if answer.contains("2F") { 4 } else { 2 };
        }
    }
    f64::from(u32::try_from(values).unwrap_or(0)) / wire.now().seconds_since(start)
}

#[test]
fn hard_adapters_give_about_five_values_a_second_and_others_many_more() {
    for seed in 0..8 {
        let hard = rate(CarParameters::draw_hard(None, None, seed));
        assert!((3.0..12.5).contains(&hard), "seed {seed}: {hard}");
        let usual = rate(CarParameters::draw(None, None, seed));
        assert!(usual > 7.0, "seed {seed}: {usual}");
    }
}

/// A clock that moves when somebody waits for it.
struct Hourglass(Mutex<Instant>);

impl Clock for Hourglass {
    fn now(&self) -> Instant {
        *self.0.lock().expect("nobody panics while holding it")
    }

    fn wait(&self, time: Duration) {
        let mut now = self.0.lock().expect("nobody panics while holding it");
        *now = *now + time;
    }
}

#[test]
fn at_real_pace_the_car_follows_the_clock() {
    let clock = Arc::new(Hourglass(Mutex::new(Instant::from_seconds(100.0))));
    let parameters = CarParameters::draw(None, None, 1);
    let garage = Garage::new(parameters, 1, Pace::RealTime(clock.clone()));
    assert_eq!(garage.now(), Instant::ZERO);
    garage.ask(Act::StartEngine);
    let mut wire = garage.transport();
    assert!(say(&mut *wire, "ATI").contains("VIRTUAL OBD 1.0"));
    assert!(!garage.engine_runs());
    clock.wait(Duration::from_secs(10));
    assert_eq!(garage.now(), wire.now());
    assert_eq!(garage.done_acts().len(), 1);
    assert!(garage.engine_runs());
}

#[test]
fn an_adapter_out_of_reach_comes_back_and_a_mute_one_swallows_what_is_said() {
    let garage = garage(None, 1);
    let mut wire = garage.transport();
    say(&mut *wire, "ATZ");
    garage.lose_adapter(Duration::from_secs(5));
    assert_eq!(wire.write(b"ATI\r"), Err(LinkError::Lost));
    let soon = wire.now() + Duration::from_secs(2);
    assert!(wire.reconnect(soon).is_err());
    assert_eq!(wire.now(), soon, "it was tried until then");
    let later = wire.now() + Duration::from_secs(9);
    assert_eq!(wire.reconnect(later), Ok(()));
    assert!((2.9..3.1).contains(&wire.now().seconds_since(soon)), "{:?}", wire.now());
    assert!(say(&mut *wire, "ATI").contains("VIRTUAL OBD"));
    garage.mute_adapter(Duration::from_secs(3));
    let muted = wire.now();
    assert_eq!(wire.write(b"ATI\r"), Ok(()));
    let mut heard = Vec::new();
    assert_eq!(wire.read(&mut heard, muted + Duration::from_secs(4)), Ok(0));
    assert!(say(&mut *wire, "ATI").contains("VIRTUAL OBD"));
}
