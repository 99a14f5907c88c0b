use std::pin::Pin;
use std::sync::mpsc::{Sender, SyncSender};
use std::time::Duration;

use btleplug::api::{
    Central as _, CentralEvent, CentralState, Manager as _, Peripheral as _, ScanFilter,
    ValueNotification,
};
use btleplug::platform::{Adapter, Manager, Peripheral};
use futures::{Stream, StreamExt as _};
use tokio::sync::mpsc::UnboundedReceiver;
use tokio::time::{sleep, timeout};

use super::cause::cause_of;
use super::serial_stream::SerialStream;
use super::{Arrival, Order, PeripheralSeen, StreamOffer, StreamPair, Wanted};
use crate::link::LinkError;
use crate::link::error::Unreachable;

/// Between looks at what a scan has found.
const LOOK: Duration = Duration::from_millis(100);

/// How long ending a connection may take.
const PARTING: Duration = Duration::from_secs(2);

/// The least that a notification or a write carries: the smallest packet of Bluetooth LE is 23
/// bytes, three of which are its header.
const SMALLEST_PIECE: u16 = 20;

type Notifications = Pin<Box<dyn Stream<Item = ValueNotification> + Send>>;

/// A connected peripheral with its stream.
struct Session {
    peripheral: Peripheral,
    stream: SerialStream,
    notifications: Notifications,
}

/// Runs one wireless link on this thread until its transport is dropped.
pub(super) fn serve(
    wanted: &Wanted,
    patience: Duration,
    opened: &SyncSender<Result<(), LinkError>>,
    inbox: UnboundedReceiver<Order>,
    outbox: &Sender<Arrival>,
) {
    // An answer that nobody waits for any more is of no use: results of sends are dropped.
    let _ = run(async {
        let first = timeout(patience, open(wanted, patience)).await;
        match first.unwrap_or(Err(Unreachable::TimedOut.into())) {
            Ok((adapter, session)) => {
                let _ = opened.send(Ok(()));
                attend(&adapter, session, wanted, inbox, outbox).await;
            }
            Err(error) => {
                let _ = opened.send(Err(error));
            }
        }
        Ok(())
    });
}

/// Peripherals in reach, strongest first.
pub(super) fn scan(time: Duration) -> Result<Vec<PeripheralSeen>, LinkError> {
    run(async {
        let adapter = radio().await?;
        adapter.start_scan(ScanFilter::default()).await.map_err(|it| cause_of(&it))?;
        sleep(time).await;
        let mut seen = in_reach(&adapter).await?;
        // A scan that was ended by somebody else is ended all the same.
        let _ = adapter.stop_scan().await;
        seen.sort_by_key(|it| (std::cmp::Reverse(it.strength_dbm), it.address.clone()));
        Ok(seen)
    })
}

/// Shows what is in reach again and again, until `on_look` says that it is enough.
pub(super) fn watch(on_look: &mut dyn FnMut(Vec<PeripheralSeen>) -> bool) -> Result<(), LinkError> {
    run(async {
        let adapter = radio().await?;
        adapter.start_scan(ScanFilter::default()).await.map_err(|it| cause_of(&it))?;
        let mut result = Ok(());
        loop {
            sleep(LOOK).await;
            match in_reach(&adapter).await {
                Ok(seen) => {
                    if !on_look(seen) {
                        break;
                    }
                }
                Err(error) => {
                    result = Err(error);
                    break;
                }
            }
        }
        let _ = adapter.stop_scan().await;
        result
    })
}

/// Pairs of characteristics of a peripheral that could carry its stream.
pub(super) fn streams(name: &str, patience: Duration) -> Result<Vec<StreamOffer>, LinkError> {
    let work = async {
        let adapter = radio().await?;
        let peripheral = found(&adapter, name, patience).await?;
        peripheral.connect().await.map_err(|it| cause_of(&it))?;
        let discovered = peripheral.discover_services().await.map_err(|it| cause_of(&it));
        let offers = SerialStream::offers(&peripheral.services());
        let _ = timeout(PARTING, peripheral.disconnect()).await;
        discovered.map(|()| offers)
    };
    run(async { timeout(patience, work).await.unwrap_or(Err(Unreachable::TimedOut.into())) })
}

async fn in_reach(adapter: &Adapter) -> Result<Vec<PeripheralSeen>, LinkError> {
    let mut seen = Vec::new();
    for peripheral in adapter.peripherals().await.map_err(|it| cause_of(&it))? {
        seen.push(describe(&peripheral).await);
    }
    Ok(seen)
}

fn run<T>(work: impl Future<Output = Result<T, LinkError>>) -> Result<T, LinkError> {
    let runtime = tokio::runtime::Builder::new_current_thread().enable_all().build();
    runtime.map_err(|error| Unreachable::from(error.kind()))?.block_on(work)
}

/// The machine's first radio, switched on.
async fn radio() -> Result<Adapter, LinkError> {
    let manager = Manager::new().await.map_err(|_| Unreachable::NoRadio)?;
    let adapters = manager.adapters().await.map_err(|error| match cause_of(&error) {
        // Without a Bluetooth service there is nobody who could list radios.
        LinkError::Unreachable(Unreachable::ConnectionRefused) => Unreachable::NoRadio.into(),
        cause => cause,
    })?;
    let adapter = adapters.into_iter().next().ok_or(Unreachable::NoRadio)?;
    match adapter.adapter_state().await {
        Ok(CentralState::PoweredOff) => Err(Unreachable::RadioOff.into()),
        _ => Ok(adapter),
    }
}

async fn describe(peripheral: &Peripheral) -> PeripheralSeen {
    let properties = peripheral.properties().await.ok().flatten();
    let address = peripheral.address().to_string();
    let (name, strength_dbm) =
        properties.map_or((None, None), |properties| (properties.local_name, properties.rssi));
    PeripheralSeen { name, address, strength_dbm }
}

