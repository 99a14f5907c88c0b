//! What the system's Bluetooth service offers on the bus (the documented BlueZ interfaces), with
//! peripherals in reach, some of which carry a serial stream to a virtual car.

use std::collections::BTreeMap;
use std::sync::{Arc, Mutex};
use std::time::Duration;

use zbus::object_server::SignalEmitter;
use zbus::zvariant::{ObjectPath, OwnedObjectPath, OwnedValue};
use zbus::{Connection, DBusError, block_on, connection, fdo, interface};

use crate::gatt::{Characteristic, Service, show_services};
use crate::peripheral::{PERIPHERALS, Peripheral};
use crate::state::{Answers, Peer, Shared, State};

const RADIO: &str = "/org/bluez/hci0";

pub(crate) type Options = BTreeMap<String, OwnedValue>;

#[derive(Debug, DBusError)]
#[zbus(prefix = "org.bluez.Error")]
pub(crate) enum Refusal {
    #[zbus(error)]
    ZBus(zbus::Error),
    NotConnected(String),
    NotReady(String),
    AuthenticationFailed(String),
}

pub(crate) fn path(text: &str) -> OwnedObjectPath {
    ObjectPath::from_string_unchecked(text.to_owned()).into()
}

/// Does something a little later, as on the air.
pub(crate) fn later(millis: u64, work: impl FnOnce() + Send + 'static) {
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
            for (index, it) in PERIPHERALS.iter().enumerate() {
                let device = Device { shared: shared.clone(), index };
                let _ = block_on(connection.object_server().at(it.path, device));
            }
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

pub(crate) struct Device {
    shared: Shared,
    index: usize,
}

impl Device {
    fn is(&self) -> &'static Peripheral {
        &PERIPHERALS[self.index]
    }

    async fn link_down(&self, emitter: &SignalEmitter<'_>) -> zbus::Result<()> {
        {
            let peer = &mut self.shared.get().peers[self.index];
            (peer.connected, peer.resolved, peer.notifying) = (false, false, false);
        }
        self.services_resolved_changed(emitter).await?;
        let server = emitter.connection().object_server();
        for service in self.is().services {
            for it in service.characteristics {
                let place = format!("{}{}", self.is().path, it.path);
                let _ = server.remove::<Characteristic, _>(place).await;
            }
            let place = format!("{}{}", self.is().path, service.path);
            let _ = server.remove::<Service, _>(place).await;
        }
        self.connected_changed(emitter).await
    }
}

#[interface(name = "org.bluez.Device1")]
impl Device {
    async fn connect(
        &self,
        #[zbus(signal_emitter)] emitter: SignalEmitter<'_>,
    ) -> Result<(), Refusal> {
        if self.shared.get().wants_pairing {
            return Err(Refusal::AuthenticationFailed(String::from("Authentication Failed")));
        }
        self.shared.get().peers[self.index].connected = true;
        self.connected_changed(&emitter).await?;
        let (shared, connection) = (self.shared.clone(), emitter.connection().clone());
        let index = self.index;
        later(60, move || {
            let _ = block_on(show_services(&connection, shared, index));
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
        self.is().address.to_owned()
    }

    #[zbus(property)]
    fn address_type(&self) -> String {
        String::from("public")
    }

    #[zbus(property)]
    fn name(&self) -> String {
        self.is().name.to_owned()
    }

    #[zbus(property)]
    fn alias(&self) -> String {
        self.is().name.to_owned()
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
        self.shared.get().peers[self.index].connected
    }

    #[zbus(property)]
    fn services_resolved(&self) -> bool {
        self.shared.get().peers[self.index].resolved
    }

    #[zbus(property, name = "UUIDs")]
    fn uuids(&self) -> Vec<String> {
        self.is().services.iter().map(|it| it.uuid.to_owned()).collect()
    }

    #[zbus(property, name = "RSSI")]
    fn rssi(&self) -> i16 {
        self.is().strength + self.shared.get().nearer
    }

    #[zbus(property)]
    fn adapter(&self) -> OwnedObjectPath {
        path(RADIO)
    }
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
            wants_pairing: false,
            nearer: 0,
            longest_write: 0,
            answers,
            peers: vec![Peer::default(); PERIPHERALS.len()],
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

    /// Somebody carries the peripherals nearer: their strengths change.
    pub(crate) fn come_nearer(&self) -> zbus::Result<()> {
        block_on(async {
            self.shared.get().nearer = 6;
            let server = self.connection.object_server();
            for it in &PERIPHERALS {
                let device = server.interface::<_, Device>(it.path).await?;
                device.get().await.r_s_s_i_changed(device.signal_emitter()).await?;
            }
            Ok(())
        })
    }

    /// The connection of a peripheral breaks, as out of reach.
    pub(crate) fn drop_link(&self, index: usize) -> zbus::Result<()> {
        block_on(async {
            let server = self.connection.object_server();
            let device = server.interface::<_, Device>(PERIPHERALS[index].path).await?;
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
