use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::mpsc::Sender;
use std::sync::{Arc, Mutex, PoisonError};
use std::thread::JoinHandle;

use super::{AdapterSeen, Event, JobError, LinkAddress, connect, explain};
use crate::wording::Style;

/// Looks at the list of wireless adapters, at ten a second, after which looking ends by itself: the
/// radio costs power.
const LOOKS: u32 = 1_200;

/// Looks between two listings of the wired adapters, which may be plugged in meanwhile.
const WIRED_EVERY: u32 = 20;

/// The search for adapters, on a thread of its own: what is in reach and how strong is shown as it
/// changes. It ends by itself after two minutes, or when this is dropped.
pub(super) struct Looking {
    stop: Arc<AtomicBool>,
    seen: Arc<Mutex<Vec<AdapterSeen>>>,
    thread: Option<JoinHandle<()>>,
}

impl Looking {
    /// Begins, with the adapters used before.
    ///
    /// # Errors
    /// When the system gives no thread.
    pub(super) fn start(
        known: Vec<AdapterSeen>,
        events: Sender<Event>,
        style: Style,
    ) -> Result<Self, JobError> {
        let stop: Arc<AtomicBool> = Arc::default();
        let seen = Arc::new(Mutex::new(known));
        let (to_stop, list) = (Arc::clone(&stop), Arc::clone(&seen));
        let thread = std::thread::Builder::new()
            .name("looking for adapters".to_owned())
            .spawn(move || look(&to_stop, &list, &events, &style))
            .map_err(|error| JobError::file(std::path::Path::new("thread"), &error))?;
        Ok(Self { stop, seen, thread: Some(thread) })
    }

    /// The name under which an adapter was seen.
    pub(super) fn name_of(&self, address: &LinkAddress) -> Option<String> {
        let seen = self.seen.lock().unwrap_or_else(PoisonError::into_inner);
        seen.iter().find(|it| it.address == *address).map(|it| it.name.clone())
    }
}

impl Drop for Looking {
    fn drop(&mut self) {
        self.stop.store(true, Ordering::Relaxed);
        if let Some(thread) = self.thread.take() {
            // A panic of the thread has been reported on standard error by then.
            drop(thread.join());
        }
    }
}

fn look(stop: &AtomicBool, list: &Mutex<Vec<AdapterSeen>>, events: &Sender<Event>, style: &Style) {
    let show = |found: Vec<AdapterSeen>, always: bool| {
        let mut seen = list.lock().unwrap_or_else(PoisonError::into_inner);
        // Who listened may have gone; looking then ends at the next look.
        if take_in(&mut seen, found) || always {
            let _nobody_listens = events.send(Event::Adapters(seen.clone()));
        }
    };
    let _nobody_listens = events.send(Event::Looking(true));
    let (paired, mut failure) = match connect::paired() {
        Ok(paired) => (paired, None),
        Err(error) => (Vec::new(), Some(error)),
    };
    show(paired, false);
    show(connect::wired(), true);
    let mut looks = 0_u32;
    let watched = connect::watch_wireless(&mut |found| {
        show(found, false);
        looks = looks.saturating_add(1);
        if looks.is_multiple_of(WIRED_EVERY) {
            show(connect::wired(), false);
        }
        looks < LOOKS && !stop.load(Ordering::Relaxed)
    });
    failure = watched.err().or(failure);
    let nothing = list.lock().unwrap_or_else(PoisonError::into_inner).is_empty();
    if let Some(error) = failure.filter(|_| nothing) {
        let _nobody_listens = events.send(Event::Failed(explain(&error.into(), style)));
    }
    let _nobody_listens = events.send(Event::Looking(false));
}

/// Takes in what was found. Returns whether anything changed. Rows keep their places while the
/// strengths change, so that none moves under a finger; a new one comes behind the stronger ones,
/// and behind those used before.
fn take_in(seen: &mut Vec<AdapterSeen>, found: Vec<AdapterSeen>) -> bool {
    let mut changed = false;
    for found in found {
        if let Some(known) = seen.iter_mut().find(|it| it.address == found.address) {
            changed |= known.strength_dbm != found.strength_dbm;
            known.strength_dbm = found.strength_dbm;
            if found.has_name && known.name != found.name {
                (known.name, known.has_name) = (found.name, true);
                changed = true;
            }
        } else {
            let weaker = |it: &AdapterSeen| !it.known && it.strength_dbm < found.strength_dbm;
            let place = seen.iter().position(weaker).unwrap_or(seen.len());
            seen.insert(place, found);
            changed = true;
        }
    }
    changed
}

#[cfg(test)]
mod tests {
    use super::*;

    fn seen(name: &str, dbm: i16, known: bool) -> AdapterSeen {
        AdapterSeen { known, ..AdapterSeen::wireless(name, Some(name), Some(dbm)) }
    }

    fn rows(list: &[AdapterSeen]) -> Vec<(&str, i16)> {
        list.iter().map(|it| (it.name.as_str(), it.strength_dbm.unwrap_or(0))).collect()
    }

    #[test]
    fn rows_keep_their_places_and_new_ones_are_sorted_in() {
        let mut list = vec![AdapterSeen { strength_dbm: None, ..seen("mine", 0, true) }];
        assert!(take_in(&mut list, vec![seen("far", -90, false), seen("near", -50, false)]));
        assert_eq!(rows(&list), [("mine", 0), ("near", -50), ("far", -90)]);
        assert!(!take_in(&mut list, vec![seen("near", -50, false)]), "nothing new");
        // The far one comes nearer and stays where it is; a known one stays in front.
        assert!(take_in(&mut list, vec![seen("far", -40, false), seen("mine", -70, false)]));
        assert!(take_in(&mut list, vec![seen("middle", -45, false)]));
        assert_eq!(rows(&list), [("mine", -70), ("middle", -45), ("near", -50), ("far", -40)]);
        assert!(list[0].known);
    }

    #[test]
    fn a_name_that_comes_later_takes_the_addresss_place() {
        let address = AdapterSeen { has_name: false, ..seen("AA:BB", -50, false) };
        let mut list = vec![address.clone()];
        let named = AdapterSeen { name: "Lab".to_owned(), has_name: true, ..address.clone() };
        assert!(take_in(&mut list, vec![named]));
        assert_eq!(rows(&list), [("Lab", -50)]);
        assert!(!take_in(&mut list, vec![address]), "a name once heard stays");
        assert_eq!(rows(&list), [("Lab", -50)]);
    }
}