async fn open(wanted: &Wanted, patience: Duration) -> Result<(Adapter, Session), LinkError> {
    let adapter = radio().await?;
    let peripheral = found(&adapter, &wanted.name, patience).await?;
    let session = connect(peripheral, wanted.stream.as_ref()).await?;
    Ok((adapter, session))
}

/// Looks for a peripheral for half of the time; the other half is kept for connecting.
async fn found(adapter: &Adapter, name: &str, patience: Duration) -> Result<Peripheral, LinkError> {
    let found = timeout(patience.div_f64(2.0), find(adapter, name)).await;
    let Ok(peripheral) = found else {
        let _ = adapter.stop_scan().await;
        return Err(Unreachable::NotFound.into());
    };
    peripheral
}

/// Scans until the peripheral shows up; the caller's time limit ends a search in vain.
async fn find(adapter: &Adapter, wanted: &str) -> Result<Peripheral, LinkError> {
    adapter.start_scan(ScanFilter::default()).await.map_err(|it| cause_of(&it))?;
    loop {
        for peripheral in adapter.peripherals().await.map_err(|it| cause_of(&it))? {
            let seen = describe(&peripheral).await;
            let is_named = seen.name.as_deref() == Some(wanted);
            if is_named || seen.address.eq_ignore_ascii_case(wanted) {
                let _ = adapter.stop_scan().await;
                return Ok(peripheral);
            }
        }
        sleep(LOOK).await;
    }
}

/// Connects, finds the stream anew and subscribes to it: after a loss, handles of before are void.
async fn connect(
    peripheral: Peripheral,
    chosen: Option<&StreamPair>,
) -> Result<Session, LinkError> {
    peripheral.connect().await.map_err(|it| cause_of(&it))?;
    peripheral.discover_services().await.map_err(|it| cause_of(&it))?;
    let services = peripheral.services();
    let stream = match chosen {
        Some(pair) => SerialStream::chosen(&services, pair),
        None => SerialStream::find(&services),
    };
    let Some(stream) = stream else {
        let _ = peripheral.disconnect().await;
        return Err(Unreachable::NoSerialStream.into());
    };
    let notifications = peripheral.notifications().await.map_err(|it| cause_of(&it))?;
    peripheral.subscribe(&stream.notify).await.map_err(|it| cause_of(&it))?;
    Ok(Session { peripheral, stream, notifications })
}

/// Passes bytes both ways, watches for the loss of the connection, and gets it back on order.
async fn attend(
    adapter: &Adapter,
    first: Session,
    wanted: &Wanted,
    mut inbox: UnboundedReceiver<Order>,
    outbox: &Sender<Arrival>,
) {
    let Ok(mut events) = adapter.events().await else { return };
    let peripheral = first.peripheral.clone();
    let mut session = Some(first);
    loop {
        tokio::select! {
            order = inbox.recv() => match order {
                Some(Order::Write(bytes, answer)) => {
                    let result = match &session {
                        Some(session) => write(session, &bytes).await,
                        None => Err(LinkError::Lost),
                    };
                    let _ = answer.send(result);
                }
                Some(Order::Reconnect(patience, answer)) => {
                    session = None;
                    let result = timeout(patience, back(&peripheral, wanted)).await;
                    let result = result.unwrap_or(Err(Unreachable::TimedOut.into()));
                    let _ = answer.send(result.map(|fresh| session = Some(fresh)));
                }
                None => {
                    let _ = timeout(PARTING, peripheral.disconnect()).await;
                    return;
                }
            },
            note = next(&mut session) => {
                let lost = match (note, &session) {
                    (Some(note), Some(it)) if note.uuid == it.stream.notify.uuid => {
                        outbox.send(Arrival::Bytes(note.value)).is_err()
                    }
                    (Some(_), _) => false,
                    (None, _) => true,
                };
                if lost {
                    session = None;
                    let _ = outbox.send(Arrival::Lost);
                }
            }
            event = events.next() => {
                // Notifications do not end when the connection does.
                if let Some(CentralEvent::DeviceDisconnected(id)) = event
                    && id == peripheral.id()
                    && session.take().is_some()
                {
                    let _ = outbox.send(Arrival::Lost);
                }
            }
        }
    }
}

async fn next(session: &mut Option<Session>) -> Option<ValueNotification> {
    match session {
        Some(session) => session.notifications.next().await,
        None => std::future::pending().await,
    }
}

/// Tries until the connection is back; the caller's time limit ends it.
async fn back(peripheral: &Peripheral, wanted: &Wanted) -> Result<Session, LinkError> {
    // Half a connection would keep a new one from coming; ending one that is gone may never return.
    if peripheral.is_connected().await.unwrap_or(false) {
        let _ = timeout(PARTING, peripheral.disconnect()).await;
    }
    loop {
        match connect(peripheral.clone(), wanted.stream.as_ref()).await {
            Ok(session) => return Ok(session),
            Err(error @ LinkError::Unreachable(Unreachable::PairingNeeded)) => return Err(error),
            Err(_) => sleep(LOOK).await,
        }
    }
}

/// Writes in pieces that fit the connection's packets.
async fn write(session: &Session, bytes: &[u8]) -> Result<(), LinkError> {
    let room = session.peripheral.mtu().saturating_sub(3).max(SMALLEST_PIECE);
    for piece in bytes.chunks(usize::from(room)) {
        let SerialStream { write, write_type, .. } = &session.stream;
        session.peripheral.write(write, piece, *write_type).await.map_err(|_| LinkError::Lost)?;
    }
    Ok(())
}
