//! The peripherals in reach of the stand-in.

/// One peripheral with one service after the other.
pub(crate) struct Peripheral {
    pub(crate) name: &'static str,
    pub(crate) address: &'static str,
    pub(crate) path: &'static str,
    pub(crate) strength: i16,
    pub(crate) services: &'static [Service],
}

pub(crate) struct Service {
    /// Behind the peripheral's path.
    pub(crate) path: &'static str,
    pub(crate) uuid: &'static str,
    pub(crate) characteristics: &'static [Characteristic],
}

#[derive(Clone, Copy)]
pub(crate) struct Characteristic {
    /// Behind the peripheral's path.
    pub(crate) path: &'static str,
    pub(crate) uuid: &'static str,
    pub(crate) flags: &'static [&'static str],
    /// Where what is written here is answered, behind the peripheral's path.
    pub(crate) answered_on: Option<&'static str>,
}

/// An adapter with one stream.
pub(crate) const SERIAL: usize = 0;
/// An adapter whose stream does not look like the best one.
pub(crate) const TRICKY: usize = 1;
/// Something else.
pub(crate) const DISPLAY: usize = 2;

pub(crate) const PERIPHERALS: [Peripheral; 3] = [
    Peripheral {
        name: "Lab serial",
        address: "AA:BB:CC:00:00:01",
        path: "/org/bluez/hci0/dev_AA_BB_CC_00_00_01",
        strength: -55,
        services: &[Service {
            path: "/service000a",
            uuid: "0000aa00-1234-5678-9abc-def012345678",
            characteristics: &[
                Characteristic {
                    path: "/service000a/char000b",
                    uuid: "0000aa01-1234-5678-9abc-def012345678",
                    flags: &["write"],
                    answered_on: Some("/service000a/char000d"),
                },
                Characteristic {
                    path: "/service000a/char000d",
                    uuid: "0000aa02-1234-5678-9abc-def012345678",
                    flags: &["notify"],
                    answered_on: None,
                },
            ],
        }],
    },
    Peripheral {
        name: "Lab tricky",
        address: "AA:BB:CC:00:00:02",
        path: "/org/bluez/hci0/dev_AA_BB_CC_00_00_02",
        strength: -71,
        services: &[
            // Takes bytes the quick way, and never answers.
            Service {
                path: "/service0010",
                uuid: "0000bb00-0000-1000-8000-00805f9b34fb",
                characteristics: &[Characteristic {
                    path: "/service0010/char0011",
                    uuid: "0000bb01-0000-1000-8000-00805f9b34fb",
                    flags: &["write-without-response", "notify"],
                    answered_on: None,
                }],
            },
            Service {
                path: "/service0020",
                uuid: "0000cc00-0000-1000-8000-00805f9b34fb",
                characteristics: &[
                    Characteristic {
                        path: "/service0020/char0021",
                        uuid: "0000cc01-0000-1000-8000-00805f9b34fb",
                        flags: &["write"],
                        answered_on: Some("/service0020/char0023"),
                    },
                    Characteristic {
                        path: "/service0020/char0023",
                        uuid: "0000cc02-0000-1000-8000-00805f9b34fb",
                        flags: &["notify"],
                        answered_on: None,
                    },
                ],
            },
        ],
    },
    Peripheral {
        name: "Lab display",
        address: "AA:BB:CC:00:00:03",
        path: "/org/bluez/hci0/dev_AA_BB_CC_00_00_03",
        strength: -62,
        services: &[Service {
            path: "/service0030",
            uuid: "0000dd00-0000-1000-8000-00805f9b34fb",
            characteristics: &[
                Characteristic {
                    path: "/service0030/char0031",
                    uuid: "0000dd01-0000-1000-8000-00805f9b34fb",
                    flags: &["write"],
                    answered_on: None,
                },
                Characteristic {
                    path: "/service0030/char0033",
                    uuid: "0000dd02-0000-1000-8000-00805f9b34fb",
                    flags: &["read"],
                    answered_on: None,
                },
            ],
        }],
    },
];
