//! What the device offers beside bytes, files and a window: permissions, handing a file over,
//! staying awake, a touch that is felt, the person's text size.
//!
//! May import: nothing.
//! Never: knows what the program is for, or writes a sentence for the screen.

#[cfg(target_os = "android")]
pub mod android;
mod desktop;
mod device;
mod permission;

pub use desktop::Desktop;
pub use device::{Device, DeviceError, Feel, HandedOver};
pub use permission::{Access, Desk, Facts, Permissions, Request, bluetooth_permissions};
