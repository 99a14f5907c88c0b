//! A transcript that can be read is written as text that reads the same.
#![no_main]

use libfuzzer_sys::fuzz_target;
use stilltank::link::Transcript;

fuzz_target!(|input: &str| {
    if let Ok(transcript) = Transcript::from_text(input) {
        assert_eq!(Transcript::from_text(&transcript.to_text()), Ok(transcript));
    }
});
