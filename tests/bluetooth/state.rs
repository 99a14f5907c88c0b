use std::sync::{Arc, Mutex, MutexGuard};

/// Bytes from the program to bytes for it.
pub(crate) type Answers = Box<dyn FnMut(&[u8]) -> Vec<u8> + Send>;

pub(crate) struct State {
    pub(crate) powered: bool,
    pub(crate) discovering: bool,
    pub(crate) wants_pairing: bool,
    /// Beyond what a peripheral sends by itself, dB.
    pub(crate) nearer: i16,
    pub(crate) longest_write: usize,
    pub(crate) answers: Answers,
    /// One for each peripheral.
    pub(crate) peers: Vec<Peer>,
}

/// How one peripheral stands.
#[derive(Clone, Default)]
pub(crate) struct Peer {
    pub(crate) connected: bool,
    pub(crate) resolved: bool,
    pub(crate) notifying: bool,
    pub(crate) value: Vec<u8>,
}

#[derive(Clone)]
pub(crate) struct Shared(pub(crate) Arc<Mutex<State>>);

impl Shared {
    pub(crate) fn get(&self) -> MutexGuard<'_, State> {
        self.0.lock().expect("no test thread panics while it holds the state")
    }
}
