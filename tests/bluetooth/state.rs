use std::sync::{Arc, Mutex, MutexGuard};

/// Bytes from the program to bytes for it.
pub type Answers = Box<dyn FnMut(&[u8]) -> Vec<u8> + Send>;

pub struct State {
    pub powered: bool,
    pub discovering: bool,
    pub connected: bool,
    pub resolved: bool,
    pub notifying: bool,
    pub value: Vec<u8>,
    pub wants_pairing: bool,
    pub longest_write: usize,
    pub answers: Answers,
}

#[derive(Clone)]
pub struct Shared(pub Arc<Mutex<State>>);

impl Shared {
    pub fn get(&self) -> MutexGuard<'_, State> {
        self.0.lock().expect("no test thread panics while it holds the state")
    }
}
