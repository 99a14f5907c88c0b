use std::collections::VecDeque;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::sync::{Arc, Condvar, Mutex};
use std::time::Duration;

use super::{LinkError, SerialSocket, SerialSockets, Spp, Transport, machine_clock};
use crate::link::error::Unreachable;
use crate::units::Instant;

/// An adapter on the air. Each socket made to it takes the next of its moods.
#[derive(Default)]
struct Adapter {
    moods: Mutex<VecDeque<Mood>>,
    /// Which kind of socket was made each time.
    made: Mutex<Vec<bool>>,
    closed: Arc<AtomicUsize>,
}

#[derive(Clone, Copy)]
enum Mood {
    /// Says the same back, and leaves after so many pieces.
    Echoes(usize),
    /// Refuses to connect.
    Refuses,
    /// Never answers the connection.
    Sleeps,
    /// Cannot even be tried.
    Fails(Unreachable),
}

struct Socket {
    mood: Mood,
    state: Mutex<State>,
    changed: Condvar,
    closed: Arc<AtomicUsize>,
}

#[derive(Default)]
struct State {
    heard: VecDeque<Vec<u8>>,
    said: usize,
    is_closed: bool,
}

impl SerialSockets for Adapter {
    fn socket(&self, _address: &str, secure: bool) -> Result<Arc<dyn SerialSocket>, LinkError> {
        self.made.lock().unwrap().push(secure);
        let mood = self.moods.lock().unwrap().pop_front().unwrap_or(Mood::Refuses);
        if let Mood::Fails(why) = mood {
            return Err(why.into());
        }
        let closed = Arc::clone(&self.closed);
        Ok(Arc::new(Socket { mood, state: Mutex::default(), changed: Condvar::new(), closed }))
    }
}

impl Socket {
    /// Waits until `until` gives something or the socket is closed.
    fn wait<T>(&self, mut until: impl FnMut(&mut State) -> Option<T>) -> Option<T> {
        let mut state = self.state.lock().unwrap();
        loop {
            if state.is_closed {
                return None;
            }
            if let Some(found) = until(&mut state) {
                return Some(found);
            }
            state = self.changed.wait(state).unwrap();
        }
    }
}

impl SerialSocket for Socket {
    fn connect(&self) -> Result<(), LinkError> {
        match self.mood {
            Mood::Refuses | Mood::Fails(_) => Err(Unreachable::ConnectionRefused.into()),
            Mood::Sleeps => {
                self.wait(|_| None::<()>);
                Err(Unreachable::ConnectionRefused.into())
            }
            Mood::Echoes(_) => Ok(()),
        }
    }

    fn read(&self, into: &mut Vec<u8>) -> Result<usize, LinkError> {
        let Mood::Echoes(pieces) = self.mood else { return Err(LinkError::Lost) };
        let piece = self.wait(|state| {
            if state.said == pieces {
                return Some(Vec::new());
            }
            let piece = state.heard.pop_front()?;
            state.said += 1;
            Some(piece)
        });
        let piece = piece.ok_or(LinkError::Lost)?;
        into.extend_from_slice(&piece);
        Ok(piece.len())
    }

    fn write(&self, bytes: &[u8]) -> Result<(), LinkError> {
        let mut state = self.state.lock().unwrap();
        if state.is_closed {
            return Err(LinkError::Lost);
        }
        state.heard.push_back(bytes.to_vec());
        self.changed.notify_all();
        Ok(())
    }

    fn close(&self) {
        let mut state = self.state.lock().unwrap();
        if !std::mem::replace(&mut state.is_closed, true) {
            self.closed.fetch_add(1, Ordering::SeqCst);
        }
        self.changed.notify_all();
    }
}

const PATIENCE: Duration = Duration::from_secs(20);

fn adapter(moods: &[Mood]) -> Arc<Adapter> {
    Arc::new(Adapter { moods: Mutex::new(moods.iter().copied().collect()), ..Adapter::default() })
}

