use std::process::{Child, Command, Stdio};
use std::time::Duration;

/// A message bus of the test's own, ended when dropped.
pub(crate) struct PrivateBus {
    daemon: Child,
    address: String,
    _folder: tempfile::TempDir,
}

impl PrivateBus {
    /// Starts `dbus-daemon`, which must be installed.
    pub(crate) fn start() -> Self {
        let folder = tempfile::tempdir().expect("a folder for the socket");
        let socket = folder.path().join("bus");
        let configuration = folder.path().join("bus.conf");
        let text = format!(
            "<!DOCTYPE busconfig PUBLIC \"-//freedesktop//DTD D-Bus Bus Configuration 1.0//EN\" \
             \"http://www.freedesktop.org/standards/dbus/1.0/busconfig.dtd\">\
             <busconfig><type>system</type><listen>unix:path={}</listen><auth>EXTERNAL</auth>\
             <policy context=\"default\"><allow send_destination=\"*\" eavesdrop=\"true\"/>\
             <allow eavesdrop=\"true\"/><allow own=\"*\"/></policy></busconfig>",
            socket.display()
        );
        std::fs::write(&configuration, text).expect("the configuration is written");
        let daemon = Command::new("dbus-daemon")
            .arg(format!("--config-file={}", configuration.display()))
            .args(["--nofork", "--nopidfile"])
            .stdout(Stdio::null())
            .spawn()
            .expect("dbus-daemon is installed");
        for _ in 0..500 {
            if socket.exists() {
                break;
            }
            std::thread::sleep(Duration::from_millis(10));
        }
        Self { daemon, address: format!("unix:path={}", socket.display()), _folder: folder }
    }

    pub(crate) fn address(&self) -> &str {
        &self.address
    }
}

impl Drop for PrivateBus {
    fn drop(&mut self) {
        let _ = self.daemon.kill();
        let _ = self.daemon.wait();
    }
}
