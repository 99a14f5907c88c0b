use std::path::PathBuf;
use std::sync::mpsc::{self, Receiver, RecvTimeoutError, Sender, TryRecvError};
use std::thread::JoinHandle;
use std::time::Duration;

use super::rescue::Rescue;
use super::{Command, Event, JobError, Workshop};
use crate::wording::Style;

/// Longest wait for a command while nothing else is to be done.
const IDLE: Duration = Duration::from_millis(500);

/// One thread that does the jobs: commands in, events out. It ends when it is told to quit or when
/// its owner goes away, and saves first.
#[derive(Debug)]
pub struct Worker {
    commands: Sender<Command>,
    thread: Option<JoinHandle<()>>,
}

impl Worker {
    /// Opens the database and starts the thread. What it reports comes out of the receiver, in
    /// order. Of a damaged database it says so, and offers copies and salvage until a whole one
    /// stands in its place.
    ///
    /// # Errors
    /// What else keeps the database from being opened; another instance that has it open is one.
    pub fn start(database: PathBuf, style: Style) -> Result<(Self, Receiver<Event>), JobError> {
        let (event_sender, events) = mpsc::channel();
        let (commands, orders) = mpsc::channel();
        let opened = match Workshop::open(&database, style, event_sender.clone()) {
            Err(error) if error.is_damage() => Err(Rescue::new(&database, style, event_sender)),
            opened => Ok(opened?),
        };
        let begin = move || {
            let workshop = opened.or_else(|mut rescue| rescue.serve(&orders).ok_or(()));
            if let Ok(workshop) = workshop {
                work(workshop, &orders);
            }
        };
        let thread = std::thread::Builder::new()
            .name("worker".to_owned())
            .spawn(begin)
            .map_err(|error| JobError::file(&database, &error))?;
        Ok((Self { commands, thread: Some(thread) }, events))
    }

    /// Asks for something. Returns `false` if the worker has ended.
    pub fn send(&self, command: Command) -> bool {
        self.commands.send(command).is_ok()
    }

    /// Where to send commands from another place.
    pub fn commands(&self) -> Sender<Command> {
        self.commands.clone()
    }
}

impl Drop for Worker {
    fn drop(&mut self) {
        let _ended_before = self.commands.send(Command::Quit);
        if let Some(thread) = self.thread.take() {
            // A panic of the thread has been reported on standard error by then.
            drop(thread.join());
        }
    }
}

fn work(mut workshop: Workshop, orders: &Receiver<Command>) {
    loop {
        let order = if workshop.is_busy() {
            match orders.try_recv() {
                Ok(command) => Some(command),
                Err(TryRecvError::Empty) => None,
                Err(TryRecvError::Disconnected) => break,
            }
        } else {
            match orders.recv_timeout(IDLE) {
                Ok(command) => Some(command),
                Err(RecvTimeoutError::Timeout) => None,
                Err(RecvTimeoutError::Disconnected) => break,
            }
        };
        match order {
            Some(Command::Quit) => break,
            Some(command) => workshop.handle(command),
            None => {}
        }
        workshop.turn();
    }
    workshop.close();
}
