use std::collections::BTreeMap;

use super::link_to;
use super::practice_adapter::{PARAMETERS, Practice, PracticeAdapter, PracticeUnit, engine, value};
use crate::link::{Item, Link, LinkError, Protocol, Reading, Rotation, Wanted};
use crate::units::Instant;

fn all(rate_hz: f64) -> Rotation {
    let rows = PARAMETERS
        .map(|(it, length)| Wanted::parameter(it, u8::try_from(length).unwrap(), rate_hz));
    Rotation::new(rows.to_vec())
}

fn poll_for(link: &mut Link, rotation: &mut Rotation, seconds: f64) -> Vec<Reading> {
    let end = link.now().seconds() + seconds;
    let mut readings = Vec::new();
    while link.now() < Instant::from_seconds(end) {
        readings.extend(link.poll(rotation).unwrap());
    }
    readings
}

fn assert_true(reading: &Reading) {
    let Item::Parameter(parameter) = reading.item else { panic!("{reading:?}") };
    let sampled = (reading.at + reading.uncertainty).micros() / 1000;
    assert_eq!(reading.data, value(parameter, reading.data.len(), sampled), "{reading:?}");
}

#[test]
fn wanted_rates_are_kept_where_the_link_allows() {
    let mut link = link_to(Practice::default()).unwrap();
    let mut rotation = Rotation::new(vec![
        Wanted::parameter(0x32, 2, 10.0),
        Wanted::parameter(0x0B, 1, 5.0),
        Wanted::parameter(0x2E, 1, 1.0),
        Wanted::identifier(0x2201, 2, 0.5, None),
    ]);
    let readings = poll_for(&mut link, &mut rotation, 60.0);
    let mut counts = BTreeMap::new();
    for reading in &readings {
        *counts.entry(reading.item.clone()).or_insert(0) += 1;
    }
    let counts: Vec<i32> = counts.into_values().collect();
    let wanted = [300, 60, 600, 30];
    for (count, wanted) in counts.iter().zip(wanted) {
        assert!((count - wanted).abs() <= wanted / 20 + 1, "{counts:?}");
    }
    for row in rotation.rate_report().rows {
        assert!((row.reached_hz.unwrap() / row.wanted_hz - 1.0).abs() < 0.05, "{row:?}");
        assert!(!row.unanswered && !row.asked_alone);
    }
}

#[test]
fn an_overloaded_rotation_shares_by_wanted_rate_and_starves_nobody() {
    let practice = Practice { protocol: Protocol::Iso9141, ..Practice::default() };
    let units = vec![PracticeUnit { id: 0x10, answer: engine }];
    let mut link = link_to(Practice { units, ..practice }).unwrap();
    let mut rotation = Rotation::new(vec![
        Wanted::parameter(0x32, 2, 200.0),
        Wanted::parameter(0x0C, 2, 100.0),
        Wanted::parameter(0x0B, 1, 50.0),
    ]);
    let readings = poll_for(&mut link, &mut rotation, 60.0);
    readings.iter().for_each(assert_true);
    let rates: Vec<f64> =
        rotation.rate_report().rows.iter().map(|row| row.reached_hz.unwrap()).collect();
    // 15 ms an exchange, one parameter each: 66 readings a second in the ratio 4 : 2 : 1.
    assert!((rates.iter().sum::<f64>() - 1000.0 / 15.0).abs() < 5.0, "{rates:?}");
    assert!((rates[0] / rates[1] - 2.0).abs() < 0.4, "{rates:?}");
    assert!((rates[1] / rates[2] - 2.0).abs() < 0.4, "{rates:?}");
}

#[test]
fn six_parameters_travel_together_on_can() {
    let adapter = PracticeAdapter::new(Practice::default());
    let requests = adapter.requests();
    let mut link = Link::open(Box::new(adapter), &mut |_| {}).unwrap();
    requests.lock().unwrap().clear();
    let readings = poll_for(&mut link, &mut all(10.0), 5.0);
    readings.iter().for_each(assert_true);
    let longest = requests.lock().unwrap().iter().map(Vec::len).max();
    assert_eq!(longest, Some(7));
}

