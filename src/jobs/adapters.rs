use super::{AdapterSeen, JobError, LinkAddress, Workshop, connect};
use crate::store::KnownAdapter;

impl Workshop {
    /// Remembers the adapter that was just connected, so that it stands first the next time.
    pub(super) fn remember(&mut self, address: &LinkAddress) -> Result<(), JobError> {
        if matches!(address, LinkAddress::Replay(_) | LinkAddress::Virtual { .. }) {
            return Ok(());
        }
        let adapter = KnownAdapter {
            address: serde_json::to_string(address).unwrap_or_default(),
            name: connect::in_words(address),
            capability: serde_json::Value::Null,
            used: self.date(),
        };
        Ok(self.store.remember_adapter(&adapter)?)
    }

    /// Adapters used before, the last one first.
    pub(super) fn known_adapters(&self) -> Result<Vec<AdapterSeen>, JobError> {
        let known = self.store.known_adapters()?;
        let seen = |adapter: KnownAdapter| {
            Some(AdapterSeen {
                address: serde_json::from_str(&adapter.address).ok()?,
                name: adapter.name,
                strength_dbm: None,
                known: true,
            })
        };
        Ok(known.into_iter().filter_map(seen).collect())
    }
}
