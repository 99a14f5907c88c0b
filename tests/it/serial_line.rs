//! A real terminal line (a pair of pseudo-terminals) with the virtual car's adapter at its far end:
//! nothing checks the bytes on the way, so every command is proofread by its echo.

use std::io::{ErrorKind, Read, Write};
use std::sync::Arc;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::thread::JoinHandle;
use std::time::Duration;

use serialport::{SerialPort, TTYPort};
use stilltank::link::transport::Serial;
use stilltank::link::{Direction, Found, Link, Request, Rotation, Wanted};
use stilltank::vehicle::decode_vin;
use stilltank::virtual_car::{CarParameters, Garage, Pace};

const SEED: u64 = 4;

/// The far end: passes bytes to the car's adapter and back until the near end is closed. Of the
/// bytes that arrive, every so-manieth is lost.
struct FarEnd {
    lose_every: Arc<AtomicUsize>,
    thread: JoinHandle<()>,
}

/// A link over a terminal line, and its far end.
fn line() -> (Link, FarEnd) {
    let (port, near) = TTYPort::pair().unwrap();
    let name = near.name().unwrap();
    // The one that made the pair holds it for itself.
    drop(near);
    let serial = Serial::open(&name, Some(38_400)).unwrap();
    let lose_every = Arc::new(AtomicUsize::new(usize::MAX));
    let losing = Arc::clone(&lose_every);
    let thread = std::thread::spawn(move || answer(port, &losing));
    let link = Link::open(Box::new(serial), &mut |_| {}).unwrap();
    (link, FarEnd { lose_every, thread })
}

fn answer(mut port: TTYPort, lose_every: &AtomicUsize) {
    port.set_timeout(Duration::from_secs(20)).unwrap();
    let garage = Garage::new(parameters(), SEED, Pace::Unbounded);
    let mut wire = garage.transport();
    let (mut buffer, mut count) = ([0_u8; 64], 0_usize);
    loop {
        let arrived = match port.read(&mut buffer) {
            Ok(0) => return,
            Ok(arrived) => arrived,
            Err(error) if error.kind() == ErrorKind::Interrupted => continue,
            Err(_) => return,
        };
        let kept = buffer[..arrived].iter().copied().filter(|_| {
            count += 1;
            !count.is_multiple_of(lose_every.load(Ordering::Relaxed))
        });
        wire.write(&kept.collect::<Vec<u8>>()).unwrap();
        loop {
            let mut heard = Vec::new();
            let deadline = wire.now() + Duration::from_secs(3);
            if wire.read(&mut heard, deadline).unwrap() == 0 {
                break;
            }
            if port.write_all(&heard).is_err() {
                return;
            }
        }
    }
}

fn parameters() -> CarParameters {
    CarParameters::draw(None, None, SEED)
}

#[test]
fn every_command_is_proofread_on_a_terminal_line() {
    let (mut link, far_end) = line();
    assert_eq!(link.profile().capabilities.echo, Found::Yes);
    let sent = link.transcript().entries().filter(|it| it.direction == Direction::Sent);
    let sent: Vec<&[u8]> = sent.map(|it| it.bytes.as_slice()).collect();
    let ends = sent.iter().filter(|it| **it == b"\r").count();
    assert!(ends >= 5, "{ends} commands were proofread");
    for text in sent {
        let whole = text.len() > 1 && text.ends_with(b"\r");
        // Restart and nonsense hold no digits: they go off whole.
        let harmless = text.starts_with(b"ATZ") || text.contains(&b'r');
        assert!(!whole || harmless, "{}", String::from_utf8_lossy(text));
    }
    let mut rotation = Rotation::new(vec![Wanted::parameter(0x0C, 2, 100.0)]);
    // A poll brings nothing while nothing is due.
    let mut readings = 0;
    for _ in 0..200 {
        readings += link.poll(&mut rotation).unwrap().len();
    }
    assert!(readings >= 20, "{readings}");
    assert!(!link.is_doubtful());
    drop(link);
    far_end.thread.join().unwrap();
}

#[test]
fn lost_bytes_on_a_terminal_line_change_no_answer() {
    let (mut link, far_end) = line();
    far_end.lose_every.store(41, Ordering::Relaxed);
    for _ in 0..6 {
        let answers = link.request(&Request::new(0x09, &[0x02])).unwrap();
        // The service stands before the contents.
        let vin = decode_vin(&[&answers[0].payload[1..]]).unwrap();
        assert_eq!(vin.to_string(), parameters().vin());
    }
    assert!(link.is_doubtful(), "losses were seen");
    drop(link);
    far_end.thread.join().unwrap();
}
