use super::arguments::VirtualCar;
use super::{Failure, Output};
use crate::jobs::{MachineClock, OpenVirtualCar};

/// Puts the virtual car behind a TCP adapter until the program is interrupted.
pub(super) fn run(arguments: &VirtualCar, output: &mut Output) -> Result<(), Failure> {
    if let (Some(fault), Some(also)) = (arguments.fault.0, arguments.also.0)
        && fault.same_part(also)
    {
        return Err(Failure::Input(format!(
            "{} and {} are faults of one part; give --also a fault of another.",
            fault.name(),
            also.name()
        )));
    }
    let car = OpenVirtualCar {
        fault: arguments.fault.0,
        also: arguments.also.0,
        severity: arguments.severity,
        seed: arguments.seed,
    };
    let server = car.listen(arguments.listen, MachineClock::start())?;
    // The port may have been left to the system, so a script has to be told.
    output.data(&format!("tcp:{}", server.address()));
    output.message(
        "The virtual car answers here until interrupted. A line such as !start_engine tells the \
         person at the car what to do.",
    );
    Ok(server.serve()?)
}
