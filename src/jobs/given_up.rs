use crate::evidence::Check;

/// A check that the person gave up and has not made to its end since.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct GivenUp {
    /// Which.
    pub check: Check,
    /// Why, in the person's words; empty if they said nothing.
    pub reason: String,
}

/// Begins a line of a visit's notes that tells of a check given up; its name and the reason follow.
const WORD: &str = "given_up";

/// The checks given up, as a visit's notes tell them.
pub(super) fn read(notes: &str) -> Vec<GivenUp> {
    notes.lines().filter_map(line).collect()
}

/// The notes with one more check given up.
pub(super) fn with(notes: &str, check: Check, reason: &str) -> String {
    let reason = reason.split_whitespace().collect::<Vec<_>>().join(" ");
    let new = format!("{WORD} {} {reason}", check.name()).trim_end().to_owned();
    let kept = without(notes, check);
    if kept.is_empty() { new } else { format!("{kept}\n{new}") }
}

/// The notes without this check's line: it was made to its end after all.
pub(super) fn without(notes: &str, check: Check) -> String {
    let kept: Vec<&str> =
        notes.lines().filter(|it| line(it).is_none_or(|it| it.check != check)).collect();
    kept.join("\n")
}

fn line(text: &str) -> Option<GivenUp> {
    let rest = text.strip_prefix(WORD)?.strip_prefix(' ')?;
    let (name, reason) = rest.split_once(' ').unwrap_or((rest, ""));
    let check = Check::ALL.into_iter().find(|check| check.name() == name)?;
    Some(GivenUp { check, reason: reason.to_owned() })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_reason_stays_until_the_check_is_made_to_its_end() {
        let notes = with("Seen before.", Check::UnplugRecovery, " no\ntime ");
        let notes = with(&notes, Check::SealedHold, "");
        let told: Vec<(Check, String)> =
            read(&notes).into_iter().map(|it| (it.check, it.reason)).collect();
        assert_eq!(
            told,
            [(Check::UnplugRecovery, "no time".to_owned()), (Check::SealedHold, String::new())]
        );
        let notes = with(&notes, Check::UnplugRecovery, "rain");
        assert_eq!(read(&notes).len(), 2, "one line a check");
        let notes = without(&without(&notes, Check::UnplugRecovery), Check::SealedHold);
        assert_eq!(notes, "Seen before.");
    }

    #[test]
    fn words_that_only_look_alike_are_notes() {
        assert_eq!(read("given_up nothing else\ngiven_upon a time"), []);
    }
}
