use std::sync::Arc;
use std::time::Duration;

use super::replay::Player;
use super::source::{CarLink, Source};
use super::{AdapterSeen, JobError, LinkAddress, MachineClock, SetupStep, read_recording};
use crate::link::transport::{StreamOffer, StreamPair};
use crate::link::{self, Link, LinkError, Transport, transport};
use crate::store::Listening;
use crate::units::Instant;
use crate::virtual_car::{CarParameters, Clock, Garage, Pace};
use crate::wording::Language;

/// How long a network adapter may take to accept.
const NETWORK_PATIENCE: Duration = Duration::from_secs(5);

/// How long an adapter with classic Bluetooth may take to connect: the radio may page it for 5 s
/// (Bluetooth core specification, default page timeout), twice, and then look for its serial port.
const CLASSIC_PATIENCE: Duration = Duration::from_secs(20);

/// How long a wireless adapter may take to be found and connected.
#[cfg(feature = "bluetooth")]
const WIRELESS_PATIENCE: Duration = Duration::from_secs(20);

/// Opens the way to the car, or to what stands in for one.
///
/// # Errors
/// What keeps it from opening.
pub(super) fn connect(
    address: &LinkAddress,
    clock: MachineClock,
    wanted: &Listening,
    on_step: &mut dyn FnMut(SetupStep),
) -> Result<Source, JobError> {
    on_step(SetupStep::Opening);
    let transport = match address {
        LinkAddress::Replay(path) => {
            return Ok(Source::Replay(Player::new(read_recording(path, None)?.recording)));
        }
        LinkAddress::Virtual { fault, seed, real_time } => {
            let parameters = CarParameters::draw(*fault, None, *seed);
            let pace = if *real_time { Pace::RealTime(Arc::new(clock)) } else { Pace::Unbounded };
            return virtual_car(parameters, *seed, pace, on_step);
        }
        LinkAddress::Tcp { host, port } => {
            boxed(transport::Tcp::open(host, *port, NETWORK_PATIENCE)?)
        }
        LinkAddress::Serial { device, baud } => serial(device, *baud)?,
        LinkAddress::Bluetooth(name) => bluetooth(name, None)?,
        LinkAddress::BluetoothStream { name, stream } => bluetooth(name, Some(stream))?,
        LinkAddress::Classic(address) => boxed(transport::Spp::open(address, CLASSIC_PATIENCE)?),
    };
    set_up(transport, None, wanted, on_step)
}

/// A virtual car of these parameters, with a person beside it.
///
/// # Errors
/// What keeps the adapter from being set up.
pub(super) fn virtual_car(
    parameters: CarParameters,
    seed: u64,
    pace: Pace,
    on_step: &mut dyn FnMut(SetupStep),
) -> Result<Source, JobError> {
    let garage = Garage::new(parameters, seed, pace);
    set_up(garage.transport(), Some(garage), &Listening::default(), on_step)
}

fn set_up(
    transport: Box<dyn Transport>,
    garage: Option<Garage>,
    wanted: &Listening,
    on_step: &mut dyn FnMut(SetupStep),
) -> Result<Source, JobError> {
    let link = Link::open(transport, &mut |step| {
        if let Some(step) = shown(step) {
            on_step(step);
        }
    })?;
    on_step(SetupStep::AskingSignals);
    Ok(Source::Car(Box::new(CarLink::new(link, garage, wanted)?)))
}

/// The address in words, as the card shows it.
pub(super) fn in_words(address: &LinkAddress) -> String {
    match address {
        LinkAddress::Bluetooth(name)
        | LinkAddress::BluetoothStream { name, .. }
        | LinkAddress::Classic(name) => name.clone(),
        LinkAddress::Serial { device, .. } => device.clone(),
        LinkAddress::Tcp { host, port } => format!("{host}:{port}"),
        LinkAddress::Replay(path) => path.display().to_string(),
        LinkAddress::Virtual { .. } => VIRTUAL_CAR.to_owned(),
    }
}

/// A virtual car in the words of the database. Its address would give the fault away.
pub(super) const VIRTUAL_CAR: &str = "virtual car";

/// What a visit was connected to, as pages show it. Visits of earlier versions hold a virtual
/// car's address.
pub(super) fn shown_adapter(words: &str, language: Language) -> String {
    if words == VIRTUAL_CAR || words.starts_with("virtual:") {
        language.of(VIRTUAL_CAR, "virtuelles Auto").to_owned()
    } else {
        words.to_owned()
    }
}

impl Clock for MachineClock {
    fn now(&self) -> Instant {
        Self::now(self)
    }

