//! The virtual car read through the same link as a real one, whatever its adapter's habits.

use std::time::Duration;

use stilltank::link::{Consent, Item, Link, Request, Rotation, Wanted};
use stilltank::units::Instant;
use stilltank::vehicle::{
    Fault, SupportedParameters, TankSource, decode_codes, decode_parameters, decode_vin,
};
use stilltank::virtual_car::{Act, CarParameters, Garage, Pace};

/// Connects and returns the link with the parameters that the car says it has.
fn connect(garage: &Garage) -> (Link, SupportedParameters) {
    let mut link = Link::open(garage.transport(), &mut |_| {}).expect("the key is on");
    let mut supported = SupportedParameters::default();
    let mut list = Some(0x00);
    while let Some(base) = list {
        for answer in link.request(&Request::new(0x01, &[base])).expect("a list") {
            supported.add_answer(&answer.payload[1..]).expect("well formed");
        }
        list = supported.next_list();
    }
    (link, supported)
}

fn cars() -> impl Iterator<Item = (u64, CarParameters)> {
    (0..24).map(|seed| {
        let fault = Some(Fault::PurgeValveLeaking);
        let hard = seed % 3 == 2;
        let draw = if hard { CarParameters::draw_hard } else { CarParameters::draw };
        (seed, draw(fault, None, seed))
    })
}

#[test]
fn every_car_connects_and_tells_who_it_is_and_what_it_stored() {
    let mut with_codes = 0;
    for (seed, parameters) in cars() {
        let vin = parameters.vin().to_owned();
        let garage = Garage::new(parameters, seed, Pace::Unbounded);
        let (mut link, supported) = connect(&garage);
        assert_eq!(TankSource::offered(&supported).len(), 1, "seed {seed}");

        let answers = link.request(&Request::new(0x09, &[0x02])).expect("an answer");
        let contents: Vec<&[u8]> = answers.iter().map(|answer| &answer.payload[1..]).collect();
        assert_eq!(decode_vin(&contents).map(|it| it.to_string()), Ok(vin), "seed {seed}");

        let stored = link.request(&Request::new(0x03, &[])).expect("an answer");
        let codes: usize = stored
            .iter()
            .map(|it| decode_codes(0x03, &it.payload[1..]).expect("well formed").len())
            .sum();
        with_codes += usize::from(codes > 0);
        if codes > 0 {
            let erase = Request::new(0x04, &[]).with_consent(Consent::given_for(0x04));
            assert!(link.request(&erase).is_ok(), "seed {seed}");
            for answer in link.request(&Request::new(0x03, &[])).expect("an answer") {
                assert_eq!(decode_codes(0x03, &answer.payload[1..]), Ok(vec![]), "seed {seed}");
            }
        }
    }
    assert!(with_codes > 12, "{with_codes}");
}

/// A leaking valve as its person finds it: the tank goes into vacuum as soon as the engine runs.
/// The change must be that which the truth says, seen through polling in turn.
#[test]
fn polled_readings_show_what_the_tank_does() {
    for seed in 0..12 {
        let parameters = CarParameters::draw(Some(Fault::PurgeValveLeaking), Some(1.0), seed);
        let garage = Garage::new(parameters, seed, Pace::Unbounded);
        let (mut link, supported) = connect(&garage);
        let source = TankSource::offered(&supported)[0].parameter().expect("by the standard");
        let wanted = |parameter, length, rate| Wanted::parameter(parameter, length, rate);
        let mut rotation = Rotation::new(vec![
            wanted(source, 2, 8.0),
            wanted(0x0C, 2, 2.0),
            wanted(0x11, 1, 2.0),
            wanted(0x2E, 1, 2.0),
        ]);
        let rest = mean_tank(&mut link, &mut rotation, source, 5.0);
        garage.ask(Act::StartEngine);
        // Reaction, cranking, and a tank that settles.
        mean_tank(&mut link, &mut rotation, source, 10.0);
        assert!(garage.engine_runs(), "seed {seed}");
        let idle = mean_tank(&mut link, &mut rotation, source, 3.0);
        let truth = garage.truth();
        let (found, expected) = (idle - rest, truth.leak_pressure.0);
        let allowed = 0.1 * expected.abs() + 20.0;
        assert!((found - expected).abs() < allowed, "seed {seed}: {found} for {expected}");
        assert!(rotation.rate_report().readings_per_second > Some(5.0), "seed {seed}");
    }
}

/// Polls for some seconds and returns the mean tank pressure, Pa; of an absolute source in Pa too.
fn mean_tank(link: &mut Link, rotation: &mut Rotation, source: u8, seconds: f64) -> f64 {
    let until = link.now() + Duration::from_secs_f64(seconds);
    let (mut sum, mut count, mut last) = (0.0, 0, Instant::ZERO);
    while link.now() < until {
        for reading in link.poll(rotation).expect("the link holds") {
            let Item::Parameter(parameter) = reading.item else { unreachable!("none asked") };
            let content = [&[parameter], &reading.data[..]].concat();
            let decoded = decode_parameters(&content).expect("well formed");
            for it in decoded.iter().filter(|it| it.parameter == source) {
                let unit = if source == 0x53 { 1000.0 } else { 1.0 };
                sum += it.measured[0].value * unit;
                count += 1;
                assert!(reading.at >= last, "times never go back");
                last = reading.at;
            }
        }
    }
    sum / f64::from(count)
}
