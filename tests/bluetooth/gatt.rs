//! Services and characteristics on the bus, while a peripheral is connected.

use zbus::zvariant::OwnedObjectPath;
use zbus::{Connection, block_on, interface};

use crate::peripheral::{self, PERIPHERALS};
use crate::stand_in::{Device, Options, Refusal, later, path};
use crate::state::Shared;

/// The smallest packet of Bluetooth LE.
const MTU: u16 = 23;

/// Shows a connected peripheral's services.
pub(crate) async fn show_services(
    connection: &Connection,
    shared: Shared,
    index: usize,
) -> zbus::Result<()> {
    let server = connection.object_server();
    let folder = PERIPHERALS[index].path;
    for service in PERIPHERALS[index].services {
        let place = format!("{folder}{}", service.path);
        server.at(place.as_str(), Service { folder, uuid: service.uuid }).await?;
        for is in service.characteristics {
            let it =
                Characteristic { shared: shared.clone(), index, service: place.clone(), is: *is };
            server.at(format!("{folder}{}", is.path), it).await?;
        }
    }
    shared.get().peers[index].resolved = true;
    let device = server.interface::<_, Device>(folder).await?;
    device.get().await.services_resolved_changed(device.signal_emitter()).await
}

pub(crate) struct Service {
    folder: &'static str,
    uuid: &'static str,
}

#[interface(name = "org.bluez.GattService1")]
impl Service {
    #[zbus(property, name = "UUID")]
    fn uuid(&self) -> String {
        self.uuid.to_owned()
    }

    #[zbus(property)]
    fn primary(&self) -> bool {
        true
    }

    #[zbus(property)]
    fn device(&self) -> OwnedObjectPath {
        path(self.folder)
    }
}

pub(crate) struct Characteristic {
    shared: Shared,
    index: usize,
    service: String,
    is: peripheral::Characteristic,
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
            if !state.peers[self.index].connected {
                return Err(Refusal::NotConnected(String::from("Not Connected")));
            }
            state.longest_write = state.longest_write.max(bytes.len());
            // Who never answers does not ask the car either.
            match self.is.answered_on {
                Some(_) => (state.answers)(&bytes),
                None => Vec::new(),
            }
        };
        let Some(end) = self.is.answered_on else { return Ok(()) };
        let (shared, connection) = (self.shared.clone(), connection.clone());
        let (index, place) = (self.index, format!("{}{end}", PERIPHERALS[self.index].path));
        later(2, move || {
            for piece in answer.chunks(usize::from(MTU - 3)) {
                shared.get().peers[index].value = piece.to_vec();
                let _ = block_on(notify(&connection, &place));
            }
        });
        Ok(())
    }

    async fn start_notify(&self) -> Result<(), Refusal> {
        self.shared.get().peers[self.index].notifying = true;
        Ok(())
    }

    async fn stop_notify(&self) -> Result<(), Refusal> {
        self.shared.get().peers[self.index].notifying = false;
        Ok(())
    }

    #[zbus(property, name = "UUID")]
    fn uuid(&self) -> String {
        self.is.uuid.to_owned()
    }

    #[zbus(property)]
    fn service(&self) -> OwnedObjectPath {
        path(&self.service)
    }

    #[zbus(property)]
    fn value(&self) -> Vec<u8> {
        self.shared.get().peers[self.index].value.clone()
    }

    #[zbus(property)]
    fn notifying(&self) -> bool {
        self.shared.get().peers[self.index].notifying
    }

    #[zbus(property)]
    fn flags(&self) -> Vec<String> {
        self.is.flags.iter().map(|flag| (*flag).to_owned()).collect()
    }

    #[zbus(property, name = "MTU")]
    fn mtu(&self) -> u16 {
        MTU
    }
}

async fn notify(connection: &Connection, place: &str) -> zbus::Result<()> {
    let place = connection.object_server().interface::<_, Characteristic>(place).await?;
    place.get().await.value_changed(place.signal_emitter()).await
}
