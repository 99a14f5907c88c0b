//! What the system's Bluetooth service offers on the bus (the documented BlueZ interfaces), with
//! one peripheral that carries a serial stream to a virtual car.

use std::collections::BTreeMap;
use std::sync::{Arc, Mutex};
use std::time::Duration;

use zbus::object_server::SignalEmitter;
use zbus::zvariant::{ObjectPath, OwnedObjectPath, OwnedValue};
use zbus::{Connection, DBusError, block_on, connection, fdo, interface};

use crate::state::{Answers, Shared, State};

pub(crate) const NAME: &str = "Lab serial";
pub(crate) const ADDRESS: &str = "AA:BB:CC:00:00:01";
const RADIO: &str = "/org/bluez/hci0";
const DEVICE: &str = "/org/bluez/hci0/dev_AA_BB_CC_00_00_01";
const SERVICE: &str = "/org/bluez/hci0/dev_AA_BB_CC_00_00_01/service000a";
const WRITE: &str = "/org/bluez/hci0/dev_AA_BB_CC_00_00_01/service000a/char000b";
const NOTIFY: &str = "/org/bluez/hci0/dev_AA_BB_CC_00_00_01/service000a/char000d";
const UUIDS: [&str; 3] = [
    "0000aa00-1234-5678-9abc-def012345678",
    "0000aa01-1234-5678-9abc-def012345678",
    "0000aa02-1234-5678-9abc-def012345678",
];

/// The smallest packet of Bluetooth LE.
const MTU: u16 = 23;

type Options = BTreeMap<String, OwnedValue>;

#[derive(Debug, DBusError)]
#[zbus(prefix = "org.bluez.Error")]
pub(crate) enum Refusal {
    #[zbus(error)]
    ZBus(zbus::Error),
    NotConnected(String),
    NotReady(String),
    AuthenticationFailed(String),
}

fn path(text: &'static str) -> OwnedObjectPath {
    ObjectPath::from_static_str_unchecked(text).into()
}

/// Does something a little later, as on the air.
fn later(millis: u64, work: impl FnOnce() + Send + 'static) {
    std::thread::spawn(move || {
        std::thread::sleep(Duration::from_millis(millis));
        work();
    });
}

struct Radio(Shared);

#[interface(name = "org.bluez.Adapter1")]
impl Radio {
    async fn start_discovery(
        &self,
        #[zbus(signal_emitter)] emitter: SignalEmitter<'_>,
    ) -> Result<(), Refusal> {
        if !self.0.get().powered {
            return Err(Refusal::NotReady(String::from("Resource Not Ready")));
        }
        self.0.get().discovering = true;
        self.discovering_changed(&emitter).await?;
        let (shared, connection) = (self.0.clone(), emitter.connection().clone());
        later(50, move || {
            let _ = block_on(connection.object_server().at(DEVICE, Device(shared)));
        });
        Ok(())
    }

    async fn stop_discovery(
        &self,
        #[zbus(signal_emitter)] emitter: SignalEmitter<'_>,
    ) -> Result<(), Refusal> {
        self.0.get().discovering = false;
        self.discovering_changed(&emitter).await?;
        Ok(())
    }

    async fn set_discovery_filter(&self, _filter: Options) -> Result<(), Refusal> {
        Ok(())
    }

    #[zbus(property)]
    fn address(&self) -> String {
        String::from("00:11:22:33:44:55")
    }

    #[zbus(property)]
    fn address_type(&self) -> String {
        String::from("public")
    }

    #[zbus(property)]
    fn name(&self) -> String {
        String::from("radio")
    }

    #[zbus(property)]
    fn alias(&self) -> String {
        String::from("radio")
    }

    #[zbus(property)]
    fn powered(&self) -> bool {
        self.0.get().powered
    }

    #[zbus(property)]
    fn set_powered(&self, on: bool) {
        self.0.get().powered = on;
    }

