use jni::JValue;
use jni::errors::Error;
use jni::objects::{JByteArray, JObject, JString};
use jni::refs::Global;
use jni::{Env, JavaVM};

use super::{call, with_activity};

/// Bytes fetched at once. An adapter's answers are short; more than this waits for the next fetch.
const FETCH: usize = 1024;

/// What Java said when something with a socket failed: the one word of its exception that
/// `ClassicSocket.java` uses, or the system's own sentence.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct JavaTrouble(pub String);

impl From<Error> for JavaTrouble {
    fn from(error: Error) -> Self {
        match error {
            Error::CaughtJavaException { msg, .. } => Self(msg),
            other => Self(other.to_string()),
        }
    }
}

/// Classic Bluetooth devices that are paired with this phone: address and name.
///
/// # Errors
/// What Java says; without the permission to join devices that is a refusal.
pub fn paired_devices() -> Result<Vec<(String, String)>, JavaTrouble> {
    let lines = with_activity(|env, activity| {
        let lines = call!(env, activity, "pairedDevices", "()Ljava/lang/String;")?.l()?;
        env.cast_local::<JString>(lines)?.try_to_string(env)
    })?;
    let pair = |line: &str| {
        let (address, name) = line.split_once('\t')?;
        Some((address.to_owned(), name.to_owned()))
    };
    Ok(lines.lines().filter_map(pair).collect())
}

/// One socket to the serial port of a classic Bluetooth device. Its methods wait as long as it
/// takes; closing it from another thread ends the wait.
#[derive(Debug)]
pub struct ClassicSocket(Global<JObject<'static>>);

impl ClassicSocket {
    /// A socket to this address, not connected yet.
    ///
    /// # Errors
    /// What keeps it from being made: no radio, radio off, not paired, no permission, no address.
    pub fn new(address: &str, secure: bool) -> Result<Self, JavaTrouble> {
        let socket = with_activity(|env, activity| {
            let address = env.new_string(address)?;
            let socket = call!(
                env,
                activity,
                "classicSocket",
                "(Ljava/lang/String;Z)Ldev/stilltank/ClassicSocket;",
                JValue::Object(&address),
                JValue::Bool(secure)
            )?
            .l()?;
            env.new_global_ref(socket)
        })?;
        Ok(Self(socket))
    }

    /// Connects.
    ///
    /// # Errors
    /// What Java says.
    pub fn connect(&self) -> Result<(), JavaTrouble> {
        self.with(|env, socket| call!(env, socket, "connect", "()V")?.v())
    }

    /// Appends what arrives next; nothing means that the other side is gone.
    ///
    /// # Errors
    /// What Java says.
    pub fn read(&self, into: &mut Vec<u8>) -> Result<usize, JavaTrouble> {
        self.with(|env, socket| {
            let fetched = JByteArray::new(env, FETCH)?;
            let count = call!(env, socket, "read", "([B)I", JValue::Object(&fetched))?.i()?;
            // −1 is the end of the stream.
            let count = usize::try_from(count).unwrap_or(0).min(FETCH);
            let bytes = env.convert_byte_array(&fetched)?;
            into.extend(bytes.iter().take(count));
            Ok(count)
        })
    }

    /// Writes all of it.
    ///
    /// # Errors
    /// What Java says.
    pub fn write(&self, bytes: &[u8]) -> Result<(), JavaTrouble> {
        self.with(|env, socket| {
            let bytes = env.byte_array_from_slice(bytes)?;
            call!(env, socket, "write", "([B)V", JValue::Object(&bytes))?.v()
        })
    }

    /// Ends the connection and every wait for it. A socket that is broken already stays so.
    pub fn close(&self) {
        let _ = self.with(|env, socket| call!(env, socket, "close", "()V")?.v());
    }

    fn with<T>(
        &self,
        work: impl FnOnce(&mut Env<'_>, &JObject<'_>) -> Result<T, Error>,
    ) -> Result<T, JavaTrouble> {
        let done = JavaVM::singleton()?.attach_current_thread(|env| work(env, self.0.as_obj()));
        Ok(done?)
    }
}
