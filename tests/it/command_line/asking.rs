use stilltank::virtual_car::OWN_SIGNALS;

use super::{Bench, text};
use crate::tools::tool;

#[test]
fn a_reading_is_aligned_and_without_colours_where_it_is_piped() {
    let bench = Bench::new();
    let told = bench.done(&["read", "--link", "virtual:purge_valve_leaking:3"]);
    assert!(!told.contains('\u{1b}'), "{told}");
    for heading in ["Identity", "Trouble codes", "Monitor results", "Signals"] {
        assert!(told.lines().any(|line| line == heading), "{heading}: {told}");
    }
    let readiness = told.split("Readiness since codes were cleared\n").nth(1).unwrap();
    let rows: Vec<&str> = readiness.lines().take_while(|line| !line.is_empty()).collect();
    let places = rows.iter().map(|row| row.find("complete").unwrap_or_default());
    let not = |row: &&&str| row.contains("not complete");
    let (open, done) = (rows.iter().filter(not).count(), rows.len());
    let least = places.min().unwrap();
    assert!(done > 3 && open < done && least > 10, "{readiness}");
    assert!(told.contains("Tank pressure from"), "{told}");
}

/// On a terminal, which `script` of bsdutils stands in for. The words are the same either way.
#[test]
fn a_reading_is_coloured_on_a_terminal_unless_no_colour_is_wanted() {
    let Some(script) = tool("script", "whether colours are for terminals alone") else { return };
    let bench = Bench::new();
    let on_terminal = |set: &[(&str, &str)]| {
        let program = env!("CARGO_BIN_EXE_stilltank");
        let mut command = std::process::Command::new(&script);
        command.args(["-qec", &format!("{program} read --link virtual:none:3"), "/dev/null"]);
        command.current_dir(bench.path("")).env("XDG_DATA_HOME", bench.path(""));
        command.env_remove("NO_COLOR").env("TERM", "xterm").envs(set.iter().copied());
        let output = command.stdin(std::process::Stdio::null()).output().unwrap();
        assert!(output.status.success(), "{output:?}");
        String::from_utf8(output.stdout).unwrap()
    };
    let coloured = on_terminal(&[]);
    assert!(coloured.contains("\u{1b}[32mcomplete\u{1b}[0m"), "{coloured}");
    assert!(on_terminal(&[("NO_COLOR", "")]).contains("\u{1b}[32m"), "empty is not set");
    for set in [("NO_COLOR", "1"), ("TERM", "dumb")] {
        let plain = on_terminal(&[set]);
        // What is left of escapes clears the line of progress, which stands on the other stream.
        assert!(plain.contains("complete") && !plain.contains("\u{1b}["), "{set:?}: {plain}");
    }
}

#[test]
fn a_reading_as_json_names_the_source_of_tank_pressure() {
    let bench = Bench::new();
    let read = bench.json("read", &["read", "--link", "virtual:none:4", "--json"]);
    let source = read["tank_source"]["chosen"]["source"].as_str().unwrap();
    assert!(["narrow", "wide", "absolute"].contains(&source), "{read}");
}

#[test]
fn the_vent_is_closed_only_after_a_yes_and_where_the_car_offers_it() {
    let bench = Bench::new();
    let (mut accepted, mut not_offered) = (0, 0);
    for seed in 1..=8 {
        let link = format!("virtual:none:{seed}");
        bench.refused(2, "turn the key off", &["close-vent", "--link", &link]);
        let run = bench.run(&["close-vent", "--link", &link, "--agree"]);
        assert!(run.messages.contains("within a few minutes"), "{run:?}");
        match run.status {
            Some(0) => accepted += usize::from(run.messages.contains("The car accepted")),
            Some(1) => not_offered += usize::from(run.messages.contains("does not offer")),
            other => panic!("{other:?}: {run:?}"),
        }
    }
    assert!(accepted > 0 && not_offered > 0 && accepted + not_offered == 8);
}

#[test]
fn own_signals_are_tried_byte_by_byte() {
    let bench = Bench::new();
    let file = bench.write("own.toml", OWN_SIGNALS);
    let mut answered = 0;
    for seed in 1..=6 {
        let link = format!("virtual:none:{seed}");
        let words = ["try-signal", "--link", &link, "--file", text(&file)];
        let told = bench.json("try_signal", &[&words[..], &["--json"]].concat());
        let tried = told["tried"].as_array().unwrap();
        assert_eq!(tried.len(), 2);
        for tried in tried {
            assert!(tried["request"].as_str().unwrap().starts_with("22 "), "{tried}");
            let answers = tried["answers"].as_array().unwrap();
            assert_eq!(answers.is_empty(), tried["failure"].is_string(), "{tried}");
            for answer in answers {
                answered += 1;
                assert!(answer["raw"].as_str().unwrap().starts_with("62 "), "{tried}");
                assert!(answer["value"].is_number() && answer["bits"].is_number(), "{tried}");
            }
        }
        let shown = bench.done(&words);
        assert!(shown.contains("request") && !shown.contains('\u{1b}'), "{shown}");
    }
    assert!(answered > 0);
    let writing = OWN_SIGNALS.replacen("\"22\"", "\"2E\"", 1);
    let file = bench.write("writing.toml", &writing);
    let words = ["try-signal", "--link", "virtual", "--file", text(&file)];
    bench.refused(2, "service must be 01, 06, 09 or 22", &words);
}