#[test]
fn a_car_that_drops_some_of_several_is_asked_for_those_alone() {
    /// Gives only the first three of the parameters asked.
    fn forgetful(request: &[u8], millis: i64) -> Option<Vec<u8>> {
        engine(request.get(..4).unwrap_or(request), millis)
    }
    let units = vec![PracticeUnit { id: 0x7E8, answer: forgetful }];
    let mut link = link_to(Practice { units, ..Practice::default() }).unwrap();
    let mut rotation = all(5.0);
    let readings = poll_for(&mut link, &mut rotation, 30.0);
    readings.iter().for_each(assert_true);
    for row in rotation.rate_report().rows {
        assert!(row.reached_hz.unwrap() > 4.5, "{row:?}");
    }
}

#[test]
fn a_car_that_answers_only_single_parameters_gives_them_all() {
    fn single(request: &[u8], millis: i64) -> Option<Vec<u8>> {
        (request.len() <= 2).then(|| engine(request, millis)).flatten()
    }
    fn refusing(request: &[u8], millis: i64) -> Option<Vec<u8>> {
        single(request, millis).or(Some(vec![0x7F, 0x01, 0x12]))
    }
    for answer in [single, refusing] {
        let units = vec![PracticeUnit { id: 0x7E8, answer }];
        let mut link = link_to(Practice { units, ..Practice::default() }).unwrap();
        let mut rotation = all(5.0);
        poll_for(&mut link, &mut rotation, 30.0).iter().for_each(assert_true);
        for row in rotation.rate_report().rows {
            assert!(row.reached_hz.unwrap() > 4.5 && row.asked_alone, "{row:?}");
        }
    }
}

#[test]
fn a_parameter_that_the_car_lacks_is_reported_and_asked_rarely() {
    let adapter = PracticeAdapter::new(Practice::default());
    let requests = adapter.requests();
    let mut link = Link::open(Box::new(adapter), &mut |_| {}).unwrap();
    let mut rotation =
        Rotation::new(vec![Wanted::parameter(0x0B, 1, 10.0), Wanted::parameter(0x54, 2, 10.0)]);
    poll_for(&mut link, &mut rotation, 60.0);
    let report = rotation.rate_report();
    assert!(report.rows[0].reached_hz.unwrap() > 9.5 && !report.rows[0].unanswered);
    assert!(report.rows[1].reached_hz.is_none() && report.rows[1].unanswered);
    let alone = [0x01, 0x54];
    let asked = requests.lock().unwrap().iter().filter(|it| it[..] == alone).count();
    assert!(asked < 12, "{asked}");
}

#[test]
fn a_second_unit_does_not_double_the_readings() {
    /// The same parameters with other values.
    fn gearbox(request: &[u8], millis: i64) -> Option<Vec<u8>> {
        engine(request, millis + 1_000_000)
    }
    let units = vec![
        PracticeUnit { id: 0x7E8, answer: engine },
        PracticeUnit { id: 0x7E9, answer: gearbox },
    ];
    let mut link = link_to(Practice { units, ..Practice::default() }).unwrap();
    let readings = poll_for(&mut link, &mut all(5.0), 10.0);
    readings.iter().for_each(assert_true);
    assert!(readings.len() <= 7 * 52, "{}", readings.len());
}

#[test]
fn ignition_off_is_no_data_and_reading_goes_on_when_it_is_back() {
    fn sleeps(request: &[u8], millis: i64) -> Option<Vec<u8>> {
        (!(5_000..15_000).contains(&millis)).then(|| engine(request, millis)).flatten()
    }
    let units = vec![PracticeUnit { id: 0x7E8, answer: sleeps }];
    let mut link = link_to(Practice { units, ..Practice::default() }).unwrap();
    let mut rotation = all(5.0);
    let (mut no_data, mut back) = (0, None);
    while link.now() < Instant::from_seconds(40.0) {
        match link.poll(&mut rotation) {
            Ok(readings) if !readings.is_empty() && link.now() > Instant::from_seconds(15.0) => {
                back.get_or_insert(link.now());
            }
            Ok(_) => {}
            Err(error) => {
                assert_eq!(error, LinkError::NoData);
                no_data += 1;
            }
        }
    }
    assert!(no_data > 0);
    assert!(back.unwrap() < Instant::from_seconds(26.0), "{back:?}");
    for row in rotation.rate_report().rows {
        assert!(row.reached_hz.unwrap() > 4.0 && !row.unanswered, "{row:?}");
    }
}
