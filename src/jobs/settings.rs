use super::{Event, JobError, Workshop};

impl Workshop {
    /// Shows the settings kept from before.
    pub(super) fn read_settings(&mut self) -> Result<(), JobError> {
        self.emit(Event::Settings(self.store.settings()?));
        Ok(())
    }

    /// Keeps a setting.
    pub(super) fn save_setting(&mut self, name: &str, value: &str) -> Result<(), JobError> {
        Ok(self.store.set_setting(name, value)?)
    }
}
