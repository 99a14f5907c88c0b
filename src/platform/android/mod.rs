//! The device under the program on Android: everything that only Java can do is a method of the
//! activity, called from here by name and signature. `android/check.sh` holds every such pair
//! against the compiled class.

mod classic_socket;
mod phone;

use std::ffi::c_void;
use std::sync::OnceLock;

use jni::objects::JObject;
use jni::refs::Global;
use jni::{Env, JavaVM};

pub use classic_socket::{ClassicSocket, JavaTrouble, paired_devices};
pub use phone::Phone;

/// The program's one activity, once it has started.
static ACTIVITY: OnceLock<Global<JObject<'static>>> = OnceLock::new();

/// Calls a method of an object by its name and signature.
macro_rules! call {
    ($env:expr, $object:expr, $name:tt, $signature:tt $(, $argument:expr)*) => {
        $env.call_method($object, jni::jni_str!($name), jni::jni_sig!($signature), &[$($argument),*])
    };
}
pub(super) use call;

/// Takes hold of the activity. To be called once, from the thread that runs `android_main`, before
/// anything else here.
///
/// # Safety
/// `activity` must be the reference to the running activity that the system gave the program.
///
/// # Errors
/// What Java says.
#[allow(unsafe_code, reason = "a reference that comes from C has no type; the caller vouches")]
pub unsafe fn start(activity: *mut c_void) -> Result<(), jni::errors::Error> {
    let raw: jni::sys::jobject = activity.cast();
    let kept = JavaVM::singleton()?.attach_current_thread(|env| {
        // SAFETY: by this function's own condition the pointer is a reference to an object.
        let activity = unsafe { env.as_cast_raw::<Global<JObject>>(&raw)? };
        env.new_global_ref(&*activity)
    })?;
    // A second start in one process would bring another activity; the program ends with its first.
    let _ = ACTIVITY.set(kept);
    Ok(())
}

/// Lets the Bluetooth library find its Java classes. Only the thread that runs `android_main` sees
/// the app's classes by name, so it has to be called there.
///
/// # Errors
/// What Java says, or that the classes are missing from the package.
#[cfg(feature = "bluetooth")]
pub fn start_bluetooth() -> Result<(), btleplug::Error> {
    let machine = JavaVM::singleton().map_err(|error| btleplug::Error::Other(Box::new(error)))?;
    let mut outcome = Ok(());
    let attached = machine.attach_current_thread(|env| -> Result<(), jni::errors::Error> {
        outcome = btleplug::platform::init(env);
        Ok(())
    });
    attached.map_err(|error| btleplug::Error::Other(Box::new(error)))?;
    outcome
}

/// Works with the activity from any thread. A Java exception comes back as an error.
fn with_activity<T>(
    work: impl FnOnce(&mut Env<'_>, &JObject<'_>) -> Result<T, jni::errors::Error>,
) -> Result<T, jni::errors::Error> {
    let activity = ACTIVITY.get().ok_or(jni::errors::Error::UninitializedJavaVM)?;
    JavaVM::singleton()?.attach_current_thread(|env| work(env, activity.as_obj()))
}