    #[zbus(property)]
    fn discovering(&self) -> bool {
        self.0.get().discovering
    }

    #[zbus(property)]
    fn modalias(&self) -> String {
        String::from("usb:v1D6Bp0246d0542")
    }

    #[zbus(property, name = "UUIDs")]
    fn uuids(&self) -> Vec<String> {
        Vec::new()
    }
}

struct Device(Shared);

impl Device {
    async fn link_down(&self, emitter: &SignalEmitter<'_>) -> zbus::Result<()> {
        {
            let mut state = self.0.get();
            (state.connected, state.resolved, state.notifying) = (false, false, false);
        }
        self.services_resolved_changed(emitter).await?;
        let server = emitter.connection().object_server();
        let _ = server.remove::<Characteristic, _>(WRITE).await;
        let _ = server.remove::<Characteristic, _>(NOTIFY).await;
        let _ = server.remove::<Service, _>(SERVICE).await;
        self.connected_changed(emitter).await
    }
}

#[interface(name = "org.bluez.Device1")]
impl Device {
    async fn connect(
        &self,
        #[zbus(signal_emitter)] emitter: SignalEmitter<'_>,
    ) -> Result<(), Refusal> {
        if self.0.get().wants_pairing {
            return Err(Refusal::AuthenticationFailed(String::from("Authentication Failed")));
        }
        self.0.get().connected = true;
        self.connected_changed(&emitter).await?;
        let (shared, connection) = (self.0.clone(), emitter.connection().clone());
        later(60, move || {
            let _ = block_on(show_services(&connection, shared));
        });
        Ok(())
    }

    async fn disconnect(
        &self,
        #[zbus(signal_emitter)] emitter: SignalEmitter<'_>,
    ) -> Result<(), Refusal> {
        Ok(self.link_down(&emitter).await?)
    }

    #[zbus(property)]
    fn address(&self) -> String {
        String::from(ADDRESS)
    }

    #[zbus(property)]
    fn address_type(&self) -> String {
        String::from("public")
    }

    #[zbus(property)]
    fn name(&self) -> String {
        String::from(NAME)
    }

    #[zbus(property)]
    fn alias(&self) -> String {
        String::from(NAME)
    }

    #[zbus(property)]
    fn paired(&self) -> bool {
        false
    }

    #[zbus(property)]
    fn trusted(&self) -> bool {
        false
    }

    #[zbus(property)]
    fn blocked(&self) -> bool {
        false
    }

    #[zbus(property)]
    fn legacy_pairing(&self) -> bool {
        false
    }

    #[zbus(property)]
    fn connected(&self) -> bool {
        self.0.get().connected
    }

    #[zbus(property)]
    fn services_resolved(&self) -> bool {
        self.0.get().resolved
    }

    #[zbus(property, name = "UUIDs")]
    fn uuids(&self) -> Vec<String> {
        vec![UUIDS[0].to_owned()]
    }

    #[zbus(property, name = "RSSI")]
    fn rssi(&self) -> i16 {
        -55
    }

    #[zbus(property)]
    fn adapter(&self) -> OwnedObjectPath {
        path(RADIO)
    }
}

async fn show_services(connection: &Connection, shared: Shared) -> zbus::Result<()> {
    let server = connection.object_server();
    server.at(SERVICE, Service).await?;
    let write = Characteristic { shared: shared.clone(), uuid: UUIDS[1], flags: &["write"] };
    server.at(WRITE, write).await?;
    let notify = Characteristic { shared: shared.clone(), uuid: UUIDS[2], flags: &["notify"] };
    server.at(NOTIFY, notify).await?;
    shared.get().resolved = true;
    let device = server.interface::<_, Device>(DEVICE).await?;
    device.get().await.services_resolved_changed(device.signal_emitter()).await
}

struct Service;

#[interface(name = "org.bluez.GattService1")]
impl Service {
    #[zbus(property, name = "UUID")]
    fn uuid(&self) -> String {
        UUIDS[0].to_owned()
    }