    fn wait(&self, time: Duration) {
        Self::wait(self, time);
    }
}

/// The machine's clock, seen so many times faster.
#[derive(Debug)]
pub(super) struct HurriedClock {
    clock: MachineClock,
    factor: u32,
}

impl HurriedClock {
    /// `factor` seconds pass in one; never less than one.
    pub(super) fn new(clock: MachineClock, factor: u32) -> Self {
        Self { clock, factor: factor.max(1) }
    }
}

impl Clock for HurriedClock {
    fn now(&self) -> Instant {
        let micros = self.clock.now().micros();
        Instant::from_micros(micros.saturating_mul(i64::from(self.factor)))
    }

    fn wait(&self, time: Duration) {
        self.clock.wait(time / self.factor);
    }
}

fn shown(step: link::SetupStep) -> Option<SetupStep> {
    match step {
        link::SetupStep::WakingAdapter | link::SetupStep::Configuring => {
            Some(SetupStep::WakingAdapter)
        }
        link::SetupStep::FindingProtocol => Some(SetupStep::FindingProtocol),
        link::SetupStep::Connected => None,
    }
}

fn boxed(transport: impl Transport + 'static) -> Box<dyn Transport> {
    Box::new(transport)
}

/// Paired devices with classic Bluetooth.
pub(super) fn paired() -> Result<Vec<AdapterSeen>, LinkError> {
    let seen = |device: transport::PairedDevice| AdapterSeen {
        name: device.name,
        address: LinkAddress::Classic(device.address),
        has_name: true,
        strength_dbm: None,
        known: false,
        stream: None,
    };
    Ok(transport::Spp::paired()?.into_iter().map(seen).collect())
}

/// Wired adapters of this machine.
#[cfg(feature = "serial")]
pub(super) fn wired() -> Vec<AdapterSeen> {
    let seen = |port: transport::PortSeen| AdapterSeen {
        has_name: port.product.is_some(),
        name: port.product.unwrap_or_else(|| port.device.clone()),
        address: LinkAddress::Serial { device: port.device, baud: None },
        strength_dbm: None,
        known: false,
        stream: None,
    };
    transport::Serial::ports().unwrap_or_default().into_iter().map(seen).collect()
}

#[cfg(not(feature = "serial"))]
pub(super) fn wired() -> Vec<AdapterSeen> {
    Vec::new()
}

/// Shows wireless adapters in reach again and again until `on_look` says that it is enough.
#[cfg(feature = "bluetooth")]
pub(super) fn watch_wireless(
    on_look: &mut dyn FnMut(Vec<AdapterSeen>) -> bool,
) -> Result<(), LinkError> {
    let seen = |it: transport::PeripheralSeen| {
        AdapterSeen::wireless(&it.address, it.name.as_deref(), it.strength_dbm)
    };
    transport::Ble::watch(&mut |found| on_look(found.into_iter().map(seen).collect()))
}

#[cfg(not(feature = "bluetooth"))]
pub(super) fn watch_wireless(
    _on_look: &mut dyn FnMut(Vec<AdapterSeen>) -> bool,
) -> Result<(), LinkError> {
    Ok(())
}

/// Pairs of characteristics that a wireless adapter offers.
#[cfg(feature = "bluetooth")]
pub(super) fn streams(name: &str) -> Result<Vec<StreamOffer>, LinkError> {
    transport::Ble::streams(name, WIRELESS_PATIENCE)
}

#[cfg(not(feature = "bluetooth"))]
pub(super) fn streams(_name: &str) -> Result<Vec<StreamOffer>, LinkError> {
    Err(link::Unreachable::NotBuilt.into())
}

#[cfg(feature = "serial")]
fn serial(device: &str, baud: Option<u32>) -> Result<Box<dyn Transport>, LinkError> {
    transport::Serial::open(device, baud).map(boxed)
}

#[cfg(not(feature = "serial"))]
fn serial(_device: &str, _baud: Option<u32>) -> Result<Box<dyn Transport>, LinkError> {
    Err(link::Unreachable::NotBuilt.into())
}

#[cfg(feature = "bluetooth")]
fn bluetooth(name: &str, chosen: Option<&StreamPair>) -> Result<Box<dyn Transport>, LinkError> {
    transport::Ble::open(name, chosen, WIRELESS_PATIENCE).map(boxed)
}

#[cfg(not(feature = "bluetooth"))]
fn bluetooth(_name: &str, _chosen: Option<&StreamPair>) -> Result<Box<dyn Transport>, LinkError> {
    Err(link::Unreachable::NotBuilt.into())
}
