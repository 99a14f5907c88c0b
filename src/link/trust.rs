/// Clean exchanges after which a line that once damaged bytes counts as sound again.
const CLEAN_RUN: u32 = 2_000;

/// Whether the bytes that come can be believed at first sight.
///
/// On CAN an adapter strips the checksum, so a changed digit in the right place looks like another
/// value. Most damage does not hit such a place and is seen; once any has been seen, a value is
/// only believed when it has been received twice, alike.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(super) struct Trust {
    doubt: Option<u32>,
    damaged: u64,
}

impl Trust {
    /// Bytes were lost or changed.
    pub(super) fn handle_damage(&mut self) {
        self.doubt = Some(0);
        self.damaged = self.damaged.saturating_add(1);
    }

    /// An exchange went without a fault.
    pub(super) fn handle_clean_exchange(&mut self) {
        self.doubt = self.doubt.map(|run| run.saturating_add(1)).filter(|run| *run < CLEAN_RUN);
    }

    /// Whether values need a second, equal answer.
    pub(super) fn is_doubtful(&self) -> bool {
        self.doubt.is_some()
    }

    /// Damaged exchanges so far.
    pub(super) fn damaged(&self) -> u64 {
        self.damaged
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn doubt_lasts_until_a_long_clean_run() {
        let mut trust = Trust::default();
        assert!(!trust.is_doubtful());
        trust.handle_damage();
        for _ in 1..CLEAN_RUN {
            trust.handle_clean_exchange();
        }
        assert!(trust.is_doubtful());
        trust.handle_clean_exchange();
        assert!(!trust.is_doubtful());
        assert_eq!(trust.damaged(), 1);
    }
}
