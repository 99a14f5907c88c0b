use super::read_everything;
use crate::jobs::connect;
use crate::jobs::source::Source;
use crate::jobs::tests::answering_car::{car_that_answers, listed};
use crate::store::Listening;
use crate::vehicle::{Fault, Monitor};
use crate::virtual_car::{CarParameters, Pace};
use crate::wording::Language;

/// On the car's own clock: answers of 5 to 30 ms behind adapters of every kind drawn.
#[test]
fn everything_is_read_from_two_units_within_eight_seconds() {
    let mut with_two = 0;
    let mut with_counters = 0;
    for seed in 0..40 {
        let parameters = CarParameters::draw(Some(Fault::PurgeValveLeaking), None, seed);
        let vin = parameters.vin().to_owned();
        let source = connect::virtual_car(parameters, seed, Pace::Unbounded, &mut |_| {});
        let Ok(Source::Car(mut car)) = source else { panic!("seed {seed}: no car") };
        let before = car.link.now();
        let (report, readiness) =
            read_everything(&mut car, Language::English, &mut |_| {}).unwrap();
        let took = car.link.now().seconds_since(before);
        assert_eq!(report.vin.as_deref(), Some(vin.as_str()), "seed {seed}");
        let watched = readiness.and_then(|it| it.complete(Monitor::Evaporative));
        assert!(watched.is_some() && !report.units.is_empty(), "seed {seed}");
        with_counters += usize::from(report.in_use.is_some_and(|it| it.opportunities > 0));
        if report.units.len() == 2 {
            with_two += 1;
            assert!(took <= 8.0, "seed {seed}: {took:.1} s");
        }
    }
    assert!(with_two >= 5 && with_counters >= 30, "{with_two} {with_counters}");
}

/// Requests and what follows the header of their answers, as SAE J1979 has them before CAN, from
/// memory: monitor results with one limit, the limit's kind in the highest bit of the second byte.
const OLDER_ANSWERS: [(&str, &[&str]); 7] = [
    ("0100", &["41 00 80 00 00 00"]),
    ("0101", &["41 01 00 07 65 04"]),
    ("03", &["43 04 55 00 00 00 00"]),
    // Tests 01, 04 and 05.
    ("0600", &["46 00 FF 98 00 00 00"]),
    ("0601", &["46 01 01 00 11 00 10", "46 01 82 00 20 00 10"]),
    ("0604", &["46 04 03 00 07 00 09"]),
    ("0605", &["46 05 01 00 00 00 00"]),
];

#[test]
fn monitor_results_of_buses_before_can_are_read_in_counts() {
    let mut car = car_that_answers(|asked, _| listed(&OLDER_ANSWERS, asked), &Listening::default());
    let (report, readiness) = read_everything(&mut car, Language::English, &mut |_| {}).unwrap();
    assert!(readiness.is_some() && report.codes[0].code == "P0455", "{report:?}");
    let results: Vec<_> = report
        .monitors
        .iter()
        .map(|it| (it.name.as_str(), it.value, it.low, it.high, it.passed))
        .collect();
    let least = f64::from(u16::MAX);
    assert_eq!(
        results,
        [
            ("Maker's test 01, part 01, in counts", 17.0, 0.0, 16.0, false),
            ("Maker's test 01, part 02, in counts", 32.0, 16.0, least, true),
            ("Maker's test 04, part 03, in counts", 7.0, 0.0, 9.0, true),
        ]
    );
}

#[test]
fn the_parts_of_a_reading_come_in_order_with_their_shares() {
    let parameters = CarParameters::draw(None, None, 3);
    let source = connect::virtual_car(parameters, 3, Pace::Unbounded, &mut |_| {}).unwrap();
    let Source::Car(mut car) = source else { panic!("no car") };
    let mut shares = Vec::new();
    read_everything(&mut car, Language::English, &mut |part| shares.push(part.share_before()))
        .unwrap();
    assert_eq!(shares.len(), 5);
    assert!(shares.is_sorted() && shares[4] < super::ReadPart::Values.share_before());
}
