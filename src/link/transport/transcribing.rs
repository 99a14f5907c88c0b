use super::Transport;
use crate::link::LinkError;
use crate::link::transcript::{Direction, Transcript};
use crate::units::Instant;

/// Writes down what passes through any transport.
pub struct Transcribing<T> {
    inner: T,
    transcript: Transcript,
}

impl<T: Transport> Transcribing<T> {
    /// Wraps a transport, with an empty transcript.
    pub fn new(inner: T) -> Self {
        Self { inner, transcript: Transcript::default() }
    }

    /// What has passed so far.
    pub fn transcript(&self) -> &Transcript {
        &self.transcript
    }

    fn noting_loss<R>(&mut self, result: Result<R, LinkError>) -> Result<R, LinkError> {
        if result.is_err() {
            self.transcript.push(self.inner.now(), Direction::Lost, &[]);
        }
        result
    }
}

impl<T: Transport> Transport for Transcribing<T> {
    fn now(&self) -> Instant {
        self.inner.now()
    }

    fn write(&mut self, bytes: &[u8]) -> Result<(), LinkError> {
        self.transcript.push(self.inner.now(), Direction::Sent, bytes);
        let result = self.inner.write(bytes);
        self.noting_loss(result)
    }

    fn read(&mut self, into: &mut Vec<u8>, deadline: Instant) -> Result<usize, LinkError> {
        let before = into.len();
        let result = self.inner.read(into, deadline);
        if let Some(fresh) = into.get(before..).filter(|fresh| !fresh.is_empty()) {
            self.transcript.push(self.inner.now(), Direction::Received, fresh);
        }
        self.noting_loss(result)
    }

    fn reconnect(&mut self, deadline: Instant) -> Result<(), LinkError> {
        self.inner.reconnect(deadline)?;
        self.transcript.push(self.inner.now(), Direction::Back, &[]);
        Ok(())
    }

    fn is_checked(&self) -> bool {
        self.inner.is_checked()
    }
}
