//! A wire between the program and a virtual car, by the network of this machine, that notes when
//! replies pass. It knows nothing of the program's own clocks.

use std::io::{Read, Write};
use std::net::{Ipv4Addr, SocketAddr, TcpListener, TcpStream};
use std::sync::{Arc, Mutex};
use std::time::Instant as Clock;

use stilltank::jobs::{MachineClock, OpenVirtualCar};
use stilltank::vehicle::Fault;

/// What the person at the car does once the program is there.
const DEEDS: &[u8] = b"!key_on\r!start_engine\r";

/// A reply on its way to the program: when its first byte passed, and its last, the prompt.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Reply {
    pub(crate) first: Clock,
    pub(crate) last: Clock,
}

/// The wire, with a car at its other end.
pub(crate) struct Wire {
    pub(crate) port: u16,
    replies: Arc<Mutex<Vec<Reply>>>,
}

impl Wire {
    /// Lays the wire to a car with this fault. It stays until the program ends.
    pub(crate) fn lay(fault: Option<Fault>, seed: u64) -> Self {
        let any = SocketAddr::from((Ipv4Addr::LOCALHOST, 0));
        let car = OpenVirtualCar { fault, also: None, severity: None, seed };
        let server = car.listen(any, MachineClock::start()).expect("a port for the car");
        let car = server.address();
        std::thread::spawn(move || server.serve());
        let listener = TcpListener::bind(any).expect("a port for the program");
        let port = listener.local_addr().expect("a bound port").port();
        let replies: Arc<Mutex<Vec<Reply>>> = Arc::default();
        let noted = Arc::clone(&replies);
        std::thread::spawn(move || {
            let (program, _) = listener.accept().expect("the program");
            let mut car = TcpStream::connect(car).expect("the car");
            car.write_all(DEEDS).expect("the person hears");
            for end in [&program, &car] {
                end.set_nodelay(true).expect("a socket");
            }
            let requests = (clone(&program), clone(&car));
            std::thread::spawn(move || pass(requests, |_| {}));
            let mut begun: Option<Clock> = None;
            pass((car, program), |bytes| {
                let now = Clock::now();
                let first = *begun.get_or_insert(now);
                if bytes.contains(&b'>') {
                    noted.lock().expect("no panic").push(Reply { first, last: now });
                    begun = None;
                }
            });
        });
        Self { port, replies }
    }

    /// The replies that have passed.
    pub(crate) fn replies(&self) -> Vec<Reply> {
        self.replies.lock().expect("no panic").clone()
    }
}

fn clone(stream: &TcpStream) -> TcpStream {
    stream.try_clone().expect("a second handle")
}

fn pass((mut from, mut to): (TcpStream, TcpStream), mut note: impl FnMut(&[u8])) {
    let mut buffer = [0; 512];
    while let Ok(count @ 1..) = from.read(&mut buffer) {
        note(&buffer[..count]);
        if to.write_all(&buffer[..count]).is_err() {
            return;
        }
    }
}
