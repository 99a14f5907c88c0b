use std::path::Path;

use serde::{Deserialize, Serialize};

use super::looking::Looking;
use super::source::Source;
use super::{AdapterSeen, Event, JobError, LinkAddress, Workshop, connect};
use crate::link::transport::StreamPair;
use crate::store::{KnownAdapter, Store, adapters_remembered_in};

/// What is kept of an adapter beside its name.
#[derive(Debug, Default, Serialize, Deserialize)]
struct Kept {
    /// The characteristics that the person chose for its stream.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    stream: Option<StreamPair>,
}

impl Workshop {
    /// Remembers the adapter that was just connected, so that it stands first the next time.
    pub(super) fn remember(
        &mut self,
        address: &LinkAddress,
        name: Option<String>,
    ) -> Result<(), JobError> {
        if matches!(address, LinkAddress::Replay(_) | LinkAddress::Virtual { .. }) {
            return Ok(());
        }
        let (address, stream) = apart(address);
        keep(&mut self.store, &address, name, stream, self.clock.date())
    }

    /// The name under which the search has seen an adapter.
    pub(super) fn name_seen(&self, address: &LinkAddress) -> Option<String> {
        self.looking.as_ref().and_then(|it| it.name_of(&apart(address).0))
    }

    /// Remembers an adapter that was not connected yet, under its name.
    pub(super) fn remember_adapter(
        &mut self,
        address: &LinkAddress,
        name: &str,
    ) -> Result<(), JobError> {
        let (address, stream) = apart(address);
        keep(&mut self.store, &address, Some(name.to_owned()), stream, self.clock.date())?;
        self.scan_adapters()
    }

    /// Forgets an adapter, and what was chosen for it.
    pub(super) fn forget_adapter(&mut self, address: &LinkAddress) -> Result<(), JobError> {
        self.store.forget_adapter(&key(&apart(address).0))?;
        self.scan_adapters()
    }

    /// Adapters used before, the last one first.
    pub(super) fn known_adapters(&self) -> Result<Vec<AdapterSeen>, JobError> {
        remembered(&self.store)
    }

    /// Looks for adapters, those used before first. The link in use is left alone, so nothing is
    /// looked for while there is one.
    pub(super) fn scan_adapters(&mut self) -> Result<(), JobError> {
        self.looking = None;
        let known = self.known_adapters()?;
        self.emit(Event::Adapters(known.clone()));
        if !matches!(self.source, Some(Source::Car(_))) {
            self.looking = Some(Looking::start(known, self.events.clone(), self.style)?);
        }
        Ok(())
    }

    /// Ends the search for adapters; what was found stays.
    pub(super) fn stop_scan(&mut self) {
        self.looking = None;
    }

    /// Asks a wireless adapter which pairs of characteristics it offers.
    pub(super) fn list_streams(&mut self, address: &LinkAddress) -> Result<(), JobError> {
        if matches!(self.source, Some(Source::Car(_))) {
            return Err(JobError::LinkInUse);
        }
        self.looking = None;
        let (address, _) = apart(address);
        let LinkAddress::Bluetooth(name) = &address else { return Err(JobError::NoStreams) };
        let offers = connect::streams(name)?;
        self.emit(Event::Streams { address, offers });
        Ok(())
    }

    /// Takes another pair of characteristics for an adapter's stream from now on; `None` takes the
    /// one that fits best again.
    pub(super) fn choose_stream(
        &mut self,
        address: &LinkAddress,
        stream: Option<StreamPair>,
    ) -> Result<(), JobError> {
        let known = self.known_adapters()?.into_iter().find(|it| it.address == *address);
        let name = known
            .map(|it| it.name)
            .or_else(|| self.name_seen(address))
            .unwrap_or_else(|| connect::in_words(address));
        let adapter = KnownAdapter {
            address: key(address),
            name,
            capability: serde_json::to_value(Kept { stream }).unwrap_or_default(),
            used: self.date(),
        };
        self.store.remember_adapter(&adapter)?;
        self.scan_adapters()
    }

