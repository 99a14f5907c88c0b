use std::net::{SocketAddr, TcpListener};
use std::path::Path;
use std::sync::Arc;

use super::{JobError, MachineClock};
use crate::vehicle::Fault;
use crate::virtual_car::{CarParameters, Garage, Pace, serve_tcp};

/// A virtual car that others can reach over the network.
#[derive(Clone, Copy, Debug)]
pub struct OpenVirtualCar {
    /// What is wrong with it; `None` is a sound car.
    pub fault: Option<Fault>,
    /// A fault of another part beside it.
    pub also: Option<Fault>,
    /// How bad it is, 0 to 1; drawn if not given.
    pub severity: Option<f64>,
    /// Draws the car.
    pub seed: u64,
}

/// A virtual car behind a port.
pub struct CarServer {
    listener: TcpListener,
    garage: Garage,
    address: SocketAddr,
}

impl OpenVirtualCar {
    /// Puts the car behind an address. It lives at the clock's pace.
    ///
    /// # Errors
    /// [`JobError::File`] with the address if nothing can listen there.
    pub fn listen(self, address: SocketAddr, clock: MachineClock) -> Result<CarServer, JobError> {
        let failed =
            |error: std::io::Error| JobError::file(Path::new(&address.to_string()), &error);
        let listener = TcpListener::bind(address).map_err(failed)?;
        let address = listener.local_addr().map_err(failed)?;
        let own = CarParameters::draw(self.fault, self.severity, self.seed);
        let parameters = match self.also {
            Some(fault) => own.with_another(fault),
            None => own,
        };
        let garage = Garage::new(parameters, self.seed, Pace::RealTime(Arc::new(clock)));
        Ok(CarServer { listener, garage, address })
    }
}

impl CarServer {
    /// Where it listens; the system chooses the port if it was zero.
    pub fn address(&self) -> SocketAddr {
        self.address
    }

    /// Serves one client after the other until the program ends.
    ///
    /// # Errors
    /// [`JobError::File`] with the address if the listener fails.
    pub fn serve(&self) -> Result<(), JobError> {
        serve_tcp(&self.listener, &self.garage, &|| false)
            .map_err(|error| JobError::file(Path::new(&self.address.to_string()), &error))
    }
}
