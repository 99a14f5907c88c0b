use super::{Garage, Pace};
use crate::virtual_car::CarParameters;

#[test]
fn adapter_answers_over_the_transport() {
    let garage = Garage::new(CarParameters::draw(None, None, 1), 1, Pace::Unbounded);
    let mut wire = garage.transport();
    assert_eq!(wire.write(b"ATZ\r"), Ok(()));
    let mut heard = Vec::new();
    let deadline = wire.now() + std::time::Duration::from_secs(2);
    while !heard.ends_with(b">") {
        let count = wire.read(&mut heard, deadline);
        assert!(count.is_ok_and(|count| count > 0));
    }
    assert!(wire.now() < deadline);
    assert_eq!(wire.read(&mut heard, deadline), Ok(0));
    assert_eq!(wire.now(), deadline);
}
