use super::Measured;
use crate::vehicle::Quantity;

/// What a car that needs other ranges than the standard's says about them (parameters 4F and 50).
/// A maximum of zero keeps the standard's range.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct ExternalScaling {
    manifold_pressure_kpa: f64,
    mass_air_flow_g_s: f64,
}

/// The standard's own upper ends of parameters 0B and 10.
const USUAL_MANIFOLD_MAXIMUM: f64 = 255.0;
const USUAL_AIR_FLOW_MAXIMUM: f64 = 655.35;

impl ExternalScaling {
    /// Takes in the numbers of parameter 4F or 50; others change nothing.
    pub fn learn(&mut self, measured: &[Measured]) {
        for number in measured {
            match number.quantity {
                Quantity::MaximumManifoldPressure => self.manifold_pressure_kpa = number.value,
                Quantity::MaximumAirFlow => self.mass_air_flow_g_s = number.value,
                _ => {}
            }
        }
    }

    /// The number of `parameter` with the car's own range put in place of the standard's. Only
    /// the coarse parameters 0B and 10 are subject to it.
    pub fn adjust(&self, parameter: u8, measured: Measured) -> Measured {
        let factor = match parameter {
            0x0B if self.manifold_pressure_kpa > 0.0 => {
                self.manifold_pressure_kpa / USUAL_MANIFOLD_MAXIMUM
            }
            0x10 if self.mass_air_flow_g_s > 0.0 => self.mass_air_flow_g_s / USUAL_AIR_FLOW_MAXIMUM,
            _ => return measured,
        };
        Measured { value: measured.value * factor, ..measured }
    }
}

#[cfg(test)]
mod tests {
    use super::ExternalScaling;
    use crate::vehicle::{decode_parameter, hex_bytes};

    fn value(scaling: &ExternalScaling, parameter: u8, bytes: &str) -> f64 {
        let measured = decode_parameter(parameter, &hex_bytes(bytes)).unwrap();
        scaling.adjust(parameter, measured[0]).value
    }

    /// SAE J1979 parameter 4F, byte D, from memory: the maximum in steps of 10 kPa, so 33 (51) is
    /// 510 kPa, twice the usual range.
    #[test]
    fn a_stated_maximum_stretches_the_coarse_manifold_pressure() {
        let mut scaling = ExternalScaling::default();
        assert_eq!(value(&scaling, 0x0B, "1E"), 30.0);
        scaling.learn(&decode_parameter(0x4F, &hex_bytes("00 00 00 00")).unwrap());
        assert_eq!(value(&scaling, 0x0B, "1E"), 30.0);
        scaling.learn(&decode_parameter(0x4F, &hex_bytes("02 01 80 33")).unwrap());
        assert_eq!(value(&scaling, 0x0B, "1E"), 60.0);
        assert_eq!(value(&scaling, 0x87, "01 03 C0 00 00"), 30.0);
    }
}