    #[zbus(property)]
    fn primary(&self) -> bool {
        true
    }

    #[zbus(property)]
    fn device(&self) -> OwnedObjectPath {
        path(DEVICE)
    }
}

struct Characteristic {
    shared: Shared,
    uuid: &'static str,
    flags: &'static [&'static str],
}

#[interface(name = "org.bluez.GattCharacteristic1")]
impl Characteristic {
    async fn write_value(
        &self,
        bytes: Vec<u8>,
        _options: Options,
        #[zbus(connection)] connection: &Connection,
    ) -> Result<(), Refusal> {
        let answer = {
            let mut state = self.shared.get();
            if !state.connected {
                return Err(Refusal::NotConnected(String::from("Not Connected")));
            }
            state.longest_write = state.longest_write.max(bytes.len());
            (state.answers)(&bytes)
        };
        let (shared, connection) = (self.shared.clone(), connection.clone());
        later(2, move || {
            for piece in answer.chunks(usize::from(MTU - 3)) {
                shared.get().value = piece.to_vec();
                let _ = block_on(notify(&connection));
            }
        });
        Ok(())
    }

    async fn start_notify(&self) -> Result<(), Refusal> {
        self.shared.get().notifying = true;
        Ok(())
    }

    async fn stop_notify(&self) -> Result<(), Refusal> {
        self.shared.get().notifying = false;
        Ok(())
    }

    #[zbus(property, name = "UUID")]
    fn uuid(&self) -> String {
        self.uuid.to_owned()
    }

    #[zbus(property)]
    fn service(&self) -> OwnedObjectPath {
        path(SERVICE)
    }

    #[zbus(property)]
    fn value(&self) -> Vec<u8> {
        self.shared.get().value.clone()
    }

    #[zbus(property)]
    fn notifying(&self) -> bool {
        self.shared.get().notifying
    }

    #[zbus(property)]
    fn flags(&self) -> Vec<String> {
        self.flags.iter().map(|flag| (*flag).to_owned()).collect()
    }

    #[zbus(property, name = "MTU")]
    fn mtu(&self) -> u16 {
        MTU
    }
}

async fn notify(connection: &Connection) -> zbus::Result<()> {
    let place = connection.object_server().interface::<_, Characteristic>(NOTIFY).await?;
    place.get().await.value_changed(place.signal_emitter()).await
}

pub(crate) struct StandIn {
    connection: Connection,
    pub(crate) shared: Shared,
}

impl StandIn {
    pub(crate) fn start(address: &str, answers: Answers) -> zbus::Result<Self> {
        let shared = Shared(Arc::new(Mutex::new(State {
            powered: true,
            discovering: false,
            connected: false,
            resolved: false,
            notifying: false,
            value: Vec::new(),
            wants_pairing: false,
            longest_write: 0,
            answers,
        })));
        let connection = block_on(
            connection::Builder::address(address)?
                .serve_at("/", fdo::ObjectManager)?
                .serve_at(RADIO, Radio(shared.clone()))?
                .name("org.bluez")?
                .build(),
        )?;
        Ok(Self { connection, shared })
    }

    /// The connection breaks, as out of reach.
    pub(crate) fn drop_link(&self) -> zbus::Result<()> {
        block_on(async {
            let server = self.connection.object_server();
            let device = server.interface::<_, Device>(DEVICE).await?;
            let emitter = device.signal_emitter().clone();
            let device = device.get().await;
            device.link_down(&emitter).await
        })
    }

    pub(crate) fn switch_off(&self) -> zbus::Result<()> {
        block_on(async {
            self.shared.get().powered = false;
            let server = self.connection.object_server();
            let radio = server.interface::<_, Radio>(RADIO).await?;
            radio.get().await.powered_changed(radio.signal_emitter()).await
        })
    }
}
