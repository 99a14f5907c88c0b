use std::fmt;
use std::str::FromStr;

use serde::{Deserialize, Deserializer, Serialize, Serializer, de};

use super::MoneyError;

/// A currency of ISO 4217, by its three letters.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Currency(&'static str);

impl Currency {
    /// Euro.
    pub const EURO: Self = Self("EUR");

    /// United States dollar.
    pub const UNITED_STATES_DOLLAR: Self = Self("USD");

    /// The three letters.
    pub const fn code(self) -> &'static str {
        self.0
    }

    /// Decimals of its smallest coin or account unit.
    pub fn decimals(self) -> u32 {
        let holds = |list: &&(u32, &str)| list.1.split(' ').any(|code| code == self.0);
        EXCEPTIONS.iter().find(holds).map_or(2, |(decimals, _)| *decimals)
    }

    /// Every currency in use, by code.
    pub fn all() -> impl Iterator<Item = Self> {
        CODES.split_whitespace().map(Self)
    }
}

impl FromStr for Currency {
    type Err = MoneyError;

    fn from_str(text: &str) -> Result<Self, MoneyError> {
        let wanted = text.trim();
        Self::all()
            .find(|currency| currency.0.eq_ignore_ascii_case(wanted))
            .ok_or_else(|| MoneyError::UnknownCurrency { text: text.to_owned() })
    }
}

impl Serialize for Currency {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.serialize_str(self.0)
    }
}

impl<'de> Deserialize<'de> for Currency {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        String::deserialize(deserializer)?.parse().map_err(de::Error::custom)
    }
}

impl fmt::Display for Currency {
    fn fmt(&self, formatter: &mut fmt::Formatter<'_>) -> fmt::Result {
        formatter.write_str(self.0)
    }
}

/// ISO 4217 currencies in use, from memory of the standard's list, without funds and metals.
const CODES: &str = "
AED AFN ALL AMD AOA ARS AUD AWG AZN BAM BBD BDT BHD BIF BMD BND BOB BRL BSD BTN BWP BYN BZD
CAD CDF CHF CLP CNY COP CRC CUP CVE CZK DJF DKK DOP DZD EGP ERN ETB EUR FJD FKP GBP GEL GHS GIP
GMD GNF GTQ GYD HKD HNL HTG HUF IDR ILS INR IQD IRR ISK JMD JOD JPY KES KGS KHR KMF KPW KRW KWD
KYD KZT LAK LBP LKR LRD LSL LYD MAD MDL MGA MKD MMK MNT MOP MRU MUR MVR MWK MXN MYR MZN NAD NGN
NIO NOK NPR NZD OMR PAB PEN PGK PHP PKR PLN PYG QAR RON RSD RUB RWF SAR SBD SCR SDG SEK SGD SHP
SLE SOS SRD SSP STN SVC SYP SZL THB TJS TMT TND TOP TRY TTD TWD TZS UAH UGX USD UYU UZS VED VES
VND VUV WST XAF XCD XOF XPF YER ZAR ZMW ZWG";

/// Those without two decimals.
const EXCEPTIONS: [(u32, &str); 2] = [
    (0, "BIF CLP DJF GNF ISK JPY KMF KRW PYG RWF UGX VND VUV XAF XOF XPF"),
    (3, "BHD IQD JOD KWD LYD OMR TND"),
];
