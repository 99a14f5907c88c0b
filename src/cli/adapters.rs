use std::path::PathBuf;
use std::sync::mpsc::{Receiver, channel};
use std::time::Duration;

use serde::Serialize;

use super::arguments::Adapters;
use super::link_argument::link_words;
use super::{Failure, Output};
use crate::jobs::{AdapterSeen, Command, Event, LinkAddress, MachineClock, Workshop};
use crate::link::transport::StreamOffer;
use crate::wording::Style;

/// Number of the layout below.
const SCHEMA: u32 = 1;

/// Lists, remembers or forgets adapters.
pub(super) fn run(
    arguments: &Adapters,
    database: PathBuf,
    output: &mut Output,
) -> Result<(), Failure> {
    let (events, heard) = channel();
    let mut workshop = Workshop::open(&database, Style::default(), events)?;
    if let Some(link) = &arguments.streams {
        output.progress("Asking the adapter what it offers …");
        workshop.attempt(Command::ListStreams(link.clone()))?;
        streams(link, &heard, output);
        return Ok(());
    }
    let mut seconds = arguments.seconds;
    if let Some(address) = &arguments.remember {
        let name = arguments.name.clone().unwrap_or_else(|| link_words(address));
        workshop.attempt(Command::RememberAdapter { address: address.clone(), name })?;
        seconds = 0.0;
    } else if let Some(address) = &arguments.forget {
        workshop.attempt(Command::ForgetAdapter(address.clone()))?;
        seconds = 0.0;
    } else {
        output.progress("Looking for adapters …");
        workshop.attempt(Command::ScanAdapters)?;
    }
    let (seen, failure) = listen(&heard, Duration::from_secs_f64(seconds));
    if arguments.json {
        let adapters = seen.iter().map(AdapterLine::new).collect();
        output.json(&Layout { schema: SCHEMA, adapters });
    } else if seen.is_empty() {
        output.message(failure.as_deref().unwrap_or("No adapter in reach, and none remembered."));
    } else {
        output.data(&seen.iter().map(in_words).collect::<Vec<_>>().join("\n"));
    }
    Ok(())
}

/// Hears the search out for a while. Returns the last list and why something was not looked for.
fn listen(heard: &Receiver<Event>, time: Duration) -> (Vec<AdapterSeen>, Option<String>) {
    let clock = MachineClock::start();
    let (mut seen, mut failure) = (Vec::new(), None);
    loop {
        let left = time.saturating_sub(clock.now().saturating_since(crate::units::Instant::ZERO));
        match heard.recv_timeout(left) {
            Ok(Event::Adapters(list)) => {
                seen = list;
                if time.is_zero() {
                    return (seen, failure);
                }
            }
            Ok(Event::Failed(sentence)) => failure = Some(sentence),
            Ok(Event::Looking(false)) | Err(_) => return (seen, failure),
            Ok(_) => {}
        }
    }
}

fn streams(link: &LinkAddress, heard: &Receiver<Event>, output: &mut Output) {
    let offers = heard.try_iter().find_map(|event| match event {
        Event::Streams { offers, .. } => Some(offers),
        _ => None,
    });
    let offers = offers.unwrap_or_default();
    if offers.is_empty() {
        output.message("It offers no pair of characteristics that could carry a serial stream.");
        return;
    }
    let line = |it: &StreamOffer| {
        let way = if it.without_response { "without response" } else { "with response" };
        let usual = if it.usual { ", taken unless you choose" } else { "" };
        format!("{}#{}: writes {way}{usual}", link_words(link), it.pair)
    };
    output.data(&offers.iter().map(line).collect::<Vec<_>>().join("\n"));
}

fn in_words(it: &AdapterSeen) -> String {
    let mut words = link_words(&it.address);
    if let Some(stream) = &it.stream {
        words = format!("{words}#{stream}");
    }
    if it.has_name {
        words = format!("{words}  {}", it.name);
    }
    if let Some(dbm) = it.strength_dbm {
        words = format!("{words}, {dbm} dBm");
    }
    if it.known { format!("{words}, remembered") } else { words }
}

#[derive(Serialize)]
struct Layout {
    schema: u32,
    adapters: Vec<AdapterLine>,
}

#[derive(Serialize)]
struct AdapterLine {
    link: String,
    name: String,
    strength_dbm: Option<i16>,
    remembered: bool,
    stream: Option<String>,
}

impl AdapterLine {
    fn new(it: &AdapterSeen) -> Self {
        Self {
            link: link_words(&it.address),
            name: it.name.clone(),
            strength_dbm: it.strength_dbm,
            remembered: it.known,
            stream: it.stream.as_ref().map(ToString::to_string),
        }
    }
}