fn open(adapter: &Arc<Adapter>, patience: Duration) -> Result<Spp, LinkError> {
    let sockets: Arc<dyn SerialSockets> = Arc::clone(adapter) as _;
    Spp::open_through(sockets, "00:00:5E:00:53:01", patience)
}

fn soon() -> Instant {
    machine_clock::now() + PATIENCE
}

#[test]
fn bytes_pass_and_arrive_in_order() {
    let adapter = adapter(&[Mood::Echoes(9)]);
    let mut spp = open(&adapter, PATIENCE).unwrap();
    spp.write(b"ATI\r").unwrap();
    spp.write(b"ATZ\r").unwrap();
    let mut bytes = Vec::new();
    while bytes.len() < 8 {
        assert_ne!(spp.read(&mut bytes, soon()), Ok(0));
    }
    assert_eq!(bytes, b"ATI\rATZ\r");
    assert_eq!(spp.read(&mut bytes, machine_clock::now()), Ok(0), "the deadline came first");
    drop(spp);
    assert_eq!(*adapter.made.lock().unwrap(), [true]);
}

#[test]
fn an_adapter_without_encryption_is_joined_the_second_way() {
    let adapter = adapter(&[Mood::Refuses, Mood::Echoes(1)]);
    open(&adapter, PATIENCE).unwrap();
    assert_eq!(*adapter.made.lock().unwrap(), [true, false]);
}

#[test]
fn an_adapter_that_refuses_both_ways_refuses() {
    let adapter = adapter(&[Mood::Refuses, Mood::Refuses]);
    let refused = open(&adapter, PATIENCE).err();
    assert_eq!(refused, Some(Unreachable::ConnectionRefused.into()));
    assert_eq!(adapter.closed.load(Ordering::SeqCst), 2);
}

#[test]
fn what_no_second_way_helps_against_is_said_at_once() {
    for why in [Unreachable::PermissionDenied, Unreachable::RadioOff, Unreachable::PairingNeeded] {
        let adapter = adapter(&[Mood::Fails(why)]);
        assert_eq!(open(&adapter, PATIENCE).err(), Some(why.into()));
        assert_eq!(adapter.made.lock().unwrap().len(), 1);
    }
}

#[test]
fn a_sleeping_adapter_is_given_up_and_its_socket_closed() {
    let adapter = adapter(&[Mood::Sleeps, Mood::Sleeps]);
    let slept = open(&adapter, Duration::from_millis(1)).err();
    assert_eq!(slept, Some(Unreachable::TimedOut.into()));
    assert!(adapter.closed.load(Ordering::SeqCst) <= 1, "no second way was begun in between");
}

#[test]
fn an_adapter_that_leaves_is_a_loss_that_can_be_mended() {
    let adapter = adapter(&[Mood::Echoes(1), Mood::Refuses, Mood::Refuses, Mood::Echoes(9)]);
    let mut spp = open(&adapter, PATIENCE).unwrap();
    let mut bytes = Vec::new();
    spp.write(b"1").unwrap();
    assert_eq!(spp.read(&mut bytes, soon()), Ok(1));
    assert_eq!(spp.read(&mut bytes, soon()), Err(LinkError::Lost));
    assert_eq!(spp.write(b"2"), Err(LinkError::Lost));
    assert_eq!(spp.read(&mut bytes, soon()), Err(LinkError::Lost));
    spp.reconnect(soon()).unwrap();
    spp.write(b"3").unwrap();
    assert_eq!(spp.read(&mut bytes, soon()), Ok(1));
    assert_eq!(bytes, b"13");
}

#[test]
fn a_machine_without_such_sockets_says_so() {
    let none = Spp::open("00:00:5E:00:53:01", PATIENCE).err();
    assert_eq!(none, Some(Unreachable::NoClassic.into()));
}