    /// The address with the characteristics that the person chose for it, if they did.
    pub(super) fn as_chosen(&self, address: &LinkAddress) -> Result<LinkAddress, JobError> {
        match address {
            LinkAddress::Bluetooth(_) => Ok(with_stream(address, self.known_adapters()?)),
            _ => Ok(address.clone()),
        }
    }
}

/// The address with the characteristics that a person chose for it in the program that uses this
/// database, which may be open meanwhile. Words that name characteristics of their own win.
///
/// # Errors
/// When the database is there and cannot be read.
pub fn as_remembered(address: &LinkAddress, database: &Path) -> Result<LinkAddress, JobError> {
    match address {
        LinkAddress::Bluetooth(_) => {
            Ok(with_stream(address, seen(adapters_remembered_in(database)?)))
        }
        _ => Ok(address.clone()),
    }
}

fn with_stream(address: &LinkAddress, known: Vec<AdapterSeen>) -> LinkAddress {
    let LinkAddress::Bluetooth(words) = address else { return address.clone() };
    // The command line takes the name that the app shows, too; an address is no other's name.
    let is_it = |it: &AdapterSeen| {
        it.address == *address
            || matches!(it.address, LinkAddress::Bluetooth(_)) && it.name == *words
    };
    let (exact, named): (Vec<_>, Vec<_>) =
        known.into_iter().filter(is_it).partition(|it| it.address == *address);
    match exact.into_iter().chain(named).next().and_then(|it| it.stream) {
        Some(stream) => LinkAddress::BluetoothStream { name: words.clone(), stream },
        None => address.clone(),
    }
}

/// The adapters that are remembered, the last one first.
pub(super) fn remembered(store: &Store) -> Result<Vec<AdapterSeen>, JobError> {
    Ok(seen(store.known_adapters()?))
}

fn seen(adapters: Vec<KnownAdapter>) -> Vec<AdapterSeen> {
    let line = |adapter: KnownAdapter| {
        let kept: Kept = serde_json::from_value(adapter.capability).unwrap_or_default();
        Some(AdapterSeen {
            address: serde_json::from_str(&adapter.address).ok()?,
            name: adapter.name,
            has_name: true,
            strength_dbm: None,
            known: true,
            stream: kept.stream,
        })
    };
    adapters.into_iter().filter_map(line).collect()
}

/// Remembers an adapter; what was kept of it before stays where nothing new is said.
pub(super) fn keep(
    store: &mut Store,
    address: &LinkAddress,
    name: Option<String>,
    stream: Option<StreamPair>,
    used: chrono::DateTime<chrono::Utc>,
) -> Result<(), JobError> {
    let earlier = remembered(store)?.into_iter().find(|it| it.address == *address);
    let (earlier_name, earlier_stream) =
        earlier.map_or((None, None), |it| (Some(it.name), it.stream));
    let kept = Kept { stream: stream.or(earlier_stream) };
    let adapter = KnownAdapter {
        address: key(address),
        name: name.or(earlier_name).unwrap_or_else(|| connect::in_words(address)),
        capability: serde_json::to_value(kept).unwrap_or_default(),
        used,
    };
    Ok(store.remember_adapter(&adapter)?)
}

/// An adapter's address without, and with, the characteristics chosen for it.
pub(super) fn apart(address: &LinkAddress) -> (LinkAddress, Option<StreamPair>) {
    match address {
        LinkAddress::BluetoothStream { name, stream } => {
            (LinkAddress::Bluetooth(name.clone()), Some(stream.clone()))
        }
        other => (other.clone(), None),
    }
}

/// An address as the store keeps it.
pub(super) fn key(address: &LinkAddress) -> String {
    serde_json::to_string(address).unwrap_or_default()
}

#[cfg(test)]
mod tests {
    use std::sync::mpsc::channel;

    use super::*;
    use crate::jobs::Command;
    use crate::wording::Style;

    fn workshop(folder: &tempfile::TempDir) -> Workshop {
        let (events, _) = channel();
        Workshop::open(&folder.path().join("a.db"), Style::default(), events).unwrap()
    }

    #[test]
    fn a_chosen_stream_is_kept_through_later_visits_and_forgotten_with_the_adapter() {
        let folder = tempfile::tempdir().unwrap();
        let address = LinkAddress::Bluetooth("AA:BB:CC:00:00:01".to_owned());
        let pair: StreamPair = "aa01/aa03".parse().unwrap();
        let mut workshop = workshop(&folder);
        workshop.remember_adapter(&address, "Lab serial").unwrap();
        workshop.choose_stream(&address, Some(pair.clone())).unwrap();
        let chosen = LinkAddress::BluetoothStream {
            name: "AA:BB:CC:00:00:01".to_owned(),
            stream: pair.clone(),
        };
        assert_eq!(workshop.as_chosen(&address).unwrap(), chosen);
        // Connecting over it remembers the adapter under its bare address, once.
        workshop.remember(&chosen, None).unwrap();
        let known = workshop.known_adapters().unwrap();
        assert_eq!(known.len(), 1);
        assert_eq!((known[0].name.as_str(), known[0].stream.as_ref()), ("Lab serial", Some(&pair)));
        workshop.choose_stream(&address, None).unwrap();
        assert_eq!(workshop.as_chosen(&address).unwrap(), address);
        workshop.attempt(Command::ForgetAdapter(chosen)).unwrap();
        assert_eq!(workshop.known_adapters().unwrap(), []);
    }

    #[test]
    fn commands_take_the_stream_that_was_chosen_while_the_app_is_open() {
        let folder = tempfile::tempdir().unwrap();
        let database = folder.path().join("a.db");
        let address = LinkAddress::Bluetooth("AA:BB:CC:00:00:01".to_owned());
        assert_eq!(as_remembered(&address, &database).unwrap(), address);
        assert!(!database.exists(), "asking made a database");
        let mut workshop = workshop(&folder);
        workshop.remember_adapter(&address, "Lab serial").unwrap();
        assert_eq!(as_remembered(&address, &database).unwrap(), address);
        let pair: StreamPair = "aa01/aa03".parse().unwrap();
        workshop.choose_stream(&address, Some(pair.clone())).unwrap();
        let stream = |name: &str, pair: &StreamPair| LinkAddress::BluetoothStream {
            name: name.to_owned(),
            stream: pair.clone(),
        };
        let taken = as_remembered(&address, &database).unwrap();
        assert_eq!(taken, stream("AA:BB:CC:00:00:01", &pair));
        let by_name = LinkAddress::Bluetooth("Lab serial".to_owned());
        assert_eq!(as_remembered(&by_name, &database).unwrap(), stream("Lab serial", &pair));
        for other in [
            LinkAddress::Bluetooth("AA:BB:CC:00:00:02".to_owned()),
            stream("AA:BB:CC:00:00:01", &"bb01/bb02".parse().unwrap()),
            LinkAddress::Serial { device: "AA:BB:CC:00:00:01".to_owned(), baud: None },
        ] {
            assert_eq!(as_remembered(&other, &database).unwrap(), other);
        }
        drop(workshop);
        std::fs::write(&database, "a shopping list".repeat(20)).unwrap();
        assert!(as_remembered(&address, &database).is_err());
    }

    #[test]
    fn adapters_kept_by_earlier_versions_are_read() {
        let folder = tempfile::tempdir().unwrap();
        let mut workshop = workshop(&folder);
        let old = KnownAdapter {
            address: r#"{"bluetooth":"CAR LINK"}"#.to_owned(),
            name: "CAR LINK".to_owned(),
            capability: serde_json::Value::Null,
            used: chrono::DateTime::UNIX_EPOCH,
        };
        workshop.store.remember_adapter(&old).unwrap();
        let known = workshop.known_adapters().unwrap();
        assert_eq!(known[0].address, LinkAddress::Bluetooth("CAR LINK".to_owned()));
        assert_eq!(known[0].stream, None);
    }
}
